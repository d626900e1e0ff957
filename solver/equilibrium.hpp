// Clamp of every stud at fixed internal variables, or with laws that act implicitly: the only factorisation.
#pragma once

#include "models/network.hpp"
#include "solver/network_factor.hpp"

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <vector>

namespace clampfade {

/// Spring washers at a trial force.
struct WasherTrial {
  double deflection = 0; ///< [m]
  double force = 0;      ///< at the modulus of the tightening temperature [N]
  double slope = 0;      ///< d deflection/d force at the present modulus [m/N]
};

/// Trial forces in, shortening of every segment out: columns, then segments. What the studs and washers of each column
/// do meanwhile is for whoever fills it.
struct Balance {
  std::vector<double> closing;      ///< D [m]
  std::vector<double> slopes;       ///< dD/dF [m/N], >= 0
  std::vector<double> plastic;      ///< permanent stretch of each stud [m]
  std::vector<WasherTrial> washers; ///< of each stud
};
/// Hand in large ones by std::ref: a copy would be an allocation for each solve.
using Shorten = std::function<void(std::span<const double> forces, Balance& balance)>;

/// A wheel at rest.
struct Rest {
  std::vector<double> forces; ///< [N], columns then segments
  std::vector<double> faces;  ///< [m], columns then faces
};

/// A force that is given instead of found: a nut being tightened, or one that is not there.
struct Held {
  std::size_t column = 0;
  double force = 0; ///< [N]
};

/// How much an Equilibrium has done since it was made. What a machine is asked to do, without a clock.
struct SolveCounts {
  std::uint64_t solves = 0;     ///< balances of forces found
  std::uint64_t iterations = 0; ///< trial forces in them, each one call of a Shorten
  std::uint64_t factors = 0;    ///< factorisations of the ring's matrix, those of influence() too
  SolveCounts& operator+=(const SolveCounts& other) {
    solves += other.solves;
    iterations += other.iterations;
    factors += other.factors;
    return *this;
  }
};

class Equilibrium {
public:
  /// bilateral: segments that may pull (a wheel disc between its own faces), one flag a segment. kinks: whether slopes
  /// may jump on the way to rest (nested washers that stick and slide).
  Equilibrium(std::size_t columns, std::size_t segments, std::vector<char> bilateral, bool kinks = false);

  /// Solves from the guess in `rest`. Faces open rather than pull. `held` fixes forces of last segments. scale: a force
  /// of the size of the clamp; converges to 1e-11 of it. Throws NumericalError (solve.no_equilibrium), naming the stud.
  void solve(Rest& rest, const Shorten& shorten, std::span<const double> ring, std::span<const Held> held,
             double scale);
  /// Forgets the kept factorisation, so that what follows does not depend on what came before.
  void forget() { factored_ = false; }
  /// d(force of every column's last segment)/d(shortening added in every segment) at the state last solved [N/m]:
  /// rows columns, columns columns x segments. Valid after `solve`.
  [[nodiscard]] Eigen::MatrixXd influence(std::span<const double> slopes, std::span<const double> ring,
                                          const Rest& rest, std::span<const Held> held);
  [[nodiscard]] const SolveCounts& counts() const { return counts_; }

private:
  void solve_columns(Rest& rest, const Shorten& shorten, double scale);
  void solve_network(Rest& rest, const Shorten& shorten, std::span<const double> ring, double scale);
  void pin(std::span<const Held> held);
  /// Opens faces that pull and, where allowed, closes faces that overlap; all of them, or the first one only. Returns
  /// whether any changed sides.
  bool update_contact(const Rest& rest, const Eigen::VectorXd& x, bool may_close, bool one);
  /// What an open face of the column may overlap by: no more is known of where the faces are [m].
  [[nodiscard]] double overlap_of(std::size_t column) const;
  /// Fills `balance_`, with what soft faces that are pulled give.
  void evaluate(std::span<const double> forces, const Shorten& shorten);
  /// How much of `step_` to go from x: 1, or less where the balance would be left behind on the other side.
  double share_of_step(const Rest& rest, const Shorten& shorten);
  /// Whether the forces on every face balance: where nothing but the ring holds a disc one solution leaves some of
  /// them.
  [[nodiscard]] bool faces_rest(std::span<const double> ring, double scale) const;
  [[nodiscard]] bool contact_holds(const Rest& rest, const Eigen::VectorXd& x, double overlap, double pull) const;
  void factor(std::span<const double> ring);
  /// Calls f(column, segment, index) for every segment whose face can open and whose force is not given.
  template <class F>
  void for_each_face(F f) const {
    for (std::size_t c = 0; c < network_.columns(); ++c) {
      for (std::size_t s = 0; s < network_.segments(); ++s) {
        const std::size_t i = c * network_.segments() + s;
        if (!held_[i] && !bilateral_[s]) {
          f(c, s, i);
        }
      }
    }
  }
  Network network_;
  std::vector<char> bilateral_;
  bool kinks_;
  double scale_ = 0;               ///< of the forces of the solution under way [N]
  double give_ = 0;                ///< of faces that pull, where they are soft instead of open [m/N]; else 0
  std::vector<char> held_;         ///< segments whose force is given
  std::vector<double> held_force_; ///< and the force
  std::vector<char> pinned_;       ///< held or open
  Balance balance_;
  Eigen::VectorXd unknowns_, residual_, step_, tried_; // kept to spare allocations
  std::vector<double> tried_forces_;
  NetworkFactor factor_, influence_;
  bool factored_ = false;
  std::vector<char> factored_pins_;
  SolveCounts counts_;
};

} // namespace clampfade

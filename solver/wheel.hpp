// All studs of a wheel together: the state vector, one implicit step of the losses, and rest at given losses.
#pragma once

#include "models/joint.hpp"
#include "models/loads.hpp"
#include "models/wheel_slip.hpp"
#include "solver/equilibrium.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace clampfade {

/// Flat and complete: internal variables, washers, nuts' advances and the forces last found.
using State = std::vector<double>;

/// What the road does over a span, or one of the loads of a stretch of spans.
struct RoadLoad {
  WheelLoad load;
  double turn_rate = 0;  ///< nu, wheel turns under this load per second of the span or stretch [1/s]
  double cycle_rate = 0; ///< nu_eff = nu Q/W [1/s]
};
using Roads = std::span<const RoadLoad>;

/// Node temperatures [K] at a time after the start of the span.
using NodeTemperatures = std::function<void(double time, std::vector<double>& nodes)>;

/// Slip of the wheel, and what each stud's nut bears before it slides.
struct SlipState : WheelSlip {
  std::vector<double> threshold; ///< s_thr of every column [m]
};

class Wheel {
public:
  /// Columns stand for `counts` studs each; column c sits at the place of stud `studs[c]` (0-based). Studs may be
  /// lumped only if alike and without ring coupling.
  Wheel(const Scenario& scenario, const Joint& joint, std::vector<std::size_t> studs, std::vector<double> counts);

  [[nodiscard]] const Joint& joint() const { return joint_; }
  [[nodiscard]] std::size_t columns() const { return studs_.size(); }
  [[nodiscard]] const std::vector<double>& counts() const { return counts_; }    ///< studs of each column [-]
  [[nodiscard]] const std::vector<std::size_t>& studs() const { return studs_; } ///< 0-based
  [[nodiscard]] const std::vector<PlacedLaw>& laws() const { return laws_; }
  [[nodiscard]] double thread_friction(std::size_t c) const { return thread_friction_[c]; }   ///< mu_t [-]
  [[nodiscard]] double bearing_friction(std::size_t c) const { return bearing_friction_[c]; } ///< mu_b [-]
  [[nodiscard]] double first_clamp(std::size_t c) const { return reference_[c]; } ///< F(T) of the set torque [N]
  [[nodiscard]] double scale() const { return scale_; }                           ///< the largest of them [N]

  [[nodiscard]] State fresh() const;                           ///< a wheel with no nut on
  [[nodiscard]] std::size_t stride() const { return stride_; } ///< numbers of a column in State
  /// Clamp load of the stud [N].
  [[nodiscard]] double clamp(const State& x, std::size_t c) const { return x[at(c, force_ + segments_ - 1)]; }
  /// Internal variables of a law in column c; their units are the law's.
  [[nodiscard]] std::span<const double> law_state(const State& x, std::size_t c, std::size_t law) const;
  /// Permanent stretch of the stud [m].
  [[nodiscard]] double plastic(const State& x, std::size_t c) const { return x[at(c, plastic_)]; }
  /// What the nut has turned back, as a length [m].
  [[nodiscard]] double nut_rotation(const State& x, std::size_t c) const { return x[at(c, rotation_)]; }
  /// Delta of EQUATIONS.md 5 [m].
  [[nodiscard]] double advance_of_nut(const State& x, std::size_t c) const { return x[at(c, advance_)]; }
  [[nodiscard]] bool nut_on(const State& x, std::size_t c) const { return x[at(c, nut_)] != 0; }
  [[nodiscard]] WasherState washers(const State& x, std::size_t c) const {
    return {x[at(c, washer_)], x[at(c, washer_ + 1)]};
  }
  /// An open column: its clamp has fallen below 1e-6 of F(T) and not come back above 1e-2 of it. The gap between the
  /// two keeps a nut that has turned off from turning on and off for ever while its neighbours still move.
  [[nodiscard]] bool open(const State& x, std::size_t c) const { return x[at(c, open_)] != 0; }

  /// x with the washers standing as in `other`.
  [[nodiscard]] State with_washers_of(State x, const State& other) const;

  /// Losses so far of a column, one entry a segment [m].
  void losses(const State& x, std::size_t c, std::vector<ByMechanism>& by_segment) const;
  /// Their sums over the mechanisms; columns, then segments [m].
  void total_losses(const State& x, std::vector<double>& out) const;
  /// Thickness left of layer k [m].
  [[nodiscard]] double layer_thickness(const State& x, std::size_t c, std::size_t k) const;

  /// One step of length h from local time t. Fills x1; returns the estimate of the step's error in any clamp over
  /// `tolerance` times the scale, infinite if no equilibrium was found.
  double step(const State& x0, double t, double h, Roads roads, const NodeTemperatures& nodes, double tolerance,
              State& x1);
  /// When heat turns within a step of length h from local time t [s after t], where that matters: nested springs that
  /// stick remember how far heat has pressed them, and a step that reaches over its turn would miss that by more than
  /// `tolerance` times the scale. To 1/256 of h, h itself where it does not.
  double until_heat_turns(const State& x, double t, double h, const NodeTemperatures& nodes, double tolerance);
  /// Largest rate constant of any settling mode at these temperatures [1/s]; films and creep of metal have none of
  /// their own. After an act of the wrench the first steps must resolve it.
  [[nodiscard]] double fastest_rate(std::span<const double> nodes, double cycle_rate) const;
  /// "stud 3: coating_creep at ..." for what made the last step doubtful.
  [[nodiscard]] std::string controlled_by() const;

  /// Turns the nut of column c until its clamp is `target` [N], at node temperatures `nodes`; the wrench twists the
  /// stud by `torsion_factor`.
  void tighten(State& x, std::size_t c, double target, double torsion_factor, std::span<const double> nodes);
  /// Takes the nut of column c off; the others find their new rest.
  void remove_nut(State& x, std::size_t c, std::span<const double> nodes);

  /// Clamp of every column with everything else as it is but all at the tightening temperature: nothing moves.
  void cold(const State& x, Rest& rest);
  /// dF/d(shortening) of the cold clamp [N/m], see Equilibrium::influence.
  [[nodiscard]] Eigen::MatrixXd cold_influence(const State& x, const Rest& rest);

  [[nodiscard]] SlipState slip_state(const State& x, const WheelLoad& load) const;
  void slip_state(const State& x, const WheelLoad& load, SlipState& out) const;
  /// Compliance of the washers at their present tangent and the modulus of the tightening temperature [m/N]; or 0.
  [[nodiscard]] double washer_compliance(const State& x, std::size_t c) const;
  void forget() {
    equilibrium_.forget();
    cold_equilibrium_.forget();
  }
  /// Force balances solved since the wheel was made, the cold ones included.
  [[nodiscard]] SolveCounts solve_counts() const {
    SolveCounts sum = equilibrium_.counts();
    return sum += cold_equilibrium_.counts();
  }

private:
  [[nodiscard]] std::size_t at(std::size_t c, std::size_t offset) const { return c * stride_ + offset; }
  /// Thermal mismatch of a column [m].
  [[nodiscard]] double mismatch(double t, const NodeTemperatures& nodes);
  /// Whether start, middle and end of a step tell its temperatures: the parabola through them holds between.
  [[nodiscard]] bool sees_heat(double t, double h, const NodeTemperatures& nodes);
  /// Closing of the segments from everything but the laws.
  void shorten_elastic(const State& x, const Elastic& elastic, std::span<const double> forces, bool yields,
                       const std::vector<double>& torsion, Balance& balance) const;
  /// Studs and washers as the balance has them.
  void move_elastic(const Balance& balance, State& x) const;
  /// A law with the places of its numbers, so that a step need not ask for them.
  struct Site {
    struct Slice {
      std::size_t from = 0, size = 0;
    };
    const LossLaw* law = nullptr;
    Drive drive = Drive::Force;
    std::size_t segment = 0;
    Slice states, shares, works;
    [[nodiscard]] std::span<double> shared(std::vector<double>& all) const {
      return {all.data() + shares.from, shares.size};
    }
    [[nodiscard]] std::span<double> work(double* column) const { return {column + works.from, works.size}; }
    template <class Number>
    [[nodiscard]] std::span<Number> state(Number* column) const {
      return {column + states.from, states.size};
    }
  };
  /// What drives a law, and its slope by the force of the law's segment: see Drive.
  [[nodiscard]] std::pair<double, double> drive(const Site& site, std::size_t c, std::span<const double> forces,
                                                const Balance& balance) const;
  /// Closing of the segments from the losses so far; columns, then segments.
  void frozen_losses(const State& x, std::vector<double>& out) const;
  void rest_from(const State& x, Rest& rest) const;
  /// Writes the forces found into x and notes which columns are open.
  void rest_into(const Rest& rest, State& x) const;
  void missing_nuts(const State& x, std::vector<Held>& held) const;
  /// Rates of wear (each interface) and nut rotation [m/s], columns then interfaces + 1.
  void drag_rates(std::span<const double> forces, const State& start, Roads roads, std::vector<double>& rates) const;
  void add_drag_rates(std::span<const double> forces, const State& start, const RoadLoad& road,
                      std::vector<double>& rates) const;
  /// What a free nut, one that has turned until nothing holds it, turns at where something presses it [m/s]; 0 of
  /// others, and where nothing slides.
  [[nodiscard]] double free_rate(const State& x, std::size_t c, Roads roads) const;
  /// How far the nut of an open column would have to turn for its faces not to press [m]; below 0 where a gap is left.
  [[nodiscard]] double overlap(std::size_t c, const Rest& rest) const;
  void slip_at(std::span<const double> forces, const WheelLoad& load, SlipState& out) const;
  [[nodiscard]] double turn_per_slide_at(std::size_t c, double clamp) const;
  void at_rest(State& x, std::span<const double> nodes, std::span<const Held> held, const std::vector<double>& torsion,
               std::size_t turned);

  const Joint& joint_;
  std::vector<std::size_t> studs_;
  std::vector<double> counts_;
  std::vector<PlacedLaw> laws_;
  std::vector<double> reference_; ///< F(T) [N]
  std::vector<double> thread_friction_, bearing_friction_;
  std::vector<double> turn_per_slide_; ///< xi of every column without a prevailing torque [rad/m]
  std::vector<std::vector<double>> gaps_;
  Motion motion_;
  double scale_ = 0;         ///< largest clamp of a set torque [N]
  double balance_scale_ = 0; ///< size of the forces that must balance [N]
  std::size_t segments_, stride_, wear_, rotation_, plastic_, taken_, washer_, advance_, nut_, open_, force_, face_;
  Equilibrium equilibrium_, cold_equilibrium_;
  Elastic cold_elastic_;
  // Scratch of `step`, kept to spare allocations.
  std::vector<double> nodes_, places0_, places_half_, places_between_, places1_, work_, rates0_, rates1_, tried_;
  std::vector<double> found_, previous_; ///< rates that the last two sweeps of `step` came to [m/s]
  std::vector<double> shared_, start_drive_, dragged_, frozen_;
  std::vector<Site> sites_;
  std::vector<Held> held_;
  std::vector<double> free_, turned_; ///< how far free nuts can turn in a step, and do [m]
  std::vector<char> follows_;         ///< and which of them nothing presses
  Balance balance_;
  std::vector<LawStep> law_steps_;
  Elastic elastic_;
  Rest rest_, rest_scratch_;
  std::vector<double> no_torsion_;
  mutable SlipState slip_;
  mutable Rest slip_rest_;
  std::size_t doubtful_column_ = 0;
  std::size_t doubtful_law_ = 0;
  std::string failure_; ///< why the last step found no equilibrium; empty if it did
};

} // namespace clampfade

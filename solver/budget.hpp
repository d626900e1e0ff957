// What each mechanism has cost every stud, in thickness and in clamp, along the path.
#pragma once

#include "solver/wheel.hpp"

#include <vector>

namespace clampfade {

/// Keeps the cold clamp (everything at the tightening temperature) and splits its changes among the mechanisms: a loss
/// dl costs -dl/C_tangent on the cold balance. Where that is curved (a face opens) the mechanisms at work share what
/// the tangent missed; friction between washers is what moves the cold clamp without any loss. EQUATIONS.md 13.
class Budget {
public:
  explicit Budget(Wheel& wheel);

  /// Starts at a tightened wheel: nothing lost yet.
  void start(const State& x);
  /// An accepted step from x0 to x1.
  void step(const State& x0, const State& x1);
  /// A service act: what the cold clamp changes by is gain, not loss.
  void act(const State& x);
  /// Solves the cold balance anew where it was followed by its tangent; call before reading at a record.
  void settle(const State& x);

  [[nodiscard]] double cold(std::size_t c) const { return cold_[c]; }                    ///< [N]
  [[nodiscard]] double loss(const State& x, std::size_t c, std::size_t mechanism) const; ///< since `start` [m]
  [[nodiscard]] double loss_clamp(std::size_t c, std::size_t mechanism) const { return cost_[c][mechanism]; } ///< [N]
  [[nodiscard]] double gain(std::size_t c) const { return gain_[c]; }                                         ///< [N]

  /// All of it, for a checkpoint.
  void save(std::vector<double>& out) const;
  void load(const double*& in);

private:
  void influence(const State& x);
  /// Coupled wheels: splits what was lost since the last time among the mechanisms, by the tangent.
  void tell(const State& x);
  void start_telling(const State& x);
  /// The one list of what a checkpoint holds, in its order; `Budgets` is Budget or const Budget.
  template <class Budgets, class Each>
  static void members(Budgets& budget, const Each& each);

  Wheel& wheel_;
  std::vector<double> cold_, gain_;
  std::vector<ByMechanism> cost_, base_;
  Rest rest_;
  Eigen::MatrixXd influence_;                            ///< coupled wheels only
  std::vector<double> influence_at_;                     ///< cold clamps at which it was taken
  std::vector<std::vector<ByMechanism>> before_, after_; ///< losses by column and segment, as last told
  // Coupled wheels only: what cost_ gained when last told, the losses then and now by column and segment, and the cold
  // clamps then.
  std::vector<ByMechanism> since_;
  std::vector<double> told_totals_, totals_, told_cold_;
};

} // namespace clampfade

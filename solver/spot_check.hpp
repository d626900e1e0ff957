// Some of a day's stretches held against their own spans: how far off the day may be, for a fraction of what a day by
// spans takes. EQUATIONS.md 13.
#pragma once

#include "solver/settling.hpp"
#include "solver/stretch.hpp"
#include "solver/temperature.hpp"
#include "solver/wheel.hpp"

#include <cstddef>
#include <vector>

namespace clampfade {

class SpotCheck {
public:
  /// spans: every span of the working day by itself. All three must outlive the check.
  SpotCheck(const Scenario& scenario, Wheel& wheel, const std::vector<Stretch>& spans);

  /// A new day, made of these stretches; which of them are due changes from day to day.
  void begin(std::size_t day, const std::vector<Stretch>& stretches);
  /// Whether the next of its stretches is one to hold against its spans; at least one of a day that has any is.
  [[nodiscard]] bool due(const Stretch& stretch);
  /// Where the wheel and its heat stand at one end of a stretch.
  struct End {
    State x;
    std::vector<double> nodes; ///< [K]
  };
  /// Runs the spans of a stretch from its start and notes how far they end from where the stretch did. midnight: of its
  /// day [s]; step: proposed length of a step [s]. Throws NumericalError.
  void hold(const Stretch& stretch, double midnight, End start, double step, const End& end);
  /// What the whole day may be off by, were the others like those looked at: largest difference of a cold clamp over
  /// the largest first clamp [-].
  [[nodiscard]] double apart() const;
  /// Largest difference of a node temperature at the end of a stretch [K].
  [[nodiscard]] double heat_apart() const { return heat_apart_; }

private:
  const Scenario& scenario_;
  Wheel& wheel_;
  const std::vector<Stretch>& spans_;
  HeatSolver heat_;
  SettlingStepper stepper_;
  std::size_t one_in_ = 1, next_ = 0, seen_ = 0, held_ = 0;
  double heat_apart_ = 0;
  std::vector<double> off_; ///< sum over the stretches held, of every column [N]
  Rest rest_, other_rest_;
};

} // namespace clampfade

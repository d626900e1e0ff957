// The least that a span can cost: what a plain loop over the same numbers of modes and studs takes.
#pragma once

#include <cstddef>
#include <vector>

namespace clampfade::test {

/// Internal variables of a wheel whose modes only decay towards a goal. One exponential a mode and span, shared by all
/// studs; for every stud and mode two multiply-adds and one more for the sum. No force balance, no target, no heat, no
/// error estimate, no budget: what any program that keeps these variables has to do.
class Floor {
public:
  Floor(std::size_t studs, std::size_t modes);
  /// One span of `duration` [s]; returns a number that depends on everything.
  double span(double duration);
  [[nodiscard]] std::size_t states() const { return z_.size(); }

private:
  std::size_t studs_, modes_;
  std::vector<double> rate_, weight_; ///< of every mode
  std::vector<double> goal_;          ///< of every stud
  std::vector<double> z_;             ///< studs then modes
  std::vector<double> keep_, take_;   ///< of every mode over the span
};

} // namespace clampfade::test

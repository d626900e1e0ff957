// Parameters from measured readings: weighted least squares over runs of scenarios, intervals, and what the readings
// cannot tell. Knows neither files nor formats. EQUATIONS.md 16.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/fit_result.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace clampfade {

/// A scenario of its own and the readings taken on it.
struct FitSet {
  /// The scenario with a value for each parameter [SI]. Called from many threads; an InputError is a run that failed.
  std::function<Scenario(const std::vector<double>& values)> make;
  std::vector<char> depends; ///< by parameter: whether the scenario has it
};

struct FitRequest {
  std::vector<FitParameter> parameters; ///< at least one
  std::vector<FitSet> sets;
  std::vector<FitReading> readings; ///< more than parameters
  std::size_t starts = 8;           ///< the parameters' own, and points spread evenly over the box
  std::uint64_t seed = 1;           ///< of these points
  FitLoss loss = FitLoss::None;
  bool profile = false; ///< intervals by the profile of the sum of squares too
  /// Relative standard deviation of the frictions and of the breakaway ratio, for the clamp that a check-torque reading
  /// stands for; common practice, no source: 10 %.
  double friction_deviation = 0.10;
  std::size_t jobs = 1;
};

/// What is going on: a share of the whole where it can be told, and words. Return false to stop.
using FitProgress = std::function<bool(double share, const std::string& what)>;

/// Half of the difference of two runs from which a derivative is made, in the box, and the tolerance that the runs are
/// held to, over the first clamp. On a painted coupon that leaves 3 mN of noise on a clamp that moves by some kN over
/// the box: 1e-4 of a derivative. What curvature adds goes with the square of the step and is less.
inline constexpr double kFitStep = 0.003;
inline constexpr double kFitTolerance = 1e-7;

/// Finds the values. Each evaluation runs all scenarios that it needs on `jobs` threads; the result is the same to the
/// bit for any number of them. Throws NumericalError where no start has a run that comes to an end, or that of the
/// values found does not, InputError where the readings are too few.
FitResult fit(const FitRequest& request, const FitProgress& progress = {});

} // namespace clampfade

// Least squares in the unit box, with a loss that may count outliers less. Hides the library that does it.
#pragma once

#include "solver/fit_result.hpp"

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace clampfade {

/// What a standardised residual r costs, rho(r^2); psi = rho'(r^2) r is what it counts for. Huber 1.345 and
/// Cauchy 2.385 keep 95 % of the efficiency of least squares where the errors are normal (Holland and Welsch 1977,
/// memory).
struct LossAt {
  double cost = 0;   ///< r^2 where nothing is an outlier
  double weight = 1; ///< psi/r, 0 to 1
  double slope = 1;  ///< d psi/d r
};
LossAt loss_at(FitLoss loss, double residual);

struct BoxProblem {
  std::size_t parameters = 0, residuals = 0;
  FitLoss loss = FitLoss::None;
  /// Standardised residuals at a point of the box and, where `slopes` is given, their derivatives, residuals x
  /// parameters. False where there is no model at that point: the search then turns elsewhere.
  std::function<bool(const std::vector<double>& point, std::vector<double>& residuals, std::vector<double>* slopes)>
      evaluate;
  std::function<bool()> stop; ///< whether to give up; may be empty
};

struct BoxMinimum {
  std::vector<double> point;
  double cost = kFitUnknown; ///< half the sum of the losses; not a number where the start had no model
  bool converged = false;
};

/// From `start` to the nearest minimum: Levenberg-Marquardt with bounds (Ceres Solver). No more than `iterations`.
BoxMinimum minimise(const BoxProblem& problem, std::vector<double> start, int iterations);

} // namespace clampfade

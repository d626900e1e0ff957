#include "solver/fit_minimise.hpp"

#include <ceres/ceres.h>
#include <glog/logging.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <memory>

namespace clampfade {

namespace {

constexpr double kHuber = 1.345;
constexpr double kCauchy = 2.385;
// Where the search ends: a thousandth of a standard error is nothing to anyone, and less is noise of the runs.
constexpr double kSameCost = 1e-7;  // relative change of the cost
constexpr double kSamePoint = 1e-6; // of the box
constexpr double kFlat = 1e-10;     // slope of the cost in the box
constexpr double kSmallestTrust = 1e-12;

/// All residuals come from the same runs: they are done once a point, before any residual is asked for.
class Runs final : public ceres::EvaluationCallback {
public:
  Runs(const BoxProblem& problem, const std::vector<double>& point) : problem_(problem), point_(point) {}

  void PrepareForEvaluation(bool slopes, bool new_point) final {
    if (new_point) {
      known_ = sloped_ = false;
    }
    if ((known_ && (sloped_ || !slopes)) || fault_) {
      return;
    }
    try {
      known_ =
          (!problem_.stop || !problem_.stop()) && problem_.evaluate(point_, residuals_, slopes ? &slopes_ : nullptr);
      sloped_ = known_ && slopes;
    } catch (...) {
      // Not through the library; it learns that there is no value, and ends soon.
      fault_ = std::current_exception();
      known_ = false;
    }
  }

  [[nodiscard]] bool known() const { return known_; }
  [[nodiscard]] double residual(std::size_t i) const { return residuals_[i]; }
  [[nodiscard]] const double* slopes(std::size_t i) const { return slopes_.data() + i * problem_.parameters; }
  void rethrow() const {
    if (fault_) {
      std::rethrow_exception(fault_);
    }
  }

private:
  const BoxProblem& problem_;
  const std::vector<double>& point_;
  std::vector<double> residuals_, slopes_;
  bool known_ = false, sloped_ = false;
  std::exception_ptr fault_;
};

/// A block of its own for each reading, so that the loss is of each by itself.
class OneResidual final : public ceres::CostFunction {
public:
  OneResidual(const Runs& runs, std::size_t i, std::size_t parameters) : runs_(runs), i_(i) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->push_back(static_cast<int>(parameters));
  }
  bool Evaluate(double const* const* /*point*/, double* residual, double** slopes) const final {
    if (!runs_.known()) {
      return false;
    }
    residual[0] = runs_.residual(i_);
    if (slopes != nullptr && slopes[0] != nullptr) {
      std::copy_n(runs_.slopes(i_), parameter_block_sizes().front(), slopes[0]);
    }
    return true;
  }

private:
  const Runs& runs_;
  std::size_t i_;
};

class Stopper final : public ceres::IterationCallback {
public:
  explicit Stopper(const BoxProblem& problem) : problem_(problem) {}
  ceres::CallbackReturnType operator()(const ceres::IterationSummary& /*summary*/) final {
    return problem_.stop && problem_.stop() ? ceres::SOLVER_ABORT : ceres::SOLVER_CONTINUE;
  }

private:
  const BoxProblem& problem_;
};

} // namespace

LossAt loss_at(FitLoss loss, double residual) {
  const double r = std::abs(residual);
  if (loss == FitLoss::Huber && r > kHuber) {
    return {2 * kHuber * r - kHuber * kHuber, kHuber / r, 0};
  }
  if (loss == FitLoss::Cauchy) {
    const double x = r * r / (kCauchy * kCauchy);
    return {kCauchy * kCauchy * std::log1p(x), 1 / (1 + x), (1 - x) / ((1 + x) * (1 + x))};
  }
  return {r * r, 1, 1};
}

BoxMinimum minimise(const BoxProblem& problem, std::vector<double> start, int iterations) {
  // The library writes what it thinks of points without a value to the terminal.
  FLAGS_minloglevel = google::GLOG_FATAL;
  BoxMinimum out;
  out.point = std::move(start);
  Runs runs(problem, out.point);
  ceres::Problem::Options ownership;
  ownership.evaluation_callback = &runs;
  ceres::Problem fit(ownership);
  const auto n = static_cast<int>(problem.parameters);
  fit.AddParameterBlock(out.point.data(), n);
  for (int k = 0; k < n; ++k) {
    fit.SetParameterLowerBound(out.point.data(), k, 0);
    fit.SetParameterUpperBound(out.point.data(), k, 1);
  }
  for (std::size_t i = 0; i < problem.residuals; ++i) {
    ceres::LossFunction* loss = problem.loss == FitLoss::Huber    ? new ceres::HuberLoss(kHuber)
                                : problem.loss == FitLoss::Cauchy ? new ceres::CauchyLoss(kCauchy)
                                                                  : static_cast<ceres::LossFunction*>(nullptr);
    // The problem takes both into its own.
    fit.AddResidualBlock(new OneResidual(runs, i, problem.parameters), loss, out.point.data());
  }
  Stopper stopper(problem);
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.num_threads = 1;
  options.max_num_iterations = iterations;
  options.function_tolerance = kSameCost;
  options.parameter_tolerance = kSamePoint;
  options.gradient_tolerance = kFlat;
  options.min_trust_region_radius = kSmallestTrust;
  options.logging_type = ceres::SILENT;
  options.callbacks.push_back(&stopper);
  options.line_search_interpolation_type = ceres::QUADRATIC; // a cubic would ask for derivatives, many runs each
  options.update_state_every_iteration = false;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &fit, &summary);
  runs.rethrow();
  for (double& u : out.point) {
    u = std::clamp(u, 0.0, 1.0);
  }
  if (summary.termination_type != ceres::FAILURE || summary.num_successful_steps > 0) {
    out.cost = summary.final_cost;
  }
  out.converged = summary.termination_type == ceres::CONVERGENCE;
  return out;
}

} // namespace clampfade

#include "solver/limit.hpp"

#include "solver/diagnostics.hpp"
#include "solver/study.hpp"

#include <boost/math/tools/toms748_solve.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>

namespace clampfade {

namespace {

constexpr std::uintmax_t kMostTries = 60;

/// Thrown through the root finder.
struct StopRequest {};
struct FailedRun {};

double clamp_margin(const StudyCase& outcome) {
  if (outcome.status != CaseStatus::Complete) {
    return StudyCase::kUnknown;
  }
  double lowest = StudyCase::kUnknown;
  for (const double clamp : outcome.clamp_cold_lowest) {
    lowest = std::fmin(lowest, clamp);
  }
  const double margin = lowest - outcome.required_clamp;
  // A clamp that was too low between two instants of the curve only, such as just before a retorque, has no depth here.
  return std::isnan(outcome.below_time) ? margin : std::min(margin, -1e-6 * outcome.required_clamp);
}

double wrench_margin(const StudyCase& outcome) {
  return outcome.status != CaseStatus::Complete ? StudyCase::kUnknown
                                                : 1 - std::fmax(outcome.utilisation_tightening, outcome.proof_share);
}

double margin_of(const LimitPoint& point, LimitReason reason) {
  return reason == LimitReason::Clamp ? point.margin : point.wrench_margin;
}

} // namespace

Limit find_limit(const std::function<Scenario(double value)>& make, const std::vector<double>& time,
                 const LimitRequest& request, const CaseProgress& progress) {
  Limit limit;
  const auto run_value = [&](double value, const std::function<bool(double)>& report) {
    LimitPoint point;
    point.value = value;
    try {
      point.outcome = run_study_case(with_study_records(make(value), time), time, report);
    } catch (const InputError& e) {
      point.outcome.status = CaseStatus::Failed;
      point.outcome.message = e.diagnostics().front().path + ": " + e.diagnostics().front().found;
    }
    point.margin = clamp_margin(point.outcome);
    point.wrench_margin = wrench_margin(point.outcome);
    return point;
  };

  std::vector<LimitPoint> scan(request.scan);
  const bool finished = run_cases(
      scan.size(), request.jobs,
      [&](std::size_t i, const std::function<bool(double)>& report) {
        const double share = static_cast<double>(i) / static_cast<double>(scan.size() - 1);
        const double value = i + 1 == scan.size() ? request.high : request.low + (request.high - request.low) * share;
        scan[i] = run_value(value, report);
        return scan[i].outcome.status != CaseStatus::Pending;
      },
      progress);
  limit.points = scan;
  if (!finished) {
    limit.stopped = true;
    return limit;
  }
  limit.failed = static_cast<std::size_t>(
      std::count_if(scan.begin(), scan.end(), [](const LimitPoint& p) { return std::isnan(p.margin); }));
  limit.keeps_low = scan.front().holds();
  limit.keeps_high = scan.back().holds();
  bool rises = false;
  bool falls = false;
  for (std::size_t i = 0; i + 1 < scan.size(); ++i) {
    rises = rises || scan[i + 1].margin > scan[i].margin;
    falls = falls || scan[i + 1].margin < scan[i].margin;
  }
  limit.monotonic = !(rises && falls);

  for (std::size_t i = 0; i + 1 < scan.size(); ++i) {
    for (const LimitReason reason : {LimitReason::Clamp, LimitReason::Wrench}) {
      const double at_low = margin_of(scan[i], reason);
      const double at_high = margin_of(scan[i + 1], reason);
      if (std::isnan(at_low) || std::isnan(at_high) || (at_low >= 0) == (at_high >= 0)) {
        continue;
      }
      LimitCrossing crossing{scan[i].value, scan[i + 1].value, reason};
      if (at_low < 0) {
        std::swap(crossing.keeps, crossing.fails);
      }
      const auto margin = [&](double value) {
        const LimitPoint point = run_value(value, [&](double) { return !progress || progress(scan.size(), 1); });
        if (point.outcome.status == CaseStatus::Pending) {
          throw StopRequest{};
        }
        limit.points.push_back(point);
        const double found = margin_of(point, reason);
        if (std::isnan(found)) {
          ++limit.failed;
          throw FailedRun{};
        }
        const double nearest = std::abs(value - (found >= 0 ? crossing.fails : crossing.keeps));
        if (nearest < std::abs(crossing.keeps - crossing.fails)) {
          (found >= 0 ? crossing.keeps : crossing.fails) = value;
        }
        return found;
      };
      if (at_low != 0 && at_high != 0) {
        std::uintmax_t tries = kMostTries;
        try {
          boost::math::tools::toms748_solve(
              margin, scan[i].value, scan[i + 1].value, at_low, at_high,
              [&](double a, double b) { return std::abs(b - a) <= request.tolerance; }, tries);
          // A straight margin is met exactly at once, with the other side of it still far off.
          if (std::abs(crossing.keeps - crossing.fails) > request.tolerance) {
            margin(crossing.keeps + std::copysign(0.9 * request.tolerance, crossing.fails - crossing.keeps));
          }
        } catch (const FailedRun&) {
          // The crossing stays as wide as it was then.
        } catch (const StopRequest&) {
          limit.stopped = true;
          return limit;
        }
      }
      limit.crossings.push_back(crossing);
    }
  }
  std::sort(limit.crossings.begin(), limit.crossings.end(),
            [](const LimitCrossing& a, const LimitCrossing& b) { return a.keeps < b.keeps; });
  std::sort(limit.points.begin(), limit.points.end(),
            [](const LimitPoint& a, const LimitPoint& b) { return a.value < b.value; });
  return limit;
}

} // namespace clampfade

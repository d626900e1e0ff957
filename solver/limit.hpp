// How far a value may go before a wheel no longer keeps its clamp, or the wrench stretches its studs.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/scenario.hpp"
#include "solver/study_result.hpp"

#include <cstddef>
#include <functional>
#include <string_view>
#include <vector>

namespace clampfade {

/// One value that was tried.
struct LimitPoint {
  double value = 0; ///< [SI]
  StudyCase outcome;
  /// Lowest cold clamp of any stud over the run less the required clamp [N]; not a number where the run failed.
  double margin = StudyCase::kUnknown;
  /// 1 less the highest of the stress under the wrench over the yield strength and of the clamp load over the proof
  /// load
  /// [-]; below 0 a stud is stretched for good or pulled above its proof load. Not a number where it is not known.
  double wrench_margin = StudyCase::kUnknown;

  /// Whether every stud keeps the required clamp to the end and none is overtightened.
  [[nodiscard]] bool holds() const { return margin >= 0 && !outcome.overtightened(); }
};

/// What it is that ends at a value.
enum class LimitReason {
  Clamp, ///< every stud keeps the required clamp to the end
  Wrench ///< the wrench stretches no stud and pulls none above its proof load
};
constexpr std::string_view name(LimitReason reason) { return reason == LimitReason::Clamp ? "clamp" : "wrench"; }

/// A value at which one of the two ends, told by the two closest values that were tried. The other is not looked at.
struct LimitCrossing {
  double keeps = 0; ///< [SI]; it is so
  double fails = 0; ///< [SI]; it is not
  LimitReason reason = LimitReason::Clamp;
};

struct Limit {
  std::vector<LimitPoint> points;       ///< all that were tried, by rising value
  std::vector<LimitCrossing> crossings; ///< by rising value
  bool keeps_low = false;               ///< LimitPoint::holds at the lower end of the interval
  bool keeps_high = false;              ///< at the upper end
  bool monotonic = true;  ///< whether the margin of the clamp only rises, or only falls, over the coarse scan
  std::size_t failed = 0; ///< values whose run failed
  bool stopped = false;   ///< asked to stop; the rest is then of no use
};

struct LimitRequest {
  double low = 0, high = 1; ///< [SI], low below high
  double tolerance = 1e-3;  ///< [SI], above 0: how close `keeps` and `fails` come
  std::size_t scan = 9;     ///< values of the coarse scan, at least 2
  std::size_t jobs = 1;
};

/// Scans the interval and closes in on every change between keeping and failing that the scan shows, of the clamp and
/// under the wrench, by the bracketing method of Alefeld, Potra and Shi (TOMS 748) on the margin of each. `make` gives
/// the scenario with a value, `time` is the axis of study records. An InputError of `make` counts as a failed run.
Limit find_limit(const std::function<Scenario(double value)>& make, const std::vector<double>& time,
                 const LimitRequest& request, const CaseProgress& progress = {});

} // namespace clampfade

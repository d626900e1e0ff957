// How far a value may go before a wheel no longer keeps its clamp.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/scenario.hpp"
#include "solver/study_result.hpp"

#include <cstddef>
#include <functional>
#include <vector>

namespace clampfade {

/// One value that was tried.
struct LimitPoint {
  double value = 0; ///< [SI]
  StudyCase outcome;
  /// Lowest cold clamp of any stud over the run less the required clamp [N]; not a number where the run failed.
  double margin = StudyCase::kUnknown;
};

/// A value at which keeping ends, told by the two closest values that were tried.
struct LimitCrossing {
  double keeps = 0; ///< [SI]; every stud keeps the required clamp to the end
  double fails = 0; ///< [SI]; one does not
};

struct Limit {
  std::vector<LimitPoint> points;       ///< all that were tried, by rising value
  std::vector<LimitCrossing> crossings; ///< by rising value
  bool keeps_low = false;               ///< at the lower end of the interval
  bool keeps_high = false;              ///< at the upper end
  bool monotonic = true;                ///< whether the margin only rises, or only falls, over the coarse scan
  std::size_t failed = 0;               ///< values whose run failed
  bool stopped = false;                 ///< asked to stop; the rest is then of no use
};

struct LimitRequest {
  double low = 0, high = 1; ///< [SI], low below high
  double tolerance = 1e-3;  ///< [SI], above 0: how close `keeps` and `fails` come
  std::size_t scan = 9;     ///< values of the coarse scan, at least 2
  std::size_t jobs = 1;
};

/// Scans the interval and closes in on every change between keeping and failing that the scan shows, by the bracketing
/// method of Alefeld, Potra and Shi (TOMS 748) on the margin. `make` gives the scenario with a value, `time` is the
/// axis of study records. An InputError of `make` counts as a failed run.
Limit find_limit(const std::function<Scenario(double value)>& make, const std::vector<double>& time,
                 const LimitRequest& request, const CaseProgress& progress = {});

} // namespace clampfade

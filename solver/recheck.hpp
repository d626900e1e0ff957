// When a wheel is due for a re-check: by the interval that is asked for, and earlier where a prediction says so.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace clampfade {

/// Something that was done to a stud, at an instant and a distance driven.
struct StudEvent {
  double instant = 0;             ///< [s since 1970]
  std::size_t stud = 0;           ///< from 1
  std::optional<double> odometer; ///< [m]
};

/// A time at which all studs were seen to.
struct WholeVisit {
  double instant = 0;             ///< of its last event [s]
  std::optional<double> odometer; ///< highest of its events [m]
};

/// The last visit, events no further than `gap` [s] apart, that saw to all studs from 1 to `studs`. None if there is
/// none: one stud seen to is no wheel seen to. Events by rising instant.
std::optional<WholeVisit> last_whole_visit(std::span<const StudEvent> events, std::size_t studs, double gap);

/// What a prediction allows, counted from its tightening.
struct PredictedFall {
  double tightened = 0;           ///< [s since 1970]
  std::optional<double> odometer; ///< then [m]
  std::optional<double> time;     ///< until the weakest stud falls below the required clamp [s]
  std::optional<double> distance; ///< driven by then [m]
};
/// Share of the predicted time and distance by which a re-check is due; our choice, no source: the fall itself is a
/// limit and no date to aim for.
inline constexpr double kRecheckShare = 0.5;

/// The longest from one re-check to the next.
struct RecheckInterval {
  std::optional<double> time;     ///< [s]
  std::optional<double> distance; ///< [m]
};

struct RecheckDue {
  std::optional<double> instant;  ///< [s since 1970]; none without an interval of time and a prediction
  std::optional<double> odometer; ///< [m]; none also where the odometer at the last visit is not known
  bool time_predicted = false;    ///< whether the prediction, not the interval, sets the instant
  bool distance_predicted = false;
};

/// When the next re-check of a wheel is due that was last seen to, tightened or checked as a whole, at `last`: after
/// the interval, and before that where a prediction lets the clamp fall too low: at kRecheckShare of the way, and, once
/// a check has been made after that, at the fall itself; at once where the clamp is too low as tightened and nothing
/// was checked since. A prediction never puts a re-check off.
RecheckDue next_recheck(const WholeVisit& last, const RecheckInterval& interval,
                        std::span<const PredictedFall> predictions);

} // namespace clampfade

#include "solver/recheck.hpp"

#include <algorithm>
#include <set>

namespace clampfade {

namespace {

/// The first of the instants that a prediction sets and no visit has answered yet, as an instant or an odometer
/// reading. The tightening itself answers none: a clamp that is too low from the start is due at once.
std::optional<double> next_of(double tightened, std::optional<double> fall, double last) {
  if (!fall) {
    return std::nullopt;
  }
  for (const double at : {tightened + kRecheckShare * *fall, tightened + *fall}) {
    if (at > last || last <= tightened) {
      return at;
    }
  }
  return std::nullopt;
}

void bring_forward(std::optional<double>& due, bool& predicted, std::optional<double> at) {
  if (at && (!due || *at < *due)) {
    due = at;
    predicted = true;
  }
}

} // namespace

std::optional<WholeVisit> last_whole_visit(std::span<const StudEvent> events, std::size_t studs, double gap) {
  std::optional<WholeVisit> found;
  std::set<std::size_t> seen;
  WholeVisit visit;
  for (std::size_t i = 0; i < events.size(); ++i) {
    const StudEvent& e = events[i];
    if (i == 0 || e.instant > events[i - 1].instant + gap) {
      seen.clear();
      visit = {};
    }
    seen.insert(e.stud);
    visit.instant = e.instant;
    if (e.odometer) {
      visit.odometer = std::max(visit.odometer.value_or(*e.odometer), *e.odometer);
    }
    if (seen.size() >= studs) {
      found = visit;
    }
  }
  return found;
}

RecheckDue next_recheck(const WholeVisit& last, const RecheckInterval& interval,
                        std::span<const PredictedFall> predictions) {
  RecheckDue due;
  if (interval.time) {
    due.instant = last.instant + *interval.time;
  }
  if (interval.distance && last.odometer) {
    due.odometer = *last.odometer + *interval.distance;
  }
  for (const PredictedFall& p : predictions) {
    bring_forward(due.instant, due.time_predicted, next_of(p.tightened, p.time, last.instant));
    // Where the tightening's odometer is not known, the last visit's is later, and would put the re-check off.
    if (p.odometer) {
      bring_forward(due.odometer, due.distance_predicted,
                    next_of(*p.odometer, p.distance, last.odometer.value_or(*p.odometer)));
    }
  }
  return due;
}

} // namespace clampfade

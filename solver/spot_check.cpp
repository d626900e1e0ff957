#include "solver/spot_check.hpp"

#include "solver/duty.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace clampfade {

namespace {
constexpr std::size_t kOneIn = 8;
constexpr double kSameInstant = 1e-6; // s: round-off of a time of day, and much more
constexpr double kLookedAt = 900;     // s of a stretch: what a stop makes of it does not take an hour to see
constexpr double kRipple = 2;         // K, as much as nodes may be off by
constexpr double kStuck = 1e-4;       // of the largest first clamp, likewise

bool means(const Stretch& stretch) { return stretch.spans > 1 && !stretch.parked; }
/// Ripple of the brake that moves a clamp by kStuck [K]; infinite where no part of the joint feels it.
double ripple_told(const Scenario& scenario, const Wheel& wheel) {
  const Joint& joint = wheel.joint();
  std::vector<double> nodes(scenario.heat.nodes.size(), joint.tightening_temperature());
  nodes[scenario.heat.brake] += 1;
  std::vector<double> places;
  joint.place_temperatures(nodes, places);
  Elastic e;
  joint.elastic(places, e);
  const double mismatch = std::abs(std::accumulate(e.offset.begin(), e.offset.end(), 0.0));
  const double soft =
      std::accumulate(e.compliance.begin(), e.compliance.end(), 0.0) + joint.washers()->compress(wheel.scale()).slope;
  return mismatch > 0 ? kStuck * wheel.scale() * soft / mismatch : std::numeric_limits<double>::infinity();
}
} // namespace

SpotCheck::SpotCheck(const Scenario& scenario, Wheel& wheel)
    : scenario_(scenario), wheel_(wheel), heat_(scenario.heat), feels_brake_(wheel.joint().feels(scenario.heat.brake)) {
  if (const auto& washers = wheel.joint().washers(); washers && washers->sticks()) {
    ripple_stuck_ = ripple_told(scenario, wheel);
  }
}

bool SpotCheck::needs_it(const Stretch& stretch) const { return feels_brake_ && stretch.ripple > kRipple; }

bool SpotCheck::comes_apart(const Stretch& stretch) const { return stretch.ripple > ripple_stuck_; }

const std::vector<Span>& SpotCheck::spans() {
  if (spans_.empty()) {
    spans_ = working_day(scenario_);
  }
  return spans_;
}

void SpotCheck::begin(std::size_t day, const std::vector<Stretch>& stretches) {
  const auto several = static_cast<std::size_t>(
      std::count_if(stretches.begin(), stretches.end(), [&](const Stretch& s) { return means(s) && !needs_it(s); }));
  one_in_ = std::clamp<std::size_t>(several, 1, kOneIn);
  next_ = day % one_in_;
  seen_ = 0;
  seconds_ = held_ = heat_apart_ = 0;
  off_.assign(wheel_.columns(), 0.0);
  off_for_sure_.assign(wheel_.columns(), 0.0);
}

bool SpotCheck::due(const Stretch& stretch) {
  if (!means(stretch)) {
    return false;
  }
  whole_ = needs_it(stretch);
  if (whole_) {
    return true;
  }
  seconds_ += stretch.duration;
  return seen_++ % one_in_ == next_;
}

std::vector<Stretch> SpotCheck::parts(const Stretch& stretch) {
  if (whole_) {
    return {stretch};
  }
  return cut(stretch, kLookedAt, spans(), scenario_.vehicle, scenario_.heat.nodes[scenario_.heat.brake]);
}

double SpotCheck::stop_begun(const Stretch& stretch, double time) {
  double begun = 0;
  for (std::size_t i = stretch.first; i < stretch.first + stretch.spans; ++i) {
    const double start = spans()[i].start - stretch.start;
    if (start >= time - kSameInstant) {
      break;
    }
    begun = spans()[i].begins ? start : begun;
  }
  return begun;
}

void SpotCheck::follow(const Stretch& stretch, double midnight, double from, double to, Place& place,
                       const Observer& observer) {
  heat_.begin_day(0, place.nodes);
  for (std::size_t i = stretch.first; i < stretch.first + stretch.spans; ++i) {
    const Span& span = spans()[i];
    const double start = span.start - stretch.start;
    if (start < from - kSameInstant || start > to - kSameInstant) {
      continue;
    }
    const double h = start + span.duration > to + kSameInstant ? to - start : span.duration;
    const Stretch alone = each_span({span}, scenario_.vehicle).front();
    heat_.run({h, ambient_during(scenario_.duty, midnight + span.start, h), alone.air, alone.brake_heat}, place.nodes);
    system_.begin(alone.roads);
    const auto told = [&](const State& before, const State& after, double t, double step) {
      if (observer) {
        std::vector<double> nodes(place.nodes.size());
        heat_.at(t + step, nodes);
        observer({alone, before, after, start + t + step, nodes});
      }
    };
    system_.run(stepper_, place.x, 0, h, place.step, std::ref(told));
  }
}

void SpotCheck::hold(const Stretch& part, double midnight, Place start, const State& x,
                     const std::vector<double>& nodes) {
  follow(part, midnight, 0, part.duration, start);
  wheel_.cold(x, rest_);
  wheel_.cold(start.x, other_rest_);
  const std::size_t segments = wheel_.joint().segments();
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    const std::size_t nut = (c + 1) * segments - 1;
    (whole_ ? off_for_sure_ : off_)[c] += rest_.forces[nut] - other_rest_.forces[nut];
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    heat_apart_ = std::max(heat_apart_, std::abs(start.nodes[i] - nodes[i]));
  }
  held_ += whole_ ? 0 : part.duration;
}

double SpotCheck::apart() const {
  double most = 0;
  for (std::size_t c = 0; c < off_.size(); ++c) {
    most = std::max(most, std::abs(off_for_sure_[c] + (held_ > 0 ? off_[c] * seconds_ / held_ : 0)));
  }
  return most / wheel_.scale();
}

} // namespace clampfade

#include "solver/spot_check.hpp"

#include "solver/duty.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {
constexpr std::size_t kOneIn = 8;
constexpr double kLookedAt = 900; // s of a stretch: what a stop makes of it does not take an hour to see

bool means(const Stretch& stretch) { return stretch.spans > 1 && !stretch.parked; }
} // namespace

SpotCheck::SpotCheck(const Scenario& scenario, Wheel& wheel)
    : scenario_(scenario), wheel_(wheel), heat_(scenario.heat) {}

void SpotCheck::begin(std::size_t day, const std::vector<Stretch>& stretches) {
  const auto several = static_cast<std::size_t>(std::count_if(stretches.begin(), stretches.end(), means));
  one_in_ = std::clamp<std::size_t>(several, 1, kOneIn);
  next_ = day % one_in_;
  seen_ = 0;
  seconds_ = held_ = heat_apart_ = 0;
  off_.assign(wheel_.columns(), 0.0);
}

bool SpotCheck::due(const Stretch& stretch) {
  if (!means(stretch)) {
    return false;
  }
  seconds_ += stretch.duration;
  return seen_++ % one_in_ == next_;
}

std::vector<Stretch> SpotCheck::parts(const Stretch& stretch) {
  if (spans_.empty()) {
    spans_ = working_day(scenario_);
  }
  return cut(stretch, kLookedAt, spans_, scenario_.vehicle, scenario_.heat.nodes[scenario_.heat.brake]);
}

void SpotCheck::hold(const Stretch& part, double midnight, Place start, const State& x,
                     const std::vector<double>& nodes) {
  heat_.begin_day(0, start.nodes);
  const auto first = spans_.begin() + static_cast<std::ptrdiff_t>(part.first);
  for (const Stretch& span : each_span({first, first + static_cast<std::ptrdiff_t>(part.spans)}, scenario_.vehicle)) {
    heat_.run({span.duration, ambient_during(scenario_.duty, midnight + span.start, span.duration), span.air,
               span.brake_heat},
              start.nodes);
    system_.begin(span.roads);
    system_.run(stepper_, start.x, 0, span.duration, start.step);
  }
  wheel_.cold(x, rest_);
  wheel_.cold(start.x, other_rest_);
  const std::size_t segments = wheel_.joint().segments();
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    const std::size_t nut = (c + 1) * segments - 1;
    off_[c] += rest_.forces[nut] - other_rest_.forces[nut];
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    heat_apart_ = std::max(heat_apart_, std::abs(start.nodes[i] - nodes[i]));
  }
  held_ += part.duration;
}

double SpotCheck::apart() const {
  double most = 0;
  for (const double off : off_) {
    most = std::max(most, std::abs(off));
  }
  return held_ > 0 ? most / wheel_.scale() * seconds_ / held_ : 0;
}

} // namespace clampfade

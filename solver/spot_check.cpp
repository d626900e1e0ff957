#include "solver/spot_check.hpp"

#include "solver/duty.hpp"
#include "solver/span_system.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {
constexpr std::size_t kOneIn = 8;

bool means(const Stretch& stretch) { return stretch.spans > 1 && !stretch.parked; }
} // namespace

SpotCheck::SpotCheck(const Scenario& scenario, Wheel& wheel, const std::vector<Stretch>& spans)
    : scenario_(scenario), wheel_(wheel), spans_(spans), heat_(scenario.heat) {}

void SpotCheck::begin(std::size_t day, const std::vector<Stretch>& stretches) {
  const auto several = static_cast<std::size_t>(std::count_if(stretches.begin(), stretches.end(), means));
  one_in_ = std::clamp<std::size_t>(several, 1, kOneIn);
  next_ = day % one_in_;
  seen_ = held_ = 0;
  heat_apart_ = 0;
  off_.assign(wheel_.columns(), 0.0);
}

bool SpotCheck::due(const Stretch& stretch) { return means(stretch) && seen_++ % one_in_ == next_; }

void SpotCheck::hold(const Stretch& stretch, double midnight, End start, double step, const End& end) {
  auto& [x, nodes] = start;
  heat_.begin_day(0, nodes);
  for (std::size_t i = stretch.first; i < stretch.first + stretch.spans; ++i) {
    const Stretch& span = spans_[i];
    heat_.run({span.duration, ambient_during(scenario_.duty, midnight + span.start, span.duration), span.air,
               span.brake_heat},
              nodes);
    SpanSystem system(
        wheel_, span.roads,
        [this](double t, std::vector<double>& out) {
          out.resize(scenario_.heat.nodes.size());
          heat_.at(t, out);
        },
        scenario_.tolerance);
    system.run(stepper_, x, 0, span.duration, step);
  }
  wheel_.cold(x, rest_);
  wheel_.cold(end.x, other_rest_);
  const std::size_t segments = wheel_.joint().segments();
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    const std::size_t nut = (c + 1) * segments - 1;
    off_[c] += other_rest_.forces[nut] - rest_.forces[nut];
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    heat_apart_ = std::max(heat_apart_, std::abs(nodes[i] - end.nodes[i]));
  }
  ++held_;
}

double SpotCheck::apart() const {
  double most = 0;
  for (const double off : off_) {
    most = std::max(most, std::abs(off));
  }
  return held_ > 0 ? most / wheel_.scale() * static_cast<double>(seen_) / static_cast<double>(held_) : 0;
}

} // namespace clampfade

#include "solver/stretch.hpp"

#include "models/heat_network.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

constexpr double kAlike = 0.02; // of the demand: loads closer than this count as one

bool alike(const WheelLoad& a, const WheelLoad& b) {
  const double near = kAlike * std::max(a.demand(), b.demand());
  return std::abs(a.radial - b.radial) <= near && std::abs(a.brake - b.brake) <= near &&
         std::abs(a.traction - b.traction) <= near &&
         std::abs(a.moment - b.moment) <= kAlike * std::max(std::abs(a.moment), std::abs(b.moment));
}

/// Adds up spans; its sums become means once it is done.
class Gatherer {
public:
  explicit Gatherer(const VehicleSpec& vehicle) : vehicle_(vehicle) {}

  void add(const Span& s) {
    if (weights_.empty()) {
      out_.start = s.start;
      out_.parked = s.parked;
    }
    out_.duration += s.duration;
    out_.speed += s.distance();
    out_.brake_heat += s.brake_heat * s.duration;
    out_.moving += s.speed > 0 ? s.duration : 0;
    out_.stops += s.stop ? 1 : 0;
    air_ += HeatNetwork::air_factor(s.speed) * s.duration;
    ++spans_;
    only_ = s;
    const double turns = s.distance() / (2 * kPi * vehicle_.rolling_radius);
    std::size_t k = 0;
    while (k < first_.size() && !alike(first_[k], s.load)) {
      ++k;
    }
    if (k == first_.size()) {
      first_.push_back(s.load);
      out_.roads.emplace_back();
      out_.peak.push_back(s.load);
      weights_.push_back(0);
    }
    // Loads at rest neither wear nor turn anything: they weigh as little as can be.
    const double weight = std::max(turns, 1e-9 * s.duration);
    RoadLoad& road = out_.roads[k];
    const auto mean = [&](double WheelLoad::*part) {
      road.load.*part += (s.load.*part - road.load.*part) * weight / (weights_[k] + weight);
      if (std::abs(s.load.*part) > std::abs(out_.peak[k].*part)) {
        out_.peak[k].*part = s.load.*part;
      }
    };
    mean(&WheelLoad::radial);
    mean(&WheelLoad::brake);
    mean(&WheelLoad::traction);
    mean(&WheelLoad::moment);
    weights_[k] += weight;
    road.turn_rate += turns;
    road.cycle_rate += turns * s.load.demand() / vehicle_.load;
  }

  Stretch finish() {
    const double t = out_.duration;
    out_.speed /= t;
    out_.brake_heat /= t;
    out_.moving /= t;
    out_.wind = std::pow(air_ / t, 1 / 0.8);
    for (RoadLoad& road : out_.roads) {
      road.turn_rate /= t;
      road.cycle_rate /= t;
    }
    if (spans_ == 1) { // not by way of sums, which round
      out_.speed = out_.wind = only_.speed;
      out_.brake_heat = only_.brake_heat;
    }
    return std::move(out_);
  }

private:
  const VehicleSpec& vehicle_;
  Stretch out_;
  Span only_;
  std::size_t spans_ = 0;
  double air_ = 0;
  std::vector<WheelLoad> first_;
  std::vector<double> weights_;
};

} // namespace

std::vector<Stretch> each_span(const std::vector<Span>& spans, const VehicleSpec& vehicle) {
  std::vector<Stretch> out;
  for (const Span& s : spans) {
    Gatherer one(vehicle);
    one.add(s);
    out.push_back(one.finish());
  }
  return out;
}

std::vector<Stretch> drawn_together(const std::vector<Span>& spans, const VehicleSpec& vehicle) {
  std::vector<Stretch> out;
  for (std::size_t i = 0; i < spans.size();) {
    const Span& first = spans[i];
    const auto goes_with_it = [&](const Span& s) {
      return s.together > 0 && s.together == first.together && s.step == first.step && !s.parked && !first.parked;
    };
    std::size_t end = i + 1;
    double total = first.duration;
    while (goes_with_it(first) && end < spans.size() && goes_with_it(spans[end])) {
      total += spans[end++].duration;
    }
    const double share = total / std::max(1.0, first.together > 0 ? std::round(total / first.together) : 1);
    const double from = first.start;
    for (double next = share; i < end; next += share) {
      Gatherer together(vehicle);
      do {
        together.add(spans[i++]);
      } while (i < end && !(spans[i].begins && spans[i].start - from >= next - spans[i].duration / 2));
      out.push_back(together.finish());
    }
  }
  return out;
}

} // namespace clampfade

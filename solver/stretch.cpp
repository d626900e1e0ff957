#include "solver/stretch.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace clampfade {

namespace {

constexpr double kAlike = 0.05; // of the demand: loads closer than this count as one

bool alike(const WheelLoad& a, const WheelLoad& b) {
  const double near = kAlike * std::max(a.demand(), b.demand());
  return std::abs(a.radial - b.radial) <= near && std::abs(a.brake - b.brake) <= near &&
         std::abs(a.traction - b.traction) <= near &&
         std::abs(a.moment - b.moment) <= kAlike * std::max(std::abs(a.moment), std::abs(b.moment));
}

/// Sum and first moment about the start of what comes piece by piece.
struct Moments {
  double sum = 0, moment = 0;
  void add(double rate, double duration, double start) {
    sum += rate * duration;
    moment += rate * duration * (start + duration / 2);
  }
  /// The straight course over t that has both; it never falls below zero, however late most of it comes.
  [[nodiscard]] Parabola course(double t) const {
    const double most = 2 * sum / (t * t);
    return {sum / t, std::clamp(12 * (moment - sum * t / 2) / (t * t * t), -most, most)};
  }
};

/// Adds up spans; its sums become means once it is done.
class Gatherer {
public:
  Gatherer(const VehicleSpec& vehicle, const HeatNode& brake) : vehicle_(vehicle), brake_(brake) {}

  void add(const Span& s) {
    if (weights_.empty()) {
      out_.start = s.start;
      out_.parked = s.parked;
    }
    const double before = out_.duration;
    const double air = HeatNetwork::air_factor(s.speed);
    heat_.add(s.brake_heat, s.duration, before);
    air_.add(air, s.duration, before);
    out_.duration += s.duration;
    out_.speed += s.distance();
    out_.moving += s.speed > 0 ? s.duration : 0;
    out_.stops += s.stop ? 1 : 0;
    parts_.push_back({s.duration, s.brake_heat, air});
    only_ = s;
    const double turns = s.distance() / (2 * kPi * vehicle_.rolling_radius);
    std::size_t k = 0;
    while (k < first_.size() && !alike(first_[k], s.load)) {
      ++k;
    }
    if (k == first_.size()) {
      first_.push_back(s.load);
      out_.roads.emplace_back();
      out_.peaks.push_back({s.load, before, 0});
      weights_.push_back(0);
    }
    // Loads at rest neither wear nor turn anything: they weigh as little as can be.
    const double weight = std::max(turns, 1e-9 * s.duration);
    RoadLoad& road = out_.roads[k];
    const auto mean = [&](double WheelLoad::*part) {
      road.load.*part += (s.load.*part - road.load.*part) * weight / (weights_[k] + weight);
      if (std::abs(s.load.*part) > std::abs(out_.peaks[k].load.*part)) {
        out_.peaks[k].load.*part = s.load.*part;
      }
    };
    out_.peaks[k].to = out_.duration;
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
    out_.moving /= t;
    out_.brake_heat = heat_.course(t);
    out_.air = air_.course(t);
    for (RoadLoad& road : out_.roads) {
      road.turn_rate /= t;
      road.cycle_rate /= t;
    }
    if (parts_.size() == 1) { // not by way of sums, which round
      out_.speed = only_.speed;
      out_.brake_heat = only_.brake_heat;
      out_.air = HeatNetwork::air_factor(only_.speed);
    } else {
      out_.spared = -brake_.moving * air_against_heat();
    }
    return std::move(out_);
  }

private:
  struct Part {
    double duration, heat, air;
  };

  /// Covariance of the air factor and the ripple of the brake's temperature, which alone is fast enough to have one.
  /// Its mean is zero: the first moment of the heat is kept.
  [[nodiscard]] double air_against_heat() {
    double stored = 0; // beyond the mean course [J]
    double time = 0;
    double sum = 0;
    double product = 0;
    for (const Part& p : parts_) {
      const double gained = (p.heat - out_.brake_heat.at(time + p.duration / 2 - out_.duration / 2)) * p.duration;
      sum += (stored + gained / 2) * p.duration;
      product += (stored + gained / 2) * p.air * p.duration;
      stored += gained;
      out_.ripple = std::max(out_.ripple, std::abs(stored) / brake_.capacity);
      time += p.duration;
    }
    return (product - sum * out_.air.middle) / (out_.duration * brake_.capacity);
  }

  const VehicleSpec& vehicle_;
  const HeatNode& brake_;
  Stretch out_;
  Span only_;
  std::vector<Part> parts_;
  Moments heat_, air_;
  std::vector<WheelLoad> first_;
  std::vector<double> weights_;
};

/// Spans from `first` to before `past` drawn together; none give nothing.
void draw(std::size_t first, std::size_t past, const std::vector<Span>& spans, const VehicleSpec& vehicle,
          const HeatNode& brake, std::vector<Stretch>& out) {
  if (first < past) {
    Gatherer together(vehicle, brake);
    for (std::size_t i = first; i < past; ++i) {
      together.add(spans[i]);
    }
    out.push_back(together.finish());
    out.back().first = first;
    out.back().spans = past - first;
  }
}

} // namespace

std::vector<Stretch> each_span(const std::vector<Span>& spans, const VehicleSpec& vehicle) {
  std::vector<Stretch> out;
  const HeatNode none;
  for (const Span& s : spans) {
    Gatherer one(vehicle, none);
    one.add(s);
    out.push_back(one.finish());
  }
  return out;
}

std::vector<Stretch> drawn_together(const std::vector<Span>& spans, const VehicleSpec& vehicle, const HeatNode& brake,
                                    Parks parks) {
  std::vector<Stretch> out;
  for (std::size_t i = 0; i < spans.size();) {
    const Span& first = spans[i];
    const auto goes_with_it = [&](const Span& s) {
      return s.together > 0 && s.together == first.together && s.step == first.step && s.parked == first.parked &&
             (parks == Parks::Together || !s.parked);
    };
    std::size_t end = i + 1;
    double total = first.duration;
    while (goes_with_it(first) && end < spans.size() && goes_with_it(spans[end])) {
      total += spans[end++].duration;
    }
    const double share = total / std::max(1.0, first.together > 0 ? std::round(total / first.together) : 1);
    const double from = first.start;
    for (double next = share; i < end; next += share) {
      Gatherer together(vehicle, brake);
      const std::size_t begin = i;
      do {
        together.add(spans[i++]);
      } while (i < end && !(spans[i].begins && spans[i].start - from >= next - spans[i].duration / 2));
      out.push_back(together.finish());
      out.back().first = begin;
      out.back().spans = i - begin;
    }
  }
  return out;
}

std::vector<Stretch> cut(const Stretch& whole, double last, const std::vector<Span>& spans, const VehicleSpec& vehicle,
                         const HeatNode& brake) {
  const std::size_t end = whole.first + whole.spans;
  std::size_t from = whole.first;
  for (std::size_t i = whole.first; i < end; ++i) {
    if (spans[i].begins && whole.start + whole.duration - spans[i].start >= last * (1 - 1e-9)) {
      from = i;
    }
  }
  std::vector<Stretch> out;
  draw(whole.first, from, spans, vehicle, brake, out);
  draw(from, end, spans, vehicle, brake, out);
  return out;
}

} // namespace clampfade

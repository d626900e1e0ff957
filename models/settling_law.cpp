#include "models/settling_law.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

constexpr double kNear = 5e-3; // how far the drive alone is expected to move a target within a step

double mean_decay(double z, double decay) { return z < 1e-5 ? 1 - z / 2 : (1 - decay) / z; }

/// End of a mode that lies below its target all along.
double follow(double y, double a, double b, double decay, double mean) {
  return decay * y + (1 - decay) * a + (b - a) * (1 - mean);
}

} // namespace

ModeEnd settle(double y, double a, double b, double z, double decay, double mean) {
  if (b >= a) {
    if (y >= b) {
      return {y, 0};
    }
    if (y <= a) {
      return {follow(y, a, b, decay, mean), 1 - mean};
    }
    // Waits until the rising target meets it.
    const double left = z * (b - y) / (b - a);
    const double decayed = std::exp(-left);
    const double share = 1 - mean_decay(left, decayed);
    const double later = left < 1e-5 ? left / 2 : (1 - decayed * (1 + left)) / left; // meets it sooner for a larger b
    return {y + (b - y) * share, share + later * (y - a) / (b - a)};
  }
  if (y >= a) {
    return {y, 0};
  }
  const double fall = a - b;
  // How far above the target it would end if it did not stop there. Not from `follow`, where this drowns in round-off
  // once a step holds very many relaxation times.
  const double over = fall * mean - (a - y) * decay;
  if (over <= 0) {
    return {b + over, 1 - mean};
  }
  // Meets the falling target under way and stays there.
  const double q = (a - y) * z / fall;
  const double when = std::log1p(q) / z;
  return {a - fall * when, when - (a - y) / (fall * (1 + q))};
}

SettlingLaw::SettlingLaw(Mechanism mechanism, std::vector<Mode> modes)
    : mechanism_(mechanism), modes_(std::move(modes)) {}

void SettlingLaw::start(std::span<double> z) const { std::fill(z.begin(), z.end(), 0.0); }

double SettlingLaw::fastest(double temperature, double cycle_rate) const {
  const double quick = speed(temperature);
  double fastest = 0;
  for (const Mode& m : modes_) {
    fastest = std::max(fastest, m.rate * quick + m.per_cycle * cycle_rate);
  }
  return fastest;
}

void SettlingLaw::rate(std::span<const double> z, double x, double temperature, double cycle_rate,
                       std::span<double> dz) const {
  const double goal = target(x, property(temperature)).value;
  const double quick = speed(temperature);
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    const double r = modes_[m].rate * quick + modes_[m].per_cycle * cycle_rate;
    dz[m] = r * std::max(0.0, modes_[m].weight * goal - z[m]);
  }
}

void SettlingLaw::share(const LawStep& step, std::span<double> shared) const {
  const bool steady = step.temperature_start == step.temperature_end && step.temperature_middle == step.temperature_end;
  shared[0] = property(step.temperature_start);
  shared[1] = steady ? shared[0] : property(step.temperature_end);
  shared[2] = steady ? shared[0] : property(step.temperature_middle);
  shared[3] = 0;
  const double start = speed(step.temperature_start);
  double mean = start;
  if (!steady) {
    const double end = speed(step.temperature_end);
    const double middle = speed(step.temperature_middle);
    mean = (start + 4 * middle + end) / 6;
    shared[3] = std::abs(start - 2 * middle + end) / (12 * mean);
  }
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    const double z = step.duration * (modes_[m].rate * mean + modes_[m].per_cycle * step.cycle_rate);
    const double decay = std::exp(-z);
    shared[lengths() + m] = z;
    shared[decays() + m] = decay;
    shared[means() + m] = mean_decay(z, decay);
  }
}

void SettlingLaw::prepare(const LawStep&, std::span<const double> shared, std::span<const double> z0, double x0,
                          std::span<double> work) const {
  const double start = target(x0, shared[0]).value;
  const double near = shared[1] == shared[0] ? start : target(x0, shared[1]).value; // but for the drive, the end's
  const double low = near * (1 - kNear);
  const double high = near * (1 + kNear);
  double loss = 0;
  double slope = 0;
  double unsure = 0;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    const double weight = modes_[m].weight;
    const double y = z0[m];
    double& does = work[kHead + m];
    if (y >= weight * std::max(start, high)) {
      does = kAsleep;
      loss += y;
      continue;
    }
    const double decay = shared[decays() + m];
    const double mean = shared[means() + m];
    const double a = weight * start;
    // A falling target must not be met under way: see `settle`.
    if (y <= a && (low >= start || (start - low) * weight * mean <= (a - y) * decay)) {
      does = kFollows;
      loss += decay * y + (mean - decay) * a;
      slope += weight * (1 - mean);
    } else {
      does = kUnsure;
      unsure += 1;
    }
  }
  work[0] = start;
  work[1] = low;
  work[2] = high;
  work[3] = loss;
  work[4] = slope;
  work[5] = unsure;
}

ModeEnd SettlingLaw::end_of(std::size_t m, double y, double a, double b, std::span<const double> shared) const {
  return settle(y, modes_[m].weight * a, modes_[m].weight * b, shared[lengths() + m], shared[decays() + m],
                shared[means() + m]);
}

LawLoss SettlingLaw::trial(const LawStep&, std::span<const double> shared, std::span<const double> z0, double,
                           double x1, std::span<const double> work) const {
  const Target end = target(x1, shared[1]);
  const bool holds = work[1] <= end.value && end.value <= work[2];
  LawLoss answer;
  if (holds) {
    answer.loss = work[3] + work[4] * end.value;
    answer.slope = work[4];
  }
  if (!holds || work[5] > 0) {
    for (std::size_t m = 0; m < modes_.size(); ++m) {
      if (holds && work[kHead + m] != kUnsure) {
        continue;
      }
      const ModeEnd y = end_of(m, z0[m], work[0], end.value, shared);
      answer.loss += y.value;
      answer.slope += y.slope * modes_[m].weight;
    }
  }
  answer.slope *= end.slope;
  return answer;
}

LawLoss SettlingLaw::finish(const LawStep&, std::span<const double> shared, std::span<const double> z0, double x0,
                            double x1, std::span<const double> work, std::span<double> z1) const {
  const Target end = target(x1, shared[1]);
  const double half = target((x0 + x1) / 2, shared[2]).value;
  const double bend = std::abs(half - (work[0] + end.value) / 2);
  const double forced = std::abs(end.slope * (x1 - x0)) / 2;
  const bool holds = work[1] <= end.value && end.value <= work[2];
  LawLoss answer;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    if (holds && work[kHead + m] == kAsleep) {
      z1[m] = z0[m];
      answer.loss += z0[m];
      continue;
    }
    const double weight = modes_[m].weight;
    const double z = shared[lengths() + m];
    const double decay = shared[decays() + m];
    const double mean = shared[means() + m];
    const ModeEnd y = holds && work[kHead + m] == kFollows
                          ? ModeEnd{follow(z0[m], weight * work[0], weight * end.value, decay, mean), 1 - mean}
                          : end_of(m, z0[m], work[0], end.value, shared);
    z1[m] = y.value;
    answer.loss += y.value;
    answer.slope += y.slope * weight;
    if (y.value > z0[m]) {
      answer.doubt += weight * (bend * (1 - decay) + forced * std::abs(mean - decay)) +
                      shared[3] * z * decay * std::abs(weight * end.value - z0[m]);
    }
  }
  answer.slope *= end.slope;
  return answer;
}

void SettlingLaw::add_losses(std::span<const double> z, ByMechanism& losses) const {
  losses[index(mechanism_)] += loss(z);
}

double SettlingLaw::loss(std::span<const double> z) const {
  double sum = 0;
  for (const double y : z) {
    sum += y;
  }
  return sum;
}

} // namespace clampfade

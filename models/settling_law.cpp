#include "models/settling_law.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

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

void SettlingLaw::prepare(const LawStep& step, std::span<const double> z0, double x0, std::span<double> work) const {
  const bool steady = step.temperature_start == step.temperature_end && step.temperature_middle == step.temperature_end;
  const double p0 = property(step.temperature_start);
  const double p1 = steady ? p0 : property(step.temperature_end);
  const double s0 = speed(step.temperature_start);
  const double s1 = steady ? s0 : speed(step.temperature_end);
  double mean = s0;
  double unsure = 0; // of the mean speed, relative
  if (!steady) {
    const double sm = speed(step.temperature_middle);
    mean = (s0 + 4 * sm + s1) / 6;
    unsure = std::abs(s0 - 2 * sm + s1) / (12 * mean);
  }
  work[0] = target(x0, p0).value;
  work[1] = p1;
  work[2] = steady ? p0 : property(step.temperature_middle);
  work[3] = unsure;
  // No target of this step can pass the larger of the two ends by much; modes already above it need no exponential.
  const double reach = std::max(work[0], target(x0, std::max(p0, p1)).value) * 1.05;
  work[4] = reach;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    double* w = &work[kHead + 3 * m];
    if (z0[m] >= modes_[m].weight * reach) {
      w[0] = -1; // asleep
      continue;
    }
    w[0] = step.duration * (modes_[m].rate * mean + modes_[m].per_cycle * step.cycle_rate);
    w[1] = std::exp(-w[0]);
    w[2] = mean_decay(w[0], w[1]);
  }
}

LawLoss SettlingLaw::finish(const LawStep& step, std::span<const double> z0, double x0, double x1,
                            std::span<const double> work, std::span<double> z1) const {
  const Target end = target(x1, work[1]);
  const double half = target((x0 + x1) / 2, work[2]).value;
  const double bend = std::abs(half - (work[0] + end.value) / 2);
  const double forced = std::abs(end.slope * (x1 - x0)) / 2;
  const bool beyond = end.value > work[4]; // rare: the drive rose by more than `prepare` allowed for
  LawLoss answer;
  for (std::size_t m = 0; m < modes_.size(); ++m) {
    const Mode& mode = modes_[m];
    double z = work[kHead + 3 * m];
    double decay = work[kHead + 3 * m + 1];
    double mean = work[kHead + 3 * m + 2];
    if (z < 0) {
      if (!beyond) {
        z1[m] = z0[m];
        answer.loss += z0[m];
        continue;
      }
      z = step.duration * (mode.rate * speed(step.temperature_middle) + mode.per_cycle * step.cycle_rate);
      decay = std::exp(-z);
      mean = mean_decay(z, decay);
    }
    const double a = mode.weight * work[0];
    const double b = mode.weight * end.value;
    const ModeEnd y = settle(z0[m], a, b, z, decay, mean);
    z1[m] = y.value;
    answer.loss += y.value;
    answer.slope += y.slope * mode.weight;
    if (y.value > z0[m]) {
      answer.doubt += mode.weight * (bend * (1 - decay) + forced * std::abs(mean - decay)) +
                      work[3] * z * decay * std::abs(b - z0[m]);
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

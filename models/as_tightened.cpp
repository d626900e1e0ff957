#include "models/as_tightened.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace clampfade {

namespace {

/// Resilience of a column with all of its segments in series [m/N].
double elastic_resilience(const Joint& joint) {
  const std::vector<double> places(joint.stud_place() + 1, joint.tightening_temperature());
  Elastic elastic;
  joint.elastic(places, elastic);
  return std::accumulate(elastic.compliance.begin(), elastic.compliance.end(), 0.0);
}

double square(double x) { return x * x; }

} // namespace

ClampEstimate clamp_from_torque(const NutThread& nut, double torque, double thread_friction, double bearing_friction,
                                const TorqueScatter& scatter) {
  const double clamp = nut.clamp(torque, thread_friction, bearing_friction);
  if (clamp <= 0) {
    return {};
  }
  const TorqueSplit split = nut.split(clamp, thread_friction, bearing_friction);
  const double stretching = torque - nut.prevailing_torque();
  const double variance =
      square(scatter.clamp) + square(scatter.torque * torque / stretching) +
      square(scatter.friction) * (square(split.thread / stretching) + square(split.bearing / stretching));
  return {clamp, clamp * std::sqrt(variance)};
}

NutTravel::NutTravel(const Joint& joint, double thread_friction, double bearing_friction)
    : joint_(joint), thread_friction_(thread_friction), bearing_friction_(bearing_friction),
      resilience_(elastic_resilience(joint)) {}

double NutTravel::travel(double clamp) const {
  const double torsion = joint_.nut().torsion_factor(clamp, thread_friction_, bearing_friction_);
  double length =
      resilience_ * clamp + joint_.stud().stretch(clamp, 0, joint_.tightening_temperature(), torsion).plastic;
  if (joint_.washers()) {
    length += joint_.washers()->compress(clamp).deflection;
  }
  return length;
}

double NutTravel::slope(double clamp) const {
  const double torsion = joint_.nut().torsion_factor(clamp, thread_friction_, bearing_friction_);
  double slope = resilience_ + joint_.stud().stretch(clamp, 0, joint_.tightening_temperature(), torsion).slope;
  if (joint_.washers()) {
    slope += joint_.washers()->compress(clamp).slope;
  }
  return slope;
}

double NutTravel::clamp_after(double snug, double angle) const {
  const double target = travel(snug) + angle * joint_.nut().thread().pitch / (2 * kPi);
  if (target <= 0) {
    return 0;
  }
  // The column without washers and yield is the stiffest that it can be, so the clamp lies below.
  double low = 0;
  double high = target / resilience_;
  double clamp = std::min(high, std::max(snug, 0.5 * high));
  constexpr int kMost = 200; // of steps; bisection alone needs 60
  for (int i = 0; i < kMost && high - low > 1e-12 * high; ++i) {
    const double over = travel(clamp) - target;
    (over > 0 ? high : low) = clamp;
    if (over == 0) {
      break;
    }
    const double next = clamp - over / slope(clamp);
    // Newton's step where it stays between what is known, else the middle.
    const double old = clamp;
    clamp = next > low && next < high ? next : 0.5 * (low + high);
    if (std::abs(clamp - old) <= 1e-13 * clamp) {
      break;
    }
  }
  return clamp;
}

AngleEstimate NutTravel::estimate(double snug_torque, double angle, const TorqueScatter& torque,
                                  const AngleScatter& scatter) const {
  const ClampEstimate snug = clamp_from_torque(joint_.nut(), snug_torque, thread_friction_, bearing_friction_, torque);
  const double clamp = clamp_after(snug.clamp, angle);
  const double per_length = 1 / slope(clamp);
  const double carried = slope(snug.clamp) * per_length; // a newton more at the start is so many at the end
  const double turned = angle * joint_.nut().thread().pitch / (2 * kPi);
  const double shared = carried * snug.deviation;
  const double variance = square(shared) + square(carried * scatter.snug * snug.clamp) +
                          square(per_length * scatter.angle * joint_.nut().thread().pitch / (2 * kPi)) +
                          square(per_length * scatter.resilience * turned);
  return {{clamp, std::sqrt(variance)}, shared};
}

CombinedEstimate combine(const ClampEstimate& torque, const AngleEstimate& angle) {
  const double by_torque = square(torque.deviation);
  const double by_angle = square(angle.estimate.deviation);
  const double common = torque.deviation * angle.shared;
  const double between = by_torque + by_angle - 2 * common;
  // Two estimates without a spread that can differ say the same.
  const double weight = between > 0 ? std::clamp((by_angle - common) / between, 0.0, 1.0) : 1;
  const double rest = 1 - weight;
  const double variance = square(weight) * by_torque + square(rest) * by_angle + 2 * weight * rest * common;
  const double apart = std::abs(torque.clamp - angle.estimate.clamp);
  return {{weight * torque.clamp + rest * angle.estimate.clamp, std::sqrt(std::max(0.0, variance))},
          weight,
          between > 0 ? apart / std::sqrt(between) : 0};
}

} // namespace clampfade

#include "models/torque.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {
const double kCosFlank = std::cos(kPi / 6); // 60 degree threads
} // namespace

double StudStress::equivalent(double k) const { return std::sqrt(axial * axial + 3 * (k * torsion) * (k * torsion)); }

NutThread::NutThread(const Thread& thread, double bearing_diameter, double prevailing_torque)
    : thread_(thread), bearing_diameter_(bearing_diameter), prevailing_(prevailing_torque) {}

double NutThread::thread_arm(double friction) const { return friction * thread_.pitch_diameter() / (2 * kCosFlank); }
double NutThread::bearing_arm(double friction) const { return friction * bearing_diameter_ / 2; }

double NutThread::arm(double thread_friction, double bearing_friction) const {
  return thread_.pitch / (2 * kPi) + thread_arm(thread_friction) + bearing_arm(bearing_friction);
}

TorqueSplit NutThread::split(double clamp, double thread_friction, double bearing_friction) const {
  return {clamp * thread_.pitch / (2 * kPi), clamp * thread_arm(thread_friction), clamp * bearing_arm(bearing_friction),
          prevailing_};
}

double NutThread::clamp(double torque, double thread_friction, double bearing_friction) const {
  return std::max(0.0, torque - prevailing_) / arm(thread_friction, bearing_friction);
}

double NutThread::torque_to_move(double clamp, double thread_friction, double bearing_friction,
                                 double breakaway) const {
  return split(clamp, breakaway * thread_friction, breakaway * bearing_friction).total();
}

StudStress NutThread::stress(double clamp, double thread_friction, double bearing_friction) const {
  const TorqueSplit s = split(clamp, thread_friction, bearing_friction);
  const double on_thread = s.pitch + s.thread + s.prevailing;
  const double d0 = thread_.stress_diameter();
  return {clamp / thread_.stress_area(), 12 * on_thread / (kPi * d0 * d0 * d0)};
}

double NutThread::torsion_factor(double clamp, double thread_friction, double bearing_friction) const {
  const StudStress s = stress(clamp, thread_friction, bearing_friction);
  return s.axial > 0 ? s.equivalent(1) / s.axial : 1;
}

Measured clamp_of_check_torque(const NutThread& nut, Measured torque, Measured thread_friction,
                               Measured bearing_friction, Measured breakaway) {
  const double b = breakaway.value;
  const double in_thread = nut.thread_arm(thread_friction.value);
  const double under_nut = nut.bearing_arm(bearing_friction.value);
  const double arm = nut.arm(b * thread_friction.value, b * bearing_friction.value);
  const double clamp = std::max(0.0, torque.value - nut.prevailing_torque()) / arm;
  const double parts[] = {torque.deviation, clamp * b * nut.thread_arm(thread_friction.deviation),
                          clamp * b * nut.bearing_arm(bearing_friction.deviation),
                          clamp * (in_thread + under_nut) * breakaway.deviation};
  double sum = 0;
  for (const double part : parts) {
    sum += part * part;
  }
  return {clamp, std::sqrt(sum) / arm};
}

} // namespace clampfade

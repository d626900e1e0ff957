#include "models/stud.hpp"

#include <algorithm>

namespace clampfade {

Stud::Stud(const Thread& thread, const Material& material, const PropertyClass& strength, double grip, double shank)
    : thread_(thread), material_(material), strength_(strength), grip_(grip), free_thread_(grip - shank) {
  const double d = thread.diameter;
  const double nominal = thread.nominal_area();
  const double minor = thread.minor_area();
  length_over_area_ = (0.5 * d + shank + 0.4 * d) / nominal + (free_thread_ + 0.5 * d) / minor;
}

double Stud::hardening(double temperature) const {
  return 0.02 / 0.98 * material_.youngs(temperature) * thread_.stress_area() / free_thread_;
}

double Stud::yield_force(double before, double temperature, double torsion_factor) const {
  return (strength_.yield(temperature) * thread_.stress_area() + hardening(temperature) * before) / torsion_factor;
}

StudStretch Stud::stretch(double force, double before, double temperature, double torsion_factor) const {
  const double excess = force - yield_force(before, temperature, torsion_factor);
  if (excess <= 0 || free_thread_ <= 0) {
    return {before, 0};
  }
  const double slope = torsion_factor / hardening(temperature);
  return {before + excess * slope, slope};
}

double Stud::second_moment() const {
  const double d3 = thread_.minor_diameter();
  return kPi * d3 * d3 * d3 * d3 / 64;
}

} // namespace clampfade

#include "models/ring_coupling.hpp"

#include "models/constants.hpp"

#include <cmath>

namespace clampfade {

double stud_pitch(double bolt_circle, std::size_t studs) {
  return bolt_circle * std::sin(kPi / static_cast<double>(studs));
}

double ring_stiffness(const Material& material, double temperature, double thickness, double width, double pitch,
                      double factor) {
  const double second_moment = width * thickness * thickness * thickness / 12;
  const double bending = pitch * pitch * pitch / (12 * material.youngs(temperature) * second_moment);
  const double shear = pitch / (5.0 / 6.0 * material.shear_modulus(temperature) * width * thickness);
  return factor / (bending + shear);
}

} // namespace clampfade

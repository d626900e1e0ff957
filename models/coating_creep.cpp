#include "models/coating_creep.hpp"

#include <cmath>

namespace clampfade {

namespace {

std::vector<SettlingLaw::Mode> spectrum(const Coating& c) {
  const std::size_t n = c.relaxation.modes;
  std::vector<SettlingLaw::Mode> modes;
  const double low = std::log(c.relaxation.shortest);
  const double high = std::log(c.relaxation.longest);
  for (std::size_t m = 0; m < n; ++m) {
    const double at = n > 1 ? static_cast<double>(m) / static_cast<double>(n - 1) : 0;
    modes.push_back({1 / static_cast<double>(n), std::exp(-(low + (high - low) * at)), 1 / c.turns});
  }
  return modes;
}

} // namespace

CoatingCreepLaw::CoatingCreepLaw(const Coating& coating, double thickness, double area)
    : SettlingLaw(Mechanism::CoatingCreep, spectrum(coating)), coating_(coating), thickness_(thickness),
      half_force_(coating.half_pressure * area) {}

double CoatingCreepLaw::speed(double temperature) const { return std::pow(10, -coating_.log10_shift(temperature)); }

SettlingLaw::Target CoatingCreepLaw::target(double force, double compactable) const {
  if (force <= 0) {
    return {0, 0};
  }
  const double sum = force + half_force_;
  return {thickness_ * compactable * force / sum, thickness_ * compactable * half_force_ / (sum * sum)};
}

} // namespace clampfade

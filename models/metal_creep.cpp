#include "models/metal_creep.hpp"

#include "models/constants.hpp"
#include "models/implicit_weight.hpp"

#include <cmath>

namespace clampfade {

std::span<const Field<MetalCreep>> MetalCreep::fields() {
  static constexpr std::array<Field<MetalCreep>, 3> kFields = {{
      {{"coefficient",
        "1/s",
        Quantity::Dimensional,
        {0, 1e30},
        {0, 1e6},
        "A, strain rate at 1 MPa without the Arrhenius factor"},
       &MetalCreep::coefficient,
       std::nullopt},
      {{"exponent", "1", Quantity::Number, {1, 20}, {3, 8}, "n, stress exponent"}, &MetalCreep::exponent, std::nullopt},
      {{"activation", "J/mol", Quantity::Dimensional, {0, 1e6}, {8e4, 4e5}, "Q, activation energy"},
       &MetalCreep::activation,
       std::nullopt},
  }};
  return kFields;
}

double MetalCreep::strain_rate(double stress, double temperature) const {
  return stress > 0
             ? coefficient * std::pow(stress / 1e6, exponent) * std::exp(-activation / (kGasConstant * temperature))
             : 0;
}

MetalCreepLaw::MetalCreepLaw(MetalCreep creep, double length, double area)
    : creep_(creep), length_(length), area_(area) {}

double MetalCreepLaw::rate_at_1n(double temperature) const {
  return length_ * creep_.strain_rate(1 / area_, temperature);
}

void MetalCreepLaw::rate(std::span<const double>, double force, double temperature, double,
                         std::span<double> dz) const {
  dz[0] = length_ * creep_.strain_rate(force / area_, temperature);
}

void MetalCreepLaw::prepare(const LawStep& step, std::span<const double>, double force, std::span<double> work) const {
  const double start = rate_at_1n(step.temperature_start);
  const double end = rate_at_1n(step.temperature_end);
  const double mean = (start + 4 * rate_at_1n(step.temperature_middle) + end) / 6;
  const double f = std::max(force, 0.0);
  const double power = std::pow(f, creep_.exponent);
  work[0] = step.duration * mean;
  work[1] = power;
  // How stiff this law is against the column over the step decides how much the end counts.
  work[2] = implicit_weight(f > 0 ? step.stiffness * work[0] * creep_.exponent * power / f : 0);
}

LawLoss MetalCreepLaw::finish(const LawStep&, std::span<const double> z0, double, double force1,
                              std::span<const double> work, std::span<double> z1) const {
  const double f = std::max(force1, 0.0);
  const double power = std::pow(f, creep_.exponent);
  const double w = work[2];
  z1[0] = z0[0] + work[0] * ((1 - w) * work[1] + w * power);
  return {z1[0], f > 0 ? work[0] * w * creep_.exponent * power / f : 0,
          work[0] * std::abs(power - work[1]) * (0.05 + std::abs(w - 0.5))};
}

void MetalCreepLaw::add_losses(std::span<const double> z, ByMechanism& losses) const {
  losses[index(Mechanism::MetalCreep)] += z[0];
}

} // namespace clampfade

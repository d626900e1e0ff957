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

MetalCreepLaw::MetalCreepLaw(const MetalCreep& creep, double length, double area)
    : creep_(creep), length_(length), area_(area) {}

double MetalCreepLaw::rate_at_1n(double temperature) const {
  return length_ * creep_.strain_rate(1 / area_, temperature);
}

void MetalCreepLaw::rate(std::span<const double>, double force, double temperature, double,
                         std::span<double> dz) const {
  dz[0] = length_ * creep_.strain_rate(force / area_, temperature);
}

void MetalCreepLaw::share(const LawStep& step, std::span<double> shared) const {
  shared[0] = step.duration *
              (rate_at_1n(step.temperature_start) + 4 * rate_at_1n(step.temperature_middle) +
               rate_at_1n(step.temperature_end)) /
              6;
}

void MetalCreepLaw::prepare(const LawStep& step, std::span<const double> shared, std::span<const double>, double force0,
                            std::span<double> work) const {
  const double f = std::max(force0, 0.0);
  work[0] = std::pow(f, creep_.exponent);
  // How stiff this law is against the column over the step decides how much the end counts.
  work[1] = implicit_weight(f > 0 ? step.stiffness * shared[0] * creep_.exponent * work[0] / f : 0);
}

LawLoss MetalCreepLaw::trial(const LawStep&, std::span<const double> shared, std::span<const double> z0, double,
                             double force1, std::span<const double> work) const {
  const double f = std::max(force1, 0.0);
  const double power = std::pow(f, creep_.exponent);
  const double w = work[1];
  return {z0[0] + shared[0] * ((1 - w) * work[0] + w * power), f > 0 ? shared[0] * w * creep_.exponent * power / f : 0,
          shared[0] * std::abs(power - work[0]) * (0.05 + std::abs(w - 0.5))};
}

LawLoss MetalCreepLaw::finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                              double force0, double force1, std::span<const double> work, std::span<double> z1) const {
  const LawLoss answer = trial(step, shared, z0, force0, force1, work);
  z1[0] = answer.loss;
  return answer;
}

void MetalCreepLaw::add_losses(std::span<const double> z, ByMechanism& losses) const {
  losses[index(Mechanism::MetalCreep)] += z[0];
}

} // namespace clampfade

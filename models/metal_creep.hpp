// Power-law (Norton) creep of a part or of the stud's free thread: rate = A (s/1 MPa)^n exp(-Q/RT).
// EQUATIONS.md 8.
#pragma once

#include "models/law.hpp"

#include <span>

namespace clampfade {

struct MetalCreep {
  double coefficient = 0; ///< A [1/s] at 1 MPa and infinite temperature
  double exponent = 1;    ///< n [-]
  double activation = 0;  ///< Q [J/mol]

  static std::span<const Field<MetalCreep>> fields();
  /// Strain rate [1/s] at stress [Pa] and temperature [K]; zero where nothing loads it (stress <= 0).
  [[nodiscard]] double strain_rate(double stress, double temperature) const;
};

/// A length that creeps under the column's force: loss rate = L A (F/(area 1 MPa))^n exp(-Q/RT).
class MetalCreepLaw final : public LossLaw {
public:
  /// length [m] > 0, area [m^2] > 0.
  MetalCreepLaw(const MetalCreep& creep, double length, double area);

  [[nodiscard]] std::size_t states() const override { return 1; }
  [[nodiscard]] std::size_t shared() const override { return 1; }
  [[nodiscard]] std::size_t scratch() const override { return 2; }
  void start(std::span<double> z) const override { z[0] = 0; }
  void rate(std::span<const double> z, double force, double temperature, double cycle_rate,
            std::span<double> dz) const override;
  void share(const LawStep& step, std::span<double> shared) const override;
  void prepare(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double force0,
               std::span<double> work) const override;
  [[nodiscard]] LawLoss trial(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                              double force0, double force1, std::span<const double> work) const override;
  LawLoss finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double force0,
                 double force1, std::span<const double> work, std::span<double> z1) const override;
  void add_losses(std::span<const double> z, ByMechanism& losses) const override;
  [[nodiscard]] double loss(std::span<const double> z) const override { return z[0]; }

private:
  [[nodiscard]] double rate_at_1n(double temperature) const; ///< loss rate [m/s] at 1 N
  MetalCreep creep_;
  double length_;
  double area_;
};

} // namespace clampfade

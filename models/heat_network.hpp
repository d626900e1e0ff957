// Lumped heat: capacities, links, still and moving air, radiation. EQUATIONS.md 11.
#pragma once

#include "models/law.hpp"

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace clampfade {

struct HeatNode {
  std::string name;
  double capacity = 0; ///< [J/K]
  double still = 0;    ///< conductance to still air [W/K]
  double moving = 0;   ///< added conductance at 1 m/s [W/K]; grows with v^0.8
  [[nodiscard]] bool operator==(const HeatNode&) const = default;
  static std::span<const Field<HeatNode>> fields();
};

struct HeatLink {
  std::size_t from = 0, to = 0;
  double conductance = 0; ///< [W/K]
  [[nodiscard]] bool operator==(const HeatLink&) const = default;
};

/// Thermal radiation between two nodes, or to the surroundings where `to` equals kAmbient.
struct HeatRadiation {
  static constexpr std::size_t kAmbient = static_cast<std::size_t>(-1);
  std::size_t from = 0, to = kAmbient;
  double emissivity_area = 0; ///< emissivity times area [m^2]
  [[nodiscard]] bool operator==(const HeatRadiation&) const = default;
};

/// A network of lumps. Fixed during a run; `rate` is pure.
struct HeatNetwork {
  std::string name;
  std::vector<HeatNode> nodes;
  std::vector<HeatLink> links;
  std::vector<HeatRadiation> radiation;
  std::size_t brake = 0; ///< node that takes the brakes' heat
  [[nodiscard]] bool operator==(const HeatNetwork&) const = default;

  /// v^0.8 with v in m/s, the growth of forced convection that the network assumes.
  static double air_factor(double speed);
  /// dT/dt [K/s] at temperatures T [K], ambient [K], air_factor(speed) and brake heat [W].
  void rate(std::span<const double> temperature, double ambient, double air, double brake_heat,
            std::span<double> derivative) const;
  /// What a node at a temperature [K] loses more for each kelvin above it [W/K]: to still air, by links and radiation.
  [[nodiscard]] double outflow(std::size_t node, double temperature) const;
  /// Temperatures [K] at which all rates vanish under constant conditions (Newton on the radiation terms).
  [[nodiscard]] std::vector<double> steady(double ambient, double air, double brake_heat) const;
};

} // namespace clampfade

// Metric thread geometry and the areas that follow from it. EQUATIONS.md 2.
#pragma once

#include "models/constants.hpp"
#include "models/law.hpp"

#include <span>
#include <string>

namespace clampfade {

/// A 60 degree thread (ISO 68-1, and the inch series of ASME B1.1 by its pitch).
struct Thread {
  std::string name;
  double diameter = 0; ///< nominal d [m]
  double pitch = 0;    ///< P [m]

  static std::span<const Field<Thread>> fields();
  [[nodiscard]] double pitch_diameter() const { return diameter - 0.649519 * pitch; } ///< d2, ISO 724 [m]
  [[nodiscard]] double minor_diameter() const { return diameter - 1.226869 * pitch; } ///< d3, ISO 898-1 [m]
  [[nodiscard]] double stress_diameter() const { return (pitch_diameter() + minor_diameter()) / 2; }   ///< d0 [m]
  [[nodiscard]] double stress_area() const { return kPi / 4 * stress_diameter() * stress_diameter(); } ///< As [m^2]
  [[nodiscard]] double minor_area() const { return kPi / 4 * minor_diameter() * minor_diameter(); }    ///< A_d3 [m^2]
  [[nodiscard]] double nominal_area() const { return kPi / 4 * diameter * diameter; }                  ///< A_N [m^2]
};

} // namespace clampfade

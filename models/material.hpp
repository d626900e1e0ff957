#pragma once

#include "models/law.hpp"
#include "models/metal_creep.hpp"

#include <optional>
#include <span>
#include <string>

namespace clampfade {

/// An elastic material of a part, stud or washer. EQUATIONS.md 3; the modulus follows temperature.
struct Material {
  std::string name;
  Table youngs;              ///< Young's modulus [Pa] against temperature [K]
  double poisson = 0.3;      ///< [-]
  double expansion = 0;      ///< mean linear expansion from the tightening temperature [1/K]
  double pressure_limit = 0; ///< largest pressure under a nut's seat [Pa]; 0 where none is known
  std::optional<MetalCreep> creep;

  static std::span<const Field<Material>> fields();
  [[nodiscard]] double shear_modulus(double temperature) const { return youngs(temperature) / (2 * (1 + poisson)); }
};

/// A property class of stud: strengths against temperature.
struct PropertyClass {
  std::string name;
  double proof = 0;   ///< proof stress [Pa]
  Table yield;        ///< 0.2 % yield Rp0.2 [Pa] against temperature [K]
  double tensile = 0; ///< tensile strength [Pa]

  static std::span<const Field<PropertyClass>> fields();
};

} // namespace clampfade

#include "models/material.hpp"

namespace clampfade {

std::span<const Field<Material>> Material::fields() {
  static const Field<Material> list[] = {
      {{"youngs",
        "Pa",
        Quantity::Dimensional,
        {1e6, 2e12}, // diamond has 1.2 TPa (memory)
        {40e9, 250e9},
        "Young's modulus, one value or against temperature",
        "GPa"},
       &Material::youngs,
       {}},
      {{"poisson", "1", Quantity::Number, {0, 0.499}, {0.2, 0.4}, "Poisson's ratio"}, &Material::poisson, {}},
      {{"expansion",
        "1/K",
        Quantity::Dimensional,
        {0, 1e-3},
        {5e-6, 30e-6},
        "mean linear thermal expansion from the tightening temperature"},
       &Material::expansion,
       {}},
      {{"pressure_limit",
        "Pa",
        Quantity::Dimensional,
        {0, 1e11},
        {},
        "largest pressure under a nut's seat, 0 where none is known"},
       &Material::pressure_limit,
       0.0},
  };
  return list;
}

std::span<const Field<PropertyClass>> PropertyClass::fields() {
  static const Field<PropertyClass> list[] = {
      {{"proof", "Pa", Quantity::Dimensional, {1e6, 1e10}, {200e6, 1200e6}, "proof stress"}, &PropertyClass::proof, {}},
      {{"yield",
        "Pa",
        Quantity::Dimensional,
        {1e6, 1e10},
        {200e6, 1300e6},
        "0.2 % yield strength Rp0.2, one value or against temperature"},
       &PropertyClass::yield,
       {}},
      {{"tensile", "Pa", Quantity::Dimensional, {1e6, 1e10}, {300e6, 1500e6}, "tensile strength"},
       &PropertyClass::tensile,
       {}},
  };
  return list;
}

} // namespace clampfade

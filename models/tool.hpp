// How much the clamp load scatters that a tightening tool gives.
#pragma once

#include "models/law.hpp"

#include <span>
#include <string>

namespace clampfade {

/// A tool by its tightening factor alpha_A = F_max/F_min = (1 + x)/(1 - x) [vdi-2230-1], where x is the relative
/// deviation of the clamp load from its mean.
struct Tool {
  std::string name;
  double tightening_factor = 1; ///< alpha_A [-]
  double deviations = 2;        ///< standard deviations from the mean to F_min and to F_max [-]

  /// Relative standard deviation of the clamp load at one torque setting [-]: x = (alpha_A - 1)/(alpha_A + 1) over the
  /// number of standard deviations.
  [[nodiscard]] double relative_deviation() const {
    return (tightening_factor - 1) / (tightening_factor + 1) / deviations;
  }
  static std::span<const Field<Tool>> fields();
};

} // namespace clampfade

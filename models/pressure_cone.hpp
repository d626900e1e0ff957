// The cone of pressure through a clamped stack. EQUATIONS.md 3.
#pragma once

#include <span>
#include <vector>

namespace clampfade {

/// tan(phi) of VDI 2230-1 for a through-bolted joint: 0.362 + 0.032 ln(beta/2) + 0.153 ln y, beta = length/diameter of
/// the bearing faces (mean), y = pad/diameter. All lengths in one unit, > 0.
double cone_tangent(double length, double bearing_diameter, double pad_diameter);

/// A solid slice of the stack, head side first. Diameters and thickness in m.
struct ConeSlice {
  double thickness = 0, hole = 0, pad = 0;
};

/// Pressure spreads from both bearing faces until the cones meet, clipped at each slice's pad.
class PressureCone {
public:
  /// Bearing diameters at head and nut [m], tan(phi) > 0.
  PressureCone(std::vector<ConeSlice> slices, double head_diameter, double nut_diameter, double tangent);

  /// Outer diameter of the pressed material at height z from the head's face, before any clip at a pad [m].
  [[nodiscard]] double diameter(double z) const;
  /// Compliance of slice m times its Young's modulus, the integral of dz/area [1/m].
  [[nodiscard]] double length_over_area(std::size_t m) const;
  /// Height of the head-side face of slice m above the head's face [m]; m = slices().size() gives the whole length.
  [[nodiscard]] double height(std::size_t m) const { return heights_[m]; }
  [[nodiscard]] const std::vector<ConeSlice>& slices() const { return slices_; }
  [[nodiscard]] double tangent() const { return tangent_; } ///< tan(phi) [-]

private:
  std::vector<ConeSlice> slices_;
  std::vector<double> heights_;
  double head_, nut_, tangent_;
};

} // namespace clampfade

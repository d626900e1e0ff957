// Fretting wear of the faces. EQUATIONS.md 9 (Archard's form on the slip that friction work implies).
#pragma once

#include <algorithm>

namespace clampfade {

/// Depth worn per wheel turn at a clamp zone [m]: k_w p 4 max(0, s - 2/3 c_t f), p [Pa], s displacement [m], f the
/// zone's force [N], c_t [m/N]; partial slip of Mindlin's contact.
inline double zone_wear(double coefficient, double pressure, double s, double force, double compliance) {
  return coefficient * pressure * 4 * std::max(0.0, s - 2.0 / 3.0 * compliance * force);
}

/// Depth worn per wheel turn under the nut [m]: k_w p 4 s_n.
inline double nut_wear(double coefficient, double pressure, double slide) { return coefficient * pressure * 4 * slide; }

} // namespace clampfade

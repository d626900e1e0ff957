#pragma once

namespace clampfade {

/// Endurance amplitude of rolled threads, 0.85 (150/d + 45) MPa with d in mm (VDI 2230-1, rolled before heat treatment,
/// 2e6 cycles) [Pa]; d [m], about 8 to 40 mm.
constexpr double fatigue_limit(double diameter) { return 0.85 * (0.150 / diameter + 45) * 1e6; }

} // namespace clampfade

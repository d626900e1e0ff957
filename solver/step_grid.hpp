// Lengths of steps on a grid, so that a last bit of an error estimate does not move a run.
#pragma once

#include <cmath>

namespace clampfade {

/// The longest length of step not above h > 0 [s] among sixteen in each octave (h itself where it is one of them; 0 and
/// what is not finite unchanged).
///
/// An error estimate is a small difference of large numbers: exp and pow that round one last bit otherwise move it by
/// 1e-9, and where stability bounds an explicit method each step makes more of that, until a temperature is off by as
/// much as a step may be wrong. Rounded here, a length is the same on every processor but for about one in 1e8, at the
/// price of steps some 2 % shorter.
inline double on_step_grid(double h) {
  int octave = 0;
  const double part = std::frexp(h, &octave); // 0.5 to 1
  return std::isfinite(h) ? std::ldexp(std::floor(part * 32) / 32, octave) : h;
}

} // namespace clampfade

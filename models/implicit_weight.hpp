#pragma once

#include <cmath>

namespace clampfade {

/// Weight of the end of a step in the mean of a rate that feeds back on itself with Z = step times rate constant >= 0:
/// 1/(1 - exp(-Z)) - 1/Z, which makes the step exact for a linear decay (exponential fitting; Liniger and Willoughby
/// 1970) and so L-stable: 1/2 for short steps, 1 for long ones.
inline double implicit_weight(double z) { return z < 1e-3 ? 0.5 + z / 12 : 1 / -std::expm1(-z) - 1 / z; }

} // namespace clampfade

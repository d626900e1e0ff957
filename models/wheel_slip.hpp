// Side slip of a whole wheel: every interface under its share of the road's load. EQUATIONS.md 9.
#pragma once

#include "models/joint.hpp"
#include "models/loads.hpp"

#include <span>
#include <vector>

namespace clampfade {

/// Slip of the wheel at some clamp.
struct WheelSlip {
  std::vector<double> displacement; ///< s_i of every interface [m]
  double joint = 0;                 ///< s_joint = min(sum s_i, max(c/2, sum of gross slip)) [m]
  double margin = 0;                ///< least mu sum F/Q over carrying interfaces; infinite if nothing is carried
  std::vector<double> limits;       ///< scratch: mu F of every column [N]
};

/// forces: of every column's segments, column by column [N]; counts: studs that each column stands for.
void wheel_slip(const Joint& joint, const WheelLoad& load, std::span<const double> forces,
                std::span<const double> counts, WheelSlip& out);

} // namespace clampfade

// The clamp a wheel needs: the least that holds the worst design case. EQUATIONS.md 10.
#pragma once

#include "models/joint.hpp"
#include "models/loads.hpp"

#include <string>
#include <vector>

namespace clampfade {

/// A load that must be held, already worked out at this wheel end.
struct DesignLoad {
  std::string name;
  WheelLoad load;
};

struct CaseClamp {
  std::string name;
  double demand = 0;   ///< Q of a face that carries all [N]
  double for_slip = 0; ///< clamp per stud, all alike, that gives the slip margin [N]
  double for_gap = 0;  ///< clamp below which a stud's joint opens [N]
  [[nodiscard]] double required() const { return for_slip > for_gap ? for_slip : for_gap; }
};

/// Axial force amplitude [N] that reaches a clamp zone, (1 - Phi) F_A, at clamp `clamp` and the tightening temperature;
/// washers by their compressing curve.
double clamp_relief(const Joint& joint, double axial, double clamp);

/// One entry a case, in their order. Interfaces that carry nothing of a case do not count.
std::vector<CaseClamp> required_clamps(const Joint& joint, const std::vector<DesignLoad>& cases, double slip_margin);

} // namespace clampfade

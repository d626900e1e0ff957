#include "models/wheel_slip.hpp"

#include "models/slip.hpp"

#include <algorithm>
#include <limits>

namespace clampfade {

void wheel_slip(const Joint& joint, const WheelLoad& load, std::span<const double> forces,
                std::span<const double> counts, WheelSlip& out) {
  const auto& faces = joint.interfaces();
  const std::size_t segments = joint.segments();
  out.displacement.assign(faces.size(), 0.0);
  out.limits.resize(counts.size());
  out.margin = std::numeric_limits<double>::infinity();
  double sum = 0;
  double gross = 0;
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const double demand = transverse_demand(faces[i].carries, load);
    if (demand <= 0) {
      continue;
    }
    for (std::size_t c = 0; c < counts.size(); ++c) {
      out.limits[c] = faces[i].friction * std::max(0.0, forces[c * segments + faces[i].segment]);
    }
    const SlipAnswer answer = slip(demand, out.limits, counts, faces[i].tangential_compliance, joint.clearance());
    out.displacement[i] = answer.displacement;
    out.margin = std::min(out.margin, 1 / answer.demand_ratio);
    sum += answer.displacement;
    gross += answer.gross;
  }
  out.joint = std::min(sum, std::max(joint.clearance() / 2, gross));
}

} // namespace clampfade

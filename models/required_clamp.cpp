#include "models/required_clamp.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

double clamp_relief(const Joint& joint, double axial, double clamp) {
  const std::vector<double> places(joint.stud_place() + 1, joint.tightening_temperature());
  const double washers = joint.washers() ? joint.washers()->compress(clamp).slope : 0;
  return (1 - joint.load_factor(places, washers)) * axial;
}

std::vector<CaseClamp> required_clamps(const Joint& joint, const std::vector<DesignLoad>& cases, double slip_margin) {
  const double studs = static_cast<double>(joint.spec().studs.count);
  std::vector<CaseClamp> answers;
  for (const DesignLoad& c : cases) {
    CaseClamp a{c.name, c.load.demand(), 0, 0};
    for (const Interface& f : joint.interfaces()) {
      const double demand = transverse_demand(f.carries, c.load);
      if (demand > 0) {
        a.for_slip = std::max(a.for_slip, slip_margin * demand / (studs * f.friction));
      }
    }
    const double axial = axial_amplitude(c.load.moment, studs, joint.spec().studs.bolt_circle);
    a.for_gap = axial; // the load factor depends on the clamp where there are washers: a fixed point, weakly
    for (int i = 0; i < 100; ++i) {
      const double next = clamp_relief(joint, axial, a.for_gap);
      const bool done = std::abs(next - a.for_gap) <= 1e-12 * std::max(axial, 1.0);
      a.for_gap = next;
      if (done) {
        break;
      }
    }
    answers.push_back(a);
  }
  return answers;
}

} // namespace clampfade

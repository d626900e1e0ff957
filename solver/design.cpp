#include "solver/design.hpp"

#include "solver/duty.hpp"

#include <algorithm>

namespace clampfade {

Requirement requirement(const Scenario& scenario, const Joint& joint) {
  Requirement r;
  const VehicleSpec& v = scenario.vehicle;
  std::vector<DesignLoad> loads;
  for (const DesignCase& c : scenario.design_cases) {
    // All of the braking on the service brakes.
    const double brake = v.mass * c.deceleration.value_or(0) / static_cast<double>(v.wheel_ends);
    r.brake_forces.push_back(brake);
    loads.push_back(
        {c.name, wheel_load(v, scenario.joint.studs.bolt_circle, v.mass, c.lateral_share.value_or(v.lateral_share),
                            c.dynamic_factor.value_or(v.dynamic_factor), brake, 0)});
  }
  r.cases = required_clamps(joint, loads, scenario.required_slip_margin);
  for (const CaseClamp& c : r.cases) {
    if (c.required() > r.clamp) {
      r.clamp = c.required();
      r.decided_by = c.name;
    }
  }
  if (scenario.required_clamp) {
    r.clamp = *scenario.required_clamp;
    r.decided_by = "required_clamp of the scenario";
  }
  return r;
}

std::vector<std::string> node_names(const HeatNetwork& network) {
  std::vector<std::string> names;
  for (const HeatNode& n : network.nodes) {
    names.push_back(n.name);
  }
  return names;
}

} // namespace clampfade

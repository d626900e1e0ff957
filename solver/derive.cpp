// Everything that can be said of a wheel joint before time runs: the figures of `check` and of the history's /joint.
#include "models/fatigue.hpp"
#include "models/loosening.hpp"
#include "models/ring_coupling.hpp"
#include "models/slip.hpp"
#include "models/units.hpp"
#include "solver/design.hpp"
#include "solver/duty.hpp"
#include "solver/simulation.hpp"
#include "solver/wheel.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

/// Collects figures with one line each.
class Figures {
public:
  void number(const char* name, const char* unit, const char* meaning, double value) {
    list.push_back({name, unit, meaning, {value}, {}, {}});
  }
  void array(const char* name, const char* unit, const char* meaning, std::vector<double> values,
             std::vector<std::string> labels) {
    list.push_back({name, unit, meaning, std::move(values), std::move(labels), {}});
  }
  void text(const char* name, const char* meaning, std::string value) {
    list.push_back({name, "", meaning, {}, {}, {std::move(value)}});
  }
  std::vector<Figure> list;
};

double mean_brake_power(const std::vector<Span>& day, double& speed, double& moving_time) {
  double heat = 0;
  double distance = 0;
  moving_time = 0;
  double first = -1;
  double last = 0;
  for (const Span& s : day) {
    if (s.parked) {
      continue;
    }
    first = first < 0 ? s.start : first;
    last = s.start + s.duration;
    heat += s.brake_heat * s.duration;
    distance += s.distance();
  }
  moving_time = first < 0 ? 0 : last - first;
  speed = moving_time > 0 ? distance / moving_time : 0;
  return moving_time > 0 ? heat / moving_time : 0;
}

} // namespace

std::vector<Figure> derive(const Scenario& scenario) {
  const std::vector<std::string> nodes = node_names(scenario.heat);
  const double cold = scenario.tightening.temperature;
  const Joint joint(scenario.joint, nodes, cold);
  const JointSpec& spec = joint.spec();
  const Thread& thread = spec.studs.thread;
  const TighteningSpec& wrench = scenario.tightening;
  const std::vector<double> places(joint.stud_place() + 1, cold);
  Figures f;

  f.number("thread/d2", "m", "pitch diameter d2", thread.pitch_diameter());
  f.number("thread/d3", "m", "minor diameter d3", thread.minor_diameter());
  f.number("thread/stress_area", "m2", "tensile stress area As", thread.stress_area());
  f.number("thread/proof_load", "N", "proof load, proof stress times stress area",
           spec.studs.property_class.proof * thread.stress_area());
  f.number("thread/yield_load", "N", "load at 0.2 % yield without torsion, at the tightening temperature",
           joint.stud().yield_force(0, cold, 1));

  std::vector<std::string> studs;
  std::vector<double> torques;
  std::vector<double> clamps;
  for (std::size_t k = 0; k < spec.studs.count; ++k) {
    studs.push_back(std::to_string(k + 1));
    torques.push_back(wrench.torque[k]);
    clamps.push_back(joint.nut().clamp(wrench.torque[k], wrench.thread_friction[k], wrench.bearing_friction[k]));
  }
  // The figures below are those of the stud with the largest clamp, which is every stud where all are tightened alike.
  const auto hardest = static_cast<std::size_t>(std::max_element(clamps.begin(), clamps.end()) - clamps.begin());
  const double clamp = clamps[hardest];
  const double mu_t = wrench.thread_friction[hardest];
  const double mu_b = wrench.bearing_friction[hardest];
  const TorqueSplit split = joint.nut().split(clamp, mu_t, mu_b);
  const StudStress stress = joint.nut().stress(clamp, mu_t, mu_b);
  const double yield = spec.studs.property_class.yield(cold);
  const double torsion = joint.nut().torsion_factor(clamp, mu_t, mu_b);
  f.number("torque/torque", "N m", "tightening torque", torques[hardest]);
  f.number("torque/clamp", "N", "clamp load at the tightening torque", clamp);
  if (std::any_of(torques.begin(), torques.end(), [&](double t) { return t != torques[0]; }) ||
      std::any_of(clamps.begin(), clamps.end(), [&](double c) { return c != clamps[0]; })) {
    f.array("torque/torque_by_stud", "N m", "tightening torque of each stud", torques, studs);
    f.array("torque/clamp_by_stud", "N", "clamp load of each stud at its torque", clamps, studs);
  }
  f.number("torque/k_factor", "1", "torque over clamp times nominal diameter",
           torques[hardest] / (clamp * thread.diameter));
  f.array("torque/torque_split", "N m", "where the tightening torque goes",
          {split.pitch, split.thread, split.bearing, split.prevailing},
          {"stretch", "thread friction", "bearing friction", "prevailing"});
  f.number("torque/check_torque", "N m", "torque that starts the nut turning at the clamp of the tightening torque",
           joint.nut().torque_to_move(clamp, mu_t, mu_b, wrench.breakaway(0)));
  f.number("torque/bearing_diameter", "m", "mean diameter of the ring on which the nut slides",
           joint.nut().bearing_diameter());
  f.number("torque/axial_stress", "Pa", "axial stress of the stud at tightening", stress.axial);
  f.number("torque/torsion_stress", "Pa", "torsional stress of the stud at tightening, fully plastic section",
           stress.torsion);
  f.number("torque/utilisation", "1", "equivalent stress over yield while tightening", stress.equivalent(1) / yield);
  f.number("torque/utilisation_after", "1", "equivalent stress over yield once the wrench is off",
           stress.equivalent(0.5) / yield);
  f.number("torque/yield_stretch", "m", "permanent stretch taken up while tightening",
           joint.stud().stretch(clamp, 0, cold, torsion).plastic);

  f.number("grip_length", "m", "grip length", joint.grip());
  f.number("stiffness/stud_resilience", "m/N", "elastic resilience of the stud", joint.stud().compliance(cold));
  std::vector<double> part_compliances;
  std::vector<double> part_areas;
  std::vector<std::string> part_names;
  double clamped = 0;
  for (std::size_t m = 0; m < joint.parts().size(); ++m) {
    part_names.push_back(joint.parts()[m].name);
    part_compliances.push_back(joint.parts()[m].shape / spec.stack[m].material.youngs(cold));
    part_areas.push_back(joint.parts()[m].area);
    clamped += part_compliances.back();
  }
  f.array("stiffness/part_resilience", "m/N", "elastic resilience of each part", part_compliances, part_names);
  f.array("stiffness/part_area", "m2", "effective area of each part", part_areas, part_names);
  std::vector<std::string> faces;
  std::vector<double> compliances, areas, diameters, widths, embeddings, radial, brake, traction;
  for (std::size_t i = 0; i < joint.interfaces().size(); ++i) {
    const Interface& face = joint.interfaces()[i];
    faces.push_back(face.name);
    compliances.push_back(face.compliance);
    areas.push_back(face.area);
    diameters.push_back(joint.cone().diameter(joint.cone().height(i)));
    widths.push_back(face.width);
    embeddings.push_back(face.embedding);
    radial.push_back(face.carries.radial);
    brake.push_back(face.carries.brake);
    traction.push_back(face.carries.traction);
    clamped += face.compliance;
  }
  f.array("stiffness/interface_resilience", "m/N", "elastic resilience of paint and contact at each interface",
          compliances, faces);
  const double washer_slope = joint.washers() ? joint.washers()->compress(clamp).slope : 0;
  f.number("stiffness/total_resilience_without_washers", "m/N", "resilience of stud, parts and paint in series",
           joint.stud().compliance(cold) + clamped);
  f.number("stiffness/total_resilience", "m/N", "resilience of the column, washers at their tangent included",
           joint.stud().compliance(cold) + clamped + washer_slope);
  f.number("stiffness/clamp_per_thickness", "N/m", "clamp lost for each metre of thickness lost",
           1 / (joint.stud().compliance(cold) + clamped + washer_slope));
  f.number("stiffness/load_factor", "1", "share of an axial load that reaches the stud",
           joint.load_factor(places, washer_slope));
  f.number("stiffness/stud_stretch", "1",
           "elastic stretch of the free stud for each unit of length at the tightening clamp",
           clamp / (spec.studs.material.youngs(cold) * thread.minor_area()));
  f.number("cone/tangent", "1", "tangent of the cone's half-angle", joint.cone().tangent());
  f.array("cone/diameter", "m", "outline of the pressure cone at each interface", diameters, faces);
  f.array("cone/contact_area", "m2", "contact area at each interface", areas, faces);
  f.array("cone/contact_width", "m", "radial width of the contact ring at each interface", widths, faces);
  f.array("embedding/interfaces", "m", "embedding at each interface after allowing for paint", embeddings, faces);
  f.number("embedding/thread", "m", "embedding in the thread", spec.thread_embedding);
  f.array("carries/radial", "1", "share of the radial load that crosses each interface", radial, faces);
  f.array("carries/brake", "1", "share of the brake torque that crosses each interface", brake, faces);
  f.array("carries/traction", "1", "share of the traction torque that crosses each interface", traction, faces);
  f.number("clearance", "m", "clearance that side slip can use up", joint.clearance());

  if (joint.washers()) {
    const WasherStack& w = *joint.washers();
    const WasherAnswer at = w.compress(clamp);
    f.number("washers/height", "m", "free height of the stack of spring washers", joint.washer_height());
    f.number("washers/deflection", "m", "deflection of the stack under the tightening clamp", at.deflection);
    f.number("washers/flat_fraction", "1", "deflection over that of flat washers", at.deflection / w.flat());
    f.number("washers/tangent", "m/N", "resilience of the stack at the tightening clamp", at.slope);
    f.number("washers/stick", "m/N", "resilience of the stack while its cones stick", 1 / w.stick_stiffness());
    f.number("washers/k4", "1", "factor K4 of washers with bearing flats", w.washer().k4());
    f.number("washers/friction_bound", "1", "share of the clamp that friction between cones can cost",
             1 - w.opening_force(at.deflection) / w.compressing_force(at.deflection));
    const WasherStress s = w.washer().stress(at.deflection / static_cast<double>(spec.nut.spring_washers->series));
    f.array("washers/stress", "Pa", "stresses of one washer at the standard's points", {s.om, s.i, s.ii, s.iii},
            {"OM", "I", "II", "III"});
    std::vector<double> deflections, up, down, tangents;
    std::vector<std::string> shares;
    for (const char* share : {"0.25", "0.50", "0.75", "0.98", "0.99", "1.00", "1.01"}) {
      const double d = std::stod(share) * w.flat();
      shares.emplace_back(share);
      deflections.push_back(d);
      up.push_back(w.compressing_force(d));
      down.push_back(w.opening_force(d));
      tangents.push_back(w.compressing_tangent(d));
    }
    f.array("washers/curve_deflection", "m", "deflection at shares of the flat one", deflections, shares);
    f.array("washers/curve_compressing", "N", "force while compressing", up, shares);
    f.array("washers/curve_opening", "N", "force while opening", down, shares);
    f.array("washers/curve_tangent", "N/m", "tangent while compressing", tangents, shares);
  }
  if (joint.coupled()) {
    std::vector<double> ring;
    std::vector<std::string> names;
    for (const std::size_t m : joint.wheel_discs()) {
      const PartSpec& p = spec.stack[m];
      names.push_back(p.name);
      ring.push_back(ring_stiffness(p.material, cold, p.thickness, spec.ring.width.value_or(p.pad),
                                    stud_pitch(spec.studs.bolt_circle, spec.studs.count), spec.ring.factor));
    }
    f.array("stiffness/ring", "N/m", "stiffness of each disc between neighbouring studs", ring, names);
  }

  const Requirement need = requirement(scenario, joint);
  f.number("required_clamp", "N", "clamp per stud that the wheel needs", need.clamp);
  f.text("deciding_design_case", "design case that sets the required clamp", need.decided_by);
  std::vector<std::string> cases;
  std::vector<double> demand, for_slip, for_gap, required;
  for (const CaseClamp& c : need.cases) {
    cases.push_back(c.name);
    demand.push_back(c.demand);
    for_slip.push_back(c.for_slip);
    for_gap.push_back(c.for_gap);
    required.push_back(c.required());
  }
  f.array("design_cases/brake_force", "N", "brake force at this wheel end", need.brake_forces, cases);
  f.array("design_cases/demand", "N", "transverse demand at the bolt circle", demand, cases);
  f.array("design_cases/clamp_for_slip", "N", "clamp per stud that holds the slip margin", for_slip, cases);
  f.array("design_cases/clamp_for_gap", "N", "clamp per stud below which the joint opens", for_gap, cases);
  f.array("design_cases/required", "N", "clamp per stud that each design case needs", required, cases);
  f.number("required_slip_margin", "1", "slip margin that the design cases must keep", scenario.required_slip_margin);

  // Plain rolling at the tightened clamp.
  const WheelLoad rolling = plain_rolling(scenario);
  double margin = INFINITY;
  double joint_slip = 0;
  double gross = 0;
  std::vector<double> slips;
  const double n = static_cast<double>(spec.studs.count);
  double sum = 0;
  for (const double c : clamps) {
    sum += c;
  }
  const std::vector<double> counts(clamps.size(), 1.0);
  for (const Interface& face : joint.interfaces()) {
    const double q = transverse_demand(face.carries, rolling);
    std::vector<double> limits;
    for (const double c : clamps) {
      limits.push_back(face.friction * c);
    }
    const SlipAnswer s = slip(q, limits, counts, face.tangential_compliance, joint.clearance());
    slips.push_back(s.displacement);
    joint_slip += s.displacement;
    if (q > 0) {
      gross += s.gross;
      margin = std::min(margin, face.friction * sum / q);
    }
  }
  joint_slip = std::min(joint_slip, std::max(joint.clearance() / 2, gross));
  const double youngs = spec.studs.material.youngs(cold);
  const double threshold = nut_slip_threshold(mu_b, clamp, joint.grip(), youngs, joint.stud().second_moment());
  const double axial = axial_amplitude(rolling.moment, n, spec.studs.bolt_circle);
  f.number("slip_margin", "1", "slip margin in plain rolling as tightened", margin);
  f.array("slip/displacement", "m", "side slip at each interface in plain rolling", slips, faces);
  f.number("slip/joint", "m", "side slip of the wheel in plain rolling", joint_slip);
  f.number("slip/threshold", "m", "side slip that the stud takes by bending before its nut slides", threshold);
  f.number("slip/turn_per_slide", "rad/m", "turn of the nut for each metre that it slides",
           turn_per_slide(joint.nut(), clamp, mu_t, mu_b));
  f.number("fatigue/axial_force", "N", "axial force amplitude at the outermost stud in plain rolling", axial);
  f.number("fatigue/axial_amplitude", "Pa", "axial stress amplitude in plain rolling",
           joint.load_factor(places, washer_slope) * axial / thread.stress_area());
  f.number("fatigue/bending_amplitude", "Pa", "bending stress amplitude in plain rolling",
           bending_amplitude(std::min(joint_slip, threshold), joint.grip(), youngs, thread.minor_diameter()));
  f.number("fatigue_limit", "Pa", "endurance amplitude of rolled threads", fatigue_limit(thread.diameter));
  f.number("seat_pressure", "Pa", "pressure under the nut's seat as tightened", clamp / joint.seat_area());
  f.number("seat_pressure_limit", "Pa", "largest pressure the part under the nut bears",
           spec.stack.back().material.pressure_limit);

  double speed = 0;
  double moving = 0;
  const double power = mean_brake_power(working_day(scenario), speed, moving);
  const std::vector<double> steady =
      scenario.heat.steady(scenario.duty.ambient.mean, HeatNetwork::air_factor(speed), power);
  f.number("heat/mean_brake_power", "W", "brake heat at this wheel end, mean over the working part of the day", power);
  f.number("heat/mean_speed", "m/s", "mean speed over the working part of the day", speed);
  f.array("heat/steady_temperature", "K", "where the temperatures would settle at that power and speed", steady, nodes);
  return f.list;
}

RunHeader make_header(const Scenario& scenario) {
  RunHeader h;
  h.title = scenario.title;
  h.scenario_text = scenario.resolved_text;
  h.warnings = scenario.warnings;
  for (std::size_t k = 0; k < scenario.joint.studs.count; ++k) {
    h.studs.push_back(std::to_string(k + 1));
  }
  h.nodes = node_names(scenario.heat);
  const Joint joint(scenario.joint, h.nodes, scenario.tightening.temperature);
  if (scenario.record.layers) {
    for (const Layer& layer : joint.layers()) {
      h.layers.push_back(layer.name);
    }
  }
  h.joint = derive(scenario);
  for (const Provenance& p : scenario.provenance) {
    h.provenance.push_back({p.entry, p.key, p.value, p.source, p.provenance});
  }
  for (const TighteningRecord& r : scenario.records) {
    h.records.push_back({std::to_string(r.stud + 1), r.time, r.tool, r.operator_name, r.vehicle, r.axle, r.wheel});
  }
  h.end_time = static_cast<double>(days(scenario.duty.calendar)) * units::kDay;
  return h;
}

} // namespace clampfade

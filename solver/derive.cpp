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

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

/// Upper end of the friction between nested cones, DIN 2092 (memory).
constexpr double kNestedFriction = 0.03;

/// Share of the proof load below which a stud is hardly tightened; our choice, no source.
constexpr double kHandTight = 0.05;

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
  void texts(const char* name, const char* meaning, std::vector<std::string> values, std::vector<std::string> labels) {
    list.push_back({name, "", meaning, {}, std::move(labels), std::move(values)});
  }
  std::vector<Figure> list;
};

/// The working part of a day, from the first span driven to the end of the last: stops count, parks do not.
struct Work {
  double power = 0; ///< mean brake heat at this wheel end [W]
  double speed = 0; ///< mean [m/s]
};

Work mean_work(const std::vector<Span>& day) {
  double heat = 0;
  double distance = 0;
  double time = 0;
  for (const Span& s : day) {
    if (!s.parked) {
      heat += s.brake_heat * s.duration;
      distance += s.distance();
      time += s.duration;
    }
  }
  return time > 0 ? Work{heat / time, distance / time} : Work{};
}

/// Works the figures out group by group; each group is one function, in the order in which they are shown.
class Derivation {
public:
  explicit Derivation(const Scenario& scenario)
      : scenario_(scenario), cold_(scenario.tightening.temperature), nodes_(node_names(scenario.heat)),
        joint_(scenario.joint, nodes_, cold_), spec_(joint_.spec()), thread_(spec_.studs.thread),
        places_(joint_.stud_place() + 1, cold_) {
    const TighteningSpec& wrench = scenario.tightening;
    for (std::size_t k = 0; k < spec_.studs.count; ++k) {
      studs_.push_back(std::to_string(k + 1));
      torques_.push_back(wrench.torque[k]);
      clamps_.push_back(joint_.nut().clamp(wrench.torque[k], wrench.thread_friction[k], wrench.bearing_friction[k]));
    }
    // The figures of one stud are those of the one with the largest clamp: of every stud where all are tightened alike.
    hardest_ = static_cast<std::size_t>(std::max_element(clamps_.begin(), clamps_.end()) - clamps_.begin());
    clamp_ = clamps_[hardest_];
    mu_t_ = wrench.thread_friction[hardest_];
    mu_b_ = wrench.bearing_friction[hardest_];
    washer_slope_ = joint_.washers() ? joint_.washers()->compress(clamp_).slope : 0;
    for (const Interface& face : joint_.interfaces()) {
      faces_.push_back(face.name);
    }
  }

  std::vector<Figure> all() {
    thread();
    torque();
    stiffness();
    interfaces();
    washers();
    ring();
    design();
    plain_rolling_figures();
    heat();
    geometry();
    layers();
    tightening();
    return std::move(figures_.list);
  }

private:
  void thread() {
    figures_.number("thread/d2", "m", "pitch diameter d2", thread_.pitch_diameter());
    figures_.number("thread/d3", "m", "minor diameter d3", thread_.minor_diameter());
    figures_.number("thread/stress_area", "m2", "tensile stress area As", thread_.stress_area());
    figures_.number("thread/proof_load", "N", "proof load, proof stress times stress area",
                    spec_.studs.property_class.proof * thread_.stress_area());
    figures_.number("thread/tensile_load", "N", "load that breaks the stud, tensile strength times stress area",
                    spec_.studs.property_class.tensile * thread_.stress_area());
    figures_.number("thread/yield_load", "N", "load at 0.2 % yield without torsion, at the tightening temperature",
                    joint_.stud().yield_force(0, cold_, 1));
  }

  void torque() {
    const double yield = spec_.studs.property_class.yield(cold_);
    const double torsion = joint_.nut().torsion_factor(clamp_, mu_t_, mu_b_);
    const TorqueSplit split = joint_.nut().split(clamp_, mu_t_, mu_b_);
    const StudStress stress = joint_.nut().stress(clamp_, mu_t_, mu_b_);
    figures_.number("torque/torque", "N m", "tightening torque", torques_[hardest_]);
    figures_.number("torque/clamp", "N", "clamp load at the tightening torque", clamp_);
    if (std::any_of(torques_.begin(), torques_.end(), [&](double t) { return t != torques_[0]; }) ||
        std::any_of(clamps_.begin(), clamps_.end(), [&](double c) { return c != clamps_[0]; })) {
      figures_.array("torque/torque_by_stud", "N m", "tightening torque of each stud", torques_, studs_);
      figures_.array("torque/clamp_by_stud", "N", "clamp load of each stud at its torque", clamps_, studs_);
    }
    figures_.number("torque/k_factor", "1", "torque over clamp times nominal diameter",
                    torques_[hardest_] / (clamp_ * thread_.diameter));
    figures_.array("torque/torque_split", "N m", "where the tightening torque goes",
                   {split.pitch, split.thread, split.bearing, split.prevailing},
                   {"stretch", "thread friction", "bearing friction", "prevailing"});
    figures_.number("torque/check_torque", "N m",
                    "torque that starts the nut turning at the clamp of the tightening torque",
                    joint_.nut().torque_to_move(clamp_, mu_t_, mu_b_, scenario_.tightening.breakaway(0)));
    figures_.number("torque/bearing_diameter", "m", "mean diameter of the ring on which the nut slides",
                    joint_.nut().bearing_diameter());
    figures_.number("torque/axial_stress", "Pa", "axial stress of the stud at tightening", stress.axial);
    figures_.number("torque/torsion_stress", "Pa", "torsional stress of the stud at tightening, fully plastic section",
                    stress.torsion);
    figures_.number("torque/utilisation", "1", "equivalent stress over yield while tightening",
                    stress.equivalent(1) / yield);
    figures_.number("torque/utilisation_after", "1", "equivalent stress over yield once the wrench is off",
                    stress.equivalent(0.5) / yield);
    figures_.number("torque/yield_stretch", "m", "permanent stretch taken up while tightening",
                    joint_.stud().stretch(clamp_, 0, cold_, torsion).plastic);
  }

  void stiffness() {
    std::vector<std::string> part_names;
    double clamped = 0;
    figures_.number("grip_length", "m", "grip length", joint_.grip());
    figures_.number("stiffness/stud_resilience", "m/N", "elastic resilience of the stud",
                    joint_.stud().compliance(cold_));
    std::vector<double> part_compliances;
    std::vector<double> part_areas;
    for (std::size_t m = 0; m < joint_.parts().size(); ++m) {
      part_names.push_back(joint_.parts()[m].name);
      part_compliances.push_back(joint_.parts()[m].shape / spec_.stack[m].material.youngs(cold_));
      part_areas.push_back(joint_.parts()[m].area);
      clamped += part_compliances.back();
    }
    figures_.array("stiffness/part_resilience", "m/N", "elastic resilience of each part", part_compliances, part_names);
    figures_.array("stiffness/part_area", "m2", "effective area of each part", part_areas, part_names);
    std::vector<double> compliances;
    for (const Interface& face : joint_.interfaces()) {
      compliances.push_back(face.compliance);
      clamped += face.compliance;
    }
    figures_.array("stiffness/interface_resilience", "m/N", "elastic resilience of paint and contact at each interface",
                   compliances, faces_);
    figures_.number("stiffness/total_resilience_without_washers", "m/N",
                    "resilience of stud, parts and paint in series", joint_.stud().compliance(cold_) + clamped);
    figures_.number("stiffness/total_resilience", "m/N", "resilience of the column, washers at their tangent included",
                    joint_.stud().compliance(cold_) + clamped + washer_slope_);
    figures_.number("stiffness/clamp_per_thickness", "N/m", "clamp lost for the thickness lost",
                    1 / (joint_.stud().compliance(cold_) + clamped + washer_slope_));
    figures_.number("stiffness/load_factor", "1", "share of an axial load that reaches the stud",
                    joint_.load_factor(places_, washer_slope_));
    figures_.number("stiffness/stud_stretch", "1",
                    "elastic stretch of the free stud for each unit of length at the tightening clamp",
                    clamp_ / (spec_.studs.material.youngs(cold_) * thread_.minor_area()));
  }

  void interfaces() {
    std::vector<double> areas, diameters, widths, embeddings, radial, brake, traction;
    for (std::size_t i = 0; i < joint_.interfaces().size(); ++i) {
      const Interface& face = joint_.interfaces()[i];
      areas.push_back(face.area);
      diameters.push_back(joint_.cone().diameter(joint_.cone().height(i)));
      widths.push_back(face.width);
      embeddings.push_back(face.embedding);
      radial.push_back(face.carries.radial);
      brake.push_back(face.carries.brake);
      traction.push_back(face.carries.traction);
    }
    figures_.number("cone/tangent", "1", "tangent of the cone's half-angle", joint_.cone().tangent());
    figures_.array("cone/diameter", "m", "outline of the pressure cone at each interface", diameters, faces_);
    figures_.array("cone/contact_area", "m2", "contact area at each interface", areas, faces_);
    figures_.array("cone/contact_width", "m", "radial width of the contact ring at each interface", widths, faces_);
    figures_.array("embedding/interfaces", "m", "embedding at each interface after allowing for paint", embeddings,
                   faces_);
    figures_.number("embedding/thread", "m", "embedding in the thread", spec_.thread_embedding);
    figures_.array("carries/radial", "1", "share of the radial load that crosses each interface", radial, faces_);
    figures_.array("carries/brake", "1", "share of the brake torque that crosses each interface", brake, faces_);
    figures_.array("carries/traction", "1", "share of the traction torque that crosses each interface", traction,
                   faces_);
    figures_.number("clearance", "m", "clearance that side slip can use up", joint_.clearance());
  }

  void washers() {
    if (joint_.washers()) {
      const WasherStack& w = *joint_.washers();
      const WasherAnswer at = w.compress(clamp_);
      figures_.number("washers/height", "m", "free height of the stack of spring washers", joint_.washer_height());
      figures_.number("washers/deflection", "m", "deflection of the stack under the tightening clamp", at.deflection);
      figures_.number("washers/flat_fraction", "1", "deflection over that of flat washers", at.deflection / w.flat());
      figures_.number("washers/tangent", "m/N", "resilience of the stack at the tightening clamp", at.slope);
      figures_.number("washers/stick", "m/N", "resilience of the stack while its cones stick", 1 / w.stick_stiffness());
      figures_.number("washers/k4", "1", "factor K4 of washers with bearing flats", w.washer().k4());
      const double packed = static_cast<double>(spec_.nut.spring_washers->parallel) - 1;
      const double rub = std::max(kNestedFriction, spec_.nut.spring_washers->friction);
      figures_.number(
          "washers/friction_bound", "1",
          "share of the clamp that friction between nested cones can cost, at a friction of 0.03 or that given",
          1 - (1 - rub * packed) / (1 + rub * packed));
      const WasherStress s = w.washer().stress(at.deflection / static_cast<double>(spec_.nut.spring_washers->series));
      figures_.array("washers/stress", "Pa", "stresses of one washer at the standard's points",
                     {s.om, s.i, s.ii, s.iii}, {"OM", "I", "II", "III"});
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
      figures_.array("washers/curve_deflection", "m", "deflection at shares of the flat one", deflections, shares);
      figures_.array("washers/curve_compressing", "N", "force while compressing", up, shares);
      figures_.array("washers/curve_opening", "N", "force while opening", down, shares);
      figures_.array("washers/curve_tangent", "N/m", "tangent while compressing", tangents, shares);
    }
  }

  void ring() {
    if (joint_.coupled()) {
      std::vector<double> ring;
      std::vector<std::string> names;
      for (const std::size_t m : joint_.wheel_discs()) {
        const PartSpec& p = spec_.stack[m];
        names.push_back(p.name);
        ring.push_back(ring_stiffness(p.material, cold_, p.thickness, spec_.ring.width.value_or(p.pad),
                                      stud_pitch(spec_.studs.bolt_circle, spec_.studs.count), spec_.ring.factor));
      }
      figures_.array("stiffness/ring", "N/m", "stiffness of each disc between neighbouring studs", ring, names);
    }
  }

  void design() {
    const Requirement need = requirement(scenario_, joint_);
    figures_.number("required_clamp", "N", "clamp per stud that the wheel needs", need.clamp);
    figures_.text("deciding_design_case", "design case that sets the required clamp", need.decided_by);
    std::vector<std::string> cases;
    std::vector<double> demand, for_slip, for_gap, required;
    for (const CaseClamp& c : need.cases) {
      cases.push_back(c.name);
      demand.push_back(c.demand);
      for_slip.push_back(c.for_slip);
      for_gap.push_back(c.for_gap);
      required.push_back(c.required());
    }
    figures_.array("design_cases/brake_force", "N", "brake force at this wheel end", need.brake_forces, cases);
    figures_.array("design_cases/demand", "N", "transverse demand at the bolt circle", demand, cases);
    figures_.array("design_cases/clamp_for_slip", "N", "clamp per stud that holds the slip margin", for_slip, cases);
    figures_.array("design_cases/clamp_for_gap", "N", "clamp per stud below which the joint opens", for_gap, cases);
    figures_.array("design_cases/required", "N", "clamp per stud that each design case needs", required, cases);
    figures_.number("required_slip_margin", "1", "slip margin that the design cases must keep",
                    scenario_.required_slip_margin);
  }

  void plain_rolling_figures() {
    const WheelLoad rolling = plain_rolling(scenario_);
    std::vector<double> forces;
    for (const double c : clamps_) {
      forces.insert(forces.end(), joint_.segments(), c);
    }
    WheelSlip slip;
    wheel_slip(joint_, rolling, forces, std::vector<double>(clamps_.size(), 1.0), slip);
    const double n = static_cast<double>(spec_.studs.count);
    const double youngs = spec_.studs.material.youngs(cold_);
    const double threshold = nut_slip_threshold(mu_b_, clamp_, joint_.grip(), youngs, joint_.stud().second_moment());
    const double axial = axial_amplitude(rolling.moment, n, spec_.studs.bolt_circle);
    figures_.number("slip_margin", "1", "slip margin in plain rolling as tightened", slip.margin);
    figures_.array("slip/displacement", "m", "side slip at each interface in plain rolling", slip.displacement, faces_);
    figures_.number("slip/joint", "m", "side slip of the wheel in plain rolling", slip.joint);
    figures_.number("slip/threshold", "m", "side slip that the stud takes by bending before its nut slides", threshold);
    figures_.number("slip/turn_per_slide", "rad/m", "turn of the nut for each metre that it slides",
                    turn_per_slide(joint_.nut(), clamp_, mu_t_, mu_b_));
    figures_.number("fatigue/axial_force", "N", "axial force amplitude at the outermost stud in plain rolling", axial);
    figures_.number("fatigue/axial_amplitude", "Pa", "axial stress amplitude in plain rolling",
                    joint_.load_factor(places_, washer_slope_) * axial / thread_.stress_area());
    figures_.number(
        "fatigue/bending_amplitude", "Pa", "bending stress amplitude in plain rolling",
        bending_amplitude(std::min(slip.joint, threshold), joint_.grip(), youngs, thread_.minor_diameter()));
    figures_.number("fatigue_limit", "Pa", "endurance amplitude of rolled threads", fatigue_limit(thread_.diameter));
    figures_.number("seat_pressure", "Pa", "pressure under the nut's seat as tightened", clamp_ / joint_.seat_area());
    figures_.number("seat_pressure_limit", "Pa", "largest pressure the part under the nut bears",
                    spec_.stack.back().material.pressure_limit);
  }

  void heat() {
    const Work work = mean_work(working_day(scenario_));
    const std::vector<double> steady =
        scenario_.heat.steady(scenario_.duty.ambient.mean, HeatNetwork::air_factor(work.speed), work.power);
    figures_.number("heat/mean_brake_power", "W", "brake heat at this wheel end, mean over the working part of the day",
                    work.power);
    figures_.number("heat/mean_speed", "m/s", "mean speed over the working part of the day", work.speed);
    figures_.array("heat/steady_temperature", "K", "where the temperatures would settle at that power and speed",
                   steady, nodes_);
  }

  /// What is needed to draw the joint, as given.
  void geometry() {
    std::vector<double> thickness, hole, pad, wheel;
    std::vector<std::string> names, materials, nodes;
    for (const PartSpec& p : spec_.stack) {
      names.push_back(p.name);
      thickness.push_back(p.thickness);
      hole.push_back(p.hole);
      pad.push_back(p.pad);
      wheel.push_back(p.wheel ? 1 : 0);
      materials.push_back(p.material.name);
      nodes.push_back(p.node);
    }
    figures_.array("geometry/part_thickness", "m", "thickness of each part, from the head to the nut", thickness,
                   names);
    figures_.array("geometry/part_hole", "m", "diameter of the hole in each part", hole, names);
    figures_.array("geometry/part_pad", "m", "diameter of the supported material of each part", pad, names);
    figures_.array("geometry/part_wheel", "1", "1 for the parts that are wheel discs, else 0", wheel, names);
    figures_.texts("geometry/part_material", "material of each part", materials, names);
    figures_.texts("geometry/part_node", "node of the heat network that each part takes its temperature from", nodes,
                   names);
    figures_.number("geometry/head_diameter", "m", "bearing diameter of the stud's head", spec_.head_bearing);
    const NutSpec& nut = spec_.nut;
    figures_.number("geometry/nut_outer", "m", "outer diameter of the ring on which the nut slides", nut.bearing_outer);
    figures_.number("geometry/nut_inner", "m", "inner diameter of the ring on which the nut slides", nut.bearing_inner);
    figures_.number("geometry/seat_outer", "m", "outer diameter of the ring that presses the part under the nut",
                    nut.seat_outer);
    figures_.number("geometry/seat_inner", "m", "inner diameter of the ring that presses the part under the nut",
                    nut.seat_inner);
    if (nut.sleeve) {
      figures_.number("geometry/nut_sleeve", "m", "outer diameter of the nut's sleeve in the wheel's hole",
                      *nut.sleeve);
    }
    figures_.text("geometry/thread", "thread", thread_.name);
    figures_.number("geometry/thread_pitch", "m", "pitch of the thread", thread_.pitch);
    figures_.text("geometry/property_class", "property class of the studs", spec_.studs.property_class.name);
    figures_.number("geometry/stud_diameter", "m", "nominal diameter of the thread", thread_.diameter);
    figures_.number("geometry/stud_shank", "m", "length of the shank without thread inside the grip",
                    spec_.studs.shank);
    // The stud's resilience takes the shank at the nominal diameter.
    figures_.number("geometry/stud_shank_diameter", "m", "diameter of the shank without thread", thread_.diameter);
    figures_.number("geometry/stud_count", "1", "number of studs", static_cast<double>(spec_.studs.count));
    figures_.number("geometry/bolt_circle", "m", "diameter of the bolt circle", spec_.studs.bolt_circle);
    if (nut.spring_washers) {
      const WasherSpec& w = *nut.spring_washers;
      figures_.number("geometry/washer_outer", "m", "outer diameter of the spring washers", w.outer);
      figures_.number("geometry/washer_inner", "m", "inner diameter of the spring washers", w.inner);
      figures_.number("geometry/washer_thickness", "m", "thickness of one spring washer", w.thickness);
      figures_.number("geometry/washer_cone_height", "m", "free height of a spring washer's cone", w.cone_height);
      figures_.number("geometry/washer_parallel", "1", "spring washers nested one in the other",
                      static_cast<double>(w.parallel));
      figures_.number("geometry/washer_series", "1", "nests of spring washers on top of each other",
                      static_cast<double>(w.series));
    }
  }

  void layers() {
    if (joint_.layers().empty()) {
      return;
    }
    std::vector<double> thickness;
    std::vector<std::string> names, faces, parts, sides, coatings;
    for (const Layer& layer : joint_.layers()) {
      // Of two touching faces the one nearer to the head is the nut side of its part.
      const bool nut_side = layer.name.ends_with("nut_side");
      names.push_back(layer.name);
      thickness.push_back(layer.film.thickness);
      faces.push_back(joint_.interfaces()[layer.interface].name);
      parts.push_back(spec_.stack[nut_side ? layer.interface - 1 : layer.interface].name);
      sides.emplace_back(nut_side ? "nut_side" : "head_side");
      coatings.push_back(layer.film.coating.name);
    }
    figures_.array("geometry/layer_thickness", "m", "dry film of each coating before tightening", thickness, names);
    figures_.texts("geometry/layer_interface", "interface that each coating lies in", faces, names);
    figures_.texts("geometry/layer_part", "part that each coating is on", parts, names);
    figures_.texts("geometry/layer_side", "side of that part", sides, names);
    figures_.texts("geometry/layer_coating", "kind of each coating", coatings, names);
  }

  /// What the wrench is to do, and what that takes for granted.
  void tightening() {
    const TighteningSpec& wrench = scenario_.tightening;
    std::vector<double> order, torque;
    std::vector<std::string> places, passes;
    for (const std::size_t stud : wrench.order) {
      order.push_back(static_cast<double>(stud + 1));
      places.push_back(std::to_string(order.size()));
    }
    for (const double share : wrench.passes) {
      torque.push_back(share * torques_[hardest_]);
      passes.push_back("pass " + std::to_string(torque.size()));
    }
    figures_.array("tightening/order", "1", "studs in the order in which each pass takes them", order, places);
    figures_.array("tightening/pass_torque", "N m", "torque of each pass", torque, passes);
    figures_.array("tightening/pass_share", "1", "share of each stud's torque that each pass applies", wrench.passes,
                   passes);
    by_stud("tightening/friction_thread", "friction taken in the thread", wrench.thread_friction);
    by_stud("tightening/friction_bearing", "friction taken under the nut", wrench.bearing_friction);
    figures_.number("tightening/breakaway", "1", "breakaway over sliding friction, of a nut just tightened",
                    wrench.breakaway(0));
    figures_.number("tightening/prevailing_torque", "N m", "torque that turns a nut without clamp",
                    spec_.nut.prevailing_torque);
    figures_.number("tightening/temperature", "K", "temperature of tightening", wrench.temperature);
  }

  /// One number where all studs are alike, else a list.
  void by_stud(const char* name, const char* meaning, const std::vector<double>& values) {
    if (std::all_of(values.begin(), values.end(), [&](double v) { return v == values[0]; })) {
      figures_.number(name, "1", meaning, values[0]);
    } else {
      figures_.array(name, "1", meaning, values, studs_);
    }
  }

  const Scenario& scenario_;
  double cold_;
  std::vector<std::string> nodes_;
  Joint joint_;
  const JointSpec& spec_;
  const Thread& thread_;
  std::vector<double> places_; ///< all at the tightening temperature [K]
  std::vector<std::string> studs_, faces_;
  std::vector<double> torques_, clamps_;
  std::size_t hardest_ = 0;
  double clamp_ = 0, mu_t_ = 0, mu_b_ = 0, washer_slope_ = 0;
  Figures figures_;
};

} // namespace

std::vector<Figure> derive(const Scenario& scenario) { return Derivation(scenario).all(); }

std::vector<std::string> concerns(const Scenario& scenario) {
  const Joint joint(scenario.joint, node_names(scenario.heat), scenario.tightening.temperature);
  const JointSpec& spec = joint.spec();
  const Thread& thread = spec.studs.thread;
  const PropertyClass& strength = spec.studs.property_class;
  const TighteningSpec& wrench = scenario.tightening;
  const double required = requirement(scenario, joint).clamp;
  std::vector<std::string> beyond_tensile, beyond_proof, yielding, by_hand, short_of, crushed;
  double sum = 0;
  for (std::size_t k = 0; k < spec.studs.count; ++k) {
    const std::string stud = std::to_string(k + 1);
    const double clamp = joint.nut().clamp(wrench.torque[k], wrench.thread_friction[k], wrench.bearing_friction[k]);
    const double utilisation =
        joint.nut().stress(clamp, wrench.thread_friction[k], wrench.bearing_friction[k]).equivalent(1) /
        strength.yield(wrench.temperature);
    sum += clamp;
    if (clamp > strength.tensile * thread.stress_area()) {
      beyond_tensile.push_back(stud);
    } else if (clamp > strength.proof * thread.stress_area()) {
      beyond_proof.push_back(stud);
    }
    if (clamp < kHandTight * strength.proof * thread.stress_area()) {
      by_hand.push_back(stud);
    }
    if (utilisation > 1) {
      yielding.push_back(stud);
    }
    if (clamp < required) {
      short_of.push_back(stud);
    }
    const double limit = spec.stack.back().material.pressure_limit;
    if (limit > 0 && clamp / joint.seat_area() > limit) {
      crushed.push_back(stud);
    }
  }
  std::vector<std::string> all;
  const auto say = [&](const std::vector<std::string>& studs, const std::string& what) {
    if (!studs.empty()) {
      const bool every = studs.size() == spec.studs.count;
      all.push_back((every ? "every stud" : fmt::format("stud {}", fmt::join(studs, ", "))) + what);
    }
  };
  say(beyond_tensile,
      ": the clamp that the torque would give is above the stud's tensile strength: it breaks under the "
      "wrench, and nothing below means anything");
  say(beyond_proof, ": the clamp at the tightening torque is above the proof load");
  say(yielding, ": the stud yields under the wrench and stays stretched: replace it, and tighten less");
  say(by_hand,
      fmt::format(": the clamp at the tightening torque is less than {:.0f} % of the proof load: hardly tightened",
                  100 * kHandTight));
  say(crushed, ": the pressure under the nut is above what the part bears");
  say(short_of,
      fmt::format(": tightened below the required clamp of {:.4g} kN from the start", required / units::kKilonewton));
  WheelSlip slip;
  const std::vector<double> forces(joint.segments(), sum / static_cast<double>(spec.studs.count));
  wheel_slip(joint, plain_rolling(scenario), forces, std::vector<double>{static_cast<double>(spec.studs.count)}, slip);
  if (slip.margin < 1) {
    all.push_back(fmt::format("the wheel slips in plain rolling as tightened: slip margin {:.3g}", slip.margin));
  }
  const double highest = *std::max_element(wrench.torque.begin(), wrench.torque.end());
  const bool unlike = highest != *std::min_element(wrench.torque.begin(), wrench.torque.end());
  const bool retorques = std::any_of(scenario.service.begin(), scenario.service.end(),
                                     [](const Service& v) { return v.kind == Service::Kind::Retorque && !v.torque; });
  if (unlike && retorques) {
    all.emplace_back(
        "the studs were tightened unlike and a retorque without a torque of its own repeats each stud's own, "
        "the low ones too: give service/retorque/torque");
  }
  return all;
}

RunHeader make_header(const Scenario& scenario) {
  RunHeader h;
  h.title = scenario.title;
  h.scenario_text = scenario.resolved_text;
  h.warnings = concerns(scenario);
  h.warnings.insert(h.warnings.end(), scenario.warnings.begin(), scenario.warnings.end());
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
    h.records.push_back({std::to_string(r.stud + 1), r.time, r.tool, r.operator_name, r.vehicle, r.axle, r.wheel,
                         r.torque, r.angle.value_or(NAN)});
  }
  h.end_time = static_cast<double>(days(scenario.duty.calendar)) * units::kDay;
  return h;
}

} // namespace clampfade

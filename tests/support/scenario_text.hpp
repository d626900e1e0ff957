// Small scenarios written by the tests themselves: a complete one by default, each part of it open to change. Every
// value is a demo value.
#pragma once

#include "solver/io/scenario.hpp"

#include <cstddef>
#include <string>

namespace clampfade::test {

/// Text of a scenario in pieces. The default is an elastic joint of bare steel on one node of heat, parked for a week.
struct ScenarioText {
  std::string stud_material = "youngs: 200 GPa, poisson: 0.3, expansion: 11e-6 1/K";
  std::string hub_material = "youngs: 170 GPa, poisson: 0.28, expansion: 11e-6 1/K";
  std::string disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 11e-6 1/K";
  std::string property_class = "proof: 830 MPa, yield: 940 MPa, tensile: 1040 MPa";
  std::string coating = "modulus: 3 GPa, glass_transition: 80 degC, transition_width: 8 K, compaction_cold: 0.05, "
                        "compaction_hot: 0.25, half_pressure: 30 MPa, relaxation: {shortest: 1e-2 s, longest: 1e14 s, "
                        "modes: 16}, activation_below: 180 kJ/mol, turns: 1e6, pigment: 0.35";
  std::string nodes = "joint: {capacity: 20 kJ/K, still: 20 W/K}";
  std::string links;
  std::string radiation;
  std::string brake = "joint";

  std::size_t studs = 10;
  std::string stud_node = "joint";
  std::string nut = "bearing: {outer: 36 mm, inner: 24 mm}";
  std::string hub = "thickness: 32 mm, hole: 24 mm, pad: 75 mm, node: joint";
  std::string disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint"; ///< head_side, nut_side, flatness
  std::string second_disc;                                                     ///< empty: a single wheel
  std::string interface_default = "embedding: 0 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  std::string interfaces; ///< more entries of the flow map, each with a comma before it
  std::string thread_contact = "embedding: 0 um";
  std::string pilot = "clearance: 0.6 mm";
  std::string ring = "active: false";

  std::string torque = "640 N*m";
  std::string friction = "thread: 0.12, bearing: 0.12, breakaway: 1.10";
  std::string passes = "1.0";
  std::string order = "star";
  std::string pause = "0 s";
  std::string temperature = "20 degC";

  std::string vehicle = "mass: 26 t, wheel_ends: 6, driven_ends: 4, load: 45 kN, rolling_radius: 0.50 m, "
                        "dynamic_factor: 1.3, brake_share: 0.95, lateral_share: 0.05";
  std::string ambient = "mean: 20 degC";
  std::string day = "{park: {until: 24 h}}";
  std::string calendar = "working_days_per_week: 7, weeks: 1";
  std::string motion = "rotating";
  std::string service; ///< entries of a flow list
  std::string resolution = "every-stop";
  std::string tolerance = "1e-6";
  std::string record = "every: 1 d";

  [[nodiscard]] std::string text() const {
    const std::string tag = ", source: this test, provenance: demo}\n";
    std::string t = "schema: 1\ntitle: A demo scenario of a test\ncatalogue:\n  materials:\n";
    t += "    stud steel: {" + stud_material + tag;
    t += "    hub metal: {" + hub_material + tag;
    t += "    disc metal: {" + disc_material + tag;
    t += "  property_classes:\n    demo class: {" + property_class + tag;
    t += "  coatings:\n    paint: {" + coating + tag;
    t += "  threads:\n    M22x1.5: {diameter: 22 mm, pitch: 1.5 mm" + tag;
    t += "  heat_networks:\n    demo heat: {nodes: {" + nodes + "}, links: [" + links + "], radiation: [" + radiation +
         "], brake: " + brake + tag;
    t += "joint:\n  studs: {count: " + std::to_string(studs) +
         ", bolt_circle: 280 mm, thread: M22x1.5, property_class: demo class, material: stud steel, shank: 0 mm, "
         "node: " +
         stud_node + "}\n";
    t += "  head: {bearing_diameter: 38 mm}\n  nut: {" + nut + "}\n";
    if (!pilot.empty()) {
      t += "  pilot: {" + pilot + "}\n";
    }
    t += "  stack:\n  - {part: hub, material: hub metal, " + hub + "}\n";
    t += "  - {part: disc, wheel: true, material: disc metal, " + disc + "}\n";
    if (!second_disc.empty()) {
      t += "  - {part: outer disc, wheel: true, material: disc metal, " + second_disc + "}\n";
    }
    t += "  interfaces: {default: {" + interface_default + "}" + interfaces + "}\n";
    t += "  thread_contact: {" + thread_contact + "}\n  ring_coupling: {" + ring + "}\n";
    t += "tightening: {torque: " + torque + ", friction: {" + friction + "}, passes: [" + passes +
         "], order: " + order + ", pause: " + pause + ", temperature: " + temperature + "}\n";
    t += "vehicle: {" + vehicle + "}\nheat: {network: demo heat}\n";
    t += "duty:\n  ambient: {" + ambient + "}\n  day: [" + day + "]\n  calendar: {" + calendar + "}\n";
    t += "loosening: {motion: " + motion + "}\n";
    if (!service.empty()) {
      t += "service: [" + service + "]\n";
    }
    t += "solution: {resolution: " + resolution + ", tolerance: " + tolerance + "}\nrecord: {" + record + "}\n";
    return t;
  }
  [[nodiscard]] Scenario scenario() const { return read_scenario_text(text(), "test.yaml"); }
};

} // namespace clampfade::test

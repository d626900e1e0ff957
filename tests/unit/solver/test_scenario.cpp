#include "solver/io/scenario.hpp"
#include "solver/io/schema.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

using namespace clampfade;
using test::close;

namespace {

namespace fs = std::filesystem;

const char* const kCatalogue = R"(
catalogue:
  threads: {T20: {diameter: 20 mm, pitch: 1.5 mm, source: invented, provenance: demo}}
  property_classes: {"9.9": {proof: 700 MPa, yield: [[20 degC, 800 MPa], [200 degC, 700 MPa]], tensile: 900 MPa, source: invented, provenance: demo}}
  materials:
    steel: {youngs: 200 GPa, poisson: 0.3, expansion: 12e-6 1/K, source: invented, provenance: memory}
    light metal: {youngs: [[20 degC, 70 GPa], [200 degC, 60 GPa]], poisson: 0.33, expansion: 23e-6 1/K,
                  creep: {coefficient: 5e-6 1/s, exponent: 6, activation: 140 kJ/mol}, pressure_limit: 350 MPa, source: invented, provenance: demo}
  coatings:
    paint: {modulus: 3 GPa, glass_transition: 176 degF, transition_width: 8 K, compaction_cold: 0.05, compaction_hot: 0.25, half_pressure: 30 MPa,
            relaxation: {shortest: 1e-2 s, longest: 1e14 s, modes: 16}, activation_below: 180 kJ/mol, turns: 1e6, pigment: 0.35,
            flow: {viscosity: 1e9 Pa*s, at: 120 degC}, breakdown: {rate: 0.005 1/h, at: 180 degC, activation: 140 kJ/mol}, film: {thinnest: 60 um, thickest: 90 um}, source: invented, provenance: demo}
  heat_networks:
    two lumps:
      nodes: {drum: {capacity: 20 kJ/K, still: 2 W/K, moving: 0.9 W/K}, hub: {capacity: 18 kJ/K, still: 2 W/K, moving: 0.5 W/K}}
      links: [[drum, hub, 7 W/K]]
      radiation: [{from: drum, to: ambient, emissivity_area: 0.08 m^2}, {from: drum, to: hub, emissivity_area: 0.02 m^2}]
      brake: drum
      source: invented
      provenance: demo
)";

struct Parts {
  std::string head = "schema: 1\ntitle: A test wheel\n";
  std::string catalogue = kCatalogue;
  std::string studs =
      "count: 10, bolt_circle: 280 mm, thread: T20, property_class: \"9.9\", material: steel, node: hub";
  std::string joint_more;
  std::string interfaces = "    default: {embedding: 3 um, friction: 0.15}\n";
  std::string tightening = "torque: 400 lbf*ft, friction: {thread: 0.12, bearing: 0.11}";
  std::string vehicle = "mass: 24 t, wheel_ends: 6, load: 40 kN, rolling_radius: 0.5 m";
  std::string day = "    - park: {until: 24 h}\n";
  std::string heat = "network: two lumps";
  std::string rest;

  [[nodiscard]] std::string text() const {
    return head + catalogue + "joint:\n  studs: {" + studs + "}\n" + R"(  head: {bearing_diameter: 36 mm}
  nut: {bearing: {outer: 36 mm, inner: 22 mm}}
  stack:
    - {part: hub flange, material: steel, thickness: 20 mm, hole: 22 mm, pad: 70 mm, node: hub}
    - {part: inner disc, wheel: true, material: light metal, thickness: 22 mm, hole: 24 mm, pad: 70 mm, node: hub, head_side: {coating: paint, thickness: 3.2 mil}}
    - {part: outer disc, wheel: true, material: steel, thickness: 12 mm, hole: 24 mm, pad: 70 mm, node: drum, nut_side: {coating: paint, thickness: 80 um}}
  interfaces:
)" + interfaces +
           joint_more + "tightening: {" + tightening + "}\nvehicle: {" + vehicle + "}\nheat: {" + heat +
           "}\nduty:\n  day:\n" + day + rest;
  }
  [[nodiscard]] Scenario read() const { return read_scenario_text(text(), "test.yaml"); }
};

/// The faults of a text; none if it reads.
std::vector<Diagnostic> faults(const std::string& text, const ReadOptions& options = {}) {
  try {
    (void)read_scenario_text(text, "test.yaml", options);
  } catch (const InputError& e) {
    return e.diagnostics();
  }
  return {};
}

bool has(const std::vector<Diagnostic>& list, Code code, std::string_view path) {
  for (const Diagnostic& d : list) {
    if (d.code == code && d.path == path) {
      return true;
    }
  }
  return false;
}

/// Reads what the program would store and demands the same text, warnings and provenance again.
Scenario round_trip(const Scenario& first) {
  const Scenario second = read_scenario_text(first.resolved_text, "history.h5", resolved_options());
  CHECK(second.resolved_text == first.resolved_text);
  CHECK(second.warnings == first.warnings);
  REQUIRE(second.provenance.size() == first.provenance.size());
  for (std::size_t i = 0; i < first.provenance.size(); ++i) {
    const Provenance& a = first.provenance[i];
    const Provenance& b = second.provenance[i];
    CHECK(a.entry + a.key + a.value + a.source + a.provenance == b.entry + b.key + b.value + b.source + b.provenance);
  }
  return second;
}

class TemporaryFolder {
public:
  TemporaryFolder() {
    char name[] = "/tmp/clampfade-test-XXXXXX";
    path_ = mkdtemp(name);
  }
  ~TemporaryFolder() { fs::remove_all(path_); }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] std::string write(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name) << text;
    return (path_ / name).string();
  }
  [[nodiscard]] std::string path() const { return path_.string(); }

private:
  fs::path path_;
};

} // namespace

TEST_CASE("a scenario is read into SI, with its defaults") {
  const Scenario s = Parts().read();
  CHECK(s.title == "A test wheel");
  CHECK(s.joint.studs.count == 10);
  CHECK(s.joint.studs.bolt_circle == close(0.28, 0, 1e-15));
  CHECK(s.joint.studs.thread.name == "T20");
  CHECK(s.joint.studs.shank == 0);
  CHECK(s.joint.studs.nodes == std::vector<std::string>{"hub"});
  CHECK(s.joint.stack.size() == 3);
  CHECK(s.joint.stack[1].material.creep->activation == close(140e3, 0, 1e-15));
  CHECK(s.joint.stack[1].head_side->thickness == close(81.28e-6, 0, 1e-14));
  CHECK(s.joint.stack[1].head_side->coating.glass_transition == close(353.15, 0, 1e-14));
  CHECK(!s.joint.stack[1].nut_side.has_value());
  CHECK(s.joint.nut.seat_outer == s.joint.nut.bearing_outer);
  CHECK(!s.joint.pilot_clearance.has_value());
  CHECK(!s.joint.ring.active);
  CHECK(!s.joint.cone_angle.has_value());
  CHECK(s.joint.thread_embedding == close(3e-6, 0, 1e-15));
  CHECK(s.joint.interfaces.size() == 4);
  CHECK(s.joint.interfaces[1].name == "hub flange | inner disc");
  CHECK(s.joint.interfaces[1].tangential_compliance == close(1e-10, 0, 1e-15));
  CHECK(s.tightening.torque == std::vector<double>(10, s.tightening.torque[0]));
  CHECK(s.tightening.torque[0] == close(542.32717933257, 0, 1e-12));
  CHECK(s.tightening.passes == std::vector<double>{1.0});
  CHECK(s.tightening.pause == 5);
  CHECK(s.tightening.breakaway(1e6) == 1.10);
  CHECK(s.vehicle.driven_ends == 0);
  CHECK(s.design_cases.size() == 3);
  CHECK(s.design_cases[0].deceleration == 6.0);
  CHECK(s.required_slip_margin == 1.2);
  CHECK(s.duty.calendar.start_day == 100);
  CHECK(s.heat.nodes.size() == 2);
  CHECK(s.heat.radiation[0].to == HeatRadiation::kAmbient);
  CHECK(s.loosening == Motion::Rotating);
  CHECK(s.record.layers);
  round_trip(s);
}

TEST_CASE("every option is read, and the text written back gives the same bits") {
  Parts p;
  p.studs =
      "count: 8, bolt_circle: 11.25 in, thread: {diameter: 0.8 in, pitch: 1.5 mm}, property_class: {proof: 700 MPa, "
      "yield: 800 MPa, tensile: "
      "900 MPa}, material: {youngs: 200 GPa, poisson: 0.3, expansion: 12e-6 1/K}, shank: 3.3 mm, node: [hub, drum]";
  p.joint_more = R"(  pilot: {clearance: 0.7 mm}
  thread_contact: {embedding: {roughness: 10-40 um, load: shear}}
  ring_coupling: {width: 71 mm, factor: 9.3}
  cone: 30 deg
  load_introduction: 0.45
  required_clamp: 99.9 kN
  required_slip_margin: 1.3
  design_cases: [{name: "stop, in a bend", deceleration: 4.1 m/s^2, lateral_share: 0.21}, {name: kerb, dynamic_factor: 2.1}]
)";
  p.interfaces = R"(    default: {embedding: {roughness: 10-40 um, load: shear}, friction: 0.17, carries: {radial: 0.9}}
    "hub flange | inner disc": {carries: {brake: 0.3}, unseated: 0.13 mm, contact_compliance: 1.1e-11 m/N}
    "outer disc | nut": {embedding: 1.7 um, wear: 3e-16 1/Pa}
)";
  p.tightening = "torque: [401 N*m, 402 N*m, 403 N*m, 404 N*m, 405 N*m, 406 N*m, 407 N*m, 408 N*m], friction: {thread: "
                 "[0.11, 0.12, 0.13, 0.11, 0.12, "
                 "0.13, 0.11, 0.12], bearing: 0.1, breakaway: [[0 s, 1.05], [1 d, 1.1], [30 d, 1.3]]}, passes: [0.4, "
                 "0.7, 1.0], order: [8, 7, 6, 5, "
                 "4, 3, 2, 1], pause: 7.7 s, temperature: 61.3 degF";
  p.vehicle = "mass: 57320 lb, wheel_ends: 6, driven_ends: 4, load: 9000 lbf, rolling_radius: 20.1 in, load_offset: -3 "
              "mm, dynamic_factor: 1.31, "
              "brake_share: 0.93, lateral_share: 0.07";
  p.day = R"(    - park: {until: 5 h}
    - drive: {distance: 14 km, speed: 37 mph, grade: -3.3 %, held_by_brakes: 0.4, lateral_share: 0.11}
    - round: {stops: 77, spacing: 45.5 m, top_speed: 24 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 19 s, mass: [17.3 t, 24 t]}
    - drag: {power: 3.3 kW, speed: 20 km/h, duration: 10.5 min, mass: 18 t}
    - trace: {points: "time [s],speed [km/h],grade [%]\n0,0,0\n10.1,33.3,-1.1\n20.7,0,0.3\n"}
)";
  p.rest = R"(  ambient: {mean: 60 degF, daily_swing: 13 degF, yearly_swing: 10 K}
  calendar: {working_days_per_week: 6, weeks: 3, start_day: 12}
loosening: {motion: reciprocating}
service:
  - retorque: {after: 80.1 km, torque: 410 N*m}
  - remove_nut: {stud: 4, after: 3 d}
  - hot_day: {after: 12 d, extra_power: 2.2 kW}
solution: {resolution: every-stop, tolerance: 3e-7}
record: {every: 67 min, at: [5 min, 80 km], layers: false}
)";
  const Scenario a = p.read();
  CHECK(a.joint.studs.thread.diameter == close(0.02032, 0, 1e-14));
  CHECK(a.joint.cone_angle.value() == close(0.52359877559829887, 0, 1e-15));
  CHECK(a.joint.ring.active);
  CHECK(a.joint.thread_embedding == close(3e-6, 0, 1e-15));
  CHECK(a.joint.interfaces[0].embedding == close(4.5e-6, 0, 1e-15)); // bearing face
  CHECK(a.joint.interfaces[1].embedding == close(2.5e-6, 0, 1e-15)); // inner
  CHECK(a.joint.interfaces[3].embedding == close(1.7e-6, 0, 1e-14));
  CHECK(a.joint.interfaces[1].friction == 0.17);
  CHECK(a.joint.interfaces[1].carries_radial == 0.9);
  CHECK(a.joint.interfaces[1].carries_brake == 0.3);
  CHECK(!a.joint.interfaces[1].carries_traction.has_value());
  CHECK(a.tightening.order == std::vector<std::size_t>{7, 6, 5, 4, 3, 2, 1, 0});
  CHECK(a.tightening.torque[7] == 408);
  CHECK(a.tightening.thread_friction[2] == 0.13);
  CHECK(a.tightening.breakaway(15.5 * 86400) == close(1.2, 0, 1e-14));
  CHECK(a.service.size() == 3);
  CHECK(a.service[0].after.kind == When::Kind::Distance);
  CHECK(a.service[1].stud == 3);
  CHECK(a.record.at[1].value == 80e3);
  CHECK(a.loosening == Motion::Reciprocating);
  const auto& trace = std::get<TraceStep>(a.duty.day[4].what);
  CHECK(trace.speed[1] == close(9.25, 0, 1e-14));
  CHECK(trace.grade[1] == close(-0.011, 0, 1e-14));
  CHECK(std::get<DriveStep>(a.duty.day[1].what).grade == close(-0.033, 0, 1e-15));
  CHECK(a.duty.day[2].load.mass_start == close(17300, 0, 1e-15));
  CHECK(a.duty.day[3].load.mass_end == close(18000, 0, 1e-15));

  const Scenario b = round_trip(a);
  CHECK(b.joint.studs.bolt_circle == a.joint.studs.bolt_circle);
  CHECK(b.joint.studs.thread.diameter == a.joint.studs.thread.diameter);
  CHECK(b.joint.studs.thread.name == a.joint.studs.thread.name);
  CHECK(b.joint.studs.property_class.yield.points() == a.joint.studs.property_class.yield.points());
  CHECK(b.joint.stack[1].head_side->coating.glass_transition == a.joint.stack[1].head_side->coating.glass_transition);
  CHECK(b.joint.stack[1].head_side->thickness == a.joint.stack[1].head_side->thickness);
  CHECK(b.joint.cone_angle == a.joint.cone_angle);
  for (std::size_t i = 0; i < a.joint.interfaces.size(); ++i) {
    CHECK(b.joint.interfaces[i].embedding == a.joint.interfaces[i].embedding);
    CHECK(b.joint.interfaces[i].carries_radial == a.joint.interfaces[i].carries_radial);
    CHECK(b.joint.interfaces[i].carries_traction == a.joint.interfaces[i].carries_traction);
    CHECK(b.joint.interfaces[i].contact_compliance == a.joint.interfaces[i].contact_compliance);
  }
  CHECK(b.tightening.temperature == a.tightening.temperature);
  CHECK(b.tightening.torque == a.tightening.torque);
  CHECK(b.tightening.thread_friction == a.tightening.thread_friction);
  CHECK(b.tightening.breakaway.points() == a.tightening.breakaway.points());
  CHECK(b.vehicle.mass == a.vehicle.mass);
  CHECK(b.vehicle.load == a.vehicle.load);
  CHECK(b.duty.ambient.mean == a.duty.ambient.mean);
  CHECK(b.duty.ambient.daily_swing == a.duty.ambient.daily_swing);
  CHECK(std::get<TraceStep>(b.duty.day[4].what).speed == trace.speed);
  CHECK(std::get<TraceStep>(b.duty.day[4].what).grade == trace.grade);
  CHECK(std::get<RoundStep>(b.duty.day[2].what).spacing == std::get<RoundStep>(a.duty.day[2].what).spacing);
  CHECK(b.record.every == a.record.every);
  CHECK(b.tolerance == a.tolerance);
}

TEST_CASE("the shipped scenarios and catalogue read, and read back alike") {
  const fs::path root = CLAMPFADE_SOURCE;
  check_catalogue((root / "models/catalogue").string());
  std::size_t count = 0;
  for (const auto& file : fs::directory_iterator(root / "scenarios")) {
    if (file.path().extension() == ".yaml") {
      CAPTURE(file.path().string());
      round_trip(read_scenario(file.path().string()));
      ++count;
    }
  }
  CHECK(count > 5);
}

TEST_CASE("star orders cross the wheel") {
  const auto numbers = [](std::size_t n) {
    std::vector<std::size_t> out = star_order(n);
    for (std::size_t& k : out) {
      ++k;
    }
    return out;
  };
  CHECK(numbers(10) == std::vector<std::size_t>{1, 6, 3, 8, 5, 10, 2, 7, 4, 9});
  CHECK(numbers(8) == std::vector<std::size_t>{1, 5, 3, 7, 2, 6, 4, 8});
  CHECK(numbers(6) == std::vector<std::size_t>{1, 4, 3, 6, 2, 5});
  CHECK(numbers(5) == std::vector<std::size_t>{1, 3, 5, 2, 4});
  for (std::size_t n = 1; n <= 24; ++n) {
    std::vector<std::size_t> all = star_order(n);
    std::sort(all.begin(), all.end());
    CAPTURE(n);
    CHECK(all.size() == n);
    CHECK(std::unique(all.begin(), all.end()) == all.end());
    CHECK(all.back() == n - 1);
  }
}

TEST_CASE("a scenario's own entry wins over the library, which is found where it is told") {
  const TemporaryFolder folder;
  (void)folder.write(
      "extra.yaml",
      "catalogue:\n  materials:\n    steel: {youngs: 111 GPa, poisson: 0.3, expansion: 1e-5 1/K, source: x, "
      "provenance: memory}\n"
      "    brass: {youngs: 100 GPa, poisson: 0.3, expansion: 2e-5 1/K, source: x, provenance: published}\n");
  ReadOptions options;
  options.catalogue = folder.path();
  Parts p;
  p.studs.replace(p.studs.find("material: steel"), 15, "material: brass");
  const Scenario s = read_scenario_text(p.text(), "test.yaml", options);
  CHECK(s.joint.studs.material.youngs(300) == close(100e9, 0, 1e-15));
  CHECK(s.joint.stack[0].material.youngs(300) == close(200e9, 0, 1e-15));
  bool seen = false;
  for (const Provenance& v : s.provenance) {
    seen = seen ||
           (v.entry == "materials/brass" && v.key == "youngs" && v.value == "100 GPa" && v.provenance == "published");
  }
  CHECK(seen);
}

TEST_CASE("a fault of a catalogue file names that file and its line") {
  const TemporaryFolder folder;
  const std::string file = folder.write(
      "extra.yaml",
      "catalogue:\n  materials:\n    brass:\n      youngs: 100\n      poisson: 0.3\n      expansion: 2e-5 1/K\n      "
      "source: x\n      provenance: published\n");
  ReadOptions options;
  options.catalogue = folder.path();
  Parts p;
  p.studs.replace(p.studs.find("material: steel"), 15, "material: brass");
  const auto list = faults(p.text(), options);
  REQUIRE(list.size() == 1);
  CHECK(list[0].code == Code::MissingUnit);
  CHECK(list[0].place.file == file);
  CHECK(list[0].place.line == 4);
  CHECK(list[0].place.column == 15);
  CHECK(list[0].path == "catalogue/materials/brass/youngs");
}

TEST_CASE("records replace the torque of the studs they name and travel on") {
  Parts p;
  p.tightening += ", records: {rows: \"stud,torque,torque_unit,angle_deg,tool,operator\\n3,380,lbf*ft,61,\\\"wrench, "
                  "long\\\",fitter C\\n1,500,N*m,,b,\\n\"}";
  const Scenario s = p.read();
  REQUIRE(s.records.size() == 2);
  CHECK(s.tightening.torque[2] == close(515.2108203659404, 0, 1e-12));
  CHECK(s.tightening.torque[0] == 500);
  CHECK(s.tightening.torque[1] == close(542.32717933257, 0, 1e-12));
  CHECK(s.records[0].tool == "wrench, long");
  CHECK(s.records[0].angle.value() == close(61 * 0.017453292519943295, 0, 1e-15));
  const Scenario again = round_trip(s);
  CHECK(again.records[0].angle == s.records[0].angle);
  CHECK(again.records[0].tool == s.records[0].tool);
  CHECK(!again.records[1].angle.has_value());
  CHECK(again.tightening.torque == s.tightening.torque);
  const RunHeader header = make_header(s);
  REQUIRE(header.records.size() == 2);
  CHECK(header.records[0].stud == "3");
  CHECK(header.records[0].torque == s.records[0].torque);
  CHECK(header.records[0].angle == s.records[0].angle);
  CHECK(header.records[1].torque == 500);
  CHECK(std::isnan(header.records[1].angle));
}

TEST_CASE("files beside the scenario are found and their faults carry file and line") {
  const TemporaryFolder folder;
  Parts p;
  p.day = "    - trace: {file: run.csv}\n";
  const std::string scenario = folder.write("wheel.yaml", p.text());
  (void)folder.write("run.csv", "time [s],speed [m/s]\n100,0\n110,5\n120,0\n");
  const Scenario s = read_scenario(scenario);
  CHECK(std::get<TraceStep>(s.duty.day[0].what).time == std::vector<double>{100, 110, 120});
  CHECK(std::get<TraceStep>(s.duty.day[0].what).grade == std::vector<double>{0, 0, 0});
  round_trip(s);
  const std::string csv = folder.write("run.csv", "time [s],speed [m/s]\n0,0\n10,nan\n10,5\n");
  try {
    (void)read_scenario(scenario);
    FAIL("a bad trace was read");
  } catch (const InputError& e) {
    REQUIRE(e.diagnostics().size() == 2);
    CHECK(e.diagnostics()[0].place.file == csv);
    CHECK(e.diagnostics()[0].place.line == 3);
    CHECK(e.diagnostics()[0].code == Code::NotANumber);
    CHECK(e.diagnostics()[1].place.line == 4);
    CHECK(e.diagnostics()[1].code == Code::Inconsistent);
  }
}

TEST_CASE("a missing scenario is a fault of the file system") {
  CHECK_THROWS_AS((void)read_scenario("/nonexistent/wheel.yaml"), FileError);
}

TEST_CASE("line ends of every kind read alike, in tables too") {
  Parts p;
  p.day = "    - trace: {file: trace.csv}\n    - park: {until: 24 h}\n";
  const TemporaryFolder folder;
  std::string expected;
  for (const std::string end : {"\n", "\r\n", "\r"}) {
    const auto with_ends = [&](std::string text) {
      for (std::size_t at = text.find('\n'); at != std::string::npos; at = text.find('\n', at + end.size())) {
        text.replace(at, 1, end);
      }
      return text;
    };
    (void)folder.write("trace.csv", with_ends("# a comment\ntime [s],speed [m/s]\n0,0\n60,10\n"));
    const Scenario s = read_scenario(folder.write("wheel.yaml", with_ends("# a comment\n" + p.text())));
    CHECK(s.duty.day.size() == 2);
    expected = expected.empty() ? s.resolved_text : expected;
    CHECK(s.resolved_text == expected);
  }
  CHECK(expected.find("60,10,0") != std::string::npos);
}

TEST_CASE("duplicate and merge keys are refused") {
  Parts p;
  p.head += "title: Again\n";
  CHECK(faults(p.text())[0].code == Code::DuplicateKey);
  Parts q;
  q.vehicle += ", <<: {driven_ends: 2}";
  CHECK(faults(q.text())[0].code == Code::Syntax);
  CHECK(faults(q.text())[0].found == "merge keys (<<) are not read");
}

TEST_CASE("quotes that are closed are read, whatever stands in them") {
  for (const std::string title :
       {"'It''s'", "\"5\\\" wheel\"", "''", "\"\"", "&t 'a'", "'a \"b'", "\"it's\"", "\"\\\\\""}) {
    CAPTURE(title);
    // The parts have a title already, so this one, the last text of the file, is the one fault.
    const auto list = faults(Parts().text() + "title: " + title + "\n");
    REQUIRE(list.size() == 1);
    CHECK(list[0].code == Code::DuplicateKey);
  }
}

TEST_CASE("bombs, cycles, depth and size end in one clear fault") {
  std::string bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n";
  for (int i = 1; i < 30; ++i) {
    bomb += "a" + std::to_string(i) + ": &a" + std::to_string(i) + " [";
    for (int k = 0; k < 10; ++k) {
      bomb += (k > 0 ? ", *a" : "*a") + std::to_string(i - 1);
    }
    bomb += "]\n";
  }
  const auto one = [](const std::string& text, Code code) {
    const auto list = faults(text);
    REQUIRE(list.size() == 1);
    CHECK(list[0].code == code);
  };
  one(bomb, Code::TooLarge);
  one("a: &a [*a]\n", Code::TooLarge);
  one("a: " + std::string(40, '[') + std::string(40, ']') + "\n", Code::TooLarge);
  one("a: " + std::string(600, '[') + std::string(600, ']') + "\n", Code::Syntax);
  one("# " + std::string(1 << 20, 'x') + "\n", Code::TooLarge);
  one("schema: 1\n--- \nschema: 1\n", Code::Syntax);
  one(", c\n", Code::Syntax); // endless documents to the YAML library
  one("schema: \xFF\n", Code::Syntax);
  one("schema: \xC0\x80\n", Code::Syntax);
  one("schema: \xC2\x9B\n", Code::Syntax); // the second set of control characters
  one(std::string("schema: 1\n\0", 11), Code::Syntax);
  one("", Code::Syntax);
  // A file cut short within quotes: to the YAML library its end closes them.
  for (const std::string quote : {"'", "\""}) {
    one("schema: 1\ntitle: " + quote + "My wheel\n", Code::Syntax);
    one("schema: 1\ntitle: &t " + quote + "My wheel\n", Code::Syntax);
    one("schema: 1\n" + quote + "My wheel\n", Code::Syntax);
  }
  one("schema: 1\ntitle: 'It''s\n", Code::Syntax);
  one("schema: 1\ntitle: \"5\\\" wheel\n", Code::Syntax);
  one("a: b: c\n", Code::Syntax);
  one("- 1\n", Code::WrongType);
}

TEST_CASE("all faults of a file come at once") {
  Parts p;
  p.studs += ", shnak: 3 mm, shank: 5";
  p.tightening += ", pause: 5 km";
  p.vehicle += ", driven_ends: 0.5";
  const auto list = faults(p.text());
  CHECK(list.size() == 4);
  CHECK(has(list, Code::UnknownKey, "joint/studs/shnak"));
  CHECK(has(list, Code::MissingUnit, "joint/studs/shank"));
  CHECK(has(list, Code::WrongDimension, "tightening/pause"));
  CHECK(has(list, Code::NotANumber, "vehicle/driven_ends"));
}

TEST_CASE("faults in entries that nothing uses are told too") {
  Parts p;
  p.catalogue.replace(
      p.catalogue.find("    steel:"), 0,
      "    unused: {youngs: 200, poisson: 0.3, expansion: 12e-6 1/K, source: invented, provenance: memory}\n");
  CHECK(has(faults(p.text()), Code::MissingUnit, "catalogue/materials/unused/youngs"));
}

TEST_CASE("warnings: outside the calibrated range, thick washers, invented values, acts after the end") {
  Parts p;
  p.interfaces = "    default: {friction: 0.9}\n";
  p.rest = "service:\n  - retorque: {after: 80 d}\n  - retorque: {after: 5 km}\n";
  const Scenario s = p.read();
  const auto says = [&](std::string_view part) {
    for (const std::string& w : s.warnings) {
      if (w.find(part) != std::string::npos) {
        return true;
      }
    }
    return false;
  };
  CHECK(says("joint/interfaces/default/friction = 0.9 is outside the calibrated range 0.05 to 0.6"));
  CHECK(says("are invented (provenance demo)"));
  CHECK(says("service/1/retorque/after = 80 d is after the end of the run at 7 d"));
  CHECK(says("service/2/retorque/after = 5 km is more than the 0 km"));
  Parts thick;
  std::string text = thick.text();
  const std::string nut = "nut: {bearing: {outer: 36 mm, inner: 22 mm}";
  text.replace(
      text.find(nut), nut.size(),
      nut + ", spring_washers: {outer: 46 mm, inner: 22 mm, thickness: 6 mm, cone_height: 0.4 mm, material: steel}");
  const Scenario w = read_scenario_text(text, "test.yaml");
  CHECK(w.joint.nut.spring_washers->set.empty());
  bool warned = false;
  for (const std::string& line : w.warnings) {
    warned = warned || line.find("outer over thickness is 7.67") != std::string::npos;
  }
  CHECK(warned);
  round_trip(w);
}

TEST_CASE("a wave that nothing opposes has no effect, and the reader says so") {
  const auto warned = [](const std::string& ring) {
    Parts p;
    p.joint_more = "  ring_coupling: {" + ring + "}\n";
    std::string text = p.text();
    const std::string disc = "part: outer disc, ";
    text.replace(text.find(disc), disc.size(), disc + "flatness: {amplitude: 0.1 mm, lobes: 2}, ");
    const Scenario s = round_trip(read_scenario_text(text, "test.yaml"));
    return std::count(s.warnings.begin(), s.warnings.end(),
                      "joint/stack/outer disc/flatness has no effect without joint/ring_coupling");
  };
  CHECK(warned("active: false") == 1);
  CHECK(warned("active: true") == 0);
}

TEST_CASE("the schema page in the repository is the program's") {
  std::ifstream file(fs::path(CLAMPFADE_SOURCE) / "scenarios/SCHEMA.md");
  std::stringstream text;
  text << file.rdbuf();
  const std::string page = schema_page() + "\n" + catalogue_page();
  CHECK_MESSAGE(text.str() == page, "run: clampfade schema > scenarios/SCHEMA.md");
}

TEST_CASE("the page of the catalogue names every entry that may be written, and what tells it apart") {
  const TemporaryFolder folder;
  (void)folder.write("own.yaml", kCatalogue);
  const std::string page = catalogue_page(folder.path());
  for (const char* line :
       {"| `T20` | 20 mm, 1.5 mm | demo |", "| `9.9` | 700 MPa, 900 MPa | demo |",
        "| `steel` | 200 GPa, 12e-6 1/K | memory |", "| `light metal` | 70 GPa at 20 degC, 23e-6 1/K, creeps | demo |",
        "| `paint` | 176 degF, 60 um to 90 um, melts | demo |", "| `two lumps` | drum, hub | demo |"}) {
    CAPTURE(line);
    CHECK(page.find(line) != std::string::npos);
  }
}

TEST_CASE("a film outside that for which its coating is described is a warning of the run") {
  const auto warned = [](const std::string& thickness) {
    Parts p;
    std::string text = p.text();
    const std::string face = "nut_side: {coating: paint, thickness: 80 um}";
    text.replace(text.find(face), face.size(), "nut_side: {coating: paint, thickness: " + thickness + "}");
    const Scenario s = round_trip(read_scenario_text(text, "test.yaml"));
    return std::count(s.warnings.begin(), s.warnings.end(),
                      "joint/stack/outer disc/nut_side/thickness = " + thickness +
                          " is outside 60 um to 90 um, for which 'paint' is described");
  };
  CHECK(warned("50 um") == 1);
  CHECK(warned("100 um") == 1);
  CHECK(warned("60 um") == 0);
  CHECK(warned("90 um") == 0);
}

TEST_CASE("every section has keys, each once and with a meaning") {
  for (const Section& s : schema()) {
    CAPTURE(s.path);
    CHECK(!s.keys.empty());
    for (const Key& k : s.keys) {
      CAPTURE(k.spec.key);
      CHECK(s.find(k.spec.key) == &k);
      CHECK(!k.spec.meaning.empty());
      CHECK((!k.form.empty() || !k.spec.unit.empty()));
    }
  }
}

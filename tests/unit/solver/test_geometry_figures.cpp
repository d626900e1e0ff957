// What the history keeps so that a report can draw the joint and say how it is tightened.
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>

using namespace clampfade;
using test::close;
using test::ScenarioText;
using Texts = std::vector<std::string>;
using Numbers = std::vector<double>;

namespace {

/// Figures of one scenario by name.
class Derived {
public:
  explicit Derived(const ScenarioText& text) : figures_(derive(text.scenario())) {}
  [[nodiscard]] bool has(const std::string& name) const { return find(name) != figures_.end(); }
  [[nodiscard]] const Figure& operator[](const std::string& name) const {
    CAPTURE(name);
    REQUIRE(has(name));
    return *find(name);
  }
  [[nodiscard]] double number(const std::string& name) const { return (*this)[name].values.at(0); }

private:
  [[nodiscard]] std::vector<Figure>::const_iterator find(const std::string& name) const {
    return std::find_if(figures_.begin(), figures_.end(), [&](const Figure& f) { return f.name == name; });
  }
  std::vector<Figure> figures_;
};

ScenarioText painted() {
  ScenarioText s;
  s.studs = 5;
  s.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint, head_side: {coating: paint, thickness: 70 um}, "
           "nut_side: {coating: paint, thickness: 90 um}";
  s.second_disc =
      "thickness: 14 mm, hole: 27 mm, pad: 80 mm, node: joint, head_side: {coating: paint, thickness: 50 um}";
  return s;
}

} // namespace

TEST_CASE("figures: the stack is listed from head to nut with what a section drawing needs") {
  ScenarioText text = painted();
  text.nut = "bearing: {outer: 36 mm, inner: 24 mm}, seat: {outer: 46 mm, inner: 25 mm}";
  const Derived f(text);
  const Texts parts = {"hub", "disc", "outer disc"};
  for (const char* name : {"thickness", "hole", "pad", "wheel", "material", "node"}) {
    CHECK(f[std::string("geometry/part_") + name].labels == parts);
  }
  const Numbers thickness = {0.032, 0.012, 0.014};
  const Numbers hole = {0.024, 0.026, 0.027};
  const Numbers pad = {0.075, 0.075, 0.080};
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(f["geometry/part_thickness"].values.at(i) == close(thickness[i], 0, 1e-12));
    CHECK(f["geometry/part_hole"].values.at(i) == close(hole[i], 0, 1e-12));
    CHECK(f["geometry/part_pad"].values.at(i) == close(pad[i], 0, 1e-12));
  }
  CHECK(f["geometry/part_wheel"].values == Numbers{0, 1, 1});
  CHECK(f["geometry/part_material"].text == Texts{"hub metal", "disc metal", "disc metal"});
  CHECK(f["geometry/part_node"].text == Texts{"joint", "joint", "joint"});
  CHECK(f.number("geometry/head_diameter") == close(0.038, 0, 1e-12));
  CHECK(f.number("geometry/nut_outer") == close(0.036, 0, 1e-12));
  CHECK(f.number("geometry/nut_inner") == close(0.024, 0, 1e-12));
  CHECK(f.number("geometry/seat_outer") == close(0.046, 0, 1e-12));
  CHECK(f.number("geometry/seat_inner") == close(0.025, 0, 1e-12));
  CHECK(f.number("geometry/stud_diameter") == close(0.022, 0, 1e-12));
  CHECK(f.number("geometry/thread_pitch") == close(0.0015, 0, 1e-12));
  CHECK(f.number("geometry/stud_count") == 5);
  CHECK(f.number("geometry/bolt_circle") == close(0.280, 0, 1e-12));
  CHECK(f["geometry/thread"].text == Texts{"M22x1.5"});
  CHECK(f["geometry/property_class"].text == Texts{"demo class"});
  CHECK_FALSE(f.has("geometry/washer_outer"));
  CHECK_FALSE(f.has("geometry/nut_sleeve"));
}

TEST_CASE("figures: each coating is told with its face, part and side, in the order of the layers") {
  const ScenarioText text = painted();
  const Derived f(text);
  const Texts layers = make_header(text.scenario()).layers;
  REQUIRE(layers.size() == 3);
  CHECK(f["geometry/layer_thickness"].labels == layers);
  CHECK(f["geometry/layer_thickness"].values.at(0) == close(70e-6, 0, 1e-12));
  CHECK(f["geometry/layer_thickness"].values.at(1) == close(90e-6, 0, 1e-12));
  CHECK(f["geometry/layer_thickness"].values.at(2) == close(50e-6, 0, 1e-12));
  CHECK(f["geometry/layer_interface"].text == Texts{"hub | disc", "disc | outer disc", "disc | outer disc"});
  CHECK(f["geometry/layer_part"].text == Texts{"disc", "disc", "outer disc"});
  CHECK(f["geometry/layer_side"].text == Texts{"head_side", "nut_side", "head_side"});
  CHECK(f["geometry/layer_coating"].text == Texts{"paint", "paint", "paint"});
  CHECK_FALSE(Derived(ScenarioText()).has("geometry/layer_thickness")); // bare
}

TEST_CASE("figures: spring washers are listed where there are some") {
  ScenarioText text;
  text.nut = "bearing: {outer: 36 mm, inner: 24 mm}, spring_washers: {outer: 50 mm, inner: 25 mm, thickness: 2.5 mm, "
             "cone_height: 0.9 mm, material: stud steel, parallel: 3, series: 2, friction: 0.02}";
  const Derived f(text);
  CHECK(f.number("geometry/washer_outer") == close(0.050, 0, 1e-12));
  CHECK(f.number("geometry/washer_inner") == close(0.025, 0, 1e-12));
  CHECK(f.number("geometry/washer_thickness") == close(0.0025, 0, 1e-12));
  CHECK(f.number("geometry/washer_cone_height") == close(0.0009, 0, 1e-12));
  CHECK(f.number("geometry/washer_parallel") == 3);
  CHECK(f.number("geometry/washer_series") == 2);
}

TEST_CASE("figures: order, passes and friction of the tightening") {
  ScenarioText text;
  text.studs = 5;
  text.passes = "0.5, 1.0";
  text.order = "[2, 4, 1, 3, 5]";
  const Derived f(text);
  CHECK(f["tightening/order"].values == Numbers{2, 4, 1, 3, 5});
  REQUIRE(f["tightening/pass_torque"].values.size() == 2);
  CHECK(f["tightening/pass_torque"].values[0] == close(320, 0, 1e-12));
  CHECK(f["tightening/pass_torque"].values[1] == close(640, 0, 1e-12));
  CHECK(f["tightening/pass_share"].values == Numbers{0.5, 1});
  CHECK(f["tightening/friction_thread"].values == Numbers{0.12});
  CHECK(f.number("tightening/breakaway") == close(1.10, 0, 1e-12));
  CHECK(f.number("tightening/temperature") == close(293.15, 0, 1e-12));
}

TEST_CASE("figures: friction that differs from stud to stud is a list") {
  ScenarioText text;
  text.studs = 3;
  text.friction = "thread: [0.12, 0.10, 0.12], bearing: 0.11, breakaway: 1.10";
  const Derived f(text);
  CHECK(f["tightening/friction_thread"].values == Numbers{0.12, 0.10, 0.12});
  CHECK(f["tightening/friction_thread"].labels == Texts{"1", "2", "3"});
  CHECK(f["tightening/friction_bearing"].values == Numbers{0.11});
}

TEST_CASE("figures: check shows geometry and tightening, stud numbers without decimals") {
  const test::TmpDir dir;
  test::write_text(dir / "wheel.yaml", painted().text());
  const std::string command = test::quote(CLAMPFADE_PROGRAM) + " check " + test::quote(dir / "wheel.yaml");
  const test::CliResult text = test::run_cli(command);
  REQUIRE(text.exit == 0);
  CHECK(text.out.find("\nGeometry\n") != std::string::npos);
  CHECK(text.out.find("\nTightening\n") != std::string::npos);
  const std::size_t at = text.out.find("number of studs");
  REQUIRE(at != std::string::npos);
  const std::string line = text.out.substr(at, text.out.find('\n', at) - at);
  CHECK(line.substr(line.find_last_not_of("5 ") + 1).find('5') != std::string::npos);
  CHECK(line.find('.') == std::string::npos);
  const auto json = nlohmann::json::parse(test::run_cli(command + " --json").out);
  CHECK(json["tightening"]["order"] == nlohmann::json::parse("[1, 3, 5, 2, 4]"));
  CHECK(json["geometry"]["units"]["bolt_circle"] == "m");
  CHECK(json["geometry"]["labels"]["layer_side"].size() == 3);
}

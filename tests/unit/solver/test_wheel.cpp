#include "solver/wheel.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::Bench;
using test::close;
using test::ScenarioText;

TEST_CASE("wheel: a rig turns a nut by four slides a turn, a rolling wheel by two pi") {
  const auto turned = [](const char* motion) {
    ScenarioText s;
    s.motion = motion;
    s.pilot = "clearance: 1 mm";
    Bench b(s);
    b.tighten_all(20e3);
    RoadLoad road;
    road.load.radial = 60e3; // twice what friction holds
    road.turn_rate = 2;
    b.hold(1e-4, 293.15, road); // so short that the clamp does not change
    return b.loss(Mechanism::NutRotation);
  };
  const double rolling = turned("rotating");
  CHECK(rolling > 1e-12);
  CHECK(turned("reciprocating") / rolling == close(4 / (2 * kPi), 0, 1e-6));
}

TEST_CASE("wheel: a column that opened stays open until it carries a hundredth of its clamp") {
  Bench b{ScenarioText()};
  b.tighten_all(150e3);
  const double set = b.wheel.first_clamp(0);
  struct Row {
    double share;
    bool open;
  };
  for (const Row& row :
       {Row{2e-6, false}, Row{0.5e-6, true}, Row{0.9e-2, true}, Row{1.1e-2, false}, Row{2e-6, false}}) {
    CAPTURE(row.share);
    b.tighten(0, row.share * set);
    CHECK(b.wheel.open(b.x, 0) == row.open);
    CHECK_FALSE(b.wheel.open(b.x, 1));
  }
}

TEST_CASE("wheel: hot spring washers push by their hot modulus") {
  ScenarioText s;
  s.stud_material = "youngs: [[20 degC, 200 GPa], [220 degC, 180 GPa]], poisson: 0.3, expansion: 11e-6 1/K";
  s.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  s.nut += ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
           "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1}";
  Bench b(s);
  b.tighten_all(170e3);
  const WasherStack& washers = *b.joint.washers();
  // What was shortened in all while the nut was turned; it stays when the wheel warms up.
  const double all = b.compliance(293.15) * 170e3 + washers.compress(170e3).deflection;
  const double hot = 293.15 + 100;
  b.hold(1, hot);
  Elastic e;
  b.joint.elastic(std::vector<double>(b.joint.stud_place() + 1, hot), e);
  const double f = b.clamp();
  CHECK(std::abs(f - 170e3) > 1e3);
  CHECK(e.washer_modulus == close(0.95, 0, 1e-12));
  CHECK(b.compliance(hot) * f + washers.compress(f / 0.95).deflection + e.offset[0] == close(all, 0, 1e-9));
}

TEST_CASE("wheel: a nut that slides wears its seat by what is left once its stud has bent") {
  ScenarioText s;
  s.pilot = "clearance: 1 mm";
  s.interfaces = ", \"disc | nut\": {wear: 1e-12 1/Pa}";
  Bench b(s);
  b.tighten_all(20e3);
  RoadLoad road;
  road.load.radial = 60e3; // twice what friction holds: the wheel lies against its stop
  road.turn_rate = 2;
  b.hold(1e-4, 293.15, road);
  const double d3 = b.joint.stud().thread().minor_diameter();
  const double bent = 0.12 * 20e3 * std::pow(44e-3, 3) / (12 * 200e9 * kPi * std::pow(d3, 4) / 64);
  const double worn = 1e-12 * 20e3 / b.joint.seat_area() * 4 * (0.5e-3 - bent);
  CHECK(bent > 5e-6);
  // Meanwhile the nut turns and costs a ten-thousandth of the clamp.
  CHECK(b.loss(Mechanism::Wear) == close(worn * 2 * 1e-4, 0, 1e-4));
}

TEST_CASE("wheel: a nut that its prevailing torque holds back is followed in steps as long as its course is smooth") {
  // Near the clamp at which the prevailing torque stops it the nut turns the slower the less clamp is left. That answer
  // is strong: rates put in and taken out in turn swing to and fro, and only ever shorter steps would settle them.
  ScenarioText s;
  s.studs = 3;
  s.nut = "bearing: {outer: 36 mm, inner: 24 mm}, prevailing_torque: 2 N*m";
  s.pilot = "clearance: 2 mm";
  s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 24e-6 1/K";
  Bench b(s, 1e-6);
  b.tighten_all(9e3);
  RoadLoad road;
  road.load.radial = 90e3; // far more than friction holds
  road.turn_rate = 5;
  // Discs that grow press it again and again as far as it turns.
  const std::uint64_t steps = b.hold(
      600, [](double t) { return 293.15 + t / 20; }, road);
  CHECK(b.clamp() > 8e3);
  CHECK(b.clamp() < 9e3);
  CHECK(steps < 400);
}

TEST_CASE("wheel: a free nut follows what heat would press it by, and no farther than it turns in that time") {
  ScenarioText s;
  s.studs = 3;
  s.pilot = "clearance: 2 mm";
  s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 24e-6 1/K";
  Bench b(s, 1e-6);
  b.tighten_all(20e3);
  RoadLoad road;
  road.load.radial = 60e3; // more than friction holds
  road.turn_rate = 2;
  b.hold(600, 293.15, road);
  REQUIRE(b.wheel.open(b.x, 0));
  const auto warm = [](double t) { return 293.15 + t / 60; };
  // The disc outgrows the stud: (24e-6 - 11e-6) x 12 mm for every kelvin, which the nut turns back.
  const double turned = b.loss(Mechanism::NutRotation);
  const std::uint64_t steps = b.hold(1200, warm, road);
  CHECK(b.wheel.open(b.x, 0));
  CHECK(b.clamp() == 0);
  CHECK(steps < 60); // not one to each time that it would close and run off again
  b.hold(1, warm(1200), road);
  const double grown = 13e-6 * 12e-3 * 20;
  const double back = b.loss(Mechanism::NutRotation) - turned;
  CHECK(back > grown / 2); // what it had run off too far first closes
  CHECK(back <= grown * (1 + 1e-9));
  const double more = b.loss(Mechanism::NutRotation);
  b.hold(
      600, [&](double t) { return warm(1200 + t); }, road);
  CHECK(b.loss(Mechanism::NutRotation) - more == close(13e-6 * 12e-3 * 10, 0, 1e-6));

  // Standing still nothing turns: heat closes the joint.
  const double still = b.loss(Mechanism::NutRotation);
  b.hold(600, [&](double t) { return warm(1800 + t); });
  CHECK(b.loss(Mechanism::NutRotation) == still);
  CHECK(b.clamp() == close(13e-6 * 12e-3 * 10 / b.compliance(warm(2400)), 0, 1e-6));

  // Heat that comes faster than it can turn presses it.
  const double before = b.loss(Mechanism::NutRotation);
  road.turn_rate = 1e-4;
  b.hold(
      10, [&](double t) { return warm(2400) + t; }, road);
  CHECK(b.clamp() > 0.9 * 13e-6 * 12e-3 * 20 / b.compliance(warm(2400)));
  CHECK(b.loss(Mechanism::NutRotation) > before);
}

TEST_CASE("wheel: nested springs that stick remember the turn of the heat, however long the steps are") {
  ScenarioText s;
  s.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  s.nut += ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
           "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, friction: 0.15}";
  const auto day = [](double t) { return 293.15 + 10 * std::sin(2 * kPi * t / 86400 - 0.4); };
  const auto after = [&](double piece) {
    Bench b(s);
    b.tighten_all(100e3);
    for (double t = 0; t < 43200; t += piece) {
      b.hold(piece, [&](double late) { return day(t + late); });
    }
    return b.clamp();
  };
  const double fine = after(60);
  CHECK(after(43200) == close(fine, 0.5, 0));

  Bench b(s);
  b.tighten_all(100e3);
  const NodeTemperatures nodes = [&](double t, std::vector<double>& out) { out = {day(t)}; };
  const double turn = 86400 * (0.25 + 0.4 / (2 * kPi));
  CHECK(b.wheel.until_heat_turns(b.x, turn - 500, 900, nodes, 1e-7) == close(500, 4, 0));
  CHECK(b.wheel.until_heat_turns(b.x, turn - 500, 900, nodes, 1e-2) == 900); // nobody would see it
  CHECK(b.wheel.until_heat_turns(b.x, turn + 1, 900, nodes, 1e-7) == 900);
  CHECK(Bench{ScenarioText()}.wheel.until_heat_turns(b.x, turn - 500, 900, nodes, 1e-7) == 900); // nothing sticks
}

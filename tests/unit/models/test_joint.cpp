// What a joint works out of its description: shares, play, places of the laws, warm washers.
#include "models/joint.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <numeric>

using namespace clampfade;
using test::close;
using test::ScenarioText;

namespace {

constexpr double kCold = 293.15;

Joint joint_of(const Scenario& s) { return Joint(s.joint, test::node_names(s), s.tightening.temperature); }

std::vector<double> all_at(const Joint& joint, double kelvin) {
  return std::vector<double>(joint.stud_place() + 1, kelvin);
}

Elastic elastic_at(const Joint& joint, double kelvin) {
  Elastic e;
  joint.elastic(all_at(joint, kelvin), e);
  return e;
}

double sum(const std::vector<double>& values) { return std::accumulate(values.begin(), values.end(), 0.0); }

const PlacedLaw& law(const std::vector<PlacedLaw>& laws, const std::string& name) {
  const auto found = std::find_if(laws.begin(), laws.end(), [&](const PlacedLaw& p) { return p.name == name; });
  REQUIRE(found != laws.end());
  return *found;
}

const char* const kWasherNut = "bearing: {outer: 36 mm, inner: 24 mm}, seat: {outer: 46 mm, inner: 25 mm}, "
                               "spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, cone_height: 0.40 mm, "
                               "material: stud steel, parallel: 3, series: 1, set: 0.01}";

} // namespace

TEST_CASE("joint: the load factor is the parts' share, scaled by where the load enters") {
  ScenarioText text;
  text.disc += ", head_side: {coating: paint, thickness: 80 um}";
  Scenario s = text.scenario();
  for (const double entry : {0.3, 0.5, 1.0}) {
    CAPTURE(entry);
    s.joint.load_introduction = entry;
    const Joint joint = joint_of(s);
    const double stud = joint.stud().compliance(kCold);
    const double parts = sum(elastic_at(joint, kCold).compliance) - stud;
    CHECK(joint.load_factor(all_at(joint, kCold), 0) == close(entry * parts / (parts + stud), 0, 1e-12));
  }
}

TEST_CASE("joint: a sleeve fills the holes, and the pilot holds before the studs") {
  // The disc's hole is 26 mm, the stud 22 mm.
  Scenario s = ScenarioText().scenario();
  s.joint.pilot_clearance = 10e-3;
  CHECK(joint_of(s).clearance() == close(4e-3, 1e-15, 0));
  s.joint.nut.sleeve = 25.4e-3;
  CHECK(joint_of(s).clearance() == close(0.6e-3, 1e-15, 0));
  s.joint.pilot_clearance = 0.25e-3;
  CHECK(joint_of(s).clearance() == close(0.25e-3, 1e-15, 0));
  s.joint.pilot_clearance.reset();
  CHECK(joint_of(s).clearance() == close(0.6e-3, 1e-15, 0));
  s.joint.nut.sleeve = 26.5e-3; // a press fit leaves no play, not a negative one
  CHECK(joint_of(s).clearance() == 0);
}

TEST_CASE("joint: every law acts at its own place") {
  ScenarioText text;
  const std::string creep = ", creep: {coefficient: 1e-4 1/s, exponent: 5, activation: 150 kJ/mol}";
  text.stud_material += creep;
  text.disc_material += creep;
  text.disc += ", head_side: {coating: paint, thickness: 80 um}";
  text.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  text.thread_contact = "embedding: 3 um";
  text.nut = kWasherNut;
  text.ring = "active: true";
  const Joint joint = joint_of(text.scenario());
  const std::vector<PlacedLaw> laws = joint.make_laws();
  struct Row {
    const char* name;
    std::size_t segment, place;
  };
  // Segments: head to the disc's face, the disc, the rest with stud and washers. Places: 2 parts, 3 interfaces, stud.
  const Row rows[] = {{"embedding at head | hub", 0, 2}, {"embedding at hub | disc", 0, 3},
                      {"embedding at disc | nut", 2, 4}, {"coating_creep at hub | disc: disc head_side", 0, 3},
                      {"metal_creep of disc", 1, 1},     {"embedding in the thread", 2, 5},
                      {"metal_creep of the stud", 2, 5}, {"washer_set", 2, 5}};
  CHECK(joint.segments() == 3);
  CHECK(laws.size() == std::size(rows));
  for (const Row& row : rows) {
    CAPTURE(row.name);
    CHECK(law(laws, row.name).segment == row.segment);
    CHECK(law(laws, row.name).temperature == row.place);
  }
}

TEST_CASE("joint: parts have the heat of their nodes, interfaces the mean of theirs, the stud that of its own") {
  ScenarioText text;
  text.nodes = "hub: {capacity: 20 kJ/K, still: 20 W/K}, disc: {capacity: 20 kJ/K, still: 20 W/K}, air side: "
               "{capacity: 20 kJ/K, still: 20 W/K}";
  text.brake = "hub";
  text.hub = "thickness: 32 mm, hole: 24 mm, pad: 75 mm, node: hub";
  text.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: disc";
  text.stud_node = "[hub, disc, air side]";
  const Joint joint = joint_of(text.scenario());
  std::vector<double> places;
  joint.place_temperatures(std::vector<double>{400, 340, 310}, places);
  const double expected[] = {400, 340, 400, 370, 340, 350};
  REQUIRE(places.size() == std::size(expected));
  for (std::size_t i = 0; i < places.size(); ++i) {
    CAPTURE(i);
    CHECK(places[i] == close(expected[i], 1e-12, 0));
  }
}

TEST_CASE("joint: warm parts and washers push, a warm stud gives way, a hot modulus weakens the washers") {
  ScenarioText text;
  text.stud_material = "youngs: [[20 degC, 200 GPa], [220 degC, 180 GPa]], poisson: 0.3, expansion: 11e-6 1/K";
  text.hub_material = "youngs: 170 GPa, poisson: 0.28, expansion: 10e-6 1/K";
  text.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  text.nut = kWasherNut;
  const Joint joint = joint_of(text.scenario());
  const Elastic warm = elastic_at(joint, kCold + 100);
  // Grip: 32 + 12 mm and washers of 0.4 + 3 x 7 mm, which are of the stud's steel.
  CHECK(joint.grip() == close(65.4e-3, 0, 1e-12));
  const double expected = -100 * (10e-6 * 32e-3 + 23e-6 * 12e-3 + 11e-6 * 21.4e-3 - 11e-6 * 65.4e-3);
  CHECK(sum(warm.offset) == close(expected, 1e-18, 1e-12));
  CHECK(warm.washer_modulus == close(0.95, 0, 1e-12));
  CHECK(sum(elastic_at(joint, kCold).offset) == 0);
  CHECK(elastic_at(joint, kCold).washer_modulus == 1);
}

TEST_CASE("joint: heat softens stud and washers by their modulus, and the load factor with them") {
  ScenarioText s;
  s.stud_material = "youngs: [[20 degC, 200 GPa], [200 degC, 180 GPa]], poisson: 0.3, expansion: 11e-6 1/K";
  s.nut += ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
           "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1}";
  const test::Bench bench(s);
  const auto factor = [&](double kelvin, double washers) {
    return bench.joint.load_factor(std::vector<double>(bench.joint.stud_place() + 1, kelvin), washers);
  };
  const double slope = 4e-10;
  const double n = bench.scenario.joint.load_introduction;
  const double stud = bench.joint.stud().compliance(293.15);
  // The parts keep their modulus: their compliance follows from the cold factor.
  const double cold = factor(293.15, slope);
  const double parts = cold * (stud + slope) / (n - cold);
  CHECK(factor(473.15, slope) == close(n * parts / (parts + (stud + slope) / 0.9), 0, 1e-12));
  CHECK(factor(473.15, slope) < cold);
}

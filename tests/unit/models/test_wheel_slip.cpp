#include "models/wheel_slip.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;
using test::ScenarioText;

namespace {

/// A hub and two discs; faces hold with a friction of 0.15 and give 1e-10 m/N.
Joint duals(bool ring, double clearance) {
  ScenarioText text;
  text.second_disc = text.disc;
  text.ring = ring ? "active: true" : "active: false";
  Scenario s = text.scenario();
  s.joint.pilot_clearance = clearance;
  return Joint(s.joint, test::node_names(s), s.tightening.temperature);
}

} // namespace

TEST_CASE("wheel slip: each face holds with the force of its own segment") {
  const Joint joint = duals(true, 0.6e-3);
  // Head to hub | disc, disc, disc | outer disc, outer disc, under the nut; one column for ten studs.
  const std::vector<double> forces = {100e3, 120e3, 40e3, 130e3, 90e3};
  REQUIRE(joint.segments() == forces.size());
  WheelSlip out;
  wheel_slip(joint, {60e3, 0, 0, 0}, forces, std::vector<double>{10}, out);
  // All of the load crosses hub | disc, half of it the face between the discs: 2.5 and 2.
  CHECK(out.margin == close(0.15 * 10 * 40e3 / 30e3, 0, 1e-12));
  // 1 - (1 - s/s_f)^1.5 = Q/(mu F), s_f = c_t mu F of one stud.
  const auto slip_of = [](double force, double ratio) {
    return 1e-10 * 0.15 * force * (1 - std::pow(1 - ratio, 2.0 / 3));
  };
  REQUIRE(out.displacement.size() == 4);
  CHECK(out.displacement[0] == 0);
  CHECK(out.displacement[1] == close(slip_of(100e3, 1 / 2.5), 0, 1e-12));
  CHECK(out.displacement[2] == close(slip_of(40e3, 1 / 2.0), 0, 1e-12));
  CHECK(out.displacement[3] == 0);
  CHECK(out.joint == close(out.displacement[1] + out.displacement[2], 0, 1e-12));
}

TEST_CASE("wheel slip: the wheel moves no further than its play, nor less than its faces give") {
  // Far past friction both faces run to half the play; together they cannot go further than that.
  const std::vector<double> forces = {100e3};
  WheelSlip out;
  wheel_slip(duals(false, 0.6e-3), {600e3, 0, 0, 0}, forces, std::vector<double>{10}, out);
  CHECK(out.displacement[1] == close(0.3e-3, 0, 1e-12));
  CHECK(out.displacement[2] == close(0.3e-3, 0, 1e-12));
  CHECK(out.joint == close(0.3e-3, 0, 1e-12));
  // Without play each face still gives by its gross slip.
  wheel_slip(duals(false, 0), {600e3, 0, 0, 0}, forces, std::vector<double>{10}, out);
  CHECK(out.displacement[1] == close(1e-10 * 0.15 * 100e3, 0, 1e-12));
  CHECK(out.joint == close(2 * 1e-10 * 0.15 * 100e3, 0, 1e-12));
}

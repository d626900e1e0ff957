// Checks: a run that goes on from a checkpoint gives the same bits as one that was never broken off.
// Problem: a painted round without coupling; a coupled ring of wavy discs with a retorque and a nut removed; washers
//   with friction through hot days; a coupled wheel whose nuts turn off over several days.
// Reference: the unbroken run itself.
// Tolerance: none, all numbers are compared with ==.
// Fails if: anything that the next step depends on is not in the checkpoint.
#include "models/units.hpp"
#include "solver/diagnostics.hpp"
#include "solver/simulation.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

using namespace clampfade;
using test::MemorySink;
using test::ScenarioText;

namespace {

RunOptions every_day() {
  RunOptions options;
  options.checkpoint_every = 0;
  return options;
}

/// Holds each row of `later` against the row that stands as far from the end of `whole`.
template <class Row, class Compare>
void each_at_the_end(const std::vector<Row>& whole, const std::vector<Row>& later, const Compare& compare) {
  REQUIRE(later.size() <= whole.size());
  const std::size_t skip = whole.size() - later.size();
  for (std::size_t i = 0; i < later.size(); ++i) {
    CAPTURE(i);
    compare(whole[skip + i], later[i]);
  }
}

/// Everything that `later` wrote must stand at the end of what `whole` wrote.
void check_same_end(const MemorySink& whole, const MemorySink& later) {
  REQUIRE(later.records.size() < whole.records.size());
  REQUIRE(!later.records.empty());
  each_at_the_end(whole.records, later.records, [](const RecordRow& a, const RecordRow& b) {
    CAPTURE(a.time);
    CHECK(a.time == b.time);
    CHECK(a.distance == b.distance);
    CHECK(a.stops == b.stops);
    CHECK(a.clamp == b.clamp);
    CHECK(a.clamp_cold == b.clamp_cold);
    CHECK(a.temperature == b.temperature);
    CHECK(a.slip_margin == b.slip_margin);
    CHECK(a.loss == b.loss);
    CHECK(a.loss_clamp == b.loss_clamp);
    CHECK(a.fatigue_amplitude == b.fatigue_amplitude);
    CHECK(a.utilisation == b.utilisation);
    CHECK(a.seat_pressure == b.seat_pressure);
    CHECK(a.layer_thickness == b.layer_thickness);
    CHECK(a.check_torque == b.check_torque);
    CHECK(a.retorque_gain == b.retorque_gain);
  });
  each_at_the_end(whole.events, later.events, [](const EventRow& a, const EventRow& b) {
    CHECK(a.time == b.time);
    CHECK(a.distance == b.distance);
    CHECK(a.stud == b.stud);
    CHECK(a.kind == b.kind);
    CHECK(a.text == b.text);
  });
  each_at_the_end(whole.acts, later.acts, [](const ActRow& a, const ActRow& b) {
    CHECK(a.time == b.time);
    CHECK(a.pass == b.pass);
    CHECK(a.stud == b.stud);
    CHECK(a.torque == b.torque);
    CHECK(a.clamp == b.clamp);
    CHECK(a.clamp_end == b.clamp_end);
    CHECK(a.moved == b.moved);
  });
  REQUIRE(later.work.size() == later.records.size());
  each_at_the_end(whole.work, later.work, [](const StepsRow& a, const StepsRow& b) {
    CHECK(a.time == b.time);
    CHECK(a.steps == b.steps);
    CHECK(a.rejected == b.rejected);
    CHECK(a.smallest == b.smallest);
    CHECK(a.controlled_by == b.controlled_by);
    CHECK(a.resolution == b.resolution);
  });
  // Checkpoints too: what follows the last record is also the same.
  CHECK(whole.checkpoints.back().numbers == later.checkpoints.back().numbers);
  CHECK(whole.checkpoints.back().counters == later.checkpoints.back().counters);
}

/// Straight through, from a checkpoint after day `first`, and from that run's checkpoint after day `second`.
void check_resume(const ScenarioText& text, std::size_t first, std::size_t second) {
  const Scenario s = text.scenario();
  MemorySink whole;
  REQUIRE(run(s, whole, every_day()) == RunStatus::Complete);
  REQUIRE(whole.checkpoints.size() == 8); // one as tightened, then one a day
  MemorySink once;
  REQUIRE(resume(s, whole.checkpoints[first], once, every_day()) == RunStatus::Complete);
  check_same_end(whole, once);
  MemorySink twice;
  REQUIRE(once.checkpoints.size() == 7 - first);
  REQUIRE(resume(s, once.checkpoints[second - first - 1], twice, every_day()) == RunStatus::Complete);
  check_same_end(whole, twice);
  CHECK(whole.records.back().loss[index(Mechanism::CoatingCreep)] > 1e-6); // something happened
}

ScenarioText painted_round() {
  ScenarioText s;
  s.disc_material = "youngs: [[20 degC, 205 GPa], [200 degC, 195 GPa]], poisson: 0.3, expansion: 12e-6 1/K";
  s.coating +=
      ", breakdown: {rate: 0.01 1/h, at: 150 degC, activation: 120 kJ/mol}, flow: {viscosity: 1e9 Pa*s, at: 120 "
      "degC}";
  s.disc += ", head_side: {coating: paint, thickness: 90 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.ambient = "mean: 15 degC, daily_swing: 6 K, yearly_swing: 8 K";
  s.day =
      "{park: {until: 5 h}}, {drive: {distance: 6 km, speed: 50 km/h}}, {round: {stops: 15, spacing: 300 m, top_speed: "
      "30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 20 s}}, {drag: {power: 3 kW, speed: 20 km/h, "
      "duration: 1 h}}";
  s.calendar = "working_days_per_week: 5, weeks: 1";
  s.record = "every: 5 h, at: [4 d, 90 km]"; // one record falls on a checkpoint, most do not
  return s;
}

} // namespace

TEST_CASE("resume: a painted round goes on to the same bits") {
  ScenarioText s = painted_round();
  check_resume(s, 2, 5);
  s.resolution = "envelope"; // and where days are run in stretches
  check_resume(s, 1, 3);
}

TEST_CASE("resume: a coupled wavy ring with services goes on to the same bits") {
  ScenarioText s = painted_round();
  s.studs = 6;
  s.ring = "active: true, factor: 10";
  s.disc += ", flatness: {amplitude: 0.1 mm, lobes: 2}";
  s.passes = "0.5, 1.0";
  s.pause = "5 s";
  s.friction = "thread: 0.12, bearing: 0.12, breakaway: [[0 s, 1.0], [3 d, 1.05]]";
  s.service =
      "{retorque: {after: 30 h}}, {remove_nut: {stud: 3, after: 3 d}}, {retorque: {after: 5 d}}, {hot_day: {after: 4 "
      "d, extra_power: 800 W}}";
  check_resume(s, 3, 4);
  check_resume(s, 1, 6);
}

TEST_CASE("resume: washers with friction go on to the same bits") {
  ScenarioText s = painted_round();
  s.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  s.nut +=
      ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
      "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, friction: 0.02, set: [[20 degC, 0], [100 "
      "degC, 0.03]]}";
  check_resume(s, 2, 3);
  s.ring = "active: true, factor: 10";
  s.studs = 5;
  check_resume(s, 4, 5);
}

TEST_CASE("resume: a coupled wheel whose nuts turn off goes on to the same bits from any day") {
  ScenarioText s;
  s.studs = 6;
  s.ring = "active: true, factor: 10";
  s.second_disc = s.disc;
  s.pilot = "clearance: 1 mm";
  s.interface_default = "embedding: 3 um, friction: 0.12, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  // Holds less than the wheel asks for, so that every metre turns the nuts, the looser ones first.
  s.torque = "[200 N*m, 200 N*m, 100 N*m, 200 N*m, 200 N*m, 100 N*m]";
  s.passes = "0.5, 1.0";
  s.pause = "5 s";
  s.day = "{park: {until: 5 h}}, {drive: {distance: 6 m, speed: 10 km/h}}";
  s.record = "every: 5 h";
  const Scenario scenario = s.scenario();
  MemorySink whole;
  REQUIRE(run(scenario, whole, every_day()) == RunStatus::Complete);
  REQUIRE(whole.checkpoints.size() == 8); // one as tightened, then one a day
  // Checkpoints stand before the first nut comes off, between the first and the last, and after the last.
  std::vector<double> opened;
  for (const EventRow& e : whole.events) {
    if (e.kind == "open") {
      opened.push_back(e.time / units::kDay);
    }
  }
  REQUIRE(opened.size() == 6);
  CHECK(opened.front() > 1);
  CHECK(std::floor(opened.back()) > std::floor(opened.front()));
  CHECK(opened.back() < 6);
  for (std::size_t day = 1; day < 7; ++day) {
    CAPTURE(day);
    MemorySink rest;
    REQUIRE(resume(scenario, whole.checkpoints[day], rest, every_day()) == RunStatus::Complete);
    check_same_end(whole, rest);
  }
}

TEST_CASE("resume: a checkpoint with a number that is none is damaged, whichever number it is") {
  const Scenario s = painted_round().scenario();
  MemorySink stopped;
  RunOptions options;
  options.progress = [](double time, double) { return time < 1 * 86400.0; };
  REQUIRE(run(s, stopped, options) == RunStatus::Stopped);
  const Checkpoint good = stopped.checkpoints.back();
  REQUIRE(good.numbers.size() > 50);
  for (const double wrong : {std::nan(""), -HUGE_VAL}) {
    for (std::size_t k = 0; k < good.numbers.size(); ++k) {
      CAPTURE(k);
      Checkpoint bent = good;
      bent.numbers[k] = wrong;
      MemorySink rest;
      try {
        (void)resume(s, bent, rest);
        FAIL("it went on");
      } catch (const FileError& e) {
        CHECK(e.code() == Code::FileTruncated);
        CHECK(rest.records.empty());
      }
    }
  }
}

TEST_CASE("resume: a run that is stopped says so and can go on") {
  const Scenario s = painted_round().scenario();
  MemorySink whole;
  REQUIRE(run(s, whole, every_day()) == RunStatus::Complete);
  MemorySink stopped;
  RunOptions options;
  options.progress = [](double time, double) { return time < 3 * 86400.0; };
  REQUIRE(run(s, stopped, options) == RunStatus::Stopped);
  CHECK(stopped.status == RunStatus::Stopped);
  CHECK(stopped.text == "stopped after day 3 of 7");
  REQUIRE(stopped.checkpoints.size() == 2);
  CHECK(stopped.checkpoints[1].time == 3 * 86400.0);
  MemorySink rest;
  REQUIRE(resume(s, stopped.checkpoints[1], rest, every_day()) == RunStatus::Complete);
  check_same_end(whole, rest);
  CHECK(stopped.records.size() + rest.records.size() == whole.records.size());

  // In the middle of a day too; the last checkpoint is then that of a midnight before.
  MemorySink cut;
  options.progress = [](double time, double) { return time < 0.3 * 86400.0; };
  REQUIRE(run(s, cut, options) == RunStatus::Stopped);
  CHECK(cut.text == "stopped in day 1 of 7");
  REQUIRE(cut.checkpoints.size() == 1);
  MemorySink again;
  REQUIRE(resume(s, cut.checkpoints[0], again, every_day()) == RunStatus::Complete);
  check_same_end(whole, again);
}

TEST_CASE("resume: a crossing of the required clamp in the first step of a day is told at the same instant") {
  ScenarioText text = painted_round();
  text.record = "every: 1 d";
  Scenario s = text.scenario();
  MemorySink look;
  REQUIRE(run(s, look, every_day()) == RunStatus::Complete);
  double midnight = 0;
  for (const RecordRow& r : look.records) {
    midnight = r.time == 3 * units::kDay ? r.clamp_cold[0] : midnight;
  }
  REQUIRE(midnight > 1e5);
  s.required_clamp = midnight - 1e-3; // N
  MemorySink whole;
  REQUIRE(run(s, whole, every_day()) == RunStatus::Complete);
  MemorySink rest;
  REQUIRE(resume(s, whole.checkpoints[3], rest, every_day()) == RunStatus::Complete);
  REQUIRE(!rest.events.empty());
  CHECK(rest.events.front().kind == "below required clamp");
  CHECK(rest.events.front().time > 3 * units::kDay);
  CHECK(rest.events.front().time < 3.1 * units::kDay);
  check_same_end(whole, rest);
}

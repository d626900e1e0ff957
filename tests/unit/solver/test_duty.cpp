#include "models/constants.hpp"
#include "solver/diagnostics.hpp"
#include "solver/duty.hpp"
#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;
using test::ScenarioText;

namespace {

std::vector<Span> day_of(const std::string& steps) {
  ScenarioText s;
  s.day = steps;
  return working_day(s.scenario());
}

Scenario with_trace(const TraceStep& trace) {
  Scenario s = ScenarioText().scenario();
  s.duty.day = {{trace, {}}};
  return s;
}

constexpr double kLever = 0.5 / 0.14; // rolling radius over that of the bolt circle

} // namespace

TEST_CASE("duty: a day has no holes and lasts 24 hours") {
  const auto spans =
      day_of("{park: {until: 5.5 h}}, {drive: {distance: 10 km, speed: 50 km/h}}, {round: {stops: 3, spacing: "
             "300 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 20 s}}");
  double now = 0;
  for (const Span& s : spans) {
    CHECK(s.start == close(now, 1e-6, 0));
    CHECK(s.duration > 0);
    CHECK(s.duration <= 3600 * (1 + 1e-9));
    now = s.start + s.duration;
  }
  CHECK(now == close(86400, 1e-6, 0));
  CHECK(spans[4].duration == close(3600, 0, 1e-12)); // cut at the clock's hours
  CHECK(spans[5].duration == close(1800, 0, 1e-12));
  CHECK(spans[0].parked);
  const std::vector<Span> off = day_off(ScenarioText().scenario());
  CHECK(off.size() == 24);
}

TEST_CASE("duty: a stop accelerates, cruises, brakes and dwells") {
  const auto spans =
      day_of("{round: {stops: 1, spacing: 100 m, top_speed: 8 m/s, acceleration: 0.8 m/s^2, deceleration: 1.6 "
             "m/s^2, dwell: 15 s}}");
  REQUIRE(spans.size() > 4);
  CHECK(spans[0].duration == close(10, 0, 1e-12));
  CHECK(spans[0].speed == close(4, 0, 1e-12));
  CHECK(spans[0].load.traction == close(26e3 * 0.8 / 4 * kLever, 0, 1e-12));
  CHECK(spans[0].load.radial == close(1.3 * 45e3, 0, 1e-12));
  CHECK(spans[1].distance() == close(100 - 40 - 20, 0, 1e-12));
  CHECK(spans[1].load.demand() == close(1.3 * 45e3, 0, 1e-12));
  CHECK(spans[2].duration == close(5, 0, 1e-12));
  CHECK(spans[2].brake_heat * 5 == close(0.5 * 26e3 * 64 * 0.95 / 6, 0, 1e-12));
  CHECK(spans[2].load.brake == close(26e3 * 1.6 * 0.95 / 6 * kLever, 0, 1e-12));
  CHECK(spans[2].stop);
  CHECK(spans[3].duration == close(15, 0, 1e-12));
  CHECK(spans[3].speed == 0);
  CHECK_FALSE(spans[3].parked); // too short for the wrench
  CHECK(spans[0].load.moment == close(0.05 * 45e3 * 0.5, 0, 1e-12));
}

TEST_CASE("duty: a short spacing never reaches the top speed") {
  const auto spans =
      day_of("{round: {stops: 1, spacing: 30 m, top_speed: 20 m/s, acceleration: 1 m/s^2, deceleration: 2 "
             "m/s^2, dwell: 600 s}}");
  const double peak = std::sqrt(2 * 30 * 1.0 * 2.0 / 3.0);
  CHECK(spans[0].duration == close(peak, 0, 1e-12));
  CHECK(spans[1].stop); // no cruise in between
  CHECK(spans[0].distance() + spans[1].distance() == close(30, 0, 1e-12));
  CHECK(spans[2].parked); // ten minutes: long enough to be worked on
}

TEST_CASE("duty: a descent held by the brakes heats them, a drag as told") {
  const auto spans = day_of(
      "{drive: {distance: 10 km, speed: 20 m/s, grade: -4 %, held_by_brakes: 0.4}}, {drag: {power: 3 kW, speed: 5 m/s, "
      "duration: 10 min}}, {drive: {distance: 10 km, speed: 20 m/s, grade: 4 %, held_by_brakes: 0.4}}");
  const double force = 0.4 * 26e3 * kGravity * 0.04 / 6;
  CHECK(spans[0].duration == close(500, 0, 1e-12));
  CHECK(spans[0].brake_heat == close(force * 20, 0, 1e-12));
  CHECK(spans[0].load.brake == close(force * kLever, 0, 1e-12));
  CHECK(spans[1].brake_heat == 3000);
  CHECK(spans[1].load.brake == 0);
  CHECK(spans[2].brake_heat == 0); // uphill
}

TEST_CASE("duty: mass runs linearly over a step and the load with it") {
  const auto spans =
      day_of("{round: {stops: 2, spacing: 100 m, top_speed: 8 m/s, acceleration: 0.8 m/s^2, deceleration: 1.6 "
             "m/s^2, dwell: 20 s, mass: [13 t, 26 t]}}");
  // Middle of the first span of 10 s in a round of 2 x 40 s.
  CHECK(spans[0].load.radial == close(1.3 * 45e3 * (13 + 13 * 5.0 / 80) / 26, 0, 1e-12));
  CHECK(spans[7].load.radial == close(1.3 * 45e3 * (13 + 13 * 70.0 / 80) / 26, 0, 1e-12));
}

TEST_CASE("duty: a trace is cut every ten seconds and where the acceleration changes sign") {
  TraceStep t;
  t.file = "demo";
  t.time = {0, 12, 20, 26};
  t.speed = {0, 12, 12, 0};
  t.grade = {0, 0, 0, -0.02};
  const std::vector<Span> spans = working_day(with_trace(t));
  const double lengths[] = {10, 2, 8, 6};
  const double speeds[] = {5, 11, 12, 6};
  for (std::size_t i = 0; i < 4; ++i) {
    CHECK(spans[i].duration == close(lengths[i], 0, 1e-12));
    CHECK(spans[i].speed == close(speeds[i], 0, 1e-12));
  }
  CHECK(spans[0].load.traction == close(26e3 / 4 * kLever, 0, 1e-12));
  // Braking at 2 m/s^2 with the grade's mean of -0.01 helping along.
  const double force = 26e3 * (2 + 0.01 * kGravity) * 0.95 / 6;
  CHECK(spans[3].load.brake == close(force * kLever, 0, 1e-12));
  CHECK(spans[3].brake_heat == close(force * 6, 0, 1e-12));
  CHECK(spans[3].stop);
  CHECK_FALSE(spans[1].stop);
}

TEST_CASE("duty: steps that do not fit into a day are refused") {
  Scenario s = ScenarioText().scenario();
  s.duty.day = {{DriveStep{1000e3, 10, 0, 0}, {}}};
  CHECK_THROWS_AS(working_day(s), InputError);
}

TEST_CASE("duty: working days come first in each week, and the air follows hour and season") {
  const Calendar calendar{5, 2, 100};
  CHECK(days(calendar) == 14);
  CHECK(works(calendar, 0));
  CHECK(works(calendar, 4));
  CHECK_FALSE(works(calendar, 5));
  CHECK(works(calendar, 7));
  DutySpec duty;
  duty.ambient = {288.15, 8, 10};
  duty.calendar = {5, 60, 200};
  CHECK(ambient(duty, 15 * 3600) == close(288.15 + 8 + 10 * std::cos(2 * kPi * 0.625 / 365), 0, 1e-13));
  CHECK(ambient(duty, 3 * 3600) == close(288.15 - 8 + 10 * std::cos(2 * kPi * 0.125 / 365), 0, 1e-13));
  CHECK(ambient(duty, 182.5 * 86400 + 3 * 3600) < 288.15); // half a year on
}

TEST_CASE("duty: the load bends by its offset and by its lateral share") {
  Scenario s = ScenarioText().scenario();
  s.vehicle.load_offset = -30e-3;
  // Half of the mass carried: 22.5 kN; 0.05 of it sideways on a radius of 0.5 m.
  const WheelLoad w = wheel_load(s.vehicle, 0.28, 13e3, 0.05, 1.3, 0, 0);
  CHECK(w.moment == close(22.5e3 * (-30e-3 + 0.05 * 0.5), 0, 1e-12));
  CHECK(w.radial == close(1.3 * 22.5e3, 0, 1e-12));
}

TEST_CASE("duty: the air of a span meets that of its start, middle and end") {
  DutySpec duty;
  duty.ambient = {288.15, 8, 10};
  for (const double start : {0.0, 50 * 86400 + 7.3 * 3600}) {
    const Parabola air = ambient_during(duty, start, 4 * 3600);
    for (const double late : {-7200.0, 0.0, 7200.0}) {
      CHECK(air.at(late) == close(ambient(duty, start + 7200 + late), 3e-9, 0)); // rounded, see there
    }
    // Between them four hours of a day's cosine leave a parabola by A (2 pi/24)^3 x (x^2 - 2^2)/6 hours at most.
    CHECK(air.at(4157) == close(ambient(duty, start + 7200 + 4157), 8 * std::pow(2 * kPi / 24, 3) * 3.08 / 6, 0));
  }
}

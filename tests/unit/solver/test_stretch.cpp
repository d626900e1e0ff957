#include "models/constants.hpp"
#include "models/heat_network.hpp"
#include "solver/stretch.hpp"
#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace clampfade;
using test::close;
using test::ScenarioText;

namespace {

/// A round that fills up, between a drive and parks.
Scenario filling_round() {
  ScenarioText s;
  s.day = "{park: {until: 5 h}}, {drive: {distance: 12 km, speed: 60 km/h, mass: 13 t}}, {round: {stops: 307, spacing: "
          "60 m, top_speed: 24 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 19 s, mass: [13 t, 26 "
          "t]}}, {drag: {power: 3 kW, speed: 20 km/h, duration: 20 min}}";
  return s.scenario();
}

/// What a day is worth, summed over what it is made of.
struct Sums {
  double time = 0, distance = 0, heat = 0, air = 0, moving = 0, stops = 0, turns = 0, cycles = 0;
  double largest = 0; ///< demand [N]
};

Sums sums_of(const std::vector<Stretch>& day) {
  Sums sums;
  for (const Stretch& s : day) {
    sums.time += s.duration;
    sums.distance += s.distance();
    sums.heat += s.brake_heat * s.duration;
    sums.air += HeatNetwork::air_factor(s.wind) * s.duration;
    sums.moving += s.moving * s.duration;
    sums.stops += static_cast<double>(s.stops);
    for (const RoadLoad& road : s.roads) {
      sums.turns += road.turn_rate * s.duration;
      sums.cycles += road.cycle_rate * s.duration;
    }
    for (const WheelLoad& load : s.peak) {
      sums.largest = std::max(sums.largest, load.demand());
    }
  }
  return sums;
}

} // namespace

TEST_CASE("stretch: a day keeps its time, way, heat, wind, turns and cycles") {
  const Scenario s = filling_round();
  const std::vector<Span> spans = working_day(s);
  Sums want;
  for (const Span& span : spans) {
    const double turns = span.distance() / (2 * kPi * s.vehicle.rolling_radius);
    want.time += span.duration;
    want.distance += span.distance();
    want.heat += span.brake_heat * span.duration;
    want.air += HeatNetwork::air_factor(span.speed) * span.duration;
    want.moving += span.speed > 0 ? span.duration : 0;
    want.stops += span.stop ? 1 : 0;
    want.turns += turns;
    want.cycles += turns * span.load.demand() / s.vehicle.load;
    want.largest = std::max(want.largest, span.load.demand());
  }
  REQUIRE(want.stops == 307); // a prime: no number of stretches parts them evenly
  for (const auto& day : {each_span(spans, s.vehicle), drawn_together(spans, s.vehicle)}) {
    const Sums got = sums_of(day);
    CHECK(got.time == close(want.time, 0, 1e-12));
    CHECK(got.distance == close(want.distance, 0, 1e-12));
    CHECK(got.heat == close(want.heat, 0, 1e-12));
    CHECK(got.air == close(want.air, 0, 1e-12));
    CHECK(got.moving == close(want.moving, 0, 1e-12));
    CHECK(got.stops == want.stops);
    CHECK(got.turns == close(want.turns, 0, 1e-12));
    CHECK(got.cycles == close(want.cycles, 0, 1e-12));
    CHECK(got.largest == close(want.largest, 0, 1e-12)); // no load is lost in a mean
  }
}

TEST_CASE("stretch: stops are drawn together by whole cycles, all else stays by itself") {
  const Scenario s = filling_round();
  const std::vector<Span> spans = working_day(s);
  const std::vector<Stretch> day = drawn_together(spans, s.vehicle);
  CHECK(day.size() < spans.size() / 10);
  double now = 0;
  std::size_t drawn = 0;
  for (const Stretch& stretch : day) {
    CHECK(stretch.start == close(now, 1e-6, 0)); // no holes
    now = stretch.start + stretch.duration;
    const auto first =
        std::find_if(spans.begin(), spans.end(), [&](const Span& span) { return span.start == stretch.start; });
    REQUIRE(first != spans.end());
    for (auto span = first; span != spans.end() && span->start < now - 1e-6; ++span) {
      CHECK(std::any_of(stretch.peak.begin(), stretch.peak.end(), [&](const WheelLoad& peak) {
        return peak.demand() >= span->load.demand() * (1 - 1e-12); // what any moment of it asks for
      }));
    }
    if (stretch.stops > 1) {
      ++drawn;
      CHECK(first->begins);
      CHECK_FALSE(stretch.parked);
      CHECK(stretch.duration > 600);
      CHECK(stretch.duration < 1200);
      // Setting off, rolling, braking, standing; each filling up by less than it takes to tell it apart, or in two.
      CHECK(stretch.roads.size() >= 4);
      CHECK(stretch.roads.size() <= 12);
      for (std::size_t k = 0; k < stretch.roads.size(); ++k) {
        CHECK(stretch.peak[k].demand() >= stretch.roads[k].load.demand() * (1 - 1e-12));
        CHECK(stretch.peak[k].demand() <= stretch.roads[k].load.demand() * 1.05);
      }
    } else {
      CHECK(stretch.duration == close(first->duration, 0, 1e-12));
      CHECK(stretch.parked == first->parked);
      CHECK(stretch.speed == first->speed); // to the bit: nothing was summed
      CHECK(stretch.wind == first->speed);
      CHECK(stretch.brake_heat == first->brake_heat);
      CHECK(stretch.roads.size() == 1);
    }
  }
  CHECK(now == close(86400, 1e-6, 0));
  CHECK(drawn >= 5);
}

TEST_CASE("stretch: stops farther apart than a stretch is long stay by their spans") {
  ScenarioText s;
  s.day = "{round: {stops: 3, spacing: 30 km, top_speed: 80 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, "
          "dwell: 15 s}}";
  const Scenario scenario = s.scenario();
  const std::vector<Span> spans = working_day(scenario);
  CHECK(drawn_together(spans, scenario.vehicle).size() == spans.size());
}

TEST_CASE("stretch: a trace that stands still has no way, no wind and no turns") {
  Scenario s = ScenarioText().scenario();
  TraceStep trace;
  trace.time = {0, 300};
  trace.speed = {0, 0};
  s.duty.day = {{trace, {}}};
  const std::vector<Stretch> day = drawn_together(working_day(s), s.vehicle);
  REQUIRE(day.front().duration == close(100, 1e-9, 0)); // a third of it
  CHECK(day.front().distance() == 0);
  CHECK(day.front().wind == 0);
  CHECK(day.front().moving == 0);
  REQUIRE(day.front().roads.size() == 1);
  CHECK(day.front().roads[0].turn_rate == 0);
  CHECK(day.front().roads[0].load.demand() == close(plain_rolling(s).demand(), 0, 1e-12));
}

TEST_CASE("stretch: a stop in which the wheel can be worked on stays by itself") {
  ScenarioText text;
  text.day = "{park: {until: 6 h}}, {round: {stops: 20, spacing: 300 m, top_speed: 24 km/h, acceleration: 0.8 m/s^2, "
             "deceleration: 1.2 m/s^2, dwell: 11 min}}";
  const Scenario s = text.scenario();
  const std::vector<Span> spans = working_day(s);
  const std::vector<Stretch> day = drawn_together(spans, s.vehicle);
  const auto stops = [](const auto& list) {
    return std::count_if(list.begin(), list.end(), [](const auto& x) { return x.parked && x.duration == 660; });
  };
  CHECK(stops(spans) == 20);
  CHECK(stops(day) == 20);
  for (const Stretch& stretch : day) {
    CHECK((!stretch.parked || stretch.moving == 0));
  }
}

TEST_CASE("stretch: a trace is drawn together by minutes") {
  TraceStep trace;
  for (int k = 0; k <= 1800; ++k) {
    trace.time.push_back(k);
    trace.speed.push_back(10 + 4 * std::sin(k / 9.0));
  }
  Scenario s = ScenarioText().scenario();
  s.duty.day = {{trace, {}}};
  const std::vector<Span> spans = working_day(s);
  const std::vector<Stretch> day = drawn_together(spans, s.vehicle);
  const auto drawn = static_cast<std::size_t>(
      std::count_if(day.begin(), day.end(), [](const Stretch& x) { return x.moving > 0 && !x.parked; }));
  CHECK(drawn >= 13);
  CHECK(drawn <= 17);
}

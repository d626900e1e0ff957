#include "models/constants.hpp"
#include "models/heat_network.hpp"
#include "solver/stretch.hpp"
#include "solver/temperature.hpp"
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

std::vector<Stretch> together(const Scenario& s, Parks parks = Parks::Apart) {
  return drawn_together(working_day(s), s.vehicle, s.heat.nodes.at(s.heat.brake), parks);
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
    sums.heat += s.brake_heat.middle * s.duration;
    sums.air += s.air.middle * s.duration;
    sums.moving += s.moving * s.duration;
    sums.stops += static_cast<double>(s.stops);
    for (const RoadLoad& road : s.roads) {
      sums.turns += road.turn_rate * s.duration;
      sums.cycles += road.cycle_rate * s.duration;
    }
    for (const Peak& peak : s.peaks) {
      sums.largest = std::max(sums.largest, peak.load.demand());
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
  for (const auto& day : {each_span(spans, s.vehicle), together(s), together(s, Parks::Together)}) {
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
  const std::vector<Stretch> day = together(s);
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
      const double local = span->start + span->duration / 2 - stretch.start;
      CHECK(std::any_of(stretch.peaks.begin(), stretch.peaks.end(), [&](const Peak& peak) {
        return peak.from < local && peak.to > local &&
               peak.load.demand() >= span->load.demand() * (1 - 1e-12); // what any moment of it asks for
      }));
    }
    if (stretch.stops > 1) {
      ++drawn;
      CHECK(first->begins);
      CHECK_FALSE(stretch.parked);
      CHECK(stretch.duration > 2400);
      CHECK(stretch.duration < 4800);
      // Setting off, rolling, braking, standing; each filling up by less than it takes to tell it apart, or in two.
      CHECK(stretch.roads.size() >= 4);
      CHECK(stretch.roads.size() <= 60);
      for (std::size_t k = 0; k < stretch.roads.size(); ++k) {
        CHECK(stretch.peaks[k].load.demand() >= stretch.roads[k].load.demand() * (1 - 1e-12));
        CHECK(stretch.peaks[k].load.demand() <= stretch.roads[k].load.demand() * 1.05);
      }
    } else {
      CHECK(stretch.duration == close(first->duration, 0, 1e-12));
      CHECK(stretch.parked == first->parked);
      CHECK(stretch.speed == first->speed); // to the bit: nothing was summed
      CHECK(stretch.air == Parabola(HeatNetwork::air_factor(first->speed)));
      CHECK(stretch.brake_heat == Parabola(first->brake_heat));
      CHECK(stretch.roads.size() == 1);
    }
  }
  CHECK(now == close(86400, 1e-6, 0));
  CHECK(drawn == 3);
}

TEST_CASE("stretch: stops farther apart than a stretch is long stay by their spans") {
  ScenarioText s;
  s.day = "{round: {stops: 3, spacing: 30 km, top_speed: 80 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, "
          "dwell: 15 s}}";
  const Scenario scenario = s.scenario();
  const std::vector<Span> spans = working_day(scenario);
  CHECK(together(scenario).size() == spans.size());
}

TEST_CASE("stretch: a trace that stands still has no way, no wind and no turns") {
  Scenario s = ScenarioText().scenario();
  TraceStep trace;
  trace.time = {0, 300};
  trace.speed = {0, 0};
  s.duty.day = {{trace, {}}};
  const std::vector<Stretch> day = together(s);
  REQUIRE(day.front().duration == close(100, 1e-9, 0)); // a third of it
  CHECK(day.front().distance() == 0);
  CHECK(day.front().air == Parabola(0));
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
  const std::vector<Stretch> day = together(s);
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
  const std::vector<Stretch> day = together(s);
  const auto drawn = static_cast<std::size_t>(
      std::count_if(day.begin(), day.end(), [](const Stretch& x) { return x.moving > 0 && !x.parked; }));
  CHECK(drawn >= 13);
  CHECK(drawn <= 17);
}

TEST_CASE("stretch: brake heat and moving air come as late as in the spans, and none is taken back") {
  const Scenario s = filling_round();
  const std::vector<Span> spans = working_day(s);
  std::size_t drawn = 0;
  for (const Stretch& stretch : together(s, Parks::Together)) {
    double moment = 0;
    double air = 0;
    for (std::size_t i = stretch.first; i < stretch.first + stretch.spans; ++i) {
      const double late = spans[i].start + spans[i].duration / 2 - stretch.start;
      moment += spans[i].brake_heat * spans[i].duration * late;
      air += HeatNetwork::air_factor(spans[i].speed) * spans[i].duration * late;
    }
    const double t = stretch.duration;
    CHECK(stretch.brake_heat.middle * t * t / 2 + stretch.brake_heat.rise * t * t * t / 12 ==
          close(moment, 1e-3, 1e-9));
    CHECK(stretch.air.middle * t * t / 2 + stretch.air.rise * t * t * t / 12 == close(air, 1e-3, 1e-9));
    CHECK(stretch.brake_heat.middle >= std::abs(stretch.brake_heat.rise) * t / 2);
    drawn += stretch.brake_heat.rise > 0 ? 1 : 0; // it fills up
  }
  CHECK(drawn == 3);
}

TEST_CASE("stretch: heat that all comes at the end stops short of cooling the brake before") {
  ScenarioText text;
  // One stop of a quarter of an hour: two minutes of trace would not hold it.
  text.day = "{round: {stops: 1, spacing: 3 km, top_speed: 50 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, "
             "dwell: 1 s}}";
  const std::vector<Stretch> day = together(text.scenario());
  REQUIRE(day.front().spans == 4);
  CHECK(day.front().brake_heat.rise == close(2 * day.front().brake_heat.middle / day.front().duration, 0, 1e-12));
}

TEST_CASE("stretch: parks are drawn together where nobody comes to the wheel") {
  const Scenario s = filling_round();
  const auto parks = [](const std::vector<Stretch>& day) {
    return std::count_if(day.begin(), day.end(), [](const Stretch& x) { return x.parked; });
  };
  const std::vector<Stretch> apart = together(s);
  const std::vector<Stretch> joined = together(s, Parks::Together);
  CHECK(parks(apart) >= 18);
  CHECK(parks(joined) <= 5);
  for (const Stretch& stretch : joined) {
    CHECK((!stretch.parked || (stretch.moving == 0 && stretch.speed == 0)));
  }
}

TEST_CASE("stretch: a brake that is hottest while it stands loses less to the air than its mean tells") {
  // One lump, stop after stop, until its heat repeats itself: by spans, in stretches, and in stretches that know
  // nothing of it. Reference: the spans, integrated one by one.
  const Scenario s = filling_round();
  const HeatNetwork brake{"demo", {{"brake", 30e3, 6, 4}}, {}, {}, 0};
  const std::vector<Span> spans = working_day(s);
  const std::vector<Stretch> day = drawn_together(spans, s.vehicle, brake.nodes[0], Parks::Apart);
  // To the end of the round, where the last of its stop cycles ends too.
  const auto last = std::find_if(day.rbegin(), day.rend(), [](const Stretch& x) { return x.spans > 1; });
  const double until = last->start + last->duration - 1;
  const auto end = [&](const std::vector<Stretch>& stretches, double spared) {
    HeatSolver solver(brake);
    std::vector<double> t{300};
    for (const Stretch& x : stretches) {
      if (x.start < until) {
        solver.run({x.duration, 290, x.air, {x.brake_heat.middle + spared * x.spared, x.brake_heat.rise}}, t);
      }
    }
    return t[0];
  };
  const double want = end(each_span(spans, s.vehicle), 0);
  const double plain = std::abs(end(day, 0) - want);
  const double known = std::abs(end(day, 1) - want);
  CAPTURE(plain);
  CAPTURE(known);
  CHECK(plain > 0.1);
  CHECK(known < 0.2 * plain);
}

TEST_CASE("stretch: its ripple is what a stop warms the brake by") {
  // 20 t at 10 m/s through six wheel ends into 30 kJ/K, less what the mean takes away meanwhile.
  ScenarioText s;
  s.vehicle = "mass: 20 t, wheel_ends: 6, driven_ends: 4, load: 45 kN, rolling_radius: 0.50 m, dynamic_factor: 1.3, "
              "brake_share: 1, lateral_share: 0";
  s.nodes = "joint: {capacity: 30 kJ/K, still: 0.1 W/K}";
  s.day = "{round: {stops: 20, spacing: 400 m, top_speed: 36 km/h, acceleration: 1 m/s^2, deceleration: 50 m/s^2, "
          "dwell: 0.1 s}}";
  const Scenario round = s.scenario();
  const double stop = 20e3 * 50 / 6 / 30e3;
  CHECK(together(round)[0].ripple == close(stop, 0, 0.1));
}

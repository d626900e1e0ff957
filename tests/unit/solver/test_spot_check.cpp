#include "solver/duty.hpp"
#include "solver/spot_check.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <cstddef>
#include <vector>

using namespace clampfade;
using test::close;

namespace {

Stretch of_spans(std::size_t spans, bool parked = false) {
  Stretch s;
  s.spans = spans;
  s.parked = parked;
  return s;
}

} // namespace

TEST_CASE("spot check: every stretch of many spans has its turn within eight days, parks and single spans never") {
  test::Bench bench{test::ScenarioText()};
  SpotCheck check(bench.scenario, bench.wheel);
  for (const std::size_t many : {std::size_t{1}, std::size_t{3}, std::size_t{9}}) {
    CAPTURE(many);
    std::vector<Stretch> day{of_spans(5, true), of_spans(1)};
    day.insert(day.end(), many, of_spans(8));
    std::vector<int> turns(day.size(), 0);
    for (std::size_t d = 40; d < 48; ++d) {
      check.begin(d, day);
      int today = 0;
      for (std::size_t i = 0; i < day.size(); ++i) {
        const bool due = check.due(day[i]);
        turns[i] += due ? 1 : 0;
        today += due ? 1 : 0;
      }
      CHECK(today >= 1);
      CHECK(check.apart() == 0); // nothing was held
    }
    CHECK(turns[0] == 0);
    CHECK(turns[1] == 0);
    for (std::size_t i = 2; i < day.size(); ++i) {
      CHECK(turns[i] >= 1);
    }
  }
}

TEST_CASE("spot check: it finds what stops drawn together miss, and takes the rest of the day for alike") {
  test::ScenarioText text;
  text.disc += ", head_side: {coating: paint, thickness: 90 um}";
  text.nodes = "joint: {capacity: 80 kJ/K, still: 800 W/K}"; // every stop warms the paint, by less than 2 K
  text.day =
      "{round: {stops: 200, spacing: 80 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, "
      "dwell: 15 s}}";
  test::Bench bench(text);
  bench.tighten_all(100e3);
  const Scenario& s = bench.scenario;
  const std::vector<Span> spans = working_day(s);
  const Stretch stretch = drawn_together(spans, s.vehicle, s.heat.nodes[0], Parks::Apart)[0];
  SpotCheck check(s, bench.wheel);
  const std::vector<Stretch> parts = check.parts(stretch);
  REQUIRE(parts.size() == 2);
  const Stretch& part = parts[1];
  REQUIRE(part.duration >= 900);
  REQUIRE(part.duration < 960);
  REQUIRE(parts[0].duration + part.duration == close(stretch.duration, 0, 1e-12));
  REQUIRE(part.start == close(stretch.start + parts[0].duration, 1e-9, 0));

  // The same by hand: by spans, and drawn together.
  const auto run = [&](const std::vector<Stretch>& stretches, SpotCheck::Place& place) {
    auto& [x, nodes, step] = place;
    HeatSolver heat(s.heat);
    SettlingStepper stepper;
    for (const Stretch& span : stretches) {
      heat.run(
          {span.duration, s.duty.ambient.mean, span.air, {span.brake_heat.middle + span.spared, span.brake_heat.rise}},
          nodes);
      SpanSystem system(
          bench.wheel, span.roads,
          [&](double t, std::vector<double>& out) {
            out.resize(1);
            heat.at(t, out);
          },
          s.tolerance);
      system.run(stepper, x, 0, span.duration, step);
    }
    Rest rest;
    bench.wheel.cold(x, rest);
    return rest.forces[0];
  };
  const std::vector<Stretch> each = each_span(spans, s.vehicle);
  const SpotCheck::Place start{bench.x, {330}, 1};
  SpotCheck::Place by_spans = start;
  SpotCheck::Place at_once = start;
  const auto first = each.begin() + static_cast<std::ptrdiff_t>(part.first);
  const double fine = run({first, first + static_cast<std::ptrdiff_t>(part.spans)}, by_spans);
  const double coarse = run({part}, at_once);
  REQUIRE(std::abs(fine - coarse) > 0.1);
  REQUIRE_FALSE(check.needs_it(stretch));

  for (const std::size_t stretches : {std::size_t{1}, std::size_t{5}}) {
    check.begin(0, std::vector<Stretch>(stretches, stretch));
    for (std::size_t k = 0; k < stretches; ++k) {
      CHECK(check.due(stretch) == (k == 0));
    }
    check.hold(part, 0, start, at_once.x, at_once.nodes);
    const double share = static_cast<double>(stretches) * stretch.duration / part.duration;
    CHECK(check.apart() == close(share * std::abs(fine - coarse) / bench.wheel.scale(), 0, 1e-6));
    CHECK(check.heat_apart() == close(std::abs(by_spans.nodes[0] - at_once.nodes[0]), 1e-6, 0));
  }
}

TEST_CASE("spot check: stretches whose stops the joint itself feels are all looked at, whole") {
  test::ScenarioText text;
  text.nodes = "joint: {capacity: 20 kJ/K, still: 20 W/K}, drum: {capacity: 20 kJ/K, still: 20 W/K}";
  test::Bench beside{[&] {
    test::ScenarioText other = text;
    other.brake = "drum";
    return other;
  }()};
  test::Bench within{text};
  Stretch calm = of_spans(8);
  calm.ripple = 1.9;
  Stretch hot = of_spans(8);
  hot.ripple = 2.1;
  hot.duration = calm.duration = 3600;
  const std::vector<Stretch> day{hot, calm, calm, calm, hot};
  for (auto* bench : {&beside, &within}) {
    SpotCheck check(bench->scenario, bench->wheel);
    check.begin(0, day);
    std::size_t due = 0;
    std::size_t hot_due = 0;
    for (const Stretch& s : day) {
      const bool now = check.due(s);
      due += now ? 1 : 0;
      if (now && s.ripple > 2) {
        ++hot_due;
        CHECK((bench == &beside || check.parts(s).size() == 1));
      }
    }
    CHECK(hot_due == (bench == &within ? 2 : 1));
    CHECK(due == (bench == &within ? 3 : 1));
  }
}

TEST_CASE("spot check: springs that stick remember the heat of a stop, which no stretch may leave out") {
  test::ScenarioText text;
  text.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  const std::string springs = ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, "
                              "thickness: 7 mm, cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1";
  for (const bool sticks : {false, true}) {
    test::ScenarioText s = text;
    s.nut += springs + (sticks ? ", friction: 0.15}" : "}");
    test::Bench bench(s);
    const SpotCheck check(bench.scenario, bench.wheel);
    // A kelvin closes the joint by (23e-6 - 11e-6) 12 mm; washers beyond flat give nothing more.
    Elastic e;
    bench.joint.elastic(std::vector<double>(bench.joint.stud_place() + 1, 294.15), e);
    const double soft = bench.compliance(294.15) + bench.joint.washers()->compress(bench.wheel.scale()).slope;
    const double seen = 1e-4 * bench.wheel.scale() * soft / std::abs(e.offset[0]);
    Stretch stretch = of_spans(8);
    stretch.ripple = 0.95 * seen;
    CHECK_FALSE(check.comes_apart(stretch));
    stretch.ripple = 1.05 * seen;
    CHECK(check.comes_apart(stretch) == sticks);
  }
}

#include "solver/duty.hpp"
#include "solver/spot_check.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

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
  const std::vector<Stretch> none;
  SpotCheck check(bench.scenario, bench.wheel, none);
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

TEST_CASE("spot check: it finds what a stretch has missed, and takes the others for alike") {
  test::ScenarioText text;
  text.disc += ", head_side: {coating: paint, thickness: 90 um}";
  text.day =
      "{round: {stops: 200, spacing: 80 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, "
      "dwell: 15 s}}";
  test::Bench bench(text);
  bench.tighten_all(100e3);
  const Scenario& s = bench.scenario;
  const std::vector<Stretch> spans = each_span(working_day(s), s.vehicle);
  const std::vector<Stretch> day = drawn_together(working_day(s), s.vehicle, s.heat.nodes[0], Parks::Apart);
  REQUIRE(day[0].spans > 100);

  // The stretch by its spans, here and not there.
  const SpotCheck::End start{bench.x, {330}};
  SpotCheck::End end = start;
  HeatSolver heat(s.heat);
  SettlingStepper stepper;
  double step = 1;
  for (std::size_t i = 0; i < day[0].spans; ++i) {
    const Stretch& span = spans[i];
    heat.run({span.duration, s.duty.ambient.mean, span.air, span.brake_heat}, end.nodes);
    SpanSystem system(
        bench.wheel, span.roads,
        [&](double t, std::vector<double>& out) {
          out.resize(1);
          heat.at(t, out);
        },
        s.tolerance);
    system.run(stepper, end.x, 0, span.duration, step);
  }
  Rest before, after;
  bench.wheel.cold(start.x, before);
  bench.wheel.cold(end.x, after);
  const double lost = before.forces[0] - after.forces[0];
  REQUIRE(lost > 100);

  SpotCheck check(s, bench.wheel, spans);
  check.begin(0, {of_spans(9), of_spans(9), of_spans(9), of_spans(9), of_spans(9)});
  for (int k = 0; k < 5; ++k) {
    static_cast<void>(check.due(of_spans(9))); // five of them, of which one is held
  }
  check.hold(day[0], 0, start, 1, end);
  CHECK(check.apart() == close(0, 1e-12, 0));
  CHECK(check.heat_apart() == close(0, 1e-9, 0));
  check.begin(0, {});
  for (int k = 0; k < 5; ++k) {
    static_cast<void>(check.due(of_spans(9)));
  }
  check.hold(day[0], 0, start, 1, start); // a stretch that let nothing happen
  CHECK(check.apart() == close(5 * lost / bench.wheel.scale(), 0, 1e-9));
  CHECK(check.heat_apart() == close(end.nodes[0] - 330, 1e-9, 0));
}

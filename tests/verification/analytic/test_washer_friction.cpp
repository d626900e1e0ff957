// Checks: nested spring washers that stick, slide and remember.
// Problem: a pack of thin-coned (nearly linear) washers taken round a closed cycle of force; a wheel with such packs in
//   a week of hot days.
// Reference: the parallelogram between F+ = L k s and F- = U k s with sides of the sticking stiffness.
// Tolerance: 2e-3 of the area, for the cone's curvature at h0/t = 0.02; 1e-9 on the curves themselves.
// Fails if: the branches are swapped, the trial force does not clip, or friction's cost leaves the budget open.
#include "models/conical_washer.hpp"
#include "solver/simulation.hpp"
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::check_closed_form;
using test::close;
using test::ScenarioText;

namespace {

WasherStack pack(double friction) { return {ConicalWasher(50e-3, 25e-3, 5e-3, 0.1e-3, 0, 206e9, 0.3), 3, 2, friction}; }

struct Point {
  double s, f;
};

double polygon_area(const std::vector<Point>& p) {
  double sum = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Point& a = p[i];
    const Point& b = p[(i + 1) % p.size()];
    sum += a.s * b.f - b.s * a.f;
  }
  return std::abs(sum) / 2;
}

} // namespace

TEST_CASE("washer friction: a cycle of force goes round the parallelogram of the two branches") {
  const WasherStack stack = pack(0.03);
  const double k =
      ConicalWasher(50e-3, 25e-3, 5e-3, 0.1e-3, 0, 206e9, 0.3).tangent(0) / 2; // a pack of one, two in series
  const double up = 3 / (1 - 0.03 * 2) * k;
  const double down = 3 / (1 + 0.03 * 2) * k;
  const double stick = 100 * 3.0 / 2 * 2 * k; // 100 n/i F'(0)
  CHECK(stack.stick_stiffness() == close(stick, 0, 1e-12));
  const double high = 0.8 * up * 0.2e-3;
  const double low = 0.3 * high;
  // Corners of the closed cycle between the two forces.
  const double s1 = high / up;
  const Point top{s1, high};
  const double s2 = (high - stick * s1) / (down - stick); // sticks down to the lower branch
  const Point left{s2, down * s2};
  const double s3 = low / down;
  const Point bottom{s3, low};
  const double s4 = (low - stick * s3) / (up - stick);
  const Point right{s4, up * s4};
  std::vector<Point> path;
  WasherState now;
  const auto go = [&](double to) {
    const double from = now.force;
    for (int i = 1; i <= 400; ++i) {
      const double f = from + (to - from) * i / 400;
      now = {stack.deflect(f, now).deflection, f};
      path.push_back({now.deflection, f});
    }
  };
  go(high);
  path.clear();
  go(low);
  const WasherState at_low = now;
  go(high);
  check_closed_form("work of friction in a cycle of nested washers [J]", polygon_area(path),
                    close(polygon_area({top, left, bottom, right}), 0, 2e-3));
  CHECK(now.deflection == close(top.s, 0, 1e-3));
  // The cycle is closed: once more round it ends in the same place.
  const double before = now.deflection;
  go(low);
  CHECK(now.deflection == close(at_low.deflection, 0, 1e-9));
  go(high);
  CHECK(now.deflection == close(before, 0, 1e-9));
}

TEST_CASE("washer friction: forces clip to the branches and stick between them") {
  const WasherStack stack = pack(0.02);
  const double s = 0.12e-3;
  const WasherState on_plus{s, stack.compressing_force(s)};
  CHECK(stack.compressing_force(s) / stack.opening_force(s) == close(1.04 / 0.96, 0, 1e-12));
  // More force moves along the compressing branch.
  const WasherAnswer more = stack.deflect(1.1 * on_plus.force, on_plus);
  CHECK(stack.compressing_force(more.deflection) == close(1.1 * on_plus.force, 0, 1e-12));
  // A little less sticks, much less opens along the other branch.
  const WasherAnswer less = stack.deflect(0.98 * on_plus.force, on_plus);
  CHECK(less.slope == close(1 / stack.stick_stiffness(), 0, 1e-12));
  CHECK(less.deflection == close(s - 0.02 * on_plus.force / stack.stick_stiffness(), 0, 1e-12));
  const WasherAnswer open = stack.deflect(0.5 * on_plus.force, on_plus);
  CHECK(stack.opening_force(open.deflection) == close(0.5 * on_plus.force, 0, 1e-12));
  // The slope is the derivative, on either branch.
  for (const double f : {1.1, 0.5}) {
    const double h = 1e-6 * on_plus.force;
    const double slope = (stack.deflect(f * on_plus.force + h, on_plus).deflection -
                          stack.deflect(f * on_plus.force - h, on_plus).deflection) /
                         (2 * h);
    CHECK(stack.deflect(f * on_plus.force, on_plus).slope == close(slope, 0, 1e-6));
  }
  CHECK_FALSE(pack(0).sticks());
}

TEST_CASE("washer friction: a warm cycle costs clamp once and the budget knows where it went") {
  ScenarioText s;
  s.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  s.nut = "bearing: {outer: 36 mm, inner: 24 mm}, seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, "
          "inner: 23.5 mm, thickness: 7 mm, cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, "
          "friction: 0.03}";
  s.day = "{drag: {power: 4 kW, speed: 30 km/h, duration: 1 h}}";
  s.calendar = "working_days_per_week: 3, weeks: 1";
  test::MemorySink sink;
  REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
  const double first = sink.records[0].clamp_cold[0];
  const auto cost = [&](std::size_t day) { return first - sink.records[day].clamp_cold[0]; };
  CHECK(cost(1) > 1e-3 * first); // hot: compressed further along F+, then stuck on the way back
  CHECK(cost(2) == close(cost(1), 1e-3 * cost(1), 0));
  CHECK(cost(7) == close(cost(1), 1e-3 * cost(1), 0));
  for (const RecordRow& r : sink.records) {
    double named = 0;
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      named += r.loss_clamp[m];
      CHECK(r.loss[m] == 0);
    }
    CHECK(first - named == close(r.clamp_cold[0], 1e-9 * first, 0));
    CHECK(r.loss_clamp[index(Mechanism::WasherFriction)] == close(named, 1e-6, 0));
  }
  // Without friction the same week costs nothing.
  s.nut.replace(s.nut.find("friction: 0.03"), 14, "friction: 0");
  test::MemorySink smooth;
  REQUIRE(run(s.scenario(), smooth) == RunStatus::Complete);
  CHECK(smooth.records.back().clamp_cold[0] == close(smooth.records[0].clamp_cold[0], 0, 1e-10));
}

#include "solver/settling.hpp"
#include "solver/span_system.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;
namespace ode = boost::numeric::odeint;

namespace {

/// x' = -x by the trapezoidal rule; its doubt is what a test says.
struct Decay {
  double doubt = 0;
  double longest = 1e9;
  double advance(const std::vector<double>& x0, double, double h, std::vector<double>& x1) {
    x1 = x0;
    x1[0] *= (1 - h / 2) / (1 + h / 2);
    return h > longest ? INFINITY : doubt;
  }
  [[nodiscard]] static double distance(const std::vector<double>& a, const std::vector<double>& b) {
    return std::abs(a[0] - b[0]) / 1e-4;
  }
};

} // namespace

TEST_CASE("settling stepper: a step without doubt stands and the next is longer, within its limit") {
  Decay system;
  SettlingStepper stepper(3);
  std::vector<double> x{1};
  double t = 0;
  double dt = 0.1;
  CHECK(stepper.try_step(std::ref(system), x, t, dt) == ode::success);
  CHECK(x[0] == close(0.95 / 1.05, 0, 1e-15));
  CHECK(t == 0.1);
  CHECK(dt == close(0.3, 0, 1e-14));
  CHECK(stepper.counts().accepted == 1);
  CHECK(stepper.counts().halved == 0);
  CHECK(stepper.counts().smallest == 0.1);
}

TEST_CASE("settling stepper: a doubtful step is done in halves, and those stand where they agree") {
  Decay system;
  system.doubt = 2;
  SettlingStepper stepper;
  std::vector<double> x{1};
  double t = 0;
  double dt = 0.05;
  CHECK(stepper.try_step(std::ref(system), x, t, dt) == ode::success);
  CHECK(x[0] == close(std::pow((1 - 0.0125) / (1 + 0.0125), 2), 0, 1e-15)); // the halves' end
  CHECK(stepper.counts().halved == 1);
  CHECK(stepper.counts().rejected == 0);
}

TEST_CASE("settling stepper: a step whose halves disagree is refused and nothing moves") {
  Decay system;
  system.doubt = 2;
  SettlingStepper stepper;
  std::vector<double> x{1};
  double t = 5;
  double dt = 1;
  CHECK(stepper.try_step(std::ref(system), x, t, dt) == ode::fail);
  CHECK(x[0] == 1);
  CHECK(t == 5);
  CHECK(dt <= 0.5);
  CHECK(dt >= 0.1);
  CHECK(stepper.counts().rejected == 1);
  system.longest = 0.01; // no step of that length can be done at all
  dt = 1;
  CHECK(stepper.try_step(std::ref(system), x, t, dt) == ode::fail);
  CHECK(dt == close(0.1, 0, 1e-14));
}

TEST_CASE("span system: reaches its end exactly and hands on the step it would have taken") {
  test::ScenarioText s;
  s.thread_contact = "embedding: 3 um";
  test::Bench b(s);
  b.tighten_all(150e3);
  const auto steady = [](double, std::vector<double>& out) { out = {293.15}; };
  SpanSystem system(b.wheel, Roads{}, steady, 1e-6);
  SettlingStepper stepper;
  double step = 1;
  double last = 0;
  double covered = 0;
  system.run(stepper, b.x, 10, 500, step, [&](const State&, const State&, double t, double h) {
    CHECK(t == close(10 + covered, 1e-9, 0));
    covered += h;
    last = t + h;
  });
  CHECK(last == close(500, 1e-9, 0));
  CHECK(covered == close(490, 1e-9, 0));
  CHECK(step > 1);
}

TEST_CASE("span system: a nut that turns off ends its step where it opens") {
  test::ScenarioText s;
  s.pilot = "clearance: 1 mm";
  test::Bench b(s);
  b.tighten_all(20e3);
  RoadLoad road;
  road.load.radial = 60e3;
  road.turn_rate = 2;
  const auto steady = [](double, std::vector<double>& out) { out = {293.15}; };
  SpanSystem system(b.wheel, road, steady, 1e-6);
  SettlingStepper stepper;
  double step = 1;
  double opened = -1;
  double length = 0;
  double share = 0; // of the clamp of the set torque, right after
  system.run(stepper, b.x, 0, 1000, step, [&](const State& before, const State& after, double t, double h) {
    if (!b.wheel.open(before, 0) && b.wheel.open(after, 0)) {
      opened = t + h;
      length = h;
      share = b.wheel.clamp(after, 0) / b.wheel.first_clamp(0);
    }
  });
  CHECK(share == close(1e-6, 0, 1e-3)); // not a whole step later
  CHECK(opened > 0);
  CHECK(opened < 1000);
  CHECK(length > 0);
  CHECK(b.wheel.open(b.x, 0));
  CHECK(b.clamp() < 1e-6 * b.wheel.first_clamp(0));
}

// Checks: node temperatures, alone and as they move the clamp.
// Problem: one lump under a square wave of heat; two linked lumps from rest; parts and a stud that expand unlike, with
//   moduli that fall.
// Reference: the closed forms beside each test; printed figures are theirs, worked out elsewhere.
// Tolerance: 2e-4 K for a few thousand steps with a relative error of 1e-7 of 300 K each; half of the last printed
// digit;
//   1e-9 where nothing is stepped.
// Fails if: a capacity, a link, the place of the brake's heat, a sign or a length of expansion is wrong.
#include "models/heat_network.hpp"
#include "solver/simulation.hpp"
#include "solver/temperature.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"

#include <Eigen/Dense>
#include <doctest/doctest.h>

using namespace clampfade;
using test::Bench;
using test::check_closed_form;
using test::close;
using test::ScenarioText;

TEST_CASE("heat: one lump under a square wave swings between its closed-form limits") {
  // R = 0.5 K/W, C = 2 kJ/K, 400 W for 120 s of every 600 s: Tmax = P R (1 - e^(-on/tau))/(1 - e^(-period/tau)),
  // Tmin = Tmax e^(-off/tau), mean = duty P R.
  const HeatNetwork network{"demo", {{"lump", 2000, 2, 0}}, {}, {}, 0};
  HeatSolver solver(network);
  std::vector<double> t{300};
  double high = 0;
  double sum = 0;
  std::vector<double> inside(1);
  for (int cycle = 0; cycle < 30; ++cycle) {
    sum = 0;
    for (const double heat : {400.0, 0.0}) {
      const double length = heat > 0 ? 120 : 480;
      solver.run({length, 300, 0, heat}, t);
      high = heat > 0 ? t[0] : high;
      for (int i = 0; i < 200; ++i) {
        solver.at((i + 0.5) / 200 * length, inside);
        sum += (inside[0] - 300) * length / 200;
      }
    }
  }
  CHECK(high - 300 == close(50.125, 5e-4, 0));
  CHECK(t[0] - 300 == close(31.017, 5e-4, 0));
  const double tau = 1000;
  check_closed_form("rise of a lump at the end of its heat [K]", high - 300,
                    close(200 * (1 - std::exp(-120 / tau)) / (1 - std::exp(-600 / tau)), 2e-4, 0));
  CHECK(sum / 600 == close(40, 2e-3, 0));
}

TEST_CASE("heat: two linked lumps follow the eigen-solution") {
  const HeatNetwork network{"demo", {{"drum", 20e3, 8, 0}, {"hub", 10e3, 6, 0}}, {{0, 1, 15}}, {}, 0};
  HeatSolver solver(network);
  std::vector<double> t{293.15, 293.15};
  solver.run({1000, 293.15, 0, 1500}, t);
  CHECK(t[0] - 293.15 == close(49.754, 5e-4, 0));
  CHECK(t[1] - 293.15 == close(22.449, 5e-4, 0));
  solver.run({4000, 293.15, 0, 1500}, t);
  CHECK(t[0] - 293.15 == close(110.811, 5e-4, 0));
  CHECK(t[1] - 293.15 == close(76.872, 5e-4, 0));
  const std::vector<double> end = network.steady(293.15, 0, 1500);
  CHECK(end[0] - 293.15 == close(122.093, 5e-4, 0));
  CHECK(end[1] - 293.15 == close(87.209, 5e-4, 0));
  // The same from the matrix itself.
  Eigen::Matrix2d a;
  a << -(8 + 15) / 20e3, 15 / 20e3, 15 / 10e3, -(6 + 15) / 10e3;
  const Eigen::Vector2d steady = -a.inverse() * Eigen::Vector2d(1500 / 20e3, 0);
  const Eigen::EigenSolver<Eigen::Matrix2d> eigen(a);
  const Eigen::Matrix2d v = eigen.eigenvectors().real();
  const Eigen::Vector2d lambda = eigen.eigenvalues().real();
  const Eigen::Vector2d share = v.inverse() * -steady;
  const Eigen::Vector2d at = steady + v * (share.array() * (lambda.array() * 5000).exp()).matrix();
  check_closed_form("rise of a drum after 5000 s [K]", t[0] - 293.15, close(at[0], 2e-4, 0));
  check_closed_form("rise of its hub [K]", t[1] - 293.15, close(at[1], 2e-4, 0));
}

TEST_CASE("heat: unlike expansion moves the clamp by its closed form") {
  // F1 = (d0 F0 + du)/d1 with d the column's compliance at either temperature: moduli fall, members expand more.
  ScenarioText s;
  s.stud_material = "youngs: [[20 degC, 200 GPa], [120 degC, 190 GPa]], poisson: 0.3, expansion: 11e-6 1/K";
  s.disc_material = "youngs: [[20 degC, 70 GPa], [120 degC, 63 GPa]], poisson: 0.33, expansion: 23e-6 1/K";
  s.disc = "thickness: 22 mm, hole: 26 mm, pad: 75 mm, node: joint";
  Bench bench(s);
  bench.tighten_all(180e3);
  const double t = 373.15;
  bench.hold(1, t);
  const double du = (23e-6 - 11e-6) * 22e-3 * 80;
  const double expected = (bench.compliance(293.15) * 180e3 + du) / bench.compliance(t);
  check_closed_form("clamp with parts and stud at 100 C [N]", bench.clamp(), close(expected, 0, 1e-9));
  CHECK(expected > 183e3);
  // The compliance itself, stiffness by stiffness: only parts of the named material soften.
  const double stud = bench.joint.stud().compliance(293.15);
  const double hub = bench.joint.parts()[0].shape / 170e9;
  const double disc = bench.joint.parts()[1].shape / 70e9;
  CHECK(bench.compliance(t) == close(stud * 200 / 192 + hub + disc * 70 / 64.4, 0, 1e-12));
  bench.hold(1, 293.15);
  CHECK(bench.clamp() == close(180e3, 0, 1e-10));
}

TEST_CASE("heat: a stud colder than its members gains clamp") {
  ScenarioText s;
  s.nodes = "joint: {capacity: 20 kJ/K, still: 20 W/K}, air: {capacity: 1 kJ/K, still: 20 W/K}";
  s.stud_node = "air";
  Bench bench(s);
  bench.tighten_all(200e3);
  const auto nodes = [](double, std::vector<double>& out) { out = {293.15, 273.15}; };
  State next;
  bench.wheel.step(bench.x, 0, 1, {}, nodes, 1e-6, next);
  const double gain = 11e-6 * bench.joint.grip() * 20 / bench.compliance(293.15);
  check_closed_form("clamp gained by a stud 20 K colder [N]", bench.wheel.clamp(next, 0) - 200e3, close(gain, 0, 1e-8));
}

TEST_CASE("heat: an elastic joint remembers nothing of a hot week") {
  ScenarioText s;
  s.disc_material = "youngs: [[20 degC, 70 GPa], [200 degC, 60 GPa]], poisson: 0.33, expansion: 23e-6 1/K";
  s.ambient = "mean: 20 degC, daily_swing: 5 K";
  s.day = "{drag: {power: 4 kW, speed: 30 km/h, duration: 2 h}}";
  s.calendar = "working_days_per_week: 2, weeks: 1";
  s.record = "every: 1 h";
  test::MemorySink sink;
  REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
  double hottest = 0;
  double most = 0;
  for (const RecordRow& r : sink.records) {
    hottest = std::max(hottest, r.temperature[0]);
    most = std::max(most, r.clamp[0]);
    CHECK(r.clamp_cold[0] == close(sink.records[0].clamp[0], 0, 1e-10));
    for (const double loss : r.loss) {
      CHECK(loss == close(0, 1e-18, 0));
    }
  }
  CHECK(hottest > 373);
  CHECK(most > 1.05 * sink.records[0].clamp[0]);
}

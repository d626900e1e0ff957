#include "solver/classroom/values.hpp"
#include "solver/diagnostics.hpp"
#include "solver/step_grid.hpp"
#include "solver/temperature.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

using namespace clampfade;
using test::close;

namespace {
const HeatNetwork kLump{"demo", {{"lump", 2000, 2, 0.5}}, {}, {}, 0};
}

TEST_CASE("temperature: one lump cools exponentially, faster in moving air") {
  HeatSolver solver(kLump);
  std::vector<double> t{400};
  solver.run({1000, 300, 0, 0}, t);
  CHECK(t[0] == close(300 + 100 * std::exp(-1.0), 1e-4, 0));
  solver.run({1000, 300, HeatNetwork::air_factor(32), 0}, t); // 32^0.8 = 16: 2 + 8 W/K
  CHECK(t[0] == close(300 + 100 * std::exp(-6.0), 1e-4, 0));
  solver.run({1e6, 300, 0, 400}, t);
  CHECK(t[0] == close(500, 1e-4, 0));
}

TEST_CASE("temperature: values within a span join its ends") {
  HeatSolver solver(kLump);
  std::vector<double> t{400};
  solver.run({2000, 300, 0, 0}, t);
  std::vector<double> inside(1);
  solver.at(0, inside);
  CHECK(inside[0] == 400);
  solver.at(2000, inside);
  CHECK(inside[0] == close(t[0], 1e-12, 0));
  for (const double at : {13.0, 700.0, 1999.0}) {
    solver.at(at, inside);
    CHECK(inside[0] == close(300 + 100 * std::exp(-at / 1000), 2e-3, 0));
  }
}

TEST_CASE("temperature: a day takes the same steps whatever came before") {
  HeatSolver solver(kLump);
  std::vector<double> a{400};
  solver.begin_day(0, a);
  solver.run({5000, 300, 0, 700}, a);
  std::vector<double> b{400};
  solver.begin_day(1, b); // of another kind: nothing of it is known
  solver.run({5000, 300, 0, 700}, b);
  CHECK(a[0] == b[0]);
  CHECK(solver.solved() == 2);
}

TEST_CASE("temperature: a last bit of the heat stays one") {
  // The discs cool within seconds and bound the steps; without a grid of lengths courses drift 1e-9 K apart.
  const HeatNetwork wheel = classroom_values::steel_duals();
  const auto round = [&](double share) {
    HeatSolver solver(wheel);
    std::vector<double> t(wheel.nodes.size(), 293.15);
    std::vector<double> all;
    for (int hour = 0; hour < 12; ++hour) {
      solver.run({3000, 290, HeatNetwork::air_factor(10), 3e3 * share}, t);
      solver.run({600, 290, HeatNetwork::air_factor(17), 12e3 * share}, t);
      all.insert(all.end(), t.begin(), t.end());
    }
    return all;
  };
  const auto as_it_is = round(1);
  REQUIRE(as_it_is.back() > 300);
  for (const double share : {1 + 3e-16, 1 + 1e-15, 1 - 1e-14}) {
    const auto other = round(share);
    double apart = 0;
    for (std::size_t i = 0; i < other.size(); ++i) {
      apart = std::max(apart, std::abs(other[i] - as_it_is[i]));
    }
    CHECK(apart < 1e-11);
    CHECK(apart > 0);
  }
}

TEST_CASE("temperature: a day that repeats itself is computed once") {
  HeatSolver solver(kLump);
  const auto day = [&](double start, double second) {
    std::vector<double> t{start};
    solver.begin_day(0, t);
    std::vector<double> seen;
    std::vector<double> inside(1);
    for (const double heat : {700.0, second, 300.0}) {
      solver.run({5000, 300, 3, heat}, t);
      solver.at(1234, inside);
      seen.insert(seen.end(), {t[0], inside[0]});
    }
    return seen;
  };
  const auto first = day(400, 100);
  CHECK(solver.solved() == 3);
  CHECK(day(400, 100) == first);
  CHECK(solver.solved() == 3);
  CHECK(day(400 + 4e-10, 100) == first); // the same but for round-off
  CHECK(solver.solved() == 3);
  // From where it goes another way it is another day, and so is all of one that starts elsewhere.
  const auto other = day(400, 110);
  CHECK(other[1] == first[1]);
  CHECK(other[2] > first[2]);
  CHECK(solver.solved() == 5);
  CHECK(day(401, 110)[5] != other[5]);
  CHECK(solver.solved() == 8);
}

TEST_CASE("temperature: a day broken off leaves nothing behind of the one before it") {
  HeatSolver solver(kLump);
  std::vector<double> t{400};
  solver.begin_day(0, t);
  solver.run({5000, 300, 0, 700}, t);
  solver.run({5000, 300, 0, 0}, t);
  std::vector<double> broken{350};
  solver.begin_day(0, broken);
  solver.run({5000, 300, 0, 700}, broken); // and no further
  std::vector<double> again{350};
  solver.begin_day(0, again);
  solver.run({5000, 300, 0, 700}, again);
  solver.run({5000, 300, 0, 0}, again);
  HeatSolver fresh(kLump);
  std::vector<double> want{350};
  fresh.begin_day(0, want);
  fresh.run({5000, 300, 0, 700}, want);
  fresh.run({5000, 300, 0, 0}, want);
  CHECK(again[0] == want[0]);
}

TEST_CASE("temperature: what is not a number is not passed on") {
  HeatSolver solver(kLump);
  std::vector<double> t{std::numeric_limits<double>::quiet_NaN()};
  CHECK_THROWS_AS(solver.run({1000, 300, 0, 0}, t), NumericalError);
}

TEST_CASE("temperature: a span that failed is not taken for known") {
  HeatSolver solver(kLump);
  const auto day = [&](double second) {
    std::vector<double> t{400};
    solver.begin_day(0, t);
    solver.run({5000, 300, 0, 700}, t);
    solver.run({5000, 300, 0, second}, t);
  };
  day(0);
  CHECK_THROWS_AS(day(std::numeric_limits<double>::infinity()), NumericalError);
  CHECK_THROWS_AS(day(std::numeric_limits<double>::infinity()), NumericalError);
}

TEST_CASE("temperature: a lump follows air and heat that change under way") {
  // C dT/dt = P(t) - k (T - A(t)) with both straight: T = A + P/k - lag times their rise, and what decays.
  HeatSolver solver(kLump);
  const double lag = 2000.0 / 2;
  std::vector<double> t{300};
  const HeatSpan span{1800, {290, 2e-3}, 0, {400, 0.1}};
  solver.run(span, t);
  const auto settled = [&](double late) {
    return span.ambient.at(late) + span.brake_heat.at(late) / 2 - lag * (2e-3 + 0.05);
  };
  CHECK(t[0] == close(settled(900) + (300 - settled(-900)) * std::exp(-1800 / lag), 1e-4, 0));
}

TEST_CASE("temperature: what one solver has found the next one on the same network need not find again") {
  HeatMemory memory;
  const auto day = [&memory](const HeatNetwork& network, double heat) {
    HeatSolver solver(network, &memory);
    std::vector<double> t{350};
    solver.begin_day(3, t);
    solver.run({5000, 300, 3, heat}, t);
    solver.run({5000, 300, 0, 100}, t);
    return std::pair(t[0], solver.solved());
  };
  const auto first = day(kLump, 700);
  CHECK(first.second == 2);
  const auto again = day(kLump, 700);
  CHECK(again.first == first.first);
  CHECK(again.second == 0);
  HeatNetwork other = kLump;
  other.nodes[0].still = 3;
  const auto cooler = day(other, 700);
  CHECK(cooler.second == 2);
  CHECK(cooler.first < first.first);
  CHECK(day(kLump, 700) == first); // it was not confused with the other
  CHECK(day(kLump, 600).second == 2);
}

TEST_CASE("steps: lengths are rounded down to sixteen in an octave") {
  CHECK(on_step_grid(1) == 1);
  CHECK(on_step_grid(1.0624) == 1);
  CHECK(on_step_grid(1.0625) == 1.0625);
  CHECK(on_step_grid(std::nextafter(2.0, 0.0)) == 1.9375);
  CHECK(on_step_grid(3e-18) <= 3e-18);
  CHECK(on_step_grid(3e-18) > 3e-18 * 15 / 16);
  CHECK(on_step_grid(0) == 0);
  CHECK(std::isinf(on_step_grid(std::numeric_limits<double>::infinity())));
}

#include "solver/diagnostics.hpp"
#include "solver/temperature.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

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
  solver.run({1000, 300, 32, 0}, t); // 32^0.8 = 16: 2 + 8 W/K
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

TEST_CASE("temperature: a restart takes the same steps again") {
  HeatSolver solver(kLump);
  std::vector<double> a{400};
  solver.run({5000, 300, 0, 700}, a);
  solver.restart();
  std::vector<double> b{400};
  solver.run({5000, 300, 0, 700}, b);
  CHECK(a[0] == b[0]);
}

TEST_CASE("temperature: what is not a number is not passed on") {
  HeatSolver solver(kLump);
  std::vector<double> t{std::numeric_limits<double>::quiet_NaN()};
  CHECK_THROWS_AS(solver.run({1000, 300, 0, 0}, t), NumericalError);
}

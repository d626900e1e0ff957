#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

TEST_CASE("joint: heat softens stud and washers by their modulus, and the load factor with them") {
  test::ScenarioText s;
  s.stud_material = "youngs: [[20 degC, 200 GPa], [200 degC, 180 GPa]], poisson: 0.3, expansion: 11e-6 1/K";
  s.nut += ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
           "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1}";
  const test::Bench bench(s);
  const auto factor = [&](double kelvin, double washers) {
    return bench.joint.load_factor(std::vector<double>(bench.joint.stud_place() + 1, kelvin), washers);
  };
  const double slope = 4e-10;
  const double n = bench.scenario.joint.load_introduction;
  const double stud = bench.joint.stud().compliance(293.15);
  // The parts keep their modulus: their compliance follows from the cold factor.
  const double cold = factor(293.15, slope);
  const double parts = cold * (stud + slope) / (n - cold);
  CHECK(factor(473.15, slope) == close(n * parts / (parts + (stud + slope) / 0.9), 0, 1e-12));
  CHECK(factor(473.15, slope) < cold);
}

#include "models/stud.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

namespace {

Stud stud(double shank) {
  Material steel;
  steel.youngs = Table({{293.15, 200e9}, {493.15, 180e9}});
  PropertyClass strength;
  strength.yield = Table({{293.15, 900e6}, {493.15, 700e6}});
  return {Thread{"demo", 22e-3, 1.5e-3}, steel, strength, 80e-3, shank};
}

} // namespace

TEST_CASE("stud: sections in series") {
  const double d3 = 22e-3 - 1.226869 * 1.5e-3;
  const double nominal = kPi / 4 * 22e-3 * 22e-3;
  const double minor = kPi / 4 * d3 * d3;
  const double expected = ((0.5 * 22e-3 + 30e-3 + 0.4 * 22e-3) / nominal + (50e-3 + 0.5 * 22e-3) / minor) / 200e9;
  CHECK(stud(30e-3).compliance(293.15) == close(expected, 0, 1e-13));
  CHECK(stud(30e-3).compliance(493.15) == close(expected / 0.9, 0, 1e-13));
  CHECK(stud(30e-3).free_thread() == close(50e-3, 0, 1e-14));
  CHECK(stud(0).compliance(293.15) > stud(30e-3).compliance(293.15));
}

TEST_CASE("stud: yields at its strength and hardens to a tangent of two per cent") {
  const Stud s = stud(0);
  const double area = s.thread().stress_area();
  CHECK(s.yield_force(0, 293.15, 1) == close(900e6 * area, 0, 1e-13));
  CHECK(s.yield_force(0, 393.15, 1) == close(800e6 * area, 0, 1e-13));
  const double force = 950e6 * area;
  const StudStretch x = s.stretch(force, 0, 293.15, 1);
  CHECK(s.yield_force(x.plastic, 293.15, 1) == close(force, 0, 1e-13)); // just yields there again
  CHECK(s.stretch(0.99 * force, x.plastic, 293.15, 1).plastic == x.plastic);
  CHECK(s.stretch(0.99 * force, x.plastic, 293.15, 1).slope == 0);
  // Elastic L/(E As) and plastic slope together are L/(0.02 E As).
  CHECK(80e-3 / (200e9 * area) + x.slope == close(80e-3 / (0.02 * 200e9 * area), 0, 1e-13));
  CHECK(s.stretch(force, 0, 293.15, 1).plastic == close(x.slope * 50e6 * area, 0, 1e-12));
}

TEST_CASE("stud: a wrench's torsion brings yield forward") {
  const Stud s = stud(0);
  CHECK(s.yield_force(0, 293.15, 1.25) == close(s.yield_force(0, 293.15, 1) / 1.25, 0, 1e-14));
  const double force = 800e6 * s.thread().stress_area();
  CHECK(s.stretch(force, 0, 293.15, 1).plastic == 0);
  const StudStretch x = s.stretch(force, 0, 293.15, 1.25);
  CHECK(s.yield_force(x.plastic, 293.15, 1.25) == close(force, 0, 1e-13));
}

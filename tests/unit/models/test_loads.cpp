#include "models/loads.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

TEST_CASE("loads: a moment of either sign pulls alike at the outermost stud") {
  // Ten studs on a circle of 335 mm: sum of r^2 cos^2 is N R^2/2, so that F = M R/(N R^2/2).
  const double radius = 0.335 / 2;
  const double expected = 1500 * radius / (10 * radius * radius / 2);
  CHECK(axial_amplitude(1500, 10, 0.335) == close(expected, 0, 1e-12));
  CHECK(axial_amplitude(-1500, 10, 0.335) == close(expected, 0, 1e-12));
}

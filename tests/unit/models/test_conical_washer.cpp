#include "models/conical_washer.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

/// Whether the force of a washer of 2 mm rises at every deflection up to 0.98 of flat, where flattening begins.
bool rises(double cone_height, double reduced_thickness) {
  const ConicalWasher washer(50e-3, 25e-3, 2e-3, cone_height, reduced_thickness, 206e9, 0.3);
  for (int i = 1; i <= 980; ++i) {
    if (washer.tangent(washer.flat() * i / 1000) <= 0) {
      return false;
    }
  }
  return true;
}

} // namespace

TEST_CASE("conical washer: up to the largest rising height the force rises, above it the force falls") {
  CHECK(largest_rising_height(2e-3, 0) == close(std::sqrt(2.0) * 2e-3, 0, 1e-15));
  for (const double reduced : {0.0, 1.9e-3, 1.8e-3, 1.5e-3}) {
    CAPTURE(reduced);
    const double height = largest_rising_height(2e-3, reduced);
    CHECK(height > 0.2e-3);
    CHECK(rises(0.999 * height, reduced));
    // The tangent is least at flat, so it is already down to zero at 0.98 of flat for a cone a hair higher.
    CHECK_FALSE(rises(1.01 * height, reduced));
  }
  CHECK(largest_rising_height(2e-3, 1.9e-3) < largest_rising_height(2e-3, 0));
}

TEST_CASE("conical washer: no cone rises to flat where the flats take most of the thickness") {
  CHECK(largest_rising_height(2e-3, 0.5e-3) == 0);
  CHECK(std::isnan(largest_rising_height(NAN, 0)));
  CHECK(std::isnan(largest_rising_height(2e-3, NAN)));
}

#include "models/washer_set.hpp"
#include "tests/support/law_check.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

TEST_CASE("washer set: a share of the deflection that grows with heat, in three equal modes") {
  const WasherSetLaw law(Table({{293.15, 0}, {373.15, 0.02}, {473.15, 0.06}}));
  CHECK(law.drive() == Drive::WasherDeflection);
  CHECK(law.states() == 3);
  const auto after = [&](double time, double kelvin) {
    return test::step_law(law, {time, kelvin, kelvin, kelvin, 0, 1e9}, test::started(law), 0.6e-3, 0.6e-3).loss.loss;
  };
  CHECK(after(1e12, 473.15) == close(0.06 * 0.6e-3, 0, 1e-9));
  CHECK(after(1e12, 423.15) == close(0.04 * 0.6e-3, 0, 1e-9));
  CHECK(after(1e12, 293.15) == 0);
  const double q = 0.06 * 0.6e-3 / 3;
  CHECK(after(1e5, 473.15) == close(q * (1 + (1 - std::exp(-1.0)) + (1 - std::exp(-0.01))), 0, 1e-9));
  test::check_law(law, {1e4, 400, 410, 420, 0, 1e9}, test::started(law), 0.6e-3, 0.61e-3);
}

TEST_CASE("washer set: rolling does not speed it up") {
  const WasherSetLaw law(Table(0.05));
  CHECK(law.fastest(400, 100) == close(1e-3, 0, 1e-14));
}

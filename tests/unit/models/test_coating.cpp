#include "models/coating.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

Coating film() {
  Coating c;
  c.glass_transition = 338.15;
  c.transition_width = 8;
  c.compaction_cold = 0.05;
  c.compaction_hot = 0.15;
  c.activation_below = 180e3;
  c.pigment = 0.35;
  c.flow = CoatingFlow{1e9, 393.15};
  c.breakdown = CoatingBreakdown{1e-5, 453.15, 120e3};
  return c;
}

} // namespace

TEST_CASE("coating: the shift is nothing at the glass transition and universal above it") {
  const Coating c = film();
  CHECK(c.log10_shift(c.glass_transition) == close(0, 1e-15, 0));
  // -17.44 times 51.6/(51.6 + 51.6) is half of 17.44.
  CHECK(c.log10_shift(c.glass_transition + 51.6) == close(-8.72, 0, 1e-14));
  CHECK(c.log10_shift(c.glass_transition + 10) == close(-17.44 * 10 / 61.6, 0, 1e-14));
}

TEST_CASE("coating: below the glass transition the shift is an Arrhenius factor") {
  const Coating c = film();
  const double t = c.glass_transition - 20;
  const double expected = 180e3 / 8.31446261815324 * (1 / t - 1 / c.glass_transition) / std::log(10.0);
  CHECK(c.log10_shift(t) == close(expected, 0, 1e-13));
  CHECK(c.log10_shift(t) > 0);
}

TEST_CASE("coating: the shift is capped at both ends") {
  const Coating c = film();
  CHECK(c.log10_shift(150) == 16);
  CHECK(c.log10_shift(1000) == -12);
}

TEST_CASE("coating: what pressing can close goes from cold to hot, half way at the glass transition") {
  const Coating c = film();
  CHECK(c.compactable(c.glass_transition) == close(0.10, 0, 1e-14));
  CHECK(c.compactable(c.glass_transition + 8) == close(0.05 + 0.10 / (1 + std::exp(-1.0)), 0, 1e-14));
  CHECK(c.compactable(150) == close(0.05, 0, 1e-9));
  CHECK(c.compactable(600) == close(0.15, 0, 1e-9));
}

TEST_CASE("coating: viscosity follows the shift, with the shift capped before the ratio is formed") {
  const Coating c = film();
  CHECK(c.viscosity(c.flow->at) == close(1e9, 0, 1e-14));
  const double t = 413.15;
  CHECK(c.viscosity(t) == close(1e9 * std::pow(10.0, c.log10_shift(t) - c.log10_shift(c.flow->at)), 0, 1e-14));
  // Far above T_g both are at the cap of the shift: the viscosity has a floor.
  CHECK(c.viscosity(1000) == close(1e9 * std::pow(10.0, -12 - c.log10_shift(c.flow->at)), 0, 1e-14));
  CHECK(c.viscosity(200) == 1e18);
}

TEST_CASE("coating: breakdown is first order with an Arrhenius rate, and absent without its block") {
  Coating c = film();
  CHECK(c.breakdown_rate(453.15) == close(1e-5, 0, 1e-14));
  CHECK(c.breakdown_rate(433.15) ==
        close(1e-5 * std::exp(-120e3 / 8.31446261815324 * (1 / 433.15 - 1 / 453.15)), 0, 1e-13));
  CHECK(c.breakdown_rate(433.15) < 1e-5);
  c.breakdown.reset();
  CHECK(c.breakdown_rate(453.15) == 0);
}

TEST_CASE("coating: shares of the film add up") { CHECK(film().flowing_share() == close(0.5, 0, 1e-15)); }

TEST_CASE("coating: every declared parameter has a meaning, a range and its own key") {
  for (const Field<Coating>& f : Coating::fields()) {
    CAPTURE(f.spec.key);
    CHECK(!f.spec.meaning.empty());
    CHECK(f.spec.allowed.low < f.spec.allowed.high);
    CHECK(f.spec.allowed.holds(f.spec.calibrated.low));
    CHECK(f.spec.allowed.holds(f.spec.calibrated.high));
  }
}

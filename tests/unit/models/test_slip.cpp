#include "models/constants.hpp"
#include "models/slip.hpp"
#include "models/wear.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <array>

using namespace clampfade;
using test::close;

TEST_CASE("slip: a zone's force rises to friction and no further") {
  CHECK(zone_force(0, 2e4, 1e-10) == 0);
  CHECK(zone_force(1e-6, 2e4, 1e-10) == close(2e4 * (1 - std::pow(0.5, 1.5)), 0, 1e-13));
  CHECK(zone_force(2e-6, 2e4, 1e-10) == 2e4);
  CHECK(zone_force(1, 2e4, 1e-10) == 2e4);
  CHECK(zone_force(1e-6, 0, 1e-10) == 0); // nothing clamps here
}

TEST_CASE("slip: counts stand for as many studs") {
  const std::array<double, 4> limits{1e4, 1e4, 1e4, 3e4};
  const std::array<double, 4> ones{1, 1, 1, 1};
  const std::array<double, 2> lumped{1e4, 3e4};
  const std::array<double, 2> counts{3, 1};
  const SlipAnswer a = slip(4e4, limits, ones, 1e-10, 1e-3);
  const SlipAnswer b = slip(4e4, lumped, counts, 1e-10, 1e-3);
  CHECK(a.displacement == close(b.displacement, 0, 1e-13));
  CHECK(a.demand_ratio == close(4.0 / 6, 0, 1e-14));
  CHECK(3 * zone_force(a.displacement, 1e4, 1e-10) + zone_force(a.displacement, 3e4, 1e-10) == close(4e4, 0, 1e-11));
}

TEST_CASE("slip: a stud bends before its nut slides, by the cube of its grip") {
  const double i = kPi * std::pow(20e-3, 4) / 64;
  CHECK(nut_slip_threshold(0.12, 150e3, 60e-3, 205e9, i) == close(0.12 * 150e3 * 2.16e-4 / (12 * 205e9 * i), 0, 1e-13));
  CHECK(nut_slip_threshold(0.12, 150e3, 120e-3, 205e9, i) ==
        close(8 * nut_slip_threshold(0.12, 150e3, 60e-3, 205e9, i), 0, 1e-13));
  // Guided ends: sigma = M (d/2)/I with M = 6 E I s/L^2.
  const double moment = 6 * 205e9 * i * 0.1e-3 / (60e-3 * 60e-3);
  CHECK(bending_amplitude(0.1e-3, 60e-3, 205e9, 20e-3) == close(moment * 10e-3 / i, 0, 1e-13));
}

TEST_CASE("wear: depth a turn is pressure times the slip that friction implies") {
  CHECK(zone_wear(1e-16, 80e6, 3e-6, 2e4, 1e-10) == close(1e-16 * 80e6 * 4 * (3e-6 - 2e4 * 1e-10 / 1.5), 0, 1e-13));
  CHECK(zone_wear(1e-16, 80e6, 1e-6, 2e4, 1e-10) == 0);
  CHECK(nut_wear(1e-16, 80e6, 3e-6) == close(1e-16 * 80e6 * 4 * 3e-6, 0, 1e-13));
}

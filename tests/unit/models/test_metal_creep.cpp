#include "models/constants.hpp"
#include "models/implicit_weight.hpp"
#include "models/metal_creep.hpp"
#include "tests/support/law_check.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

TEST_CASE("metal creep: the rate is Norton's with an Arrhenius factor") {
  const MetalCreep creep{5e-6, 6, 140e3};
  const double t = 473.15;
  CHECK(creep.strain_rate(200e6, t) ==
        close(5e-6 * std::pow(200.0, 6) * std::exp(-140e3 / (kGasConstant * t)), 0, 1e-13));
  CHECK(creep.strain_rate(400e6, t) == close(64 * creep.strain_rate(200e6, t), 0, 1e-13));
  CHECK(creep.strain_rate(0, t) == 0);
  CHECK(creep.strain_rate(-1e6, t) == 0);
}

TEST_CASE("metal creep: the law keeps slope and rate") {
  const MetalCreepLaw law({5e-6, 6, 120e3}, 20e-3, 8e-4);
  test::check_law(law, {1e3, 450, 455, 460, 0, 5e8}, {0}, 150e3, 149.9e3);
  test::check_law(law, {1e9, 450, 455, 460, 0, 5e8}, {1e-6}, 150e3, 120e3);
}

TEST_CASE("metal creep: heat that rises over a step counts by its mean rate") {
  const MetalCreepLaw law({5e-6, 6, 120e3}, 20e-3, 8e-4);
  const MetalCreep creep{5e-6, 6, 120e3};
  const double stress = 150e3 / 8e-4;
  const double mean =
      (creep.strain_rate(stress, 440) + 4 * creep.strain_rate(stress, 450) + creep.strain_rate(stress, 460)) / 6;
  CHECK(test::step_law(law, {100, 440, 450, 460, 0, 5e8}, {0}, 150e3, 150e3).loss.loss ==
        close(20e-3 * mean * 100, 0, 1e-12));
}

TEST_CASE("metal creep: the end counts half in a short step and all of it in a long one") {
  CHECK(implicit_weight(0) == 0.5);
  CHECK(implicit_weight(1e-4) == close(0.5, 1e-4, 0));
  CHECK(implicit_weight(0.999e-3) == close(implicit_weight(1.001e-3), 1e-6, 0)); // the two forms meet
  CHECK(implicit_weight(2) == close(1 / (1 - std::exp(-2.0)) - 0.5, 0, 1e-14));
  CHECK(implicit_weight(1e12) == close(1, 0, 1e-11));
}

#include "models/coating_film.hpp"
#include "tests/support/law_check.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

namespace {

Coating film(bool flows, bool burns) {
  Coating c;
  c.glass_transition = 338.15;
  c.transition_width = 8;
  c.compaction_cold = 0.05;
  c.compaction_hot = 0.15;
  c.activation_below = 180e3;
  c.pigment = 0.35;
  if (flows) {
    c.flow = CoatingFlow{1e8, 393.15};
  }
  if (burns) {
    c.breakdown = CoatingBreakdown{1e-4, 453.15, 120e3};
  }
  return c;
}

} // namespace

TEST_CASE("coating film: starts as what neither stays nor is pressed") {
  const CoatingFilmLaw law({{film(true, false), 80e-6}, {film(true, false), 40e-6}}, 1e-3, 8e-3);
  CHECK(test::started(law)[0] == close(0.5 * 120e-6, 0, 1e-14));
  CHECK(law.loss(test::started(law)) == 0);
}

TEST_CASE("coating film: keeps slope and rate with flow, with breakdown and with both") {
  for (const bool flows : {false, true}) {
    for (const bool burns : {false, true}) {
      CAPTURE(flows);
      CAPTURE(burns);
      const CoatingFilmLaw law({{film(flows, burns), 80e-6}}, 1e-3, 8e-3);
      const LawStep warm{1e3, 390, 392, 395, 0, 1e9};
      const std::vector<double> begun = test::step_law(law, warm, test::started(law), 150e3, 148e3).z;
      test::check_law(law, {20, 395, 395, 395, 0, 1e9}, begun, 148e3, 147e3);
    }
  }
}

TEST_CASE("coating film: two flowing films are one, with fluidities by their shares") {
  // Film a four times as thick; b ten times as viscous: 1/eta = 0.8/eta_a + 0.2/(10 eta_a).
  Coating slow = film(true, false);
  slow.flow->viscosity = 1e9;
  const CoatingFilmLaw law({{film(true, false), 80e-6}, {slow, 20e-6}}, 1e-3, 8e-3);
  const double h = 50e-6;
  const double force = 150e3;
  std::vector<double> rate(law.states());
  law.rate(test::started(law), force, 393.15, 0, rate);
  const double fluidity = (0.8 / 1e8 + 0.2 / 1e9) / (64e-6 * 1e-3);
  CHECK(rate[0] == close(-h * h * h * force * fluidity, 0, 1e-12));
  const test::Stepped end =
      test::step_law(law, {1e4, 393.15, 393.15, 393.15, 0, 1e9}, test::started(law), force, force);
  CHECK(law.layer_loss(end.z, 0) == close(4 * law.layer_loss(end.z, 1), 0, 1e-12));
}

TEST_CASE("coating film: all that can go is what flows or burns") {
  const CoatingFilmLaw law({{film(true, true), 80e-6}}, 1e-3, 8e-3);
  std::vector<double> z = test::started(law);
  for (int i = 0; i < 200; ++i) {
    z = test::step_law(law, {1e5, 453.15, 453.15, 453.15, 0, 1e9}, z, 150e3, 150e3).z;
  }
  CHECK(law.loss(z) == close(0.5 * 80e-6, 0, 0.02));
  CHECK(law.loss(z) <= 0.5 * 80e-6 * 1.02); // the trapezoid of the shares
  ByMechanism by{};
  law.add_losses(z, by);
  CHECK(by[index(Mechanism::CoatingFlow)] > 0);
  CHECK(by[index(Mechanism::CoatingBreakdown)] > 0);
}

TEST_CASE("coating film: without force nothing flows") {
  const CoatingFilmLaw law({{film(true, false), 80e-6}}, 1e-3, 8e-3);
  CHECK(test::step_law(law, {1e6, 393.15, 393.15, 393.15, 0, 1e9}, test::started(law), 0, 0).loss.loss == 0);
}

// Checks: how embedding spreads over hours and weeks at rest.
// Problem: EmbeddingLaw alone at a constant clamp, no load cycles, stepped by a tenth of an hour from the first minute.
// Reference: Guide to design criteria for bolted and riveted joints (memory): a further loss in 21 days of which 90 %
// comes
//   in the first day; commentary of the RCSC specification on a 1967 study (seen in text): plain joints lose their 2.5
//   % in 5 days and next to nothing after.
// Tolerance: "about 90 %" of joints that scatter by half of their mean: 85 to 95 %. "Next to nothing after 5 days": at
//   least 93 % of what 21 days bring. The law gives 92.3 % and 95.1 %, pinned to 0.1 % as a regression. Two courses
//   that the figure rules out stay outside the band: the logarithm of time from 1 min (70.5 %) and from 1 s (78.9 %).
// Fails if: a mode's weight or time is changed so that the first day no longer holds most of three weeks.
#include "models/embedding.hpp"
#include "models/units.hpp"
#include "tests/support/law_step.hpp"
#include "tests/verification/published/printed.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string_view>
#include <vector>

using namespace clampfade;
using clampfade::test::check;
using clampfade::test::close;
using clampfade::test::not_modelled;
using clampfade::test::outside_scope;
using clampfade::test::Seen;
using clampfade::test::take_step;

namespace {

/// Share of the amount f_Z that has settled by `time` [s] at the clamp of the set torque, in steps of 360 s.
double settled(double time) {
  const EmbeddingLaw law(1e-6);
  std::vector<double> z(law.states()), next(law.states());
  law.start(z);
  const int steps = static_cast<int>(std::lround(time / 360));
  LawStep step;
  step.duration = time / steps;
  step.temperature_start = step.temperature_middle = step.temperature_end = 293.15;
  for (int k = 0; k < steps; ++k) {
    take_step(law, step, z, 1, 1, next);
    z = next;
  }
  return law.loss(z) / 1e-6;
}

constexpr std::string_view kGuide = "Guide to design criteria for bolted and riveted joints";

} // namespace

TEST_CASE("settling course: at constant clamp the law is the sum of its three modes") {
  for (const double time : {600.0, units::kHour, units::kDay, 5 * units::kDay, 21 * units::kDay}) {
    CAPTURE(time);
    const double sum =
        0.45 * -std::expm1(-time / 60) + 0.45 * -std::expm1(-time / 1e4) + 0.10 * -std::expm1(-time / 1e6);
    CHECK(settled(time) == close(sum, 0, 1e-11)); // exact in each of at most 5040 steps
  }
}

TEST_CASE("published: most of three weeks' settling comes in the first day") {
  const double share = settled(units::kDay) / settled(21 * units::kDay);
  check("first day of 21 days [%]", {90, 10, kGuide, Seen::Memory}, share * 100, 0);
  check("the same, as the law stands [%]", {92.3, 0.1, "three modes of the embedding law", Seen::Derived}, share * 100,
        0);
  // What the published figure rules out: a course like log(1 + t/t0).
  const auto logarithmic = [](double t0) { return std::log1p(units::kDay / t0) / std::log1p(21 * units::kDay / t0); };
  check("logarithm from 1 min [%]", {70.5, 0.1, "log10(1 + t/t0)", Seen::Derived}, logarithmic(60) * 100, 0);
  check("logarithm from 1 s [%]", {78.9, 0.1, "log10(1 + t/t0)", Seen::Derived}, logarithmic(1) * 100, 0);
  CHECK(share > logarithmic(1) + 0.1);
}

TEST_CASE("published: settling saturates after five days") {
  const double share = settled(5 * units::kDay) / settled(21 * units::kDay);
  CHECK(share > 0.93);
  check("the same, as the law stands [%]", {95.1, 0.1, "three modes of the embedding law", Seen::Derived}, share * 100,
        0);
  // Eight specimens of one joint lost 1.0 to 3.4 % and stopped inside 7 h; no constant was changed for it.
  outside_scope("7 h of 21 days, laboratory bolts [%]", {100, 1, "laboratory test of eight bolts, text", Seen::Text},
                settled(7 * units::kHour) / settled(21 * units::kDay) * 100, 0, "one small test of one kind of joint");
  not_modelled("loss of galvanised plies in 5 days [%]", "RCSC commentary, 1967 study", Seen::Text, 6.5,
               "the catalogue has no zinc layer");
  // Nothing is lost twice: it never recovers and never passes its amount.
  CHECK(settled(21 * units::kDay) < settled(365 * units::kDay));
  CHECK(settled(365 * units::kDay) < 1 + 1e-12);
}

// Checks: that settling modes settle: never below nothing, never back, never past the largest target they have had.
// Problem: each law built on them, drawn, through drawn drives, temperatures, load cycles and step lengths from a
//   thousandth of a second to years.
// Reference: EQUATIONS.md (6.1), (6.3), (6.5), (6.6), (6.11): targets written out here once more.
// Tolerance: 1e-12 of the target.
// Fails if: a mode passes its target over a long step, recovers when the drive falls, or starts anywhere but at zero.
#include "models/coating_creep.hpp"
#include "models/embedding.hpp"
#include "models/washer_set.hpp"
#include "tests/property/generators.hpp"
#include "tests/property/property.hpp"
#include "tests/support/law_step.hpp"

#include <functional>
#include <memory>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// A law with the targets of its modes at a drive and a temperature.
struct Settler {
  std::unique_ptr<SettlingLaw> law;
  std::vector<double> shares;
  std::function<double(double drive, double temperature)> target; ///< of all modes together [m]
  double largest_drive = 0;
};

Settler draw_settler(std::size_t kind) {
  Settler s;
  if (kind == 0) {
    const double amount = *between(1e-7, 10e-6);
    s.law = std::make_unique<EmbeddingLaw>(amount);
    s.shares = {0.45, 0.45, 0.10};
    s.target = [=](double ratio, double) { return amount * std::min(1.5, std::sqrt(std::max(0.0, ratio))); };
    s.largest_drive = 3;
  } else if (kind == 1) {
    const double gap = *between(1e-6, 50e-6);
    s.law = std::make_unique<UnseatedLaw>(gap);
    s.shares = {1};
    s.target = [=](double, double) { return gap; };
    s.largest_drive = 2e5;
  } else if (kind == 2) {
    const Coating c = draw_coating();
    const double film = *between(10e-6, 150e-6);
    const double area = *between(5e-4, 4e-3);
    s.law = std::make_unique<CoatingCreepLaw>(c, film, area);
    s.shares.assign(c.relaxation.modes, 1 / static_cast<double>(c.relaxation.modes));
    s.target = [=](double force, double t) {
      const double share = c.compaction_cold + (c.compaction_hot - c.compaction_cold) /
                                                   (1 + std::exp(-(t - c.glass_transition) / c.transition_width));
      const double p = force / area;
      return film * share * p / (p + c.half_pressure);
    };
    s.largest_drive = 3e5;
  } else {
    const Table set({{293.15, 0}, {373.15, *between(0.005, 0.05)}});
    s.law = std::make_unique<WasherSetLaw>(set);
    s.shares.assign(3, 1.0 / 3);
    s.target = [=](double deflection, double t) { return set(t) * deflection; };
    s.largest_drive = 1.5e-3;
  }
  return s;
}

} // namespace

TEST_CASE("property: every settling mode stays between zero and its largest target") {
  for (const std::size_t kind : {std::size_t{0}, std::size_t{1}, std::size_t{2}, std::size_t{3}}) {
    CAPTURE(kind);
    check_property("settling modes stay in bounds", [kind] {
      const Settler s = draw_settler(kind);
      const std::size_t modes = s.law->states();
      RC_ASSERT(modes == s.shares.size());
      std::vector<double> z(modes, -1);
      s.law->start(z);
      double largest = 0;
      double drive = *between(0, s.largest_drive);
      double temperature = *between(260, 450);
      std::vector<double> end(modes);
      for (const double v : z) {
        RC_ASSERT(v == 0);
      }
      for (std::size_t k = *count(1, 12); k > 0; --k) {
        const double next = *chance(0.2) ? 0 : *between(0, s.largest_drive);
        const double warmer = *chance(0.5) ? temperature : *between(260, 450);
        LawStep step;
        step.duration = *spread(1e-3, 1e8);
        step.temperature_start = temperature;
        step.temperature_middle = (temperature + warmer) / 2;
        step.temperature_end = warmer;
        step.cycle_rate = *chance(0.5) ? *between(0, 10) : 0;
        step.stiffness = 5e8;
        const LawLoss loss = take_step(*s.law, step, z, drive, next, end);
        const LawLoss tried = try_step(*s.law, step, z, drive, next);
        largest = std::max({largest, s.target(drive, temperature), s.target(next, warmer)});
        double sum = 0;
        for (std::size_t m = 0; m < modes; ++m) {
          const double most = s.shares[m] * largest;
          expect_at_least("mode", end[m], 0, 0);
          expect_at_least("mode against its start", end[m], z[m], 1e-12 * most);
          expect_at_least("largest target", most, end[m], 1e-12 * most);
          sum += end[m];
        }
        expect("loss", loss.loss, close(sum, 1e-25, 1e-12));
        expect("loss in the force balance", tried.loss, close(sum, 1e-12 * largest, 1e-11));
        expect("slope in the force balance", tried.slope, close(loss.slope, 1e-9 * largest / s.largest_drive, 1e-9));
        expect_at_least("slope", loss.slope, 0, 1e-12 * largest / s.largest_drive);
        z = end;
        drive = next;
        temperature = warmer;
      }
    });
  }
}

TEST_CASE("property: over very many relaxation times a mode keeps what a falling target let it settle") {
  // Found by the property above: hot paint has steps of 1e10 relaxation times and more. The mode is at the target at
  // once, and stays where it was highest.
  for (const double times : {1e3, 1e8, 1e12, 1e16, 1e20}) {
    CAPTURE(times);
    CHECK(settle(0.5, 1.0, 0.9, times, 0, 1 / times).value == close(1, 2 * std::log(times) / times, 1e-15));
    CHECK(settle(0.5, 1.0, 0.1, times, 0, 1 / times).value == close(1, 2 * std::log(times) / times, 1e-15));
  }
}

// Checks: what no course of heat, rolling and wrench may do to the losses and to the account of them.
// Problem: drawn wheels through drawn stretches, with nuts taken off and wheels tightened anew on the way.
// Reference: conservation; EQUATIONS.md 13 for the budget, (7.7) for films.
// Tolerance: round-off for what may not fall; 1e-9 of the clamp for the budget.
// Fails if: a loss recovers, a face grows, a film gets thinner than its pigment, or clamp is lost without a name.
#include "solver/budget.hpp"
#include "tests/property/property.hpp"
#include "tests/property/rig.hpp"

using namespace clampfade;
using namespace clampfade::test;

TEST_CASE("property: no loss recovers, wear and stretch never fall, and no film gets thinner than its pigment") {
  check_property("losses are for good", [] {
    const Scenario s = *wheels();
    const std::vector<Stretch> course = *courses(s, true);
    Rig rig(s);
    std::vector<ByMechanism> was;
    std::vector<ByMechanism> is;
    const auto watch = [&](const State& before, const State& after, const std::vector<double>&) {
      for (std::size_t c = 0; c < rig.wheel.columns(); ++c) {
        rig.wheel.losses(before, c, was);
        rig.wheel.losses(after, c, is);
        for (std::size_t k = 0; k < is.size(); ++k) {
          for (std::size_t m = 0; m < kMechanisms; ++m) {
            expect_at_least(kMechanismNames[m], is[k][m], 0, 1e-18);
            expect_at_least(kMechanismNames[m], is[k][m], was[k][m], 1e-15);
          }
        }
        expect_at_least("permanent stretch", rig.wheel.plastic(after, c), rig.wheel.plastic(before, c), 0);
        expect_at_least("clamp", rig.wheel.clamp(after, c), 0, 0);
        for (std::size_t k = 0; k < rig.joint.layers().size(); ++k) {
          const FaceCoating& film = rig.joint.layers()[k].film;
          expect_at_least("film", rig.wheel.layer_thickness(after, c, k), film.coating.pigment * film.thickness, 1e-15);
          expect_at_least("film", rig.wheel.layer_thickness(before, c, k), rig.wheel.layer_thickness(after, c, k),
                          1e-15);
        }
      }
    };
    for (const Stretch& stretch : course) {
      rig.go(stretch, watch);
      rig.retorque(0);
    }
  });
}

TEST_CASE("property: the budget closes after whatever has happened") {
  check_property("cold clamp is first clamp less what each mechanism cost, plus what later acts won", [] {
    const Scenario s = *wheels();
    const std::vector<Stretch> course = *courses(s, true);
    Rig rig(s);
    Budget budget(rig.wheel);
    budget.start(rig.x);
    const std::size_t n = rig.wheel.columns();
    std::vector<double> first;
    for (std::size_t c = 0; c < n; ++c) {
      first.push_back(budget.cold(c));
      expect("cold clamp of a tightened wheel", first[c],
             close(rig.wheel.clamp(rig.x, c), 1e-9 * rig.balance_scale(), 0));
    }
    const auto close_books = [&] {
      budget.settle(rig.x);
      Rest rest;
      rig.wheel.cold(rig.x, rest);
      for (std::size_t c = 0; c < n; ++c) {
        double left = first[c] + budget.gain(c);
        for (std::size_t m = 0; m < kMechanisms; ++m) {
          left -= budget.loss_clamp(c, m);
        }
        const double slack = 1e-9 * rig.balance_scale();
        expect(fmt::format("budget of stud {}", c + 1), left, close(budget.cold(c), slack, 0));
        expect(fmt::format("cold clamp of stud {}", c + 1), budget.cold(c),
               close(rest.forces[(c + 1) * rig.joint.segments() - 1], slack, 0));
      }
    };
    for (const Stretch& stretch : course) {
      rig.go(stretch,
             [&](const State& before, const State& after, const std::vector<double>&) { budget.step(before, after); });
      close_books();
      const std::size_t c = *count(0, n - 1);
      if (*chance(0.3)) {
        rig.wheel.remove_nut(rig.x, c, rig.nodes);
      } else {
        rig.retorque(c);
      }
      budget.act(rig.x);
      close_books();
    }
  });
}

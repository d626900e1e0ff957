// Checks: that every wheel is at rest at all times, and what rest costs and gives in work.
// Problem: drawn wheels through drawn heat, rolling and pauses; held at constant temperatures; elastic ones heated and
//   cooled again.
// Reference: EQUATIONS.md (5.1) to (5.4) written out here once more; convexity of the stored energy; the maximum
//   principle of springs that only neighbours tie together.
// Tolerance: 1e-9 of the clamp, or of the forces that pull a wavy disc flat: forces are converged to 1e-11 of them.
// Fails if: a term of the balance is left out or counted twice, a loss gives clamp, or a wheel makes work of nothing.
#include "tests/property/balance.hpp"
#include "tests/property/property.hpp"
#include "tests/property/rig.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// The state is at rest at these temperatures of the nodes.
void expect_balance(const Rig& rig, const State& x, const std::vector<double>& nodes) {
  const Imbalance worst = imbalance(rig.wheel, x, rig.elastic(nodes), rig.balance_scale());
  expect_at_least(worst.where, 1e-9, worst.share, 0);
}

/// Work stored in springs that give it back: segments, washers without friction, bent discs [J].
double stored_energy(const Rig& rig, const State& x, const Elastic& e) {
  double energy = 0;
  const std::size_t n = rig.wheel.columns();
  for (std::size_t c = 0; c < n; ++c) {
    for (std::size_t s = 0; s < rig.joint.segments(); ++s) {
      const double f = rig.force(x, c, s);
      energy += e.compliance[s] * f * f / 2;
    }
    if (const auto& washers = rig.joint.washers()) {
      // The force is a cubic up to 0.98 of flat, a parabola up to flat and a line beyond: Simpson's rule is exact.
      const double knots[] = {0, 0.98 * washers->flat(), washers->flat(), 10 * washers->flat()};
      const double end = rig.wheel.washers(x, c).deflection;
      for (int k = 0; k < 3 && end > knots[k]; ++k) {
        const double a = knots[k];
        const double b = std::min(end, knots[k + 1]);
        energy += e.washer_modulus * (b - a) / 6 *
                  (washers->compressing_force(a) + 4 * washers->compressing_force((a + b) / 2) +
                   washers->compressing_force(b));
      }
    }
    for (std::size_t k = 0; k + 1 < rig.joint.segments(); ++k) {
      const double bend = rig.face(x, c, k) - rig.face(x, (c + 1) % n, k);
      energy += e.ring[k] * bend * bend / 2;
    }
  }
  return energy;
}

/// A stretch to `hot`, then time at these temperatures; load cycles may help the paint along but do no work.
std::vector<Stretch> draw_hold(const Scenario& s) {
  Stretch warm = draw_stretch(s, false);
  Stretch hold = warm;
  warm.duration = 600;
  hold.road.cycle_rate = *chance(0.5) ? *between(0, 3) : 0;
  return {warm, hold};
}

} // namespace

TEST_CASE("property: at every step each column's clamp is the elastic closure that its losses leave") {
  check_property("forces balance at every step", [] {
    const Scenario s = *wheels();
    const std::vector<Stretch> course = *courses(s, true);
    Rig rig(s);
    RC_ASSERT(rig.wheel.clamp(rig.x, 0) == rig.force(rig.x, 0, rig.joint.segments() - 1));
    expect_balance(rig, rig.x, rig.nodes);
    for (const Stretch& stretch : course) {
      rig.go(stretch, [&](const State&, const State& after, const std::vector<double>& nodes) {
        expect_balance(rig, after, nodes);
      });
      rig.retorque(0);
      expect_balance(rig, rig.x, rig.nodes);
      rig.wheel.remove_nut(rig.x, 1, rig.nodes);
      expect_balance(rig, rig.x, rig.nodes);
      rig.retorque(1);
    }
  });
}

TEST_CASE("property: relaxation at constant temperature gives work away and never makes any") {
  Allowed may;
  may.sticking = false; // what nested cones hold by friction is no work that comes back
  // The stored work is convex in the thicknesses lost, and a segment's force is what it falls by for each metre lost
  // there. So a step loses at least its end forces times what went, and at most its start forces times it.
  check_property("stored elastic energy falls by what the losses dissipate", [may] {
    const Scenario s = *wheels(may);
    const std::vector<Stretch> hold = *rc::gen::exec([&s] { return draw_hold(s); });
    Rig rig(s);
    rig.go(hold[0]);
    const Elastic e = rig.elastic(rig.nodes);
    const double scale = rig.balance_scale() * rig.balance_scale() * static_cast<double>(rig.wheel.columns()) *
                         std::accumulate(e.compliance.begin(), e.compliance.end(), 0.0);
    const double start = stored_energy(rig, rig.x, e);
    double spent = 0;
    rig.go(hold[1], [&](const State& before, const State& after, const std::vector<double>&) {
      const double fall = stored_energy(rig, before, e) - stored_energy(rig, after, e);
      double least = 0;
      double most = 0;
      for (std::size_t c = 0; c < rig.wheel.columns(); ++c) {
        const std::vector<double> was = rig.lost(before, c);
        const std::vector<double> is = rig.lost(after, c);
        for (std::size_t k = 0; k < is.size(); ++k) {
          least += rig.force(after, c, k) * (is[k] - was[k]);
          most += rig.force(before, c, k) * (is[k] - was[k]);
        }
      }
      expect_at_least("dissipation", least, 0, 1e-9 * scale);
      expect_at_least("fall of stored energy", fall, least, 1e-9 * scale);
      expect_at_least("bound of dissipation", most, fall, 1e-9 * scale);
      spent += fall;
    });
    expect("energy spent", spent, close(start - stored_energy(rig, rig.x, e), 1e-9 * scale, 0));
  });
}

TEST_CASE("property: the sum of all clamps never rises in relaxation at constant temperature without load") {
  // A single stud's may: what a neighbour's thickness gives up, the disc hands on. Thickness lost on the hub's side of
  // a disc lets the disc towards the hub all round the ring, thickness lost on the nut's side lets it towards the nut;
  // either way every stud's force on the hub or every nut's can only fall, open faces and curved springs included.
  check_property("the sum of clamps falls at rest", [] {
    const Scenario s = *wheels();
    const std::vector<Stretch> hold = *rc::gen::exec([&s] { return draw_hold(s); });
    Rig rig(s);
    rig.go(hold[0]);
    const auto sum = [&rig](const State& x) {
      double all = 0;
      for (std::size_t c = 0; c < rig.wheel.columns(); ++c) {
        all += rig.wheel.clamp(x, c);
      }
      return all;
    };
    const double slack = 1e-10 * rig.balance_scale() * static_cast<double>(rig.wheel.columns());
    rig.go(hold[1], [&](const State& before, const State& after, const std::vector<double>&) {
      expect_at_least("fall of the sum of clamps", sum(before) - sum(after), 0, slack);
    });
  });
}

TEST_CASE("property: an elastic wheel that comes back to its first temperatures has its first clamps") {
  Allowed may;
  may.losses = false;
  may.sticking = false;
  may.yield = false;
  check_property("heat leaves no trace on an elastic wheel", [may] {
    const Scenario s = *wheels(may);
    std::vector<Stretch> course = *courses(s, false);
    Rig rig(s);
    course.push_back(course.back());
    course.back().temperature = rig.nodes;
    const State first = rig.x;
    double moved = 0;
    for (const Stretch& stretch : course) {
      rig.go(stretch);
      moved = std::max(moved, std::abs(rig.wheel.clamp(rig.x, 0) - rig.wheel.clamp(first, 0)));
    }
    for (std::size_t c = 0; c < rig.wheel.columns(); ++c) {
      expect("clamp", rig.wheel.clamp(rig.x, c), close(rig.wheel.clamp(first, c), 1e-9 * rig.balance_scale(), 0));
    }
    RC_ASSERT(moved > 0);
  });
}

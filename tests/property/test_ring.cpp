// Checks: that a wheel does not know which of its studs is called the first, nor from which side it is seen.
// Problem: drawn wheels turned or mirrored: studs renumbered, with their torque, friction and place in the order of
//   tightening; then heat, rolling, a retorque and a lost nut.
// Reference: symmetry of the ring.
// Tolerance: 1e-7 of the clamp: forces are converged to 1e-11 and step sizes follow round-off, so that the error of
//   the steps is the same.
// Fails if: neighbours are counted wrongly over the seam between the last and the first stud, or a stud's own figure
//   goes to another.
#include "tests/property/property.hpp"
#include "tests/property/rig.hpp"

#include <numeric>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// Where each stud goes.
using Renumbering = std::vector<std::size_t>;

/// A turn, or a mirror image. A wavy disc keeps its wave at the first stud, so that only turns by a whole wave and
/// mirror images of these leave it what it is.
Renumbering draw_renumbering(const Scenario& s) {
  const std::size_t n = s.joint.studs.count;
  std::size_t least = 1;
  for (const PartSpec& p : s.joint.stack) {
    if (p.flatness) {
      least = std::lcm(least, n / std::gcd(n, p.flatness->lobes));
    }
  }
  const bool mirror = *chance(0.5);
  const std::size_t turn = least * *count(0, n / least - 1);
  Renumbering to;
  for (std::size_t k = 0; k < n; ++k) {
    to.push_back(((mirror ? n - k : k) + turn) % n);
  }
  return to;
}

std::vector<double> moved(const std::vector<double>& values, const Renumbering& to) {
  std::vector<double> out(values.size());
  for (std::size_t k = 0; k < values.size(); ++k) {
    out[to[k]] = values[k];
  }
  return out;
}

Scenario renumbered(Scenario s, const Renumbering& to) {
  TighteningSpec& w = s.tightening;
  w.torque = moved(w.torque, to);
  w.thread_friction = moved(w.thread_friction, to);
  w.bearing_friction = moved(w.bearing_friction, to);
  for (std::size_t& k : w.order) {
    k = to[k];
  }
  return s;
}

} // namespace

TEST_CASE("property: turning or mirroring the studs turns or mirrors what becomes of them") {
  check_property("renumbered studs have renumbered results", [] {
    const Scenario s = *wheels();
    const Renumbering to = *rc::gen::exec([&s] { return draw_renumbering(s); });
    const std::vector<Stretch> course = *courses(s, true);
    const std::size_t lost = *count(0, to.size() - 1);
    Rig plain(s);
    Rig other(renumbered(s, to));
    const double slack = 1e-7 * plain.balance_scale();
    const auto compare = [&] {
      for (std::size_t k = 0; k < to.size(); ++k) {
        expect(fmt::format("clamp of stud {}", k + 1), other.wheel.clamp(other.x, to[k]),
               close(plain.wheel.clamp(plain.x, k), slack, 0));
        const std::vector<double> a = plain.lost(plain.x, k);
        const std::vector<double> b = other.lost(other.x, to[k]);
        for (std::size_t i = 0; i < a.size(); ++i) {
          expect(fmt::format("thickness lost in segment {} of stud {}", i, k + 1), b[i], close(a[i], 1e-12, 1e-6));
        }
      }
    };
    compare();
    for (const Stretch& stretch : course) {
      plain.go(stretch);
      other.go(stretch);
      compare();
    }
    plain.wheel.remove_nut(plain.x, lost, plain.nodes);
    other.wheel.remove_nut(other.x, to[lost], other.nodes);
    compare();
    plain.retorque((lost + 1) % to.size());
    other.retorque(to[(lost + 1) % to.size()]);
    compare();
  });
}

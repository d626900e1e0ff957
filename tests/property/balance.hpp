// Whether a wheel's state is at rest: EQUATIONS.md (5.1), or (5.3) and (5.4), written out here once more.
#pragma once

#include "solver/wheel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>
#include <vector>

namespace clampfade::test {

/// How far a state is from rest, at its worst place.
struct Imbalance {
  double share = 0;  ///< of the forces that balance, as a force; not a number where one of its numbers is none [-]
  std::string where; ///< what does not balance
  void note(double force, const std::string& what) {
    if (!std::isnan(share) && !(force <= share)) {
      share = force;
      where = what;
    }
  }
};

/// Size of the forces that balance: of a wavy disc pulled flat these may dwarf the clamp [N].
inline double balance_scale(const Joint& joint, const Wheel& wheel, const Elastic& e) {
  double scale = wheel.scale();
  for (std::size_t c = 0; c < wheel.columns(); ++c) {
    for (const double gap : joint.flatness_gaps(wheel.studs()[c])) {
      for (const double half : e.ring) {
        scale = std::max(scale, 4 * half * gap);
      }
    }
  }
  return scale;
}

/// Force of a segment [N] and displacement of a face [m]: the last entries of a column in State.
inline double segment_force(const Wheel& wheel, const State& x, std::size_t c, std::size_t segment) {
  return x[(c + 1) * wheel.stride() - (2 * wheel.joint().segments() - 1) + segment];
}
inline double face_place(const Wheel& wheel, const State& x, std::size_t c, std::size_t k) {
  return x[(c + 1) * wheel.stride() - (wheel.joint().segments() - 1) + k];
}

/// Thickness lost in a segment, permanent stretch of the stud included whoever stretched it [m].
inline std::vector<double> lost_by_segment(const Wheel& wheel, const State& x, std::size_t c) {
  std::vector<ByMechanism> by_segment;
  wheel.losses(x, c, by_segment);
  std::vector<double> sum;
  for (ByMechanism& by : by_segment) {
    by[index(Mechanism::StudYield)] = 0;
    sum.push_back(std::accumulate(by.begin(), by.end(), 0.0));
  }
  sum.back() += wheel.plastic(x, c);
  return sum;
}

/// Closure of every column, the faces' forces, washers between their branches, and nothing that pulls where it can't.
/// `e` is the elasticity at the temperatures of that instant.
inline Imbalance imbalance(const Wheel& wheel, const State& x, const Elastic& e, double scale) {
  const Joint& joint = wheel.joint();
  const std::size_t n = wheel.columns();
  const std::size_t segments = joint.segments();
  double soft = std::accumulate(e.compliance.begin(), e.compliance.end(), 0.0);
  for (std::size_t c = 0; c < n; ++c) {
    soft = std::max(soft, wheel.washer_compliance(x, c));
  }
  std::vector<char> both_ways(segments, 0); // a disc between its own faces may pull
  for (const std::size_t disc : joint.wheel_discs()) {
    both_ways[joint.parts()[disc].segment] = joint.coupled() ? 1 : 0;
  }
  Imbalance worst;
  for (std::size_t c = 0; c < n; ++c) {
    const std::size_t stud = wheel.studs()[c] + 1;
    const std::vector<double> lost = lost_by_segment(wheel, x, c);
    const std::vector<double> gaps = joint.flatness_gaps(wheel.studs()[c]);
    for (std::size_t s = 0; s < segments; ++s) {
      const double f = segment_force(wheel, x, c, s);
      double shortening = e.compliance[s] * f + e.offset[s] + gaps[s] + lost[s];
      if (s + 1 == segments) {
        shortening -= wheel.advance_of_nut(x, c);
        if (joint.washers()) {
          const WasherState w = wheel.washers(x, c);
          worst.note(std::abs(w.force * e.washer_modulus - std::max(f, 0.0)) / scale,
                     fmt::format("force on the washers of stud {}", stud));
          // Between the branches of opening and compressing; on both of them without friction.
          worst.note((w.force - joint.washers()->compressing_force(w.deflection)) / scale,
                     fmt::format("compressing washers of stud {}", stud));
          worst.note((joint.washers()->opening_force(w.deflection) - w.force) / scale,
                     fmt::format("opening washers of stud {}", stud));
          shortening += w.deflection;
        }
      }
      const double above = s + 1 < segments ? face_place(wheel, x, c, s) : 0;
      const double below = s > 0 ? face_place(wheel, x, c, s - 1) : 0;
      const double gap = (shortening - (above - below)) / soft / scale;
      if (s + 1 == segments && !wheel.nut_on(x, c)) {
        worst.note(std::abs(f) / scale, fmt::format("clamp of stud {} without a nut", stud));
      } else if (f != 0 || both_ways[s]) {
        worst.note(std::abs(gap), fmt::format("closure of stud {}, segment {} under {:.17g} N", stud, s, f));
        worst.note(both_ways[s] ? 0 : -f / scale, fmt::format("force of a face at stud {}, segment {}", stud, s));
      } else {
        worst.note(-gap, fmt::format("open face at stud {}, segment {}", stud, s));
      }
    }
    const std::size_t next = (c + 1) % n;
    const std::size_t last = (c + n - 1) % n;
    for (std::size_t k = 0; k + 1 < segments; ++k) {
      const double bend =
          e.ring[k] * (2 * face_place(wheel, x, c, k) - face_place(wheel, x, next, k) - face_place(wheel, x, last, k));
      const double moved = segment_force(wheel, x, c, k + 1) - segment_force(wheel, x, c, k);
      worst.note(std::abs(moved - bend) / scale, fmt::format("face {} at stud {}", k, stud));
    }
  }
  return worst;
}

} // namespace clampfade::test

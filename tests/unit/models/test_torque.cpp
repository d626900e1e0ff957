#include "models/torque.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

TEST_CASE("torque: a prevailing torque makes no clamp but twists the stud") {
  const Thread thread{"demo", 22e-3, 1.5e-3};
  const NutThread plain(thread, 30e-3, 0);
  const NutThread locking(thread, 30e-3, 26);
  const double f = locking.clamp(640, 0.12, 0.10);
  CHECK(f == close(plain.clamp(614, 0.12, 0.10), 0, 1e-14));
  CHECK(locking.split(f, 0.12, 0.10).total() == close(640, 0, 1e-14));
  CHECK(locking.clamp(20, 0.12, 0.10) == 0); // the nut turns without pulling
  // All but the friction under the nut twists the stud.
  const double on_thread = 640 - f * 0.10 * 15e-3;
  const double d0 = thread.stress_diameter();
  CHECK(locking.stress(f, 0.12, 0.10).torsion == close(12 * on_thread / (kPi * d0 * d0 * d0), 0, 1e-13));
  CHECK(locking.stress(f, 0.12, 0.10).axial == close(f / thread.stress_area(), 0, 1e-14));
}

TEST_CASE("torque: rest raises both frictions, not the share that stretches the stud") {
  const Thread thread{"demo", 22e-3, 1.5e-3};
  const NutThread nut(thread, 30e-3, 26);
  const TorqueSplit s = nut.split(150e3, 0.12, 0.10);
  CHECK(nut.torque_to_move(150e3, 0.12, 0.10, 1.25) ==
        close(s.pitch + 1.25 * s.thread + 1.25 * s.bearing + 26, 0, 1e-14));
  CHECK(s.pitch == close(150e3 * 1.5e-3 / (2 * kPi), 0, 1e-14));
  CHECK(s.thread == close(150e3 * 0.12 * thread.pitch_diameter() / 2 / std::cos(kPi / 6), 0, 1e-14));
  CHECK(s.bearing == close(150e3 * 0.10 * 15e-3, 0, 1e-14));
}

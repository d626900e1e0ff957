#include "models/torque.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

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

TEST_CASE("torque: a check-torque reading gives back the clamp that it was made of") {
  const Thread thread{"demo", 22e-3, 1.5e-3};
  const NutThread nut(thread, 30e-3, 26);
  for (const double clamp : {20e3, 95e3, 183e3}) {
    const double torque = nut.torque_to_move(clamp, 0.12, 0.10, 1.25);
    CHECK(clamp_of_check_torque(nut, {torque, 0}, {0.12, 0}, {0.10, 0}, {1.25, 0}).value == close(clamp, 0, 1e-13));
    CHECK(clamp_of_check_torque(nut, {torque, 0}, {0.12, 0}, {0.10, 0}, {1.25, 0}).deviation == 0);
  }
  // Up to the prevailing torque nothing is left, and the wrench's own error is all there is.
  const Measured none = clamp_of_check_torque(nut, {20, 5}, {0.12, 0.01}, {0.10, 0.01}, {1.25, 0.1});
  CHECK(none.value == 0);
  CHECK(none.deviation == close(5 / nut.arm(0.15, 0.125), 0, 1e-13));
}

TEST_CASE("torque: the deviation of a checked clamp is that of many drawn readings") {
  // Monte Carlo, with errors small enough for the first order: the mean of 200,000 has its own error of 0.2 %, and so
  // has their deviation.
  const Thread thread{"demo", 22e-3, 1.5e-3};
  const NutThread nut(thread, 30e-3, 26);
  const Measured torque{600, 12};
  const Measured thread_friction{0.12, 0.004};
  const Measured bearing_friction{0.10, 0.003};
  const Measured breakaway{1.15, 0.02};
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  const auto drawn = [&](const Measured& m) { return m.value + m.deviation * normal(random); };
  double sum = 0;
  double squares = 0;
  constexpr int kDraws = 200000;
  for (int i = 0; i < kDraws; ++i) {
    const double b = drawn(breakaway);
    const double f = nut.clamp(drawn(torque), b * drawn(thread_friction), b * drawn(bearing_friction));
    sum += f;
    squares += f * f;
  }
  const double mean = sum / kDraws;
  const Measured told = clamp_of_check_torque(nut, torque, thread_friction, bearing_friction, breakaway);
  CHECK(mean == close(told.value, 0, 2e-3));
  CHECK(std::sqrt(squares / kDraws - mean * mean) == close(told.deviation, 0, 0.01));
  // Each of the four has a say.
  for (const int without : {0, 1, 2, 3}) {
    Measured parts[] = {torque, thread_friction, bearing_friction, breakaway};
    parts[without].deviation = 0;
    CHECK(clamp_of_check_torque(nut, parts[0], parts[1], parts[2], parts[3]).deviation < 0.99 * told.deviation);
  }
}

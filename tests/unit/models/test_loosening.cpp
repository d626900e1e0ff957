#include "models/loosening.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {
const Thread kThread{"demo", 22e-3, 1.5e-3};
}

TEST_CASE("loosening: the turning share rises from half of x to one") {
  double before = 0;
  for (double x = 1e-4; x < 1e4; x *= 1.37) {
    const double share = turning_share(x);
    CAPTURE(x);
    CHECK(share > before);
    CHECK(share < 1);
    before = share;
  }
  CHECK(turning_share(0) == 0);
  CHECK(turning_share(1e-6) == close(0.5e-6, 0, 1e-9));
  CHECK(turning_share(1) == close(2 / kPi, 0, 1e-14));
  CHECK(turning_share(1 + 1e-12) == close(2 / kPi, 0, 1e-9));
  CHECK(turning_share(1 - 1e-12) == close(2 / kPi, 0, 1e-9));
  CHECK(turning_share(1e6) == close(1, 0, 1e-10));
}

TEST_CASE("loosening: more friction turns the nut less for each slide") {
  const NutThread nut(kThread, 30e-3, 0);
  const double xi = turn_per_slide(nut, 100e3, 0.12, 0.12);
  CHECK(xi > 0);
  CHECK(turn_per_slide(nut, 100e3, 0.15, 0.15) < xi);
  CHECK(turn_per_slide(nut, 20e3, 0.12, 0.12) == close(xi, 0, 1e-12)); // clamp does not matter without a locking nut
  // Where x is small: P/2pi = xi/2 (mu r_t^2/cos 30 + mu r_b^2).
  const double r_t = kThread.pitch_diameter() / 2;
  const double small = 1.5e-3 / kPi / (5 * r_t * r_t / std::cos(kPi / 6) + 5 * 225e-6);
  CHECK(turn_per_slide(nut, 100e3, 5, 5) == close(small, 0, 1e-3));
}

TEST_CASE("loosening: a locking nut holds once the clamp is low enough") {
  const NutThread nut(kThread, 30e-3, 10);
  const double limit = 10 * 2 * kPi / 1.5e-3;
  CHECK(turn_per_slide(nut, 0.99 * limit, 0.12, 0.12) == 0);
  CHECK(turn_per_slide(nut, 1.01 * limit, 0.12, 0.12) > 0);
  CHECK(turn_per_slide(nut, 1e9, 0.12, 0.12) ==
        close(turn_per_slide(NutThread(kThread, 30e-3, 0), 1, 0.12, 0.12), 0, 1e-3));
}

TEST_CASE("loosening: a thread that does not lock itself spins") {
  CHECK(turn_per_slide(NutThread(kThread, 30e-3, 0), 1e5, 1e-3, 1e-3) == 1e6);
}

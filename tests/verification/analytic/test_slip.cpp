// Checks: side slip of a disc and the turning of nuts that it drags.
// Problem: studs that are all alike or in two groups under a transverse demand; a nut that slides and turns.
// Reference: Mindlin's slope, the closed form of like studs, bisection for unlike ones; quadrature over the ring; for a
//   nut turned off under gross slip the linear equation dF/dt = -B (c/2 - a F), a F the stud's bending.
// Tolerance: 1e-12 where a formula is compared with itself in another form; 1e-5 of the clamp for a drive in steps of
//   1e-7; the quadrature is exact to 1e-10 away from x = 1, where its integrand has a kink.
// Fails if: an exponent, a factor 2 pi, the stop at half the clearance, or the sharing between studs is wrong.
#include "models/constants.hpp"
#include "models/loosening.hpp"
#include "models/slip.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

using namespace clampfade;
using test::Bench;
using test::check_closed_form;
using test::close;
using test::ScenarioText;

namespace {

constexpr double kCompliance = 1e-10;

/// Mean over the ring by the trapezoidal rule, which converges exponentially for a smooth periodic integrand.
double share_by_quadrature(double x, int points) {
  double sum = 0;
  for (int i = 0; i < points; ++i) {
    const double c = std::cos(2 * kPi * (i + 0.5) / points);
    sum += (x + c) / std::sqrt(1 + x * x + 2 * x * c);
  }
  return sum / points;
}

RoadLoad rolling(double radial) {
  RoadLoad road;
  road.load.radial = radial;
  road.turn_rate = 2;
  road.cycle_rate = 2;
  return road;
}

} // namespace

TEST_CASE("slip: a small demand meets Mindlin's slope") {
  const std::array<double, 2> limits{20e3, 30e3};
  const std::array<double, 2> counts{6, 4};
  const double demand = 1e-4 * (6 * 20e3 + 4 * 30e3);
  // Every zone resists with 3/2 s/c_t at first, whatever its clamp.
  CHECK(slip(demand, limits, counts, kCompliance, 1e-3).displacement ==
        close(demand * kCompliance / 1.5 / 10, 0, 1e-4));
  CHECK(zone_force(1e-12, 20e3, kCompliance) == close(1.5 * 1e-12 / kCompliance, 0, 1e-6));
}

TEST_CASE("slip: studs that are all alike have a closed form") {
  const std::array<double, 1> limits{25e3};
  const std::array<double, 1> counts{10};
  for (const double psi : {0.01, 0.3, 0.9, 0.999}) {
    const SlipAnswer a = slip(psi * 250e3, limits, counts, kCompliance, 1e-3);
    CAPTURE(psi);
    check_closed_form("slip of like studs [m]", a.displacement,
                      close(kCompliance * 25e3 * (1 - std::pow(1 - psi, 2.0 / 3.0)), 0, 1e-13));
    CHECK(a.demand_ratio == close(psi, 0, 1e-14));
    CHECK(10 * zone_force(a.displacement, 25e3, kCompliance) == close(psi * 250e3, 0, 1e-12));
  }
}

TEST_CASE("slip: two groups of studs share one displacement") {
  const std::array<double, 3> limits{5e3, 30e3, 0};
  const std::array<double, 3> counts{7, 2, 1};
  const double most = 7 * 5e3 + 2 * 30e3;
  for (const double psi : {0.05, 0.5, 0.8, 0.97, 0.9999}) {
    double low = 0;
    double high = kCompliance * 30e3;
    for (int i = 0; i < 200; ++i) {
      const double s = (low + high) / 2;
      (7 * zone_force(s, 5e3, kCompliance) + 2 * zone_force(s, 30e3, kCompliance) < psi * most ? low : high) = s;
    }
    CAPTURE(psi);
    const SlipAnswer a = slip(psi * most, limits, counts, kCompliance, 1e-3);
    CHECK(a.displacement == close(low, 0, 1e-11));
    CHECK(a.gross == close(kCompliance * 30e3, 0, 1e-14));
  }
}

TEST_CASE("slip: past friction the disc goes to its stop within five per cent") {
  const std::array<double, 2> limits{10e3, 20e3};
  const std::array<double, 2> counts{5, 5};
  const double c = 0.8e-3;
  const double gross = kCompliance * 20e3;
  const auto at = [&](double psi) { return slip(psi * 150e3, limits, counts, kCompliance, c).displacement; };
  CHECK(at(1) == close(gross, 0, 1e-12));
  CHECK(at(1 - 1e-12) == close(gross, 0, 1e-6)); // no jump from below
  CHECK(at(1.025) == close(gross + 0.5 * (c / 2 - gross), 0, 1e-9));
  CHECK(at(1.05) == close(c / 2, 0, 1e-9));
  CHECK(at(7) == close(c / 2, 0, 1e-12));
  // A clearance smaller than the gross slip adds nothing.
  CHECK(slip(1.5 * 150e3, limits, counts, kCompliance, 1e-9).displacement == close(gross, 0, 1e-14));
}

TEST_CASE("slip: where nothing clamps the disc lies against its stop") {
  const std::array<double, 2> limits{0, 0};
  const std::array<double, 2> counts{5, 5};
  const SlipAnswer a = slip(1, limits, counts, kCompliance, 0.8e-3);
  CHECK(a.displacement == close(0.4e-3, 0, 1e-15));
  CHECK(std::isinf(a.demand_ratio));
  CHECK(slip(0, limits, counts, kCompliance, 0.8e-3).displacement == 0);
}

TEST_CASE("loosening: the turning share is the mean over the ring") {
  for (const double x : {1e-4, 0.01, 0.2, 0.7, 1.4, 5.0, 100.0}) {
    CAPTURE(x);
    CHECK(turning_share(x) == close(share_by_quadrature(x, 4000), 0, 1e-10));
  }
  check_closed_form("turning share at 1, by quadrature", turning_share(1),
                    close(share_by_quadrature(1, 2000000), 0, 1e-6));
  CHECK(turning_share(1) == close(turning_share(1 + 1e-9), 0, 1e-7));
  CHECK(turning_share(1 - 1.9e-4) == close(turning_share(1 - 2.1e-4), 0, 2e-4)); // where the series take over
  CHECK(turning_share(1e-5) == close(0.5e-5, 0, 1e-9));
  CHECK(turning_share(0.9999e-3) == close(turning_share(1.0001e-3), 0, 3e-4)); // the two branches meet
  CHECK(turning_share(1e4) == close(1, 0, 1e-8));
}

TEST_CASE("loosening: a nut dragged to the stop turns off at the rate of the closed form") {
  // Gross slip: s_joint = c/2. Loss rate P/(2 pi) xi w nu (c/2 - a F), w = 2 pi rotating, 4 reciprocating, a = mu
  // L^3/(12 E I). So c/2 - a F grows as exp(a B t) with B = P/(2 pi) xi w nu/C.
  for (const bool rotating : {true, false}) {
    CAPTURE(rotating);
    ScenarioText s;
    s.motion = rotating ? "rotating" : "reciprocating";
    Bench bench(s);
    const double f0 = 60e3;
    bench.tighten_all(f0);
    const double radial = 1.2 * 0.15 * 10 * f0;
    const SlipState slip = bench.wheel.slip_state(bench.x, rolling(radial).load);
    const double half = 0.3e-3; // of the pilot's clearance
    CHECK(slip.joint == close(half, 0, 1e-12));
    const double d3 = 22e-3 - 1.226869 * 1.5e-3;
    const double a = 0.12 * std::pow(bench.joint.grip(), 3) / (12 * 200e9 * kPi * std::pow(d3, 4) / 64);
    CHECK(slip.threshold[0] == close(a * f0, 0, 1e-12));
    const double xi = turn_per_slide(bench.joint.nut(), f0, 0.12, 0.12);
    // The turn balances the thread's drive: P/2pi = (mu r_t/cos 30) G(xi r_t) + mu r_b G(xi r_b).
    const double r_t = (22e-3 - 0.649519 * 1.5e-3) / 2;
    const double r_b = 15e-3;
    CHECK(0.12 * r_t / std::cos(kPi / 6) * turning_share(xi * r_t) + 0.12 * r_b * turning_share(xi * r_b) ==
          close(1.5e-3 / (2 * kPi), 0, 1e-12));
    const double b = 1.5e-3 / (2 * kPi) * xi * (rotating ? 2 * kPi : 4) * 2 / bench.compliance(293.15);
    const double time = 0.05 * f0 / (b * (half - a * f0));
    bench.hold(time, 293.15, rolling(radial));
    const double expected = (half - (half - a * f0) * std::exp(a * b * time)) / a;
    check_closed_form("clamp of a nut that turns off [N]", bench.clamp(), close(expected, 1e-5 * f0, 0));
    CHECK(expected == close(0.95 * f0, 0.01 * f0, 0));
    CHECK(bench.loss(Mechanism::NutRotation) == close(bench.compliance(293.15) * (f0 - bench.clamp()), 1e-14, 1e-9));
  }
}

TEST_CASE("loosening: a prevailing torque above the thread's drive holds the nut") {
  const Thread thread{"demo", 22e-3, 1.5e-3};
  const double drive = 1.5e-3 / (2 * kPi);
  CHECK(turn_per_slide(NutThread(thread, 30e-3, 1.01 * drive * 50e3), 50e3, 0.12, 0.12) == 0);
  CHECK(turn_per_slide(NutThread(thread, 30e-3, 0.99 * drive * 50e3), 50e3, 0.12, 0.12) > 0);
}

TEST_CASE("slip: wear of a zone is the slip that friction work implies") {
  // depth = k p 4 (s - 2/3 c_t f) a turn; in gross slip f = mu F.
  ScenarioText s;
  s.interface_default = "embedding: 0 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.interfaces = ", \"disc | nut\": {wear: 0 1/Pa}";
  s.friction = "thread: 0.12, bearing: 0.9, breakaway: 1.10"; // the stud bends rather than the nut slides
  s.pilot = "clearance: 0.1 mm";
  Bench bench(s);
  const double f0 = 100e3;
  bench.tighten_all(f0);
  const double demand = 0.8 * 0.15 * 10 * f0;
  const Interface& face = bench.joint.interfaces()[1];
  const double sf = 1e-10 * 0.15 * f0;
  const double slide = sf * (1 - std::pow(0.2, 2.0 / 3.0)) - 2.0 / 3.0 * 1e-10 * 0.8 * 0.15 * f0;
  const double depth = 1e-16 * f0 / face.area * 4 * slide * 2 * 1000; // 1000 s at 2 turns a second
  bench.hold(1000, 293.15, rolling(demand));
  // The clamp falls by a few newtons meanwhile.
  check_closed_form("wear of a sliding zone [m]", bench.loss(Mechanism::Wear), close(depth, 0, 1e-3));
  CHECK(bench.loss(Mechanism::NutRotation) == 0);
}

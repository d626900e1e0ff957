// Checks: endurance amplitude of rolled threads.
// Problem: fatigue_limit of bare diameters; nothing else.
// Reference: VDI 2230-1:2003/2015, thread rolled before heat treatment, 2e6 cycles, 0.85 (150/d + 45) MPa with d in mm
//   (formula recalled, memory). The amplitudes are the formula's own values; the force amplitudes are our arithmetic.
// Tolerance: half of the last printed digit.
// Fails if: the diameter reaches the formula in metres, the 0.85 is lost, or the amplitude is doubled to a range.
//
// Not checked, since the program has no such law: threads rolled after heat treatment, finite life.
#include "models/fatigue.hpp"
#include "models/thread.hpp"
#include "tests/verification/published/printed.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string_view>

using namespace clampfade;
using clampfade::test::check;
using clampfade::test::close;
using clampfade::test::not_modelled;
using clampfade::test::Seen;

namespace {
constexpr std::string_view kVdi = "VDI 2230-1:2003, rolled before heat treatment";
} // namespace

TEST_CASE("published: endurance amplitudes of rolled threads") {
  struct Row {
    double diameter, amplitude; // mm, MPa
  };
  for (const Row row : {Row{12, 48.9}, Row{16, 46.2}, Row{20, 44.6}, Row{22, 44.0}, Row{24, 43.6}}) {
    CAPTURE(row.diameter);
    check("amplitude [MPa]", {row.amplitude, 0.1, kVdi, Seen::Derived}, fatigue_limit(row.diameter * 1e-3) / 1e6, 0);
  }
}

TEST_CASE("published: coefficients of the endurance amplitude") {
  // Two diameters give both coefficients: limit/0.85 = a/d + b.
  const double thin = fatigue_limit(0.010) / 0.85e6;
  const double thick = fatigue_limit(0.020) / 0.85e6;
  check("factor of 1/d [MPa mm]", {150, 1, kVdi, Seen::Memory}, (thin - thick) / (1.0 / 10 - 1.0 / 20), 0);
  check("constant [MPa]", {45, 1, kVdi, Seen::Memory}, 2 * thick - thin, 0);
  not_modelled("endurance of threads rolled after heat treatment", "VDI 2230-1", Seen::Memory, NAN,
               "studs are taken as rolled before heat treatment, the lower endurance");
  not_modelled("finite life", "VDI 2230-1", Seen::Memory, NAN, "the program compares with the endurance alone");
}

TEST_CASE("published: force amplitudes of M22x1.5") {
  const Thread t{"M22x1.5", 0.022, 0.0015};
  const double force = fatigue_limit(t.diameter) * t.stress_area();
  // The figures at hand take the rounded 44.0 MPa and 333 mm2: 0.1 %.
  check("force amplitude [kN]", {14.67, 0.01, "amplitude times 333 mm2", Seen::Derived}, force / 1e3, 1e-3);
  check("axial load amplitude at a share of 0.2155 [kN]", {68, 1, "same over the load factor", Seen::Derived},
        force / 0.2155 / 1e3, 1e-3);
  // Some older texts refer the stress to the minor area: the ratio of the two.
  check("stress area over minor area", {1.043, 1e-3, "geometry", Seen::Derived}, t.stress_area() / t.minor_area(),
        1e-3);
}

// Checks: time-temperature shift of a coating, its viscosity, and the flow of a film out of a clamped face.
// Problem: one coating with a glass transition of 60 C; one film between plates under constant force.
// Reference: Williams, Landel and Ferry 1955 (17.44 and 51.6 K, memory; form seen in text, IUPAC); Stefan 1874 /
// Reynolds
//   1886 for the squeezed film between discs, 1/h^2 = 1/h0^2 + 4 F t/(3 pi eta R^4). Printed values of the shift and of
//   the film are our own arithmetic from these formulas (the film's was checked against an independent integration).
// Tolerance: half of the last printed digit. Slope: central differences over 2 mK, error below 1e-4. Film: half of the
//   last digit; the law steps in closed form.
// Fails if: a constant is wrong, the shift is natural instead of decadic, Kelvin and Celsius mix, the cube of the
// film's
//   thickness is another power.
//
// The program's film lies in a ring, dh/dt = -h^3 p/(eta w^2), which is Stefan's strip. A disc of radius R obeys the
// same equation with p w^-2 = 2 F/(3 pi R^4), so the disc's numbers are reached with the area pi R^2 and w^2 = 1.5 R^2.
#include "models/coating_film.hpp"
#include "models/constants.hpp"
#include "models/units.hpp"
#include "tests/support/law_step.hpp"
#include "tests/verification/published/printed.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string_view>
#include <vector>

using namespace clampfade;
using clampfade::test::check;
using clampfade::test::close;
using clampfade::test::Seen;
using clampfade::test::take_step;

namespace {

constexpr double kGlass = 60 + units::kZeroCelsius;
constexpr std::string_view kWlf = "WLF 1955, 17.44 and 51.6 K";

Coating film_at(double reference) {
  Coating c;
  c.name = "test film";
  c.modulus = 3e9;
  c.glass_transition = kGlass;
  c.transition_width = 8;
  c.half_pressure = 30e6;
  c.activation_below = 180e3;
  c.turns = 1e6;
  c.flow = CoatingFlow{1e9, reference};
  return c;
}

/// -d ln a_T/d(1/T) times R: the apparent activation energy [J/mol].
double apparent_energy(const Coating& c, double temperature) {
  const double h = 1e-3;
  const double low = c.log10_shift(temperature - h) * std::log(10.0);
  const double high = c.log10_shift(temperature + h) * std::log(10.0);
  return kGasConstant * (high - low) / (1 / (temperature + h) - 1 / (temperature - h));
}

} // namespace

TEST_CASE("published: WLF shifts above the glass transition") {
  const Coating c = film_at(kGlass);
  CHECK(c.log10_shift(kGlass) == close(0, 1e-12, 0));
  struct Row {
    double above, shift;
  };
  for (const Row row : {Row{10, -2.831}, Row{20, -4.872}, Row{30, -6.412}, Row{50, -8.583}}) {
    CAPTURE(row.above);
    check("log10 of the shift", {row.shift, 1e-3, kWlf, Seen::Derived}, c.log10_shift(kGlass + row.above), 0);
  }
  // The constants themselves, from two temperatures: 1/shift is linear in 1/(T - Tg).
  const double a = -1 / c.log10_shift(kGlass + 10);
  const double b = -1 / c.log10_shift(kGlass + 50);
  const double slope = (a - b) / (1.0 / 10 - 1.0 / 50); // C2/C1
  const double c1 = 1 / (b - slope / 50);
  check("C1", {17.44, 0.01, kWlf, Seen::Memory}, c1, 0);
  check("C2 [K]", {51.6, 0.1, kWlf, Seen::Memory}, slope * c1, 0);
}

TEST_CASE("published: apparent energy on both sides of the glass transition") {
  const Coating c = film_at(kGlass);
  // 2.303 R C1 Tg^2/C2 just above, the given Arrhenius energy below.
  check("just above [kJ/mol]", {718, 1, "slope of WLF at 60 C", Seen::Derived}, apparent_energy(c, kGlass + 2e-3) / 1e3,
        1e-4);
  CHECK(apparent_energy(c, kGlass - 2e-3) == close(180e3, 0, 1e-6));
  CHECK(apparent_energy(c, kGlass - 20) == close(180e3, 0, 1e-6));
}

TEST_CASE("published: viscosity follows the shift") {
  // eta(T)/eta(T_ref) = a_T(T)/a_T(T_ref): with the printed shifts the ratios between the printed temperatures.
  const Coating c = film_at(kGlass + 50);
  check("decades from Tg + 50 to Tg + 10", {-2.831 + 8.583, 2e-3, kWlf, Seen::Derived},
        std::log10(c.viscosity(kGlass + 10) / c.viscosity(kGlass + 50)), 0);
  check("decades from Tg + 50 to Tg + 30", {-6.412 + 8.583, 2e-3, kWlf, Seen::Derived},
        std::log10(c.viscosity(kGlass + 30) / c.viscosity(kGlass + 50)), 0);
  CHECK(c.viscosity(kGlass + 50) == close(1e9, 0, 1e-12));
}

TEST_CASE("published: Stefan's film between discs") {
  // 200 kN, radius 15 mm, 100 um, 1e9 Pa s.
  constexpr double kRadius = 15e-3, kForce = 200e3, kTemperature = kGlass + 30;
  constexpr std::string_view kStefan = "Stefan's squeeze film between discs";
  Coating coating = film_at(kTemperature); // no pigment, nothing compactable: all of it flows
  const CoatingFilmLaw law({{coating, 100e-6}}, kPi * kRadius * kRadius, std::sqrt(1.5) * kRadius);
  const auto height = [&](double duration, int steps) {
    std::vector<double> z(law.states()), next(law.states());
    law.start(z);
    LawStep step;
    step.duration = duration / steps;
    step.temperature_start = step.temperature_middle = step.temperature_end = kTemperature;
    for (int k = 0; k < steps; ++k) {
      take_step(law, step, z, kForce, kForce, next);
      z = next;
    }
    return 100e-6 - law.loss(z);
  };
  struct Row {
    double time, height; // s, um
  };
  for (const Row row : {Row{1e3, 99.17}, Row{1e4, 92.54}, Row{1e5, 61.12}}) {
    CAPTURE(row.time);
    check("thickness [um]", {row.height, 0.01, kStefan, Seen::Derived}, height(row.time, 1) / 1e-6, 0);
    check("thickness in ten steps [um]", {row.height, 0.01, kStefan, Seen::Derived}, height(row.time, 10) / 1e-6, 0);
  }
  check("thickness at the half time of 1.789e5 s [um]", {50, 0, kStefan, Seen::Derived}, height(1.789e5, 1) / 1e-6,
        2e-4); // four digits of the time
  // The definition agrees with the step: dh/dt at the start is -2/3 F h^3/(pi eta R^4).
  std::vector<double> z(law.states()), dz(law.states());
  law.start(z);
  law.rate(z, kForce, kTemperature, 0, dz);
  CHECK(dz[0] == close(-2.0 / 3.0 * kForce * 1e-12 / (kPi * 1e9 * std::pow(kRadius, 4)), 0, 1e-12));
}

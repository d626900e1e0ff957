// Checks: one law of loss against an elastic stud at fixed grip, as a law alone and in a whole wheel.
// Problem: a viscoelastic film (standard linear solid), a painted face with one mode of compaction, a creeping disc
//   (Norton), a film squeezed out by the clamp, binder that breaks down; all at constant temperature.
// Reference: closed forms derived beside each test; the printed figures are theirs, worked out to six digits elsewhere.
// Tolerance: 1e-5 of the first clamp for runs that err by 1e-8 a step in a few hundred steps; 3e-6 where a figure is
//   printed to six digits; 1e-9 where a step is exact.
// Fails if: a rate, a target, the coupling of loss and clamp, or the order of the step is wrong.
#include "models/coating_film.hpp"
#include "models/constants.hpp"
#include "models/metal_creep.hpp"
#include "models/settling_law.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"
#include "tests/support/law_in_series.hpp"
#include "tests/support/law_step.hpp"

#include <doctest/doctest.h>

#include <functional>

using namespace clampfade;
using test::Bench;
using test::check_closed_form;
using test::close;
using test::ScenarioText;
using test::take_step;

namespace {

/// One mode whose target is the force times a compliance.
class LinearFilm final : public SettlingLaw {
public:
  LinearFilm(double compliance, double time)
      : SettlingLaw(Mechanism::CoatingCreep, {{1, 1 / time, 0}}), compliance_(compliance) {}

private:
  [[nodiscard]] Target target(double force, double) const override { return {compliance_ * force, compliance_}; }
  double compliance_;
};

/// Root of a falling or rising function between two ends of unlike sign.
double root(const std::function<double(double)>& f, double a, double b) {
  const double sign = f(a);
  for (int i = 0; i < 200; ++i) {
    const double middle = (a + b) / 2;
    (f(middle) * sign > 0 ? a : b) = middle;
  }
  return (a + b) / 2;
}

/// Nothing expands: the stud's length beside the films, whose own expansion is neglected, would move the clamp.
ScenarioText unexpanding() {
  ScenarioText s;
  s.stud_material = s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 0 1/K";
  s.hub_material = "youngs: 170 GPa, poisson: 0.28, expansion: 0 1/K";
  return s;
}

/// A painted disc whose paint has one fast-enough mode, at its glass transition so that a_T = 1 and X is half way.
ScenarioText one_mode() {
  ScenarioText s = unexpanding();
  s.coating =
      "modulus: 3 GPa, glass_transition: 80 degC, transition_width: 8 K, compaction_cold: 0.06, compaction_hot: "
      "0.30, half_pressure: 60 MPa, relaxation: {shortest: 1000 s, longest: 1000 s, modes: 1}, "
      "activation_below: 0 kJ/mol, turns: 1e12, pigment: 0.35";
  s.disc += ", head_side: {coating: paint, thickness: 120 um}";
  return s;
}

constexpr double kGlass = 353.15;

} // namespace

TEST_CASE("relaxation: a standard linear solid between elastic parts relaxes slower than by itself") {
  // Film k0 -> kinf with relaxation time tau in series with S: F = Finf + (F0 - Finf) exp(-t/tau'),
  // Finf = F0 (S + 1/k0)/(S + 1/kinf), tau' = tau (1 + k0 S)/(1 + kinf S). Its delayed part has the compliance
  // 1/kinf - 1/k0 and the retardation time tau k0/kinf.
  const double s = 1.22e-9;
  const double k0 = 2000e6 * 800e-6 / 1e-4;
  const double kinf = k0 / 10;
  const LinearFilm film(1 / kinf - 1 / k0, 1000 * k0 / kinf);
  test::LawInSeries column(film, s + 1 / k0, 200e3, 293.15, 1e-8);
  const std::vector<double> f = column.run({100, 1000, 10000, 2e5}, 1);
  CHECK(f[0] == close(199129, 0.6, 3e-7));
  CHECK(f[1] == close(191830, 0.6, 1e-6));
  CHECK(f[2] == close(153491, 0.6, 3e-6));
  CHECK(f[3] == close(139024, 0.6, 3e-6));
  const double tau = 1000 * (1 + k0 * s) / (1 + kinf * s);
  CHECK(tau == close(6951.2, 0.05, 0));
  const double end = 200e3 * (s + 1 / k0) / (s + 1 / kinf);
  check_closed_form("clamp of a standard linear solid after 10 000 s [N]", f[2],
                    close(end + (200e3 - end) * std::exp(-10000 / tau), 1, 0));
}

TEST_CASE("relaxation: a pure Maxwell film against a stud takes twenty times its own time") {
  // kinf -> 0: F = F0 exp(-t/(tau (1 + k0 S))), 1 + k0 S = 20.52.
  const double s = 1.22e-9;
  const double k0 = 2000e6 * 800e-6 / 1e-4;
  const double soft = 1e-7 * k0;
  const LinearFilm film(1 / soft - 1 / k0, 1000 * k0 / soft);
  test::LawInSeries column(film, s + 1 / k0, 200e3, 293.15, 1e-8);
  const std::vector<double> f = column.run({20520}, 1);
  check_closed_form("clamp of a Maxwell film after 20 520 s [N]", f[0], close(200e3 * std::exp(-1.0), 2, 1e-5));
}

TEST_CASE("relaxation: one mode of paint in a wheel follows its implicit closed form") {
  // dy/dt = r (Y F/(F + H) - y) with F = F0 - y/C gives dF/dt = -(r/C) (C F^2 + (Y - C F0 + C H) F - C F0 H)/(F + H):
  // with the roots a > 0 > b,  A ln((F - a)/(F0 - a)) + B ln((F - b)/(F0 - b)) = -r t,
  // A = (a + H)/(a - b), B = -(b + H)/(a - b).
  ScenarioText s = one_mode();
  Bench bench(s, 1e-8);
  const double f0 = 150e3;
  bench.tighten_all(f0);
  const double c = bench.compliance(kGlass);
  const double y = 120e-6 * (0.06 + 0.30) / 2;
  const double h = 60e6 * bench.joint.interfaces()[1].area;
  const double p = (y - c * f0 + c * h) / c;
  const double a = -p / 2 + std::sqrt(p * p / 4 + f0 * h);
  const double b = -p / 2 - std::sqrt(p * p / 4 + f0 * h);
  const auto time_at = [&](double f) {
    return -1000 *
           ((a + h) / (a - b) * std::log((f - a) / (f0 - a)) - (b + h) / (a - b) * std::log((f - b) / (f0 - b)));
  };
  double before = 0;
  for (const double t : {50.0, 500.0, 2000.0, 6000.0}) {
    bench.hold(t - before, kGlass);
    before = t;
    const double expected = root([&](double f) { return time_at(f) - t; }, a + 1e-9, f0);
    CAPTURE(t);
    check_closed_form("clamp over one mode of paint [N]", bench.clamp(), close(expected, 1e-5 * f0, 0));
    CHECK(bench.loss(Mechanism::CoatingCreep) == close(c * (f0 - bench.clamp()), 1e-13, 1e-9));
  }
  bench.hold(1e5, kGlass);
  CHECK(bench.clamp() == close(a, 1e-5 * f0, 0));
  CHECK(a < 0.95 * f0); // the film matters
}

TEST_CASE("relaxation: Norton creep at fixed length decays by a power law") {
  // sigma = s0 (1 + (n - 1) s0^(n-1) f E B t)^(-1/(n-1)), f the creeping share of the compliance; per MPa and hour.
  const double youngs = 200e9;
  const double area = 1e-4;
  const double length = 0.1;
  const double share = 0.5;
  // Activation 0 and seconds: B = 1e-22 per hour.
  const MetalCreepLaw law({1e-22 / 3600, 6, 0}, share * length, area);
  test::LawInSeries column(law, length / (youngs * area), 600e6 * area, 400, 1e-8);
  const std::vector<double> f = column.run({10 * 3600.0, 1000 * 3600.0, 10000 * 3600.0}, 1);
  check_closed_form("stress in Norton creep after 10 000 h [MPa]", f[2] / area / 1e6,
                    close(600 * std::pow(1 + 5 * std::pow(600.0, 5) * share * 200e3 * 1e-22 * 1e4, -0.2), 0.005, 1e-5));
  CHECK(f[0] / area / 1e6 == close(595.44, 0.005, 2e-6));
  CHECK(f[1] / area / 1e6 == close(436.84, 0.005, 1e-5));
  CHECK(f[2] / area / 1e6 == close(287.08, 0.005, 1e-5));
}

TEST_CASE("relaxation: a creeping disc in a wheel decays by the same power law") {
  ScenarioText s;
  s.disc_material += ", creep: {coefficient: 5e-6 1/s, exponent: 6, activation: 140 kJ/mol}";
  Bench bench(s, 1e-8);
  const double f0 = 150e3;
  bench.tighten_all(f0);
  const double t = 473.15;
  const double per_newton = bench.scenario.joint.stack[1].thickness * 5e-6 * std::exp(-140e3 / (kGasConstant * t)) /
                            std::pow(bench.joint.parts()[1].area * 1e6, 6); // [m/s] at 1 N
  const double k = 5 * std::pow(f0, 5) * per_newton / bench.compliance(t);
  double before = 0;
  for (const double time : {1e4, 1e6, 3e7, 1e9}) {
    bench.hold(time - before, t);
    before = time;
    CAPTURE(time);
    check_closed_form("clamp over a creeping disc [N]", bench.clamp(),
                      close(f0 * std::pow(1 + k * time, -0.2), 1e-5 * f0, 0));
  }
  CHECK(bench.clamp() < 0.9 * f0);
}

TEST_CASE("relaxation: a film squeezed by a falling clamp follows its closed form") {
  // dh/dt = -K h^3 F, F = (Fe + h/C) with Fe = F0 - h0/C. With g = 1/C:
  // -K t = [-1/(2 Fe h^2) + g/(Fe^2 h) + g^2/Fe^3 ln(h/(Fe + g h))] from h0 to h.
  ScenarioText s = unexpanding();
  s.coating =
      "modulus: 3 GPa, glass_transition: 65 degC, transition_width: 8 K, compaction_cold: 0, compaction_hot: 0, "
      "half_pressure: 30 MPa, relaxation: {shortest: 1 s, longest: 1 s, modes: 1}, activation_below: 180 "
      "kJ/mol, turns: 1e6, pigment: 0.4, flow: {viscosity: 1e9 Pa*s, at: 120 degC}";
  s.disc += ", head_side: {coating: paint, thickness: 100 um}";
  Bench bench(s, 1e-8);
  const double f0 = 150e3;
  bench.tighten_all(f0);
  const double t = 393.15;
  const double h0 = 60e-6;
  const double g = 1 / bench.compliance(t);
  const double fe = f0 - g * h0;
  const Interface& face = bench.joint.interfaces()[1];
  const double rate = 1 / (face.area * 1e9 * face.width * face.width);
  const auto primitive = [&](double h) {
    return -1 / (2 * fe * h * h) + g / (fe * fe * h) + g * g / (fe * fe * fe) * std::log(h / (fe + g * h));
  };
  double before = 0;
  for (const double time : {1e2, 1e4, 3e5}) {
    bench.hold(time - before, t);
    before = time;
    const double h = root([&](double x) { return primitive(x) - primitive(h0) + rate * time; }, 1e-6, h0);
    CAPTURE(time);
    check_closed_form("clamp over a squeezed film [N]", bench.clamp(), close(f0 - g * (h0 - h), 1e-5 * f0, 0));
    CHECK(bench.loss(Mechanism::CoatingFlow) == close(h0 - h, 1e-10, 1e-5));
  }
  CHECK(bench.loss(Mechanism::CoatingFlow) > 10e-6);
}

TEST_CASE("relaxation: under constant force the inverse square of a squeezed film grows linearly") {
  // 1/h^2 = 1/h0^2 + 2 K F t: exact at any length of step.
  const Coating paint = [] {
    Coating c;
    c.glass_transition = 338.15;
    c.transition_width = 8;
    c.activation_below = 180e3;
    c.pigment = 0.3;
    c.compaction_hot = 0.1;
    c.flow = CoatingFlow{1e9, 393.15};
    return c;
  }();
  const CoatingFilmLaw law({{paint, 100e-6}}, 1e-3, 10e-3);
  const double k = 1 / (1e9 * 1e-3 * 1e-4);
  std::vector<double> z(law.states());
  law.start(z);
  double h = z[0];
  CHECK(h == close(60e-6, 0, 1e-14));
  for (const double dt : {1.0, 1e3, 1e6}) {
    const LawStep step{dt, 393.15, 393.15, 393.15, 0, 0};
    std::vector<double> next(z.size());
    take_step(law, step, z, 150e3, 150e3, next);
    h = 1 / std::sqrt(1 / (h * h) + 2 * k * 150e3 * dt);
    CHECK(next[0] == close(h, 0, 1e-13));
    z = next;
  }
  // A force that falls linearly counts by its mean.
  std::vector<double> next(z.size());
  const LawStep step{1e6, 393.15, 393.15, 393.15, 0, 0};
  take_step(law, step, z, 150e3, 50e3, next);
  CHECK(next[0] == close(1 / std::sqrt(1 / (h * h) + 2 * k * 100e3 * 1e6), 0, 1e-13));
}

TEST_CASE("relaxation: breakdown at constant heat is an exponential of time") {
  ScenarioText s = unexpanding();
  s.coating =
      "modulus: 3 GPa, glass_transition: 80 degC, transition_width: 8 K, compaction_cold: 0, compaction_hot: 0, "
      "half_pressure: 30 MPa, relaxation: {shortest: 1 s, longest: 1 s, modes: 1}, activation_below: 180 "
      "kJ/mol, turns: 1e6, pigment: 0.4, breakdown: {rate: 0.01 1/h, at: 180 degC, activation: 120 kJ/mol}";
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  Bench bench(s);
  bench.tighten_all(150e3);
  const double t = 473.15;
  const double k = 0.01 / 3600 * std::exp(-120e3 / kGasConstant * (1 / t - 1 / 453.15));
  const double lost = 0.6 * 80e-6 * (1 - std::exp(-k * 1e6));
  bench.hold(1e6, t);
  CHECK(bench.loss(Mechanism::CoatingBreakdown) == close(lost, 0, 1e-9));
  check_closed_form("clamp over a binder that breaks down [N]", bench.clamp(),
                    close(150e3 - lost / bench.compliance(t), 0, 1e-8));
}

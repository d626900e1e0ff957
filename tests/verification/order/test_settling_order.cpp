// Checks: the step of the losses: its order, what it does when far too long, that Odeint can drive it, and that it
// solves
//   the equations the laws define.
// Problem: one painted, creeping, embedding stud on a smooth rise of temperature; single steps of 1e12 s; an hour with
//   every law at work against an integrator of another kind on dz/dt = rate(z, F, T), F from the column's balance.
// Reference: Richardson's halving of fixed steps; the balance at rest; RODAS4(3) (Hairer and Wanner, IV.7).
// Tolerance: order 2 within 0.1 over four halvings and within 0.3 in each, since modes that set out within a step make
//   single pairs uneven; 1e-5 of the clamp between the integrators, both run at 1e-8
//   a step.
// Fails if: a weight of the step's end, a mean rate, the slope against the clamp or the definition itself is wrong.
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"
#include "tests/support/order.hpp"
#include "tests/support/rosenbrock.hpp"

#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <doctest/doctest.h>

using namespace clampfade;
using test::Bench;
using test::close;
using test::ScenarioText;

namespace {

ScenarioText every_law() {
  ScenarioText s;
  s.studs = 3;
  s.disc_material = "youngs: [[20 degC, 70 GPa], [200 degC, 60 GPa]], poisson: 0.33, expansion: 18e-6 1/K, creep: "
                    "{coefficient: 5e-6 1/s, exponent: 6, activation: 105 kJ/mol}";
  s.coating =
      "modulus: 3 GPa, glass_transition: 65 degC, transition_width: 8 K, compaction_cold: 0.05, compaction_hot: "
      "0.15, half_pressure: 30 MPa, relaxation: {shortest: 1e1 s, longest: 1e9 s, modes: 6}, activation_below: "
      "180 kJ/mol, turns: 1e6, pigment: 0.35, flow: {viscosity: 1e8 Pa*s, at: 120 degC}, breakdown: {rate: 0.5 "
      "1/h, at: 120 degC, activation: 120 kJ/mol}";
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.interface_default =
      "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa, unseated: 5 um";
  s.thread_contact = "embedding: 3 um";
  s.nut += ", seat: {outer: 46 mm, inner: 25 mm}, spring_washers: {outer: 47 mm, inner: 23.5 mm, thickness: 7 mm, "
           "cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, friction: 0, set: [[20 degC, 0], [100 "
           "degC, 0.03]]}";
  return s;
}

/// The definition alone: rates of all laws of column 0, its clamp from the balance at once.
class PlainColumn {
public:
  PlainColumn(const Bench& bench, std::function<double(double)> at, double cycle_rate)
      : bench_(bench), at_(std::move(at)), cycle_rate_(cycle_rate), advance_(bench.wheel.advance_of_nut(bench.x, 0)) {
    for (const PlacedLaw& p : bench.wheel.laws()) {
      size_ = p.state + p.law->states();
    }
  }
  [[nodiscard]] double clamp(double t, const std::vector<double>& z, double* deflection = nullptr) const {
    Elastic e;
    bench_.joint.elastic(std::vector<double>(bench_.joint.stud_place() + 1, at_(t)), e);
    double lost = e.offset[0] - advance_;
    for (const PlacedLaw& p : bench_.wheel.laws()) {
      lost += p.law->loss(std::span(z).subspan(p.state, p.law->states()));
    }
    double f = 100e3;
    for (int i = 0; i < 50; ++i) {
      const WasherAnswer w = bench_.joint.washers()->compress(f / e.washer_modulus);
      const double move = (e.compliance[0] * f + w.deflection + lost) / (e.compliance[0] + w.slope / e.washer_modulus);
      f -= move;
      if (deflection) {
        *deflection = w.deflection;
      }
      if (std::abs(move) < 1e-9) {
        break;
      }
    }
    return f;
  }
  /// z in micrometres where it is a thickness; shares stay shares: one scale for all.
  void operator()(double t, const Eigen::VectorXd& z, Eigen::VectorXd& dz) const {
    const std::vector<double> plain(z.data(), z.data() + z.size());
    std::vector<double> rates(plain.size());
    double deflection = 0;
    const double f = clamp(t, plain, &deflection);
    for (const PlacedLaw& p : bench_.wheel.laws()) {
      const std::size_t n = p.law->states();
      const double drive = p.law->drive() == Drive::Force       ? f
                           : p.law->drive() == Drive::LoadRatio ? f / bench_.wheel.first_clamp(0)
                                                                : deflection;
      p.law->rate(std::span<const double>(plain).subspan(p.state, n), drive, at_(t), cycle_rate_,
                  std::span(rates).subspan(p.state, n));
    }
    dz = Eigen::Map<const Eigen::VectorXd>(rates.data(), z.size());
  }
  [[nodiscard]] std::vector<double> start() const {
    std::vector<double> z(size_);
    for (const PlacedLaw& p : bench_.wheel.laws()) {
      p.law->start(std::span(z).subspan(p.state, p.law->states()));
    }
    return z;
  }

private:
  const Bench& bench_;
  std::function<double(double)> at_;
  double cycle_rate_, advance_;
  std::size_t size_ = 0;
};

double clamp_after(const ScenarioText& s, double from, double seconds, int steps,
                   const std::function<double(double)>& at) {
  Bench bench(s);
  bench.tighten_all(120e3);
  bench.hold(from, at); // past the first moments, where every mode of paint starts at once
  const auto nodes = [&](double t, std::vector<double>& out) { out = {at(from + t)}; };
  State next;
  for (int i = 0; i < steps; ++i) {
    bench.wheel.step(bench.x, seconds / steps * i, seconds / steps, {}, nodes, 1e-6, next);
    bench.x = next;
  }
  return bench.clamp();
}

} // namespace

TEST_CASE("order: fixed steps of the losses err by the square of their length") {
  // Warming, so that every target rises and no mode waits; well below the fastest change of the paint's speed.
  const auto warm = [](double t) { return 303.15 + 40 * std::sin(kPi / 2 * t / 7200); };
  ScenarioText s = every_law();
  s.coating.replace(s.coating.find("shortest: 1e1 s"), 15, "shortest: 1e3 s");
  const double exact = clamp_after(s, 2000, 4000, 4096, warm);
  std::vector<double> errors;
  for (const int steps : {16, 32, 64, 128, 256}) {
    errors.push_back(std::abs(clamp_after(s, 2000, 4000, steps, warm) - exact));
  }
  const std::vector<double> orders = test::observed_orders(errors);
  CAPTURE(errors[0]);
  CAPTURE(errors[4]);
  for (const double order : orders) {
    CHECK(order > 1.7);
    CHECK(order < 2.3);
  }
  const double overall = std::log2(errors.front() / errors.back()) / static_cast<double>(orders.size());
  CHECK(overall > 1.9);
  CHECK(overall < 2.1);
  CHECK(errors[0] > 1e-3); // an error, not round-off
}

TEST_CASE("order: a step far too long for Norton creep damps it and does not overshoot") {
  ScenarioText s;
  s.disc_material += ", creep: {coefficient: 5e-6 1/s, exponent: 6, activation: 120 kJ/mol}";
  Bench bench(s);
  bench.tighten_all(150e3);
  const auto hot = [](double, std::vector<double>& out) { out = {473.15}; };
  State next;
  double before = bench.clamp();
  for (int i = 0; i < 5; ++i) {
    bench.wheel.step(bench.x, 0, 1e14, {}, hot, 1e-6, next);
    bench.x = next;
    CHECK(bench.clamp() > 1); // an explicit step would throw all of it away
    CHECK(bench.clamp() <= before);
    before = bench.clamp();
  }
  CHECK(before < 0.05 * 150e3); // relaxed
}

TEST_CASE("order: a step far too long for paint ends in the settled state and stays there") {
  ScenarioText s;
  s.coating =
      "modulus: 3 GPa, glass_transition: 80 degC, transition_width: 8 K, compaction_cold: 0.05, compaction_hot: "
      "0.25, half_pressure: 30 MPa, relaxation: {shortest: 1e-2 s, longest: 1e2 s, modes: 8}, activation_below: "
      "180 kJ/mol, turns: 1e6, pigment: 0.35";
  s.disc += ", head_side: {coating: paint, thickness: 60 um}";
  s.stud_material = s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 0 1/K";
  s.hub_material = "youngs: 170 GPa, poisson: 0.28, expansion: 0 1/K";
  Bench bench(s);
  bench.tighten_all(150e3);
  const State tight = bench.x;
  // Resolved from the first moment: fast modes settle first, against a clamp not yet fallen.
  bench.hold(1e9, 353.15);
  const double relaxed = bench.clamp();
  CHECK(relaxed < 0.98 * 150e3);
  const auto hot = [](double, std::vector<double>& out) { out = {353.15}; };
  State once;
  bench.wheel.step(tight, 0, 1e12, {}, hot, 1e-6, once);
  // All modes at once settle to what the starting clamp asks, a few parts in a thousand more: never less, and for good.
  CHECK(bench.wheel.clamp(once, 0) == close(relaxed, 3e-3 * 150e3, 0));
  CHECK(bench.wheel.clamp(once, 0) <= relaxed);
  State twice;
  bench.wheel.step(once, 0, 1e12, {}, hot, 1e-6, twice);
  CHECK(bench.wheel.clamp(twice, 0) == close(bench.wheel.clamp(once, 0), 0, 1e-12));
}

TEST_CASE("order: Odeint drives the stepper to the same result as the program's own loop") {
  const auto warm = [](double t) { return 293.15 + 60 * std::sin(kPi * t / 7200); };
  Bench own(every_law());
  own.tighten_all(120e3);
  Bench driven(every_law());
  driven.tighten_all(120e3);
  own.hold(3600, warm);
  SpanSystem system(
      driven.wheel, Roads{}, [&](double t, std::vector<double>& out) { out = {warm(t)}; }, 1e-7);
  const std::size_t steps = boost::numeric::odeint::integrate_adaptive(
      SettlingStepper(), std::ref(system), driven.x, 0.0, 3600.0, first_step(driven.wheel, driven.cold(), 0));
  CHECK(steps > 20);
  CHECK(driven.clamp() == close(own.clamp(), 1e-6 * 120e3, 0));
  CHECK(own.clamp() < 0.99 * 120e3);
}

TEST_CASE("order: a Rosenbrock method on the plain definition of all laws finds the same clamp") {
  for (const bool rolling : {false, true}) {
    CAPTURE(rolling);
    const auto ramp = [](double t) { return 293.15 + 90 * (1 - std::cos(2 * kPi * t / 3600)) / 2; };
    Bench bench(every_law(), 1e-8);
    bench.tighten_all(120e3);
    RoadLoad road;
    road.cycle_rate = rolling ? 3 : 0;
    const PlainColumn plain(bench, ramp, road.cycle_rate);
    std::vector<double> z = plain.start();
    const Eigen::VectorXd scale = [&] {
      Eigen::VectorXd v = Eigen::VectorXd::Constant(static_cast<Eigen::Index>(z.size()), 1e-6);
      for (std::size_t l = 0; l < bench.wheel.laws().size(); ++l) {
        if (bench.wheel.laws()[l].name.starts_with("coating film")) {
          v[static_cast<Eigen::Index>(bench.wheel.laws()[l].state) + 1] = 0.01; // a share, not a thickness
        }
      }
      return v;
    }();
    const double start = bench.clamp();
    double before = 0;
    for (const double t : {60.0, 900.0, 1800.0, 2700.0, 3600.0}) {
      const Eigen::VectorXd end = test::rodas(
          std::cref(plain), Eigen::Map<const Eigen::VectorXd>(z.data(), scale.size()), before, t, 1e-6, 1e-5, scale);
      z.assign(end.data(), end.data() + end.size());
      bench.hold(
          t - before, [&](double local) { return ramp(before + local); }, road);
      before = t;
      CAPTURE(t);
      CHECK(bench.clamp() == close(plain.clamp(t, z), 1e-5 * start, 0));
    }
    CHECK(bench.clamp() < 0.97 * start);
    for (const Mechanism m :
         {Mechanism::Embedding, Mechanism::CoatingCreep, Mechanism::CoatingFlow, Mechanism::CoatingBreakdown,
          Mechanism::MetalCreep, Mechanism::WasherSet, Mechanism::Unseated}) {
      CAPTURE(kMechanismNames[index(m)]);
      CHECK(bench.loss(m) > 1e-9); // all at work
    }
  }
}

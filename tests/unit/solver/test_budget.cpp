#include "solver/budget.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::Bench;
using test::close;
using test::ScenarioText;

namespace {

ScenarioText painted(bool ring) {
  ScenarioText s;
  s.studs = 5;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.thread_contact = "embedding: 3 um";
  s.stud_material = s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 12e-6 1/K";
  s.ring = ring ? "active: true, factor: 10" : "active: false";
  return s;
}

double named(const Budget& budget, std::size_t c) {
  double sum = 0;
  for (std::size_t m = 0; m < kMechanisms; ++m) {
    sum += budget.loss_clamp(c, m);
  }
  return sum;
}

/// Tightens unevenly, warms up and tells the budget of every stretch.
void warm_up(Bench& b, Budget& budget) {
  budget.start(b.x);
  for (int i = 0; i < 6; ++i) {
    const State before = b.x;
    b.hold(600, 363.15);
    budget.step(before, b.x);
  }
  budget.settle(b.x);
}

} // namespace

TEST_CASE("budget: what is left is what was there less what each mechanism took") {
  for (const bool ring : {false, true}) {
    CAPTURE(ring);
    Bench b(painted(ring));
    for (std::size_t c = 0; c < 5; ++c) {
      b.tighten(c, 120e3 + 10e3 * static_cast<double>(c));
    }
    Budget budget(b.wheel);
    budget.start(b.x);
    std::vector<double> first;
    for (std::size_t c = 0; c < 5; ++c) {
      first.push_back(budget.cold(c));
      CHECK(budget.cold(c) == close(b.clamp(c), 1e-6, 0));
    }
    warm_up(b, budget);
    b.hold(1, 293.15); // the clamp as it is at the tightening temperature
    for (std::size_t c = 0; c < 5; ++c) {
      CHECK(first[c] - named(budget, c) == close(budget.cold(c), 1e-4, 0));
      CHECK(budget.cold(c) == close(b.clamp(c), 1, 0)); // one second more of cold creep
      CHECK(budget.cold(c) < 0.97 * first[c]);
      CHECK(budget.loss_clamp(c, index(Mechanism::CoatingCreep)) > 0);
      CHECK(budget.loss_clamp(c, index(Mechanism::MetalCreep)) == 0);
      CHECK(budget.loss(b.x, c, index(Mechanism::Embedding)) == close(b.loss(Mechanism::Embedding, c), 0, 1e-9));
    }
  }
}

TEST_CASE("budget: in a single column the split is thickness over compliance") {
  Bench b(painted(false));
  b.tighten_all(150e3);
  Budget budget(b.wheel);
  warm_up(b, budget);
  for (const Mechanism m : {Mechanism::Embedding, Mechanism::CoatingCreep}) {
    CHECK(budget.loss_clamp(0, index(m)) == close(b.loss(m) / b.compliance(293.15), 1e-3, 1e-7));
  }
}

TEST_CASE("budget: an act is gain and no loss") {
  Bench b(painted(true));
  b.tighten_all(140e3);
  Budget budget(b.wheel);
  warm_up(b, budget);
  const double before = budget.cold(2);
  const double lost = named(budget, 2);
  b.tighten(2, 150e3);
  budget.act(b.x);
  CHECK(budget.cold(2) == close(150e3, 1e-3, 0));
  CHECK(budget.gain(2) == close(150e3 - before, 1e-3, 0));
  CHECK(named(budget, 2) == lost);
  CHECK(budget.gain(1) < 0); // its neighbours give a little
}

TEST_CASE("budget: saving and loading loses nothing") {
  for (const bool ring : {false, true}) {
    Bench b(painted(ring));
    b.tighten_all(150e3);
    Budget budget(b.wheel);
    warm_up(b, budget);
    std::vector<double> saved;
    budget.save(saved);
    Budget other(b.wheel);
    other.start(b.x);
    const double* in = saved.data();
    other.load(in);
    CHECK(in == saved.data() + saved.size());
    const State before = b.x;
    b.hold(3600, 363.15);
    budget.step(before, b.x);
    other.step(before, b.x);
    for (std::size_t c = 0; c < 5; ++c) {
      CHECK(budget.cold(c) == other.cold(c));
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        CHECK(budget.loss_clamp(c, m) == other.loss_clamp(c, m));
      }
    }
  }
}

TEST_CASE("budget: gains of several acts add up") {
  for (const bool ring : {false, true}) {
    CAPTURE(ring);
    Bench b(painted(ring));
    b.tighten_all(140e3);
    Budget budget(b.wheel);
    budget.start(b.x);
    const double first = budget.cold(0);
    warm_up(b, budget);
    double won = 0;
    for (const double clamp : {145e3, 152e3}) {
      const double before = budget.cold(0);
      b.tighten(0, clamp);
      budget.act(b.x);
      won += clamp - before;
      CHECK(budget.gain(0) == close(won, 1e-3, 0));
      const State old = b.x;
      b.hold(3600, 363.15);
      budget.step(old, b.x);
      CHECK(budget.cold(0) < clamp - 10);
      budget.settle(b.x);
      CHECK(first + won - named(budget, 0) == close(budget.cold(0), 1e-4, 0));
    }
  }
}

TEST_CASE("budget: between records the cold clamp of a ring is followed without naming who took it") {
  Bench b(painted(true));
  b.tighten_all(150e3);
  Budget budget(b.wheel);
  warm_up(b, budget);
  const double before = budget.cold(2);
  const double lost = named(budget, 2);
  const State old = b.x;
  b.hold(600, 363.15);
  budget.step(old, b.x);
  const double followed = budget.cold(2);
  CHECK(followed < before - 10);
  CHECK(named(budget, 2) == lost);
  budget.settle(b.x);
  CHECK(budget.cold(2) == close(followed, 0.02 * (before - followed), 0)); // linear from the last tangent
  CHECK(named(budget, 2) - lost == close(before - budget.cold(2), 1e-4, 0));
}

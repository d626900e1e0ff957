// Checks: what must hold of every run whatever its numbers.
// Problem: scenarios drawn at random with a fixed seed: paint, embedding, creep, washers, ring, heat, rolling,
// services;
//   one scenario written in two systems of units; one recorded at different times; a retorque.
// Reference: conservation and symmetry, no figures.
// Tolerance: the budget closes to 1e-9 of the first clamp, because each step's change of the cold clamp is shared out;
//   units agree to 1e-12; records may shift steps and with them the clamp by 1e-5.
// Fails if: clamp is lost or won without a name, a loss recovers, a record disturbs the run, or a unit is misread.
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <random>

using namespace clampfade;
using test::close;
using test::MemorySink;
using test::ScenarioText;

namespace {

/// Draws that are the same with every standard library.
class Draw {
public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(engine_() >> 11U) / 9007199254740992.0;
  }
  bool chance(double p) { return between(0, 1) < p; }

private:
  std::mt19937_64 engine_;
};

const char* kWork =
    "{park: {until: 6 h}}, {drive: {distance: 5 km, speed: 50 km/h}}, {round: {stops: 6, spacing: 400 m, "
    "top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 30 s}}, {drag: {power: "
    "3 kW, speed: 20 km/h, duration: 90 min}}";

ScenarioText random_scenario(Draw& draw, bool ring) {
  ScenarioText s;
  s.studs = draw.chance(0.5) ? 5 : 6;
  s.disc_material = fmt::format("youngs: [[20 degC, {} GPa], [200 degC, 60 GPa]], poisson: 0.3, expansion: {}e-6 1/K",
                                draw.between(68, 210), draw.between(11, 24));
  if (draw.chance(0.5)) {
    s.disc_material += ", creep: {coefficient: 5e-6 1/s, exponent: 6, activation: 130 kJ/mol}";
  }
  if (draw.chance(0.5)) {
    s.coating += ", breakdown: {rate: 0.02 1/h, at: 150 degC, activation: 120 kJ/mol}";
  }
  if (draw.chance(0.5)) {
    s.coating += fmt::format(", flow: {{viscosity: {}e9 Pa*s, at: 120 degC}}", draw.between(0.5, 5));
  }
  s.disc += fmt::format(", head_side: {{coating: paint, thickness: {} um}}", draw.between(20, 150));
  if (draw.chance(0.5)) {
    s.second_disc = fmt::format("thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint, head_side: {{coating: paint, "
                                "thickness: {} um}}",
                                draw.between(20, 80));
  }
  s.interface_default =
      fmt::format("embedding: {} um, friction: {}, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa, unseated: {} um",
                  draw.between(0, 5), draw.between(0.1, 0.2), draw.chance(0.3) ? 20 : 0);
  s.thread_contact = "embedding: 3 um";
  if (draw.chance(0.5)) {
    s.nut +=
        fmt::format(", seat: {{outer: 46 mm, inner: 25 mm}}, spring_washers: {{outer: 47 mm, inner: 23.5 mm, "
                    "thickness: 7 mm, cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, friction: "
                    "{}, set: [[20 degC, 0], [100 degC, 0.03]]}}",
                    draw.chance(0.5) ? 0.02 : 0);
  }
  s.torque = fmt::format("{} N*m", draw.between(350, 700));
  s.friction = fmt::format("thread: {}, bearing: 0.12, breakaway: 1.02", draw.between(0.1, 0.15));
  if (ring) {
    s.ring = "active: true, factor: 10";
    s.pause = "5 s";
    s.passes = "0.5, 1.0";
    s.disc += ", flatness: {amplitude: 0.1 mm, lobes: 2}";
  }
  s.ambient = "mean: 15 degC, daily_swing: 6 K";
  s.day = kWork;
  s.calendar = "working_days_per_week: 3, weeks: 1";
  s.service =
      "{retorque: {after: 1 d}}, {remove_nut: {stud: 2, after: 2 d}}, {retorque: {after: 4 d}}, {hot_day: {after: "
      "1 d, extra_power: 500 W}}";
  s.record = "every: 7 h";
  return s;
}

/// Largest gap of the budget over the first clamp; checks on the way that no loss recovers.
double worst_closure(const MemorySink& sink) {
  const double first = sink.figure("torque/clamp").values[0];
  const std::size_t studs = sink.records[0].clamp.size();
  double worst = 0;
  const RecordRow* before = &sink.records[0];
  for (const RecordRow& r : sink.records) {
    for (std::size_t k = 0; k < studs; ++k) {
      double left = sink.records[0].clamp_cold[k] + r.retorque_gain[k];
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        left -= r.loss_clamp[k * kMechanisms + m];
        const double grown = r.loss[k * kMechanisms + m] - before->loss[k * kMechanisms + m];
        CAPTURE(kMechanismNames[m]);
        CHECK(grown >= -1e-15);
      }
      worst = std::max(worst, std::abs(left - r.clamp_cold[k]) / first);
    }
    before = &r;
  }
  return worst;
}

double total_loss(const RecordRow& r, std::size_t stud) {
  double sum = 0;
  for (std::size_t m = 0; m < kMechanisms; ++m) {
    sum += r.loss[stud * kMechanisms + m];
  }
  return sum;
}

const RecordRow& last_at(const MemorySink& sink, double time) {
  const RecordRow* found = nullptr;
  for (const RecordRow& r : sink.records) {
    found = r.time == close(time, 0.01, 0) ? &r : found;
  }
  REQUIRE(found != nullptr);
  return *found;
}

} // namespace

TEST_CASE("invariants: losses never recover and the budget closes, column by column") {
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    Draw draw(seed);
    const ScenarioText s = random_scenario(draw, false);
    CAPTURE(seed);
    MemorySink sink;
    REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
    CHECK(worst_closure(sink) < 1e-9); // the path integral is exact: each step's change is shared out
    CHECK(total_loss(sink.records.back(), 0) > 1e-6);
    CHECK(sink.records.back().clamp[1] == 0); // its nut is off
  }
}

TEST_CASE("invariants: losses never recover and the budget closes on a coupled ring") {
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    Draw draw(seed);
    const ScenarioText s = random_scenario(draw, true);
    CAPTURE(seed);
    MemorySink sink;
    REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
    CHECK(worst_closure(sink) < 1e-9);
    CHECK(total_loss(sink.records.back(), 0) > 1e-6);
  }
}

TEST_CASE("invariants: in a linear joint the clamp lost is the thickness lost over the compliance") {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.thread_contact = "embedding: 3 um";
  s.day = kWork;
  s.calendar = "working_days_per_week: 2, weeks: 1";
  MemorySink sink;
  REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
  const double first = sink.records[0].clamp[0];
  const double compliance = sink.figure("stiffness/total_resilience").values.at(0);
  for (const RecordRow& r : sink.records) {
    CHECK(r.clamp_cold[0] == close(first - total_loss(r, 0) / compliance, 1e-9 * first, 0));
    double cost = 0;
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      CHECK(r.loss_clamp[m] == close(r.loss[m] / compliance, 1e-9 * first, 0));
      cost += r.loss_clamp[m];
    }
    CHECK(cost == close(first - r.clamp_cold[0], 1e-9 * first, 0));
  }
}

TEST_CASE("invariants: the same wheel in other units gives the same numbers") {
  ScenarioText si;
  si.disc += ", head_side: {coating: paint, thickness: 76.2 um}";
  si.torque = "644.0135254574152 N*m"; // 475 lbf*ft exactly
  si.vehicle = "mass: 24947.58035 kg, wheel_ends: 6, driven_ends: 4, load: 44482.216152605 N, rolling_radius: 0.508 m, "
               "dynamic_factor: 1.3, brake_share: 0.95, lateral_share: 0.05";
  si.ambient = "mean: 15 degC, daily_swing: 5 K";
  si.day =
      "{drive: {distance: 16.09344 km, speed: 13.4112 m/s}}, {drag: {power: 3 kW, speed: 4.4704 m/s, duration: 1 h}}";
  si.calendar = "working_days_per_week: 1, weeks: 1";
  si.temperature = "20 degC";
  ScenarioText us = si;
  us.disc = "thickness: 0.47244094488188976 in, hole: 1.0236220472440944 in, pad: 2.952755905511811 in, node: joint, "
            "head_side: {coating: paint, thickness: 3 mil}";
  us.torque = "475 lbf*ft";
  us.vehicle =
      "mass: 55000 lb, wheel_ends: 6, driven_ends: 4, load: 10000 lbf, rolling_radius: 20 in, dynamic_factor: 1.3, "
      "brake_share: 0.95, lateral_share: 0.05";
  us.ambient = "mean: 59 degF, daily_swing: 9 degF";
  us.day =
      "{drive: {distance: 10 mile, speed: 30 mile/h}}, {drag: {power: 3000 W, speed: 10 mile/h, duration: 60 min}}";
  us.temperature = "68 degF";
  MemorySink a;
  MemorySink b;
  REQUIRE(run(si.scenario(), a) == RunStatus::Complete);
  REQUIRE(run(us.scenario(), b) == RunStatus::Complete);
  REQUIRE(a.records.size() == b.records.size());
  for (std::size_t i = 0; i < a.records.size(); ++i) {
    CHECK(a.records[i].clamp[0] == close(b.records[i].clamp[0], 0, 1e-12));
    CHECK(a.records[i].clamp_cold[0] == close(b.records[i].clamp_cold[0], 0, 1e-12));
    CHECK(a.records[i].temperature[0] == close(b.records[i].temperature[0], 0, 1e-12));
    CHECK(a.records[i].distance == close(b.records[i].distance, 0, 1e-12));
  }
  CHECK(a.records.back().clamp_cold[0] < 0.99 * a.records[0].clamp_cold[0]);
}

TEST_CASE("invariants: when the wheel is written down does not change what becomes of it") {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 100 um}, nut_side: {coating: paint, thickness: 50 um}";
  s.interface_default = "embedding: 3 um, friction: 0.12, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.day = kWork;
  s.calendar = "working_days_per_week: 3, weeks: 1";
  ScenarioText often = s;
  often.record = "every: 17 min, at: [7 s, 3 km, 12.3456 km]";
  MemorySink few;
  MemorySink many;
  REQUIRE(run(s.scenario(), few) == RunStatus::Complete);
  REQUIRE(run(often.scenario(), many) == RunStatus::Complete);
  const double first = few.records[0].clamp[0];
  CHECK(many.records.size() > 10 * few.records.size());
  CHECK(many.records.back().clamp[0] == close(few.records.back().clamp[0], 1e-5 * first, 0));
  CHECK(many.records.back().clamp_cold[0] == close(few.records.back().clamp_cold[0], 1e-5 * first, 0));
  CHECK(many.records.back().temperature[0] == close(few.records.back().temperature[0], 1e-9, 0));
  CHECK(few.records.back().clamp_cold[0] < 0.97 * first);
}

TEST_CASE("invariants: a retorque starts from the settled state and loses less than the first tightening") {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  s.friction = "thread: 0.12, bearing: 0.12, breakaway: 1.0";
  s.service = "{retorque: {after: 2 d}}";
  s.calendar = "working_days_per_week: 0, weeks: 1";
  MemorySink sink;
  REQUIRE(run(s.scenario(), sink) == RunStatus::Complete);
  const RecordRow& act = last_at(sink, 2 * 86400.0);
  CHECK(act.clamp[0] == close(sink.records[0].clamp[0], 0, 1e-9));
  CHECK(act.retorque_gain[0] > 0);
  const double first_loss = sink.records[0].clamp[0] - last_at(sink, 86400.0).clamp[0];
  const double second_loss = act.clamp[0] - last_at(sink, 3 * 86400.0).clamp[0];
  CHECK(first_loss > 1e-3 * act.clamp[0]);
  CHECK(second_loss > 0);
  CHECK(second_loss < 0.3 * first_loss);
}

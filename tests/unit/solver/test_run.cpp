// Whole runs of small wheels: who is run together, what is told, and when.
#include "models/torque.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>
#include <utility>

using namespace clampfade;
using test::close;
using test::MemorySink;
using test::ScenarioText;

namespace {

constexpr double kHour = 3600;
constexpr double kDay = 86400;

void run_into(MemorySink& sink, const Scenario& s) { REQUIRE(run(s, sink) == RunStatus::Complete); }

const RecordRow& record_at(const MemorySink& sink, double time, std::size_t nth = 0) {
  for (const RecordRow& r : sink.records) {
    if (r.time == close(time, 1e-3, 0) && nth-- == 0) {
      return r;
    }
  }
  FAIL("no record at that time");
  return sink.records.front();
}

std::vector<EventRow> events(const MemorySink& sink, const std::string& kind) {
  std::vector<EventRow> found;
  std::copy_if(sink.events.begin(), sink.events.end(), std::back_inserter(found),
               [&](const EventRow& e) { return e.kind == kind; });
  return found;
}

ScenarioText painted() {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  return s;
}

} // namespace

TEST_CASE("run: studs that differ in one thing alone are run apart") {
  ScenarioText plain;
  plain.studs = 4;
  struct Row {
    const char *torque, *friction;
    double t, mu_t, mu_b; ///< of the last stud
  };
  const Row rows[] = {
      {"[640 N*m, 640 N*m, 640 N*m, 500 N*m]", "thread: 0.12, bearing: 0.12, breakaway: 1.10", 500, 0.12, 0.12},
      {"640 N*m", "thread: [0.12, 0.12, 0.12, 0.15], bearing: 0.12, breakaway: 1.10", 640, 0.15, 0.12},
      {"640 N*m", "thread: 0.12, bearing: [0.12, 0.12, 0.12, 0.15], breakaway: 1.10", 640, 0.12, 0.15}};
  for (const Row& row : rows) {
    CAPTURE(row.torque);
    CAPTURE(row.friction);
    ScenarioText text = plain;
    text.torque = row.torque;
    text.friction = row.friction;
    MemorySink sink;
    run_into(sink, text.scenario());
    // Ring on which the nut slides: 30 mm.
    const NutThread nut({"M22x1.5", 22e-3, 1.5e-3}, 30e-3, 0);
    const std::vector<double>& clamp = sink.records.front().clamp;
    REQUIRE(clamp.size() == 4);
    CHECK(clamp[0] == close(nut.clamp(640, 0.12, 0.12), 0, 1e-9));
    CHECK(clamp[2] == clamp[0]);
    CHECK(clamp[3] == close(nut.clamp(row.t, row.mu_t, row.mu_b), 0, 1e-9));
    CHECK(sink.acts.size() == 4);
  }
}

TEST_CASE("run: a hot day heats what moves and nothing else") {
  // 800 W more through 20 W/K, five hours of driving a day, 1000 s to follow.
  ScenarioText s;
  s.day = "{drive: {distance: 180 km, speed: 10 m/s}}";
  s.service = "{hot_day: {after: 1 d, extra_power: 800 W}}";
  s.record = "every: 1 h";
  MemorySink sink;
  run_into(sink, s.scenario());
  CHECK(record_at(sink, 5 * kHour).temperature[0] == close(293.15, 1e-4, 0));
  CHECK(record_at(sink, kDay + 5 * kHour).temperature[0] == close(293.15 + 40, 1e-3, 0));
  CHECK(record_at(sink, kDay + 6 * kHour).temperature[0] == close(293.15 + 40 * std::exp(-3.6), 1e-2, 0));
  CHECK(record_at(sink, 2 * kDay).temperature[0] == close(293.15, 1e-4, 0));
  CHECK(record_at(sink, 2 * kDay + 5 * kHour).temperature[0] == close(293.15, 1e-4, 0));
  CHECK(events(sink, "hot day").size() == 1);
}

TEST_CASE("run: heat beyond the last value of a material is told, once, and stays known across a stop") {
  ScenarioText s; // as above: 40 K more on the second day
  s.day = "{drive: {distance: 180 km, speed: 10 m/s}}";
  s.service = "{hot_day: {after: 1 d, extra_power: 800 W}}";
  s.record = "every: 6 h";
  Scenario wheel = s.scenario();
  RunOptions daily;
  daily.checkpoint_every = 0;
  const auto run_known_to = [&](double highest, MemorySink& into) {
    wheel.joint.stack.front().material.youngs = Table({{293.15, 205e9}, {highest, 200e9}});
    REQUIRE(run(wheel, into, daily) == RunStatus::Complete);
  };
  MemorySink known;
  run_known_to(334, known);
  CHECK(events(known, "outside calibration").empty());
  MemorySink sink;
  run_known_to(310, sink);
  const auto told = events(sink, "outside calibration");
  REQUIRE(told.size() == 1);
  // 40 K (1 - exp(-t/1000 s)) passes 16.85 K after 547 s.
  CHECK(told.front().time >= kDay + 540);
  CHECK(told.front().time <= kDay + 1.2 * kHour);
  REQUIRE(sink.warnings.size() == known.warnings.size() + 1);
  CHECK(sink.warnings.back().find("outside the calibrated range") != std::string::npos);
  CHECK(sink.warnings.back().find("36.85 degC") != std::string::npos);

  REQUIRE(sink.checkpoints.size() > 2);
  MemorySink rest;
  REQUIRE(resume(wheel, sink.checkpoints[2], rest) == RunStatus::Complete);
  CHECK(rest.warnings == sink.warnings);
  CHECK(events(rest, "outside calibration").empty());
}

TEST_CASE("run: worst values belong to the interval of their record") {
  // Braking in the first hours, then standing; nothing settles, so that all parks are alike.
  ScenarioText s;
  s.day = "{round: {stops: 20, spacing: 300 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 3 m/s^2, "
          "dwell: 20 s}}";
  s.record = "every: 6 h";
  MemorySink sink;
  run_into(sink, s.scenario());
  const RecordRow& start = sink.records.front();
  const RecordRow& round = record_at(sink, 6 * kHour);
  const RecordRow& parked = record_at(sink, 12 * kHour);
  CHECK(start.slip_margin == close(0.15 * 10 * start.clamp[0] / (1.3 * 45e3), 0, 1e-9));
  CHECK(round.slip_margin < 0.8 * start.slip_margin);
  CHECK(parked.slip_margin == close(start.slip_margin, 0, 1e-9));
  CHECK(round.fatigue_amplitude[0] > 1.1 * start.fatigue_amplitude[0]);
  CHECK(parked.fatigue_amplitude[0] == close(start.fatigue_amplitude[0], 0, 1e-9));
  CHECK(round.stops == 20);
  CHECK(parked.stops == 20);
}

TEST_CASE("run: the crossing of the required clamp is located within its step") {
  Scenario s = painted().scenario();
  MemorySink first;
  run_into(first, s);
  const double from = record_at(first, kDay).clamp_cold[0];
  const double to = record_at(first, 3 * kDay).clamp_cold[0];
  REQUIRE(from - to > 5e-4 * from);
  s.required_clamp = (from + to) / 2;
  MemorySink told;
  run_into(told, s);
  const std::vector<EventRow> found = events(told, "below required clamp");
  REQUIRE(found.size() == 1);
  CHECK(found[0].time > kDay);
  CHECK(found[0].time < 3 * kDay);
  s.record.at.push_back({When::Kind::Time, found[0].time});
  MemorySink there;
  run_into(there, s);
  CHECK(record_at(there, found[0].time).clamp_cold[0] == close(*s.required_clamp, 1e-3 * (from - to), 0));
}

TEST_CASE("run: a removed nut is no clamp that fell, and the others carry its share") {
  ScenarioText text;
  // Faces that hardly give, so that the load along the axle is nearly all that tires the studs.
  text.interface_default = "embedding: 0 um, friction: 0.15, tangential_compliance: 1e-14 m/N, wear: 0 1/Pa";
  text.service = "{remove_nut: {stud: 3, after: 1 d}}";
  Scenario s = text.scenario();
  s.required_clamp = 100e3;
  MemorySink sink;
  run_into(sink, s);
  CHECK(sink.records.front().clamp[0] > 110e3);
  REQUIRE(events(sink, "nut removed").size() == 1);
  CHECK(events(sink, "nut removed")[0].stud == 2);
  CHECK(events(sink, "below required clamp").empty());
  const RecordRow& before = record_at(sink, kDay);
  const RecordRow& after = record_at(sink, kDay, 1);
  CHECK(after.clamp[2] == 0);
  CHECK(after.clamp[0] == close(before.clamp[0], 0, 1e-9));
  CHECK(after.fatigue_amplitude[0] == close(before.fatigue_amplitude[0] * 10 / 9, 0, 1e-2));
  CHECK(after.slip_margin == close(before.slip_margin * 9 / 10, 0, 1e-9));
}

TEST_CASE("run: a retorque tells each clamp right after its act and when all were done") {
  ScenarioText text = painted();
  text.studs = 6;
  text.ring = "active: true, factor: 10";
  text.friction = "thread: 0.12, bearing: 0.12, breakaway: 1.0";
  text.service = "{retorque: {after: 2 d}}";
  MemorySink sink;
  run_into(sink, text.scenario());
  const RecordRow& after = record_at(sink, 2 * kDay, 1);
  std::size_t given = 0;
  std::size_t acts = 0;
  for (const ActRow& a : sink.acts) {
    if (a.pass == 0) {
      ++acts;
      CAPTURE(a.stud);
      CHECK(a.moved);
      CHECK(a.clamp_end == close(after.clamp[a.stud], 0, 1e-12));
      given += a.clamp_end < a.clamp * (1 - 1e-5) ? 1U : 0U;
    }
  }
  CHECK(acts == 6);
  CHECK(given >= 3); // whose neighbours were turned after them
}

TEST_CASE("run: what happens after a retorque is told again") {
  ScenarioText text;
  // Faces that give a lot bend the studs beyond their endurance in plain rolling.
  text.interface_default = "embedding: 0 um, friction: 0.15, tangential_compliance: 5e-9 m/N, wear: 0 1/Pa";
  text.friction = "thread: 0.12, bearing: 0.12, breakaway: 1.0";
  text.day = "{drive: {distance: 10 km, speed: 50 km/h}}";
  MemorySink alone;
  run_into(alone, text.scenario());
  CHECK(events(alone, "stud fatigue").size() == 1); // ten studs that nothing tells apart are told of once
  text.service = "{retorque: {after: 2.5 d, torque: 700 N*m}}";
  MemorySink sink;
  run_into(sink, text.scenario());
  const std::vector<EventRow> twice = events(sink, "stud fatigue");
  REQUIRE(twice.size() == 2);
  CHECK(twice[0].time < kDay);
  CHECK(twice[1].time > 2.5 * kDay);
}

TEST_CASE("run: losses are counted from the end of tightening") {
  for (const char* ring : {"active: false", "active: true, factor: 10"}) {
    CAPTURE(ring);
    ScenarioText text = painted();
    text.studs = 5;
    text.ring = ring;
    text.passes = "0.7, 1.0";
    text.pause = "60 s";
    MemorySink sink;
    run_into(sink, text.scenario());
    // Something settled between the acts, and it is none of the losses of service.
    CHECK(sink.acts[5].clamp_end < sink.acts[5].clamp - 10);
    const RecordRow& first = sink.records.front();
    for (std::size_t i = 0; i < first.loss.size(); ++i) {
      CHECK(first.loss[i] == close(0, 1e-18, 0));
      CHECK(first.loss_clamp[i] == close(0, 1e-9, 0));
    }
    CHECK(sink.records.back().loss[index(Mechanism::CoatingCreep)] > 1e-8);
  }
}

TEST_CASE("run: a check reads the friction of the rest since the nut last moved") {
  ScenarioText text; // elastic: the clamp stays
  text.friction = "thread: 0.12, bearing: 0.12, breakaway: [[0 s, 1.0], [10 d, 2.0]]";
  text.service = "{retorque: {after: 2 d, torque: 900 N*m}}";
  MemorySink sink;
  run_into(sink, text.scenario());
  const NutThread nut({"M22x1.5", 22e-3, 1.5e-3}, 30e-3, 0);
  const auto reads = [&](double torque, double days) {
    return nut.torque_to_move(nut.clamp(torque, 0.12, 0.12), 0.12, 0.12, 1 + days / 10);
  };
  CHECK(sink.records.front().check_torque[0] == close(640, 0, 1e-9));
  CHECK(record_at(sink, kDay).check_torque[0] == close(reads(640, 1), 0, 1e-9));
  CHECK(record_at(sink, 2 * kDay).check_torque[0] == close(reads(640, 2), 0, 1e-9));
  CHECK(record_at(sink, 2 * kDay, 1).check_torque[0] == close(900, 0, 1e-9));
  CHECK(record_at(sink, 5 * kDay).check_torque[0] == close(reads(900, 3), 0, 1e-9));
}

TEST_CASE("run: stress and pressure of a record are those of its clamp, with half the torsion") {
  MemorySink sink;
  run_into(sink, ScenarioText().scenario());
  const RecordRow& r = sink.records.front();
  const NutThread nut({"M22x1.5", 22e-3, 1.5e-3}, 30e-3, 0);
  const StudStress stress = nut.stress(r.clamp[0], 0.12, 0.12);
  const double reduced = std::sqrt(stress.axial * stress.axial + 3 * stress.torsion * stress.torsion / 4);
  CHECK(r.utilisation[0] == close(reduced / 940e6, 0, 1e-12));
  CHECK(r.utilisation[0] == close(sink.figure("torque/utilisation_after").values.at(0), 0, 1e-9));
  // The nut's ring of 36 mm on the disc's hole of 26 mm.
  CHECK(r.seat_pressure[0] == close(r.clamp[0] / (kPi / 4 * (36e-3 * 36e-3 - 26e-3 * 26e-3)), 0, 1e-12));
}

namespace {

/// The same wheel in stretches and by every stop.
std::pair<std::vector<RecordRow>, std::vector<RecordRow>> both_ways(ScenarioText text) {
  MemorySink drawn;
  MemorySink each;
  text.resolution = "envelope";
  run_into(drawn, text.scenario());
  text.resolution = "every-stop";
  run_into(each, text.scenario());
  REQUIRE(drawn.records.size() == each.records.size());
  return {drawn.records, each.records};
}

ScenarioText many_stops(int count = 200) {
  ScenarioText s;
  s.day = fmt::format("{{round: {{stops: {}, spacing: 300 m, top_speed: 45 km/h, acceleration: 0.8 m/s^2, "
                      "deceleration: 1.2 m/s^2, dwell: 30 s, mass: [26 t, 15 t]}}}}",
                      count);
  s.calendar = "working_days_per_week: 2, weeks: 1";
  s.record = "every: 13 min";
  return s;
}

} // namespace

TEST_CASE("run: a record among stops drawn together reads the brake as the stop under way has it") {
  ScenarioText s = many_stops();
  s.nodes = "joint: {capacity: 20 kJ/K, still: 20 W/K}, drum: {capacity: 8 kJ/K, still: 3 W/K, moving: 3 W/K}";
  s.links = "[drum, joint, 8 W/K]";
  s.radiation = "{from: drum, to: ambient, emissivity_area: 0.1 m^2}";
  s.brake = "drum";
  const auto [drawn, each] = both_ways(s);
  double worst = 0;
  double swing = 0; // from one record to the next, of what stops make of it
  for (std::size_t i = 1; i + 1 < each.size(); ++i) {
    const auto drum = [&](const std::vector<RecordRow>& records, std::size_t k) { return records[k].temperature[1]; };
    worst = std::max(worst, std::abs(drum(drawn, i) - drum(each, i)));
    swing = std::max(swing, std::abs(drum(each, i - 1) - 2 * drum(each, i) + drum(each, i + 1)));
  }
  CHECK(swing > 8);
  CHECK(worst < 0.8);
}

TEST_CASE("run: a record among stops drawn together has the stop under way behind it, as far as it has come") {
  ScenarioText settling = many_stops(); // the first stops cost much
  settling.interface_default = "embedding: 20 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  ScenarioText hot = many_stops(70); // the joint is the brake's own lump
  hot.nodes = "joint: {capacity: 8 kJ/K, still: 3 W/K, moving: 3 W/K}";
  hot.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K";
  ScenarioText tied = hot;
  tied.ring = "active: true, width: 70 mm, factor: 10";
  struct Case {
    const char* name;
    ScenarioText text;
    double clamp;
  };
  for (const Case& wheel : {Case{"settling", settling, 3e-4}, Case{"hot", hot, 1e-3}, Case{"tied", tied, 1e-3}}) {
    CAPTURE(wheel.name);
    // In the middle of stops, several in each, and where one stop cycle ends and the next begins.
    for (const double every : {97.0, 19.0, 67.0208333333333}) {
      CAPTURE(every);
      ScenarioText s = wheel.text;
      s.record = "every: 1 d, at: [";
      for (int i = 1; i <= 40; ++i) {
        s.record += fmt::format("{}{} s", i > 1 ? ", " : "", i * every);
      }
      s.record += "]";
      s.calendar = "working_days_per_week: 1, weeks: 1";
      const auto [drawn, each] = both_ways(s);
      double off = 0;   // of the first clamp
      double slack = 0; // by which a margin is told too large, or an amplitude too small
      double gap = 0;   // of the budget
      for (std::size_t i = 0; i < each.size(); ++i) {
        for (const auto clamp : {&RecordRow::clamp, &RecordRow::clamp_cold}) {
          off = std::max(off, std::abs((drawn[i].*clamp)[0] - (each[i].*clamp)[0]) / each[0].clamp[0]);
        }
        slack = std::max({slack, drawn[i].slip_margin / each[i].slip_margin - 1,
                          1 - drawn[i].fatigue_amplitude[0] / each[i].fatigue_amplitude[0]});
        const double lost = std::accumulate(
            drawn[i].loss_clamp.begin(), drawn[i].loss_clamp.begin() + static_cast<std::ptrdiff_t>(kMechanisms), 0.0);
        gap = std::max(gap, std::abs(drawn[0].clamp_cold[0] - lost - drawn[i].clamp_cold[0]));
      }
      CHECK(off < wheel.clamp);
      CHECK(slack < 0.01);
      CHECK(gap < 1e-9 * drawn[0].clamp[0]);
    }
  }
}

TEST_CASE("run: records among stops move the wheel by no more than the tolerance of the steps that they cut") {
  ScenarioText s = many_stops(70);
  s.ring = "active: true, width: 70 mm, factor: 10";
  s.resolution = "envelope";
  s.interface_default = "embedding: 20 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  MemorySink often;
  s.record = "every: 97 s";
  run_into(often, s.scenario());
  MemorySink seldom;
  s.record = "every: 1 d";
  run_into(seldom, s.scenario());
  const double first = seldom.records.front().clamp[0];
  CHECK(often.records.back().clamp_cold[0] == close(seldom.records.back().clamp_cold[0], 2e-6 * first, 0));
  CHECK(often.records.back().temperature[0] == close(seldom.records.back().temperature[0], 1e-9, 0));
}

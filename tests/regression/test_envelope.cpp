// Checks: a run with days in stretches (solution.resolution: envelope) against the same run by every span.
// Problem: every shipped scenario, its calendar cut to two weeks; and wheels whose days do not go smoothly.
// Reference: the run by every span.
// Fails if: a mean loses heat, turns or load, a day in stretches is believed where it should not be, or rows of a day
// that was given up are written.
#include "models/law.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

using namespace clampfade;
using test::close;
using test::MemorySink;
using test::ScenarioText;

namespace {

// What an envelope may be off: of the first clamp at any record, and of the whole loss for a mechanism's share.
// The bounds asked for are 2e-3 and 5e-3; README.md says what is held here.
constexpr double kClampOff = 2e-4;
constexpr double kShareOff = 5e-4;

/// The same run by every span and with the envelope.
struct Twice {
  explicit Twice(Scenario s) {
    s.resolution = Resolution::EveryStop;
    REQUIRE(run(s, fine) == RunStatus::Complete);
    s.resolution = Resolution::Envelope;
    REQUIRE(run(s, coarse) == RunStatus::Complete);
  }
  MemorySink fine, coarse;
};

std::vector<double> shares(const RecordRow& row, std::size_t stud) {
  const auto first = row.loss_clamp.begin() + static_cast<std::ptrdiff_t>(stud * kMechanisms);
  std::vector<double> out(first, first + kMechanisms);
  double sum = 0;
  for (const double v : out) {
    sum += std::abs(v);
  }
  for (double& v : out) {
    v = sum > 0 ? v / sum : 0;
  }
  return out;
}

void check_like(const MemorySink& fine, const MemorySink& coarse) {
  REQUIRE(fine.records.size() == coarse.records.size());
  const double first = *std::max_element(fine.records[0].clamp.begin(), fine.records[0].clamp.end());
  for (std::size_t i = 0; i < fine.records.size(); ++i) {
    const RecordRow& a = fine.records[i];
    const RecordRow& b = coarse.records[i];
    REQUIRE(b.time == close(a.time, 60, 0)); // distances are reached on average speed
    for (std::size_t k = 0; k < a.clamp.size(); ++k) {
      CHECK(b.clamp[k] == close(a.clamp[k], kClampOff * first, 0));
      CHECK(b.clamp_cold[k] == close(a.clamp_cold[k], kClampOff * first, 0));
    }
    CHECK(b.slip_margin == close(a.slip_margin, 0, 0.05)); // the worst load of a stretch, wherever a record cuts it
  }
  for (std::size_t k = 0; k < fine.records.back().clamp.size(); ++k) {
    const std::vector<double> a = shares(fine.records.back(), k);
    const std::vector<double> b = shares(coarse.records.back(), k);
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      CAPTURE(kMechanismNames[m]);
      CHECK(b[m] == close(a[m], kShareOff, 0));
    }
  }
  REQUIRE(coarse.events.size() == fine.events.size());
  for (std::size_t i = 0; i < fine.events.size(); ++i) {
    CHECK(coarse.events[i].kind == fine.events[i].kind);
    CHECK(coarse.events[i].stud == fine.events[i].stud);
  }
  CHECK(coarse.records.back().stops == fine.records.back().stops);
  CHECK(coarse.records.back().distance == close(fine.records.back().distance, 0, 1e-9));
}

std::size_t intervals(const MemorySink& sink, std::string_view resolution) {
  return static_cast<std::size_t>(std::count_if(sink.work.begin(), sink.work.end(), [&](const StepsRow& row) {
    return row.resolution.substr(0, resolution.size()) == resolution;
  }));
}

/// How each day was run, as its record at midnight says.
std::vector<std::string> by_day(const MemorySink& sink) {
  std::vector<std::string> days;
  for (const StepsRow& row : sink.work) {
    if (row.time > 0 && std::abs(std::remainder(row.time, 86400)) < 1) {
      days.push_back(row.resolution);
    }
  }
  return days;
}

std::uint64_t steps(const MemorySink& sink) {
  std::uint64_t sum = 0;
  for (const StepsRow& row : sink.work) {
    sum += row.steps;
  }
  return sum;
}

ScenarioText round_of(const std::string& stops) {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 90 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.day = "{park: {until: 6 h}}, {round: {stops: " + stops +
          ", spacing: 80 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 15 s}}";
  s.record = "every: 3 h";
  return s;
}

} // namespace

TEST_CASE("envelope: every shipped scenario agrees with itself by every span") {
  std::size_t seen = 0;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(CLAMPFADE_SOURCE) + "/scenarios")) {
    if (entry.path().extension() != ".yaml") {
      continue;
    }
    CAPTURE(entry.path().filename().string());
    Scenario s = read_scenario(entry.path().string());
    s.duty.calendar.weeks = std::min<std::size_t>(s.duty.calendar.weeks, 2);
    const Twice twice(s);
    const MemorySink& fine = twice.fine;
    const MemorySink& coarse = twice.coarse;
    check_like(fine, coarse);
    CHECK(steps(coarse) <= steps(fine));
    ++seen;
  }
  CHECK(seen >= 10);
}

TEST_CASE("envelope: days are run in stretches, the first and later ones held against their spans here and there") {
  const Scenario s = round_of("400").scenario();
  const Twice twice(s);
  const MemorySink& fine = twice.fine;
  const MemorySink& coarse = twice.coarse;
  check_like(fine, coarse);
  CHECK(intervals(coarse, "envelope, checked") == 2 * 8); // the first day and the fifth after it
  CHECK(intervals(coarse, "envelope") == 7 * 8);
  CHECK(steps(coarse) < steps(fine) / 10);
}

namespace {

/// What stretches should not be believed about: the day is given up, done again by spans and leaves no trace.
void check_given_up(const ScenarioText& text, std::string_view why) {
  const Scenario s = text.scenario();
  const Twice twice(s);
  const MemorySink& fine = twice.fine;
  const MemorySink& coarse = twice.coarse;
  std::string said;
  for (const StepsRow& row : coarse.work) {
    said += row.resolution + "; ";
  }
  CAPTURE(said);
  CAPTURE(fine.records.back().clamp[0]);
  CHECK(intervals(coarse, "every-stop: stud 1 " + std::string(why)) >= 8);
  CHECK(intervals(coarse, "every-stop: stretches failed on a day before") >= 8);
  REQUIRE(coarse.records.size() == fine.records.size());
  for (std::size_t i = 0; i < fine.records.size() && !coarse.work[i].resolution.starts_with("envelope"); ++i) {
    CHECK(coarse.records[i].clamp == fine.records[i].clamp);
    CHECK(coarse.records[i].loss == fine.records[i].loss);
    CHECK(coarse.records[i].slip_margin == fine.records[i].slip_margin);
  }
  REQUIRE(coarse.events.size() == fine.events.size());
  for (std::size_t i = 0; i < fine.events.size(); ++i) {
    CHECK(coarse.events[i].kind == fine.events[i].kind);
    CHECK(coarse.events[i].time == close(fine.events[i].time, 60, 0));
  }
}

} // namespace

TEST_CASE("envelope: where nuts turn every span is followed, to the same bits") {
  ScenarioText text = round_of("150");
  text.interface_default = "embedding: 3 um, friction: 0.05, tangential_compliance: 1e-9 m/N, wear: 1e-16 1/Pa";
  text.torque = "300 N*m";
  check_given_up(text, "has a nut that turns");
}

TEST_CASE("envelope: a day given up in the middle leaves nothing behind") {
  ScenarioText text = round_of("150");
  // The clamp that paint takes on the first day brings the wheel to where it slides on the second, run in stretches.
  text.interface_default = "embedding: 3 um, friction: 0.1095, tangential_compliance: 1e-9 m/N, wear: 1e-16 1/Pa";
  text.torque = "300 N*m";
  Scenario s = text.scenario();
  s.resolution = Resolution::Envelope;
  MemorySink whole;
  RunOptions every_day;
  every_day.checkpoint_every = 0;
  REQUIRE(run(s, whole, every_day) == RunStatus::Complete);
  const std::vector<std::string> days = by_day(whole);
  REQUIRE(days[0] == "envelope, checked");
  REQUIRE(days[1] == "every-stop: stud 1 has a nut that turns");
  REQUIRE(days[2] == "every-stop: stretches failed on a day before");
  // From that midnight on by every stop, with no stretch ever tried: the same two days, to the bit.
  s.resolution = Resolution::EveryStop;
  MemorySink later;
  REQUIRE(resume(s, whole.checkpoints.at(1), later) == RunStatus::Complete);
  const auto of_those = [](double time) { return time > 86400 && time <= 3 * 86400; };
  std::size_t compared = 0;
  for (std::size_t i = 0; i < whole.records.size(); ++i) {
    if (of_those(whole.records[i].time)) {
      const RecordRow& other = later.records.at(compared++);
      CHECK(whole.records[i].time == other.time);
      CHECK(whole.records[i].clamp == other.clamp);
      CHECK(whole.records[i].loss == other.loss);
      CHECK(whole.records[i].loss_clamp == other.loss_clamp);
      CHECK(whole.records[i].slip_margin == other.slip_margin);
    }
  }
  CHECK(compared == 16);
  std::size_t told = 0;
  for (const EventRow& event : whole.events) {
    if (of_those(event.time)) {
      const EventRow& other = later.events.at(told++);
      CHECK(event.kind == other.kind);
      CHECK(event.stud == other.stud);
      CHECK(event.time == other.time);
    }
  }
  CHECK(told > 0);
}

TEST_CASE("envelope: days in stretches that end elsewhere are not believed, and tried ever more seldom") {
  // The brake is so light that each stop heats it by kelvins, of which a mean knows nothing; bare steel keeps its clamp
  // all the same.
  ScenarioText hot;
  hot.nodes = "joint: {capacity: 2 kJ/K, still: 20 W/K}";
  hot.day = "{park: {until: 22.6 h}}, {round: {stops: 150, spacing: 80 m, top_speed: 30 km/h, acceleration: 0.8 m/s^2, "
            "deceleration: 1.2 m/s^2, dwell: 15 s}}";
  hot.record = "every: 3 h";
  // Paint that every stop warms, and that is cold again long before midnight.
  ScenarioText soft = round_of("400");
  soft.nodes = "joint: {capacity: 10 kJ/K, still: 60 W/K}";
  for (const ScenarioText& text : {hot, soft}) {
    const Twice twice(text.scenario());
    const std::string fails = "every-stop: stretches end elsewhere";
    const std::string waits = "every-stop: stretches failed on a day before";
    CHECK(by_day(twice.coarse) == std::vector<std::string>{fails, waits, fails, waits, waits, fails, waits});
    for (std::size_t k = 0; k < twice.fine.records.size(); ++k) {
      CHECK(twice.coarse.records.at(k).clamp == twice.fine.records[k].clamp);
    }
  }
}

TEST_CASE("envelope: where a stud opens every span is followed, to the same bits") {
  ScenarioText text = round_of("150");
  // Nothing slides, so that the nuts stay while the gap takes all of the stretch.
  text.interface_default = "embedding: 3 um, friction: 0.9, tangential_compliance: 1e-12 m/N, wear: 0 1/Pa";
  text.interfaces = ", \"hub | disc\": {unseated: 0.32 mm}";
  check_given_up(text, "opens or closes");
}

TEST_CASE("envelope: where a stud yields every span is followed, to the same bits") {
  ScenarioText text = round_of("150");
  text.property_class = "proof: 560 MPa, yield: 600 MPa, tensile: 830 MPa";
  text.torque = "600 N*m";
  text.hub_material = text.disc_material = "youngs: 70 GPa, poisson: 0.33, expansion: 23e-6 1/K"; // outgrows the stud
  text.ambient = "mean: 60 degC";
  check_given_up(text, "yields");
}

TEST_CASE("envelope: after the wrench has been there the next round is looked at again, and hot days are by spans") {
  ScenarioText text = round_of("200");
  text.service = "{retorque: {after: 50 h}}, {hot_day: {after: 4 d, extra_power: 800 W}}";
  const Scenario s = text.scenario();
  const Twice twice(s);
  const MemorySink& fine = twice.fine;
  const MemorySink& coarse = twice.coarse;
  check_like(fine, coarse);
  const std::vector<std::string> days = by_day(coarse);
  const std::string looks = "envelope, checked";
  CHECK(days ==
        std::vector<std::string>{looks, "envelope", "envelope", looks, "every-stop: hot day", "envelope", "envelope"});
  REQUIRE(coarse.acts.size() == fine.acts.size());
}

TEST_CASE("envelope: a day that was looked at before the wrench came does not stand for the day after it") {
  ScenarioText text = round_of("200");
  text.service = "{retorque: {after: 10 h}}"; // the evening of the first day
  const Twice twice(text.scenario());
  const MemorySink& coarse = twice.coarse;
  REQUIRE(coarse.acts.size() == 20);
  // The first day with what the wrench found and left, the second, and the seventh.
  CHECK(intervals(coarse, "envelope, checked") == 3 * 8 + 2);
  CHECK(intervals(coarse, "envelope") == 7 * 8 + 2);
}

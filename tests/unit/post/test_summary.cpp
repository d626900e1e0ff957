// A wheel of invented numbers whose finding, budget and limits can be told by hand.
#include "post/summary.hpp"
#include "post/summary_data.hpp"
#include "post/summary_text.hpp"
#include "post/table.hpp"

#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <functional>
#include <limits>
#include <set>
#include <sstream>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;

/// What a case may change of the wheel below.
struct Wheel {
  double required = 80e3;
  double loss_per_day = 500; ///< of stud 2 [N], every mechanism that takes any taking half
  double gain = 0;           ///< of every stud from day 20 on
  bool event = true;         ///< whether the run located the crossing
  double check_torque = 600;
  RunStatus status = RunStatus::Complete;
  std::string status_text;
  std::size_t days = 30;
  std::size_t every = 1; ///< days between records; of one day there is one after two hours, too
};

/// Studs 1 and 3 lose half of what stud 2 loses. Stud 2 starts at 90 kN, the others at 100 kN.
double lost(const Wheel& w, std::size_t stud, double days) { return (stud == 1 ? 1 : 0.5) * w.loss_per_day * days; }
double first(std::size_t stud) { return stud == 1 ? 90e3 : 100e3; }

RecordRow record(const Wheel& w, double days) {
  RecordRow r;
  r.time = days * kDay;
  r.distance = days * 100e3;
  r.temperature = {290 + days, 300};
  r.slip_margin = days == 12 ? 0.9 : 1.5;
  r.loss.assign(3 * kMechanisms, 0);
  r.loss_clamp.assign(3 * kMechanisms, 0);
  const double gain = days >= 20 ? w.gain : 0;
  for (std::size_t s = 0; s < 3; ++s) {
    const double l = lost(w, s, days);
    r.clamp_cold.push_back(first(s) - l + gain);
    r.clamp.push_back(r.clamp_cold.back() + 1e3);
    for (const Mechanism m : {Mechanism::Embedding, Mechanism::CoatingCreep}) {
      r.loss_clamp[s * kMechanisms + index(m)] = l / 2;
      r.loss[s * kMechanisms + index(m)] = l / 2 * 1e-9;
    }
    r.fatigue_amplitude.push_back(20e6 + 1e6 * static_cast<double>(s));
    r.utilisation.push_back(0.6);
    r.seat_pressure.push_back(300e6);
    r.check_torque.push_back(w.check_torque);
    r.retorque_gain.push_back(gain);
  }
  return r;
}

void write(const std::string& path, const Wheel& w) {
  HistoryWriter writer(path);
  RunHeader h;
  h.title = "Invented wheel";
  h.scenario_text = "schema: 1\n";
  h.studs = {"1", "2", "3"};
  h.nodes = {"drum", "hub"};
  h.end_time = static_cast<double>(w.days) * kDay;
  h.warnings = {"washers are thick for the theory"};
  if (w.required > 0) {
    h.joint.push_back({"required_clamp", "N", "clamp needed", {w.required}, {}, {}});
  }
  h.joint.push_back({"deciding_design_case", "1", "case", {}, {}, {"hard stop"}});
  h.joint.push_back({"design_cases/clamp_for_slip", "N", "slip", {80e3, 40e3}, {"hard stop", "kerb"}, {}});
  h.joint.push_back({"design_cases/clamp_for_gap", "N", "gap", {10e3, 20e3}, {"hard stop", "kerb"}, {}});
  h.joint.push_back({"torque/torque", "N m", "torque set", {640}, {}, {}});
  h.joint.push_back({"fatigue_limit", "Pa", "limit", {44e6}, {}, {}});
  h.joint.push_back({"seat_pressure_limit", "Pa", "limit", {500e6}, {}, {}});
  h.joint.push_back({"torque/utilisation", "1", "utilisation", {0.7}, {}, {}});
  h.joint.push_back({"grip_length",
                     "m",
                     "grip length, all parts, coatings and free washers between head and nut counted",
                     {0.056},
                     {},
                     {}});
  h.provenance = {{"materials/steel", "youngs", "205 GPa", "invented", "demo"},
                  {"threads/M22x1.5", "pitch", "1.5 mm", "ISO 261", "published"}};
  writer.begin(h);
  for (std::size_t pass = 1; pass <= 2; ++pass) {
    for (std::size_t s = 0; s < 3; ++s) {
      writer.act({-60 + 5 * static_cast<double>(3 * pass + s), pass, s, 320 * static_cast<double>(pass),
                  (40e3 + 5e3 * static_cast<double>(s)) * static_cast<double>(pass), first(s), true});
    }
  }
  writer.record(record(w, 0));
  if (w.every == 1) {
    writer.record(record(w, 2 / 24.0)); // two hours: nothing was recorded at one
  }
  for (std::size_t day = w.every; day <= w.days; day += w.every) {
    writer.record(record(w, static_cast<double>(day)));
  }
  if (w.event && first(1) - lost(w, 1, static_cast<double>(w.days)) < w.required) {
    const double days = (first(1) - w.required) / w.loss_per_day;
    writer.event({days * kDay, days * 100e3, 1, "below required clamp", "stud 2 holds less than it must"});
  }
  writer.end(w.status, w.status_text, {});
}

Summary summary_of(const Wheel& wheel) {
  const TmpDir dir;
  write(dir / "wheel.h5", wheel);
  return summarise(History(dir / "wheel.h5"));
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }
/// Line breaks of wrapping do not matter to a reader.
std::string flat(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const char letter = c == '\n' ? ' ' : c;
    if (letter != ' ' || out.empty() || out.back() != ' ') {
      out += letter;
    }
  }
  return out;
}

} // namespace

TEST_CASE("summary: the crossing is the run's own, not the next record's") {
  // (90 - 80) kN / 440 N a day: 22.7 days, between two records.
  Wheel wheel;
  wheel.loss_per_day = 440;
  const Summary s = summary_of(wheel);
  REQUIRE(s.finding.first_below.has_value());
  CHECK(s.finding.first_below_located);
  CHECK(s.finding.first_below->time == close(10e3 / 440 * kDay, 0, 1e-12));
  CHECK(s.finding.first_below->stud == 1);
  CHECK(s.finding.latest_retorque->distance == close(10e3 / 440 * 100e3, 0, 1e-12));
  CHECK(s.finding.lowest_clamp_cold == close(90e3 - 30 * 440, 0, 1e-12));
  CHECK(s.finding.lowest.stud == 1);
  const std::string text = flat(to_text(s, System::Si));
  CHECK(has(text, "Stud 2 falls below the required clamp of 80.00 kN after 22.7 days and 2273 km."));
  CHECK(has(text, "The lowest cold clamp is 76.80 kN (stud 2, after 30.0 days and 3000 km), 4.00 % below it."));
  CHECK(has(text, "at the latest after 22.7 days or 2273 km, whichever comes first."));
  CHECK(has(text, "That is a limit and no date to aim for: clampfade plan tries the instants before it."));
}

TEST_CASE("summary: a crossing that no event located is only known to the next record") {
  Wheel wheel;
  wheel.loss_per_day = 450;
  wheel.event = false;
  const Summary s = summary_of(wheel);
  REQUIRE(s.finding.first_below.has_value());
  CHECK_FALSE(s.finding.first_below_located);
  CHECK(s.finding.first_below->time == 23 * kDay);
  REQUIRE(s.finding.latest_retorque.has_value());
  CHECK(s.finding.latest_retorque->time == 22 * kDay);
  CHECK(has(flat(to_text(s, System::Si)), "before the record at 23.0 days"));
}

TEST_CASE("summary: a clamp that stays above is told with its distance, and the re-check stays due") {
  Wheel wheel;
  wheel.loss_per_day = 100;
  const Summary s = summary_of(wheel);
  CHECK_FALSE(s.finding.first_below.has_value());
  const std::string text = flat(to_text(s, System::Si));
  CHECK(has(text, "No stud falls below the required clamp of 80.00 kN."));
  CHECK(has(text, "The lowest cold clamp is 87.00 kN (stud 2, after 30.0 days and 3000 km), 8.75 % above it."));
  CHECK(has(text, "A re-check by the makers' instructions is due all the same."));
  CHECK_FALSE(has(text, "at the latest"));
}

TEST_CASE("summary: a wheel below from the start is not sent to a retorque") {
  Wheel wheel;
  wheel.required = 95e3;
  wheel.event = false;
  const Summary s = summary_of(wheel);
  CHECK(s.finding.below_from_start);
  CHECK_FALSE(s.finding.latest_retorque.has_value());
  CHECK(has(flat(to_text(s, System::Si)), "Stud 2 is below the required clamp of 95.00 kN from the start."));
}

TEST_CASE("summary: without a required clamp there is no verdict") {
  Wheel wheel;
  wheel.required = 0;
  const Summary s = summary_of(wheel);
  CHECK_FALSE(s.finding.first_below.has_value());
  CHECK(has(flat(to_text(s, System::Si)), "names no required clamp"));
}

TEST_CASE("summary: a retorque that would not move the nut is said to be none") {
  Wheel wheel;
  wheel.check_torque = 650;
  CHECK(has(flat(to_text(summary_of(wheel), System::Si)),
            "a wrench set to 640.0 N·m would click without moving it: loosen the nut and tighten it anew"));
  wheel.check_torque = 630;
  CHECK_FALSE(has(flat(to_text(summary_of(wheel), System::Si)), "click"));
}

TEST_CASE("summary: milestones show the first record at or after, with its true time, and nothing between") {
  Wheel wheel;
  wheel.days = 10;
  const Summary s = summary_of(wheel);
  REQUIRE(s.milestones.size() == 7);
  CHECK(s.milestones[0].time == 0);
  CHECK(s.milestones[1].name == "1 h");
  CHECK(s.milestones[1].time == close(7200, 0, 1e-12));
  CHECK(s.milestones[1].clamp_cold.lowest == close(90e3 - 500.0 / 12, 0, 1e-12));
  CHECK(s.milestones[2].time == kDay);
  CHECK(s.milestones[3].name == "80 km");
  CHECK(s.milestones[3].distance == close(100e3, 0, 1e-12));
  CHECK(s.milestones[4].time == 7 * kDay);
  CHECK(s.milestones[4].clamp.highest == close(101e3 - 7 * 250, 0, 1e-12));
  CHECK(s.milestones[4].clamp_cold.mean == close((90e3 - 3500 + 2 * (100e3 - 1750)) / 3, 0, 1e-12));
  CHECK_FALSE(s.milestones[5].reached);
  CHECK(s.milestones[6].time == 10 * kDay);
  CHECK(s.milestones[4].recorded);
}

TEST_CASE("summary: a milestone that nothing but the last record is near was not recorded") {
  Wheel wheel;
  wheel.every = 10;
  wheel.days = 10; // records at 0 and 10 days only
  const Summary s = summary_of(wheel);
  REQUIRE(s.milestones.size() == 7);
  CHECK(s.milestones[0].recorded);
  for (const std::size_t i : {1U, 2U, 3U, 4U}) {
    CHECK(s.milestones[i].reached);
    CHECK_FALSE(s.milestones[i].recorded);
  }
  CHECK(s.milestones[6].recorded);
  const std::string text = flat(to_text(s, System::Si));
  CHECK(has(text, "1 week not recorded"));
  CHECK(has(text, "the scenario's `record` says when one is made."));
  CHECK_FALSE(has(text, "Nothing was recorded near"));
  const std::string csv = to_csv(s, System::Si);
  CHECK_FALSE(has(csv, "milestones,1 week,"));
  CHECK(has(csv, "milestones,end,"));
  const nlohmann::json j = nlohmann::json::parse(to_json(s));
  CHECK(j["milestones"][4]["recorded"] == false);
  CHECK_FALSE(j["milestones"][4].contains("cold"));
}

TEST_CASE("summary: the budget closes, with what a retorque won") {
  Wheel wheel;
  wheel.gain = 4e3;
  const Summary s = summary_of(wheel);
  CHECK(s.budget.weakest_stud == 1);
  REQUIRE(s.budget.lines.size() == kMechanisms);
  CHECK(s.budget.lines[0].mechanism == "embedding");
  CHECK(s.budget.lines[0].clamp_weakest == close(7500, 0, 1e-12));
  CHECK(s.budget.lines[0].clamp_mean == close(5000, 0, 1e-12));
  CHECK(s.budget.lines[0].loss_weakest == close(7.5e-6, 0, 1e-12));
  CHECK(s.budget.weakest.lost == close(15e3, 0, 1e-12));
  CHECK(s.budget.weakest.gain == 4e3);
  CHECK(s.budget.weakest.end == close(79e3, 0, 1e-12));
  CHECK(s.budget.weakest.closure() == close(0, 1e-9, 0));
  CHECK(s.budget.mean.closure() == close(0, 1e-9, 0));
  // A budget that does not close says by how much.
  BudgetSum open = s.budget.weakest;
  open.end -= 12;
  CHECK(open.closure() == close(12, 1e-9, 0));
  const std::string text = to_text(s, System::Si);
  CHECK(has(flat(text), "embedding 5.00 -5.00 -5.17 7.50 -7.50 -8.33"));
  CHECK(has(flat(text), "not accounted for <0.001 <0.001 <0.001 <0.001"));
  CHECK(has(flat(text), "Nothing taken by: unseated, coating_flow"));
}

TEST_CASE("summary: limits, slip, passes, temperatures, inputs and warnings are there") {
  const Summary s = summary_of({});
  REQUIRE(s.slip_margin.has_value());
  CHECK(s.slip_margin->value == 0.9);
  CHECK(s.slip_margin->when.time == 12 * kDay);
  REQUIRE(s.fatigue_amplitude.has_value());
  CHECK(s.fatigue_amplitude->value == 22e6);
  CHECK(s.fatigue_amplitude->when.stud == 2);
  CHECK(s.fatigue_amplitude->limit == 44e6);
  REQUIRE(s.passes.size() == 2);
  CHECK(s.passes[1].clamp_lowest == 80e3);
  CHECK(s.passes[1].clamp_highest == 100e3);
  CHECK(s.passes[1].moved == 3);
  REQUIRE(s.nodes.size() == 2);
  CHECK(s.nodes[0].highest == 320);
  CHECK(s.nodes[0].time == 30 * kDay);
  REQUIRE(s.design_cases.size() == 2);
  CHECK(s.design_cases[1].name == "kerb");
  CHECK(s.design_cases[1].clamp_for_gap == 20e3);
  CHECK_FALSE(s.design_cases[1].required.has_value());

  const std::string text = flat(to_text(s, System::Si));
  CHECK(has(text, "lowest slip margin is 0.900 (after 12.0 days and 1200 km). Below 1 the joint slides."));
  CHECK(has(text, "set by the design case \"hard stop\""));
  CHECK(has(text, "fatigue amplitude 22.0 MPa 44.0 MPa 50.0"));
  CHECK(has(text, "pressure under the seat 300 MPa 500 MPa 60.0"));
  CHECK(has(text, "utilisation while tightening 0.700 1.00 70.0"));
  CHECK(has(text, "56.00 mm grip length"));
  CHECK(has(text, "2 catalogue values: 1 demo, 1 published."));
  CHECK(has(text, "1 of 2 are invented demonstration values"));
  CHECK(has(text, "- washers are thick for the theory"));
  CHECK(has(text, "not a release to service"));
  CHECK(has(text, "no proof of clamp"));
}

TEST_CASE("summary: an unlimited slip margin is no finding") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1", "2", "3"};
    h.nodes = {"drum", "hub"};
    writer.begin(h);
    RecordRow r = record({}, 0);
    r.slip_margin = std::numeric_limits<double>::infinity();
    writer.record(r);
    writer.end(RunStatus::Complete, "", {});
  }
  CHECK(summarise(History(dir / "a.h5")).records == 1);
  CHECK_FALSE(summarise(History(dir / "a.h5")).slip_margin.has_value());
}

TEST_CASE("summary: the first line says how the run ended") {
  const auto first_line = [](RunStatus status, const std::string& why, std::size_t days) {
    Wheel wheel;
    wheel.status = status;
    wheel.status_text = why;
    wheel.days = days;
    const std::string text = to_text(summary_of(wheel), System::Si);
    return text.substr(0, text.find('\n'));
  };
  CHECK(first_line(RunStatus::Complete, "", 30) == "Run complete: 30.0 days.");
  CHECK(first_line(RunStatus::Stopped, "asked to stop", 5) ==
        "RUN STOPPED before its end: 5.00 days of 5.00 days. Asked to stop");
  CHECK(has(first_line(RunStatus::Failed, "no equilibrium", 5), "RUN FAILED"));
  CHECK(has(first_line(RunStatus::Running, "", 5), "RUN NOT FINISHED"));
}

TEST_CASE("summary: grave events stand beside the finding") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1", "2", "3"};
    h.nodes = {"drum", "hub"};
    writer.begin(h);
    writer.record(record({}, 0));
    writer.event({3 * kDay, 5e3, 2, "open", "no clamp left"});
    writer.event({4 * kDay, 6e3, 0, "open", "no clamp left"});
    writer.end(RunStatus::Complete, "", {});
  }
  const std::string text = flat(to_text(summarise(History(dir / "a.h5")), System::Si));
  CHECK(has(text, "nothing clamps any more at studs 1, 3, the first after 3.00 days and 5.00 km."));
  CHECK(has(text, "open, studs 1, 3: no clamp is left"));
}

TEST_CASE("summary: a nut taken off is no clamp that faded") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1", "2", "3"};
    h.nodes = {"drum", "hub"};
    h.joint.push_back({"required_clamp", "N", "clamp needed", {50e3}, {}, {}});
    writer.begin(h);
    Wheel w;
    writer.record(record(w, 0));
    writer.record(record(w, 1)); // just before
    writer.event({kDay, 100e3, 0, "nut removed", "stud 1"});
    writer.event({kDay, 100e3, 0, "below required clamp", "stud 1"});
    for (const double day : {1.0, 2.0}) {
      RecordRow r = record(w, day);
      r.clamp[0] = r.clamp_cold[0] = r.check_torque[0] = 0;
      writer.record(r);
    }
    writer.end(RunStatus::Complete, "", {});
  }
  const Summary s = summarise(History(dir / "a.h5"));
  CHECK_FALSE(s.finding.first_below.has_value());
  CHECK(s.finding.lowest_clamp_cold == close(89e3, 0, 1e-12));
  CHECK(s.budget.mean.closure() == close(0, 1e-9, 0));
  REQUIRE(s.check_torque.has_value());
  CHECK(s.check_torque->lowest == 600);
  CHECK(has(to_text(s, System::Si), "nut removed"));
}

TEST_CASE("summary: the clamp of a wheel whose nuts are all off is no number in any format") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1", "2", "3"};
    h.nodes = {"drum", "hub"};
    writer.begin(h);
    Wheel w;
    writer.record(record(w, 0));
    for (const int stud : {0, 1, 2}) {
      writer.event({kDay, 100e3, stud, "nut removed", ""});
    }
    RecordRow r = record(w, 2);
    std::fill(r.clamp.begin(), r.clamp.end(), 0.0);
    r.clamp_cold = r.check_torque = r.clamp;
    writer.record(r);
    writer.end(RunStatus::Complete, "", {});
  }
  const Summary s = summarise(History(dir / "a.h5"));
  const std::string csv = to_csv(s, System::Si);
  CHECK(has(csv, "\nmilestones,end,weakest,clamp,,kN\n"));
  CHECK(has(csv, "\nmilestones,end,mean,clamp_cold,,kN\n"));
  CHECK_FALSE(has(csv, "nan"));
  const nlohmann::json end = nlohmann::json::parse(to_json(s))["milestones"].back();
  CHECK(end["as_is"]["lowest_clamp"].is_null());
  CHECK(end["as_is"]["weakest_stud"].is_null());
}

TEST_CASE("summary: a file without records is told as such") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1"};
    writer.begin(h);
  }
  const Summary s = summarise(History(dir / "a.h5"));
  CHECK(has(flat(to_text(s, System::Si)), "no record yet"));
  CHECK(nlohmann::json::parse(to_json(s))["records"] == 0);
  CHECK(to_csv(s, System::Si) == "table,item,subject,quantity,value,unit\n");
}

TEST_CASE("summary: no line is wider than a terminal of 80 columns") {
  for (const System system : {System::Si, System::Us}) {
    std::istringstream lines(to_text(summary_of({}), system));
    std::size_t count = 0;
    for (std::string line; std::getline(lines, line); ++count) {
      CAPTURE(line);
      CHECK(width(line) <= kWidth);
    }
    CHECK(count > 60);
  }
}

TEST_CASE("summary: the inch system converts every number, and colours only on demand") {
  const Summary s = summary_of({});
  const std::string text = flat(to_text(s, System::Us));
  // 80 kN, 640 N m, 320 K, 3000 km, 7.5 um by the exact factors.
  CHECK(has(text, "17985 lbf"));
  CHECK(has(text, "472.0 lbf·ft"));
  CHECK(has(text, "drum 116 30.0 days"));
  CHECK(has(text, "1864 mi"));
  CHECK(has(text, "0.295"));
  CHECK_FALSE(has(text, "kN"));
  CHECK_FALSE(has(text, "°C"));
  CHECK_FALSE(has(text, "\x1b"));
  CHECK(has(to_text(s, System::Us, true), "\x1b[1;31m"));
}

TEST_CASE("summary: JSON is SI, and every number in it has its unit in the object beside") {
  Wheel wheel;
  wheel.gain = 4e3;
  const nlohmann::json j = nlohmann::json::parse(to_json(summary_of(wheel)));
  CHECK(j["status"] == "complete");
  CHECK(j["digest"] == "right");
  CHECK(j["finding"]["required_clamp"] == 80e3);
  CHECK(j["finding"]["first_below"]["stud"] == "2");
  CHECK(j["finding"]["latest_retorque_distance"].get<double>() == close(2000e3, 0, 1e-12));
  CHECK(j["milestones"][2]["cold"]["lowest_clamp"].get<double>() == close(89.5e3, 0, 1e-12));
  CHECK(j["budget"]["weakest"]["retorque_gain"] == 4e3);
  CHECK(j["tightening"].size() == 2);
  CHECK(j["warnings"][0] == "washers are thick for the theory");
  const std::set<std::string> counts = {"records", "pass", "nuts", "nuts_moved", "demo", "published"};
  std::size_t numbers = 0;
  const std::function<void(const nlohmann::json&)> look = [&](const nlohmann::json& node) {
    if (node.is_array()) {
      for (const auto& entry : node) {
        look(entry);
      }
    } else if (node.is_object()) {
      for (const auto& item : node.items()) {
        const std::string& key = item.key(); // clang 14 lets no lambda see a structured binding
        const auto& entry = item.value();
        CAPTURE(key);
        CHECK(key.find_first_of("ABCDEFGHIJKLMNOPQRSTUVWXYZ -") == std::string::npos);
        if (entry.is_number() && counts.count(key) == 0) {
          CHECK(j["units"].contains(key));
          ++numbers;
        }
        look(entry);
      }
    }
  };
  look(j);
  CHECK(numbers > 100);
}

TEST_CASE("summary: CSV has one value a line, with its unit") {
  const Summary s = summary_of({});
  const std::string csv = to_csv(s, System::Us);
  CHECK(csv.rfind("table,item,subject,quantity,value,unit\n", 0) == 0);
  CHECK(has(csv, "\nmilestones,end,record,time,30,d\n"));
  // The milestone of distance has the name that the table of the same units gives it.
  CHECK(has(csv, "\nmilestones,50 mi,record,time,"));
  CHECK_FALSE(has(csv, "80 km"));
  CHECK(has(to_text(s, System::Us), "50 mi"));
  CHECK(has(to_csv(s, System::Si), "\nmilestones,80 km,record,time,"));
  std::istringstream lines(csv);
  std::size_t found = 0;
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    CHECK(std::count(line.begin(), line.end(), ',') == 5);
    const std::string start = "budget,embedding,stud 2,loss_clamp,";
    if (line.rfind(start, 0) == 0) {
      CHECK(std::stod(line.substr(start.size())) == close(7500 / (0.45359237 * 9.80665), 0, 1e-12));
      CHECK(has(line, ",lbf"));
      ++found;
    }
  }
  CHECK(found == 1);
}

TEST_CASE("clampfade-report: exit codes and streams") {
  const TmpDir dir;
  write(dir / "wheel.h5", {});
  const std::string program = quote(CLAMPFADE_REPORT);
  const std::string file = quote(dir / "wheel.h5");
  const CliResult good = run_cli(program + " summary " + file);
  CHECK(good.exit == 0);
  CHECK(good.err.empty());
  CHECK(has(good.out, "Run complete"));
  CHECK_FALSE(has(good.out, "\x1b"));
  CHECK(has(run_cli(program + " summary " + file + " --units us").out, "lbf"));
  CHECK(nlohmann::json::parse(run_cli(program + " summary --json " + file).out)["status"] == "complete");
  CHECK(has(run_cli(program + " summary " + file + " --csv").out, "budget,embedding"));

  CHECK(run_cli(program + " --version").exit == 0);
  CHECK(has(run_cli(program + " --help").out, "Examples:"));
  CHECK(has(run_cli(program + " summary --help").out, "--units us"));
  CHECK(has(run_cli(program + " summary --help").out, "--json takes no --units"));
  CHECK(has(run_cli(program + " summary --help").out, "written by clampfade simulate"));
  for (const std::string& wrong : {std::string(""), std::string(" summary"), std::string(" sumary ") + file,
                                   " summary " + file + " --units metric", " summary " + file + " --json --csv",
                                   " summary " + file + " --json --units us"}) {
    CAPTURE(wrong);
    const CliResult result = run_cli(program + wrong);
    CHECK(result.exit == 2);
    CHECK(result.out.empty());
    CHECK_FALSE(result.err.empty());
  }
  const CliResult missing = run_cli(program + " summary " + quote(dir / "missing.h5"));
  CHECK(missing.exit == 4);
  CHECK(missing.out.empty());
  CHECK(has(missing.err, dir / "missing.h5"));
  CHECK(run_cli(program + " summary " + file + " > /dev/full").exit == 4);
}

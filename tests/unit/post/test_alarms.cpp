// What must be said first, and to the point.
#include "post/alarms.hpp"
#include "post/sentences.hpp"
#include "post/summary_data.hpp"
#include "post/summary_text.hpp"
#include "post/table.hpp"

#include "solver/basis.hpp"
#include "tests/support/close.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <sstream>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;

/// A run of ten studs in two records; the cases fill in what went wrong.
struct Run {
  std::vector<std::pair<std::string, std::vector<double>>> figures = {
      {"required_clamp N", {100e3}},    {"torque/clamp N", {180e3}},       {"thread/proof_load N", {200e3}},
      {"thread/yield_load N", {220e3}}, {"torque/utilisation 1", {0.8}},   {"torque/yield_stretch m", {0}},
      {"fatigue_limit Pa", {44e6}},     {"seat_pressure_limit Pa", {5e8}}, {"torque/torque N m", {640}}};
  std::vector<double> clamp = std::vector<double>(10, 180e3); ///< of each stud [N]
  double slip_margin = 3, fatigue = 10e6, pressure = 2e8;
  std::vector<EventRow> events;
  std::vector<ActRow> acts;
  std::vector<std::string> warnings;
  double wear = 0;               ///< [m] and, times 1e9, [N]
  double end = 2;                ///< days
  std::vector<double> retorques; ///< days; each lifts all clamps by 1 kN from there on

  void figure(const std::string& name, const std::vector<double>& values) {
    for (auto& [key, old] : figures) {
      if (key.rfind(name + " ", 0) == 0) {
        old = values;
        return;
      }
    }
    FAIL("no such figure");
  }

  [[nodiscard]] RecordRow record(double days, double gain) const {
    RecordRow r;
    r.time = days * kDay;
    r.distance = days * 100e3;
    r.temperature = {300};
    r.slip_margin = days > 0 ? slip_margin : 5;
    r.loss.assign(10 * kMechanisms, 0);
    r.loss_clamp.assign(10 * kMechanisms, 0);
    for (std::size_t s = 0; s < 10; ++s) {
      // Studs that hold alike are told apart by a hair.
      r.clamp_cold.push_back(clamp[s] + gain + 0.1 * static_cast<double>(s));
      r.clamp.push_back(r.clamp_cold.back());
      r.loss[s * kMechanisms + index(Mechanism::Wear)] = wear;
      r.loss_clamp[s * kMechanisms + index(Mechanism::Wear)] = wear * 1e9;
      r.fatigue_amplitude.push_back(fatigue);
      r.utilisation.push_back(0.7);
      r.seat_pressure.push_back(pressure);
      r.check_torque.push_back(600);
      r.retorque_gain.push_back(gain);
    }
    return r;
  }

  [[nodiscard]] Summary summary() const {
    const TmpDir dir;
    {
      HistoryWriter writer(dir / "a.h5");
      RunHeader h;
      h.title = "Invented";
      for (int s = 1; s <= 10; ++s) {
        h.studs.push_back(std::to_string(s));
      }
      h.nodes = {"joint"};
      h.end_time = end * kDay;
      h.warnings = warnings;
      h.provenance = {{"materials/steel", "youngs", "205 GPa", "invented", "demo"}};
      for (const auto& [key, values] : figures) {
        const std::size_t blank = key.find(' ');
        h.joint.push_back({key.substr(0, blank), key.substr(blank + 1), "", values, {}, {}});
      }
      writer.begin(h);
      writer.act({0, 1, 0, 640, 180e3, 180e3, true});
      writer.record(record(0, 0));
      double gain = 0;
      for (const double day : retorques) {
        writer.record(record(day, gain));
        gain += 1e3;
        writer.act({day * kDay, 0, 0, 640, clamp[0] + gain, clamp[0] + gain, true});
        writer.event({day * kDay, day * 100e3, -1, "retorque", "10 of 10 nuts moved"});
        writer.record(record(day, gain));
      }
      for (const ActRow& act : acts) {
        writer.act(act);
      }
      for (const EventRow& event : events) {
        writer.event(event);
      }
      writer.record(record(end, gain));
      writer.end(RunStatus::Complete, "", warnings);
    }
    return summarise(History(dir / "a.h5"));
  }
  [[nodiscard]] std::string text(System system = System::Si) const { return to_text(summary(), system); }
};

std::string flat(const std::string& text) {
  std::istringstream words_of(text);
  std::string out, word;
  while (words_of >> word) {
    out += (out.empty() ? "" : " ") + word;
  }
  return out;
}
bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }
/// Whether all stand there, in this order.
bool in_order(const std::string& text, const std::vector<std::string>& parts) {
  std::size_t at = 0;
  for (const std::string& part : parts) {
    CAPTURE(part);
    at = text.find(part, at);
    if (at == std::string::npos) {
      return false;
    }
  }
  return true;
}
std::vector<std::string> kinds(const Summary& s) {
  std::vector<std::string> all;
  for (const Alarm& a : s.alarms) {
    all.push_back(a.kind);
  }
  return all;
}
using Kinds = std::vector<std::string>;

} // namespace

TEST_CASE("alarms: a sound wheel raises none, and is told nothing that sounds like leave") {
  Run run;
  CHECK(run.summary().alarms.empty());
  const std::string text = flat(run.text());
  CHECK(has(text, "No stud falls below the required clamp of 100.0 kN."));
  CHECK(has(text, "A re-check by the makers' instructions is due all the same."));
  CHECK_FALSE(has(text, "o retorque is needed"));
  CHECK(has(text, "Real scatter of both (often ±25 % of the clamp; common practice, no source) is not in this run."));
  // What is read before any table is short.
  run.retorques = {1.1, 1.2};
  const std::string all = run.text();
  std::istringstream lines(all.substr(0, all.find("\nClamp as it is")));
  std::size_t count = 0;
  for (std::string line; std::getline(lines, line);) {
    count += line.empty() ? 0U : 1U;
  }
  CHECK(count > 5);
  CHECK(count <= 12);
}

TEST_CASE("alarms: studs stretched by the wrench are told before the clamp") {
  Run run;
  run.figure("torque/utilisation", {1.06});
  CHECK(kinds(run.summary()) == Kinds{"stretched by the wrench"});
  CHECK(in_order(flat(run.text()), {"STUDS WERE STRETCHED FOR GOOD BY THE WRENCH (stress 1.06 of yield): replace them, "
                                    "and tighten less.",
                                    "No stud falls below"}));
  run.figure("torque/utilisation", {0.99});
  CHECK(run.summary().alarms.empty());
  run.figure("torque/yield_stretch", {5e-6});
  CHECK(kinds(run.summary()) == Kinds{"stretched by the wrench"});
  // Beyond the load at which the stud yields without any torsion.
  run.figure("thread/yield_load", {175e3});
  CHECK(has(flat(run.text()), "BY THE WRENCH AND MAY BREAK"));
}

TEST_CASE("alarms: a retorque can stretch a stud that the tightening did not") {
  Run run;
  // 0.8 of yield at 180 kN: 1.02 at 230 kN, and beyond both loads.
  run.acts = {{kDay, 0, 3, 900, 230e3, 230e3, true}};
  CHECK(kinds(run.summary()) == Kinds{"torn by the wrench", "above proof load"});
  CHECK(*run.summary().alarms[0].value == close(0.8 * 230 / 180, 0, 1e-12));
}

TEST_CASE("alarms: what the wrench did is told even of a run that has no record yet") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.studs = {"1"};
    h.joint = {{"torque/utilisation", "1", "", {1.06}, {}, {}}};
    writer.begin(h);
  }
  const Summary s = summarise(History(dir / "a.h5"));
  CHECK(has(to_text(s, System::Si), "STUDS WERE STRETCHED FOR GOOD BY THE WRENCH"));
  CHECK(nlohmann::json::parse(to_json(s))["alarms"][0]["kind"] == "stretched by the wrench");
}

TEST_CASE("alarms: a clamp above the proof load, a crushed seat") {
  Run run;
  run.figure("thread/proof_load", {170e3});
  CHECK(has(flat(run.text()), "THE CLAMP IS ABOVE THE STUD'S PROOF LOAD: 180.0 kN against 170.0 kN."));
  run.pressure = 6e8;
  CHECK(kinds(run.summary()) == Kinds{"above proof load", "seat pressure"});
  CHECK(has(flat(run.text(System::Us)),
            "THE PRESSURE UNDER THE NUT IS ABOVE WHAT THE PART BEARS: 87.0 ksi against 72.5 ksi."));
}

TEST_CASE("alarms: a nut that turns free comes before all else, and no retorque is advised") {
  Run run;
  run.clamp.assign(10, 90e3);
  run.slip_margin = 0.5;
  run.fatigue = 60e6;
  for (int s = 0; s < 10; ++s) {
    run.events.push_back({100.0 + s, 1e3, s, "stud fatigue", "stress amplitude 60 MPa is above the endurance limit"});
  }
  for (int s = 0; s < 10; ++s) {
    run.events.push_back({200.0 + s, 2e3, s, "gap", "the joint opens once in each turn of the wheel"});
  }
  for (int s = 0; s < 10; ++s) {
    run.events.push_back({300.0 + s, 3e3, s, "open", "the joint of this stud carries no clamp"});
    if (s < 9) {
      run.events.push_back({300.0 + s, 3e3, s, "nut free", "the nut has turned until nothing holds it"});
    }
  }
  const Summary s = run.summary();
  // The studs whose nuts are free are not told again as open and gapping.
  REQUIRE(kinds(s) == Kinds{"nut free", "open", "stud fatigue", "slip"});
  CHECK(s.alarms[0].studs.size() == 9);
  REQUIRE(s.alarms[1].studs == std::vector<std::size_t>{9});
  CHECK(s.alarms[1].first->time == 309);
  const std::string text = flat(to_text(s, System::Si));
  CHECK(
      in_order(text, {"THE WHEEL COMES LOOSE: nuts turn free at studs 1-9, the first after 5.00 min and 3.00 km. It "
                      "must not be driven; results after that instant mean nothing.",
                      "nothing clamps any more at stud 10, after 5.15 min", "STUD FATIGUE",
                      "(up to 60.0 MPa against 44.0 MPa). "
                      "Replace the studs.",
                      "THE WHEEL SLIPS: the slip margin is below 1, first shown after 2.00 days", "Stud 1 is below"}));
  CHECK_FALSE(has(text, "No retorque at the same torque"));
  CHECK_FALSE(has(text, "retorque is needed"));
  // All kinds have their row, the gravest first, though there are 39 events.
  CHECK(in_order(text, {"Events, gravest first", "nut free, studs 1-9: the nut has turned",
                        "open, studs 1-10: no clamp", "gap, studs 1-10: the joint opens",
                        "stud fatigue, studs 1-10: stress amplitude above the endurance limit of 44.00 MPa"}));
  // Other programs must not be misled either.
  const nlohmann::json j = nlohmann::json::parse(to_json(s));
  REQUIRE(j["alarms"].size() == 4);
  CHECK(j["alarms"][1]["studs"] == nlohmann::json{"10"});
  CHECK(j["alarms"][1]["time"] == 309);
}

TEST_CASE("alarms: a gap alone, a stud that yields in service, a nut that is off, fatigue without an event") {
  Run run;
  run.events = {{kDay, 5e3, 2, "gap", ""}};
  CHECK(has(flat(run.text()),
            "COMES LOOSE: the joint gaps under load at stud 3, after 24.0 h and 5.00 km. Do not drive"));
  run.events = {{kDay, 5e3, 2, "stud yield", ""}, {kDay, 5e3, 4, "stud yield", ""}, {kDay, 5e3, 5, "stud yield", ""}};
  CHECK(has(flat(run.text()), "STUDS YIELD IN SERVICE: studs 3, 5, 6, the first after 24.0 h and 5.00 km. Replace"));
  run.events = {{kDay, 5e3, 2, "nut removed", ""}};
  CHECK(kinds(run.summary()) == Kinds{"nut removed"});
  CHECK(has(flat(run.text()), "A NUT IS OFF: stud 3, after 24.0 h and 5.00 km. Do not drive with a missing nut."));
  run.events.clear();
  run.fatigue = 45e6;
  CHECK(kinds(run.summary()) == Kinds{"stud fatigue"});
  run.fatigue = 43e6;
  CHECK(run.summary().alarms.empty());
}

TEST_CASE("alarms: a stud far below the others is to be tightened like them, not the whole joint changed") {
  Run run;
  run.clamp[3] = 40e3;
  const std::string text = flat(run.text());
  CHECK(in_order(text, {"TIGHTENED FAR BELOW THE OTHERS: stud 4 (40.00 kN, the others about 180.0 kN). Tighten it like "
                        "its neighbours and find out why it was low.",
                        "Stud 4 is below the required clamp of 100.0 kN from the start."}));
  CHECK_FALSE(has(text, "the torque, the friction or the joint must change"));
  // 85 % is what a sequence may leave.
  run.clamp[3] = 153e3;
  CHECK(run.summary().alarms.empty());
  // All alike too low: then it is the joint.
  run.clamp.assign(10, 90e3);
  CHECK(has(flat(run.text()), "the torque, the friction or the joint must change"));
}

TEST_CASE("alarms: studs that are one to the run are all named") {
  Summary s;
  s.studs = {"1", "2", "3", "4"};
  s.same_as = {0, 1, 1, 0};
  s.events = {{5, 0, 1, "open", ""}};
  REQUIRE(grouped_events(s).size() == 1);
  CHECK(grouped_events(s)[0].studs == std::vector<std::size_t>{1, 2});
  CHECK(grouped_events(s)[0].count == 1);
  // A run whose records agree in all says so of itself.
  CHECK(Run{}.summary().same_as == std::vector<std::size_t>{0, 1, 2, 3, 4, 5, 6, 7, 8, 9});
}

TEST_CASE("alarms: lists of studs are short") {
  const std::vector<std::string> names = {"1", "2", "3", "4", "5", "6", "7"};
  CHECK(stud_list({}, names) == "the wheel");
  CHECK(stud_list({4}, names) == "stud 5");
  CHECK(stud_list({0, 1}, names) == "studs 1, 2");
  CHECK(stud_list({0, 1, 2, 4, 6}, names) == "studs 1-3, 5, 7");
}

TEST_CASE("alarms: free text is told in the system's units") {
  CHECK(translated("clamp 119.6 kN at 120 °C, 12 W more", System::Si) == "clamp 119.6 kN at 120 °C, 12 W more");
  // 1 lbf = 4.4482216 N, 1 hp = 745.69987 W
  CHECK(translated("clamp 119.6 kN at 120 °C", System::Us) == "clamp 26887 lbf at 248.0 °F");
  CHECK(translated("7456.9987 W more", System::Us) == "10.00 hp more");
  CHECK(translated("25.4 mm, 644 N·m and 44.05 MPa", System::Us) == "1.000 in, 475.0 lbf·ft and 6.389 ksi");
  CHECK(translated("a modulus of 205 GPa", System::Us) == "a modulus of 29733 ksi");
  CHECK(translated("at 80 km/h on 4 Nuts of 10 N/m", System::Us) == "at 80 km/h on 4 Nuts of 10 N/m");
  // More and less than a double holds: a file may say so.
  CHECK(translated("1e400 N or 1e-320 K", System::Us) == "unlimited lbf or -459.7 °F");
}

TEST_CASE("summary: with retorques the re-check stays due and no further one is called needed") {
  Run run;
  run.end = 50;
  run.retorques = {40};
  CHECK(has(flat(run.text()), "With the retorque at 40.0 days no further one was needed in the time simulated. A "
                              "re-check by the makers' instructions is due all the same."));
  run.end = 120;
  run.retorques = {40, 100};
  CHECK(has(flat(run.text()), "With the retorques at 40.0 days and 100 days no further one was needed"));
  CHECK(has(flat(run.text()), "retorque, the wheel, 2 times: see the acts of the wrench"));
  run.retorques = {40, 50, 60, 70, 80, 90, 100};
  CHECK(has(flat(run.text()), "With the 7 retorques from 40.0 days to 100 days no further one"));
  CHECK(has(flat(run.text()), "1 later retorques stand under the acts"));
  run.retorques = {};
  run.acts = {{40 * kDay, 0, 0, 640, 180e3, 180e3, false}};
  CHECK(has(flat(run.text()), "in the time simulated. It moved no nut and so did nothing."));
  run.retorques = {20};
  CHECK(has(flat(run.text()), "in the time simulated. 1 of them moved no nut and so did nothing."));
  // Beside an alarm nothing sounds like all clear.
  run.slip_margin = 0.5;
  CHECK_FALSE(has(flat(run.text()), "no further one"));
}

TEST_CASE("summary: milestones stand in the order of their records, before and after a retorque too") {
  Run run;
  run.retorques = {1.5};
  const Summary s = run.summary();
  std::vector<std::string> names;
  for (const Milestone& m : s.milestones) {
    names.push_back(m.name);
  }
  // Records at 0, 1.5 (twice) and 2 days: 1 h, 1 day and 80 km have nothing nearer than 1.5 days.
  CHECK(names == std::vector<std::string>{"tightened", "1 h", "1 day", "80 km", "retorque, before", "retorque, after",
                                          "1 week", "4 weeks", "end"});
  CHECK(s.milestones[4].clamp.lowest == 180e3);
  CHECK(s.milestones[5].clamp.lowest == 181e3);
  CHECK(s.milestones[4].time == 1.5 * kDay);
  CHECK(s.milestones[2].late);
  CHECK_FALSE(s.milestones[0].late);
  CHECK(has(flat(to_text(s, System::Si)), "Nothing was recorded near 1 day: its row is more than 20 % later."));
  const std::string us = to_text(s, System::Us);
  CHECK(has(us, "  50 mi"));
  CHECK_FALSE(has(us, "80 km"));
}

TEST_CASE("summary: set torques that differ are told as a range") {
  Run run;
  run.figures.emplace_back("torque/torque_by_stud N m",
                           std::vector<double>{640, 640, 640, 135.6, 640, 640, 640, 640, 640, 640});
  CHECK(has(flat(run.text()), "against a set torque of 135.6 to 640.0 N·m"));
  CHECK(nlohmann::json::parse(to_json(run.summary()))["finding"]["torque"][3] == 135.6);
}

TEST_CASE("summary: round-off is no loss, and a small loss is no zero") {
  Run run;
  run.wear = 1e-13; // 1e-7 um and 1e-7 kN
  CHECK(has(flat(run.text()), "nut_rotation, wear."));
  run.wear = 1e-10; // 1e-4 um and 1e-4 kN
  CHECK(has(flat(run.text()), "wear <0.001 <0.001 <0.001 <0.001 <0.001 <0.001"));
  run.wear = 5e-7;
  CHECK(has(flat(run.text()), "wear 0.50 -0.50"));
}

TEST_CASE("summary: what nested washers may rub away is told where there are any") {
  Run run;
  CHECK_FALSE(has(flat(run.text()), "nested washers"));
  run.figures.emplace_back("washers/friction_bound 1", std::vector<double>{0.0583});
  CHECK(has(flat(run.text()), "Friction between nested washers can cost up to 5.83 % of the clamp."));
  run.figures.back().second = {0};
  CHECK_FALSE(has(flat(run.text()), "nested washers"));
}

TEST_CASE("summary: a warning is told once, the demonstration values where the inputs are") {
  Run run;
  run.warnings = {"stud 4: below the required 100.0 kN", "stud 4: below the required 100.0 kN",
                  "1 of the 1 catalogue values used are invented (provenance demo): measure"};
  const std::string text = run.text(System::Us);
  const std::size_t at = text.find("- stud 4: below the required 22481 lbf");
  REQUIRE(at != std::string::npos);
  CHECK(text.find("- stud 4", at + 1) == std::string::npos);
  CHECK_FALSE(has(text, "provenance demo"));
  CHECK(has(flat(text), "1 of 1 are invented demonstration values"));
}

TEST_CASE("summary: all that an alarmed report says fits a terminal, in no unit but the system's") {
  Run run;
  run.clamp[3] = 40e3;
  run.fatigue = 60e6;
  run.pressure = 6e8;
  run.slip_margin = 1e-4;
  run.retorques = {1.25};
  run.figure("torque/utilisation", {1.06});
  run.figures.emplace_back("stiffness/total_resilience m/N", std::vector<double>{1.487e-9});
  run.events = {{1.1 * kDay, 2e4, 1, "stud fatigue", "stress amplitude 60 MPa is above the endurance limit"},
                {1.1 * kDay, 2e4, 1, "hot day", "4000 W more brake heat in every moving span"}};
  for (const System system : {System::Si, System::Us}) {
    std::istringstream lines(run.text(system));
    for (std::string line; std::getline(lines, line);) {
      CAPTURE(line);
      CHECK(width(line) <= kWidth);
      if (system == System::Us) {
        for (const char* metric : {"kN", "MPa", "N·m", " km", " mm", "µm", "°C", " W ", "m/N"}) {
          CHECK_FALSE(has(line, metric));
        }
      }
    }
  }
  CHECK(has(run.text(System::Us), "0.2604 thou/klbf"));
  CHECK(has(run.text(), "1.487 µm/kN"));
  CHECK(has(run.text(System::Us), "5.364 hp more brake heat"));
}

TEST_CASE("summary: what a result rests on stands on its first line") {
  Run run;
  run.warnings = {"12 of the 30 catalogue values used are invented (provenance demo): measure",
                  "duty/ambient/mean = 60 degC is outside the calibrated range -40 degC to 50 degC",
                  "duty/ambient/mean = 60 degC is outside the calibrated range -40 degC to 50 degC"};
  const std::string both = flat(run.text());
  CHECK(both.rfind("NO BASIS FOR A DECISION BY ITSELF: 12 of the 30 catalogue values used are invented; 1 value lies "
                   "outside the range that is calibrated, see the warnings. ",
                   0) == 0);
  run.warnings.erase(run.warnings.begin());
  run.warnings.front() += " at night";
  CHECK(flat(run.text()).rfind("NO BASIS FOR A DECISION BY ITSELF: 2 values lie outside", 0) == 0);
  run.warnings = {"stud 4: below the required 100.0 kN"};
  CHECK(flat(run.text()).rfind("Run complete", 0) == 0);
  // Of runs side by side each has its own.
  CHECK(
      basis_sentence({"12 of the 30 catalogue values used are invented (provenance demo): measure",
                      "7 of the 9 catalogue values used are invented (provenance demo): measure",
                      "7 of the 9 catalogue values used are invented (provenance demo): measure"}) ==
      "NO BASIS FOR A DECISION BY ITSELF: 12 of the 30 catalogue values used are invented; 7 of the 9 catalogue values "
      "used are invented.");
}

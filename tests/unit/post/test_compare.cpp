// Histories side by side, and what differs in their scenarios.
#include "post/compare.hpp"
#include "post/scenario_difference.hpp"
#include "post/table.hpp"

#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <map>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;

using Pairs = std::vector<std::pair<std::string, std::string>>;

/// Two studs that lose so much a day from 100 and 90 kN; on day 10 a retorque gives both so much.
struct Wheel {
  std::string title = "Invented wheel";
  std::string scenario = "schema: 1\n";
  double loss_per_day = 1000;
  double gain = 0;
  std::size_t days = 20;
  RunStatus status = RunStatus::Complete;
  double stress = 0.8; ///< over yield, under the wrench
};

void write(const std::string& path, const Wheel& w) {
  HistoryWriter writer(path);
  RunHeader h;
  h.title = w.title;
  h.scenario_text = w.scenario;
  h.studs = {"1", "2"};
  h.nodes = {"hub"};
  h.end_time = 20 * kDay;
  h.joint = {{"required_clamp", "N", "clamp needed", {80e3}, {}, {}},
             {"torque/torque", "N m", "torque set", {640}, {}, {}},
             {"torque/utilisation", "1", "stress over yield", {w.stress}, {}, {}},
             {"fatigue_limit", "Pa", "limit", {40e6}, {}, {}}};
  writer.begin(h);
  writer.act({-5, 1, 0, 640, 100e3, 100e3, true});
  writer.act({-1, 1, 1, 640, 90e3, 90e3, true});
  for (std::size_t day = 0; day <= w.days; ++day) {
    const auto t = static_cast<double>(day);
    for (int round = 0; round < (day == 10 && w.gain > 0 ? 2 : 1); ++round) {
      RecordRow r;
      r.time = t * kDay;
      r.distance = t * 100e3;
      r.temperature = {300};
      r.slip_margin = 2;
      const bool after = w.gain > 0 && (day > 10 || round == 1);
      if (after && day == 10) {
        writer.act({r.time, 0, 0, 640, 1, 1, true});
        writer.act({r.time, 0, 1, 640, 1, 1, false});
      }
      for (int stud = 0; stud < 2; ++stud) {
        r.clamp_cold.push_back((stud == 0 ? 100e3 : 90e3) - w.loss_per_day * t + (after ? w.gain : 0));
        r.clamp.push_back(r.clamp_cold.back());
        r.retorque_gain.push_back(after ? w.gain : 0);
        r.loss.resize(r.loss.size() + kMechanisms, 0);
        r.loss_clamp.resize(r.loss_clamp.size() + kMechanisms, 0);
        r.loss[r.loss.size() - kMechanisms + index(Mechanism::CoatingCreep)] = w.loss_per_day * t * 1e-9;
        r.loss_clamp[r.loss_clamp.size() - kMechanisms + index(Mechanism::CoatingCreep)] = w.loss_per_day * t;
        r.fatigue_amplitude.push_back(10e6);
        r.utilisation.push_back(0.5);
        r.seat_pressure.push_back(100e6);
        r.check_torque.push_back(500 - 10 * static_cast<double>(stud));
      }
      writer.record(r);
    }
  }
  writer.end(w.status, "", {});
}

Comparison compared(const std::vector<Wheel>& wheels) {
  const TmpDir dir;
  std::vector<History> histories;
  for (std::size_t i = 0; i < wheels.size(); ++i) {
    const std::string path = dir / ("wheel" + std::to_string(i) + ".h5");
    write(path, wheels[i]);
    histories.emplace_back(path);
  }
  return compare(histories);
}

std::map<std::string, std::vector<std::string>> rows_of(const Comparison& c) {
  std::map<std::string, std::vector<std::string>> rows;
  for (const DecisionRow& r : decision_rows(c, System::Si)) {
    rows[r.what] = r.values;
  }
  return rows;
}

using Texts = std::vector<std::string>;

} // namespace

TEST_CASE("scenario difference: a text is taken apart by its indentation") {
  const std::string text =
      "schema: 1\n"
      "title: \"One, with a colon: here\"\n"
      "catalogue:\n"
      "  coatings:\n"
      "    top coat: {modulus: 3 GPa, relaxation: {shortest: 1e-2 s, modes: 16}, source: \"a, {b}\"}\n"
      "joint:\n"
      "  stack:\n"
      "    - part: hub\n"
      "      hole: 0.024 m\n"
      "      head_side:\n"
      "        coating: top coat\n"
      "    - part: disc\n"
      "      hole: 0.026 m\n"
      "    - part: disc\n"
      "      hole: 0.027 m\n"
      "  interfaces:\n"
      "    \"hub | disc\":\n"
      "      embedding: 0 m\n"
      "duty:\n"
      "  day:\n"
      "    - park:\n"
      "        until: 18000 s\n"
      "    - trace:\n"
      "        points: |\n"
      "          time [s],speed [m/s]\n"
      "          0,1\n"
      "tightening:\n"
      "  passes: [0.4, 1]\n";
  CHECK(flatten(text) == Pairs{{"schema", "1"},
                               {"title", "\"One, with a colon: here\""},
                               {"catalogue/coatings/top coat/modulus", "3 GPa"},
                               {"catalogue/coatings/top coat/relaxation/shortest", "1e-2 s"},
                               {"catalogue/coatings/top coat/relaxation/modes", "16"},
                               {"catalogue/coatings/top coat/source", "\"a, {b}\""},
                               {"joint/stack/hub/part", "hub"},
                               {"joint/stack/hub/hole", "0.024 m"},
                               {"joint/stack/hub/head_side/coating", "top coat"},
                               {"joint/stack/disc/part", "disc"},
                               {"joint/stack/disc/hole", "0.026 m"},
                               {"joint/stack/disc (2)/part", "disc"},
                               {"joint/stack/disc (2)/hole", "0.027 m"},
                               {"joint/interfaces/hub | disc/embedding", "0 m"},
                               {"duty/day/1/park/until", "18000 s"},
                               {"duty/day/2/trace/points", "time [s],speed [m/s]\n0,1\n"},
                               {"tightening/passes", "[0.4, 1]"}});
}

TEST_CASE("scenario difference: only keys that differ, in order, absent ones told") {
  const auto found = differences({"title: A\na: 1\nb: 2 m\nc: 3\n", "title: B\na: 1\nb: 4 m\nx: 9\nc: 3\nd: {e: 5}\n"});
  REQUIRE(found.size() == 3);
  CHECK(found[0].path == "b");
  CHECK(found[0].values == std::vector<std::optional<std::string>>{"2 m", "4 m"});
  CHECK(found[1].path == "x");
  CHECK(found[1].values == std::vector<std::optional<std::string>>{std::nullopt, "9"});
  CHECK(found[2].path == "d/e");
  CHECK(differences({"a: 1\n", "a: 1\n", "a: 1\n"}).empty());
  CHECK(differences({"a: 1\n", "a: 1\n", "a: 2\n"}).size() == 1);
}

TEST_CASE("scenario difference: an entry that not all use is one line, one that all use key by key") {
  const std::string paint = "catalogue:\n  coatings:\n    paint: {modulus: 3 GPa, turns: 1}\n";
  const std::string other =
      "catalogue:\n  coatings:\n    paint: {modulus: 4 GPa, turns: 2}\n    film: {modulus: 1 GPa}\n";
  const auto found = differences({paint, other});
  REQUIRE(found.size() == 3);
  CHECK(found[0].path == "catalogue/coatings/paint/modulus");
  CHECK(found[1].path == "catalogue/coatings/paint/turns");
  CHECK(found[2].path == "catalogue/coatings/film");
  CHECK(found[2].values == std::vector<std::optional<std::string>>{std::nullopt, "used"});
}

TEST_CASE("scenario difference: values are shown in units that people use") {
  struct Row {
    const char *value, *si, *us;
  };
  for (const Row& r :
       {Row{"7.9999999999999993e-05 m", "80 µm", "3.15 thou"}, Row{"0.025999999999999999 m", "26 mm", "1.024 in"},
        Row{"80000 m", "80 km", "49.71 mi"}, Row{"0 m", "0 mm", "0 in"}, Row{"18000 s", "5 h", "5 h"},
        Row{"644.0135254574152 N m", "644 N·m", "475 lbf·ft"}, Row{"293.14999999999998 K", "20 °C", "68 °F"},
        Row{"8 K", "8 K", "8 K"}, Row{"0.14999999999999999", "0.15", "0.15"}, Row{"26000 kg", "26000 kg", "26000 kg"},
        Row{"1e-10 m/N", "0.1 µm/kN", "0.01751 thou/klbf"}, Row{"\"10.9\"", "10.9", "10.9"},
        Row{"M22x1.5", "M22x1.5", "M22x1.5"}, Row{"true", "true", "true"},
        Row{"[300 s, 80000 m]", "[5 min, 80 km]", "[5 min, 49.71 mi]"}, Row{"3 GPa", "3 GPa", "3 GPa"},
        Row{"9.9999999999999998e-17 1/Pa", "1e-16 1/Pa", "1e-16 1/Pa"}, Row{"x\ny\n", "2 lines", "2 lines"}}) {
    CAPTURE(r.value);
    CHECK(shown_value(r.value, System::Si) == r.si);
    CHECK(shown_value(r.value, System::Us) == r.us);
  }
  CHECK(shown_values({"a", {"1.00001", "1.00002", std::nullopt}}, System::Si) == Texts{"1.00001", "1.00002", "-"});
  CHECK(shown_values({"a", {"1.000", "1.000"}}, System::Si) == Texts{"1", "1"});
}

TEST_CASE("scenario difference: the text that the program itself writes is understood") {
  ScenarioText a;
  ScenarioText b;
  b.torque = "600 N*m";
  b.disc += ", head_side: {coating: paint, thickness: 80 um}";
  b.service = "{retorque: {after: 80 km}}";
  const auto found = differences({a.scenario().resolved_text, b.scenario().resolved_text});
  std::vector<std::string> paths;
  for (const Difference& d : found) {
    paths.push_back(d.path);
  }
  CHECK(paths == Texts{"catalogue/coatings/paint", "joint/stack/disc/head_side/coating",
                       "joint/stack/disc/head_side/thickness", "tightening/torque", "service/1/retorque/after"});
  CHECK(shown_values(found[3], System::Si) == Texts{"640 N·m", "600 N·m"});
  CHECK(shown_values(found[4], System::Us) == Texts{"-", "49.71 mi"});
}

TEST_CASE("compare: the decision table has every history's own figures") {
  const Comparison c =
      compared({{}, {"Other wheel", "schema: 1\na: 2\n", 400, 0, 20}, {"Third", "schema: 1\n", 1000, 8e3, 20}});
  REQUIRE(c.all.size() == 3);
  CHECK(c.all[2].letter == "C");
  CHECK(c.all[2].retorques == 1);
  CHECK(c.all[2].moved == 1);
  CHECK_FALSE(c.unlike_length);
  CHECK(c.reservations.empty());
  // A dash is explained where one stands.
  const auto explained = [](const Comparison& some) {
    return has(flat(to_text(some, System::Si)), "the scenario does not have that key");
  };
  CHECK(explained(c));
  CHECK_FALSE(explained(compared({{"A", "schema: 1\na: 1\n"}, {"B", "schema: 1\na: 2\n"}})));
  auto rows = rows_of(c);
  CHECK(rows["cold clamp as tightened, weakest stud, kN"] == Texts{"90.00", "90.00", "90.00"});
  CHECK(rows["cold clamp left at the end, weakest stud, kN"] == Texts{"70.00", "82.00", "78.00"});
  CHECK(rows["cold clamp left at the end, mean, kN"] == Texts{"75.00", "87.00", "83.00"});
  CHECK(rows["lowest cold clamp of all, kN"] == Texts{"70.00", "82.00", "78.00"});
  CHECK(rows["required clamp, kN"] == Texts{"80.00", "80.00", "80.00"});
  CHECK(rows["margin of the lowest over the required clamp"] == Texts{"-12.5 %", "2.50 %", "-2.50 %"});
  CHECK(rows["first time below the required clamp"] == Texts{"11.0 days", "never", "19.0 days"});
  CHECK(rows["utilisation of the stud, highest in service"].front() == "0.500 of 1.00 (50.0 %)");
  CHECK(rows["fatigue amplitude of its limit, highest, MPa"].front() == "10.0 of 40.0 (25.0 %)");
  CHECK(rows["check torque to expect at the end, N·m"].front() == "490-500");
  CHECK(rows["set torque, N·m"].front() == "640");
  CHECK(rows["retorques (nuts moved)"] == Texts{"none", "none", "1 (1)"});
  CHECK(rows.count("cold clamp after 20.0 days, weakest stud, kN") == 0);
}

TEST_CASE(
    "compare: an alarm stands before any clamp, with the run's finding, and what is in none of the runs is said") {
  Wheel torn;
  torn.loss_per_day = 100;
  torn.stress = 1.3;
  const Comparison c = compared({{}, torn});
  const std::string text = flat(to_text(c, System::Si));
  const std::string alarm = "B: STUDS WERE STRETCHED FOR GOOD BY THE WRENCH (stress 1.30 of yield)";
  CHECK(has(text, alarm));
  CHECK(text.find(alarm) < text.find("B: No stud falls below the required clamp of 80.00 kN."));
  CHECK(text.find("B: No stud falls below") < text.find("What differs in the scenarios"));
  CHECK_FALSE(has(text, "A: STUDS"));
  CHECK(has(text, "A: Stud 2 falls below the required clamp of 80.00 kN"));
  CHECK(has(text, "Real scatter of both (often ±25 % of the clamp; common practice, no source) is not in these runs."));
}

TEST_CASE("compare: unlike lengths and runs that are not complete are said so, and compared where all have been") {
  Wheel shorter;
  shorter.days = 12;
  shorter.status = RunStatus::Stopped;
  const Comparison c = compared({{}, shorter});
  CHECK(c.unlike_length);
  CHECK(c.common_time == 12 * kDay);
  CHECK(rows_of(c)["cold clamp after 12.0 days, weakest stud, kN"] == Texts{"78.00", "78.00"});
  const std::string text = flat(to_text(c, System::Si));
  CHECK(has(text, "B is not complete (stopped): it covers 12.0 days of 20.0 days."));
  CHECK(has(text, "The runs are of unlike length (A 20.0 days, B 12.0 days)"));
}

TEST_CASE("compare: a nut taken off is no clamp that is left") {
  Comparison c = compared({{}, {}});
  StudLine& gone = c.all[0].summary.stud_lines.at(1); // the weaker of the two
  gone.removed = true;
  gone.end_clamp_cold = 0;
  CHECK(rows_of(c)["cold clamp left at the end, weakest stud, kN"] == Texts{"80.00", "70.00"});
}

TEST_CASE("compare: a history without a record is no reason to fail") {
  const TmpDir dir;
  write(dir / "a.h5", {});
  {
    HistoryWriter writer(dir / "b.h5");
    RunHeader h;
    h.title = "Nothing yet";
    h.scenario_text = "schema: 1\n";
    h.studs = {"1", "2"};
    h.nodes = {"hub"};
    writer.begin(h);
    writer.end(RunStatus::Failed, "while tightening: no equilibrium", {});
  }
  std::vector<History> both;
  both.emplace_back(dir / "a.h5");
  both.emplace_back(dir / "b.h5");
  const Comparison c = compare(both);
  CHECK(rows_of(c)["lowest cold clamp of all, kN"] == Texts{"70.00", "-"});
  CHECK(has(flat(to_text(c, System::Si)), "B has no record yet."));
  CHECK(nlohmann::json::parse(to_json(c))["histories"][1]["status"] == "failed");
}

TEST_CASE("compare: at most 100 columns, in blocks of three, with the cautions") {
  std::vector<Wheel> wheels(7);
  for (std::size_t i = 0; i < wheels.size(); ++i) {
    wheels[i].title = "A wheel with a very long name that a reader would rather see shortened, but who knows how " +
                      std::to_string(i);
    wheels[i].scenario =
        "schema: 1\nan_unusually_long_section/that_is_no_single_word_either/but_has_to_go_somewhere: " +
        std::to_string(i) + "\nname: \"" + std::string(40 + i, 'x') + " y\"\n";
  }
  for (const System system : {System::Si, System::Us}) {
    for (const std::size_t count : {2U, 3U, 7U}) {
      const std::string text =
          to_text(compared({wheels.begin(), wheels.begin() + static_cast<std::ptrdiff_t>(count)}), system);
      std::size_t start = 0;
      while (start < text.size()) {
        const std::size_t end = text.find('\n', start);
        CAPTURE(text.substr(start, end - start));
        CHECK(width(text.substr(start, end - start)) <= 100);
        start = end + 1;
      }
      CHECK(has(flat(text), "Never skip a re-check"));
      CHECK(
          has(text, std::string(1, static_cast<char>('A' + count - 1)) + ": " + (system == System::Si ? "kN" : "lbf")));
    }
  }
  const std::string text = to_text(compared({wheels[0], wheels[1]}), System::Si);
  CHECK(has(flat(text), " coating_creep -20.00 20.00 -20.00 20.00 "));
  CHECK(has(flat(text), " first clamp, cold 90.00 90.00 "));
}

TEST_CASE("compare: JSON with differences and budgets, SI") {
  const auto j = nlohmann::json::parse(to_json(compared({{}, {"Other", "schema: 2\n", 400, 0, 20}})));
  CHECK(j["differences"][0]["key"] == "schema");
  CHECK(j["differences"][0]["values"] == nlohmann::json({"1", "2"}));
  CHECK(j["histories"][0]["end_clamp"] == 70e3);
  CHECK(j["histories"][0]["below_time"] == 11 * kDay);
  CHECK(j["histories"][1]["below_time"].is_null());
  CHECK(j["histories"][1]["margin"].get<double>() == close(0.025, 1e-12, 0));
  CHECK(j["histories"][0]["budget"]["weakest"]["lost_clamp"] == 20e3);
  CHECK(j["units"]["end_clamp"] == "N");
  CHECK(j["cautions"].size() == 3);
}

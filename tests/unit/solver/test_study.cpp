// Checks: studies: paths into a scenario, the scenario of a case, the order of cases, and what is kept of each.
// Problem: small wheels of one heat node for a week, bare or painted, some with tied studs.
// Reference: the run of a scenario in which the values are written; for the limit a joint without losses, whose clamp
//   is in proportion to its torque.
// Tolerance: none, but for the limit: that of its search.
// Fails if: a value goes to another place or is rounded on its way, a case depends on another or on the number of
//   threads, or an outcome is taken from the wrong instant or stud.
#include "solver/basis.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/study_path.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/limit.hpp"
#include "solver/simulation.hpp"
#include "solver/study.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <set>

using namespace clampfade;
using namespace clampfade::test;

namespace {

ScenarioText painted_wheel() {
  ScenarioText s;
  s.studs = 5;
  s.disc += ", head_side: {coating: paint, thickness: 90 um}, nut_side: {coating: paint, thickness: 60 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.day = "{park: {until: 5 h}}, {drive: {distance: 60 km, speed: 60 km/h}}";
  return s;
}

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  const std::size_t at = text.find(what);
  REQUIRE(at != std::string::npos);
  REQUIRE(text.find(what, at + 1) == std::string::npos);
  return text.replace(at, what.size(), with);
}

StudyReader reader(const std::string& text) { return StudyReader(text, "test.yaml", {}); }

std::string message(const std::string& text) {
  try {
    (void)StudyReader(text, "test.yaml", {});
  } catch (const InputError& e) {
    return e.what();
  }
  return "";
}

bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0;
}

bool same(const StudyCase& a, const StudyCase& b) {
  return a.status == b.status && a.message == b.message && same(a.clamp_cold_lowest, b.clamp_cold_lowest) &&
         same(a.clamp_cold_mean, b.clamp_cold_mean) && same(a.clamp_cold_first, b.clamp_cold_first) &&
         same(a.clamp_cold_end, b.clamp_cold_end) && same(a.loss_clamp_end, b.loss_clamp_end) &&
         same({a.retorque_gain_end, a.required_clamp, a.below_time, a.below_distance, a.slip_margin_lowest,
               a.utilisation_highest},
              {b.retorque_gain_end, b.required_clamp, b.below_time, b.below_distance, b.slip_margin_lowest,
               b.utilisation_highest}) &&
         a.below_stud == b.below_stud && a.nuts_loose == b.nuts_loose && a.studs_yielded == b.studs_yielded &&
         a.parts_outside == b.parts_outside;
}

Study sweep_of(const StudyReader& r, bool list = false) {
  Study study = lay_out(r.base(), r.study_text());
  lay_out_sweep(study, r.axes(), list);
  return study;
}

void run_all(Study& study, const StudyReader& r, std::size_t jobs) {
  const std::vector<StudyAxis> axes = r.axes();
  StudyRunOptions options;
  options.jobs = jobs;
  run_study(
      study,
      [&](std::size_t i) {
        return study.kind == StudyKind::Sweep ? r.sweep_case(positions(study, axes, i))
                                              : r.sample_case(sample_values(study, i));
      },
      options);
}

const auto kSilent = [](double) { return true; };

} // namespace

TEST_CASE("a star in a step of a path stands for any characters of it") {
  CHECK(matches("*_side", "head_side"));
  CHECK(matches("*", ""));
  CHECK(matches("a*c*e", "abcde"));
  CHECK(matches("*disc", "outer disc"));
  CHECK_FALSE(matches("*_side", "head_sides"));
  CHECK_FALSE(matches("disc", "outer disc"));
  CHECK_FALSE(matches("a*b", "a"));
  CHECK(split_path("joint / stack/outer disc") == std::vector<std::string>{"joint", "stack", "outer disc"});
}

TEST_CASE("the scenario of a case is the one with its values written in, to the last digit") {
  const std::string base = painted_wheel().text();
  struct Row {
    std::string vary, what, with;
  };
  for (const Row& row : {
           Row{"{path: joint/stack/disc/thickness, values: [14 mm]}", "thickness: 12 mm", "thickness: 14 mm"},
           Row{"{path: joint/stack/2/thickness, values: [0.6 in]}", "thickness: 12 mm", "thickness: 0.6 in"},
           Row{"{path: joint/stack/disc/head_side/thickness, values: [0 um]}", "thickness: 90 um", "thickness: 0 um"},
           Row{"{path: tightening/friction/breakaway, values: [1.2]}", "breakaway: 1.10", "breakaway: 1.2"},
           Row{"{path: duty/day/drive/speed, values: [40 km/h]}", "speed: 60 km/h", "speed: 40 km/h"},
           Row{"{path: duty/day/1/park/until, values: [6 h]}", "until: 5 h", "until: 6 h"},
           Row{"{path: catalogue/coatings/paint/pigment, values: [0.5]}", "pigment: 0.35", "pigment: 0.5"},
           Row{"{path: heat/network, values: [demo heat]}", "network: demo heat", "network: demo heat"},
           Row{"{path: joint/studs/count, values: [7]}", "count: 5", "count: 7"},
           Row{"{path: joint/cone, values: [30 deg]}", "  head: {bearing", "  cone: 30 deg\n  head: {bearing"},
           Row{"{path: joint/nut, entries: {sleeved: {bearing: {outer: 37 mm, inner: 24 mm}}}}",
               "nut: {bearing: {outer: 36 mm, inner: 24 mm}}", "nut: {bearing: {outer: 37 mm, inner: 24 mm}}"},
           Row{"{path: joint/stack/disc/head_side, entries: {bare: }}",
               ", head_side: {coating: paint, thickness: 90 um}", ""},
       }) {
    CAPTURE(row.vary);
    const StudyReader r = reader(base + "vary:\n- " + row.vary + "\n");
    REQUIRE(r.axes().size() == 1);
    const Scenario one = r.sweep_case({0}, true);
    const Scenario written = read_scenario_text(replaced(base, row.what, row.with), "test.yaml");
    CHECK(one.resolved_text == written.resolved_text);
    CHECK(r.base().resolved_text == read_scenario_text(base, "test.yaml").resolved_text);
  }
}

TEST_CASE("a star sets every place that has what follows, and only those") {
  const std::string base = painted_wheel().text();
  const StudyReader r =
      reader(base + "vary:\n- {path: joint/stack/*/*_side/thickness, from: 10 um, to: 40 um, steps: 4}\n");
  const std::vector<PartSpec> stack = r.sweep_case({1}).joint.stack;
  CHECK_FALSE(stack[0].head_side.has_value());
  CHECK(stack[1].head_side.value().thickness == close(20e-6, 0, 1e-15));
  CHECK(stack[1].nut_side.value().thickness == stack[1].head_side.value().thickness);
  CHECK(stack[1].thickness == close(12e-3, 0, 1e-15));
  CHECK(r.axes()[0].values[2] == close(30e-6, 0, 1e-15));
  CHECK(r.axes()[0].values[3] == close(40e-6, 0, 1e-15));
  CHECK(r.axes()[0].unit == "m");
  CHECK(r.axes()[0].name == "thickness");
}

TEST_CASE("axes of the command line are read as those of the file") {
  const std::string base = painted_wheel().text();
  StudyReader::More more;
  more.axes = {"joint/stack/disc/thickness = 10 mm, 14 mm", "tightening/torque=500 N*m..2000 N*m:3:log"};
  const StudyReader r(base, "test.yaml", {}, more);
  REQUIRE(r.axes().size() == 2);
  CHECK(r.axes()[0].values == std::vector<double>{0.010, 0.014});
  CHECK(r.axes()[1].values[1] == close(1000, 0, 1e-12));
  CHECK(r.axes()[1].values[2] == close(2000, 0, 1e-12));
  CHECK(r.sweep_case({1, 2}).tightening.torque == std::vector<double>(5, r.axes()[1].values[2]));
  more.axes = {"joint/stack/disc/thickness=10 mm,14 kg"};
  try {
    const StudyReader faulty(base, "test.yaml", {}, more);
    FAIL("no fault was found");
  } catch (const InputError& e) {
    REQUIRE(e.diagnostics().size() == 1);
    CHECK(e.diagnostics()[0].place.file == "--vary");
    CHECK(e.diagnostics()[0].place.column == 34);
    CHECK(e.diagnostics()[0].code == Code::WrongDimension);
  }
}

TEST_CASE("faults of the scenario and of its study are told together") {
  const std::string text = replaced(painted_wheel().text(), "thickness: 12 mm", "thickness: 12 kg") +
                           "vary:\n- {path: joint/stak, values: [1]}\nscatter: []\n";
  const std::string told = message(text);
  CHECK(told.find("'12 kg' is a mass") != std::string::npos);
  CHECK(told.find("there is no 'stak'") != std::string::npos);
  CHECK(told.find("scatter: the list is empty") != std::string::npos);
  CHECK(told.find("3 errors") != std::string::npos);
}

TEST_CASE("a single run says that it leaves the study out, and takes the values of the sections") {
  const std::string base = painted_wheel().text();
  const Scenario s =
      read_scenario_text(base + "vary:\n- {path: tightening/torque, values: [500 N*m, 600 N*m]}\n"
                                "scatter:\n- {path: tightening/torque, normal: {mean: 600 N*m, sd: 5 %}}\n",
                         "test.yaml");
  CHECK(s.resolved_text == read_scenario_text(base, "test.yaml").resolved_text);
  REQUIRE(s.studies.size() == 2);
  CHECK(s.studies[0].find("one axis and 2 cases") != std::string::npos);
  CHECK(s.studies[1].find("one value") != std::string::npos);
}

TEST_CASE("cases of a grid run in C order, those of a list take the axes together") {
  const std::string base = painted_wheel().text() +
                           "vary:\n- {path: tightening/torque, values: [500 N*m, 600 N*m, 700 N*m]}\n"
                           "- {path: vehicle/load, values: [40 kN, 45 kN]}\n";
  const StudyReader r = reader(base);
  const Study grid = sweep_of(r);
  REQUIRE(grid.cases.size() == 6);
  CHECK(positions(grid, r.axes(), 0) == std::vector<std::size_t>{0, 0});
  CHECK(positions(grid, r.axes(), 1) == std::vector<std::size_t>{0, 1});
  CHECK(positions(grid, r.axes(), 5) == std::vector<std::size_t>{2, 1});
  Study list = lay_out(r.base(), "");
  CHECK_THROWS_AS(lay_out_sweep(list, r.axes(), true), InputError);
  StudyReader::More more;
  more.axes = {"vehicle/load=40 kN,45 kN,50 kN"};
  const StudyReader three(painted_wheel().text() +
                              "vary:\n- {path: tightening/torque, values: [5e2 N*m, 600 N*m, 7e2 N*m]}\n",
                          "test.yaml", {}, more);
  const Study zipped = sweep_of(three, true);
  REQUIRE(zipped.cases.size() == 3);
  CHECK(zipped.axes.empty());
  REQUIRE(zipped.inputs.size() == 2);
  CHECK(zipped.inputs[1].values == std::vector<double>{40e3, 45e3, 50e3});
  CHECK(positions(zipped, three.axes(), 2) == std::vector<std::size_t>{2, 2});
  CHECK_THROWS_AS(lay_out_sweep(list, {}, false), InputError);
}

TEST_CASE("a study looks at the hours of the first day, where most is lost, and at days of all the others") {
  test::ScenarioText text;
  for (const auto& [weeks, days_apart] : {std::pair(4, 1.0), std::pair(104, 4.0)}) {
    text.calendar = "working_days_per_week: 7, weeks: " + std::to_string(weeks);
    const std::vector<double> time = lay_out(text.scenario(), "").time;
    CHECK(time.size() <= kMostStudyInstants);
    CHECK(std::count_if(time.begin(), time.end(), [](double t) { return t > 0 && t < 86400; }) == 9);
    CHECK(std::is_sorted(time.begin(), time.end()));
    CHECK(std::adjacent_find(time.begin(), time.end()) == time.end());
    CHECK(time[time.size() - 2] - time[time.size() - 3] == days_apart * 86400);
    CHECK(time.back() == 7 * weeks * 86400.0);
  }
}

TEST_CASE("a sweep comes to what runs of the written scenarios come to, bit for bit, with any number of threads") {
  const std::string base = painted_wheel().text();
  const StudyReader r = reader(base + "vary:\n- {path: joint/stack/disc/thickness, values: [10 mm, 14 mm]}\n"
                                      "- {path: tightening/friction/thread, values: [0.10, 0.14]}\n");
  Study study = sweep_of(r);
  Study threads = study;
  run_all(study, r, 1);
  run_all(threads, r, 3);
  CHECK(study.status == StudyStatus::Complete);
  REQUIRE(study.time.size() > 100);
  CHECK(study.time.size() <= kMostStudyInstants);
  CHECK(study.time.front() == 0);
  std::set<double> ends;
  for (std::size_t i = 0; i < 4; ++i) {
    CHECK(same(study.cases[i], threads.cases[i]));
    std::string text = replaced(base, "thickness: 12 mm", i < 2 ? "thickness: 10 mm" : "thickness: 14 mm");
    text =
        replaced(text, "friction: {thread: 0.12", i % 2 == 0 ? "friction: {thread: 0.10" : "friction: {thread: 0.14");
    text = replaced(text, "record: {every: 1 d}", "record: {every: 1 h, layers: false}");
    MemorySink sink;
    run(read_scenario_text(text, "test.yaml"), sink);
    REQUIRE(sink.records.size() == study.time.size());
    const StudyCase& c = study.cases[i];
    REQUIRE(c.status == CaseStatus::Complete);
    std::vector<double> lowest;
    std::vector<double> distance;
    for (const RecordRow& row : sink.records) {
      lowest.push_back(*std::min_element(row.clamp_cold.begin(), row.clamp_cold.end()));
      distance.push_back(row.distance);
    }
    CHECK(same(c.clamp_cold_lowest, lowest));
    CHECK(same(c.clamp_cold_first, sink.records.front().clamp_cold));
    CHECK(same(c.clamp_cold_end, sink.records.back().clamp_cold));
    for (std::size_t k = 0; k < distance.size(); ++k) {
      CHECK(study.distance[k] == close(distance[k], 1e-6, 1e-9));
    }
    double losses = 0;
    for (const double l : c.loss_clamp_end) {
      losses += l;
    }
    CHECK(losses == close(c.clamp_cold_mean.front() - c.clamp_cold_mean.back(), 1e-3, 0));
    ends.insert(c.clamp_cold_end[0]);
  }
  CHECK(ends.size() == 4);
}

TEST_CASE("the numbers of a wheel depend on the seed and its number alone, those of a stud have its distribution") {
  const StudyReader r = reader(painted_wheel().text() +
                               "scatter:\n"
                               "- {path: tightening/friction/thread, normal: {mean: 0.12, sd: 0.01}, low: 0.1, each: "
                               "stud, correlation: 0.5}\n"
                               "- {path: vehicle/load, uniform: {low: 40 kN, high: 50 kN}}\n");
  const auto draw = [&](std::size_t count, std::uint64_t seed, StudySampling sampling) {
    Study s = lay_out(r.base(), r.study_text());
    SampleRequest request;
    request.count = count;
    request.seed = seed;
    request.sampling = sampling;
    lay_out_sample(s, r.scatter(), request);
    return s;
  };
  for (const StudySampling sampling : {StudySampling::Sobol, StudySampling::Random}) {
    const Study few = draw(10, 4, sampling);
    const Study many = draw(200, 4, sampling);
    REQUIRE(few.inputs[0].values.size() == 50);
    CHECK(std::equal(few.inputs[0].values.begin(), few.inputs[0].values.end(), many.inputs[0].values.begin()));
    CHECK(few.inputs[1].values != draw(10, 5, sampling).inputs[1].values);
    CHECK(*std::min_element(many.inputs[0].values.begin(), many.inputs[0].values.end()) >= 0.1);
    double mean = 0;
    for (const double v : many.inputs[1].values) {
      mean += v / 200;
    }
    CHECK(mean == close(45e3, sampling == StudySampling::Sobol ? 50 : 600, 0));
    const Scenario s = r.sample_case(sample_values(many, 7));
    CHECK(s.vehicle.load == many.inputs[1].values[7]);
    CHECK(same(s.tightening.thread_friction, sample_values(many, 7)[0]));
  }
}

TEST_CASE("a sensitivity design takes one value after the other from the second point") {
  const StudyReader r = reader(painted_wheel().text() +
                               "scatter:\n- {path: tightening/friction/thread, normal: {mean: 0.12, sd: 0.01}, each: "
                               "stud}\n- {path: vehicle/load, uniform: {low: 40 kN, high: 50 kN}}\n");
  Study s = lay_out(r.base(), r.study_text());
  SampleRequest request;
  request.count = 3;
  request.sensitivity = true;
  lay_out_sample(s, r.scatter(), request);
  REQUIRE(s.cases.size() == 12);
  CHECK(s.design == std::vector<int>{0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2, 3});
  for (std::size_t j = 0; j < 12; j += 4) {
    const auto a = sample_values(s, j);
    const auto b = sample_values(s, j + 1);
    CHECK(a[0] != b[0]);
    CHECK(a[1] != b[1]);
    CHECK(sample_values(s, j + 2) == std::vector{b[0], a[1]});
    CHECK(sample_values(s, j + 3) == std::vector{a[0], b[1]});
  }
}

TEST_CASE("a tool scatters the torque of the scenario, each stud's own where they differ") {
  ScenarioText s = painted_wheel();
  const std::string tool =
      "  tools: {demo wrench: {tightening_factor: 1.5, deviations: 2, source: this test, provenance: "
      "demo}}\njoint:\n  studs: {";
  const std::string scatter = "scatter:\n- {path: tightening/torque, tool: demo wrench, each: stud}\n";
  const auto spec = [&](const std::string& torque) {
    s.torque = torque;
    return reader(replaced(s.text(), "joint:\n  studs: {", tool) + scatter).scatter().front();
  };
  const ScatterSpec one = spec("640 N*m");
  // alpha_A = 1.5 is x = 0.2, at 2 standard deviations.
  CHECK(one.distribution.a == 1);
  CHECK(one.distribution.b == close(0.1, 0, 1e-12));
  CHECK(one.distribution.low == close(0.7, 0, 1e-12));
  CHECK(one.base == std::vector<double>(5, 640));
  CHECK(spec("[600 N*m, 600 N*m, 600 N*m, 600 N*m, 300 N*m]").base[4] == 300);
  s.torque = "640 N*m";
  const StudyReader r = reader(replaced(s.text(), "joint:\n  studs: {", tool) + scatter);
  // The tool and its source stay in the study's text, and that text reads back.
  CHECK(r.study_text().find("demo wrench") != std::string::npos);
  const StudyReader again(r.study_text(), "test.yaml", resolved_options());
  CHECK(again.scatter().front().distribution.b == one.distribution.b);
  CHECK(r.base().resolved_text.find("demo wrench") == std::string::npos);
}

TEST_CASE("widths are read as shares, factors and differences, and measured values from a file with its unit") {
  const TmpDir dir;
  write_text(dir / "measured.csv", "stud,clearance [um],note\n1,400,a\n2,650,b\n3,500,c\n");
  const StudyReader r(
      painted_wheel().text() +
          "scatter:\n- {path: vehicle/load, normal: {mean: 45 kN, sd: 2 %}}\n"
          "- {path: tightening/temperature, normal: {mean: 20 degC, sd: 5 K}}\n"
          "- {path: tightening/friction/thread, normal: {mean: 0.12, sd: 10 %}}\n"
          "- {path: vehicle/rolling_radius, lognormal: {median: 0.5 m, factor: 1.02}}\n"
          "- {path: joint/pilot/clearance, empirical: {file: measured.csv, column: clearance}, low: 0.45 mm}\n",
      dir / "wheel.yaml", {});
  const std::vector<ScatterSpec>& s = r.scatter();
  REQUIRE(s.size() == 5);
  CHECK(s[0].distribution.b == close(900, 0, 1e-12));
  CHECK(s[1].distribution.a == close(293.15, 0, 1e-12));
  CHECK(s[1].distribution.b == close(5, 0, 1e-12));
  CHECK(s[2].distribution.b == close(0.012, 0, 1e-12)); // of a pure number too
  CHECK(s[3].distribution.b == close(std::log(1.02), 0, 1e-12));
  REQUIRE(s[4].distribution.values.size() == 3);
  CHECK(s[4].distribution.values[1] == close(650e-6, 0, 1e-12));
  CHECK(s[4].distribution.low == close(450e-6, 0, 1e-12));
  CHECK(s[4].unit == "m");
}

TEST_CASE("tools of the catalogue scatter as their classes do") {
  // Deviations of F_max and F_min from their mean: a summary of VDI 2230 (1986), but for the impact wrench (memory) and
  // by feel (Machinery's handbook, memory).
  struct Row {
    std::string tool;
    double least, most;
  };
  for (const Row& row : {Row{"yield-controlled spindle", 0.05, 0.12}, Row{"calibrated torque wrench", 0.17, 0.23},
                         Row{"click wrench", 0.23, 0.28}, Row{"continuous nutrunner", 0.26, 0.43},
                         Row{"impact wrench", 0.43, 0.60}, Row{"\"hand, by feel\"", 0.34, 0.36}}) {
    CAPTURE(row.tool);
    const StudyReader r =
        reader(painted_wheel().text() + "scatter:\n- {path: tightening/torque, tool: " + row.tool + "}\n");
    const double x = 2 * r.scatter().front().distribution.b;
    CHECK(x > row.least);
    CHECK(x < row.most);
    CHECK(x == close((row.least + row.most) / 2, 1e-3, 0));
  }
}

TEST_CASE("a case that cannot be is told as failed, and the others go on") {
  const StudyReader r =
      reader(painted_wheel().text() + "vary:\n- {path: joint/stack/disc/hole, values: [26 mm, 80 mm, 28 mm]}\n");
  Study study = sweep_of(r);
  run_all(study, r, 2);
  CHECK(study.status == StudyStatus::Complete);
  CHECK(study.cases[0].status == CaseStatus::Complete);
  CHECK(study.cases[1].status == CaseStatus::Failed);
  CHECK(study.cases[1].message.find("joint/stack/disc/hole: the hole of 80 mm takes the whole pad") == 0);
  CHECK(study.cases[2].status == CaseStatus::Complete);
}

TEST_CASE("a study that was stopped goes on to the same result, and two parts make the whole") {
  const StudyReader r = reader(painted_wheel().text() +
                               "scatter:\n- {path: tightening/torque, normal: {mean: 640 N*m, sd: 5 %}, each: stud}\n");
  Study whole = lay_out(r.base(), r.study_text());
  SampleRequest request;
  request.count = 6;
  lay_out_sample(whole, r.scatter(), request);
  Study broken = whole;
  Study first = whole;
  first.parts = 2;
  Study second = first;
  second.part = 2;
  run_all(whole, r, 1);
  StudyRunOptions options;
  std::atomic<std::size_t> made = 0; // by the threads of the study, and asked by this one
  options.progress = [&](std::size_t, double) { return made < 3; };
  const auto make = [&](std::size_t i) {
    ++made;
    return r.sample_case(sample_values(broken, i));
  };
  run_study(broken, make, options);
  CHECK(broken.status == StudyStatus::Stopped);
  const auto done = std::count_if(broken.cases.begin(), broken.cases.end(),
                                  [](const StudyCase& c) { return c.status == CaseStatus::Complete; });
  CHECK(done < 6);
  run_all(broken, r, 2);
  CHECK(broken.status == StudyStatus::Complete);
  run_all(first, r, 1);
  run_all(second, r, 1);
  for (std::size_t i = 0; i < 6; ++i) {
    CAPTURE(i);
    CHECK(same(whole.cases[i], broken.cases[i]));
    CHECK(same(whole.cases[i], (i % 2 == 0 ? first : second).cases[i]));
    CHECK((i % 2 == 0 ? second : first).cases[i].status == CaseStatus::Pending);
  }
}

TEST_CASE("all nuts of alike studs that come loose are counted, though the run solves one of them") {
  ScenarioText s;
  s.torque = "60 N*m";
  s.interface_default = "embedding: 0 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.vehicle = "mass: 26 t, wheel_ends: 6, driven_ends: 4, load: 45 kN, rolling_radius: 0.50 m, dynamic_factor: 2, "
              "brake_share: 0.95, lateral_share: 0.4";
  s.pilot = "";
  s.day = "{drive: {distance: 100 km, speed: 60 km/h}}";
  const Scenario scenario = s.scenario();
  const std::vector<double> time = lay_out(scenario, "").time;
  const StudyCase c = run_study_case(with_study_records(scenario, time), time, kSilent);
  REQUIRE(c.status == CaseStatus::Complete);
  CHECK(c.nuts_loose == 10);
  CHECK(c.below_stud == 1);
}

TEST_CASE("a study says in how many cases a part gets hotter than the values of its material reach") {
  Study study = lay_out(painted_wheel().scenario(), "");
  for (const char* highest : {"30 degC", "50 degC", "40.5 degC"}) {
    ScenarioText s = painted_wheel();
    s.disc_material =
        std::string("youngs: [[10 degC, 205 GPa], [") + highest + ", 200 GPa]], poisson: 0.3, expansion: 12e-6 1/K";
    s.ambient = "mean: 40 degC";
    study.cases.push_back(run_study_case(with_study_records(s.scenario(), study.time), study.time, kSilent));
    REQUIRE(study.cases.back().status == CaseStatus::Complete);
  }
  CHECK(study.cases[0].parts_outside == 1);
  CHECK(study.cases[1].parts_outside == 0);
  CHECK(study.cases[2].parts_outside == 0);
  const std::vector<std::string> said = study_warnings(study);
  REQUIRE(said.size() == study.warnings.size() + 1);
  CHECK(said.back().find("in 1 of 3 cases") != std::string::npos);
  CHECK(said.back().find(kOutsideCalibration) != std::string::npos);
  study.cases.erase(study.cases.begin());
  CHECK(study_warnings(study) == study.warnings);
}

TEST_CASE("the shipped studies are laid out as their page says, and every case of theirs can be read") {
  std::size_t seen = 0;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(CLAMPFADE_SOURCE) + "/scenarios")) {
    const std::string name = entry.path().filename().string();
    if (name.rfind("study-", 0) != 0 || entry.path().extension() != ".yaml") {
      continue;
    }
    CAPTURE(name);
    ++seen;
    const StudyReader r(scenario_file_text(entry.path().string(), {}), entry.path().string(), {});
    CHECK(r.base().studies.size() == 1);
    if (!r.axes().empty()) {
      const Study study = sweep_of(r);
      CHECK(study.cases.size() == (name == "study-grip-length.yaml" ? 16U : name == "study-washers.yaml" ? 15U : 35U));
      std::set<std::string> texts;
      for (std::size_t i = 0; i < study.cases.size(); ++i) {
        texts.insert(r.sweep_case(positions(study, r.axes(), i), true).resolved_text);
      }
      CHECK(texts.size() == study.cases.size());
    } else {
      CHECK(r.scatter().size() == 4);
    }
    // The text that a study keeps reads back to the same study.
    const StudyReader again(r.study_text(), "study.h5", resolved_options());
    CHECK(again.study_text() == r.study_text());
    CHECK(again.axes().size() == r.axes().size());
    for (std::size_t k = 0; k < r.axes().size(); ++k) {
      CHECK(again.axes()[k].values == r.axes()[k].values);
    }
  }
  CHECK(seen == 4);
}

TEST_CASE("the limit of a torque without losses is where its first clamp is the required one") {
  ScenarioText s;
  s.studs = 10;
  const StudyReader plain = reader(s.text());
  const std::vector<double> time = lay_out(plain.base(), "").time;
  const StudyCase known = run_study_case(with_study_records(plain.base(), time), time, kSilent);
  REQUIRE(known.status == CaseStatus::Complete);
  const double torque = 640 * known.required_clamp / known.clamp_cold_first[0];
  StudyReader::More more;
  more.axes = {"tightening/torque=100 N*m..1000 N*m:2"};
  const StudyReader r(s.text(), "test.yaml", {}, more);
  LimitRequest request;
  const double bearable = 640 / std::max(known.utilisation_tightening, known.proof_share);
  request.low = 100;
  request.high = 0.98 * bearable; // what is above it is another test's
  request.tolerance = 0.01;
  request.scan = 4;
  const auto make = [&](double v) { return r.value_case(v); };
  const Limit limit = find_limit(make, time, request);
  REQUIRE(limit.crossings.size() == 1);
  CHECK(limit.crossings[0].keeps == close(torque, 0.01, 0));
  CHECK(limit.crossings[0].keeps >= torque * (1 - 1e-12));
  CHECK(limit.crossings[0].fails < torque);
  CHECK(limit.crossings[0].reason == LimitReason::Clamp);
  CHECK(limit.monotonic);
  CHECK_FALSE(limit.keeps_low);
  CHECK(limit.keeps_high);
  CHECK(std::is_sorted(limit.points.begin(), limit.points.end(),
                       [](const LimitPoint& a, const LimitPoint& b) { return a.value < b.value; }));
  request.low = torque + 1;
  const Limit above = find_limit(make, time, request);
  CHECK(above.crossings.empty());
  CHECK(above.keeps_low);
  CHECK(above.keeps_high);
  request.low = 50;
  request.high = torque - 1;
  const Limit below = find_limit(make, time, request);
  CHECK(below.crossings.empty());
  CHECK_FALSE(below.keeps_low);
  CHECK_FALSE(below.keeps_high);
  request.high = 1000;
  const Limit stopped = find_limit(make, time, request, [](std::size_t, double) { return false; });
  CHECK(stopped.stopped);
}

TEST_CASE("the limit of a torque has an upper end too, where the wrench takes a stud to its yield") {
  ScenarioText s;
  s.studs = 10;
  const StudyReader plain = reader(s.text());
  const std::vector<double> time = lay_out(plain.base(), "").time;
  const StudyCase known = run_study_case(with_study_records(plain.base(), time), time, kSilent);
  REQUIRE(known.status == CaseStatus::Complete);
  REQUIRE(known.utilisation_tightening > 0);
  CHECK(known.utilisation_tightening > known.utilisation_highest); // half of the torsion goes with the wrench
  // At the same friction both stresses go with the torque, and so does the clamp.
  const double torque = 640 / std::max(known.utilisation_tightening, known.proof_share);
  StudyReader::More more;
  more.axes = {"tightening/torque=100 N*m..1000 N*m:2"};
  const StudyReader r(s.text(), "test.yaml", {}, more);
  LimitRequest request;
  request.low = 0.9 * torque;
  request.high = 1.1 * torque;
  request.tolerance = 0.01;
  request.scan = 3;
  const Limit limit = find_limit([&](double v) { return r.value_case(v); }, time, request);
  REQUIRE(limit.crossings.size() == 1);
  CHECK(limit.crossings[0].reason == LimitReason::Wrench);
  CHECK(limit.crossings[0].keeps == close(torque, 0.011, 0));
  CHECK(limit.crossings[0].fails > torque - 1e-9 * torque);
  CHECK(limit.keeps_low);
  CHECK_FALSE(limit.keeps_high); // the clamp is kept, but by a stud that was stretched
  CHECK(limit.points.back().margin > 0);
  CHECK(limit.points.back().outcome.overtightened());
  CHECK_FALSE(limit.points.back().holds());
}

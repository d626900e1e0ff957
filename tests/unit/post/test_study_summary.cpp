// What a study says in numbers and words: counts, chances with their band, the limit for a risk, causes; as text, data
// and table.
#include "post/study_summary.hpp"
#include "post/study_text.hpp"
#include "post/table.hpp"

#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <random>
#include <sstream>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;
using nlohmann::json;

namespace {

StudyFile file(const Study& s) {
  return {"s.h5", "0.1", "abc", "2026-01-02T03:04:05Z", std::string(64, 'c'), std::string(64, 'd'), s};
}
std::string text(const Study& s, double risk = 0.01, System system = System::Si) {
  return flat(to_text(file(s), summarise(s, risk), system));
}

/// Many wheels whose end is 100 kN + 1 kN for each step of one input; so many steps of 0 to `n` - 1, mixed.
Study many(std::size_t n, double first_end) {
  Study s = sample_example();
  s.cases.clear();
  for (StudyInput& input : s.inputs) {
    input.values.clear();
  }
  std::mt19937_64 random(4);
  for (std::size_t i = 0; i < n; ++i) {
    const auto step = static_cast<double>(i * 7 % n); // 7 and n have no common divisor
    s.cases.push_back(study_case(first_end + 1e3 * step));
    s.inputs[0].values.push_back(600 + step);
    for (int stud = 0; stud < 2; ++stud) {
      s.inputs[1].values.push_back(0.1 + 1e-6 * static_cast<double>(random() % 100000));
    }
  }
  return s;
}

} // namespace

TEST_CASE("study summary: of a sweep the best, the worst and those that fall below") {
  Study s = grid_example(); // ends 150 160, 120 130, 90 100 kN; 120 required
  const StudySummary all = summarise(s, 0.01);
  CHECK(all.done == 6);
  CHECK(all.below == 2);
  CHECK(all.best == 1U);
  CHECK(all.worst == 4U);
  CHECK(all.chances.empty()); // cases that were chosen say nothing of chance
  CHECK(place_of(s, 3) == std::vector<std::size_t>{1, 1});
  CHECK(case_name(s, 3, System::Si) == "paint: thickness = 60 µm, nut = sprung nut");
  CHECK(case_name(s, 3, System::Us) == "paint: thickness = 2.362 thou, nut = sprung nut");

  s.cases[1] = StudyCase{};
  s.cases[4].status = CaseStatus::Failed;
  s.cases[4].message = "no equilibrium";
  const StudySummary some = summarise(s, 0.01);
  CHECK(some.done == 4);
  CHECK(some.failures == std::vector<std::size_t>{4});
  CHECK(some.pending == 1);
  CHECK(some.best == 0U);
  CHECK(some.worst == 5U);
}

TEST_CASE("study summary: a case whose studs the wrench stretches is counted and never the best") {
  Study s = grid_example(); // ends 150 160, 120 130, 90 100 kN; 120 required
  s.cases[1].utilisation_tightening = 1.12;
  s.cases[5].proof_share = 1.01;
  const StudySummary some = summarise(s, 0.01);
  CHECK(some.overtightened == 2);
  CHECK(some.best == 0U);
  CHECK(some.worst == 4U);
  const std::vector<std::string> said = study_sentences(s, some, System::Si);
  CHECK(has(said.at(0), "In 2 of 6 cases a stud falls below"));
  CHECK(said.at(1) ==
        "IN 2 OF 6 CASES THE WRENCH STRETCHES A STUD FOR GOOD, OR PULLS ONE ABOVE ITS PROOF LOAD (stress up to 1.12 of "
        "yield): tighten less. Whatever clamp they keep, they are no good cases.");
  CHECK(has(said.at(2), "and 150.0 kN (paint: thickness = 0 µm, nut = solid nut) at best of the cases that the studs "
                        "bear"));
  CHECK(has(text(s), "STRETCHED"));
  CHECK(has(text(s), "ABOVE PROOF"));
  CHECK(has(text(s), "borne"));
  CHECK_FALSE(has(text(grid_example()), "borne")); // no column where there is nothing to tell

  for (StudyCase& c : s.cases) {
    c.utilisation_tightening = 1.2;
  }
  const StudySummary all = summarise(s, 0.01);
  CHECK_FALSE(all.best.has_value());
  CHECK(has(study_sentences(s, all, System::Si).at(1), "IN EACH OF 6 CASES"));
  CHECK_FALSE(has(text(s), "at best"));

  Study wheels = sample_example();
  wheels.cases[3].utilisation_tightening = 1.05;
  CHECK(has(study_sentences(wheels, summarise(wheels, 0.01), System::Si).at(1),
            "IN 1 OF 8 CASES THE WRENCH STRETCHES A STUD FOR GOOD (stress up to 1.05 of yield): tighten less. That is "
            "12.5 % of the wheels"));
}

TEST_CASE("study summary: chances count wheels by the distance at which they fall below") {
  const Study s = sample_example(); // ends 100, 110 ... 170 kN: two below 120
  const StudySummary all = summarise(s, 0.3);
  CHECK(all.below == 2);
  REQUIRE(all.chances.size() > 3);
  for (const Chance& c : all.chances) {
    // The straight lines from 180 kN reach 120 kN after 5000 km x 60 / 80 and x 60 / 70.
    const std::size_t expected = c.distance < 3750e3 ? 0 : c.distance < 5000e3 * 6 / 7 ? 1 : 2;
    CHECK(c.below == expected);
    CHECK(c.of == 8);
    CHECK(c.band.low == share_interval(c.below, 8).low);
    CHECK(c.time == close(c.distance / 50e3 * kStudyDay, 1, 1e-12));
  }
  CHECK(all.chances.back().distance == 5000e3);
  CHECK(all.chances.back().below == 2);
  CHECK(all.spreads[0].at[0] == close(103.5e3, 1e-6, 0)); // the weakest at the end, 100 to 170 in steps of 10
  CHECK(all.spreads[0].at[2] == close(135e3, 1e-6, 0));
  CHECK(std::isinf(all.spreads[1].at[2])); // half of them never fall below
}

TEST_CASE("study summary: the last chance is that at the end, though the wheel stands") {
  Study s = sample_example();
  s.time.push_back(130 * kStudyDay); // a month in the yard, in which one more stud falls below
  s.distance.push_back(5000e3);
  for (StudyCase& c : s.cases) {
    for (std::vector<double>* curve : {&c.clamp_cold_lowest, &c.clamp_cold_mean}) {
      curve->push_back(curve->back());
    }
  }
  s.cases[1].below_time = 120 * kStudyDay;
  s.cases[1].below_distance = 5000e3;
  const StudySummary all = summarise(s, 0.3);
  CHECK(all.chances.back().below == 3);
  CHECK(all.chances.back().time == 130 * kStudyDay);
  CHECK(all.chances[all.chances.size() - 2].below == 0); // after 2000 km
}

TEST_CASE("study summary: the limit for a risk is where the band's upper edge passes it") {
  // 1000 wheels, ends from 100 kN in steps of 1 kN: 20 fall below 120, the first one after 5000 km x 60 / 80.
  const Study s = many(1000, 100e3);
  const StudySummary five = summarise(s, 0.05);
  CHECK(five.risk.enough);
  CHECK(std::isinf(five.risk.distance)); // 20 of 1000 are at most 3.1 % with 95 % confidence
  const StudySummary one = summarise(s, 0.01);
  const std::size_t allowed = *most_within_risk(1000, 0.01);
  CHECK(allowed == 3); // 4 of 1000 may be 1.02 % of all
  CHECK(one.risk.distance == close(5000e3 * 60 / (80 - 3), 1, 0));
  CHECK(one.risk.time == close(100 * kStudyDay * 60 / (80 - 3), 1, 0));
  CHECK(one.risk.likely_distance == close(5000e3 * 60 / (80 - 10), 1, 0));
  CHECK(has(text(s), "at the latest after 77.9 days or 3896 km, whichever comes first"));
  CHECK(has(text(s), "no date to aim for"));

  const StudySummary few = summarise(sample_example(), 0.01);
  CHECK_FALSE(few.risk.enough);
  CHECK(has(text(sample_example()), "cannot be said from 8 cases: that takes 368 or more"));
  CHECK(has(text(many(999, 130e3)), "stays within 1 % to the end"));
}

TEST_CASE("study summary: of a design for sensitivities only what was drawn by chance counts as wheels") {
  Study s = many(200, 100e3);
  for (std::size_t i = 0; i < 200; ++i) {
    s.design.push_back(static_cast<int>(i / 50));
  }
  const StudySummary all = summarise(s, 0.01);
  CHECK(all.counted.size() == 100);
  CHECK(all.chances.back().of == 100);
  CHECK(all.way == CauseWay::Design);
  REQUIRE(all.causes.size() == 2);
  CHECK(all.causes[0].shares.total);

  // One case that failed takes its whole row with it, and no other.
  s.cases[170].status = CaseStatus::Failed;
  CHECK(summarise(s, 0.01).way == CauseWay::Design);
  for (std::size_t i = 0; i < 30; ++i) {
    s.cases[i].status = CaseStatus::Failed;
  }
  CHECK(summarise(s, 0.01).way == CauseWay::None); // 19 rows are left
}

TEST_CASE("study summary: a share that is next to nothing has no sign") {
  Study s = many(200, 100e3);
  for (std::size_t i = 0; i < 200; ++i) {
    s.design.push_back(static_cast<int>(i / 50));
  }
  StudySummary all = summarise(s, 0.01);
  REQUIRE_FALSE(all.causes.empty());
  all.causes[0].shares.first = {-0.0003, {-0.004, 0.56}};
  const std::string said = flat(to_text(file(s), all, System::Si));
  CHECK(has(said, " 0.0 0 to 56 "));
  CHECK_FALSE(has(said, "-0 to 56"));
  CHECK_FALSE(has(said, "-0.0"));
}

TEST_CASE("study summary: a design tells the input that does it all from the one that does nothing") {
  Study s = many(400, 100e3);
  std::mt19937_64 random(9);
  std::vector<double> drawn;
  for (int i = 0; i < 200; ++i) {
    drawn.push_back(100e3 + static_cast<double>(random() % 70000));
  }
  s.cases.clear();
  s.design.clear();
  for (StudyInput& input : s.inputs) {
    input.values.assign(input.per_stud ? 800 : 400, 1);
  }
  for (int block = 0; block < 4; ++block) {
    for (std::size_t i = 0; i < 100; ++i) {
      // Base and anew are drawn; with the first input from anew it is anew, with the second it stays base.
      s.cases.push_back(study_case(drawn[block == 1 || block == 2 ? 100 + i : i]));
      s.design.push_back(block);
    }
  }
  const StudySummary all = summarise(s, 0.01);
  REQUIRE(all.causes.size() == 2);
  CHECK(all.causes[0].input == 0);
  CHECK(all.causes[0].shares.total->value == close(1, 0.25, 0));
  CHECK(all.causes[1].shares.total->value == 0);
  CHECK(all.causes[1].shares.first.value == 0);
  CHECK(has(text(s), "comes from torque"));
}

TEST_CASE("study summary: without a design neighbours in order tell what a stud's clamp comes from") {
  const Study s = many(500, 100e3);
  const StudySummary all = summarise(s, 0.01);
  CHECK(all.way == CauseWay::Rank);
  REQUIRE(all.causes.size() == 2);
  CHECK(all.causes[0].input == 0);
  CHECK(all.causes[0].shares.first.value > 0.97);
  CHECK(std::abs(all.causes[1].shares.first.value) < 0.15);
  CHECK_FALSE(all.causes[0].shares.total);
  CHECK(has(text(s), "takes a study made with --sensitivity"));
  CHECK(summarise(sample_example(), 0.01).way == CauseWay::None);
  CHECK(has(text(sample_example()), "too few complete cases"));
}

TEST_CASE("study text: what was run, what came of it, what failed, and never without cautions") {
  Study s = grid_example();
  s.cases[2].status = CaseStatus::Failed;
  s.cases[2].message = "at 5 s: no equilibrium";
  s.cases[3] = StudyCase{};
  const std::string said = text(s);
  CHECK(has(said, "sweep of 6 cases, 3 x 2; 4 complete, 1 failed, 1 waiting"));
  CHECK(has(said, "In 2 of 4 cases a stud falls below the required clamp within 100 days"));
  CHECK(has(said, "90.00 kN (paint: thickness = 120 µm, nut = solid nut) at worst"));
  CHECK(has(said, "One case is not done yet: this is no final result"));
  CHECK(has(said, "paint: thickness = 60 µm, nut = solid nut: at 5 s: no equilibrium"));
  CHECK(has(said, "an invented warning"));
  CHECK(has(text(part_of(s, 1, 2)), "This is part 1 of 2 only"));
  CHECK(has(text(s, 0.01, System::Us), "lbf"));
  Study sample = sample_example();
  sample.cases[0].status = CaseStatus::Failed; // one of the two below
  CHECK(has(text(sample), "In 1 of 7 cases"));
  CHECK(has(text(sample), "Had it fallen below the required clamp, it would be 25 % of the wheels"));
  Study empty = sample_example();
  empty.cases.assign(8, StudyCase{});
  CHECK(has(text(empty), "No case is done yet"));
  for (const Study& one : {grid_example(), sample_example(), empty}) {
    for (const std::string_view caution : cautions()) {
      CHECK(has(text(one), std::string(caution)));
    }
    std::istringstream lines(to_text(file(one), summarise(one, 0.01), System::Us));
    for (std::string line; std::getline(lines, line);) {
      CAPTURE(line);
      CHECK(width(line) <= 100);
    }
  }
}

TEST_CASE("study data: SI in full, null where there is none") {
  const Study s = sample_example();
  const json j = json::parse(to_json(file(s), summarise(s, 0.3)));
  CHECK(j.at("kind") == "sample");
  CHECK(j.at("complete") == 8);
  CHECK(j.at("cases").size() == 8);
  CHECK(j.at("cases").at(0).at("below_distance") == 3750e3);
  CHECK(j.at("cases").at(7).at("below_distance").is_null());
  CHECK(j.at("cases").at(1).at("torque") == 630);
  CHECK(j.at("units").at("clamp_cold_lowest_end") == "N");
  CHECK(j.at("sample").at("below") == 2);
  CHECK(j.at("sample").at("below_required").back().at("below") == 2);
  CHECK(j.at("sample").at("risk").at("enough_cases") == false);
  CHECK(j.at("cautions").size() == cautions().size());
  const json grid = json::parse(to_json(file(grid_example()), summarise(grid_example(), 0.01)));
  CHECK(grid.at("axes").at(0).at("values").at(2) == 120e-6);
  CHECK(grid.at("cases").at(5).at("nut") == "sprung nut");
  CHECK(grid.contains("sample") == false);
}

TEST_CASE("study table: a row for each case, or for each case and instant") {
  Study s = grid_example();
  s.cases[1].status = CaseStatus::Failed;
  s.cases[1].message = "no, \"never\"";
  const std::string csv = to_csv(study_table(s, {}, std::nullopt));
  std::istringstream lines(csv);
  std::string line;
  std::getline(lines, line);
  CHECK(line.rfind("case,paint [m],nut,status,clamp_cold_lowest_end [N],", 0) == 0);
  std::getline(lines, line);
  CHECK(line.rfind("0,0,solid nut,complete,150000,", 0) == 0);
  std::getline(lines, line);
  CHECK(has(line, "1,0,sprung nut,failed,"));
  CHECK(has(line, "\"no, \"\"never\"\"\""));
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 7);

  const LongTable curves = study_table(s, {"clamp_cold_lowest", "clamp_cold_mean"}, System::Us);
  CHECK(curves.rows() == 18);
  CHECK(curves.columns.back().unit == "lbf");
  const LongTable studs = study_table(sample_example(), {"clamp_cold_end"}, std::nullopt);
  CHECK(studs.rows() == 16);
  CHECK(std::get<double>(studs.columns[2].cells[3]) == close(0.1 + 0.01 * 7, 1e-12, 0)); // case 1, stud 2
  CHECK_THROWS_AS((void)study_table(s, {"clamp"}, std::nullopt), std::invalid_argument);
  CHECK_THROWS_AS((void)study_table(s, {"clamp_cold_lowest", "clamp_cold_end"}, std::nullopt), std::invalid_argument);
}

TEST_CASE("study program: summary, table and page read a study by what the file is") {
  const TmpDir dir;
  StudyWriter(dir / "s.h5").write(sample_example());
  const std::string program = quote(CLAMPFADE_REPORT);
  const CliResult summary = run_cli(program + " summary " + quote(dir / "s.h5") + " --risk 30%");
  CHECK(summary.exit == 0);
  CHECK(has(flat(summary.out), "In 2 of 8 cases"));
  CHECK(json::parse(run_cli(program + " summary --json " + quote(dir / "s.h5")).out).at("kind") == "sample");
  CHECK(has(run_cli(program + " table " + quote(dir / "s.h5")).out, "case,torque [N m],thread_mean [1],status"));
  CHECK(has(run_cli(program + " table --list " + quote(dir / "s.h5")).out, "clamp_cold_lowest\n"));
  CHECK(run_cli(program + " table --dataset nothing " + quote(dir / "s.h5")).exit == 2);
  CHECK(json::parse(run_cli(program + " table --json " + quote(dir / "s.h5")).out).at("rows").size() == 8);
  CHECK(run_cli(program + " page " + quote(dir / "s.h5") + " -o " + quote(dir / "s.html")).exit == 0);
  CHECK(has(read_text(dir / "s.html"), "Clamp load of a wheel joint: scatter"));
  const std::string figure = program + " figure " + quote(dir / "s.h5") + " -o " + quote(dir / "s.svg");
  CHECK(run_cli(figure + " --chart fan --by distance").exit == 0);
  CHECK(has(read_text(dir / "s.svg"), "width=\"900\""));
  const CliResult none = run_cli(figure + " --force --chart clamp");
  CHECK(none.exit == 2);
  CHECK(has(none.err, "there are fan, chance, causes"));
  CHECK(has(flat(run_cli(program + " figure --help").out), "and, of one axis or a list, losses; of a sample"));
  for (const char* wrong : {"0", "2", "60%", "x", "1 percent", "-1%"}) {
    CAPTURE(wrong);
    const CliResult refused = run_cli(program + " summary " + quote(dir / "s.h5") + " --risk=" + quote(wrong));
    CHECK(refused.exit == 2);
    CHECK(has(refused.err, "is no risk"));
  }
}

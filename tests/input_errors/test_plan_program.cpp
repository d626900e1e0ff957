// The commands about plans and comparisons: exit codes, files, outputs, stopping.
#include "solver/io/plan_file.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <filesystem>
#include <string>

using namespace clampfade;
using namespace clampfade::test;

namespace {

const std::string kCatalogue = "CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") + " ";

CliResult clampfade_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && " + kCatalogue + quote(CLAMPFADE_PROGRAM) + " " + arguments);
}
CliResult report_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && " + quote(CLAMPFADE_REPORT) + " " + arguments);
}

ScenarioText quick() {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.friction = "thread: 0.12, bearing: 0.12, breakaway: 1.0";
  return s;
}

} // namespace

TEST_CASE("program: a plan is made, kept from being overwritten, and read by the report") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", quick().text());
  const CliResult made = clampfade_in(dir, "plan wheel.yaml --after '1 d, 3 d' --jobs 2");
  CHECK(made.exit == 0);
  CHECK(made.err.empty());
  CHECK(has(made.out, "wheel-plan.h5\n"));
  CHECK(has(made.out, "Never skip a re-check"));
  CHECK(read_plan(dir / "wheel-plan.h5").plan.cases.size() == 4);
  CHECK_FALSE(std::filesystem::exists(dir / "wheel-plan.h5.part"));

  const CliResult again = clampfade_in(dir, "plan wheel.yaml -o wheel-plan.h5 --after '1 d' --quiet");
  CHECK(again.exit == 4);
  CHECK(has(again.err, "file.exists"));
  CHECK(has(again.err, "--force overwrites it"));
  CHECK(read_plan(dir / "wheel-plan.h5").plan.cases.size() == 4);
  CHECK(clampfade_in(dir, "plan wheel.yaml -o wheel-plan.h5 --after '1 d' --retorques 1 --force --quiet").exit == 0);
  CHECK(read_plan(dir / "wheel-plan.h5").plan.cases.size() == 2);

  const CliResult text = report_in(dir, "plan wheel-plan.h5");
  CHECK(text.exit == 0);
  CHECK(has(text.out, "Recommendation:"));
  CHECK(has(text.out, "Never skip a re-check"));
  CHECK(has(report_in(dir, "plan wheel-plan.h5 --units us").out, "lbf"));
  CHECK(nlohmann::json::parse(report_in(dir, "plan wheel-plan.h5 --json").out)["cases"].size() == 2);
  CHECK(report_in(dir, "plan wheel-plan.h5 --json --units us").exit == 2);
}

TEST_CASE("program: what a plan cannot be made of is bad input and leaves no file") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", quick().text());
  for (const char* bad : {"--after '9 d'", "--after '5'", "--after '1 d,'", "--retorques 3", "--retorques 0",
                          "--jobs 0", "--after '100000 km'"}) {
    CAPTURE(bad);
    const CliResult r = clampfade_in(dir, std::string("plan wheel.yaml -o p.h5 ") + bad);
    CHECK(r.exit == 2);
    CHECK_FALSE(r.err.empty());
    CHECK_FALSE(std::filesystem::exists(dir / "p.h5"));
    CHECK_FALSE(std::filesystem::exists(dir / "p.h5.part"));
  }
  CHECK(has(clampfade_in(dir, "plan wheel.yaml --after '9 d'").err, "the run has no stop after that"));
  CHECK(clampfade_in(dir, "plan none.yaml").exit == 4);
  CHECK(clampfade_in(dir, "plan wheel.yaml -o nowhere/p.h5").exit == 4);
  CHECK(clampfade_in(dir, "plan wheel.yaml -o wheel.yaml --force").exit == 4);
  CHECK(has(read_text(dir / "wheel.yaml"), "schema: 1"));
}

TEST_CASE("program: a plan that is stopped leaves what was there before") {
  const TmpDir dir;
  ScenarioText s = quick();
  s.calendar = "working_days_per_week: 7, weeks: 520";
  s.record = "every: 1 h";
  write_text(dir / "wheel.yaml", s.text());
  write_text(dir / "p.h5", "something dear");
  const CliResult r = run_cli("cd " + quote(dir / "") + " && " + kCatalogue + quote(CLAMPFADE_PROGRAM) +
                              " plan wheel.yaml -o p.h5 --force --quiet & p=$!; sleep 1; kill -TERM $p; wait $p");
  CHECK(r.exit == 128 + 15);
  CHECK(has(r.err, "Stopped. p.h5 was not written"));
  CHECK(read_text(dir / "p.h5") == "something dear");
  CHECK_FALSE(std::filesystem::exists(dir / "p.h5.part"));
}

TEST_CASE("program: the report says what is no plan and what is no history") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", quick().text());
  CHECK(clampfade_in(dir, "simulate wheel.yaml -o a.h5 --quiet").exit == 0);
  CHECK(clampfade_in(dir, "plan wheel.yaml -o p.h5 --after '1 d' --quiet").exit == 0);
  const CliResult plan = report_in(dir, "plan a.h5");
  CHECK(plan.exit == 4);
  CHECK(has(plan.err, "\"clampfade-history\", not a clampfade-plan; give a file that clampfade plan has written"));
  const CliResult summary = report_in(dir, "summary p.h5");
  CHECK(summary.exit == 4);
  CHECK(has(summary.err, "\"clampfade-plan\", not a clampfade-history"));
  CHECK(has(summary.err, "(a plan is read by plan, page and lesson)"));
  CHECK(report_in(dir, "compare a.h5 p.h5").exit == 4);
  CHECK(report_in(dir, "compare a.h5").exit == 2);
  CHECK(report_in(dir, "compare a.h5 none.h5").exit == 4);
  const CliResult same = report_in(dir, "compare a.h5 a.h5");
  CHECK(same.exit == 0);
  CHECK(has(flat(same.out), "What differs in the scenarios Nothing."));
  CHECK(nlohmann::json::parse(report_in(dir, "compare a.h5 a.h5 --json").out)["histories"].size() == 2);
}

TEST_CASE("program: plan and compare explain themselves") {
  const TmpDir dir;
  CHECK(has(clampfade_in(dir, "--help").out, "clampfade plan wheel.yaml -o plan.h5"));
  const CliResult plan = clampfade_in(dir, "plan --help");
  CHECK(plan.exit == 0);
  for (const char* option : {"--after", "--retorques", "--jobs", "--force", "--quiet", "--output"}) {
    CHECK(has(plan.out, option));
  }
  CHECK(has(report_in(dir, "plan --help").out, "--json"));
  CHECK(has(report_in(dir, "compare --help").out, "two histories or more"));
  CHECK(clampfade_in(dir, "plan").exit == 2);
}

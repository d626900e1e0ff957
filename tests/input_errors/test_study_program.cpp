// The commands about studies: exit codes, files, outputs, stopping, going on.
#include "solver/io/history.hpp"
#include "solver/io/study_file.hpp"
#include "tests/support/python.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

const std::string kCatalogue = "CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") + " ";

CliResult clampfade_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && " + kCatalogue + quote(CLAMPFADE_PROGRAM) + " " + arguments);
}

/// A painted wheel with a grid of six cases and two scattered values.
std::string study_text(const std::string& weeks = "1") {
  ScenarioText s;
  s.studs = 5;
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.day = "{park: {until: 5 h}}, {drive: {distance: 60 km, speed: 60 km/h}}";
  s.calendar = "working_days_per_week: 7, weeks: " + weeks;
  return s.text() +
         "vary:\n- {path: joint/stack/disc/head_side/thickness, from: 40 um, to: 120 um, steps: 3, name: paint}\n"
         "- {path: tightening/torque, values: [500 N*m, 640 N*m]}\n"
         "scatter:\n- {path: tightening/torque, tool: calibrated torque wrench, each: stud, correlation: 0.3}\n"
         "- {path: tightening/friction/thread, normal: {mean: 0.12, sd: 0.01}, low: 0.08}\n";
}

bool starts_with(const std::string& text, const std::string& start) { return text.rfind(start, 0) == 0; }

} // namespace

TEST_CASE(
    "program: a sweep is run, kept from being overwritten, and its kept case is the run of the written scenario") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  const CliResult made = clampfade_in(dir, "sweep wheel.yaml --jobs 2 --keep 3,3");
  CHECK(made.exit == 0);
  CHECK(made.err.empty());
  CHECK(has(made.out, "wheel-sweep.h5\n"));
  CHECK(has(made.out, "wheel-sweep-case-000003.h5\n"));
  CHECK(has(made.out, "6 of 6 cases run to the end"));
  CHECK(has(made.out, "Never skip a re-check"));
  const Study study = read_study(dir / "wheel-sweep.h5").study;
  REQUIRE(study.axes.size() == 2);
  CHECK(study.axes[0].name == "paint");
  CHECK(study.axes[1].values == std::vector<double>{500, 640});
  CHECK(study.status == StudyStatus::Complete);
  // Case 3 is the middle paint and the second torque.
  std::string text = study_text();
  text.replace(text.find("vary:"), std::string::npos, "");
  write_text(dir / "one.yaml", text);
  CHECK(clampfade_in(dir, "simulate one.yaml --quiet").exit == 0);
  CHECK(History(dir / "one.h5").digest() == History(dir / "wheel-sweep-case-000003.h5").digest());

  const CliResult again = clampfade_in(dir, "sweep wheel.yaml --quiet");
  CHECK(again.exit == 4);
  CHECK(has(again.err, "the study is there and complete"));
  CHECK(has(again.err, "--force overwrites it"));
  CHECK(clampfade_in(dir, "sweep wheel.yaml --quiet --vary 'vehicle/load=40 kN,45 kN'").exit == 4);
  CHECK(clampfade_in(dir, "sweep wheel.yaml --quiet --force --vary 'vehicle/load=40 kN,45 kN'").exit == 0);
  CHECK(read_study(dir / "wheel-sweep.h5").study.cases.size() == 12);
}

TEST_CASE("program: two parts of a sample merge to what one run gives, whatever the number of threads") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  REQUIRE(clampfade_in(dir, "sample wheel.yaml -o whole.h5 --count 5 --seed 9 --jobs 1 --quiet").exit == 0);
  REQUIRE(clampfade_in(dir, "sample wheel.yaml -o 1.h5 --count 5 --seed 9 --part 1/2 --jobs 2 --quiet").exit == 0);
  REQUIRE(clampfade_in(dir, "sample wheel.yaml -o 2.h5 --count 5 --seed 9 --part 2/2 --keep 2,3 --quiet").exit == 0);
  CHECK(std::filesystem::exists(dir / "2-case-000003.h5"));
  CHECK_FALSE(std::filesystem::exists(dir / "2-case-000002.h5")); // a case of the other part
  CHECK(clampfade_in(dir, "merge 2.h5 1.h5 -o both.h5").exit == 0);
  CHECK(read_study(dir / "both.h5").digest == read_study(dir / "whole.h5").digest);
  CHECK_FALSE(read_study(dir / "whole.h5").digest.empty());
  const Study whole = read_study(dir / "whole.h5").study;
  CHECK(whole.seed == 9);
  REQUIRE(whole.inputs.size() == 2);
  CHECK(whole.inputs[0].values.size() == 25);
  CHECK(has(whole.inputs[0].distribution, "standard deviation 10 %"));
  CHECK(has(whole.scenario_text, "calibrated torque wrench"));

  const CliResult missing = clampfade_in(dir, "merge 1.h5 -o three.h5");
  CHECK(missing.exit == 2);
  CHECK_FALSE(std::filesystem::exists(dir / "three.h5"));
  REQUIRE(clampfade_in(dir, "sample wheel.yaml -o other.h5 --count 5 --seed 8 --part 2/2 --quiet").exit == 0);
  CHECK(clampfade_in(dir, "merge 1.h5 other.h5 -o three.h5").exit == 2);
  CHECK(clampfade_in(dir, "merge 1.h5 2.h5 -o both.h5").exit == 4);
  CHECK(clampfade_in(dir, "merge 1.h5 2.h5 -o 1.h5 --force").exit == 4);
}

TEST_CASE("program: parts that several programs have run are not merged") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  for (const std::string part : {"1", "2"}) {
    REQUIRE(clampfade_in(dir, "sample wheel.yaml -o " + part + ".h5 --count 2 --part " + part + "/2 --quiet").exit ==
            0);
  }
  // The second part under another program's name, sealed again.
  REQUIRE(python("import h5py, numpy, sys\nf = h5py.File(sys.argv[1], 'r+')\n"
                 "f.attrs['git_sha'] = numpy.bytes_(b'0123456789ab')\n",
                 dir / "2.h5")
              .exit == 0);
  seal_again(dir / "2.h5");
  const CliResult both = clampfade_in(dir, "merge 1.h5 2.h5 -o both.h5");
  CHECK(both.exit == 4);
  CAPTURE(both.err);
  CHECK(has(both.err, "was run by another program"));
  CHECK_FALSE(std::filesystem::exists(dir / "both.h5"));
}

TEST_CASE("program: a study that is stopped or killed goes on where it was, to the same result") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text("104"));
  REQUIRE(clampfade_in(dir, "sample wheel.yaml -o whole.h5 --count 24 --quiet").exit == 0);
  const std::string program = kCatalogue + "exec " + quote(CLAMPFADE_PROGRAM);
  const std::string sample = " sample wheel.yaml -o s.h5 --count 24 --jobs 1 --quiet";
  bool seen_stopped = false;
  bool seen_kept = false;
  // On a busy machine a case may take seconds: a later TERM waits longer.
  for (const auto& [signal, wait] : std::vector<std::pair<std::string, std::string>>{
           {"TERM", "0.2"}, {"KILL", "0.2"}, {"TERM", "1"}, {"INT", "0.2"}, {"TERM", "5"}, {"KILL", "0.2"}}) {
    if (signal == "TERM" && seen_kept) {
      continue;
    }
    // The shell waits for the child that it signals, so its exit code is the program's.
    // It listens to signals before its file is there.
    const CliResult r = run_cli("cd " + quote(dir / "") + "; (" + program + sample +
                                ") & for k in $(seq 500); do [ -e s.h5 ] && break; sleep 0.02; done; sleep " + wait +
                                "; kill -" + signal + " $! 2> /dev/null; wait $!");
    REQUIRE(std::filesystem::exists(dir / "s.h5"));
    const Study now = read_study(dir / "s.h5").study; // sound, whatever happened
    CHECK(now.cases.size() == 24);
    if (r.exit == 128 + 15) {
      seen_stopped = true;
      CHECK(has(r.err, "The same command goes on"));
      CHECK(now.status == StudyStatus::Stopped);
      seen_kept = seen_kept || std::any_of(now.cases.begin(), now.cases.end(),
                                           [](const StudyCase& c) { return c.status == CaseStatus::Complete; });
    }
  }
  CHECK(seen_stopped);
  CHECK(seen_kept);
  const Study before = read_study(dir / "s.h5").study;
  if (before.status != StudyStatus::Complete) {
    const CliResult other = clampfade_in(dir, "sample wheel.yaml -o s.h5 --count 24 --seed 3 --quiet");
    CHECK(other.exit == 4);
    CHECK(has(other.err, "the file holds another study"));
    const CliResult part = clampfade_in(dir, "sample wheel.yaml -o s.h5 --count 24 --part 1/2 --quiet");
    CHECK(part.exit == 4);
    CHECK(has(part.err, "the file holds part 1/1"));
    CHECK(clampfade_in(dir, "sample wheel.yaml -o s.h5 --count 24 --quiet").exit == 0);
  }
  CHECK(read_study(dir / "s.h5").digest == read_study(dir / "whole.h5").digest);
}

TEST_CASE("program: options of a study that cannot be are told") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  for (const std::string command :
       {"sweep wheel.yaml --part 3/2", "sweep wheel.yaml --part 1", "sweep wheel.yaml --keep 6",
        "sweep wheel.yaml --keep one", "sweep wheel.yaml --list", "sweep wheel.yaml --vary 'vehicle/load'",
        "sweep wheel.yaml --vary 'vehicle/lod=40 kN'", "sweep wheel.yaml --vary 'vehicle/load=40 kN..45 kN:1'",
        "sweep wheel.yaml --vary 'vehicle/load=40 kN..45 kN:3:cubic'", "sample wheel.yaml",
        "sample wheel.yaml --count 0", "sample wheel.yaml --count 1e4",
        "limit wheel.yaml --path vehicle/load --between '40 kN'",
        "limit wheel.yaml --path joint/studs/count --between 4 8",
        "limit wheel.yaml --path vehicle/load --between '40 kN' '40 kN'",
        "limit wheel.yaml --path vehicle/load --between '40 kN' '50 kN' --tolerance '1 m'"}) {
    CAPTURE(command);
    const CliResult r = clampfade_in(dir, command);
    CHECK(r.exit == 2);
    CHECK_FALSE(r.err.empty());
    CHECK(r.out.empty());
  }
  CHECK(has(clampfade_in(dir, "sweep wheel.yaml --part 3/2").err, "k/K"));
  CHECK(has(clampfade_in(dir, "sweep wheel.yaml --list").err, "3 values and"));
  const std::string torque = clampfade_in(dir, "limit wheel.yaml --path torque --between 300 900").err;
  CHECK(has(torque, "hint: did you mean tightening/torque?"));
  CHECK(has(torque, "| --path torque --between 300 900\n"));
  const std::string bare = clampfade_in(dir, "limit wheel.yaml --path tightening/torque --between 300 '900 N*m'").err;
  CHECK(has(bare, "| --path tightening/torque --between 300 '900 N*m'\n"));
  CHECK(has(bare, "1:36: error")); // the caret is below the end without a unit
  CHECK(has(clampfade_in(dir, "sweep wheel.yaml -o nowhere/s.h5").err, "there is no folder nowhere"));
  CHECK(clampfade_in(dir, "sweep wheel.yaml -o wheel.yaml --force").exit == 4);
  CHECK(clampfade_in(dir, "sweep wheel.yaml -o nowhere/wheel.h5").exit == 4);
  write_text(dir / "notes.h5", "no study");
  CHECK(clampfade_in(dir, "sweep wheel.yaml -o notes.h5").exit == 4);
  CHECK(read_text(dir / "notes.h5") == "no study");
  for (const auto& entry : std::filesystem::directory_iterator(dir / "")) {
    CHECK((entry.path().filename() == "wheel.yaml" || entry.path().filename() == "notes.h5"));
  }
}

TEST_CASE("program: a study with a case that cannot be is written, and says so in its exit code") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  const CliResult r = clampfade_in(dir, "sweep wheel.yaml -o s.h5 --vary 'joint/stack/disc/hole=26 mm,80 mm' --quiet");
  CHECK(r.exit == 3);
  CHECK(has(r.err, "6 of 12 cases failed; s.h5 says why"));
  const Study study = read_study(dir / "s.h5").study;
  CHECK(study.status == StudyStatus::Complete);
  CHECK(has(study.cases[1].message, "takes the whole pad"));
}

TEST_CASE("program: what figures rest on is said before them, of check, sweep and limit") {
  const TmpDir dir;
  ScenarioText hot;
  hot.disc_material = "youngs: [[10 degC, 205 GPa], [30 degC, 200 GPa]], poisson: 0.3, expansion: 12e-6 1/K";
  hot.ambient = "mean: 40 degC";
  write_text(dir / "hot.yaml", hot.text());
  const std::string basis = "NO BASIS FOR A DECISION BY ITSELF: ";
  const std::string limit =
      clampfade_in(dir, "limit hot.yaml --path tightening/torque --between '300 N*m' '640 N*m' --quiet").out;
  CHECK(starts_with(limit, basis));
  CHECK(has(limit, "1 value lies outside"));
  const std::string sweep = clampfade_in(dir, "sweep hot.yaml --vary 'tightening/torque=600 N*m,640 N*m' --quiet").out;
  CHECK(starts_with(sweep, "hot-sweep.h5\n" + basis));
  CHECK(has(sweep, "1 value lies outside"));
  CHECK(has(sweep, "in 2 of 2 cases the temperature of a part goes outside the calibrated range"));
  const std::string run = clampfade_in(dir, "simulate hot.yaml --quiet").out;
  CHECK(has(run, "the temperature of the disc goes outside the calibrated range"));
  const std::string shipped = clampfade_in(dir, "check " CLAMPFADE_SOURCE "/scenarios/painted-steel-duals.yaml").out;
  CHECK(starts_with(shipped, basis));
}

TEST_CASE("program: limit says where the clamp is only just kept, and shows what it tried") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  const std::string command = "limit wheel.yaml --path tightening/torque --between '100 N*m' '900 N*m' --quiet";
  const CliResult r = clampfade_in(dir, command + " -o limit.h5");
  CHECK(r.exit == 0);
  CHECK(has(r.out, "The smallest tightening torque at which every stud keeps the required clamp"));
  CHECK(has(r.out, "wrench, of yield"));
  CHECK(has(r.out, "margin kN"));
  CHECK(has(r.out, "Never skip a re-check"));
  const Study study = read_study(dir / "limit.h5").study;
  REQUIRE(study.inputs.size() == 1);
  CHECK(study.cases.size() >= 10);
  const auto json = nlohmann::json::parse(clampfade_in(dir, command + " --json --tolerance '0.1 N*m'").out);
  REQUIRE(json["crossings"].size() == 1);
  const double keeps = json["crossings"][0]["keeps"];
  const double fails = json["crossings"][0]["fails"];
  CHECK(keeps > fails);
  CHECK(keeps - fails <= 0.1);
  CHECK(json["monotonic"] == true);
  // The value that keeps, written in, keeps; the other does not.
  for (const double value : {keeps, fails}) {
    std::string text = study_text();
    text.replace(text.find("torque: 640 N*m"), 15, "torque: " + nlohmann::json(value).dump() + " N*m");
    write_text(dir / "one.yaml", text);
    REQUIRE(clampfade_in(dir, "simulate one.yaml --quiet --force").exit == 0);
    bool below = false;
    for (const EventRow& e : History(dir / "one.h5").events()) {
      below = below || e.kind == "below required clamp";
    }
    CHECK(below == (value == fails));
  }
  CHECK(has(clampfade_in(dir, "limit wheel.yaml --path tightening/torque --between '900 N*m' '950 N*m' --quiet").out,
            "the limit lies outside"));
  CHECK(has(clampfade_in(dir, "limit wheel.yaml --path tightening/torque --between '100 N*m' '150 N*m' --quiet").out,
            "No value tried"));
}

TEST_CASE("program: check tells of the study, and simulate leaves it out") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", study_text());
  const CliResult check = clampfade_in(dir, "check wheel.yaml");
  CHECK(check.exit == 0);
  CHECK(has(check.out, "`vary` has 2 axes and 6 cases (clampfade sweep)"));
  CHECK(has(check.out, "`scatter` draws 2 values (clampfade sample)"));
  CHECK(nlohmann::json::parse(clampfade_in(dir, "check wheel.yaml --json").out)["studies"].size() == 2);
  for (const char* command : {"sweep", "sample", "merge", "limit"}) {
    CAPTURE(command);
    const CliResult help = clampfade_in(dir, std::string(command) + " --help");
    CHECK(help.exit == 0);
    CHECK(has(help.out, "Example"));
  }
}

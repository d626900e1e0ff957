// The command `fit`: exit codes, files, outputs, faults of the readings, the block to be pasted, stopping.
#include "solver/io/fit_file.hpp"
#include "tests/support/close.hpp"
#include "tests/support/fit_example.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr const char* kCold = "catalogue/coatings/paint/compaction_cold";

CliResult clampfade_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") +
                 " " + quote(CLAMPFADE_PROGRAM) + " " + arguments);
}

ScenarioText coupon() {
  ScenarioText s;
  s.studs = 2;
  s.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint, head_side: {coating: paint, thickness: 80 um}";
  return s;
}

const std::string kHeader = "time,time_unit,quantity,value,unit,error\n";

/// Readings without noise of a coupon with another compaction_cold.
std::string readings(double compaction_cold, const std::string& error) {
  const FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2"});
  const std::vector<double> hours = {0, 1, 6, 24, 72, 160};
  std::vector<double> times;
  for (const double h : hours) {
    times.push_back(3600 * h);
  }
  const std::vector<double> clamps = example.clamps({compaction_cold}, times);
  std::string text = kHeader;
  for (std::size_t i = 0; i < hours.size(); ++i) {
    text += fmt::format("{},h,clamp,{:.6f},kN,{}\n", hours[i], clamps[i] / 1000, error);
  }
  return text;
}

} // namespace

TEST_CASE("program: a fit finds the value, keeps it in a file, and prints a block that gives the fitted run") {
  const TmpDir dir;
  write_text(dir / "coupon.yaml", coupon().text());
  write_text(dir / "coupon.csv", readings(0.08, "0.1"));
  const CliResult made =
      clampfade_in(dir, "fit coupon.yaml --data coupon.csv --free " + std::string(kCold) + "=0.005..0.2 --starts 2");
  CAPTURE(made.err);
  REQUIRE(made.exit == 0);
  CHECK(made.err.empty());
  CHECK(has(made.out, "paint compaction cold"));
  CHECK(has(made.out, "for 5 degrees of freedom"));
  CHECK(has(made.out, "\ncoupon-fit.h5\n"));
  CHECK(has(made.out, "Never skip a re-check"));
  CHECK(has(made.out, "not a release to service"));
  const FitFile file = read_fit(dir / "coupon-fit.h5");
  REQUIRE(file.fit.values.size() == 1);
  CHECK(file.fit.values[0].value == close(0.08, 0, 1e-3));
  CHECK(file.fit.sets[0].data_file == "coupon.csv");
  CHECK(file.fit.sets[0].data_sha256.size() == 64);
  CHECK_FALSE(has(made.out, "catalogue:"));

  // Pasted in the place of the scenario's own paint.
  const std::string& block = file.fit.block;
  CHECK(has(block, "provenance: fitted"));
  CHECK(has(block, "coupon.csv (SHA-256 " + file.fit.sets[0].data_sha256 + ")"));
  CHECK(has(block, "compaction_cold; the other values: this test"));
  std::string text = coupon().text();
  const std::size_t own = text.find("  coatings:\n");
  text.replace(own, text.find("  threads:") - own, block.substr(block.find("  coatings:\n")));
  const Scenario pasted = read_scenario_text(text, "pasted.yaml");
  const FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2"});
  MemorySink fitted;
  MemorySink read;
  run(example.reader().free_case({file.fit.values[0].value}), fitted);
  run(pasted, read);
  REQUIRE(fitted.records.size() == read.records.size());
  for (std::size_t i = 0; i < read.records.size(); ++i) {
    CHECK(read.records[i].clamp == fitted.records[i].clamp);
  }
  bool told = false;
  for (const Provenance& p : pasted.provenance) {
    told = told || (p.entry == "coatings/paint" && p.key == "compaction_cold" && p.provenance == "fitted");
  }
  CHECK(told);

  const std::string again = "fit coupon.yaml --data coupon.csv --free " + std::string(kCold) + "=0.005..0.2 --starts 1";
  const CliResult refused = clampfade_in(dir, again);
  CHECK(refused.exit == 4);
  CHECK(has(refused.err, "--force overwrites it"));
  const CliResult json = clampfade_in(dir, again + " --force --json --jobs 2");
  REQUIRE(json.exit == 0);
  const auto document = nlohmann::json::parse(json.out);
  CHECK(document["values"][0]["value"].get<double>() == close(0.08, 0, 1e-3));
  CHECK(document["readings"].size() == 6);
  CHECK(document["degrees_of_freedom"] == 5);
  CHECK(document["cautions"].size() >= 3);
}

TEST_CASE("program: the block alone goes to standard output, and says what the readings do not fix") {
  const TmpDir dir;
  write_text(dir / "a.yaml", coupon().text());
  write_text(dir / "a.csv", readings(0.08, "0.1"));
  write_text(dir / "b.csv", readings(0.08, "1000")); // no reading at all
  const std::string free = " --free " + std::string(kCold) + "=0.02..0.15 --starts 1 --block --force";
  const CliResult known = clampfade_in(dir, "fit a.yaml --data a.csv" + free);
  REQUIRE(known.exit == 0);
  CHECK(known.out == read_fit(dir / "a-fit.h5").fit.block);
  CHECK(known.out.rfind("# Fitted; an estimate, not a release to service.", 0) == 0);
  CHECK(has(known.out, "      provenance: fitted\n"));
  CHECK_FALSE(has(known.out, "do not fix"));

  const CliResult open = clampfade_in(dir, "fit a.yaml --data b.csv" + free);
  REQUIRE(open.exit == 0);
  CHECK(open.out == read_fit(dir / "a-fit.h5").fit.block);
  CHECK(has(open.out, "      # the readings do not fix this value\n      compaction_cold: "));
  CHECK(has(open.out, "compaction_cold; not fixed by the readings: compaction_cold; the other values: this test"));
  CHECK(has(open.err, "warning: paint compaction cold is not determined: its interval spans its bounds."));
  // Two tests of one paint share the block.
  const CliResult both = clampfade_in(dir, "fit a.yaml --data a.csv --set a.yaml b.csv" + free);
  REQUIRE(both.exit == 0);
  CHECK(both.out.find("catalogue:") == both.out.rfind("catalogue:"));
  CHECK_FALSE(has(both.out, "---"));
}

TEST_CASE("program: two coupons are fitted together, a value goes where it is, and an unknown error is found") {
  const TmpDir dir;
  write_text(dir / "a.yaml", coupon().text());
  ScenarioText other = coupon();
  other.ambient = "mean: 40 degC";
  other.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint";
  std::string bare = other.text();
  bare.erase(bare.find("  coatings:\n"), bare.find("  threads:") - bare.find("  coatings:\n"));
  write_text(dir / "b.yaml", bare);
  write_text(dir / "a.csv", readings(0.08, ""));
  write_text(dir / "b.csv", "time,time_unit,quantity,value,unit,error,part\n2,d,temperature,20,degC,0.05,joint\n");
  const CliResult made = clampfade_in(dir, "fit a.yaml --data a.csv --set b.yaml b.csv --free " + std::string(kCold) +
                                               " --free 'duty/ambient/mean=10 degC..45 degC' --starts 1 -o two.h5");
  CAPTURE(made.err);
  REQUIRE(made.exit == 0);
  CHECK(has(made.out, "readings of clamp have no error"));
  CHECK(has(made.out, "standard deviation of the readings of clamp, found"));
  const FitResult fit = read_fit(dir / "two.h5").fit;
  CHECK(fit.parameters[0].high == 0.15); // the calibrated range
  CHECK(fit.values[0].value == close(0.08, 0, 0.01));
  CHECK(fit.values[1].value == close(293.15, 0.01, 0));
  // Only the coupon's paint can be pasted; the temperature stands beside it.
  CHECK(has(fit.block, "# duty/ambient/mean: "));
  CHECK(fit.sets.size() == 2);
}

TEST_CASE("program: all faults of the readings are told at once, with their places") {
  const TmpDir dir;
  write_text(dir / "coupon.yaml", coupon().text());
  const std::string fit = "fit coupon.yaml --data bad.csv --free " + std::string(kCold) + "=0.005..0.2 --starts 1";
  write_text(dir / "bad.csv", "time,time_unit,quantity,value,unit,error,stud,part\n"
                              "1,h,clmap,180,kN,,,\n"
                              "9,d,clamp,180,kN,,,\n"
                              "1,h,clamp,180,kg,,,\n"
                              "1,h,clamp,18o,kN,,,\n"
                              "1,h,clamp,180,kN,-1,,\n"
                              "1,h,clamp,180,kN,,3,\n"
                              "1,h,temperature,80,degC,,1,joint\n"
                              "1,h,thickness,80,um,,,disk\n"
                              "1,,clamp,180,kN,,,\n"
                              "1,h,clamp,180,kN\n"
                              "1,h,clamp,180,kN,1e-12,,\n"
                              "1,h,clamp,180,kN,1e12,,\n");
  const std::string commas = read_text(dir / "bad.csv");
  std::string semicolons = commas;
  std::replace(semicolons.begin(), semicolons.end(), ',', ';');
  write_text(dir / "bad.csv", semicolons);
  const CliResult once = clampfade_in(dir, fit);
  CHECK(once.exit == 2);
  CHECK(has(once.err, "bad.csv:1: error [input.syntax]"));
  CHECK(has(once.err, "columns are separated by ';'"));
  CHECK(has(once.err, "time, time_unit, quantity, value, unit"));
  CHECK(has(once.err, "1 error\n"));
  write_text(dir / "bad.csv", commas);
  const CliResult said = clampfade_in(dir, fit);
  CHECK(said.exit == 2);
  CHECK_FALSE(std::filesystem::exists(dir / "coupon-fit.h5"));
  for (const char* text :
       {"bad.csv:2: error [input.unknown_entry] quantity: 'clmap' is no quantity", "did you mean clamp",
        "bad.csv:3: error", "within the scenario's calendar", "bad.csv:4: error", "bad.csv:5: error",
        "bad.csv:6: error [input.out_of_range] error", "bad.csv:7: error [input.out_of_range] stud: '3' is no stud",
        "1 to 2, or an empty cell", "bad.csv:8: error", "a temperature is of a node",
        "bad.csv:9: error [input.unknown_entry] part: 'disk' is no layer", "bad.csv:10: error",

        "bad.csv:11: error [input.syntax]", "bad.csv:12: error [input.out_of_range] error: '1e-12'",
        "bad.csv:13: error [input.out_of_range] error: '1e12'",
        "some readings of clamp have an error and some have none"}) {
    CAPTURE(text);
    CAPTURE(said.err);
    CHECK(has(said.err, text));
  }
  write_text(dir / "bad.csv", "time,time_unit,quantity,vlaue,unit\n1,h,clamp,180,kN\n");
  const CliResult header = clampfade_in(dir, fit);
  CHECK(header.exit == 2);
  CHECK(has(header.err, "did you mean value"));
  CHECK(has(header.err, "the column `value` is missing"));
}

TEST_CASE("program: faults of what is to be found") {
  const TmpDir dir;
  write_text(dir / "coupon.yaml", coupon().text());
  write_text(dir / "coupon.csv", readings(0.08, "0.1"));
  const auto run_with = [&](const std::string& free) {
    return clampfade_in(dir, "fit coupon.yaml --data coupon.csv --starts 1 -o x.h5 " + free);
  };
  const auto refuses = [&](const std::string& free, const std::string& text) {
    const CliResult said = run_with(free);
    CAPTURE(free);
    CAPTURE(said.err);
    CHECK(said.exit == 2);
    CHECK(has(said.err, text));
  };
  refuses("--free catalogue/coatings/paint/compaction_code", "did you mean compaction_cold?");
  refuses("--free title", "`title` is the same in all cases");
  refuses("--free joint/studs/count", "no single number that can take all values between two");
  refuses("--free joint/stack/disc/material", "no single number");
  refuses("--free vehicle/load_offset=1", "has no two ends");
  refuses("--free " + std::string(kCold) + "=0.2..0.1", "the lower end is not below the upper");
  refuses("--free " + std::string(kCold) + "=0.1..2", "outside the allowed range");
  refuses("--free " + std::string(kCold) + " --free 'catalogue/coatings/*/compaction_cold'", "is also set by");
  refuses("--free 'catalogue/coatings/paint/glass_transition=50..90'", "has no unit");
  refuses("", "--free is required");
  refuses("--free " + std::string(kCold) + " --friction-deviation 200%", "is no share");
  refuses("--free " + std::string(kCold) + " --set coupon.yaml none.csv --loss tukey", "--loss");
  CHECK(run_with("--free " + std::string(kCold) + " --set coupon.yaml none.csv").exit == 4);
  CHECK(clampfade_in(dir, "fit none.yaml --data coupon.csv --free " + std::string(kCold)).exit == 4);
  CHECK(clampfade_in(dir, "fit coupon.yaml --data coupon.csv --free " + std::string(kCold) + " -o coupon.csv --force")
            .exit == 4);
  CHECK(has(read_text(dir / "coupon.csv"), kHeader));
  CHECK_FALSE(std::filesystem::exists(dir / "x.h5"));
}

TEST_CASE("program: a fit that is stopped leaves nothing behind") {
  const TmpDir dir;
  ScenarioText text = coupon();
  text.calendar = "working_days_per_week: 7, weeks: 104";
  text.studs = 10;
  text.pause = "5 s";
  write_text(dir / "long.yaml", text.text());
  std::string csv = kHeader;
  for (int week = 1; week <= 104; week += 10) {
    csv += fmt::format("{},week,clamp,{},kN,0.1\n", week, 175 - 0.01 * week);
  }
  write_text(dir / "long.csv", csv);
  // In the foreground: else timeout signals its group too, and a second signal brings the end that the first asks for.
  const CliResult stopped =
      run_cli("cd " + quote(dir / "") + " && timeout --foreground -s INT 1 " + quote(CLAMPFADE_PROGRAM) +
              " fit long.yaml --data long.csv --free " + kCold + " --starts 1000 --profile");
  CHECK(has(stopped.err, "Stopped. long-fit.h5 was not written"));
  CHECK_FALSE(std::filesystem::exists(dir / "long-fit.h5"));
  CHECK_FALSE(std::filesystem::exists(dir / "long-fit.h5.part"));
}

TEST_CASE("program: starts that end alike are one answer, whatever the errors found make of it later") {
  const TmpDir dir;
  const std::string shipped = CLAMPFADE_SOURCE "/scenarios/fit-painted-coupon";
  std::string csv = kHeader;
  // Without errors of their own, and one far off: the errors found then move the values from where the searches ended.
  for (const char* row : {"0,h,clamp,182.5", "10,min,clamp,178.9", "1,h,clamp,178.7", "12,h,clamp,176.4",
                          "3,d,clamp,176.1", "7,d,clamp,169.0", "14,d,clamp,175.8", "21,d,clamp,175.3"}) {
    csv += std::string(row) + ",kN,\n";
  }
  write_text(dir / "none.csv", csv);
  const CliResult made =
      clampfade_in(dir, "fit " + quote(shipped + ".yaml") +
                            " --data none.csv --free 'catalogue/coatings/sample paint/compaction_cold=0.01..0.15'"
                            " --loss huber --json -o fit.h5");
  CAPTURE(made.err);
  REQUIRE(made.exit == 0);
  CHECK_FALSE(has(flat(made.out), "more than one answer"));
}

TEST_CASE("program: the shipped coupon gives what its head says, and the report reads it") {
  const TmpDir dir;
  const std::string shipped = CLAMPFADE_SOURCE "/scenarios/fit-painted-coupon";
  const CliResult made =
      clampfade_in(dir, "fit " + quote(shipped + ".yaml") + " --data " + quote(shipped + ".csv") + " --set " +
                            quote(shipped + "-warm.yaml") + " " + quote(shipped + "-warm.csv") +
                            " --free 'catalogue/coatings/sample paint/compaction_cold=0.01..0.15'"
                            " --free 'catalogue/coatings/sample paint/compaction_hot=0.1..0.4' --json -o fit.h5");
  CAPTURE(made.err);
  REQUIRE(made.exit == 0);
  const auto document = nlohmann::json::parse(made.out);
  const auto& cold = document["values"][0];
  const auto& hot = document["values"][1];
  CHECK(cold["value"].get<double>() == close(0.066, 5e-4, 0));
  CHECK(cold["low"].get<double>() == close(0.057, 5e-4, 0));
  CHECK(cold["high"].get<double>() == close(0.075, 5e-4, 0));
  CHECK(hot["value"].get<double>() == close(0.221, 5e-4, 0));
  CHECK(hot["low"].get<double>() < 0.220); // what the readings were made with
  CHECK(hot["high"].get<double>() > 0.220);
  CHECK(cold["high"].get<double>() > 0.070);
  CHECK(document["chi_square"].get<double>() == close(21, 0.5, 0));
  const auto report = [&](const std::string& arguments) {
    return run_cli("cd " + quote(dir / "") + " && " + quote(CLAMPFADE_REPORT) + " " + arguments);
  };
  const CliResult summary = report("summary fit.h5");
  CHECK(summary.exit == 0);
  CHECK(has(flat(summary.out), "Sample paint compaction cold is 0.0656"));
  CHECK(has(summary.out, "provenance: fitted"));
  CHECK(has(flat(summary.out), "never skip a re-check"));
  const CliResult list = report("table fit.h5 --list");
  CHECK(list.out == "readings\nvalues\ncurves\nstarts\n");
  CHECK(has(report("table fit.h5 --dataset values").out,
            "compaction_cold,catalogue/coatings/sample paint/compaction_cold,1,"));
  CHECK(report("table fit.h5 --dataset nothing").exit == 2);
  CHECK(has(report("summary fit.h5 --csv").out, "name,path,unit,value"));
  CHECK(report("page fit.h5 -o fit.html").exit == 0);
  CHECK(has(read_text(dir / "fit.html"), "Does the model go through the readings?"));
  CHECK(report("sheet fit.h5 -o sheet.html").exit == 4);
}

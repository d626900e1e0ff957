// The command about records: exit codes, what it prints and writes, whom it names.
#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

using namespace clampfade::test;

namespace {

const std::string kCatalogue = "CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") + " ";

CliResult clampfade_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && " + kCatalogue + quote(CLAMPFADE_PROGRAM) + " " + arguments);
}

/// Ten studs in star order, one act each; stud 8 has the torque given.
std::string records_text(const std::string& torque_of_8 = "475") {
  std::string text = "vehicle,axle,wheel,stud,torque,torque_unit,angle_deg,time,tool,operator\n";
  int second = 10;
  for (const char* stud : {"1", "6", "3", "8", "5", "10", "2", "7", "4", "9"}) {
    const std::string torque = std::string(stud) == "8" ? torque_of_8 : "475";
    text += std::string("demo vehicle 7,drive 1,left,") + stud + "," + torque +
            ",lbf*ft,60,2024-04-09T06:12:" + std::to_string(second++) + ",demo wrench,Fitter Q\n";
  }
  return text;
}

const std::string kBands = " --torque '475 lbf*ft' --torque-band '5%' --studs 10 ";

} // namespace

TEST_CASE("records program: 0 where every wheel is inside, 1 where one is outside, with the line that is wrong") {
  const TmpDir dir;
  write_text(dir / "good.csv", records_text());
  write_text(dir / "bad.csv", records_text("352"));
  const CliResult good = clampfade_in(dir, "records good.csv" + kBands);
  CHECK(good.exit == 0);
  CHECK(has(good.out, "demo vehicle 7, drive 1, left: inside its bands"));
  CHECK(has(flat(good.out), "This is an estimate from a model, not a release to service."));
  const CliResult bad = clampfade_in(dir, "records bad.csv --units us" + kBands);
  CHECK(bad.exit == 1);
  CHECK(has(bad.out, "demo vehicle 7, drive 1, left: OUTSIDE ITS BANDS"));
  CHECK(has(bad.out, "stud 8, line 5: torque 352.0 lbf"));
  CHECK(has(bad.out, "25.9 % below the set 475.0"));
  CHECK(clampfade_in(dir, "records bad.csv --torque '475 lbf*ft' --torque-band '30%' --angle-band 6 --studs 10").exit ==
        1);
  CHECK(has(clampfade_in(dir, "records good.csv --only-outside" + kBands).out, "1 inside its bands, 0 outside"));
  CHECK_FALSE(has(clampfade_in(dir, "records good.csv --only-outside" + kBands).out, "drive 1"));
}

TEST_CASE("records program: bad options and files have their codes") {
  const TmpDir dir;
  write_text(dir / "r.csv", records_text());
  const auto exit_of = [&](const std::string& arguments) { return clampfade_in(dir, "records " + arguments).exit; };
  CHECK(exit_of("none.csv" + kBands) == 4);
  CHECK(exit_of("r.csv --torque 475") == 2);
  CHECK(has(clampfade_in(dir, "records r.csv --torque 475").err, "--torque: '475' has no unit"));
  CHECK(exit_of("r.csv --torque '475 mm'") == 2);
  CHECK(exit_of("r.csv --torque '475 lbf*ft' --torque-band 7") == 2);
  const CliResult no_torque = clampfade_in(dir, "records r.csv");
  CHECK(no_torque.exit == 2);
  CHECK(has(no_torque.err, "no torque to hold the records to: line 2 of r.csv names none"));
  CHECK(has(clampfade_in(dir, "records r.csv --torque '475 lbf*ft' --studs 8").err, "there is no stud '10'"));
  CHECK(exit_of("r.csv --tool 'click wrench' --friction-deviation '10%' --scenario s.yaml" + kBands) == 4);
}

TEST_CASE("records program: who did it is told only where asked for") {
  const TmpDir dir;
  write_text(dir / "r.csv", records_text("352"));
  for (const char* format : {"", " --json"}) {
    const std::string command = std::string("records r.csv --export out.csv --force") + format + kBands;
    CHECK_FALSE(has(clampfade_in(dir, command).out, "Fitter"));
    CHECK_FALSE(has(read_text(dir / "out.csv"), "Fitter"));
    CHECK_FALSE(has(clampfade_in(dir, command + "--without-people").out, "Fitter"));
    CHECK(has(clampfade_in(dir, command + "--with-people").out, "Fitter Q"));
    CHECK(has(read_text(dir / "out.csv"), ",Fitter Q\n"));
  }
}

TEST_CASE("records program: the export has a row a stud and is not overwritten unasked") {
  const TmpDir dir;
  write_text(dir / "r.csv", records_text("352"));
  CHECK(clampfade_in(dir, "records r.csv --export out.csv" + kBands).exit == 1);
  const std::string text = read_text(dir / "out.csv");
  CHECK(std::count(text.begin(), text.end(), '\n') == 11);
  CHECK(has(text, "demo vehicle 7,drive 1,left,2024-04-09T06:12:10,2024-04-09T06:12:19,8,2024-04-09T06:12:13,5,1,"));
  CHECK(has(text, ",no,\"torque 477.2 N"));
  const CliResult again = clampfade_in(dir, "records r.csv --export out.csv" + kBands);
  CHECK(again.exit == 4);
  CHECK(has(again.err, "file.exists"));
  CHECK(clampfade_in(dir, "records r.csv --export r.csv --force" + kBands).exit == 4);
  CHECK(read_text(dir / "r.csv") == records_text("352"));
}

TEST_CASE("records program: JSON tells bands, findings and estimates, each deviation beside its clamp") {
  const TmpDir dir;
  write_text(dir / "r.csv", records_text("352"));
  ScenarioText scenario;
  write_text(dir / "s.yaml", scenario.text());
  const CliResult said =
      clampfade_in(dir, "records r.csv --json --scenario s.yaml --torque '475 lbf*ft' --snug-torque '60 N*m'");
  REQUIRE(said.exit == 1);
  const auto document = nlohmann::json::parse(said.out);
  CHECK(document["inside"] == false);
  CHECK(document["cautions"].size() == 3);
  const auto& wheel = document["wheels"].at(0);
  CHECK(wheel["findings"].at(0)["check"] == "torque");
  CHECK(wheel["findings"].at(0)["line"] == 5);
  const auto& stud = wheel["studs"].at(0);
  CHECK(stud["torque_N_m"].get<double>() == close(475 * 4.4482216152605 * 0.3048, 0, 1e-12));
  // 12.5 % of the clamp at (2.5), by hand: P/(2 pi) + mu d2/(2 cos 30) + mu D_b/2.
  const double arm = 1.5e-3 / (2 * M_PI) + 0.12 * (22e-3 - 0.649519 * 1.5e-3) / (2 * std::cos(M_PI / 6)) + 0.12 * 15e-3;
  const double clamp = stud["torque_N_m"].get<double>() / arm;
  CHECK(stud["by_torque"]["clamp_N"].get<double>() == close(clamp, 0, 1e-6));
  CHECK(stud["by_torque"]["deviation_N"].get<double>() == close(0.125 * clamp, 0, 1e-6));
  CHECK(stud["estimate"]["deviation_N"].get<double>() < stud["by_torque"]["deviation_N"].get<double>());
  CHECK(stud["disagreement"].get<double>() < 2);
  write_text(dir / "good.csv", records_text());
  const CliResult good = clampfade_in(dir, "records good.csv --scenario s.yaml --torque '475 lbf*ft'");
  CHECK_FALSE(has(flat(good.out), "deviations apart"));
  // A third of the angle is no such clamp: the two disagree, and it is said.
  std::string turned_less = records_text();
  for (std::size_t at = turned_less.find(",60,"); at != std::string::npos; at = turned_less.find(",60,")) {
    turned_less.replace(at, 4, ",20,");
  }
  write_text(dir / "less.csv", turned_less);
  const CliResult text = clampfade_in(dir, "records less.csv --scenario s.yaml --torque '475 lbf*ft'");
  CHECK(text.exit == 0); // all ten alike: not outside, but told
  CHECK(has(flat(text.out), "standard deviations apart"));
  CHECK(has(flat(text.out), "Angles count from 64.40 N·m"));
}

TEST_CASE("records program: the shipped fleet has the faults that its page tells of, and no others") {
  const TmpDir dir;
  const std::string folder = quote(CLAMPFADE_SOURCE "/scenarios");
  const CliResult said = clampfade_in(dir, "records " + folder + "/fleet-records.csv --json --scenario " + folder +
                                               "/recorded-tightening.yaml --snug-torque '47 lbf*ft'");
  REQUIRE(said.exit == 1);
  std::string found;
  const auto document = nlohmann::json::parse(said.out);
  for (const auto& wheel : document["wheels"]) {
    found += wheel["vehicle"].get<std::string>().substr(13) + ' ' + wheel["axle"].get<std::string>() + ' ' +
             wheel["wheel"].get<std::string>() + ':';
    for (const auto& f : wheel["findings"]) {
      found += ' ' + f["check"].get<std::string>() + ' ' + std::to_string(f["stud"].get<int>());
    }
    found += '\n';
  }
  CHECK(found == "31 front left:\n31 front right: torque 6 angle 6\n31 drive 1 left: missing_stud 7\n"
                 "31 drive 1 right: order 3 order 3 order 3\n32 front left: angle 4\n"
                 "32 front right: backwards_time 8 repeated_act 5\n");
}

// The store of a fleet under what can happen to it: two programs at a time, a death in the middle, a bad row.
#include "solver/io/database.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <csignal>
#include <fcntl.h>
#include <filesystem>
#include <string>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

const std::string kCatalogue = "CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") + " ";
const std::string kBands = " --torque '640 N*m' --studs 10";

CliResult clampfade_in(const TmpDir& dir, const std::string& arguments) {
  return run_cli("cd " + quote(dir / "") + " && " + kCatalogue + quote(CLAMPFADE_PROGRAM) + " " + arguments);
}

std::string header() {
  return "vehicle,axle,wheel,stud,torque,torque_unit,time,tool,operator,odometer,odometer_unit\n";
}

/// Ten acts on one wheel in star order.
std::string wheel_rows(const std::string& vehicle, const std::string& day, const std::string& odometer = "81250") {
  std::string text;
  int second = 10;
  for (const char* stud : {"1", "6", "3", "8", "5", "10", "2", "7", "4", "9"}) {
    text += fmt::format("{},front,left,{},640,N*m,{}T06:12:{},demo wrench,Fitter Q,{},km\n", vehicle, stud, day,
                        second++, odometer);
  }
  return text;
}

std::string readings_text(const std::string& vehicle, const std::string& day, const std::string& odometer) {
  std::string text = "vehicle,axle,wheel,stud,time,torque,torque_unit,moved,odometer,odometer_unit,operator\n";
  for (int stud = 1; stud <= 10; ++stud) {
    text += fmt::format("{},front,left,{},{}T15:{}:00,600,N*m,no,{},km,Fitter R\n", vehicle, stud, day, 10 + stud,
                        odometer);
  }
  return text;
}

std::size_t stored(const TmpDir& dir, const std::string& event = "tightened") {
  const CliResult out = clampfade_in(dir, "fleet export --store s.sqlite -o all.csv --force");
  REQUIRE(out.exit == 0);
  const std::string text = read_text(dir / "all.csv");
  std::size_t count = 0;
  for (std::size_t at = text.find('\n' + event); at != std::string::npos; at = text.find('\n' + event, at + 1)) {
    ++count;
  }
  return count;
}

} // namespace

TEST_CASE("fleet: two programs that write 200 acts each at the same time lose none") {
  const TmpDir dir;
  std::string script;
  for (const char* writer : {"a", "b"}) {
    for (int i = 0; i < 20; ++i) {
      const std::string name = fmt::format("{}{}.csv", writer, i);
      write_text(dir / name, header() + wheel_rows(fmt::format("vehicle {} {}", writer, i), "2024-04-09"));
    }
    // The store is not there yet: who comes first makes it.
    script +=
        fmt::format("( for i in $(seq 0 19); do {} records {}$i.csv --store s.sqlite{} >/dev/null || exit 1; done ) & ",
                    quote(CLAMPFADE_PROGRAM), writer, kBands);
    script += std::string("p") + writer + "=$!; ";
  }
  const CliResult both = run_cli("cd " + quote(dir / "") + "; " + script + "wait $pa && wait $pb");
  CAPTURE(both.err);
  CHECK(both.exit == 0);
  CHECK(stored(dir) == 400);
}

TEST_CASE("fleet: the same file again adds nothing and says so, a file with some new acts adds those") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09"));
  CHECK(has(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).err, "10 acts added"));
  const CliResult again = clampfade_in(dir, "records a.csv --store s.sqlite" + kBands);
  CHECK(again.exit == 0);
  CHECK(has(again.err, "already there, nothing added"));
  write_text(dir / "b.csv", header() + wheel_rows("v 1", "2024-04-09") + wheel_rows("v 2", "2024-04-09"));
  CHECK(has(clampfade_in(dir, "records b.csv --store s.sqlite" + kBands).err, "10 acts added, 10 already there"));
  CHECK(stored(dir) == 20);
}

TEST_CASE("fleet: a bad row in the middle of a file leaves the store as it was") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const std::string before = read_text(dir / "s.sqlite");
  write_text(dir / "b.csv", header() + wheel_rows("v 2", "2024-04-09") +
                                "v 2,front,left,x,640,N*m,2024-04-09,w,Q,1,km\n" + wheel_rows("v 3", "2024-04-09"));
  const CliResult bad = clampfade_in(dir, "records b.csv --store s.sqlite" + kBands);
  CHECK(bad.exit == 2);
  CHECK(has(bad.err, "b.csv:12: error [input.not_a_number] stud"));
  write_text(dir / "c.csv", header() + wheel_rows("v 2", "2024-04-09") + ",front,left,1,640,N*m,,w,Q,1,km\n");
  const CliResult nameless = clampfade_in(dir, "records c.csv --store s.sqlite" + kBands);
  CHECK(nameless.exit == 2);
  CHECK(has(nameless.err, "c.csv:12: error [input.missing_key] vehicle"));
  CHECK(has(nameless.err, "c.csv:12: error [input.missing_key] time"));
  CHECK(read_text(dir / "s.sqlite") == before);
}

TEST_CASE("fleet: a program killed while it writes leaves nothing of its file, and the file can be added after") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  std::string many = header();
  for (int i = 0; i < 4000; ++i) {
    many += wheel_rows(fmt::format("w {}", i), "2024-04-10");
  }
  write_text(dir / "many.csv", many);
  const std::string journal = dir / "s.sqlite-journal";
  const std::string in = dir / "many.csv";
  const std::string store = dir / "s.sqlite";
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    const int nowhere = ::open("/dev/null", O_WRONLY);
    ::dup2(nowhere, 1);
    ::dup2(nowhere, 2);
    ::execl(CLAMPFADE_PROGRAM, CLAMPFADE_PROGRAM, "records", in.c_str(), "--store", store.c_str(), "--torque",
            "640 N*m", "--studs", "10", static_cast<char*>(nullptr));
    ::_exit(127);
  }
  // The journal is there while, and only while, a change is being written.
  bool writing = false;
  for (int i = 0; i < 60000 && !writing; ++i) {
    writing = std::filesystem::exists(journal) && std::filesystem::file_size(journal) > 0;
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(writing);
  REQUIRE(WIFSIGNALED(status));
  CHECK(stored(dir) == 10);
  const CliResult after = clampfade_in(dir, "records many.csv --only-outside --store s.sqlite" + kBands);
  CHECK(after.exit == 0);
  CHECK(has(after.err, "40000 acts added"));
  CHECK(stored(dir) == 40010);
}

TEST_CASE("fleet: who did it is kept only where asked for") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09"));
  write_text(dir / "r.csv", readings_text("v 1", "2024-04-10", "81300"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  REQUIRE(clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite").exit == 0);
  CHECK_FALSE(has(read_text(dir / "s.sqlite"), "Fitter"));
  REQUIRE(clampfade_in(dir, "records a.csv --with-people --store p.sqlite" + kBands).exit == 0);
  REQUIRE(clampfade_in(dir, "fleet add-readings r.csv --with-people --store p.sqlite").exit == 0);
  CHECK(has(read_text(dir / "p.sqlite"), "Fitter Q"));
  CHECK(has(read_text(dir / "p.sqlite"), "Fitter R"));
  REQUIRE(clampfade_in(dir, "fleet export --store p.sqlite -o p.csv").exit == 0);
  CHECK_FALSE(has(read_text(dir / "p.csv"), "Fitter"));
  REQUIRE(clampfade_in(dir, "fleet export --store p.sqlite --with-people -o p.csv --force").exit == 0);
  CHECK(has(read_text(dir / "p.csv"), "Fitter R"));
  CHECK_FALSE(has(clampfade_in(dir, "fleet history --store p.sqlite --json").out, "Fitter"));
}

TEST_CASE("fleet: a wheel's history tells what was done and found, by date, and what was wrong") {
  const TmpDir dir;
  std::string rows = wheel_rows("v 1", "2024-04-09");
  rows.erase(rows.rfind("v 1")); // the last stud, 9
  write_text(dir / "a.csv", header() + rows);
  std::string readings = readings_text("v 1", "2024-04-10", "81300");
  readings.replace(readings.find("600,N*m,no"), 10, "400,N*m,yes");
  write_text(dir / "r.csv", readings);
  REQUIRE(clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite").exit == 0);
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 1);
  const std::string said = flat(clampfade_in(dir, "fleet history --store s.sqlite --vehicle 'v 1'").out);
  CHECK(has(said,
            "2024-04-09T06:12:10 tightened, 9 acts on studs 1, 2, 3, 4, 5, 6, 7, 8 and 10; stud 9: no act in pass 1 "
            "2024-04-10T15:11:00 checked, all 10 studs; lowest torque 400.0 N·m, stud 1; NUTS MOVED: stud 1"));
  CHECK(has(said, "not a release to service"));
  const auto document =
      nlohmann::json::parse(clampfade_in(dir, "fleet history --store s.sqlite --vehicle 'v 1' --json").out);
  CHECK(document["wheels"].at(0)["events"].at(1)["readings"].at(0)["moved"] == true);
  CHECK(document["cautions"].size() == 3);
  CHECK_FALSE(has(clampfade_in(dir, "fleet history --store s.sqlite --vehicle 'v 1'").out, "no such"));
}

TEST_CASE("fleet: due wheels come first, by date and by distance, and what is not known is said") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000") +
                                wheel_rows("v 2", "2024-04-12", "2000") + wheel_rows("v 3", "2024-04-12", ""));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const auto states = [&](const std::string& arguments) {
    const CliResult out = clampfade_in(dir, "fleet due --json --store s.sqlite " + arguments);
    CAPTURE(out.err);
    REQUIRE(out.exit == 0);
    std::string text;
    const auto document = nlohmann::json::parse(out.out);
    CHECK(document["cautions"].size() == 3);
    for (const auto& w : document["wheels"]) {
      text += w["vehicle"].get<std::string>() + ' ' + w["state"].get<std::string>() + ", ";
    }
    return text;
  };
  CHECK(states("--on 2024-04-15 --recheck-every '1 week'") == "v 1 later, v 2 later, v 3 later, ");
  CHECK(states("--on 2024-04-16 --recheck-every '1 week'") == "v 1 due, v 2 later, v 3 later, ");
  CHECK(states("--on 2024-04-16T06:12:18 --recheck-every '1 week'") == "v 1 later, v 2 later, v 3 later, ");
  CHECK(states("--on 2024-04-16T06:12:19 --recheck-every '1 week'") == "v 1 due, v 2 later, v 3 later, ");
  CHECK(states("--on 2024-04-15 --recheck-every '1 week' '80 km' --odometer 'v 1=1010 km' 'v 2=2080 km' 'v 3=1 km'") ==
        "v 2 due, v 3 not_known, v 1 later, ");
  CHECK(states("--on 2024-04-15 --recheck-every '80 km'") == "v 1 not_known, v 2 not_known, v 3 not_known, ");
  // A whole check begins the interval again; one of a few studs does not.
  write_text(dir / "few.csv", readings_text("v 1", "2024-04-14", "1040").substr(0, 200));
  std::string few = readings_text("v 1", "2024-04-14", "1040");
  few.resize(few.find("v 1,front,left,5"));
  write_text(dir / "few.csv", few);
  REQUIRE(clampfade_in(dir, "fleet add-readings few.csv --store s.sqlite").exit == 0);
  CHECK(states("--on 2024-04-16 --recheck-every '1 week'") == "v 1 due, v 2 later, v 3 later, ");
  CHECK(has(flat(clampfade_in(dir, "fleet due --store s.sqlite --on 2024-04-16 --recheck-every '1 week'").out),
            "only some studs were seen to after that"));
  write_text(dir / "all.csv", readings_text("v 1", "2024-04-15", "1050"));
  REQUIRE(clampfade_in(dir, "fleet add-readings all.csv --store s.sqlite").exit == 0);
  CHECK(states("--on 2024-04-16 --recheck-every '1 week'") == "v 2 later, v 3 later, v 1 later, ");

  CHECK(clampfade_in(dir, "fleet due --store s.sqlite --on 16.4.2024 --recheck-every '1 week'").exit == 2);
  CHECK(clampfade_in(dir, "fleet due --store s.sqlite --on 2024-04-16 --recheck-every 7").exit == 2);
  CHECK(clampfade_in(dir, "fleet due --store s.sqlite --on 2024-04-16").exit == 2);
  CHECK(clampfade_in(dir, "fleet due --store none --on 2024-04-16 --recheck-every '1 week'").exit == 4);
  CHECK(
      has(clampfade_in(dir, "fleet due --store s.sqlite --on 2024-04-16 --recheck-every '1 week' --odometer 'v 9=1 km'")
              .err,
          "the store knows no vehicle 'v 9'"));
}

TEST_CASE("fleet: a prediction is kept with its fall, brings the re-check forward and puts none off") {
  const TmpDir dir;
  ScenarioText weak; // embedding takes the clamp below what is required once the wheel rolls
  weak.interface_default = "embedding: 6 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  weak.day = "{park: {until: 5 h}}, {drive: {distance: 60 km, speed: 60 km/h}}";
  weak.disc += ", head_side: {coating: paint, thickness: 80 um}, nut_side: {coating: paint, thickness: 80 um}";
  weak.torque = "440 N*m";
  write_text(dir / "w.yaml", weak.text());
  REQUIRE(clampfade_in(dir, "simulate w.yaml -o w.h5 --quiet").exit == 0);
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const std::string add = "fleet add-prediction w.h5 --store s.sqlite --vehicle 'v 1' --axle front --wheel left ";
  const CliResult added = clampfade_in(dir, add + "--tightened 2024-04-09");
  CAPTURE(added.err);
  CAPTURE(added.out);
  REQUIRE(added.exit == 0);
  CHECK(has(added.out, "1 prediction added"));
  CHECK(has(flat(added.out), "Never skip a re-check"));
  CHECK(has(clampfade_in(dir, add + "--tightened 2024-04-09").out, "already there, nothing added"));
  CHECK(clampfade_in(dir, add + "--tightened tomorrow").exit == 2);
  CHECK(clampfade_in(dir, "fleet add-prediction a.csv --store s.sqlite --vehicle v --axle a --wheel w "
                          "--tightened 2024-04-09")
            .exit == 4);
  const auto events = nlohmann::json::parse(clampfade_in(dir, "fleet history --store s.sqlite --json").out);
  const auto& prediction = events["wheels"].at(0)["events"].at(0);
  REQUIRE(prediction["event"] == "predicted");
  REQUIRE(prediction["below_time_s"].is_number());
  const double below = prediction["below_time_s"].get<double>();
  CHECK(prediction["recheck_time_s"].get<double>() == 0.5 * below);
  CHECK(prediction["lowest_clamp"].size() == 8); // as tightened, and a week by days
  CHECK(below > 0);
  const auto due_on = [&](const std::string& day) {
    return nlohmann::json::parse(
               clampfade_in(dir, "fleet due --json --store s.sqlite --on " + day + " --recheck-every '1 week'")
                   .out)["wheels"]
        .at(0);
  };
  CHECK(due_on("2024-04-09")["due_by_prediction"] == true);
  CHECK(due_on("2024-04-09")["due"].get<std::string>() < "2024-04-16T06:12:19");
  CHECK(due_on("2024-04-16")["state"] == "due");

  // As tightened already too low: due at once, and the date is not that of the interval.
  weak.torque = "400 N*m";
  write_text(dir / "l.yaml", weak.text());
  REQUIRE(clampfade_in(dir, "simulate l.yaml -o l.h5 --quiet").exit == 0);
  const CliResult low = clampfade_in(dir, "fleet add-prediction l.h5 --store s.sqlite --vehicle 'v 1' --axle front "
                                          "--wheel left --tightened 2024-04-09");
  CHECK(has(flat(low.out), "as tightened: the wheel is due at once"));
  CHECK(due_on("2024-04-09")["state"] == "due");
  CHECK(due_on("2024-04-09")["due"] == "2024-04-09T06:12:19");
  CHECK(has(flat(clampfade_in(dir, add + "--tightened 2198-04-09").out),
            "--tightened: the time 2198-04-09 is later than now"));
}

TEST_CASE("fleet: what was done after the date that is asked about does not put a re-check off") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000") + wheel_rows("v 2", "2024-04-12"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  write_text(dir / "r.csv", readings_text("v 1", "2024-04-17", "1100"));
  REQUIRE(clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite").exit == 0);
  const auto due = [&](const std::string& on) {
    return clampfade_in(dir, "fleet due --json --store s.sqlite --recheck-every '1 week' --on " + on);
  };
  const auto before = nlohmann::json::parse(due("2024-04-16").out);
  CHECK(before["wheels"].at(0)["vehicle"] == "v 1");
  CHECK(before["wheels"].at(0)["state"] == "due");
  CHECK(before["warnings"].at(0) == "10 entries of the store are later than 2024-04-16 and are not counted");
  const auto after = nlohmann::json::parse(due("2024-04-17").out);
  CHECK(after["wheels"].at(1)["state"] == "later");
  CHECK(after["warnings"].empty());
  // Nothing known by then: no wheel to tell of, and that is said.
  const auto none = nlohmann::json::parse(due("2024-04-10").out);
  CHECK(none["wheels"].size() == 1);
  CHECK(none["warnings"].at(1) == "v 2, front, left is left out: all that the store knows of it is later than "
                                  "2024-04-10");
  CHECK(has(flat(clampfade_in(dir, "fleet due --store s.sqlite --recheck-every '1 week' --on 2024-04-16").out),
            "10 entries of the store are later than 2024-04-16"));
}

TEST_CASE("fleet: times later than now are added with a warning, for acts, readings and predictions") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2198-04-09", "1000"));
  const CliResult acts = clampfade_in(dir, "records a.csv --store s.sqlite" + kBands);
  CHECK(acts.exit == 0);
  CHECK(has(flat(acts.out), "a.csv:2: the time 2198-04-09T06:12:10 is later than now"));
  write_text(dir / "r.csv", readings_text("v 1", "2198-04-10", "1001"));
  const CliResult readings = clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite");
  CHECK(readings.exit == 0);
  CHECK(has(flat(readings.out), "r.csv:2: the time 2198-04-10T15:11:00 is later than now"));
  write_text(dir / "b.csv", header() + wheel_rows("v 2", "2024-04-09", "1000"));
  CHECK_FALSE(has(clampfade_in(dir, "records b.csv --store s.sqlite" + kBands).out, "later than now"));
}

TEST_CASE("fleet: an odometer below what the store has is refused, one that runs back or jumps warns with its line") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const std::string due = "fleet due --store s.sqlite --on 2024-04-15 --recheck-every '80 km' --odometer ";
  const CliResult low = clampfade_in(dir, due + "'v 1=999 km'");
  CHECK(low.exit == 2);
  CHECK(has(low.err, "999 km of v 1, but the store has it at 1000 km by then"));
  CHECK(clampfade_in(dir, due + "'v 1=1000 km'").exit == 0);
  const auto added = [&](const std::string& day, const std::string& odometer) {
    write_text(dir / "r.csv", readings_text("v 1", day, odometer));
    const CliResult out = clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite");
    CAPTURE(out.err);
    REQUIRE(out.exit == 0);
    return flat(out.out);
  };
  CHECK(has(added("2024-04-10", "900"), "r.csv:2: v 1: the odometer runs back from 1000 km at 2024-04-09T06:12:19 to "
                                        "900 km at 2024-04-10T15:11:00"));
  CHECK(has(added("2024-04-11", "9000"), "r.csv:2: v 1: the odometer jumps from 900 km"));
  CHECK_FALSE(has(added("2024-04-12", "9800"), "the odometer"));
  write_text(dir / "b.csv", header() + wheel_rows("v 1", "2024-04-13", "5000"));
  CHECK(has(flat(clampfade_in(dir, "records b.csv --store s.sqlite" + kBands).out),
            "b.csv:2: v 1: the odometer runs back from 9800 km"));
}

TEST_CASE("fleet: what is to be given once is refused when given twice") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const std::string due = "fleet due --store s.sqlite --on 2024-04-15 ";
  CHECK(clampfade_in(dir, due + "--recheck-every '1 week' '80 km'").exit == 0);
  const CliResult twice = clampfade_in(dir, due + "--recheck-every '1 week' '4 weeks'");
  CHECK(twice.exit == 2);
  CHECK(has(twice.err, "'4 weeks' is a second time"));
  CHECK(clampfade_in(dir, due + "--recheck-every '80 km' --recheck-every '800 km'").exit == 2);
  CHECK(clampfade_in(dir, due + "--recheck-every '1 week' --on 2024-04-10").exit == 2);
  CHECK(clampfade_in(dir, due + "--recheck-every '1 week' --store s.sqlite").exit == 2);
  const CliResult vehicle = clampfade_in(dir, due + "--recheck-every '80 km' --odometer 'v 1=1000 km' 'v 1=2000 km'");
  CHECK(vehicle.exit == 2);
  CHECK(has(vehicle.err, "'v 1' is named twice"));
  CHECK(clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite --store t.sqlite").exit == 2);
}

TEST_CASE("fleet: a wheel that the store does not have is refused with the nearest name, a new one is told") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("demo 31", "2024-04-09", "1000"));
  const CliResult first = clampfade_in(dir, "records a.csv --store s.sqlite" + kBands);
  REQUIRE(first.exit == 0);
  CHECK(has(first.err, "new wheel demo 31, front, left\n"));
  for (const char* command : {"history --store s.sqlite", "export --store s.sqlite -o x.csv",
                              "due --store s.sqlite --on 2024-04-15 --recheck-every '1 week'"}) {
    CAPTURE(command);
    const CliResult vehicle = clampfade_in(dir, std::string("fleet ") + command + " --vehicle 'demo 3l'");
    CHECK(vehicle.exit == 2);
    CHECK(has(vehicle.err, "the store knows no such vehicle as 'demo 3l'"));
    CHECK(has(vehicle.err, "did you mean 'demo 31'?"));
    CHECK(clampfade_in(dir, std::string("fleet ") + command + " --axle fromt").exit == 2);
  }
  CHECK_FALSE(std::filesystem::exists(dir / "x.csv"));
  write_text(dir / "r.csv", readings_text("Demo 31", "2024-04-10", "1010"));
  const CliResult added = clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite");
  CHECK(added.exit == 0);
  CHECK(has(flat(added.out), "new wheel Demo 31, front, left; the store has a near name: vehicle 'demo 31'"));
  // The number of its studs is known from no record of tightening, so no check has seen to all of them for sure.
  const auto document = nlohmann::json::parse(
      clampfade_in(dir, "fleet due --json --store s.sqlite --on 2024-04-11 --recheck-every '1 week'").out);
  CHECK(document["wheels"].at(0)["vehicle"] == "Demo 31");
  CHECK(document["wheels"].at(0)["state"] == "not_known");
  CHECK(document["wheels"].at(1)["state"] == "later");
  write_text(dir / "known.csv", readings_text("demo 31", "2024-04-10", "1010"));
  CHECK_FALSE(has(clampfade_in(dir, "fleet add-readings known.csv --store s.sqlite").out, "new wheel"));
}

TEST_CASE("fleet: a reading of a stud that the wheel does not have is refused with its line") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  std::string readings = readings_text("v 1", "2024-04-10", "1010");
  readings.replace(readings.find("left,10,"), 8, "left,11,");
  write_text(dir / "r.csv", readings);
  const std::string before = read_text(dir / "s.sqlite");
  const CliResult out = clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite");
  CHECK(out.exit == 2);
  CHECK(has(out.err, "r.csv:11: error [input.out_of_range] stud: there is no stud 11 on v 1, front, left"));
  CHECK(read_text(dir / "s.sqlite") == before);
}

TEST_CASE("fleet: wheels with nuts that moved or tightened outside their bands come first and say so") {
  const TmpDir dir;
  std::string low = wheel_rows("v 3", "2024-04-12");
  low.replace(low.find(",640,"), 5, ",300,");
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-01") + wheel_rows("v 2", "2024-04-12") + low);
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 1);
  std::string moved = readings_text("v 2", "2024-04-13", "81300");
  moved.replace(moved.find("600,N*m,no"), 10, "400,N*m,yes");
  write_text(dir / "r.csv", moved);
  REQUIRE(clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite").exit == 0);
  const std::string due = "fleet due --store s.sqlite --on 2024-04-14 --recheck-every '1 week'";
  const auto order = [&] {
    std::string text;
    const auto document = nlohmann::json::parse(clampfade_in(dir, due + " --json").out);
    for (const auto& w : document["wheels"]) {
      text += w["vehicle"].get<std::string>() + (w["alarm"].get<bool>() ? "! " : " ") + w["state"].get<std::string>() +
              ", ";
    }
    return text;
  };
  CHECK(order() == "v 3! later, v 2! later, v 1 due, ");
  const std::string said = flat(clampfade_in(dir, due).out);
  CHECK(has(said, "NUTS MOVED at a check: stud 1"));
  CHECK(has(said, "TIGHTENED OUTSIDE ITS BANDS: stud 1: torque"));
  // A later check of one other stud does not take the alarm back; one of all studs that finds none moved does.
  std::string one = readings_text("v 2", "2024-04-13", "81300");
  one = one.substr(0, one.find('\n') + 1) + "v 2,front,left,5,2024-04-13T20:00:00,600,N*m,no,81300,km,Fitter R\n";
  write_text(dir / "one.csv", one);
  REQUIRE(clampfade_in(dir, "fleet add-readings one.csv --store s.sqlite").exit == 0);
  CHECK(order() == "v 3! later, v 2! later, v 1 due, ");
  write_text(dir / "all.csv", readings_text("v 2", "2024-04-14", "81300"));
  REQUIRE(clampfade_in(dir, "fleet add-readings all.csv --store s.sqlite").exit == 0);
  CHECK(order() == "v 3! later, v 1 due, v 2 later, ");
}

TEST_CASE("fleet: names with control characters or of more than 200 characters are refused, from options and files") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  const std::string longest(200, 'x');
  for (const std::string& name : {longest + "x", std::string("v\n1"), std::string("v\x1b[2J1")}) {
    for (const std::string& command : {std::string("history --store s.sqlite --vehicle "),
                                       std::string("due --store s.sqlite --on 2024-04-10 --recheck-every '1 week' "
                                                   "--axle ")}) {
      const CliResult out = clampfade_in(dir, "fleet " + command + quote(name));
      CHECK(out.exit == 2);
      CHECK(has(out.err, "[input.wrong_type]"));
      CHECK_FALSE(has(out.err, "\x1b[2J"));
    }
  }
  write_text(dir / "long.csv", header() + wheel_rows(longest, "2024-04-09", "1000"));
  CHECK(clampfade_in(dir, "records long.csv --store s.sqlite" + kBands).exit == 0);
  write_text(dir / "longer.csv", header() + wheel_rows(longest + "x", "2024-04-09", "1000"));
  const CliResult out = clampfade_in(dir, "records longer.csv --store s.sqlite" + kBands);
  CHECK(out.exit == 2);
  CHECK(has(out.err, "the name has 201 characters, more than 200"));
}

TEST_CASE("fleet: a store of format 1 is read with a note beside the results, and brought forward by what adds to it") {
  const TmpDir dir;
  {
    Database db(dir / "s.sqlite", true);
    db.run("PRAGMA foreign_keys = OFF");
    db.run(read_text(CLAMPFADE_SOURCE "/tests/unit/solver/store_format1.sql"));
  }
  const std::string commands[] = {"fleet history --store s.sqlite --json",
                                  "fleet due --store s.sqlite --json --on 2024-04-16 --recheck-every '1 week'"};
  std::vector<std::string> before;
  for (const std::string& command : commands) {
    const CliResult r = clampfade_in(dir, command);
    CHECK(r.exit == 0);
    CHECK(has(r.err, "note: s.sqlite: a store of format 1, whose rows have no sums"));
    CHECK(nlohmann::json::accept(r.out));
    before.push_back(r.out);
  }
  write_text(dir / "r.csv", readings_text("v 1", "2024-04-10", "1010"));
  const CliResult added = clampfade_in(dir, "fleet add-readings r.csv --store s.sqlite");
  CHECK(added.exit == 0);
  CHECK(has(added.err, "note: s.sqlite: brought from format 1 to format 2"));
  for (const std::string vehicle : {"demo 31", "demo 32", "demo 33"}) {
    const std::string of_vehicle = commands[0] + " --vehicle '" + vehicle + "'";
    const auto now = nlohmann::json::parse(clampfade_in(dir, of_vehicle).out)["wheels"];
    const auto all = nlohmann::json::parse(before[0])["wheels"];
    REQUIRE(now.size() == 1);
    CHECK(std::count(all.begin(), all.end(), now[0]) == 1);
  }
  const CliResult after = clampfade_in(dir, commands[1]);
  CHECK(after.err.empty());
  CHECK(nlohmann::json::parse(after.out)["wheels"].size() == nlohmann::json::parse(before[1])["wheels"].size() + 1);
}

TEST_CASE("fleet: a store in which an odometer has changed is refused by each command, with table and row") {
  const TmpDir dir;
  write_text(dir / "a.csv", header() + wheel_rows("v 1", "2024-04-09", "1000"));
  REQUIRE(clampfade_in(dir, "records a.csv --store s.sqlite" + kBands).exit == 0);
  REQUIRE(clampfade_in(dir, "fleet history --store s.sqlite").exit == 0);
  Database(dir / "s.sqlite").run("UPDATE acts SET odometer = odometer + 1 WHERE stud = 6");
  write_text(dir / "r.csv", readings_text("v 1", "2024-04-10", "1010"));
  for (const std::string command :
       {"fleet history --store s.sqlite", "fleet due --store s.sqlite --on 2024-04-16 --recheck-every '1 week'",
        "fleet export --store s.sqlite -o x.csv", "fleet add-readings r.csv --store s.sqlite"}) {
    CAPTURE(command);
    const CliResult r = clampfade_in(dir, command);
    CHECK(r.exit == 4);
    CHECK(has(flat(r.err), "s.sqlite: the store is damaged (table acts, row 2 of vehicle 'v 1', axle 'front', wheel "
                           "'left': an act is not what was added); use a copy"));
  }
  CHECK_FALSE(std::filesystem::exists(dir / "x.csv"));
}

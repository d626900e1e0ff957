// Checks: what the programs do where the world around them does not play along: a stream that is closed or full, a
// signal
//   of the terminal, a pipe where a file should be, another program at the same file.
// Problem: small wheels, run by the programs themselves.
// Reference: the exit codes that --help lists; an unbroken run.
// Fails if: a fault of the surroundings ends without a word or with 0, a message goes into a file of results, or
// something
//   is left behind.
#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/replaced_file.hpp"
#include "solver/io/study_file.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <csignal>
#include <fcntl.h>
#include <filesystem>
#include <string>
#include <sys/file.h>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

namespace fs = std::filesystem;

const std::string kCatalogue = "CLAMPFADE_CATALOGUE=" + quote(CLAMPFADE_SOURCE "/models/catalogue") + " ";

CliResult in(const TmpDir& dir, const std::string& command) {
  return run_cli("cd " + quote(dir / "") + " || exit 9; export " + kCatalogue + "; " + command);
}

std::string program(const std::string& arguments) { return quote(CLAMPFADE_PROGRAM) + " " + arguments; }
std::string report(const std::string& arguments) { return quote(CLAMPFADE_REPORT) + " " + arguments; }

/// `weeks` of a bare wheel with a record every two minutes.
std::string wheel(const std::string& weeks = "1") {
  ScenarioText s;
  s.studs = 5;
  s.day = "{park: {until: 5 h}}, {drive: {distance: 60 km, speed: 60 km/h}}";
  s.calendar = "working_days_per_week: 7, weeks: " + weeks;
  s.record = "every: 2 min";
  return s.text();
}

std::vector<std::string> files_in(const TmpDir& dir) {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(dir / "")) {
    names.push_back(entry.path().filename().string());
  }
  std::sort(names.begin(), names.end());
  return names;
}

/// A history of invented numbers, for the report.
void write_history(const std::string& path) {
  HistoryWriter writer(path, false);
  synthetic_start(writer);
  synthetic_rows(writer, 0, 20, 20);
  writer.end(RunStatus::Complete, "", {});
}

} // namespace

TEST_CASE("streams: what cannot be printed is an error, of help and version too") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel());
  write_text(dir / "records.csv",
             "vehicle,axle,wheel,stud,torque,torque_unit\nv,front,left,1,640,N*m\nv,front,left,2,300,N*m\n");
  write_history(dir / "h.h5");
  for (const std::string& command :
       {program("--version"), program("--help"), program("simulate --help"), program("check wheel.yaml"),
        program("records records.csv --torque '640 N*m' --studs 2"), report("--version"), report("--help"),
        report("page --help"), report("summary h.h5"), report("table h.h5 --list -o -")}) {
    CAPTURE(command);
    REQUIRE(in(dir, command).exit <= 1); // 1: a wheel outside its bands
    for (const std::string to : {" > /dev/full", " >&-"}) {
      const CliResult r = in(dir, command + to);
      CHECK(r.exit == 4);
      CHECK(has(r.err, "output"));
    }
  }
}

TEST_CASE("streams: closed ones do not become files of results, and who cannot be told still gets the exit code") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel());
  REQUIRE(in(dir, program("simulate wheel.yaml -o whole.h5")).exit == 0);
  const std::string whole = History(dir / "whole.h5").digest();
  for (const std::string closed : {" >&-", " 2>&-", " <&- >&- 2>&-", " 2> /dev/full"}) {
    CAPTURE(closed);
    const CliResult r = in(dir, program("simulate wheel.yaml -o a.h5 --force") + closed);
    CHECK(r.exit == (has(closed, " >&-") ? 4 : 0));
    const History history(dir / "a.h5");
    CHECK(history.digest() == whole);
    CHECK(history.verify() == Digest::Right);
  }
  for (const std::string closed : {" 2>&-", " <&- >&- 2>&-", " 2> /dev/full"}) {
    CAPTURE(closed);
    CHECK(in(dir, program("check missing.yaml") + closed).exit == 4);
    CHECK(in(dir, program("chek wheel.yaml") + closed).exit == 2);
    CHECK(in(dir, report("summary missing.h5") + closed).exit == 4);
  }
}

TEST_CASE("streams: a terminal that goes away stops a run as Ctrl-C does, and under nohup it goes on") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel("104"));
  // Waits for the file, so that the run is on its way, and signals the program that the shell has become.
  const auto hung_up = [&](const std::string& out, const std::string& before) {
    return in(dir, "( " + before + "exec " + program("simulate wheel.yaml --quiet -o " + out) +
                       " ) & for k in $(seq 1000); do [ -e " + out + " ] && break; sleep 0.01; done; kill -HUP $!; " +
                       "wait $!");
  };
  const CliResult stopped = hung_up("a.h5", "");
  CAPTURE(stopped.err);
  CHECK(stopped.exit == 128 + SIGHUP);
  CHECK(has(stopped.err, "clampfade resume a.h5"));
  CHECK(files_in(dir) == std::vector<std::string>{"a.h5", "wheel.yaml"});
  CHECK(History(dir / "a.h5").status() == RunStatus::Stopped);
  CHECK(hung_up("b.h5", "trap '' HUP; ").exit == 0);
  CHECK(in(dir, program("resume a.h5 --quiet")).exit == 0);
  CHECK(History(dir / "a.h5").digest() == History(dir / "b.h5").digest());
}

TEST_CASE("streams: a study that is stopped while it writes the histories of its cases says so") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel("26") + "vary:\n- {path: tightening/torque, values: [500 N*m, 640 N*m]}\n");
  const CliResult r = in(dir, "( exec " + program("sweep wheel.yaml --quiet -o s.h5 --keep 0,1") +
                                  " ) & for k in $(seq 3000); do [ -e s-case-000000.h5 ] && break; sleep 0.01; done; " +
                                  "kill -TERM $!; wait $!");
  CAPTURE(r.err);
  CHECK(r.exit == 128 + SIGTERM);
  CHECK(has(r.err, "clampfade resume"));
  CHECK(files_in(dir) == std::vector<std::string>{"s-case-000000.h5", "s-case-000001.h5", "s.h5", "wheel.yaml"});
  const CliResult resumed = in(dir, program("resume s-case-000001.h5 --quiet"));
  CAPTURE(resumed.err);
  CHECK(resumed.exit == 0);
}

TEST_CASE("streams: a study killed while it writes its histories writes the missing ones when given again") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel("5") + "vary:\n- {path: tightening/torque, values: [500 N*m, 640 N*m]}\n");
  const std::string sweep = program("sweep wheel.yaml --quiet -o s.h5 --keep 0,1");
  REQUIRE(in(dir, program("sweep wheel.yaml --quiet -o whole.h5 --keep 0,1")).exit == 0);
  const CliResult killed = in(dir, "( exec " + sweep +
                                       " ) & for k in $(seq 3000); do [ -e s-case-000000.h5 ] && break; sleep 0.01; "
                                       "done; kill -KILL $!; wait $!");
  REQUIRE(killed.exit == 128 + SIGKILL);
  REQUIRE_FALSE(std::filesystem::exists(dir / "s-case-000001.h5"));
  REQUIRE(read_study(dir / "s.h5").study.status == StudyStatus::Complete);
  const std::string study = read_text(dir / "s.h5");
  const CliResult again = in(dir, sweep);
  CAPTURE(again.err);
  CHECK(again.exit == 0);
  CHECK(has(again.out, "s-case-000001.h5"));
  for (const std::string name : {"-case-000000.h5", "-case-000001.h5"}) {
    CHECK(History(dir / ("s" + name)).status() == RunStatus::Complete);
    CHECK(History(dir / ("s" + name)).digest() == History(dir / ("whole" + name)).digest());
  }
  CHECK(read_text(dir / "s.h5") == study); // its cases were not run again
  const CliResult nothing_left = in(dir, sweep);
  CHECK(nothing_left.exit == 4);
  CHECK(has(nothing_left.err, "the study is there and complete"));
  // One that is missing alone is written, what is finished stays, and another run is not overwritten.
  std::filesystem::remove(dir / "s-case-000001.h5");
  const auto written = std::filesystem::last_write_time(dir / "s-case-000000.h5");
  CHECK(in(dir, sweep).exit == 0);
  CHECK(std::filesystem::exists(dir / "s-case-000001.h5"));
  CHECK(std::filesystem::last_write_time(dir / "s-case-000000.h5") == written);
  std::filesystem::rename(dir / "s-case-000001.h5", dir / "s-case-000000.h5");
  const CliResult other = in(dir, sweep);
  CHECK(other.exit == 4);
  CHECK(has(other.err, "s-case-000000.h5: the file holds another run"));
}

TEST_CASE("streams: a pipe where a file of results should be is refused, not waited for") {
  const TmpDir dir;
  write_text(dir / "wheel.yaml", wheel() + "vary:\n- {path: tightening/torque, values: [500 N*m, 640 N*m]}\n");
  REQUIRE(::mkfifo((dir / "pipe.h5").c_str(), 0600) == 0);
  for (const std::string& command :
       {report("summary pipe.h5"), report("table pipe.h5 --list"), report("page pipe.h5 -o page.html"),
        program("resume pipe.h5"), program("sweep wheel.yaml -o pipe.h5"), program("merge pipe.h5 -o all.h5"),
        program("fleet history --store pipe.h5")}) {
    CAPTURE(command);
    const CliResult r = in(dir, "timeout 30 " + command);
    CHECK(r.exit == 4);
    CHECK(has(r.err, "pipe.h5"));
  }
  CHECK(files_in(dir) == std::vector<std::string>{"pipe.h5", "wheel.yaml"});
}

TEST_CASE("streams: a report that meets a full disk says so and leaves what was there") {
  const TmpDir dir;
  write_history(dir / "h.h5");
  for (const std::string& command :
       {report("page h.h5 -o out.html"), report("sheet h.h5 -o out.html"),
        report("figure h.h5 --chart clamp -o out.svg"), report("table h.h5 --dataset clamp -o out.html")}) {
    CAPTURE(command);
    const CliResult fresh = in(dir, "ulimit -f 1 && " + command); // blocks of 1024 bytes
    CHECK(fresh.exit == 4);
    CHECK(has(fresh.err, "out."));
    CHECK(has(fresh.err, "File too large"));
    CHECK(files_in(dir) == std::vector<std::string>{"h.h5"});
    write_text(dir / "out.html", "the old page");
    write_text(dir / "out.svg", "the old page");
    CHECK(in(dir, "ulimit -f 1 && " + command + " --force").exit == 4);
    CHECK(read_text(dir / "out.html") == "the old page");
    CHECK(read_text(dir / "out.svg") == "the old page");
    CHECK(files_in(dir).size() == 3);
    fs::remove(dir / "out.html");
    fs::remove(dir / "out.svg");
  }
}

TEST_CASE("streams: two reports at once to one path do not write into each other") {
  const TmpDir dir;
  write_history(dir / "h.h5");
  const int other = ::open((dir / "page.html.part").c_str(), O_WRONLY | O_CREAT, 0600); // as the other one holds it
  REQUIRE(::flock(other, LOCK_EX) == 0);
  REQUIRE(::write(other, "half a page", 11) == 11);
  const CliResult r = in(dir, report("page h.h5 -o page.html"));
  CHECK(r.exit == 4);
  CHECK(has(r.err, "page.html"));
  CHECK(read_text(dir / "page.html.part") == "half a page");
  CHECK_FALSE(fs::exists(dir / "page.html"));
  ::close(other);
  CHECK(in(dir, report("page h.h5 -o page.html")).exit == 0);
  CHECK(files_in(dir) == std::vector<std::string>{"h.h5", "page.html"});
}

TEST_CASE("streams: of many that may not overwrite, one writes, however their moments fall") {
  const TmpDir dir;
  const std::string path = dir / "a.txt";
  constexpr int rounds = 2000;
  for (int round = 0; round < rounds; ++round) {
    fs::remove(path);
    std::atomic<int> written = 0;
    std::atomic<int> ready = 0;
    const auto write = [&](int number) {
      ++ready;
      while (ready < 3) {
      }
      try {
        ReplacedFile file(path, false);
        const std::string text = std::to_string(number);
        file.replace([&](const Descriptor& other) { return other.write(text.data(), text.size()); }, "nothing");
        ++written;
      } catch (const FileError&) {
        // refused, which is right for all but one
      }
    };
    std::vector<std::thread> writers;
    for (int number = 0; number < 3; ++number) {
      writers.emplace_back(write, number);
    }
    for (std::thread& w : writers) {
      w.join();
    }
    CAPTURE(round);
    REQUIRE(written == 1);
  }
}

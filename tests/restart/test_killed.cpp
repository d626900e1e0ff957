// Checks: a run into a file that is killed again and again, or whose disk refuses, leaves a sound history each time,
// and
//   taken up as often it comes to the file of an unbroken run.
// Problem: a painted wheel for three weeks with a record every two minutes, so that most of the time goes into writing;
//   the program itself with a limit on the size of files.
// Reference: the unbroken run itself.
// Tolerance: none, every dataset is compared bit by bit.
// Fails if: the file is changed in place, a row is written twice or left out, or something is left behind.
#include "solver/io/history.hpp"
#include "solver/simulation.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <csignal>
#include <cstring>
#include <exception>
#include <filesystem>
#include <optional>
#include <random>
#include <string>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

using Clock = std::chrono::steady_clock;
namespace fs = std::filesystem;

ScenarioText busy_record() {
  ScenarioText s;
  s.disc += ", head_side: {coating: paint, thickness: 90 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
  s.ambient = "mean: 15 degC, daily_swing: 6 K, yearly_swing: 8 K";
  s.day = "{park: {until: 5 h}}, {drive: {distance: 6 km, speed: 50 km/h}}";
  s.calendar = "working_days_per_week: 5, weeks: 3";
  s.service = "{retorque: {after: 9 d}}";
  s.record = "every: 2 min, at: [4 d, 90 km]";
  return s;
}

RunOptions every_day() {
  RunOptions options;
  options.checkpoint_every = 0;
  return options;
}

/// As `clampfade resume` does, or `clampfade simulate --force` where there is no checkpoint yet.
void go_on(const Scenario& scenario, const std::string& path) {
  std::optional<Checkpoint> from;
  if (fs::exists(path)) {
    from = History(path).checkpoint();
  }
  if (from) {
    resume(scenario, *from, *HistoryWriter::reopen(path), every_day());
  } else {
    HistoryWriter writer(path, true);
    run(scenario, writer, every_day());
  }
}

void check_same(const History& a, const History& b) {
  const std::vector<Dataset> all = a.datasets();
  REQUIRE(b.datasets().size() == all.size());
  for (const Dataset& d : all) {
    CAPTURE(d.path);
    const Dataset x = a.dataset(d.path);
    const Dataset y = b.dataset(d.path);
    REQUIRE(x.values.size() == y.values.size());
    CHECK(std::memcmp(x.values.data(), y.values.data(), x.values.size() * sizeof(double)) == 0);
    CHECK(x.text == y.text);
  }
  CHECK(a.digest() == b.digest());
  CHECK(b.verify() == Digest::Right);
  CHECK(a.checkpoint()->numbers == b.checkpoint()->numbers);
  CHECK(a.checkpoint()->counters == b.checkpoint()->counters);
}

std::size_t files_in(const std::string& folder) {
  return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

} // namespace

TEST_CASE("killed: a run killed again and again comes to the file of an unbroken one") {
  const Scenario scenario = busy_record().scenario();
  const TmpDir whole;
  const auto start = Clock::now();
  go_on(scenario, whole / "a.h5");
  const std::chrono::duration<double> unbroken = Clock::now() - start;
  const History reference(whole / "a.h5");
  REQUIRE(reference.status() == RunStatus::Complete);
  CHECK(reference.rows() > 15000);
  CHECK(files_in(whole / "") == 1);

  const TmpDir dir;
  const std::string path = dir / "a.h5";
  std::mt19937 random(20260102); // any seed will do: the moment depends on the machine anyway
  int kills = 0;
  bool done = false;
  std::size_t rows = 0;
  while (!done && kills < 200) {
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      try {
        go_on(scenario, path);
      } catch (const std::exception& e) {
        write_text(dir / "error.txt", e.what());
        ::_exit(1);
      }
      ::_exit(0);
    }
    // A later one gets more time, so that there is an end to it even where each start takes long.
    const double share = std::uniform_real_distribution<double>(0, 0.3 + 0.01 * kills)(random);
    std::this_thread::sleep_for(share * unbroken);
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    done = WIFEXITED(status);
    if (done) {
      CHECK(WEXITSTATUS(status) == 0);
      CHECK(read_text(dir / "error.txt").empty());
      CHECK(files_in(dir / "") == 1); // the history
      break;
    }
    ++kills;
    CAPTURE(kills);
    CHECK(files_in(dir / "") <= 2); // the history and the other file
    if (fs::exists(path)) {
      const History history(path);
      done = history.status() == RunStatus::Complete; // killed between the last state and its own end
      CHECK(history.rows() >= rows);
      rows = history.rows();
      const std::vector<double> time = history.series("time");
      const std::vector<double> expected = reference.series("time");
      REQUIRE(time.size() <= expected.size());
      CHECK(std::memcmp(time.data(), expected.data(), time.size() * sizeof(double)) == 0);
    }
  }
  MESSAGE("killed " << kills << " times");
  CHECK(kills > 3);
  REQUIRE(done);
  check_same(reference, History(path));
}

TEST_CASE("killed: where the disk refuses, the program says so, keeps the last state, and goes on when there is room") {
  const TmpDir dir;
  write_text(dir / "a.yaml", busy_record().text());
  const auto program = [&](const std::string& limit, const std::string& arguments) {
    return run_cli("cd " + quote(dir / "") + " && ulimit -f " + limit + " && " + quote(CLAMPFADE_PROGRAM) + " " +
                   arguments);
  };
  REQUIRE(program("unlimited", "simulate a.yaml -o whole.h5").exit == 0);
  const std::string old = read_text(dir / "whole.h5");
  const auto blocks = [&](double share) {
    return std::to_string(static_cast<std::size_t>(share * static_cast<double>(old.size()) / 1024));
  };

  // Not even room for the first state: what was there stays.
  write_text(dir / "old.h5", old);
  const CliResult none = program(blocks(0.001), "simulate a.yaml -o old.h5 --force");
  CAPTURE(none.err);
  CHECK(none.exit == 4);
  CHECK(read_text(dir / "old.h5") == old);

  for (const double share : {0.6, 0.95}) {
    fs::remove(dir / "a.h5");
    const CliResult full = program(blocks(share), "simulate a.yaml -o a.h5");
    CAPTURE(share);
    CAPTURE(full.err);
    CHECK(full.exit == 4);
    CHECK(full.err.find("error [file.write] a.h5: ") == 0);
    CHECK(full.err.find("File too large\n") == full.err.size() - 15); // one line, the reason at its end
    CHECK(files_in(dir / "") == 4);                                   // scenario, two whole histories and this one
    CHECK(History(dir / "a.h5").status() == RunStatus::Running);
    const CliResult again = program(blocks(share), "resume a.h5");
    CHECK(again.exit == 4);
    CHECK(History(dir / "a.h5").checkpoint().has_value());
  }
  REQUIRE(program("unlimited", "resume a.h5").exit == 0);
  check_same(History(dir / "whole.h5"), History(dir / "a.h5"));
}

TEST_CASE("resume: a checkpoint that is refused is named with its file, which stays as it is") {
  const TmpDir dir;
  const Scenario scenario = busy_record().scenario();
  {
    HistoryWriter writer(dir / "a.h5");
    writer.begin(make_header(scenario));
    writer.checkpoint({0, {1, 2, 3}, {0}}); // of no wheel that there is
    writer.end(RunStatus::Stopped, "on request", {});
  }
  const std::string before = read_text(dir / "a.h5");
  const CliResult r = run_cli(quote(CLAMPFADE_PROGRAM) + " resume " + quote(dir / "a.h5"));
  CHECK(r.exit == 4);
  CAPTURE(r.err);
  CHECK(r.err.find("a.h5: the checkpoint was written for another wheel") != std::string::npos);
  CHECK((read_text(dir / "a.h5") == before));
}

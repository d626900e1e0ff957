#include "solver/io/history.hpp"

#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
#include "tests/support/close.hpp"
#include "tests/support/python.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <csignal>
#include <filesystem>
#include <functional>
#include <random>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>

using namespace clampfade;
using namespace clampfade::test;

namespace {

void write_whole(const std::string& path, std::size_t rows, std::size_t every = 7) {
  HistoryWriter writer(path);
  synthetic_start(writer);
  synthetic_rows(writer, 0, rows, every);
  writer.end(RunStatus::Complete, "", {});
}

/// Exact: what goes in comes out.
void check_record(const RecordRow& got, const RecordRow& want) {
  CHECK(got.time == want.time);
  CHECK(got.distance == want.distance);
  CHECK(got.stops == want.stops);
  CHECK(got.clamp == want.clamp);
  CHECK(got.clamp_cold == want.clamp_cold);
  CHECK(got.temperature == want.temperature);
  CHECK(got.slip_margin == want.slip_margin);
  CHECK(got.loss == want.loss);
  CHECK(got.loss_clamp == want.loss_clamp);
  CHECK(got.retorque_gain == want.retorque_gain);
  CHECK(got.fatigue_amplitude == want.fatigue_amplitude);
  CHECK(got.utilisation == want.utilisation);
  CHECK(got.seat_pressure == want.seat_pressure);
  CHECK(got.layer_thickness == want.layer_thickness);
  CHECK(got.check_torque == want.check_torque);
}

void check_rows(const History& history, std::size_t rows) {
  REQUIRE(history.rows() == rows);
  const std::vector<RecordRow> records = history.records();
  for (std::size_t row = 0; row < rows; ++row) {
    CAPTURE(row);
    check_record(records[row], synthetic_record(row));
  }
  const std::vector<StepsRow> steps = history.steps();
  for (std::size_t row = 0; row < steps.size(); ++row) {
    const StepsRow want = synthetic_steps(row);
    CHECK(steps[row].time == want.time);
    CHECK(steps[row].steps == want.steps);
    CHECK(steps[row].rejected == want.rejected);
    CHECK(steps[row].smallest == want.smallest);
    CHECK(steps[row].controlled_by == want.controlled_by);
    CHECK(steps[row].resolution == want.resolution);
  }
  const std::vector<EventRow> events = history.events();
  for (std::size_t i = 0; i < events.size(); ++i) {
    const EventRow want = synthetic_event(3 * i + 2);
    CHECK(events[i].time == want.time);
    CHECK(events[i].distance == want.distance);
    CHECK(events[i].stud == want.stud);
    CHECK(events[i].kind == want.kind);
    CHECK(events[i].text == want.text);
  }
  const std::vector<ActRow> acts = history.acts();
  for (std::size_t i = 0; i < acts.size(); ++i) {
    const ActRow want = synthetic_act(i);
    CHECK(acts[i].time == want.time);
    CHECK(acts[i].pass == want.pass);
    CHECK(acts[i].stud == want.stud);
    CHECK(acts[i].torque == want.torque);
    CHECK(acts[i].clamp == want.clamp);
    CHECK(acts[i].clamp_end == want.clamp_end);
    CHECK(acts[i].moved == want.moved);
  }
}

struct Refusal {
  Code code;
  std::string text;
};
Refusal refusal(const std::function<void()>& work) {
  try {
    work();
  } catch (const FileError& e) {
    return {e.code(), e.what()};
  }
  return {Code::Internal, "nothing was refused"};
}
bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("history: everything written comes back, to the bit") {
  const TmpDir dir;
  // More rows than one buffer and one chunk of the widest dataset hold.
  constexpr std::size_t rows = 700;
  write_whole(dir / "a.h5", rows, 300);
  const History history(dir / "a.h5");
  check_rows(history, rows);
  CHECK(history.acts().size() == 6);
  CHECK(history.events().size() == rows / 3);
  CHECK(history.steps().size() == rows);

  const RunHeader header = synthetic_header();
  CHECK(history.status() == RunStatus::Complete);
  CHECK(history.title() == header.title);
  CHECK(history.warnings() == header.warnings);
  CHECK(history.end_time() == header.end_time);
  CHECK(history.scenario_text() == header.scenario_text);
  // Of the text above, by coreutils' sha256sum.
  CHECK(history.scenario_sha256() == "a794b4913a8c07e736850bc370bf721845cccc7a1634003c5368f51e66e93b75");
  CHECK(history.studs() == header.studs);
  CHECK(history.nodes() == header.nodes);
  CHECK(history.layers() == header.layers);
  REQUIRE(history.mechanisms().size() == kMechanisms);
  CHECK(history.mechanisms().back() == "wear");
  CHECK(history.series("clamp")[5 * kStuds + 2] == synthetic_record(5).clamp[2]);
  CHECK_THROWS_AS((void)history.series("no such name"), std::out_of_range);

  const std::vector<Figure> joint = history.joint();
  REQUIRE(joint.size() == header.joint.size());
  for (std::size_t i = 0; i < joint.size(); ++i) {
    CAPTURE(joint[i].name);
    CHECK(joint[i].name == header.joint[i].name);
    CHECK(joint[i].unit == header.joint[i].unit);
    CHECK(joint[i].long_name == header.joint[i].long_name);
    CHECK(joint[i].values == header.joint[i].values);
    CHECK(joint[i].labels == header.joint[i].labels);
    CHECK(joint[i].text == header.joint[i].text);
  }
  REQUIRE(history.provenance().size() == 3);
  CHECK(history.provenance()[1].source == "ISO 261");
  CHECK(history.provenance()[2].entry == "coatings/topcoat");
  REQUIRE(history.identity().size() == 1);
  CHECK(history.identity()[0].operator_name == "operator A");
  CHECK(history.identity()[0].torque == 645.5);
  CHECK(history.identity()[0].angle == 1.06);
  REQUIRE(history.checkpoint().has_value());
  CHECK(history.checkpoint()->time == synthetic_checkpoint(599).time);
  CHECK(history.checkpoint()->numbers == synthetic_checkpoint(599).numbers);
  CHECK(history.checkpoint()->counters == synthetic_checkpoint(599).counters);
  CHECK(history.verify() == Digest::Right);
}

TEST_CASE("history: tables that a run has no rows for are simply empty") {
  const TmpDir dir;
  RunHeader header = synthetic_header();
  header.layers.clear();
  header.joint.clear();
  header.provenance.clear();
  header.records.clear();
  header.warnings.clear();
  {
    HistoryWriter writer(dir / "a.h5");
    writer.begin(header);
    RecordRow row = synthetic_record(1);
    row.layer_thickness.clear();
    writer.record(row);
    writer.end(RunStatus::Stopped, "asked to stop", {});
  }
  const History history(dir / "a.h5");
  CHECK(history.status() == RunStatus::Stopped);
  CHECK(history.status_text() == "asked to stop");
  CHECK(history.rows() == 1);
  CHECK(history.records()[0].layer_thickness.empty());
  CHECK(history.series("layer_thickness").empty());
  CHECK(history.joint().empty());
  CHECK(history.provenance().empty());
  CHECK(history.identity().empty());
  CHECK(history.events().empty());
  CHECK(history.warnings().empty());
  CHECK_FALSE(history.checkpoint().has_value());
  CHECK(history.verify() == Digest::Absent);
}

TEST_CASE("history: warnings of the run are added to those of the scenario, each once") {
  const TmpDir dir;
  HistoryWriter writer(dir / "a.h5");
  writer.begin(synthetic_header());
  writer.end(RunStatus::Failed, "no equilibrium at stud 2", {"an invented warning", "a late warning"});
  const History history(dir / "a.h5");
  CHECK(history.warnings() == std::vector<std::string>{"an invented warning", "a late warning"});
  CHECK(history.status() == RunStatus::Failed);
}

TEST_CASE("history: a row of the wrong length is a fault of the program, not a bent file") {
  const TmpDir dir;
  HistoryWriter writer(dir / "a.h5");
  writer.begin(synthetic_header());
  RecordRow row = synthetic_record(0);
  row.clamp.pop_back();
  CHECK_THROWS_AS(writer.record(row), std::logic_error);
}

TEST_CASE("history: a file that is there is left alone unless it may be overwritten") {
  const TmpDir dir;
  write_text(dir / "a.h5", "precious");
  const Refusal exists = refusal([&] { const HistoryWriter writer(dir / "a.h5"); });
  CHECK(exists.code == Code::FileExists);
  CHECK(has(exists.text, dir / "a.h5"));
  CHECK(read_text(dir / "a.h5") == "precious");
  {
    const HistoryWriter writer(dir / "a.h5", true);
    CHECK(read_text(dir / "a.h5") == "precious"); // until there is something better
  }
  HistoryWriter writer(dir / "a.h5", true);
  writer.begin(synthetic_header());
  CHECK(History(dir / "a.h5").title() == synthetic_header().title);
}

TEST_CASE("history: a symbolic link is followed and stays, wherever it points") {
  const TmpDir dir;
  namespace fs = std::filesystem;
  fs::create_directory(dir / "disk");
  fs::create_symlink("disk/real.h5", dir / "link.h5"); // relative to the link, to a file that is not there yet
  fs::create_symlink("link.h5", dir / "second.h5");
  {
    HistoryWriter writer(dir / "second.h5");
    writer.begin(synthetic_header());
    CHECK(fs::exists(dir / "disk/real.h5.part"));
  }
  CHECK(fs::is_symlink(dir / "link.h5"));
  CHECK(fs::is_symlink(dir / "second.h5"));
  CHECK(fs::is_regular_file(dir / "disk/real.h5"));
  CHECK_FALSE(fs::exists(dir / "disk/real.h5.part"));
  CHECK(History(dir / "link.h5").title() == synthetic_header().title);
  CHECK(refusal([&] { const HistoryWriter writer(dir / "second.h5"); }).code == Code::FileExists);
  fs::create_symlink("circle.h5", dir / "circle.h5");
  const Refusal circle = refusal([&] { const HistoryWriter writer(dir / "circle.h5"); });
  CHECK(circle.code == Code::FileWrite);
  CHECK(has(circle.text, "symbolic link"));
}

TEST_CASE("history: a second run to the same file is refused in words, until the first ends") {
  const TmpDir dir;
  const std::string path = dir / "a.h5";
  std::filesystem::create_symlink("a.h5", dir / "b.h5"); // another name for the same place
  HistoryWriter first(path);
  const auto refused = [&] {
    for (const auto& attempt : {refusal([&] { const HistoryWriter second(path, true); }),
                                refusal([&] { const HistoryWriter second(dir / "b.h5", true); })}) {
      CHECK(attempt.code == Code::FileWrite);
      CHECK(has(attempt.text, "another run is writing this file"));
    }
  };
  refused(); // before there is anything
  synthetic_start(first);
  synthetic_rows(first, 0, 10, 5);
  refused();
  const Refusal resumed = refusal([&] { (void)HistoryWriter::reopen(path); });
  CHECK(has(resumed.text, "another run is writing this file"));
  CHECK(History(path).rows() == 10); // no reader is kept away
  first.end(RunStatus::Stopped, "", {});
  CHECK_FALSE(std::filesystem::exists(path + ".part"));
  CHECK(HistoryWriter::reopen(path) != nullptr);
  CHECK_NOTHROW(HistoryWriter(path, true));
}

TEST_CASE("history: a place that cannot be written is refused at once, with the reason") {
  const TmpDir dir;
  const Refusal missing = refusal([&] { const HistoryWriter writer(dir / "no/such/folder.h5"); });
  CHECK(missing.code == Code::FileWrite);
  CHECK(has(missing.text, dir / "no/such/folder.h5"));
  CHECK(has(missing.text, "there is no folder"));
  const Refusal folder = refusal([&] { const HistoryWriter writer(dir / ""); });
  CHECK(folder.code == Code::FileWrite);
}

TEST_CASE("history: memory does not grow with the rows, nor with the file that is taken up again") {
#ifdef CLAMPFADE_SANITIZED
  MESSAGE("not checked here: sanitizers keep what was freed");
#else
  const TmpDir dir;
  const auto peak = [] {
    rusage usage{};
    ::getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024; // MiB
  };
  // By how much some work raises the peak, in a process of its own, which has none yet [MiB].
  const auto rise = [&](const std::function<void()>& work) {
    int channel[2];
    REQUIRE(::pipe(channel) == 0);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      double mib = -peak();
      try {
        work();
        mib += peak();
      } catch (...) {
        ::_exit(1); // nothing in the pipe
      }
      ::_exit(::write(channel[1], &mib, sizeof mib) == sizeof mib ? 0 : 1);
    }
    ::close(channel[1]);
    double mib = 0;
    CHECK(::read(channel[0], &mib, sizeof mib) == sizeof mib);
    ::close(channel[0]);
    ::waitpid(child, nullptr, 0);
    return mib;
  };
  struct Peaks {
    double file, written, taken_up; // MiB
  };
  const auto peaks = [&](std::size_t rows) {
    const std::string path = dir / (std::to_string(rows) + ".h5");
    Peaks p{};
    p.written = rise([&] {
      std::mt19937_64 random(20260103);
      HistoryWriter writer(path);
      synthetic_start(writer);
      RecordRow row = synthetic_record(0);
      for (std::size_t i = 0; i < rows; ++i) {
        row.time += 60;
        for (auto* list : {&row.loss, &row.loss_clamp}) {
          for (double& v : *list) {
            v = std::uniform_real_distribution<double>(0, 1)(random); // cannot be packed
          }
        }
        writer.record(row);
        writer.steps(synthetic_steps(i));
        writer.event(synthetic_event(i));
      }
      writer.checkpoint(synthetic_checkpoint(1)); // not one before: the number of rows must send them to the disk
    });
    p.taken_up = rise([&] { HistoryWriter::reopen(path)->end(RunStatus::Complete, "", {}); });
    p.file = static_cast<double>(std::filesystem::file_size(path)) / 1048576;
    return p;
  };
  const Peaks few = peaks(4000);
  const Peaks many = peaks(64000);
  CAPTURE(few.written);
  CAPTURE(few.taken_up);
  CHECK(many.file - few.file > 32);
  CHECK(many.written - few.written < 20); // caches fill
  CHECK(many.taken_up - few.taken_up < 20);
#endif
}

TEST_CASE("history: when the disk refuses, path and reason are told and the last checkpoint stays") {
  const TmpDir dir;
  const std::string path = dir / "a.h5";
  int channel[2];
  REQUIRE(::pipe(channel) == 0);
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    std::signal(SIGXFSZ, SIG_IGN); // as the program's main does
    const rlimit limit{400000, 400000};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    std::string said = "nothing was refused";
    try {
      HistoryWriter writer(path);
      synthetic_start(writer);
      synthetic_rows(writer, 0, 100000, 50);
    } catch (const FileError& e) {
      said = e.what();
    }
    // Nor has HDF5 come to harm: this process can still read and, a little, write.
    if (History(path).rows() == 0) {
      said = "no rows";
    }
    write_whole(path + ".other", 50);
    std::filesystem::remove(path + ".other");
    ::_exit(::write(channel[1], said.data(), said.size()) > 0 ? 0 : 1);
  }
  ::close(channel[1]);
  std::string said(4000, '\0');
  const ssize_t n = ::read(channel[0], said.data(), said.size());
  ::close(channel[0]);
  said.resize(static_cast<std::size_t>(n > 0 ? n : 0));
  ::waitpid(child, nullptr, 0);
  CAPTURE(said);
  CHECK(has(said, path));
  CHECK(has(said, "File too large"));
  const History history(path);
  CHECK(history.rows() > 0);
  CHECK(history.rows() % 50 == 0);
  check_rows(history, history.rows());
  CHECK_FALSE(std::filesystem::exists(path + ".part"));
}

TEST_CASE("history: killed at any moment, the file opens, is right, and can be continued to the same result") {
  const TmpDir dir;
  constexpr std::size_t every = 7;
  std::mt19937 random(20260101); // any seed will do: the moment depends on the machine anyway
  std::size_t most_rows = 0;
  for (int trial = 0; trial < 20; ++trial) {
    const std::string path = dir / ("killed" + std::to_string(trial) + ".h5");
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      try {
        HistoryWriter writer(path);
        synthetic_start(writer);
        synthetic_rows(writer, 0, 1000000, every);
      } catch (...) {
      }
      ::_exit(0);
    }
    // After some replacements of the file, counted so that a slow machine does as much as a fast one, and a bit.
    const int replacements = std::uniform_int_distribution<int>(1, 12)(random);
    ino_t inode = 0;
    const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(20);
    for (int seen = 0; seen < replacements && std::chrono::steady_clock::now() < deadline;) {
      struct stat info {};
      if (::stat(path.c_str(), &info) == 0 && info.st_ino != inode) {
        inode = info.st_ino;
        ++seen;
      }
      std::this_thread::sleep_for(std::chrono::microseconds(50));
    }
    std::this_thread::sleep_for(std::chrono::microseconds(std::uniform_int_distribution<int>(0, 4000)(random)));
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    REQUIRE(WIFSIGNALED(status));

    CAPTURE(trial);
    std::size_t done = 0;
    {
      const History history(path);
      CHECK(history.status() == RunStatus::Running);
      done = history.rows();
      CHECK(done % every == 0);
      check_rows(history, done);
      const auto checkpoint = history.checkpoint();
      CHECK(checkpoint.has_value() == (done > 0));
      if (checkpoint) {
        CHECK(checkpoint->numbers == synthetic_checkpoint(done - 1).numbers);
      }
    }
    most_rows = std::max(most_rows, done);
    if (done == 0) {
      continue;
    }
    {
      const auto writer = HistoryWriter::reopen(path);
      synthetic_rows(*writer, done, done + 20, every);
      writer->end(RunStatus::Complete, "", {});
    }
    write_whole(dir / "straight.h5", done + 20, every);
    const History continued(path);
    CHECK(continued.verify() == Digest::Right);
    CHECK(continued.digest() == History(dir / "straight.h5").digest());
    std::filesystem::remove(dir / "straight.h5");
  }
  CHECK(most_rows > 0);
}

TEST_CASE("history: continuing drops what came after the last checkpoint") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 30, 10);
    // Rows that a resumed run will not repeat.
    for (int i = 0; i < 5; ++i) {
      writer.record(synthetic_record(999));
      writer.event(synthetic_event(999));
      writer.steps(synthetic_steps(999));
      writer.act(synthetic_act(99));
    }
    writer.end(RunStatus::Stopped, "asked to stop", {});
  }
  CHECK(History(dir / "a.h5").rows() == 35);
  {
    const auto writer = HistoryWriter::reopen(dir / "a.h5");
    CHECK(History(dir / "a.h5").rows() == 30);
    CHECK(History(dir / "a.h5").status() == RunStatus::Running);
    CHECK(History(dir / "a.h5").status_text().empty());
    writer->begin(synthetic_header());
    synthetic_rows(*writer, 30, 65, 10);
    writer->end(RunStatus::Complete, "", {});
  }
  write_whole(dir / "straight.h5", 65, 13); // when checkpoints were made is no result
  const History resumed(dir / "a.h5");
  check_rows(resumed, 65);
  CHECK(resumed.events().size() == 21);
  CHECK(resumed.acts().size() == 6);
  CHECK(resumed.digest() == History(dir / "straight.h5").digest());
}

TEST_CASE("history: only an unfinished run of the same scenario can be continued") {
  const TmpDir dir;
  write_whole(dir / "whole.h5", 10);
  CHECK(has(refusal([&] { HistoryWriter::reopen(dir / "whole.h5"); }).text, "the run is complete"));
  {
    HistoryWriter writer(dir / "young.h5");
    writer.begin(synthetic_header());
  }
  CHECK(has(refusal([&] { HistoryWriter::reopen(dir / "young.h5"); }).text, "before its first checkpoint"));
  {
    HistoryWriter writer(dir / "other.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 10, 5);
  }
  const auto writer = HistoryWriter::reopen(dir / "other.h5");
  RunHeader header = synthetic_header();
  header.scenario_text += "# changed\n";
  CHECK(has(refusal([&] { writer->begin(header); }).text, "another scenario"));
}

TEST_CASE("history: what cannot be read is refused in words") {
  const TmpDir dir;
  const auto open = [&](const std::string& name) { return refusal([&] { const History history(dir / name); }); };
  const Refusal missing = open("missing.h5");
  CHECK(missing.code == Code::FileMissing);
  CHECK(has(missing.text, "No such file or directory"));
  CHECK(open("").code == Code::FileMissing);

  write_text(dir / "words.h5", "these are words, not data");
  const Refusal words = open("words.h5");
  CHECK(words.code == Code::FileVersion);
  CHECK(has(words.text, dir / "words.h5"));
  CHECK(has(words.text, "not an HDF5 file"));
  write_text(dir / "empty.h5", "");
  CHECK(open("empty.h5").code == Code::FileTruncated);

  write_whole(dir / "whole.h5", 50);
  const std::string whole = read_text(dir / "whole.h5");
  for (const double share : {0.001, 0.1, 0.5, 0.9, 0.999}) {
    CAPTURE(share);
    write_text(dir / "cut.h5", whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))));
    const Refusal cut = open("cut.h5");
    CHECK(cut.code == Code::FileTruncated);
    CHECK(has(cut.text, "cut short or damaged"));
  }
}

TEST_CASE("history: files of another type or format are refused with both versions named") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  const auto changed = [&](const std::string& change) {
    write_whole(dir / "a.h5", 5);
    const CliResult result =
        python("import h5py, sys, numpy\nf = h5py.File(sys.argv[1], 'r+')\n" + change, dir / "a.h5");
    REQUIRE_MESSAGE(result.exit == 0, result.err);
    seal_again(dir / "a.h5");
    Refusal r = refusal([&] { const History history(dir / "a.h5"); });
    std::filesystem::rename(dir / "a.h5", dir / "b.h5");
    return r;
  };
  const Refusal newer = changed("f.attrs['format_version'] = [2, 3]\n");
  CHECK(newer.code == Code::FileVersion);
  CHECK(has(newer.text, "format 2.3"));
  CHECK(has(newer.text, "reads format 1.1"));
  CHECK(has(newer.text, "use a newer program"));
  const Refusal older = changed("f.attrs['format_version'] = [0, 9]\n");
  CHECK(has(older.text, "format 0.9"));
  CHECK(has(older.text, "run the scenario again"));
  const Refusal other = changed("f.attrs['filetype'] = numpy.bytes_(b'something-else')\n");
  CHECK(other.code == Code::FileVersion);
  CHECK(has(other.text, "something-else"));
  CHECK(has(other.text, "clampfade-history"));
  CHECK(has(changed("del f.attrs['filetype']\n").text, "HDF5 file of another kind"));
  CHECK(has(changed("f['time'].attrs['valid_rows'] = 99\n").text, "rows are missing"));
  CHECK(changed("f.attrs['format_version'] = [1, 7]\n").code == Code::Internal);
  CHECK(has(History(dir / "b.h5").warnings().back(), "newer program"));
}

TEST_CASE("history: a file of an older minor format is read without what that did not have, and not continued") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 10, 5);
  }
  REQUIRE(python("import h5py, sys\nf = h5py.File(sys.argv[1], 'r+')\nf.attrs['format_version'] = [1, 0]\n"
                 "del f['steps/resolution']\n",
                 dir / "a.h5")
              .exit == 0);
  seal_again(dir / "a.h5");
  const std::vector<StepsRow> steps = History(dir / "a.h5").steps();
  REQUIRE(steps.size() > 2);
  CHECK(steps[1].controlled_by == synthetic_steps(1).controlled_by);
  CHECK(steps[1].resolution.empty());
  const Refusal later = refusal([&] { HistoryWriter::reopen(dir / "a.h5"); });
  CHECK(later.code == Code::FileVersion);
  CHECK(has(later.text, "format 1.0"));
  CHECK(has(later.text, "run the scenario again"));
}

TEST_CASE("history: rows beyond the watermark are not read") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  write_whole(dir / "a.h5", 20);
  REQUIRE(
      python("import h5py, sys\nf = h5py.File(sys.argv[1], 'r+')\nf['time'].attrs['valid_rows'] = 14\n", dir / "a.h5")
          .exit == 0);
  seal_again(dir / "a.h5");
  const History history(dir / "a.h5");
  check_rows(history, 14);
  CHECK(history.series("clamp").size() == 14 * kStuds);
}

TEST_CASE("history: the digest notices a number changed by a tool that mends the checksum") {
  if (!python_has("h5py")) {
    return;
  }
  for (const std::string change : {"f['clamp'][3, 1] += 1\n", "f['event_kind'][0] = 'open'\n", "del f['stops']\n",
                                   "f['joint/required_clamp'][0] = 1\n"}) {
    CAPTURE(change);
    const TmpDir dir;
    write_whole(dir / "a.h5", 20);
    CHECK(History(dir / "a.h5").verify() == Digest::Right);
    REQUIRE(python("import h5py, sys\nf = h5py.File(sys.argv[1], 'r+')\n" + change, dir / "a.h5").exit == 0);
    seal_again(dir / "a.h5");
    CHECK(History(dir / "a.h5").verify() == Digest::Wrong);
  }
}

TEST_CASE("history: a flipped byte anywhere is noticed") {
  const TmpDir dir;
  write_whole(dir / "a.h5", 20);
  const std::string whole = read_text(dir / "a.h5");
  constexpr std::size_t trials = 300;
  for (std::size_t i = 0; i < trials; ++i) {
    std::string bent = whole;
    const std::size_t at = i * whole.size() / trials;
    bent[at] = static_cast<char>(bent[at] ^ (1 << (i % 8)));
    write_text(dir / "bent.h5", bent);
    CAPTURE(at);
    const Refusal r = refusal([&] { const History history(dir / "bent.h5"); });
    // The first bytes say what kind of file it is.
    CHECK(r.code == (at < 8 ? Code::FileVersion : Code::FileTruncated));
    CHECK(has(r.text, dir / "bent.h5"));
  }
}

TEST_CASE("history: one that another program has written to is neither read nor gone on with, and left as it is") {
  const TmpDir dir;
  write_whole(dir / "a.h5", 20);
  {
    HistoryWriter writer(dir / "stopped.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 10, 5);
    writer.end(RunStatus::Stopped, "on request", {});
  }
  for (const std::string& path : {dir / "a.h5", dir / "stopped.h5"}) {
    CAPTURE(path);
    CHECK(filetype_of(path) == kHistoryFileType);
    // Nothing is changed: HDF5 itself cuts the seal off.
    h5::quiet();
    h5::write_attribute(h5::open_on_disk(path), "remark", "looked at");
    const std::string before = read_text(path);
    CHECK(before.find("\nclampfade seal") == std::string::npos);
    for (const Refusal& r :
         {refusal([&] { const History history(path); }), refusal([&] { (void)HistoryWriter::reopen(path); })}) {
      CHECK(r.code == Code::FileTruncated);
      CHECK(has(r.text, path));
      CHECK(has(r.text, "the seal at its end is missing: another program has written to it"));
    }
    CHECK(filetype_of(path).empty());
    const bool untouched = read_text(path) == before; // which nobody wants to see
    CHECK(untouched);
  }
}

TEST_CASE("history: h5py and xarray read it with named axes, units and texts") {
  if (!python_has("h5py, xarray, netCDF4")) {
    return;
  }
  const TmpDir dir;
  write_whole(dir / "a.h5", 30);
  const CliResult h5py = python(R"(
import h5py, sys
f = h5py.File(sys.argv[1], 'r')
assert f.attrs['filetype'] == b'clampfade-history', f.attrs['filetype']
assert list(f.attrs['format_version']) == [1, 1]
assert f['scenario'].asstr()[0].startswith('schema: 1')
assert list(f['layer'].asstr()[:])[1] == 'disc | nut: disc nut_side'
assert f['loss'].shape == (30, 3, 11) and f['loss'].dims[2].keys() == ['mechanism']
assert f['clamp'].dtype == '<f8' and f['tightening_stud'].dtype == '<i8'
def look(name, d):
    if isinstance(d, h5py.Dataset):
        assert 'units' in d.attrs and 'long_name' in d.attrs, name
        assert d.chunks, name
        if h5py.check_string_dtype(d.dtype) is None:
            assert d.fletcher32 and d.shuffle and d.compression == 'gzip', name
        if len(d) > 0: d[0], d[-1]
f.visititems(look)
)",
                                dir / "a.h5");
  CHECK_MESSAGE(h5py.exit == 0, h5py.err);
  const CliResult xarray = python(R"(
import sys, xarray
d = xarray.open_dataset(sys.argv[1], engine='netcdf4')
assert d.clamp.dims == ('time', 'stud'), d.clamp.dims
assert d.loss.dims == ('time', 'stud', 'mechanism')
assert d.temperature.dims == ('time', 'node') and d.layer_thickness.dims == ('time', 'stud', 'layer')
assert d.tightening_clamp.dims == ('act',) and d.event_kind.dims == ('event',)
assert float(d.clamp.sel(stud='3', time=7200.0)) == 180e3 - 2/3 + 14
assert list(d.mechanism.values)[:2] == ['embedding', 'unseated']
assert d.clamp.attrs['units'] == 'N' and d.event_kind.values[0] == 'gap'
assert d.attrs['title'].startswith('Invented wheel')
c = xarray.open_dataset(sys.argv[1], engine='netcdf4', group='joint/design_cases')
assert float(c.required.sel(required_labels='corner')) == 40e3
s = xarray.open_dataset(sys.argv[1], engine='netcdf4', group='steps')
assert s.controlled_by.values[0] == '' and s.controlled_by.values[1] == 'stud 1: embedding'
)",
                                  dir / "a.h5");
  CHECK_MESSAGE(xarray.exit == 0, xarray.err);
}

TEST_CASE("history: a reader may look on while a run writes, and sees one state") {
  const TmpDir dir;
  HistoryWriter writer(dir / "a.h5");
  synthetic_start(writer);
  synthetic_rows(writer, 0, 20, 10);
  const History early(dir / "a.h5");
  synthetic_rows(writer, 20, 40, 10);
  check_rows(early, 20);
  check_rows(History(dir / "a.h5"), 40);
}

TEST_CASE("history: every dataset and attribute is described in the format page") {
  const std::string page = read_text(std::string(CLAMPFADE_SOURCE) + "/solver/HISTORY_FORMAT.md");
  const TmpDir dir;
  write_whole(dir / "a.h5", 5);
  const CliResult listing = run_cli("h5ls -r " + quote(dir / "a.h5"));
  if (listing.exit != 0) {
    MESSAGE("not checked here: there is no h5ls");
    return;
  }
  std::istringstream lines(listing.out);
  std::size_t seen = 0;
  for (std::string line; std::getline(lines, line);) {
    const std::string name = line.substr(0, line.find(' '));
    if (!has(line, "Dataset") || name.rfind("/joint/", 0) == 0) {
      continue; // the joint's figures are the solver's, not the format's
    }
    CAPTURE(name);
    CHECK(has(page, "`" + name + "`"));
    ++seen;
  }
  CHECK(seen > 40);
}

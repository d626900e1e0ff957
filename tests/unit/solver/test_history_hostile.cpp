// Histories that another program has changed, without a seal and sound to HDF5: what they claim is not believed.
#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/prediction_reader.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <array>
#include <functional>
#include <string>
#include <sys/stat.h>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

void write_synthetic(const std::string& path) {
  HistoryWriter writer(path);
  synthetic_start(writer);
  synthetic_rows(writer, 0, 12, 5);
  writer.end(RunStatus::Complete, "", {});
}

/// What reading says of the synthetic history after `edit`; empty if it is read without complaint.
std::string complaint(const std::function<void(hid_t)>& edit, const std::function<void(const History&)>& read) {
  const TmpDir folder;
  const std::string path = folder / "edited.h5";
  write_synthetic(path);
  h5::quiet();
  {
    const h5::Id file = h5::open_on_disk(path); // which takes the seal off
    edit(file);
  }
  try {
    const History history(path);
    read(history);
  } catch (const FileError& e) {
    CHECK(e.code() == Code::FileTruncated);
    return e.what();
  }
  return "";
}

void put(hid_t file, const char* path, hsize_t row, std::int64_t value) {
  h5::write_rows(h5::open_dataset(file, path), H5T_NATIVE_INT64, row, 1, &value);
}

void replace_by_integers(hid_t file, const std::string& path, const std::vector<hsize_t>& dims) {
  h5::check(H5Ldelete(file, path.c_str(), H5P_DEFAULT), "delete");
  (void)h5::create_dataset(file, path, H5T_STD_I64LE, dims, false, "1", "of another type");
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

const auto nothing = [](const History& /*history*/) {};

} // namespace

TEST_CASE("a history without its seal is read as long as nothing in it is wrong") {
  CHECK(complaint([](hid_t) {},
                  [](const History& h) {
                    CHECK(h.acts().size() == 2 * kStuds);
                    CHECK(h.events().size() == 4);
                    CHECK(h.series("clamp").size() == 12 * kStuds);
                  })
            .empty());
}

// The heap of texts of HDF5 has no checksum, and HDF5 1.10.8 follows lengths in it beyond its end. The layout of a
// heap: HDF5 File Format Specification 2.0, III.E: "GCOL", its size at 8, of its first text the length at 24.
TEST_CASE("a history without its seal on which HDF5 crashes is damaged") {
  const TmpDir folder;
  const std::string path = folder / "heap.h5";
  write_synthetic(path);
  const std::string whole = read_text(path);
  const std::string content = whole.substr(0, whole.rfind("\nclampfade seal"));
  int told = 0;
  for (std::size_t heap = content.find("GCOL"); heap != std::string::npos; heap = content.find("GCOL", heap + 4)) {
    for (const std::size_t at : {heap + 8, heap + 24}) {
      CAPTURE(at);
      std::string bent = content;
      bent.replace(at, 8, "\xff\xff\xff\xff\xff\xff\xff\x7f");
      write_text(path, bent);
      CHECK(filetype_of(path) == kHistoryFileType); // which the heap has no part in
      try {
        const History history(path);
        (void)history.verify();
      } catch (const FileError& e) {
        CHECK(e.code() == Code::FileTruncated);
        told += has(e.what(), "it has no seal, and reading it ") ? 1 : 0;
      }
    }
  }
  CHECK(told > 0);
}

TEST_CASE("a history whose checkpoint is a single number without an axis is damaged") {
  const std::string said = complaint(
      [](hid_t file) {
        const char* const path = "/checkpoint/numbers";
        h5::check(H5Ldelete(file, path, H5P_DEFAULT), "delete");
        const h5::Id space(H5Screate(H5S_SCALAR), H5Sclose, "a scalar");
        const h5::Id dataset(H5Dcreate2(file, path, H5T_IEEE_F64LE, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT),
                             H5Dclose, "a scalar");
      },
      [](const History& h) { (void)h.checkpoint(); });
  CHECK(has(said, "/checkpoint/numbers does not have the shape"));
}

TEST_CASE("a history without its seal is acted on only where its digest vouches for it, and never gone on with") {
  const TmpDir folder;
  const std::string path = folder / "a.h5";
  const auto refusal = [&](const std::function<void()>& act) -> std::string {
    try {
      act();
    } catch (const FileError& e) {
      CHECK(e.code() == Code::FileTruncated);
      return e.what();
    }
    return "";
  };
  const auto act = [&] { (void)unchanged_history(path); };
  write_synthetic(path);
  CHECK(refusal(act).empty());
  h5::quiet();
  {
    const h5::Id file = h5::open_on_disk(path);
    h5::write_attribute(file, "remark", "looked at"); // another attribute moves no value
  }
  CHECK(refusal(act).empty());
  std::vector<std::string> warnings;
  CHECK(read_prediction(path, warnings).title == History(path).title());
  {
    const h5::Id file = h5::open_on_disk(path);
    std::vector<double> row(kStuds, 1.5e5);
    h5::write_rows(h5::open_dataset(file, "/clamp_cold"), H5T_NATIVE_DOUBLE, 3, 1, row.data());
  }
  CHECK(has(refusal(act), "its digest tells that its values are not those of the run"));
  CHECK(has(refusal([&] { (void)read_prediction(path, warnings); }), "its digest tells"));
  {
    const h5::Id file = h5::open_on_disk(path);
    h5::check(H5Adelete(file, "digest"), "delete");
  }
  CHECK(has(refusal(act), "no digest to tell"));

  {
    HistoryWriter writer(folder / "stopped.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 12, 5);
    writer.end(RunStatus::Stopped, "on request", {});
  }
  CHECK(refusal([&] { (void)HistoryWriter::reopen(folder / "stopped.h5"); }).empty());
  const std::string whole = read_text(folder / "stopped.h5");
  write_text(folder / "stopped.h5", whole.substr(0, whole.rfind("\nclampfade seal")));
  const std::string before = read_text(folder / "stopped.h5");
  CHECK(has(refusal([&] { (void)HistoryWriter::reopen(folder / "stopped.h5"); }), "the seal at its end is missing"));
  const bool untouched = read_text(folder / "stopped.h5") == before; // which nobody wants to see
  CHECK(untouched);
}

TEST_CASE("a history without its seal whose values have another unit is damaged") {
  const std::string said =
      complaint([](hid_t file) { h5::write_attribute(h5::open_dataset(file, "/clamp_cold"), "units", "kN"); },
                [](const History& h) { (void)h.dataset("clamp_cold"); });
  CHECK(has(said, "the unit of /clamp_cold is \"kN\" and not N"));
}

TEST_CASE("a history without its seal holds all that it shows: no link and no values elsewhere") {
  for (const bool external : {false, true}) {
    CAPTURE(external);
    const std::string said = complaint(
        [&](hid_t file) {
          h5::check(H5Ldelete(file, "/clamp", H5P_DEFAULT), "delete");
          if (external) {
            h5::check(H5Lcreate_external("victim.h5", "/clamp", file, "/clamp", H5P_DEFAULT, H5P_DEFAULT), "link");
          } else {
            const h5::Id made(H5Pcreate(H5P_DATASET_CREATE), H5Pclose, "values in a pipe");
            const TmpDir pipes;
            const std::string pipe = pipes / "pipe"; // nobody will ever write to it
            REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
            h5::check(H5Pset_external(made, pipe.c_str(), 0, 36 * 8), "values in a pipe");
            const hsize_t dims[] = {12, 3};
            const h5::Id space(H5Screate_simple(2, dims, nullptr), H5Sclose, "shape");
            const h5::Id dataset(H5Dcreate2(file, "/clamp", H5T_IEEE_F64LE, space, H5P_DEFAULT, made, H5P_DEFAULT),
                                 H5Dclose, "values in a pipe");
          }
        },
        [](const History& h) { (void)h.series("clamp"); });
    CHECK(has(said, external ? "a link leads elsewhere" : "has its values in another file"));
  }
}

TEST_CASE("a history whose acts or events name a stud that is not there is damaged") {
  const auto acts = [](const History& h) { (void)h.acts(); };
  const auto events = [](const History& h) { (void)h.events(); };
  for (const std::int64_t stud : {std::int64_t{3}, std::int64_t{-1}, std::int64_t{1} << 40U}) {
    CAPTURE(stud);
    CHECK(has(complaint([&](hid_t f) { put(f, "/tightening_stud", 1, stud); }, acts), "stud that is not there"));
  }
  CHECK(has(complaint([](hid_t f) { put(f, "/event_stud", 0, 3); }, events), "stud that is not there"));
  CHECK(has(complaint([](hid_t f) { put(f, "/event_stud", 0, -2); }, events), "stud that is not there"));
  CHECK(complaint([](hid_t f) { put(f, "/event_stud", 0, -1); }, events).empty());
}

TEST_CASE("a history whose values are of another type is damaged, not short") {
  const auto series = [](const History& h) { (void)h.series("clamp"); };
  const auto records = [](const History& h) { (void)h.records(); };
  const auto edit = [](hid_t f) { replace_by_integers(f, "/clamp", {12, kStuds}); };
  CHECK(has(complaint(edit, series), "of another type"));
  CHECK(has(complaint(edit, records), "of another type"));
  CHECK(has(complaint([](hid_t f) { replace_by_integers(f, "/clamp", {12, kStuds + 1}); }, series), "shape"));
}

TEST_CASE("a history whose texts could move a terminal's cursor is damaged") {
  for (const std::string text : {"\x1b[31mred", "\xff\xfe",
                                 "\xc2\x9b"
                                 "31m"}) {
    CHECK(has(complaint([&](hid_t f) { h5::write_attribute(f, "title", text); }, nothing), "control characters"));
    CHECK(has(complaint([&](hid_t f) { h5::write_texts(h5::open_dataset(f, "/event_text"), 0, {text}); },
                        [](const History& h) { (void)h.events(); }),
              "control characters"));
  }
  CHECK(complaint([](hid_t f) { h5::write_attribute(f, "title", "\u2013 \u00b5m\tin two\nlines"); }, nothing).empty());
}

TEST_CASE("a history whose figures are of another type or number is damaged") {
  const auto figures = [](const History& h) { (void)h.joint(); };
  const auto edit = [](hid_t f) { replace_by_integers(f, "/joint/required_clamp", {1}); };
  CHECK(has(complaint(edit, figures), "neither numbers nor texts"));
  const auto prediction = [](const History& h) {
    std::vector<std::string> warnings;
    (void)read_prediction(h.path(), warnings);
  };
  CHECK(complaint([](hid_t) {}, prediction).empty());
  const auto text = [](hid_t f) {
    h5::check(H5Ldelete(f, "/joint/required_clamp", H5P_DEFAULT), "delete");
    (void)h5::create_texts(f, "/joint/required_clamp", {"much"}, "N", "clamp needed");
  };
  CHECK(has(complaint(text, prediction), "its digest tells"));
}

TEST_CASE("a history without studs is damaged") {
  CHECK(has(complaint([](hid_t f) { h5::check(H5Ldelete(f, "/stud", H5P_DEFAULT), "delete"); }, nothing), "no studs"));
}

// Histories that another program has changed and sealed, sound to HDF5: what they claim is not believed.
#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/prediction_reader.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <array>
#include <functional>
#include <string>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// What reading says of the synthetic history after `edit`; empty if it is read without complaint.
std::string complaint(const std::function<void(hid_t)>& edit, const std::function<void(const History&)>& read) {
  const TmpDir folder;
  const std::string path = folder / "edited.h5";
  {
    HistoryWriter writer(path);
    synthetic_start(writer);
    synthetic_rows(writer, 0, 12, 5);
    writer.end(RunStatus::Complete, "", {});
  }
  h5::quiet();
  {
    const h5::Id file = h5::open_on_disk(path); // which takes the seal off
    edit(file);
  }
  seal_again(path);
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

TEST_CASE("a history that is sealed again is read as long as nothing in it is wrong") {
  CHECK(complaint([](hid_t) {},
                  [](const History& h) {
                    CHECK(h.acts().size() == 2 * kStuds);
                    CHECK(h.events().size() == 4);
                    CHECK(h.series("clamp").size() == 12 * kStuds);
                  })
            .empty());
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
  CHECK(has(complaint(text, prediction), "not one number"));
}

TEST_CASE("a history without studs is damaged") {
  CHECK(has(complaint([](hid_t f) { h5::check(H5Ldelete(f, "/stud", H5P_DEFAULT), "delete"); }, nothing), "no studs"));
}

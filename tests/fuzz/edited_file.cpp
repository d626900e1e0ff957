#include "tests/fuzz/edited_file.hpp"

#include "solver/io/fit_file.hpp"
#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/study_file.hpp"
#include "solver/simulation.hpp"
#include "tests/support/fit_file_example.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

namespace clampfade::fuzz {

namespace {

void write_run(const std::string& path) {
  test::ScenarioText text;
  text.studs = 4;
  text.calendar = "working_days_per_week: 1, weeks: 1";
  text.record = "every: 1 d";
  text.disc += ", head_side: {coating: paint, thickness: 80 um}";
  HistoryWriter writer(path);
  RunOptions options;
  options.checkpoint_every = 0;
  std::size_t days = 0;
  options.progress = [&](double /*time*/, double /*end*/) { return ++days < 3; };
  (void)run(text.scenario(), writer, options);
}

std::vector<char> good_file(FileKind kind) {
  const test::TmpDir folder;
  const std::string path = folder / "good.h5";
  switch (kind) {
  case FileKind::Run:
    write_run(path);
    break;
  case FileKind::Invented: {
    HistoryWriter writer(path);
    test::synthetic_start(writer);
    test::synthetic_rows(writer, 0, 12, 5);
    writer.end(RunStatus::Complete, "", {"one more"});
    break;
  }
  case FileKind::Plan:
    PlanWriter(path).write(test::plan_example());
    break;
  case FileKind::Sweep:
    StudyWriter(path).write(test::grid_example());
    break;
  case FileKind::Sample:
    StudyWriter(path).write(test::sample_example());
    break;
  case FileKind::Fit:
    FitWriter(path).write(test::fit_file_example());
    break;
  }
  const std::string content = test::content_of(path);
  return {content.begin(), content.end()};
}

const std::vector<char>& good(FileKind kind) {
  static std::array<std::vector<char>, kFileKinds> all;
  std::vector<char>& one = all.at(static_cast<std::size_t>(kind));
  if (one.empty()) {
    one = good_file(kind);
  }
  return one;
}

const std::vector<std::string>& texts() {
  static const std::vector<std::string> all = {"",
                                               "</script><x-evil onload='\"x\"'>",
                                               "\x1b[31mred",
                                               "\xff\xfe not UTF-8 \xc3",
                                               "two\nlines",
                                               std::string(5000, 'x'),
                                               "complete",
                                               "stopped",
                                               "running",
                                               "nan",
                                               "%s%n{}",
                                               "=1+1",
                                               "schema: 1\n",
                                               "../../x",
                                               "\xc2\x9b"
                                               "31m"};
  return all;
}

std::string some_text(Input& input) {
  const std::size_t k = input.index(texts().size() + 1);
  return k < texts().size() ? texts()[k] : input.text(16);
}

double some_real(Input& input) {
  using limits = std::numeric_limits<double>;
  static constexpr std::array<double, 14> some = {
      0,   -0.0, 1,    -1, limits::quiet_NaN(), limits::infinity(), -limits::infinity(), 1e308, -1e308, 1e-308,
      1e5, 3e9,  1e18, 0.5};
  const std::size_t k = input.index(some.size() + 1);
  return k < some.size() ? some[k] : input.real();
}

std::int64_t some_integer(Input& input) {
  using limits = std::numeric_limits<std::int64_t>;
  static constexpr std::array<std::int64_t, 12> some = {
      0, 1, -1, 2, 3, 100, 1 << 20, std::int64_t{1} << 31U, std::int64_t{1} << 32U, limits::max(), limits::min(), -2};
  const std::size_t k = input.index(some.size() + 1);
  return k < some.size() ? some[k] : static_cast<std::int64_t>(input.byte());
}

/// A change by HDF5's own means: its structure stays sound.
void change(hid_t file, Input& input) {
  const unsigned what = input.byte() % 8;
  const std::vector<std::string> paths = h5::dataset_paths(file, H5_INDEX_NAME);
  if (paths.empty()) {
    return;
  }
  const std::string path = "/" + paths[input.index(paths.size())];
  const h5::Id dataset = h5::open_dataset(file, path);
  const h5::Id type(H5Dget_type(dataset), H5Tclose, "type");
  const std::vector<hsize_t> shape = h5::dims(dataset);
  static constexpr std::array<const char*, 14> attributes = {
      "valid_rows", "units",  "long_name", "title",    "status",         "status_text",    "warnings",
      "end_time",   "sha256", "digest",    "filetype", "format_version", "required_clamp", "kind"};
  switch (what) {
  case 0:
  case 1:
  case 2: { // one value
    std::size_t row_values = 1;
    for (std::size_t i = 1; i < shape.size(); ++i) {
      row_values *= shape[i];
    }
    if (shape.empty() || shape[0] == 0 || row_values == 0) {
      return;
    }
    const std::size_t row = input.index(shape[0]);
    const std::size_t at = input.index(row_values);
    if (H5Tget_class(type) == H5T_FLOAT) {
      std::vector<double> values(row_values);
      h5::read_rows(dataset, H5T_NATIVE_DOUBLE, row, 1, values.data());
      values[at] = some_real(input);
      h5::write_rows(dataset, H5T_NATIVE_DOUBLE, row, 1, values.data());
    } else if (H5Tget_class(type) == H5T_INTEGER) {
      std::vector<std::int64_t> values(row_values);
      h5::read_rows(dataset, H5T_NATIVE_INT64, row, 1, values.data());
      values[at] = some_integer(input);
      h5::write_rows(dataset, H5T_NATIVE_INT64, row, 1, values.data());
    } else {
      std::vector<std::string> values = h5::read_texts(dataset, row, 1);
      values.at(at) = some_text(input);
      h5::write_texts(dataset, row, values);
    }
    return;
  }
  case 3: { // an attribute of the file or of a dataset
    const hid_t object = input.byte() % 2 == 0 ? file : static_cast<hid_t>(dataset);
    const char* name = attributes.at(input.index(attributes.size()));
    switch (input.byte() % 4) {
    case 0:
      return h5::write_attribute(object, name, some_real(input));
    case 1: {
      std::vector<std::int64_t> values(1 + input.byte() % 2);
      for (std::int64_t& v : values) {
        v = some_integer(input);
      }
      return h5::write_attribute(object, name, values);
    }
    case 2:
      return h5::write_attribute(object, name, some_text(input));
    default:
      if (H5Aexists(object, name) > 0) {
        h5::check(H5Adelete(object, name), "take an attribute away");
      }
      return;
    }
  }
  case 4: // gone
    h5::check(H5Ldelete(file, path.c_str(), H5P_DEFAULT), "take a dataset away");
    return;
  case 5: { // longer or shorter
    std::vector<hsize_t> longer = shape;
    if (!longer.empty()) {
      longer[0] = input.byte();
      h5::check(H5Dset_extent(dataset, longer.data()), "another length");
    }
    return;
  }
  case 6: { // another dataset in its place
    h5::check(H5Ldelete(file, path.c_str(), H5P_DEFAULT), "take a dataset away");
    std::vector<hsize_t> other(1 + input.byte() % 3);
    for (hsize_t& n : other) {
      n = 1 + input.byte() % 5;
    }
    const unsigned kind = input.byte() % 4;
    if (kind == 0) {
      const h5::Id space(H5Screate(H5S_SCALAR), H5Sclose, "shape");
      const h5::Id single(H5Dcreate2(file, path.c_str(), H5T_IEEE_F64LE, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT),
                          H5Dclose, "scalar");
    } else {
      (void)h5::create_dataset(file, path,
                               kind == 1   ? H5T_STD_I64LE
                               : kind == 2 ? H5T_IEEE_F64LE
                                           : h5::text_type(),
                               other, false, "1", "another");
    }
    return;
  }
  default: { // a link of another name to it
    const std::string second = "/" + paths[input.index(paths.size())];
    if (second != path) {
      h5::check(H5Ldelete(file, second.c_str(), H5P_DEFAULT), "take a dataset away");
      h5::check(H5Lcreate_hard(file, path.c_str(), file, second.c_str(), H5P_DEFAULT, H5P_DEFAULT), "link");
    }
  }
  }
}

std::vector<char> changed(const std::vector<char>& content, Input& input, unsigned changes) {
  if (changes == 0) {
    return content;
  }
  const h5::Id access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "file access");
  h5::check(H5Pset_fapl_core(access, std::size_t{1} << 18U, false), "memory driver");
  // The library copies what it is given.
  std::vector<char> image = content;
  h5::check(H5Pset_file_image(access, image.data(), image.size()), "image");
  const h5::Id file(H5Fopen("edited", H5F_ACC_RDWR, access), H5Fclose, "open the good file");
  for (unsigned i = 0; i < changes; ++i) {
    try {
      change(file, input);
    } catch (const h5::Error&) { // it cannot be changed so: as it was
    }
  }
  return h5::image(file);
}

} // namespace

unsigned Input::byte() {
  if (bytes_.empty()) {
    return 0;
  }
  const unsigned first = bytes_.front();
  bytes_ = bytes_.subspan(1);
  return first;
}

std::size_t Input::index(std::size_t below) {
  std::size_t value = byte();
  for (std::size_t most = 256; most < below; most *= 256) {
    value = 256 * value + byte();
  }
  return below == 0 ? 0 : value % below;
}

double Input::real() {
  std::uint64_t bits = 0;
  for (int i = 0; i < 8; ++i) {
    bits = bits << 8U | byte();
  }
  return std::bit_cast<double>(bits);
}

std::string Input::text(std::size_t most) {
  const Bytes first = bytes_.first(std::min(most, bytes_.size()));
  bytes_ = bytes_.subspan(first.size());
  return as_text(first);
}

std::string edited_file(FileKind kind, Input& input) {
  h5::quiet();
  const unsigned mode = input.byte();
  std::vector<char> content = changed(good(kind), input, mode / 2 % 8);
  add_seal(content); // a file without one is not read at all
  // Bytes are changed under the seal, which must notice, in every other file only.
  while (mode % 2 == 0 && !input.ended() && !content.empty()) {
    const std::size_t at = input.index(content.size());
    const unsigned to = input.byte();
    if (to == 0xEE) {
      content.resize(at); // cut short
    } else {
      content[at] = static_cast<char>(to);
    }
  }
  return input_file({reinterpret_cast<const unsigned char*>(content.data()), content.size()}, ".h5");
}

} // namespace clampfade::fuzz

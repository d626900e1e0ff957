#include "solver/io/history.hpp"

#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/history_schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace clampfade {

namespace {

using schema::Axis;
using schema::Column;
using schema::RowTable;
using schema::Sizes;

constexpr std::array<std::pair<RunStatus, std::string_view>, 4> kStatusNames = {{{RunStatus::Running, "running"},
                                                                                 {RunStatus::Complete, "complete"},
                                                                                 {RunStatus::Stopped, "stopped"},
                                                                                 {RunStatus::Failed, "failed"}}};

/// Values of one dataset, of one of three kinds.
struct Raw {
  std::vector<double> reals;
  std::vector<std::int64_t> integers;
  std::vector<std::string> texts;
};

void take(const Raw& raw, std::size_t row, std::size_t, double& out) { out = raw.reals.at(row); }
void take(const Raw& raw, std::size_t row, std::size_t width, std::vector<double>& out) {
  if ((row + 1) * width > raw.reals.size()) {
    throw std::out_of_range("no such row"); // the values are of another type
  }
  const auto first = raw.reals.begin() + static_cast<std::ptrdiff_t>(row * width);
  out.assign(first, first + static_cast<std::ptrdiff_t>(width));
}
void take(const Raw& raw, std::size_t row, std::size_t, std::size_t& out) {
  out = static_cast<std::size_t>(raw.integers.at(row));
}
void take(const Raw& raw, std::size_t row, std::size_t, int& out) { out = static_cast<int>(raw.integers.at(row)); }
void take(const Raw& raw, std::size_t row, std::size_t, bool& out) { out = raw.integers.at(row) != 0; }
void take(const Raw& raw, std::size_t row, std::size_t, std::string& out) { out = raw.texts.at(row); }

} // namespace

std::string_view name(RunStatus status) {
  for (const auto& [s, text] : kStatusNames) {
    if (s == status) {
      return text;
    }
  }
  return "unknown";
}

struct History::Impl {
  std::string path;
  h5::Id file;
  std::size_t file_bytes = 0;
  RunStatus status = RunStatus::Running;
  std::string status_text, title, program_version, git_sha, created_utc, scenario_sha256;
  std::vector<std::string> warnings;
  double end_time = 0;
  std::vector<std::string> studs, nodes, layers, mechanisms;
  Sizes sizes;
  std::size_t rows = 0;
  int minor = 0; ///< format of the file

  void open();
  [[nodiscard]] std::string need_text(const char* attribute) const;
  [[nodiscard]] std::vector<std::string> texts(const std::string& dataset) const;
  [[nodiscard]] Raw read(const std::string& dataset_path, const std::vector<hsize_t>& expected) const;
  std::vector<hsize_t> allow(hid_t dataset, const std::string& dataset_path) const;
  [[nodiscard]] Dataset describe(const std::string& dataset_path) const;
  template <class Row>
  [[nodiscard]] std::size_t valid_rows(const RowTable<Row>& table) const;
  template <class Row>
  [[nodiscard]] std::vector<hsize_t> shape(const Column<Row>& column, std::size_t row_count) const;
  template <class Row>
  [[nodiscard]] std::vector<Row> read_table(const RowTable<Row>& table) const;
};

std::string History::Impl::need_text(const char* attribute) const {
  const auto text = h5::text_attribute(file, attribute);
  if (!text) {
    throw_damaged(path, fmt::format("no attribute {}", attribute));
  }
  return *text;
}

/// Shape of a dataset, after a look whether it can be in a file of this size at all: deflate packs 1032 to 1 at best.
std::vector<hsize_t> History::Impl::allow(hid_t dataset, const std::string& dataset_path) const {
  std::vector<hsize_t> d = h5::dims(dataset);
  double bytes = static_cast<double>(h5::type_size(dataset));
  for (const hsize_t n : d) {
    bytes *= static_cast<double>(n);
  }
  if (bytes > 1e6 + 1032.0 * static_cast<double>(file_bytes)) {
    throw_damaged(path, dataset_path + " claims more data than the file can hold");
  }
  return d;
}

std::vector<std::string> History::Impl::texts(const std::string& dataset) const {
  if (!h5::exists(file, dataset)) {
    return {};
  }
  const h5::Id id = h5::open_dataset(file, dataset);
  const std::vector<hsize_t> shape = allow(id, dataset);
  if (shape.size() != 1) {
    throw_damaged(path, dataset + " is no list of texts");
  }
  return h5::read_texts(id, 0, shape[0]);
}

void History::Impl::open() {
  OpenedResults opened = open_results(path, {kHistoryFileType, kHistoryFormatMajor, kHistoryFormatMinor, "a run"});
  file = std::move(opened.file);
  file_bytes = opened.bytes;
  const std::string word = need_text("status");
  const auto* known =
      std::find_if(kStatusNames.begin(), kStatusNames.end(), [&](const auto& s) { return s.second == word; });
  if (known == kStatusNames.end()) {
    throw_damaged(path, "unknown status \"" + word + "\"");
  }
  status = known->first;
  status_text = need_text("status_text");
  title = need_text("title");
  program_version = need_text("program_version");
  git_sha = need_text("git_sha");
  created_utc = need_text("created_utc");
  warnings = h5::split_lines(need_text("warnings"));
  end_time = h5::real_attribute(file, "end_time").value_or(0);
  minor = static_cast<int>(h5::integer_attribute(file, "format_version").value()[1]);
  if (minor > kHistoryFormatMinor) {
    warnings.push_back("the file was written by a newer program; what that program added is not shown");
  }
  scenario_sha256 = h5::text_attribute(h5::open_dataset(file, "/scenario"), "sha256").value_or("");
  studs = texts("/stud");
  nodes = texts("/node");
  layers = texts("/layer");
  mechanisms = texts("/mechanism");
  sizes = {studs.size(), nodes.size(), layers.size(), mechanisms.size()};
  if (studs.empty()) {
    throw_damaged(path, "no studs");
  }
  rows = valid_rows(schema::kRecords);
}

template <class Row>
std::size_t History::Impl::valid_rows(const RowTable<Row>& table) const {
  const std::string axis(table.axis);
  if (!h5::exists(file, axis)) {
    if (table.grows) {
      throw_damaged(path, "no " + axis);
    }
    return 0;
  }
  const h5::Id id = h5::open_dataset(file, axis);
  const std::vector<hsize_t> d = allow(id, axis);
  const auto valid = h5::integer_attribute(id, "valid_rows");
  if (!valid || valid->size() != 1 || (*valid)[0] < 0 || d.size() != 1 || static_cast<hsize_t>((*valid)[0]) > d[0]) {
    throw_damaged(path, "rows are missing along " + axis);
  }
  return static_cast<std::size_t>((*valid)[0]);
}

template <class Row>
std::vector<hsize_t> History::Impl::shape(const Column<Row>& column, std::size_t row_count) const {
  std::vector<hsize_t> expected = {row_count};
  for (const Axis axis : {column.second, column.third}) {
    if (axis != Axis::None) {
      expected.push_back(sizes[axis]);
    }
  }
  return expected;
}

Raw History::Impl::read(const std::string& dataset_path, const std::vector<hsize_t>& expected) const {
  const h5::Id dataset = h5::open_dataset(file, dataset_path);
  const std::vector<hsize_t> actual = allow(dataset, dataset_path);
  if (actual.empty() || actual.size() != expected.size() || actual[0] < expected[0] ||
      !std::equal(actual.begin() + 1, actual.end(), expected.begin() + 1)) {
    throw_damaged(path, dataset_path + " does not have the shape of its axes");
  }
  const std::size_t count = std::accumulate(expected.begin(), expected.end(), hsize_t{1}, std::multiplies<>());
  Raw raw;
  if (count == 0) {
    return raw;
  }
  const h5::Id type(H5Dget_type(dataset), H5Tclose, "type of " + dataset_path);
  switch (H5Tget_class(type)) {
  case H5T_FLOAT:
    raw.reals.resize(count);
    h5::read_rows(dataset, H5T_NATIVE_DOUBLE, 0, expected[0], raw.reals.data());
    break;
  case H5T_INTEGER:
    raw.integers.resize(count);
    h5::read_rows(dataset, H5T_NATIVE_INT64, 0, expected[0], raw.integers.data());
    break;
  default:
    raw.texts = h5::read_texts(dataset, 0, expected[0]);
    break;
  }
  return raw;
}

/// All but the values. The path is without its first slash.
Dataset History::Impl::describe(const std::string& dataset_path) const {
  const h5::Id dataset = h5::open_dataset(file, "/" + dataset_path);
  Dataset d;
  d.path = dataset_path;
  d.unit = h5::text_attribute(dataset, "units").value_or("");
  d.long_name = h5::text_attribute(dataset, "long_name").value_or("");
  const bool is_axis = H5DSis_scale(dataset) > 0;
  for (const hsize_t length : allow(dataset, "/" + dataset_path)) {
    Dataset::Axis axis{is_axis ? dataset_path : "", static_cast<std::size_t>(length)};
    if (!is_axis) {
      h5::check(H5DSiterate_scales(
                    dataset, static_cast<unsigned>(d.axes.size()), nullptr,
                    [](hid_t, unsigned, hid_t scale, void* out) -> herr_t {
                      std::array<char, 1024> text{};
                      H5Iget_name(scale, text.data(), text.size());
                      *static_cast<std::string*>(out) = text.data() + (text[0] == '/' ? 1 : 0);
                      return 1; // one is enough
                    },
                    &axis.path),
                "axes of " + dataset_path);
    }
    if (!axis.path.empty()) {
      const auto valid = h5::integer_attribute(h5::open_dataset(file, "/" + axis.path), "valid_rows");
      if (valid && valid->size() == 1 && (*valid)[0] >= 0) {
        axis.length = std::min(axis.length, static_cast<std::size_t>((*valid)[0]));
      }
    }
    d.axes.push_back(std::move(axis));
  }
  if (d.axes.empty()) {
    throw_damaged(path, "/" + dataset_path + " has no axes");
  }
  const h5::Id type(H5Dget_type(dataset), H5Tclose, "type of " + dataset_path);
  const H5T_class_t kind = H5Tget_class(type);
  d.type = kind == H5T_FLOAT ? Dataset::Type::Real : kind == H5T_INTEGER ? Dataset::Type::Whole : Dataset::Type::Text;
  return d;
}

template <class Row>
std::vector<Row> History::Impl::read_table(const RowTable<Row>& table) const {
  std::vector<Row> all(valid_rows(table));
  if (all.empty()) {
    return all; // a table that does not grow is left out where it has no rows
  }
  for (const Column<Row>& column : table.columns) {
    if (!schema::present(column, sizes) || column.since > minor) {
      continue;
    }
    const std::size_t width = sizes[column.second] * sizes[column.third];
    const Raw raw = read(schema::path(table, column), shape(column, all.size()));
    try {
      for (std::size_t row = 0; row < all.size(); ++row) {
        std::visit([&](auto member) { take(raw, row, width, all[row].*member); }, column.member);
      }
    } catch (const std::out_of_range&) {
      throw_damaged(path, schema::path(table, column) + " is of another type");
    }
  }
  return all;
}

History::History(std::string path) : impl_(std::make_unique<Impl>()) {
  h5::quiet();
  impl_->path = std::move(path);
  reading(impl_->path, [&] { impl_->open(); });
}
History::~History() = default;
History::History(History&&) noexcept = default;
History& History::operator=(History&&) noexcept = default;

const std::string& History::path() const { return impl_->path; }
RunStatus History::status() const { return impl_->status; }
const std::string& History::status_text() const { return impl_->status_text; }
const std::string& History::title() const { return impl_->title; }
const std::vector<std::string>& History::warnings() const { return impl_->warnings; }
const std::string& History::program_version() const { return impl_->program_version; }
const std::string& History::git_sha() const { return impl_->git_sha; }
const std::string& History::created_utc() const { return impl_->created_utc; }
double History::end_time() const { return impl_->end_time; }
const std::string& History::scenario_sha256() const { return impl_->scenario_sha256; }
std::size_t History::rows() const { return impl_->rows; }
const std::vector<std::string>& History::studs() const { return impl_->studs; }
const std::vector<std::string>& History::nodes() const { return impl_->nodes; }
const std::vector<std::string>& History::layers() const { return impl_->layers; }
const std::vector<std::string>& History::mechanisms() const { return impl_->mechanisms; }

std::string History::scenario_text() const {
  return reading(impl_->path, [&] {
    const std::vector<std::string> all = impl_->texts("/scenario");
    if (all.size() != 1) {
      throw_damaged(impl_->path, "no scenario");
    }
    return all.front();
  });
}

std::vector<double> History::series(std::string_view dataset) const {
  for (const Column<RecordRow>& column : schema::kRecordColumns) {
    if (column.name == dataset) {
      if (!schema::present(column, impl_->sizes)) {
        return {};
      }
      return reading(impl_->path, [&] {
        const std::string dataset_path = schema::path(schema::kRecords, column);
        const std::vector<hsize_t> expected = impl_->shape(column, impl_->rows);
        Raw raw = impl_->read(dataset_path, expected);
        if (raw.reals.size() != std::accumulate(expected.begin(), expected.end(), hsize_t{1}, std::multiplies<>())) {
          throw_damaged(impl_->path, dataset_path + " is of another type");
        }
        return std::move(raw.reals);
      });
    }
  }
  throw std::out_of_range("no dataset over time is called " + std::string(dataset));
}

std::vector<RecordRow> History::records() const {
  return reading(impl_->path, [&] {
    std::vector<RecordRow> all = impl_->read_table(schema::kRecords);
    for (RecordRow& row : all) {
      // As the sink got it: nothing, where layers were not recorded.
      if (std::all_of(row.layer_thickness.begin(), row.layer_thickness.end(), [](double v) { return std::isnan(v); })) {
        row.layer_thickness.clear();
      }
    }
    return all;
  });
}

int History::format_minor() const { return impl_->minor; }

std::vector<ActRow> History::acts() const {
  return reading(impl_->path, [&] {
    std::vector<ActRow> all = impl_->read_table(schema::kActs);
    if (std::any_of(all.begin(), all.end(), [&](const ActRow& a) { return a.stud >= impl_->studs.size(); })) {
      throw_damaged(impl_->path, "an act on a stud that is not there");
    }
    return all;
  });
}
std::vector<EventRow> History::events() const {
  return reading(impl_->path, [&] {
    std::vector<EventRow> all = impl_->read_table(schema::kEvents);
    const auto studs_there = static_cast<std::int64_t>(impl_->studs.size());
    if (std::any_of(all.begin(), all.end(), [&](const EventRow& e) { return e.stud < -1 || e.stud >= studs_there; })) {
      throw_damaged(impl_->path, "an event of a stud that is not there");
    }
    return all;
  });
}
std::vector<StepsRow> History::steps() const {
  return reading(impl_->path, [&] { return impl_->read_table(schema::kSteps); });
}
std::vector<RunHeader::ProvenanceRow> History::provenance() const {
  return reading(impl_->path, [&] { return impl_->read_table(schema::kProvenance); });
}
std::vector<RunHeader::IdentityRow> History::identity() const {
  return reading(impl_->path, [&] { return impl_->read_table(schema::kIdentity); });
}

std::vector<Figure> History::joint() const {
  return reading(impl_->path, [&] {
    std::vector<Figure> figures;
    if (!h5::exists(impl_->file, "/joint")) {
      return figures;
    }
    const h5::Id group(H5Gopen2(impl_->file, "/joint", H5P_DEFAULT), H5Gclose, "open /joint");
    for (const std::string& figure_name : h5::dataset_paths(group, H5_INDEX_CRT_ORDER)) {
      const std::string dataset_path = "/joint/" + figure_name;
      const h5::Id dataset = h5::open_dataset(impl_->file, dataset_path);
      if (H5DSis_scale(dataset) > 0) {
        continue; // labels of another figure
      }
      Figure figure;
      figure.name = figure_name;
      figure.unit = h5::text_attribute(dataset, "units").value_or("");
      figure.long_name = h5::text_attribute(dataset, "long_name").value_or("");
      const std::vector<hsize_t> shape = impl_->allow(dataset, dataset_path);
      if (shape.size() != 1) {
        throw_damaged(impl_->path, dataset_path + " is not a list");
      }
      Raw raw = impl_->read(dataset_path, shape);
      figure.values = std::move(raw.reals);
      figure.text = std::move(raw.texts);
      if (shape[0] > 0 && figure.values.empty() && figure.text.empty()) {
        throw_damaged(impl_->path, dataset_path + " holds neither numbers nor texts");
      }
      figure.labels = impl_->texts(dataset_path + "_labels");
      figures.push_back(std::move(figure));
    }
    return figures;
  });
}

std::optional<Checkpoint> History::checkpoint() const {
  return reading(impl_->path, [&]() -> std::optional<Checkpoint> {
    if (!h5::exists(impl_->file, "/checkpoint")) {
      return std::nullopt;
    }
    const h5::Id group(H5Gopen2(impl_->file, "/checkpoint", H5P_DEFAULT), H5Gclose, "open /checkpoint");
    const auto time = h5::real_attribute(group, "time");
    const auto rows = h5::integer_attribute(group, "rows");
    if (!time || !rows || rows->size() != 4) {
      throw_damaged(impl_->path, "the checkpoint is incomplete");
    }
    const std::array<std::size_t, 4> valid = {impl_->rows, impl_->valid_rows(schema::kActs),
                                              impl_->valid_rows(schema::kEvents), impl_->valid_rows(schema::kSteps)};
    for (std::size_t i = 0; i < valid.size(); ++i) {
      if ((*rows)[i] < 0 || static_cast<std::size_t>((*rows)[i]) > valid[i]) {
        throw_damaged(impl_->path, "rows before the checkpoint are missing");
      }
    }
    const auto all = [&](const std::string& dataset_path) {
      return impl_->read(dataset_path, impl_->allow(h5::open_dataset(impl_->file, dataset_path), dataset_path));
    };
    return Checkpoint{*time, all("/checkpoint/numbers").reals, all("/checkpoint/counters").integers};
  });
}

std::vector<Dataset> History::datasets() const {
  return reading(impl_->path, [&] {
    std::vector<Dataset> all;
    for (const std::string& dataset_path : h5::dataset_paths(impl_->file, H5_INDEX_CRT_ORDER)) {
      const bool labels =
          dataset_path.rfind("joint/", 0) == 0 && H5DSis_scale(h5::open_dataset(impl_->file, "/" + dataset_path)) > 0;
      if (dataset_path != "single" && dataset_path.rfind("checkpoint/", 0) != 0 && !labels) {
        all.push_back(impl_->describe(dataset_path));
      }
    }
    return all;
  });
}

Dataset History::dataset(std::string_view dataset_path) const {
  return reading(impl_->path, [&] {
    const std::vector<std::string> paths = h5::dataset_paths(impl_->file, H5_INDEX_NAME);
    const auto found = std::find(paths.begin(), paths.end(), dataset_path);
    if (found == paths.end() || found->rfind("checkpoint/", 0) == 0) {
      throw std::out_of_range("no dataset is called " + std::string(dataset_path));
    }
    Dataset d = impl_->describe(*found);
    std::vector<hsize_t> shape;
    for (const Dataset::Axis& axis : d.axes) {
      shape.push_back(axis.length);
    }
    Raw raw = impl_->read("/" + *found, shape);
    d.values = std::move(raw.reals);
    for (const std::int64_t v : raw.integers) {
      d.values.push_back(static_cast<double>(v));
    }
    d.text = std::move(raw.texts);
    return d;
  });
}

std::string History::digest() const {
  return reading(impl_->path, [&] { return h5::text_attribute(impl_->file, "digest").value_or(""); });
}

Digest History::verify() const {
  const std::string stored = digest();
  if (stored.empty()) {
    return Digest::Absent;
  }
  return reading(impl_->path, [&] {
    for (const std::string& dataset_path : h5::dataset_paths(impl_->file, H5_INDEX_NAME)) {
      impl_->allow(h5::open_dataset(impl_->file, "/" + dataset_path), dataset_path);
    }
    return h5::digest(impl_->file) == stored ? Digest::Right : Digest::Wrong;
  });
}

} // namespace clampfade

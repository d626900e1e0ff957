#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_schema.hpp"
#include "solver/io/replaced_file.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <fcntl.h>
#include <limits>
#include <sys/stat.h>

namespace clampfade {

namespace {

using Clock = std::chrono::steady_clock;
using schema::Axis;
using schema::Column;
using schema::RowTable;
using schema::Sizes;

constexpr std::size_t kBufferedRows = 256;
constexpr std::chrono::duration<double> kPublishEvery(10);
// Of the wall time at most, however large the file has become. Less than the checkpoints of a run may take, so that
// they come first where they can.
constexpr double kPublishShare = 0.04;

constexpr const char* kKept = "the file as of the last checkpoint is kept";

/// Runs HDF5 work on the working file: a failure means a disk that refuses, or a fault of this program.
template <class Work>
auto writing(const std::string& path, Work work) {
  try {
    return work();
  } catch (const h5::Error& e) {
    throw FileError(Code::FileWrite, fmt::format("{}: cannot write ({}): {}", path, kKept, e.what()));
  }
}

/// Rows waiting to be written to one dataset.
class ColumnBuffer {
public:
  ColumnBuffer(h5::Id dataset, std::size_t width) : dataset_(std::move(dataset)), width_(width) {}
  void put(double v) { reals_.push_back(v); }
  void put(std::int64_t v) { integers_.push_back(v); }
  void put(int v) { put(std::int64_t{v}); }
  void put(bool v) { put(std::int64_t{v ? 1 : 0}); }
  void put(std::size_t v) { put(static_cast<std::int64_t>(v)); }
  void put(const std::string& v) { texts_.push_back(v); }
  void put(const std::vector<double>& v) {
    if (v.size() != width_) {
      throw std::logic_error(fmt::format("a row of {} values where the history has {}", v.size(), width_));
    }
    reals_.insert(reals_.end(), v.begin(), v.end());
  }
  void put_unknown() { reals_.insert(reals_.end(), width_, std::numeric_limits<double>::quiet_NaN()); }
  [[nodiscard]] hid_t dataset() const { return dataset_; }

  /// Writes the `count` rows waiting behind the first `row` rows of the dataset.
  void flush(hsize_t row, hsize_t count) {
    h5::resize_rows(dataset_, row + count);
    if (!texts_.empty()) {
      h5::write_texts(dataset_, row, texts_);
    } else if (!integers_.empty()) {
      h5::write_rows(dataset_, H5T_NATIVE_INT64, row, count, integers_.data());
    } else {
      h5::write_rows(dataset_, H5T_NATIVE_DOUBLE, row, count, reals_.data());
    }
    reals_.clear();
    integers_.clear();
    texts_.clear();
  }

private:
  h5::Id dataset_;
  std::size_t width_;
  // Only one of the three is in use, by the type of the column.
  std::vector<double> reals_;
  std::vector<std::int64_t> integers_;
  std::vector<std::string> texts_;
};

/// Appends rows to the datasets of one table.
template <class Row>
class TableWriter {
public:
  /// Makes the datasets. For tables that do not grow, `rows` is their length.
  static TableWriter create(hid_t file, const RowTable<Row>& table, const Sizes& sizes, hsize_t rows = 0) {
    TableWriter writer(table, sizes);
    const std::string axis(table.axis);
    if (!writer.axis_is_column_) {
      writer.index_.emplace(
          h5::create_dataset(file, axis, H5T_STD_I64LE, {rows}, table.grows, "1", "number of the row"), 1);
      h5::make_scale(writer.index_->dataset(), axis);
    }
    for (const Column<Row>* column : writer.columns_) {
      std::vector<hsize_t> dims = {rows};
      for (const Axis a : {column->second, column->third}) {
        if (a != Axis::None) {
          dims.push_back(sizes[a]);
        }
      }
      const std::string path = schema::path(table, *column);
      const h5::Id type = stored_type(*column);
      h5::Id dataset = h5::create_dataset(file, path, type, dims, table.grows, column->unit, column->long_name);
      if (path == axis) {
        h5::make_scale(dataset, axis);
      } else {
        h5::attach(file, dataset, axis, 0);
      }
      unsigned position = 1;
      for (const Axis a : {column->second, column->third}) {
        if (a != Axis::None) {
          h5::attach(file, dataset, schema::path(a), position++);
        }
      }
      writer.buffers_.emplace_back(std::move(dataset), sizes[column->second] * sizes[column->third]);
    }
    return writer;
  }

  /// Takes up an existing table and drops everything after its first `rows` rows.
  static TableWriter open(hid_t file, const RowTable<Row>& table, const Sizes& sizes, hsize_t rows) {
    TableWriter writer(table, sizes);
    writer.rows_ = rows;
    if (!writer.axis_is_column_) {
      writer.index_.emplace(h5::open_dataset(file, std::string(table.axis)), 1);
      h5::resize_rows(writer.index_->dataset(), rows);
    }
    for (const Column<Row>* column : writer.columns_) {
      writer.buffers_.emplace_back(h5::open_dataset(file, schema::path(table, *column)),
                                   sizes[column->second] * sizes[column->third]);
      h5::resize_rows(writer.buffers_.back().dataset(), rows);
    }
    return writer;
  }

  void append(const Row& row) {
    if (index_) {
      index_->put(static_cast<std::int64_t>(rows_ + waiting_));
    }
    for (std::size_t i = 0; i < columns_.size(); ++i) {
      std::visit(
          [&](auto member) {
            const auto& value = row.*member;
            if constexpr (std::is_same_v<std::decay_t<decltype(value)>, std::vector<double>>) {
              // Layers need not be recorded, but the axis is there.
              if (value.empty() && columns_[i]->third == Axis::Layer) {
                buffers_[i].put_unknown();
                return;
              }
            }
            buffers_[i].put(value);
          },
          columns_[i]->member);
    }
    if (++waiting_ == kBufferedRows) {
      flush();
    }
  }

  /// Writes what waits, then says how many rows are valid.
  void flush() {
    if (waiting_ > 0) {
      if (index_) {
        index_->flush(rows_, waiting_);
      }
      for (ColumnBuffer& buffer : buffers_) {
        buffer.flush(rows_, waiting_);
      }
      rows_ += waiting_;
      waiting_ = 0;
    }
    const auto rows = static_cast<std::int64_t>(rows_);
    h5::write_attribute(index_ ? index_->dataset() : buffers_.front().dataset(), "valid_rows", {&rows, 1});
  }
  [[nodiscard]] std::int64_t rows() const { return static_cast<std::int64_t>(rows_); }

private:
  TableWriter(const RowTable<Row>& table, const Sizes& sizes) {
    for (const Column<Row>& column : table.columns) {
      if (schema::present(column, sizes)) {
        columns_.push_back(&column);
      }
    }
    axis_is_column_ = schema::path(table, table.columns.front()) == table.axis;
  }
  static h5::Id stored_type(const Column<Row>& column) {
    return std::visit(
        [](auto member) {
          using Value = std::decay_t<decltype(std::declval<Row>().*member)>;
          if constexpr (std::is_same_v<Value, std::string>) {
            return h5::text_type();
          } else if constexpr (std::is_same_v<Value, double> || std::is_same_v<Value, std::vector<double>>) {
            return h5::Id(H5Tcopy(H5T_IEEE_F64LE), H5Tclose, "type");
          } else {
            return h5::Id(H5Tcopy(H5T_STD_I64LE), H5Tclose, "type");
          }
        },
        column.member);
  }

  std::vector<const Column<Row>*> columns_;
  std::vector<ColumnBuffer> buffers_; ///< one for each of columns_
  std::optional<ColumnBuffer> index_; ///< unless the axis is a column
  bool axis_is_column_ = false;
  hsize_t rows_ = 0;
  hsize_t waiting_ = 0;
};

/// A table that is complete from the start.
template <class Row>
void write_table(hid_t file, const RowTable<Row>& table, const std::vector<Row>& rows) {
  if (rows.empty()) {
    return;
  }
  auto writer = TableWriter<Row>::create(file, table, {}, rows.size());
  for (const Row& row : rows) {
    writer.append(row);
  }
  writer.flush();
}

void write_axis(hid_t file, Axis axis, const std::vector<std::string>& names, std::string_view long_name) {
  if (!names.empty()) {
    const std::string path(schema::path(axis));
    h5::make_scale(h5::create_texts(file, path, names, "1", long_name), path);
  }
}

void write_figure(hid_t file, const Figure& figure) {
  const std::string path = "/joint/" + figure.name;
  const std::size_t n = std::max(figure.values.size(), figure.text.size());
  if (n == 0) {
    return;
  }
  h5::Id dataset;
  if (figure.text.empty()) {
    dataset = h5::create_dataset(file, path, H5T_IEEE_F64LE, {n}, false, figure.unit, figure.long_name);
    h5::check(H5Dwrite(dataset, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, figure.values.data()),
              "write " + path);
  } else {
    dataset = h5::create_texts(file, path, figure.text, "1", figure.long_name);
  }
  if (!figure.labels.empty()) {
    const std::string labels = path + "_labels";
    h5::make_scale(h5::create_texts(file, labels, figure.labels, "1", "what the entries are of: " + figure.long_name),
                   labels);
    h5::attach(file, dataset, labels, 0);
  } else if (n == 1) {
    h5::attach(file, dataset, "/single", 0);
  }
}

} // namespace

struct HistoryWriter::Impl {
  explicit Impl(std::string p) : path(std::move(p)) {}

  std::string path; ///< as the user wrote it
  std::optional<ReplacedFile> target;
  h5::Id file; ///< the working file: the history as it grows, which nobody else sees
  std::optional<TableWriter<RecordRow>> records;
  std::optional<TableWriter<ActRow>> acts;
  std::optional<TableWriter<EventRow>> events;
  std::optional<TableWriter<StepsRow>> steps;
  std::string scenario_sha; ///< of a history taken up again
  std::vector<std::string> warnings;
  bool ended = false;
  Clock::time_point published;
  std::chrono::duration<double> publishing{0}; ///< how long the last time took

  void require_open() const {
    if (file < 0 || ended) {
      throw std::logic_error("HistoryWriter: begin comes first and end last");
    }
  }
  void flush_tables() {
    records->flush();
    acts->flush();
    events->flush();
    steps->flush();
  }
  /// Brings the file on disk to the present state.
  void publish() {
    const Clock::time_point start = Clock::now();
    const int content = writing(path, [&] { return h5::flushed(file); });
    target->replace([content](const Descriptor& other) { return copy_sealed(content, other); }, kKept);
    published = Clock::now();
    publishing = published - start;
  }
  void publish_if_due() {
    if (Clock::now() - published > std::max(kPublishEvery, publishing / kPublishShare)) {
      writing(path, [&] { flush_tables(); });
      publish();
    }
  }
  template <class Row>
  void append(std::optional<TableWriter<Row>>& table, const Row& row) {
    require_open();
    writing(path, [&] { table->append(row); });
    publish_if_due();
  }
  void create(const RunHeader& header);
  void write_checkpoint(const Checkpoint& checkpoint);
  template <class T>
  void write_numbers(const std::string& name, const std::vector<T>& values, hid_t stored, hid_t memory,
                     const char* long_name);
};

void HistoryWriter::Impl::create(const RunHeader& header) {
  file = target->nameless([](const Descriptor&, const std::string& name) { return h5::create_on_disk(name); });
  h5::write_identity(file, kHistoryFileType, kHistoryFormatMajor, kHistoryFormatMinor);
  h5::write_attribute(file, "status", name(RunStatus::Running));
  h5::write_attribute(file, "status_text", "");
  h5::write_attribute(file, "title", header.title);
  h5::write_lines(file, "warnings", header.warnings);
  h5::write_attribute(file, "end_time", header.end_time);
  warnings = header.warnings;

  const h5::Id scenario =
      h5::create_texts(file, "/scenario", {header.scenario_text}, "1", "the scenario as run, all defaults filled in");
  h5::write_attribute(scenario, "sha256", sha256(header.scenario_text));
  const std::vector<std::string> mechanisms(kMechanismNames.begin(), kMechanismNames.end());
  write_axis(file, Axis::Stud, header.studs, "stud");
  write_axis(file, Axis::Node, header.nodes, "node of the heat network");
  write_axis(file, Axis::Layer, header.layers, "coating: interface, part and side");
  write_axis(file, Axis::Mechanism, mechanisms, "what takes clamp load");
  h5::create_single(file);
  h5::attach(file, scenario, "/single", 0);

  const Sizes sizes{header.studs.size(), header.nodes.size(), header.layers.size(), mechanisms.size()};
  records = TableWriter<RecordRow>::create(file, schema::kRecords, sizes);
  acts = TableWriter<ActRow>::create(file, schema::kActs, sizes);
  events = TableWriter<EventRow>::create(file, schema::kEvents, sizes);
  steps = TableWriter<StepsRow>::create(file, schema::kSteps, sizes);
  for (const Figure& figure : header.joint) {
    write_figure(file, figure);
  }
  write_table(file, schema::kProvenance, header.provenance);
  write_table(file, schema::kIdentity, header.records);
  flush_tables();
}

template <class T>
void HistoryWriter::Impl::write_numbers(const std::string& name, const std::vector<T>& values, hid_t stored,
                                        hid_t memory, const char* long_name) {
  const std::string dataset_path = "/checkpoint/" + name;
  const hsize_t n = values.size();
  const h5::Id dataset = h5::exists(file, dataset_path)
                             ? h5::open_dataset(file, dataset_path)
                             : h5::create_dataset(file, dataset_path, stored, {n}, true, "1", long_name);
  h5::check(H5Dset_extent(dataset, &n), "size of " + dataset_path);
  if (n > 0) {
    h5::check(H5Dwrite(dataset, memory, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()), "write " + dataset_path);
  }
}

void HistoryWriter::Impl::write_checkpoint(const Checkpoint& checkpoint) {
  write_numbers("numbers", checkpoint.numbers, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, "state of the solver");
  write_numbers("counters", checkpoint.counters, H5T_STD_I64LE, H5T_NATIVE_INT64, "state of the solver");
  const h5::Id group(H5Gopen2(file, "/checkpoint", H5P_DEFAULT), H5Gclose, "open /checkpoint");
  h5::write_attribute(group, "time", checkpoint.time);
  const std::array<std::int64_t, 4> rows = {records->rows(), acts->rows(), events->rows(), steps->rows()};
  h5::write_attribute(group, "rows", rows);
}

HistoryWriter::HistoryWriter(std::string path, bool overwrite) : impl_(std::make_unique<Impl>(std::move(path))) {
  h5::quiet();
  // Better to hear of a missing folder, a lack of rights or another run now than after an hour's work.
  impl_->target.emplace(impl_->path, overwrite);
}

HistoryWriter::HistoryWriter(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
HistoryWriter::~HistoryWriter() = default;

std::unique_ptr<HistoryWriter> HistoryWriter::reopen(const std::string& path,
                                                     const std::function<void(const History&)>& look) {
  auto impl = std::make_unique<Impl>(path);
  struct stat info {};
  if (::stat(path.c_str(), &info) == 0 && S_ISREG(info.st_mode)) {
    impl->target.emplace(path); // before anything is read that another run may change
  }
  const History history(path);
  if (history.status() == RunStatus::Complete) {
    throw FileError(Code::FileWrite, fmt::format("{}: the run is complete; there is nothing to continue", path));
  }
  if (history.format_minor() != kHistoryFormatMinor) {
    throw FileError(
        Code::FileVersion,
        fmt::format("{}: the file has format {}.{}, and only a run of format {}.{} can be continued; run the "
                    "scenario again",
                    path, kHistoryFormatMajor, history.format_minor(), kHistoryFormatMajor, kHistoryFormatMinor));
  }
  if (!history.checkpoint()) {
    throw FileError(Code::FileWrite,
                    fmt::format("{}: the run ended before its first checkpoint; run the scenario again", path));
  }
  if (look) {
    look(history);
  }
  writing(path, [&] {
    impl->file = impl->target->nameless([&](const Descriptor& other, const std::string& name) {
      const Descriptor from(path, O_RDONLY);
      if (!from.ok() || !copy(from.get(), other)) {
        throw FileError(Code::FileWrite, fmt::format("{}: cannot write ({}): {}", path, kKept, std::strerror(errno)));
      }
      return h5::open_on_disk(name);
    });
    const h5::Id group(H5Gopen2(impl->file, "/checkpoint", H5P_DEFAULT), H5Gclose, "open /checkpoint");
    const auto rows = h5::integer_attribute(group, "rows").value(); // History has seen them
    const Sizes sizes{history.studs().size(), history.nodes().size(), history.layers().size(),
                      history.mechanisms().size()};
    const auto count = [&rows](std::size_t i) { return static_cast<hsize_t>(rows[i]); };
    impl->records = TableWriter<RecordRow>::open(impl->file, schema::kRecords, sizes, count(0));
    impl->acts = TableWriter<ActRow>::open(impl->file, schema::kActs, sizes, count(1));
    impl->events = TableWriter<EventRow>::open(impl->file, schema::kEvents, sizes, count(2));
    impl->steps = TableWriter<StepsRow>::open(impl->file, schema::kSteps, sizes, count(3));
    impl->scenario_sha = history.scenario_sha256();
    impl->warnings = history.warnings();
    h5::write_attribute(impl->file, "status", name(RunStatus::Running));
    h5::write_attribute(impl->file, "status_text", "");
    impl->flush_tables();
  });
  impl->publish();
  return std::unique_ptr<HistoryWriter>(new HistoryWriter(std::move(impl)));
}

void HistoryWriter::begin(const RunHeader& header) {
  h5::quiet();
  if (!impl_->scenario_sha.empty()) {
    if (impl_->scenario_sha != sha256(header.scenario_text)) {
      throw FileError(Code::FileWrite,
                      fmt::format("{}: the history belongs to another scenario; it can only be continued with the "
                                  "scenario it holds",
                                  impl_->path));
    }
    return;
  }
  writing(impl_->path, [&] { impl_->create(header); });
  impl_->publish();
}

void HistoryWriter::act(const ActRow& row) { impl_->append(impl_->acts, row); }
void HistoryWriter::event(const EventRow& row) { impl_->append(impl_->events, row); }
void HistoryWriter::record(const RecordRow& row) { impl_->append(impl_->records, row); }
void HistoryWriter::steps(const StepsRow& row) { impl_->append(impl_->steps, row); }

void HistoryWriter::checkpoint(const Checkpoint& checkpoint) {
  impl_->require_open();
  writing(impl_->path, [&] {
    impl_->flush_tables();
    impl_->write_checkpoint(checkpoint);
  });
  impl_->publish();
}

void HistoryWriter::end(RunStatus status, const std::string& text, const std::vector<std::string>& warnings) {
  impl_->require_open();
  for (const std::string& warning : warnings) {
    if (std::find(impl_->warnings.begin(), impl_->warnings.end(), warning) == impl_->warnings.end()) {
      impl_->warnings.push_back(warning);
    }
  }
  writing(impl_->path, [&] {
    impl_->flush_tables();
    h5::write_attribute(impl_->file, "status", name(status));
    h5::write_attribute(impl_->file, "status_text", text);
    h5::write_lines(impl_->file, "warnings", impl_->warnings);
    if (status == RunStatus::Complete) {
      h5::write_attribute(impl_->file, "digest", h5::digest(impl_->file));
    }
  });
  impl_->publish();
  impl_->ended = true;
  impl_->target.reset();
}

} // namespace clampfade

#include "solver/io/fit_file.hpp"

#include "solver/io/history.hpp"
#include "solver/io/history_arrays.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace clampfade {

namespace {

constexpr FileKind kKind = {kFitFileType, kFitFormatMajor, kFitFormatMinor, "clampfade fit"};
constexpr std::size_t kMostParameters = 1000; // no fit that this program makes comes near any of these
constexpr std::size_t kMostReadings = 10000000;
constexpr std::size_t kMostSets = 10000;
constexpr std::size_t kMostInstants = 10000;
constexpr std::size_t kMostCurves = 100000;
constexpr std::size_t kMostStarts = 10000;
constexpr std::size_t kMostProfile = 1000;

/// A dataset along one axis, one member of each of its rows. Units that differ from row to row are "1", and a dataset
/// beside it names them.
template <class Row>
struct Column {
  const char* name;
  const char* unit;
  const char* long_name;
  double Row::*member;
};

constexpr Column<FitParameter> kParameterColumns[] = {
    {"lower_bound", "1", "lower bound, in the unit of `unit`", &FitParameter::low},
    {"upper_bound", "1", "upper bound, in the unit of `unit`", &FitParameter::high},
    {"own_value", "1", "value that the scenario had, within the bounds, in the unit of `unit`", &FitParameter::start},
};
constexpr Column<FitValue> kValueColumns[] = {
    {"value", "1", "value found, in the unit of `unit`", &FitValue::value},
    {"interval_low", "1", "lower end of the 95 % interval, in the unit of `unit`", &FitValue::low},
    {"interval_high", "1", "upper end of the 95 % interval, in the unit of `unit`", &FitValue::high},
    {"standard_error", "1", "standard error to first order, in the unit of `unit`", &FitValue::error},
    {"scaled_error", "1", "standard error as a share of the box between the bounds", &FitValue::scaled_error},
    {"profile_low", "1", "lower end of the 95 % interval by the profile; not a number without", &FitValue::profile_low},
    {"profile_high", "1", "upper end of the 95 % interval by the profile; not a number without",
     &FitValue::profile_high},
};
constexpr Column<FitReading> kReadingColumns[] = {
    {"reading_time", "s", "time of the reading since tightening", &FitReading::time},
    {"reading_value", "1", "what was read, in the unit of `reading_unit`", &FitReading::value},
    {"reading_given_error", "1", "standard deviation as given; not a number where none was", &FitReading::error},
};
constexpr Column<FitResidual> kResidualColumns[] = {
    {"reading_model", "1", "the model at the values found, in the unit of `reading_unit`", &FitResidual::model},
    {"reading_error", "1", "standard deviation as given or found, in the unit of `reading_unit`", &FitResidual::error},
    {"reading_standardised", "1", "reading less model, over its standard deviation", &FitResidual::standardised},
    {"reading_weight", "1", "how much the reading counts: 1, or less for an outlier of a robust loss",
     &FitResidual::weight},
    {"reading_clamp", "N", "clamp load that a check-torque reading stands for; not a number for others",
     &FitResidual::clamp},
    {"reading_clamp_deviation", "N", "its standard deviation", &FitResidual::clamp_deviation},
};

FitQuantity quantity_of(const std::string& path, const std::string& word) {
  for (std::size_t q = 0; q < kFitQuantities; ++q) {
    if (kFitQuantityNames.at(q).word == word) {
      return static_cast<FitQuantity>(q);
    }
  }
  throw_damaged(path, "unknown quantity \"" + word + "\"");
}

class Builder {
public:
  explicit Builder(const FitResult& fit) : fit_(fit), file_(h5::create_in_memory()), out_(file_) {}

  std::vector<char> bytes() {
    h5::write_identity(file_, kFitFileType, kFitFormatMajor, kFitFormatMinor);
    h5::write_attribute(file_, "title", fit_.sets.empty() ? "" : fit_.sets.front().title);
    h5::write_lines(file_, "warnings", fit_.warnings);
    // No dataset: it bears the day of the fit, which the digest must not know.
    h5::write_attribute(file_, "block", fit_.block);
    h5::write_attribute(file_, "loss", name(fit_.loss));
    h5::write_attribute(file_, "chi_square", fit_.chi_square);
    h5::write_attribute(file_, "widened", fit_.widened);
    h5::write_attribute(file_, "t_quantile", fit_.t_quantile);
    whole("degrees_of_freedom", fit_.freedom);
    whole("seed", fit_.seed);
    whole("best_start", fit_.best);
    whole("runs", fit_.runs);
    whole("failed_runs", fit_.failed_runs);
    sets();
    parameters();
    readings();
    curves();
    starts();
    h5::write_attribute(file_, "digest", h5::digest(file_));
    std::vector<char> bytes = h5::image(file_);
    add_seal(bytes);
    return bytes;
  }

private:
  using Axes = ArrayWriter::Axes;

  void whole(const char* attribute, std::uint64_t value) {
    const std::int64_t v[] = {static_cast<std::int64_t>(value)};
    h5::write_attribute(file_, attribute, v);
  }
  template <class Row, class Get>
  void texts(const std::string& path, const std::vector<Row>& rows, const char* long_name, const char* axis, Get get) {
    std::vector<std::string> values;
    for (const Row& row : rows) {
      values.emplace_back(get(row));
    }
    out_.texts(path, {rows.size()}, values, long_name, {axis});
  }
  template <class Row, class Get>
  void integers(const std::string& path, const std::vector<Row>& rows, const char* long_name, const char* axis,
                Get get) {
    std::vector<std::int64_t> values;
    for (const Row& row : rows) {
      values.push_back(static_cast<std::int64_t>(get(row)));
    }
    out_.integers(path, {rows.size()}, values, long_name, {axis});
  }
  template <class Row, std::size_t N>
  void table(const Column<Row> (&columns)[N], const std::vector<Row>& rows, const char* axis) {
    for (const Column<Row>& column : columns) {
      std::vector<double> values;
      for (const Row& row : rows) {
        values.push_back(row.*column.member);
      }
      out_.reals(std::string("/") + column.name, {rows.size()}, values, column.unit, column.long_name, {axis});
    }
  }

  void sets() {
    out_.count("/set", fit_.sets.size(), "number of the data set");
    texts("/set_title", fit_.sets, "title of the set's scenario", "/set",
          [](const FitSetResult& s) { return s.title; });
    texts("/set_scenario_file", fit_.sets, "file of the scenario", "/set",
          [](const FitSetResult& s) { return s.scenario_file; });
    texts("/set_scenario", fit_.sets, "the scenario with its own values", "/set",
          [](const FitSetResult& s) { return s.scenario_text; });
    texts("/set_data_file", fit_.sets, "file of the readings", "/set",
          [](const FitSetResult& s) { return s.data_file; });
    texts("/set_data_sha256", fit_.sets, "SHA-256 of the file of the readings", "/set",
          [](const FitSetResult& s) { return s.data_sha256; });
  }
  void parameters() {
    const std::size_t p = fit_.parameters.size();
    out_.count("/parameter", p, "number of the value");
    texts("/path", fit_.parameters, "where the value stands in the scenario", "/parameter",
          [](const FitParameter& v) { return v.path; });
    texts("/name", fit_.parameters, "its name", "/parameter", [](const FitParameter& v) { return v.name; });
    texts("/label", fit_.parameters, "its name for people", "/parameter",
          [](const FitParameter& v) { return v.label; });
    texts("/unit", fit_.parameters, "its SI unit", "/parameter", [](const FitParameter& v) { return v.unit; });
    integers("/log", fit_.parameters, "1 where the box is measured in equal proportions", "/parameter",
             [](const FitParameter& v) { return v.log; });
    integers("/difference", fit_.parameters, "1 for a difference of temperatures", "/parameter",
             [](const FitParameter& v) { return v.difference; });
    table(kParameterColumns, fit_.parameters, "/parameter");
    table(kValueColumns, fit_.values, "/parameter");
    integers("/at_bound", fit_.values, "-1 at the lower bound, 1 at the upper, 0 between", "/parameter",
             [](const FitValue& v) { return v.at_low    ? -1
                                            : v.at_high ? 1
                                                        : 0; });
    out_.count("/parameter_other", p, "number of the other value");
    out_.reals("/correlation", {p, p}, fit_.correlation, "1", "correlation of two values found",
               {"/parameter", "/parameter_other"});
    out_.count("/quantity", kFitQuantities, "number of the quantity");
    std::vector<std::string> words;
    for (const FitQuantityName& n : kFitQuantityNames) {
      words.emplace_back(n.word);
    }
    out_.texts("/quantity_word", {kFitQuantities}, words, "what readings are of", {"/quantity"});
    out_.reals("/found_error", {kFitQuantities}, {fit_.found_error.begin(), fit_.found_error.end()}, "1",
               "standard deviation of readings found from the residuals, SI; not a number where errors were given",
               {"/quantity"});
    std::size_t most = 0;
    for (const FitValue& v : fit_.values) {
      most = std::max(most, v.profile_value.size());
    }
    if (most > 0) {
      out_.count("/profile_point", most, "number of the point of a profile");
      std::vector<double> values;
      std::vector<double> rises;
      for (const FitValue& v : fit_.values) {
        for (std::size_t k = 0; k < most; ++k) {
          values.push_back(k < v.profile_value.size() ? v.profile_value[k] : kFitUnknown);
          rises.push_back(k < v.profile_rise.size() ? v.profile_rise[k] : kFitUnknown);
        }
      }
      out_.reals("/profile_value", {p, most}, values, "1", "value held, in the unit of `unit`",
                 {"/parameter", "/profile_point"});
      out_.reals("/profile_rise", {p, most}, rises, "1",
                 "rise of the sum of squares over its least, in squares of the residuals' scale",
                 {"/parameter", "/profile_point"});
    }
  }
  void readings() {
    const std::vector<FitReading>& r = fit_.readings;
    out_.count("/reading", r.size(), "number of the reading");
    integers("/reading_set", r, "its data set", "/reading", [](const FitReading& x) { return x.set; });
    texts("/reading_quantity", r, "what it is of", "/reading",
          [](const FitReading& x) { return std::string(describe(x.quantity).word); });
    texts("/reading_unit", r, "SI unit of it", "/reading",
          [](const FitReading& x) { return std::string(describe(x.quantity).unit); });
    integers("/reading_stud", r, "stud, from 0; -1 for the mean of all", "/reading",
             [](const FitReading& x) { return x.stud; });
    texts("/reading_part", r, "layer or node; empty for others", "/reading",
          [](const FitReading& x) { return x.part; });
    texts("/reading_note", r, "remark", "/reading", [](const FitReading& x) { return x.note; });
    table(kReadingColumns, r, "/reading");
    table(kResidualColumns, fit_.residuals, "/reading");
  }
  void curves() {
    std::size_t instants = 1;
    for (const FitSetResult& s : fit_.sets) {
      instants = std::max(instants, s.time.size());
    }
    out_.count("/instant", instants, "number of the instant of a curve");
    std::vector<double> times;
    for (const FitSetResult& s : fit_.sets) {
      for (std::size_t k = 0; k < instants; ++k) {
        times.push_back(k < s.time.size() ? s.time[k] : kFitUnknown);
      }
    }
    out_.reals("/curve_time", {fit_.sets.size(), instants}, times, "s",
               "instants of the set's curves; not a number behind the last", {"/set", "/instant"});
    out_.count("/curve", fit_.curves.size(), "number of the curve");
    integers("/curve_set", fit_.curves, "its data set", "/curve", [](const FitCurve& c) { return c.set; });
    texts("/curve_quantity", fit_.curves, "what it is of", "/curve",
          [](const FitCurve& c) { return std::string(describe(c.quantity).word); });
    integers("/curve_stud", fit_.curves, "stud, from 0; -1 for the mean of all", "/curve",
             [](const FitCurve& c) { return c.stud; });
    texts("/curve_part", fit_.curves, "layer or node; empty for others", "/curve",
          [](const FitCurve& c) { return c.part; });
    std::vector<double> values;
    for (const FitCurve& c : fit_.curves) {
      for (std::size_t k = 0; k < instants; ++k) {
        values.push_back(k < c.value.size() ? c.value[k] : kFitUnknown);
      }
    }
    out_.reals("/curve_value", {fit_.curves.size(), instants}, values, "1", "the model at the values found, SI",
               {"/curve", "/instant"});
  }
  void starts() {
    const std::size_t p = fit_.parameters.size();
    out_.count("/start", fit_.starts.size(), "number of the start of the search");
    std::vector<double> from;
    std::vector<double> to;
    std::vector<double> cost;
    for (const FitStart& s : fit_.starts) {
      from.insert(from.end(), s.from.begin(), s.from.end());
      to.insert(to.end(), s.to.begin(), s.to.end());
      cost.push_back(s.cost);
    }
    out_.reals("/start_from", {fit_.starts.size(), p}, from, "1", "value that the search started at, SI",
               {"/start", "/parameter"});
    out_.reals("/start_to", {fit_.starts.size(), p}, to, "1", "value that it led to, SI", {"/start", "/parameter"});
    out_.reals("/start_cost", {fit_.starts.size()}, cost, "1", "half the sum of the losses at the end", {"/start"});
    texts("/start_outcome", fit_.starts, "how the search ended", "/start", [](const FitStart& s) { return s.outcome; });
  }

  const FitResult& fit_;
  h5::Id file_;
  ArrayWriter out_;
};

class Reader {
public:
  explicit Reader(std::string path) : path_(std::move(path)) {}

  FitFile read() {
    file_ = open_results(path_, kKind).file;
    const ArrayReader in(path_, file_);
    FitFile out;
    read_identity(in, path_, out);
    out.digest = in.text("digest");
    FitResult& fit = out.fit;
    fit.warnings = h5::split_lines(in.text("warnings"));
    fit.block = in.text("block");
    const std::string loss = in.text("loss");
    fit.loss = loss == name(FitLoss::Huber)    ? FitLoss::Huber
               : loss == name(FitLoss::Cauchy) ? FitLoss::Cauchy
                                               : FitLoss::None;
    fit.chi_square = in.real("chi_square");
    fit.widened = in.real("widened");
    fit.t_quantile = in.real("t_quantile");
    fit.freedom = whole(in, "degrees_of_freedom");
    fit.seed = whole(in, "seed");
    fit.best = whole(in, "best_start");
    fit.runs = whole(in, "runs");
    fit.failed_runs = whole(in, "failed_runs");
    sets(in, fit);
    out.scenario_sha256 = sha256(fit.sets.front().scenario_text);
    parameters(in, fit);
    readings(in, fit);
    curves(in, fit);
    starts(in, fit);
    if (fit.best >= fit.starts.size()) {
      throw_damaged(path_, "the best start is not there");
    }
    return out;
  }

private:
  static std::size_t whole(const ArrayReader& in, const char* attribute) {
    return static_cast<std::size_t>(std::max<std::int64_t>(in.integer(attribute), 0));
  }
  template <class Row, class Put>
  static void texts(const ArrayReader& in, const char* path, std::vector<Row>& rows, Put put) {
    const std::vector<std::string> values = in.texts(path, {rows.size()});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      put(rows[i], values[i]);
    }
  }
  template <class Row, class Put>
  static void integers(const ArrayReader& in, const char* path, std::vector<Row>& rows, Put put) {
    const std::vector<std::int64_t> values = in.integers(path, {rows.size()});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      put(rows[i], values[i]);
    }
  }
  template <class Row, std::size_t N>
  static void table(const ArrayReader& in, const Column<Row> (&columns)[N], std::vector<Row>& rows) {
    for (const Column<Row>& column : columns) {
      const std::vector<double> values = in.reals(std::string("/") + column.name, {rows.size()});
      for (std::size_t i = 0; i < rows.size(); ++i) {
        rows[i].*column.member = values[i];
      }
    }
  }
  /// A place in a list of `most`, or the end of reading.
  [[nodiscard]] std::size_t place(std::int64_t i, std::size_t most) const {
    if (i < 0 || static_cast<std::size_t>(i) >= most) {
      throw_damaged(path_, "a reading or a curve of a data set that is not there");
    }
    return static_cast<std::size_t>(i);
  }

  static void sets(const ArrayReader& in, FitResult& fit) {
    fit.sets.resize(in.length("/set", kMostSets));
    texts(in, "/set_title", fit.sets, [](FitSetResult& s, const std::string& t) { s.title = t; });
    texts(in, "/set_scenario_file", fit.sets, [](FitSetResult& s, const std::string& t) { s.scenario_file = t; });
    texts(in, "/set_scenario", fit.sets, [](FitSetResult& s, const std::string& t) { s.scenario_text = t; });
    texts(in, "/set_data_file", fit.sets, [](FitSetResult& s, const std::string& t) { s.data_file = t; });
    texts(in, "/set_data_sha256", fit.sets, [](FitSetResult& s, const std::string& t) { s.data_sha256 = t; });
  }
  void parameters(const ArrayReader& in, FitResult& fit) const {
    const std::size_t p = in.length("/parameter", kMostParameters);
    fit.parameters.resize(p);
    fit.values.resize(p);
    texts(in, "/path", fit.parameters, [](FitParameter& v, const std::string& t) { v.path = t; });
    texts(in, "/name", fit.parameters, [](FitParameter& v, const std::string& t) { v.name = t; });
    texts(in, "/label", fit.parameters, [](FitParameter& v, const std::string& t) { v.label = t; });
    texts(in, "/unit", fit.parameters, [](FitParameter& v, const std::string& t) { v.unit = t; });
    integers(in, "/log", fit.parameters, [](FitParameter& v, std::int64_t i) { v.log = i != 0; });
    integers(in, "/difference", fit.parameters, [](FitParameter& v, std::int64_t i) { v.difference = i != 0; });
    table(in, kParameterColumns, fit.parameters);
    table(in, kValueColumns, fit.values);
    integers(in, "/at_bound", fit.values, [](FitValue& v, std::int64_t i) {
      v.at_low = i < 0;
      v.at_high = i > 0;
    });
    fit.correlation = in.reals("/correlation", {p, p});
    const std::vector<double> found = in.reals("/found_error", {kFitQuantities});
    std::copy(found.begin(), found.end(), fit.found_error.begin());
    if (h5::exists(file_, "/profile_point")) {
      const std::size_t most = in.length("/profile_point", kMostProfile);
      const std::vector<double> values = in.reals("/profile_value", {p, most});
      const std::vector<double> rises = in.reals("/profile_rise", {p, most});
      for (std::size_t k = 0; k < p; ++k) {
        for (std::size_t i = 0; i < most && !std::isnan(values[k * most + i]); ++i) {
          fit.values[k].profile_value.push_back(values[k * most + i]);
          fit.values[k].profile_rise.push_back(rises[k * most + i]);
        }
      }
    }
  }
  void readings(const ArrayReader& in, FitResult& fit) const {
    fit.readings.resize(in.length("/reading", kMostReadings));
    fit.residuals.resize(fit.readings.size());
    integers(in, "/reading_set", fit.readings,
             [&](FitReading& r, std::int64_t i) { r.set = place(i, fit.sets.size()); });
    texts(in, "/reading_quantity", fit.readings,
          [&](FitReading& r, const std::string& t) { r.quantity = quantity_of(path_, t); });
    integers(in, "/reading_stud", fit.readings, [](FitReading& r, std::int64_t i) { r.stud = static_cast<int>(i); });
    texts(in, "/reading_part", fit.readings, [](FitReading& r, const std::string& t) { r.part = t; });
    texts(in, "/reading_note", fit.readings, [](FitReading& r, const std::string& t) { r.note = t; });
    table(in, kReadingColumns, fit.readings);
    table(in, kResidualColumns, fit.residuals);
  }
  void curves(const ArrayReader& in, FitResult& fit) const {
    const std::size_t instants = in.length("/instant", kMostInstants);
    const std::vector<double> times = in.reals("/curve_time", {fit.sets.size(), instants});
    for (std::size_t s = 0; s < fit.sets.size(); ++s) {
      for (std::size_t k = 0; k < instants && !std::isnan(times[s * instants + k]); ++k) {
        fit.sets[s].time.push_back(times[s * instants + k]);
      }
    }
    fit.curves.resize(in.length("/curve", kMostCurves));
    integers(in, "/curve_set", fit.curves, [&](FitCurve& c, std::int64_t i) { c.set = place(i, fit.sets.size()); });
    texts(in, "/curve_quantity", fit.curves,
          [&](FitCurve& c, const std::string& t) { c.quantity = quantity_of(path_, t); });
    integers(in, "/curve_stud", fit.curves, [](FitCurve& c, std::int64_t i) { c.stud = static_cast<int>(i); });
    texts(in, "/curve_part", fit.curves, [](FitCurve& c, const std::string& t) { c.part = t; });
    const std::vector<double> values = in.reals("/curve_value", {fit.curves.size(), instants});
    for (std::size_t c = 0; c < fit.curves.size(); ++c) {
      const auto first = values.begin() + static_cast<std::ptrdiff_t>(c * instants);
      fit.curves[c].value.assign(first, first + static_cast<std::ptrdiff_t>(fit.sets[fit.curves[c].set].time.size()));
    }
  }
  static void starts(const ArrayReader& in, FitResult& fit) {
    fit.starts.resize(in.length("/start", kMostStarts));
    const std::size_t p = fit.parameters.size();
    const std::vector<double> from = in.reals("/start_from", {fit.starts.size(), p});
    const std::vector<double> to = in.reals("/start_to", {fit.starts.size(), p});
    const std::vector<double> cost = in.reals("/start_cost", {fit.starts.size()});
    for (std::size_t s = 0; s < fit.starts.size(); ++s) {
      const auto at = static_cast<std::ptrdiff_t>(s * p);
      const auto end = static_cast<std::ptrdiff_t>((s + 1) * p);
      fit.starts[s].from.assign(from.begin() + at, from.begin() + end);
      fit.starts[s].to.assign(to.begin() + at, to.begin() + end);
      fit.starts[s].cost = cost[s];
    }
    texts(in, "/start_outcome", fit.starts, [](FitStart& s, const std::string& t) { s.outcome = t; });
  }

  std::string path_;
  h5::Id file_;
};

} // namespace

struct FitWriter::Impl : WholeFile {
  using WholeFile::WholeFile;
};

FitWriter::FitWriter(const std::string& path, bool overwrite) : impl_(std::make_unique<Impl>(path, overwrite)) {}

FitWriter::~FitWriter() = default;

void FitWriter::write(const FitResult& fit) {
  impl_->write("fit", [&] { return Builder(fit).bytes(); });
}

FitFile read_fit(const std::string& path) {
  h5::quiet();
  return reading(path, [&] { return Reader(path).read(); });
}

bool is_fit(const std::string& path) { return filetype_of(path) == kFitFileType; }

} // namespace clampfade

#include "solver/io/history_arrays.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/study_columns.hpp"
#include "solver/io/study_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <utility>

namespace clampfade {

namespace {

using namespace study_columns;

constexpr FileKind kKind = {kStudyFileType, kStudyFormatMajor, kStudyFormatMinor, "clampfade sweep or sample"};
constexpr std::size_t kMostCases = 1'000'000;
constexpr std::size_t kMostInstants = 10'000; // of a curve
constexpr std::size_t kMostNames = 10'000;    // of studs, mechanisms
constexpr std::size_t kMostValues = 1'000'000'000;

class Reader {
public:
  explicit Reader(const std::string& path) : path_(path), file_(open(path)), in_(path, file_) {}

  StudyFile read() {
    read_identity(in_, path_, out_);
    out_.digest = h5::text_attribute(file_, "digest").value_or(""); // while cases run there is none
    study_.title = in_.text("title");
    study_.kind = word({StudyKind::Sweep, StudyKind::Sample}, "kind");
    study_.status = word({StudyStatus::Running, StudyStatus::Complete, StudyStatus::Stopped}, "status");
    if (study_.kind == StudyKind::Sample) {
      study_.sampling = word({StudySampling::Sobol, StudySampling::Random}, "sampling");
      study_.seed = static_cast<std::uint64_t>(in_.integer("seed"));
    }
    study_.part = static_cast<std::size_t>(in_.integer("part"));
    study_.parts = static_cast<std::size_t>(in_.integer("parts"));
    if (study_.part < 1 || study_.part > study_.parts || study_.parts > kMostCases) {
      in_.damaged("a part that there is not");
    }
    study_.design_sha256 = in_.text("design_sha256");
    study_.warnings = h5::split_lines(in_.text("warnings"));
    study_.scenario_text = in_.texts("/scenario", {1}).front();
    out_.scenario_sha256 = h5::text_attribute(h5::open_dataset(file_, "/scenario"), "sha256").value_or("");
    axes();
    inputs();
    cases();
    return std::move(out_);
  }

private:
  using Lengths = ArrayReader::Lengths;

  static h5::Id open(const std::string& path) { return open_results(path, kKind).file; }
  template <class Enum>
  Enum word(std::initializer_list<Enum> all, const char* attribute) const {
    const std::string text = in_.text(attribute);
    for (const Enum one : all) {
      if (name(one) == text) {
        return one;
      }
    }
    in_.damaged(fmt::format("unknown {} \"{}\"", attribute, text));
  }
  static std::string text_of(hid_t dataset, const char* attribute) {
    return h5::text_attribute(dataset, attribute).value_or("");
  }
  static bool is_text(hid_t dataset) {
    const h5::Id type(H5Dget_type(dataset), H5Tclose, "type of a dataset");
    return H5Tget_class(type) == H5T_STRING;
  }

  void axes() {
    const std::vector<std::string> names = h5::split_lines(in_.text("dimensions"));
    cases_ = 1;
    for (const std::string& name : names) {
      const std::string path = "/" + name;
      shape_.push_back(in_.length(path, kMostCases));
      cases_ *= shape_.back();
      if (cases_ > kMostCases) {
        in_.damaged("more cases than a study has");
      }
      if (name == "case") {
        continue;
      }
      const h5::Id id = h5::open_dataset(file_, path);
      StudyAxis axis{name, text_of(id, "label"), text_of(id, "path"), text_of(id, "units"), {}, {}};
      if (is_text(id)) {
        axis.texts = in_.texts(path, {shape_.back()});
      } else {
        axis.values = in_.reals(path, {shape_.back()});
      }
      study_.axes.push_back(std::move(axis));
    }
    if (shape_.empty() || (study_.axes.empty() ? shape_.size() != 1 : shape_.size() != study_.axes.size())) {
      in_.damaged("no dimensions that a study has");
    }
    if (h5::exists(file_, "/time")) {
      const std::size_t instants = in_.length("/time", kMostInstants);
      study_.time = in_.reals("/time", {instants});
      study_.distance = in_.reals("/distance", {instants});
      if (!std::ranges::all_of(study_.time, [](double t) { return std::isfinite(t); }) ||
          !std::ranges::is_sorted(study_.time)) {
        in_.damaged("instants that do not follow each other");
      }
    }
    for (const auto& [path, list] : {std::pair{"/stud", &study_.studs}, std::pair{"/mechanism", &study_.mechanisms}}) {
      if (h5::exists(file_, path)) {
        *list = in_.texts(path, {in_.length(path, kMostNames)});
      }
    }
  }

  void inputs() {
    for (const std::string& name : h5::split_lines(in_.text("inputs"))) {
      const std::string path = "/input/" + name;
      const h5::Id id = h5::open_dataset(file_, path);
      StudyInput input;
      input.name = name;
      input.label = text_of(id, "label");
      input.path = text_of(id, "path");
      input.unit = text_of(id, "units");
      input.distribution = text_of(id, "distribution");
      input.per_stud = text_of(id, "each") == "stud";
      if (is_text(id)) {
        input.texts = in_.texts(path, shape_);
      } else {
        input.values = in_.reals(path, with(input.per_stud ? study_.studs.size() : 0));
      }
      study_.inputs.push_back(std::move(input));
    }
    if (h5::exists(file_, "/design")) {
      for (const std::int64_t block : in_.integers("/design", shape_)) {
        study_.design.push_back(static_cast<int>(block));
      }
    }
  }

  /// The shape of a dataset with one more axis of this length, 0 for none.
  [[nodiscard]] Lengths with(std::size_t length) const {
    Lengths all = shape_;
    if (length > 0) {
      all.push_back(length);
      if (cases_ * length > kMostValues) {
        in_.damaged("more values than a study has");
      }
    }
    return all;
  }

  void cases() {
    study_.cases.resize(cases_);
    const std::vector<std::int64_t> status = in_.integers("/status", shape_);
    std::vector<std::string> messages = in_.texts("/message", shape_);
    for (std::size_t i = 0; i < cases_; ++i) {
      if (status[i] < 0 || status[i] > 2) {
        in_.damaged("a case of unknown status");
      }
      study_.cases[i].status = static_cast<CaseStatus>(status[i]);
      study_.cases[i].message = std::move(messages[i]);
      if (study_.cases[i].status == CaseStatus::Complete && (study_.time.empty() || study_.studs.empty())) {
        in_.damaged("a case without instants or studs");
      }
    }
    for (const Column& column : kColumns) {
      const std::string path = std::string("/") + column.name;
      if (column.since_minor > 0 && !h5::exists(file_, path)) {
        continue;
      }
      if (const auto* real = std::get_if<double StudyCase::*>(&column.member)) {
        const std::vector<double> values = in_.reals(path, shape_);
        for (std::size_t i = 0; i < cases_; ++i) {
          study_.cases[i].** real = values[i];
        }
      } else {
        const std::vector<std::int64_t> values = in_.integers(path, shape_);
        for (std::size_t i = 0; i < cases_; ++i) {
          study_.cases[i].*std::get<std::size_t StudyCase::*>(column.member) =
              static_cast<std::size_t>(std::max<std::int64_t>(values[i], 0));
        }
      }
    }
    for (const ListColumn& column : kListColumns) {
      const std::size_t length = length_of(study_, column.along);
      if (length == 0) {
        continue;
      }
      const std::vector<double> values = in_.reals(std::string("/") + column.name, with(length));
      for (std::size_t i = 0; i < cases_; ++i) {
        // Nothing is known of a case that waits, so its lists are empty, as they were when it was written.
        if (study_.cases[i].status != CaseStatus::Pending) {
          const auto first = values.begin() + static_cast<std::ptrdiff_t>(i * length);
          (study_.cases[i].*column.member).assign(first, first + static_cast<std::ptrdiff_t>(length));
        }
      }
    }
  }

  std::string path_;
  h5::Id file_;
  ArrayReader in_;
  StudyFile out_;
  Study& study_ = out_.study;
  Lengths shape_;
  std::size_t cases_ = 0;
};

} // namespace

StudyFile read_study(const std::string& path) {
  h5::quiet();
  return reading(path, [&] { return Reader(path).read(); });
}

} // namespace clampfade

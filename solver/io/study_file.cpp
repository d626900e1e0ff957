#include "solver/io/study_file.hpp"

#include "solver/io/history_arrays.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/sha256.hpp"
#include "solver/io/study_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <functional>
#include <numeric>
#include <set>
#include <stdexcept>
#include <variant>

namespace clampfade {

namespace {

using namespace study_columns;

void require(bool holds, const std::string& what) {
  if (!holds) {
    throw std::logic_error("study: " + what);
  }
}

class Builder {
public:
  explicit Builder(const Study& study) : study_(study), file_(h5::create_in_memory()), out_(file_) {}

  std::vector<char> bytes() {
    check();
    attributes();
    h5::create_single(file_);
    h5::write_attribute(out_.texts("/scenario", {1}, {study_.scenario_text}, "the scenario of the study", {"/single"}),
                        "sha256", sha256(study_.scenario_text));
    axes();
    inputs();
    cases();
    if (study_.status == StudyStatus::Complete) {
      h5::write_attribute(file_, "digest", h5::digest(file_));
    }
    std::vector<char> bytes = h5::image(file_);
    add_seal(bytes);
    return bytes;
  }

private:
  using Axes = ArrayWriter::Axes;
  using Lengths = ArrayWriter::Lengths;

  void check() const {
    const Lengths shape = study_.shape();
    require(!study_.cases.empty() &&
                study_.cases.size() == std::accumulate(shape.begin(), shape.end(), std::size_t{1}, std::multiplies<>()),
            "there are not as many cases as the axes say");
    std::set<std::string> names;
    const auto check_name = [&](const std::string& name) {
      require(!name.empty() && !is_study_name(name) && name.find('/') == std::string::npos && names.insert(name).second,
              "the name \"" + name + "\" is taken or is none");
    };
    for (const StudyAxis& axis : study_.axes) {
      check_name(axis.name);
      require(axis.values.empty() != axis.texts.empty(), axis.name + " must have either values or names");
    }
    for (const StudyInput& input : study_.inputs) {
      check_name(input.name);
      require(study_.axes.empty(), "a grid has no inputs beside its axes");
    }
    require(study_.time.size() == study_.distance.size(), "times and distances differ in number");
    require(study_.design.empty() || study_.design.size() == study_.cases.size(), "a case without its block");
    require(study_.part >= 1 && study_.part <= study_.parts, "a part that there is not");
  }

  void attributes() const {
    h5::write_identity(file_, kStudyFileType, kStudyFormatMajor, kStudyFormatMinor);
    h5::write_attribute(file_, "status", name(study_.status));
    h5::write_attribute(file_, "title", study_.title);
    h5::write_attribute(file_, "kind", name(study_.kind));
    if (study_.kind == StudyKind::Sample) {
      h5::write_attribute(file_, "sampling", name(study_.sampling));
      integer("seed", static_cast<std::int64_t>(study_.seed));
    }
    integer("part", static_cast<std::int64_t>(study_.part));
    integer("parts", static_cast<std::int64_t>(study_.parts));
    h5::write_attribute(file_, "design_sha256", study_.design_sha256);
    h5::write_lines(file_, "warnings", study_.warnings);
  }
  void integer(const char* attribute, std::int64_t value) const {
    h5::write_attribute(file_, attribute, std::span<const std::int64_t>(&value, 1));
  }

  void axes() {
    std::vector<std::string> names;
    for (const StudyAxis& axis : study_.axes) {
      const std::string path = "/" + axis.name;
      const h5::Id id = axis.texts.empty() ? out_.reals(path, {axis.size()}, axis.values, axis.unit, axis.label)
                                           : out_.texts(path, {axis.size()}, axis.texts, axis.label);
      h5::write_attribute(id, "path", axis.path);
      h5::write_attribute(id, "label", axis.label);
      h5::make_scale(id, path);
      names.push_back(axis.name);
      case_axes_.push_back(path);
    }
    if (names.empty()) {
      out_.count("/case", study_.cases.size(), "number of the case");
      names.emplace_back("case");
      case_axes_.emplace_back("/case");
    }
    h5::write_lines(file_, "dimensions", names);
    shape_ = study_.shape();
    if (!study_.time.empty()) {
      out_.reals("/time", {study_.time.size()}, study_.time, "s", "instants of the curves");
      out_.axis("/time");
      out_.reals("/distance", {study_.time.size()}, study_.distance, "m",
                 "distance driven by then; not a number where cases differ in it", {"/time"});
    }
    for (const auto& [path, names_of, long_name] :
         {std::tuple{"/stud", &study_.studs, "studs"},
          std::tuple{"/mechanism", &study_.mechanisms, "what takes clamp load"}}) {
      if (!names_of->empty()) {
        out_.texts(path, {names_of->size()}, *names_of, long_name);
        out_.axis(path);
      }
    }
  }

  void inputs() {
    std::vector<std::string> names;
    for (const StudyInput& input : study_.inputs) {
      Axes on = case_axes_;
      Lengths lengths = shape_;
      if (input.per_stud && study_.studs.empty()) {
        require(input.values.empty(), input.name + " has values for studs that there are not");
        continue;
      }
      if (input.per_stud) {
        on.emplace_back("/stud");
        lengths.push_back(study_.studs.size());
      }
      const std::string path = "/input/" + input.name;
      const h5::Id id = input.texts.empty()
                            ? out_.reals(path, lengths, filled(input.values, lengths), input.unit, input.label, on)
                            : out_.texts(path, lengths, input.texts, input.label, on);
      h5::write_attribute(id, "path", input.path);
      h5::write_attribute(id, "label", input.label);
      h5::write_attribute(id, "each", input.per_stud ? "stud" : "wheel");
      h5::write_attribute(id, "distribution", input.distribution);
      names.push_back(input.name);
    }
    h5::write_lines(file_, "inputs", names);
    if (!study_.design.empty()) {
      out_.integers("/design", shape_, {study_.design.begin(), study_.design.end()},
                    "block of the case in the design for sensitivities", case_axes_);
    }
  }
  static std::vector<double> filled(const std::vector<double>& values, const Lengths& lengths) {
    return values.empty() ? std::vector<double>(
                                std::accumulate(lengths.begin(), lengths.end(), std::size_t{1}, std::multiplies<>()),
                                StudyCase::kUnknown)
                          : values;
  }

  void cases() {
    std::vector<std::int64_t> status;
    std::vector<std::string> messages;
    for (const StudyCase& c : study_.cases) {
      status.push_back(static_cast<std::int64_t>(c.status));
      messages.push_back(c.message);
    }
    const h5::Id id = out_.codes("/status", shape_, status, "how the case ended", case_axes_);
    constexpr std::array<std::int64_t, 3> flags = {0, 1, 2};
    h5::write_attribute(id, "flag_values", flags);
    h5::write_attribute(id, "flag_meanings", "pending complete failed");
    out_.texts("/message", shape_, messages, "why the case failed", case_axes_);
    for (const Column& column : kColumns) {
      const std::string path = std::string("/") + column.name;
      if (const auto* real = std::get_if<double StudyCase::*>(&column.member)) {
        std::vector<double> values;
        for (const StudyCase& c : study_.cases) {
          values.push_back(c.**real);
        }
        out_.reals(path, shape_, values, column.unit, column.long_name, case_axes_);
      } else {
        std::vector<std::int64_t> values;
        for (const StudyCase& c : study_.cases) {
          values.push_back(static_cast<std::int64_t>(c.*std::get<std::size_t StudyCase::*>(column.member)));
        }
        out_.integers(path, shape_, values, column.long_name, case_axes_);
      }
    }
    for (const ListColumn& column : kListColumns) {
      const std::size_t length = length_of(study_, column.along);
      std::vector<double> values;
      values.reserve(study_.cases.size() * length);
      for (const StudyCase& c : study_.cases) {
        const std::vector<double>& list = c.*column.member;
        require(list.empty() || list.size() == length,
                fmt::format("{} values of {} where there are {}", list.size(), column.name, length));
        values.insert(values.end(), list.begin(), list.end());
        values.insert(values.end(), length - list.size(), StudyCase::kUnknown);
      }
      if (length > 0) {
        Axes on = case_axes_;
        on.emplace_back(axis_of(column.along));
        Lengths lengths = shape_;
        lengths.push_back(length);
        out_.reals(std::string("/") + column.name, lengths, values, column.unit, column.long_name, on);
      }
    }
  }

  const Study& study_;
  h5::Id file_;
  ArrayWriter out_;
  Axes case_axes_; ///< of the dimensions that count cases
  Lengths shape_;
};

} // namespace

struct StudyWriter::Impl : WholeFile {
  using WholeFile::WholeFile;
};

StudyWriter::StudyWriter(const std::string& path, bool overwrite) : impl_(std::make_unique<Impl>(path, overwrite)) {}

StudyWriter::~StudyWriter() = default;

void StudyWriter::write(const Study& study) {
  impl_->write("study", [&] { return Builder(study).bytes(); });
}

bool is_study(const std::string& path) { return filetype_of(path) == kStudyFileType; }

} // namespace clampfade

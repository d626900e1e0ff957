#include "solver/io/study_file.hpp"

#include "solver/io/history_arrays.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/replaced_file.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/sha256.hpp"

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

constexpr FileKind kKind = {kStudyFileType, kStudyFormatMajor, kStudyFormatMinor, "clampfade sweep or sample"};
constexpr std::size_t kMostCases = 1'000'000;
constexpr std::size_t kMostInstants = 10'000; // of a curve
constexpr std::size_t kMostNames = 10'000;    // of studs, mechanisms
constexpr std::size_t kMostValues = 1'000'000'000;

enum class Along { Time, Stud, Mechanism };

/// A dataset along the cases, and the member that it holds.
struct Column {
  const char* name;
  const char* unit;
  const char* long_name;
  std::variant<double StudyCase::*, std::size_t StudyCase::*> member;
};
/// A dataset along the cases and one more axis.
struct ListColumn {
  const char* name;
  const char* unit;
  const char* long_name;
  Along along;
  std::vector<double> StudyCase::*member;
};

constexpr auto kColumns = std::to_array<Column>({
    {"retorque_gain_end", "N", "cold clamp load won by later acts of the wrench, mean over the studs, at the end",
     &StudyCase::retorque_gain_end},
    {"required_clamp", "N", "clamp load that each stud must keep", &StudyCase::required_clamp},
    {"below_time", "s", "first time at which a stud is below the required clamp; not a number if never",
     &StudyCase::below_time},
    {"below_distance", "m", "distance driven by then", &StudyCase::below_distance},
    {"below_stud", "1", "number of that stud, from 1; 0 if never", &StudyCase::below_stud},
    {"slip_margin_lowest", "1", "friction the joint can hold over the load it carries, lowest of the run",
     &StudyCase::slip_margin_lowest},
    {"utilisation_highest", "1", "reduced stress of a stud over its yield strength, highest of the run",
     &StudyCase::utilisation_highest},
    {"nuts_loose", "1", "studs that carried no clamp at some time", &StudyCase::nuts_loose},
    {"studs_yielded", "1", "studs that stretched for good", &StudyCase::studs_yielded},
});

const std::array<ListColumn, 5> kListColumns = {{
    {"clamp_cold_lowest", "N", "cold clamp load of the weakest stud", Along::Time, &StudyCase::clamp_cold_lowest},
    {"clamp_cold_mean", "N", "mean cold clamp load of the studs", Along::Time, &StudyCase::clamp_cold_mean},
    {"clamp_cold_first", "N", "cold clamp load as tightened", Along::Stud, &StudyCase::clamp_cold_first},
    {"clamp_cold_end", "N", "cold clamp load at the end", Along::Stud, &StudyCase::clamp_cold_end},
    {"loss_clamp_end", "N", "cold clamp load that a mechanism has cost by the end, mean over the studs",
     Along::Mechanism, &StudyCase::loss_clamp_end},
}};

const char* axis_of(Along along) {
  return along == Along::Time ? "/time" : along == Along::Stud ? "/stud" : "/mechanism";
}
std::size_t length_of(const Study& study, Along along) {
  return along == Along::Time ? study.time.size() : along == Along::Stud ? study.studs.size() : study.mechanisms.size();
}

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

class Reader {
public:
  explicit Reader(const std::string& path) : path_(path), file_(open(path)), in_(path, file_) {}

  StudyFile read() {
    out_.path = path_;
    out_.program_version = in_.text("program_version");
    out_.git_sha = in_.text("git_sha");
    out_.created_utc = in_.text("created_utc");
    out_.digest = h5::text_attribute(file_, "digest").value_or("");
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

  static h5::Id open(const std::string& path) {
    // Only whole files are ever published, so one without a seal was cut short or made over by another tool.
    std::size_t bytes = 0;
    h5::Id file = open_results(path, kKind, bytes);
    if (check_seal(path) != Seal::Intact) {
      throw_damaged(path, "the seal at its end is missing");
    }
    return file;
  }
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
    }
    for (const Column& column : kColumns) {
      const std::string path = std::string("/") + column.name;
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

struct StudyWriter::Impl {
  explicit Impl(const std::string& p) : path(p), target(p) {}
  std::string path;
  ReplacedFile target;
};

StudyWriter::StudyWriter(const std::string& path, bool overwrite) {
  h5::quiet();
  require_free(path, overwrite);
  impl_ = std::make_unique<Impl>(path);
}

StudyWriter::~StudyWriter() = default;

void StudyWriter::write(const Study& study) {
  std::vector<char> bytes;
  try {
    bytes = Builder(study).bytes();
  } catch (const h5::Error& e) {
    throw FileError(Code::FileWrite, fmt::format("{}: cannot build the study in memory: {}", impl_->path, e.what()));
  }
  impl_->target.replace([&](const Descriptor& other) { return other.write(bytes.data(), bytes.size()); },
                        "what was there before is kept");
}

StudyFile read_study(const std::string& path) {
  h5::quiet();
  return reading(path, [&] { return Reader(path).read(); });
}

bool is_study(const std::string& path) { return filetype_of(path) == kStudyFileType; }

} // namespace clampfade

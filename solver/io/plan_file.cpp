#include "solver/io/plan_file.hpp"

#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
#include "solver/io/replaced_file.hpp"
#include "solver/io/seal.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <variant>

namespace clampfade {

namespace {

constexpr FileKind kKind = {kPlanFileType, kPlanFormatMajor, kPlanFormatMinor, "clampfade plan"};
constexpr std::size_t kMostCases = 1000;     // no plan that this program makes comes near
constexpr std::size_t kMostInstants = 10000; // of a curve
constexpr std::size_t kMostRetorques = 10;

/// A dataset along /case, and perhaps /retorque, and the member that it holds.
template <class Row>
struct Column {
  const char* name;
  const char* unit;
  const char* long_name;
  std::variant<double Row::*, std::size_t Row::*> member;
};

constexpr auto kCaseColumns = std::to_array<Column<PlanCase>>({
    {"lowest_clamp", "N", "lowest cold clamp load of a stud over the run", &PlanCase::lowest_clamp},
    {"lowest_time", "s", "time of the lowest clamp load", &PlanCase::lowest_time},
    {"lowest_distance", "m", "distance driven at the lowest clamp load", &PlanCase::lowest_distance},
    {"lowest_stud", "1", "stud of the lowest clamp load, from 0", &PlanCase::lowest_stud},
    {"below_time", "s", "first time below the required clamp; not a number if never", &PlanCase::below_time},
    {"below_distance", "m", "distance driven by then", &PlanCase::below_distance},
    {"end_clamp", "N", "cold clamp load of the weakest stud at the end", &PlanCase::end_clamp},
    {"end_clamp_mean", "N", "mean cold clamp load of the studs at the end", &PlanCase::end_clamp_mean},
    {"end_stud", "1", "weakest stud at the end, from 0", &PlanCase::end_stud},
    {"loss_after", "N", "cold clamp load that this stud lost after the wrench last turned its nut",
     &PlanCase::loss_after},
    {"stud_yield", "1", "events of a stud that stretched for good", &PlanCase::stud_yield},
    {"stud_fatigue", "1", "events of a stud stressed above its endurance limit", &PlanCase::stud_fatigue},
    {"open", "1", "events of a joint that carried no clamp", &PlanCase::open},
    {"gap", "1", "events of a joint that opened in each turn", &PlanCase::gap},
    {"nut_free", "1", "events of a nut that nothing held", &PlanCase::nut_free},
});

constexpr auto kRetorqueColumns = std::to_array<Column<PlanRetorque>>({
    {"asked_time", "s", "time asked for; not a number if a distance was", &PlanRetorque::asked_time},
    {"asked_distance", "m", "distance asked for; not a number if a time was", &PlanRetorque::asked_distance},
    {"done_time", "s", "time at which it was done", &PlanRetorque::time},
    {"done_distance", "m", "distance driven by then", &PlanRetorque::distance},
    {"clamp_before", "N", "cold clamp load of the weakest stud just before", &PlanRetorque::clamp_before},
    {"clamp_before_mean", "N", "mean cold clamp load of the studs just before", &PlanRetorque::clamp_before_mean},
    {"clamp_after", "N", "cold clamp load of the weakest stud just after", &PlanRetorque::clamp_after},
    {"clamp_after_mean", "N", "mean cold clamp load of the studs just after", &PlanRetorque::clamp_after_mean},
    {"gain", "N", "mean of the cold clamp loads won", &PlanRetorque::gain},
    {"torque_lowest", "N m", "lowest set torque of the studs", &PlanRetorque::torque_lowest},
    {"torque_highest", "N m", "highest set torque of the studs", &PlanRetorque::torque_highest},
    {"check_torque_lowest", "N m", "lowest torque that would have started a nut just before",
     &PlanRetorque::check_torque_lowest},
    {"check_torque_highest", "N m", "highest torque that would have started a nut just before",
     &PlanRetorque::check_torque_highest},
    {"nuts", "1", "nuts that the wrench was put on", &PlanRetorque::nuts},
    {"moved", "1", "nuts that turned", &PlanRetorque::moved},
});

h5::Id stored(bool real) { return h5::Id(H5Tcopy(real ? H5T_IEEE_F64LE : H5T_STD_I64LE), H5Tclose, "type"); }

class Builder {
public:
  explicit Builder(const Plan& plan) : plan_(plan), file_(h5::create_in_memory()) {}

  std::vector<char> bytes() {
    h5::write_identity(file_, kPlanFileType, kPlanFormatMajor, kPlanFormatMinor);
    h5::write_attribute(file_, "title", plan_.title);
    h5::write_lines(file_, "warnings", plan_.warnings);
    h5::write_attribute(file_, "end_time", plan_.end_time);
    h5::write_attribute(file_, "required_clamp", plan_.required_clamp);
    h5::write_attribute(file_, "first_clamp", plan_.first_clamp);
    h5::write_attribute(file_, "first_clamp_mean", plan_.first_clamp_mean);

    h5::create_single(file_);
    const h5::Id scenario =
        h5::create_texts(file_, "/scenario", {plan_.scenario_text}, "1", "the scenario that the plan is of");
    h5::write_attribute(scenario, "sha256", sha256(plan_.scenario_text));
    h5::attach(file_, scenario, "/single", 0);

    const std::size_t cases = plan_.cases.size();
    for (const PlanCase& c : plan_.cases) {
      retorques_ = std::max(retorques_, c.retorques.size());
    }
    reals("/time", {plan_.time.size()}, plan_.time, "s", "instants of the curves");
    axis("/time");
    reals("/distance", {plan_.time.size()}, plan_.distance, "m", "distance driven by then", {"/time"});
    count("/case", cases, "number of the case");
    if (retorques_ > 0) {
      count("/retorque", retorques_, "number of the retorque in its case");
    }
    std::vector<std::string> status, reasons;
    std::vector<std::int64_t> counts;
    std::vector<double> curves;
    for (const PlanCase& c : plan_.cases) {
      status.emplace_back(name(c.status));
      reasons.push_back(c.status_text);
      counts.push_back(static_cast<std::int64_t>(c.retorques.size()));
      curves.insert(curves.end(), c.clamp.begin(), c.clamp.end());
    }
    h5::attach(file_, h5::create_texts(file_, "/status", status, "1", "how the run ended"), "/case", 0);
    h5::attach(file_, h5::create_texts(file_, "/status_text", reasons, "1", "why it failed"), "/case", 0);
    integers("/retorques", {cases}, counts, "retorques of the case", {"/case"});
    reals("/clamp", {cases, plan_.time.size()}, curves, "N", "cold clamp load of the weakest stud", {"/case", "/time"});
    for (const Column<PlanCase>& column : kCaseColumns) {
      std::vector<const PlanCase*> rows;
      for (const PlanCase& c : plan_.cases) {
        rows.push_back(&c);
      }
      table(column, rows, {cases}, {"/case"});
    }
    static const PlanRetorque none;
    std::vector<const PlanRetorque*> rows;
    for (const PlanCase& c : plan_.cases) {
      for (std::size_t k = 0; k < retorques_; ++k) {
        rows.push_back(k < c.retorques.size() ? &c.retorques[k] : &none);
      }
    }
    for (const Column<PlanRetorque>& column : kRetorqueColumns) {
      if (retorques_ > 0) {
        table(column, rows, {cases, retorques_}, {"/case", "/retorque"});
      }
    }
    h5::write_attribute(file_, "digest", h5::digest(file_));
    std::vector<char> bytes = h5::image(file_);
    add_seal(bytes);
    return bytes;
  }

private:
  using Axes = std::vector<std::string>;

  h5::Id dataset(const std::string& path, const std::vector<hsize_t>& dims, bool real, const char* unit,
                 const char* long_name, const Axes& axes) {
    h5::Id id = h5::create_dataset(file_, path, stored(real), dims, false, unit, long_name);
    for (unsigned i = 0; i < axes.size(); ++i) {
      h5::attach(file_, id, axes[i], i);
    }
    return id;
  }
  void reals(const std::string& path, const std::vector<hsize_t>& dims, const std::vector<double>& values,
             const char* unit, const char* long_name, const Axes& axes = {}) {
    h5::write_rows(dataset(path, dims, true, unit, long_name, axes), H5T_NATIVE_DOUBLE, 0, dims[0], values.data());
  }
  void integers(const std::string& path, const std::vector<hsize_t>& dims, const std::vector<std::int64_t>& values,
                const char* long_name, const Axes& axes = {}) {
    h5::write_rows(dataset(path, dims, false, "1", long_name, axes), H5T_NATIVE_INT64, 0, dims[0], values.data());
  }
  void axis(const std::string& path) { h5::make_scale(h5::open_dataset(file_, path), path); }
  void count(const std::string& path, std::size_t length, const char* long_name) {
    std::vector<std::int64_t> numbers(length);
    for (std::size_t i = 0; i < length; ++i) {
      numbers[i] = static_cast<std::int64_t>(i);
    }
    integers(path, {length}, numbers, long_name);
    axis(path);
  }
  template <class Row>
  void table(const Column<Row>& column, const std::vector<const Row*>& rows, const std::vector<hsize_t>& dims,
             const Axes& axes) {
    const std::string path = std::string("/") + column.name;
    if (const auto* real = std::get_if<double Row::*>(&column.member)) {
      std::vector<double> values;
      for (const Row* row : rows) {
        values.push_back(row->**real);
      }
      reals(path, dims, values, column.unit, column.long_name, axes);
    } else {
      std::vector<std::int64_t> values;
      for (const Row* row : rows) {
        values.push_back(static_cast<std::int64_t>(row->*std::get<std::size_t Row::*>(column.member)));
      }
      integers(path, dims, values, column.long_name, axes);
    }
  }

  const Plan& plan_;
  h5::Id file_;
  std::size_t retorques_ = 0; ///< most of a case
};

class Reader {
public:
  explicit Reader(std::string path) : path_(std::move(path)) {}

  PlanFile read() {
    // Only whole plans are ever written, so one without a seal was cut short or made over by another tool.
    std::size_t bytes = 0;
    file_ = open_results(path_, kKind, bytes);
    if (check_seal(path_) != Seal::Intact) {
      throw_damaged(path_, "the seal at its end is missing");
    }
    PlanFile out;
    out.path = path_;
    out.program_version = need_text("program_version");
    out.git_sha = need_text("git_sha");
    out.created_utc = need_text("created_utc");
    out.digest = need_text("digest");
    Plan& plan = out.plan;
    plan.title = need_text("title");
    plan.warnings = h5::split_lines(need_text("warnings"));
    plan.end_time = need_real("end_time");
    plan.required_clamp = need_real("required_clamp");
    plan.first_clamp = need_real("first_clamp");
    plan.first_clamp_mean = need_real("first_clamp_mean");
    const std::vector<std::string> scenario = texts("/scenario", 1);
    plan.scenario_text = scenario.front();
    out.scenario_sha256 = h5::text_attribute(h5::open_dataset(file_, "/scenario"), "sha256").value_or("");

    const std::size_t instants = length("/time", kMostInstants);
    const std::size_t cases = length("/case", kMostCases);
    const std::size_t most = h5::exists(file_, "/retorque") ? length("/retorque", kMostRetorques) : 0;
    plan.time = reals("/time", {instants});
    plan.distance = reals("/distance", {instants});
    plan.cases.resize(cases);
    const std::vector<std::string> status = texts("/status", cases);
    const std::vector<std::string> reasons = texts("/status_text", cases);
    const std::vector<std::int64_t> counts = integers("/retorques", {cases});
    const std::vector<double> curves = reals("/clamp", {cases, instants});
    std::vector<PlanCase*> rows;
    for (std::size_t i = 0; i < cases; ++i) {
      PlanCase& c = plan.cases[i];
      c.status = status_of(status[i]);
      c.status_text = reasons[i];
      if (counts[i] < 0 || static_cast<std::size_t>(counts[i]) > most) {
        throw_damaged(path_, "more retorques than the file holds");
      }
      c.retorques.resize(static_cast<std::size_t>(counts[i]));
      const auto first = curves.begin() + static_cast<std::ptrdiff_t>(i * instants);
      c.clamp.assign(first, first + static_cast<std::ptrdiff_t>(instants));
      rows.push_back(&c);
    }
    for (const Column<PlanCase>& column : kCaseColumns) {
      table(column, rows, {cases});
    }
    std::vector<PlanRetorque*> acts;
    for (PlanCase& c : plan.cases) {
      for (std::size_t k = 0; k < most; ++k) {
        acts.push_back(k < c.retorques.size() ? &c.retorques[k] : nullptr);
      }
    }
    for (const Column<PlanRetorque>& column : kRetorqueColumns) {
      if (most > 0) {
        table(column, acts, {cases, most});
      }
    }
    return out;
  }

private:
  [[nodiscard]] std::string need_text(const char* attribute) const {
    const auto text = h5::text_attribute(file_, attribute);
    return text ? *text : (throw_damaged(path_, fmt::format("no attribute {}", attribute)), "");
  }
  [[nodiscard]] double need_real(const char* attribute) const {
    const auto value = h5::real_attribute(file_, attribute);
    return value ? *value : (throw_damaged(path_, fmt::format("no attribute {}", attribute)), 0);
  }
  [[nodiscard]] std::size_t length(const std::string& axis, std::size_t most) const {
    const std::vector<hsize_t> d = h5::dims(h5::open_dataset(file_, axis));
    if (d.size() != 1 || d[0] == 0 || d[0] > most) {
      throw_damaged(path_, axis + " has no length that a plan has");
    }
    return d[0];
  }
  [[nodiscard]] h5::Id open(const std::string& dataset, const std::vector<hsize_t>& dims, H5T_class_t expected) const {
    h5::Id id = h5::open_dataset(file_, dataset);
    const h5::Id type(H5Dget_type(id), H5Tclose, "type of " + dataset);
    if (h5::dims(id) != dims || H5Tget_class(type) != expected) {
      throw_damaged(path_, dataset + " is of another shape or type");
    }
    return id;
  }
  [[nodiscard]] std::vector<double> reals(const std::string& dataset, const std::vector<hsize_t>& dims) const {
    std::vector<double> values(entries(dims));
    h5::read_rows(open(dataset, dims, H5T_FLOAT), H5T_NATIVE_DOUBLE, 0, dims[0], values.data());
    return values;
  }
  [[nodiscard]] std::vector<std::int64_t> integers(const std::string& dataset, const std::vector<hsize_t>& dims) const {
    std::vector<std::int64_t> values(entries(dims));
    h5::read_rows(open(dataset, dims, H5T_INTEGER), H5T_NATIVE_INT64, 0, dims[0], values.data());
    return values;
  }
  [[nodiscard]] std::vector<std::string> texts(const std::string& dataset, std::size_t count) const {
    return h5::read_texts(open(dataset, {count}, H5T_STRING), 0, count);
  }
  static std::size_t entries(const std::vector<hsize_t>& dims) {
    std::size_t n = 1;
    for (const hsize_t d : dims) {
      n *= d;
    }
    return n;
  }
  template <class Row>
  void table(const Column<Row>& column, const std::vector<Row*>& rows, const std::vector<hsize_t>& dims) const {
    const std::string dataset = std::string("/") + column.name;
    if (const auto* real = std::get_if<double Row::*>(&column.member)) {
      const std::vector<double> values = reals(dataset, dims);
      for (std::size_t i = 0; i < rows.size(); ++i) {
        if (rows[i] != nullptr) {
          rows[i]->** real = values[i];
        }
      }
    } else {
      const std::vector<std::int64_t> values = integers(dataset, dims);
      for (std::size_t i = 0; i < rows.size(); ++i) {
        if (rows[i] != nullptr) {
          rows[i]->*std::get<std::size_t Row::*>(column.member) =
              static_cast<std::size_t>(std::max<std::int64_t>(values[i], 0));
        }
      }
    }
  }
  [[nodiscard]] RunStatus status_of(const std::string& word) const {
    for (const RunStatus s : {RunStatus::Running, RunStatus::Complete, RunStatus::Stopped, RunStatus::Failed}) {
      if (name(s) == word) {
        return s;
      }
    }
    throw_damaged(path_, "unknown status \"" + word + "\"");
  }

  std::string path_;
  h5::Id file_;
};

} // namespace

struct PlanWriter::Impl {
  explicit Impl(const std::string& p) : path(p), target(p) {}
  std::string path;
  ReplacedFile target;
};

PlanWriter::PlanWriter(const std::string& path, bool overwrite) {
  h5::quiet();
  require_free(path, overwrite);
  impl_ = std::make_unique<Impl>(path);
}

PlanWriter::~PlanWriter() = default;

void PlanWriter::write(const Plan& plan) {
  std::vector<char> bytes;
  try {
    bytes = Builder(plan).bytes();
  } catch (const h5::Error& e) {
    throw FileError(Code::FileWrite, fmt::format("{}: cannot build the plan in memory: {}", impl_->path, e.what()));
  }
  impl_->target.replace([&](const Descriptor& other) { return other.write(bytes.data(), bytes.size()); },
                        "what was there before is kept");
}

PlanFile read_plan(const std::string& path) {
  h5::quiet();
  return reading(path, [&] { return Reader(path).read(); });
}

bool is_plan(const std::string& path) { return filetype_of(path) == kPlanFileType; }

} // namespace clampfade

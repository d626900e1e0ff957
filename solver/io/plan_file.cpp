#include "solver/io/plan_file.hpp"

#include "solver/io/history.hpp"
#include "solver/io/history_arrays.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/history_open.hpp"
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
  bool since_1_1 = false; ///< files of format 1.0 do not have it
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
    {"utilisation_tightening", "1", "reduced stress over yield strength under the wrench, of the stud pulled hardest",
     &PlanCase::utilisation_tightening, true},
    {"proof_share", "1", "highest clamp load that the wrench made, over the proof load", &PlanCase::proof_share, true},
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

class Builder {
public:
  explicit Builder(const Plan& plan) : plan_(plan), file_(h5::create_in_memory()), out_(file_) {}

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
    out_.reals("/time", {plan_.time.size()}, plan_.time, "s", "instants of the curves");
    out_.axis("/time");
    out_.reals("/distance", {plan_.time.size()}, plan_.distance, "m", "distance driven by then", {"/time"});
    out_.count("/case", cases, "number of the case");
    if (retorques_ > 0) {
      out_.count("/retorque", retorques_, "number of the retorque in its case");
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
    out_.texts("/status", {cases}, status, "how the run ended", {"/case"});
    out_.texts("/status_text", {cases}, reasons, "why it failed", {"/case"});
    out_.integers("/retorques", {cases}, counts, "retorques of the case", {"/case"});
    out_.reals("/clamp", {cases, plan_.time.size()}, curves, "N", "cold clamp load of the weakest stud",
               {"/case", "/time"});
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
  using Axes = ArrayWriter::Axes;

  template <class Row>
  void table(const Column<Row>& column, const std::vector<const Row*>& rows, const ArrayWriter::Lengths& dims,
             const Axes& axes) {
    const std::string path = std::string("/") + column.name;
    if (const auto* real = std::get_if<double Row::*>(&column.member)) {
      std::vector<double> values;
      for (const Row* row : rows) {
        values.push_back(row->**real);
      }
      out_.reals(path, dims, values, column.unit, column.long_name, axes);
    } else {
      std::vector<std::int64_t> values;
      for (const Row* row : rows) {
        values.push_back(static_cast<std::int64_t>(row->*std::get<std::size_t Row::*>(column.member)));
      }
      out_.integers(path, dims, values, column.long_name, axes);
    }
  }

  const Plan& plan_;
  h5::Id file_;
  ArrayWriter out_;
  std::size_t retorques_ = 0; ///< most of a case
};

class Reader {
public:
  explicit Reader(std::string path) : path_(std::move(path)) {}

  PlanFile read() {
    file_ = open_results(path_, kKind).file;
    const ArrayReader in(path_, file_);
    PlanFile out;
    read_identity(in, path_, out);
    out.digest = in.text("digest");
    Plan& plan = out.plan;
    plan.title = in.text("title");
    plan.warnings = h5::split_lines(in.text("warnings"));
    plan.end_time = in.real("end_time");
    plan.required_clamp = in.real("required_clamp");
    plan.first_clamp = in.real("first_clamp");
    plan.first_clamp_mean = in.real("first_clamp_mean");
    const std::vector<std::string> scenario = in.texts("/scenario", {1});
    plan.scenario_text = scenario.front();
    out.scenario_sha256 = h5::text_attribute(h5::open_dataset(file_, "/scenario"), "sha256").value_or("");

    const std::size_t instants = in.length("/time", kMostInstants);
    const std::size_t cases = in.length("/case", kMostCases);
    const std::size_t most = h5::exists(file_, "/retorque") ? in.length("/retorque", kMostRetorques) : 0;
    plan.time = in.reals("/time", {instants});
    plan.distance = in.reals("/distance", {instants});
    plan.cases.resize(cases);
    const std::vector<std::string> status = in.texts("/status", {cases});
    const std::vector<std::string> reasons = in.texts("/status_text", {cases});
    const std::vector<std::int64_t> counts = in.integers("/retorques", {cases});
    const std::vector<double> curves = in.reals("/clamp", {cases, instants});
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
      if (!column.since_1_1 || h5::exists(file_, std::string("/") + column.name)) {
        table(in, column, rows, {cases});
      }
    }
    std::vector<PlanRetorque*> acts;
    for (PlanCase& c : plan.cases) {
      for (std::size_t k = 0; k < most; ++k) {
        acts.push_back(k < c.retorques.size() ? &c.retorques[k] : nullptr);
      }
    }
    for (const Column<PlanRetorque>& column : kRetorqueColumns) {
      if (most > 0) {
        table(in, column, acts, {cases, most});
      }
    }
    return out;
  }

private:
  template <class Row>
  static void table(const ArrayReader& in, const Column<Row>& column, const std::vector<Row*>& rows,
                    const ArrayReader::Lengths& dims) {
    const std::string dataset = std::string("/") + column.name;
    if (const auto* real = std::get_if<double Row::*>(&column.member)) {
      const std::vector<double> values = in.reals(dataset, dims);
      for (std::size_t i = 0; i < rows.size(); ++i) {
        if (rows[i] != nullptr) {
          rows[i]->** real = values[i];
        }
      }
    } else {
      const std::vector<std::int64_t> values = in.integers(dataset, dims);
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

struct PlanWriter::Impl : WholeFile {
  using WholeFile::WholeFile;
};

PlanWriter::PlanWriter(const std::string& path, bool overwrite) : impl_(std::make_unique<Impl>(path, overwrite)) {}

PlanWriter::~PlanWriter() = default;

void PlanWriter::write(const Plan& plan) {
  impl_->write("plan", [&] { return Builder(plan).bytes(); });
}

PlanFile read_plan(const std::string& path) {
  h5::quiet();
  return reading(path, [&] { return Reader(path).read(); });
}

bool is_plan(const std::string& path) { return filetype_of(path) == kPlanFileType; }

} // namespace clampfade

#include "solver/study.hpp"

#include "models/units.hpp"
#include "solver/budget.hpp"
#include "solver/diagnostics.hpp"
#include "solver/duty.hpp"
#include "solver/scatter.hpp"
#include "solver/simulation.hpp"
#include "solver/wrench_stress.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <map>
#include <memory>
#include <mutex>
#include <numeric>
#include <optional>
#include <set>
#include <stdexcept>

namespace clampfade {

namespace {

constexpr double kSameInstant = 1e-6; // s: closer times are one
constexpr double kUnknown = StudyCase::kUnknown;

[[noreturn]] void refuse(Code code, std::string where, std::string found, std::string allowed, std::string hint = "") {
  Diagnostic d;
  d.code = code;
  d.path = std::move(where);
  d.found = std::move(found);
  d.allowed = std::move(allowed);
  d.hint = std::move(hint);
  throw InputError({d});
}

double end_of(const Scenario& scenario) { return static_cast<double>(days(scenario.duty.calendar)) * units::kDay; }

// Most of what a wheel loses it loses on the first day, which an instant a day would show as a straight line.
constexpr std::array kFirstHours = {1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 20.0};

/// Between two instants: whole days from two weeks on, else whole hours that part the day evenly.
double axis_step(double end) {
  const auto most = static_cast<double>(kMostStudyInstants - 1 - kFirstHours.size());
  if (end < 14 * units::kDay) {
    for (const double hours : {1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0}) {
      if (end / (hours * units::kHour) <= most) {
        return hours * units::kHour;
      }
    }
  }
  return std::max(1.0, std::ceil(end / units::kDay / most - 1e-9)) * units::kDay;
}

/// Distance driven by the instants of the axis.
std::vector<double> distances(const Scenario& scenario, const std::vector<double>& time) {
  const std::vector<Span> work = working_day(scenario);
  const std::vector<Span> rest = day_off(scenario);
  std::vector<double> out;
  double distance = 0;
  std::size_t next = 0;
  const auto until = [&](double start, const Span& span) {
    for (; next < time.size() && time[next] < start + span.duration - kSameInstant; ++next) {
      out.push_back(distance + span.distance() * std::max(0.0, time[next] - start) / span.duration);
    }
    distance += span.distance();
  };
  for (std::size_t day = 0; day < days(scenario.duty.calendar); ++day) {
    for (const Span& span : works(scenario.duty.calendar, day) ? work : rest) {
      until(static_cast<double>(day) * units::kDay + span.start, span);
    }
  }
  out.resize(time.size(), distance);
  return out;
}

/// Whether cases that differ here may drive other distances.
bool moves_the_duty(const std::string& path) { return path.rfind("duty", 0) == 0; }

void forget_distance(Study& study) { std::fill(study.distance.begin(), study.distance.end(), kUnknown); }

void set_cases(Study& study, std::size_t count, const char* where) {
  if (count > kMostCases) {
    refuse(Code::TooLarge, where, fmt::format("the study has {} cases", count), fmt::format("at most {}", kMostCases));
  }
  study.cases.assign(count, {});
}

/// Keeps of a run what a study says about it.
class CaseSink final : public Sink {
public:
  CaseSink(const std::vector<double>& axis, const std::function<void(const RecordRow&)>& also)
      : axis_(axis), also_(also) {
    case_.clamp_cold_lowest.assign(axis.size(), kUnknown);
    case_.clamp_cold_mean.assign(axis.size(), kUnknown);
  }

  void begin(const RunHeader& header) override {
    const std::size_t n = header.studs.size();
    wrench_.begin(header);
    removed_.assign(n, 0);
    opened_.assign(n, 0);
    yielded_.assign(n, 0);
    alike_.resize(n);
    case_.clamp_cold_first.assign(n, kUnknown);
    case_.clamp_cold_end.assign(n, kUnknown);
    case_.loss_clamp_end.assign(kMechanismNames.size(), kUnknown);
    for (const Figure& f : header.joint) {
      if (f.name == "required_clamp" && f.values.size() == 1) {
        case_.required_clamp = f.values.front();
      }
    }
  }
  void act(const ActRow& row) override { wrench_.act(row); }
  void event(const EventRow& row) override {
    const auto stud = static_cast<std::size_t>(std::max(row.stud, 0));
    if (row.kind == "below required clamp" && std::isnan(case_.below_time)) {
      case_.below_time = row.time;
      case_.below_distance = row.distance;
      case_.below_stud = stud + 1;
    } else if (row.kind == "nut removed") {
      removed_.at(stud) = 1;
    } else if (row.kind == "open") {
      opened_.at(stud) = 1;
    } else if (row.kind == "stud yield") {
      yielded_.at(stud) = 1;
    } else if (row.kind == "outside calibration") {
      case_.parts_outside += 1;
    }
  }
  void record(const RecordRow& row) override {
    if (also_) {
      also_(row);
    }
    tell_apart(row);
    double lowest = kUnknown;
    double sum = 0;
    double count = 0;
    for (std::size_t k = 0; k < row.clamp_cold.size(); ++k) {
      if (removed_[k] == 0) {
        lowest = std::fmin(lowest, row.clamp_cold[k]);
        sum += row.clamp_cold[k];
        count += 1;
        case_.utilisation_highest = std::fmax(case_.utilisation_highest, row.utilisation[k]);
      }
    }
    if (!started_) {
      started_ = true;
      case_.clamp_cold_first = row.clamp_cold;
    }
    case_.slip_margin_lowest = std::fmin(case_.slip_margin_lowest, row.slip_margin);
    while (next_ < axis_.size() && axis_[next_] < row.time - kSameInstant) {
      ++next_;
    }
    // Of two records of one instant the second counts.
    if (next_ < axis_.size() && std::abs(axis_[next_] - row.time) <= kSameInstant) {
      case_.clamp_cold_lowest[next_] = lowest;
      case_.clamp_cold_mean[next_] = count > 0 ? sum / count : kUnknown;
    }
    last_ = row;
  }
  void steps(const StepsRow& /*row*/) override {}
  void checkpoint(const Checkpoint& /*checkpoint*/) override {}
  void end(RunStatus status, const std::string& reason, const std::vector<std::string>& /*warnings*/) override {
    if (status == RunStatus::Failed) {
      case_.status = CaseStatus::Failed;
      case_.message = reason;
      return;
    }
    if (status != RunStatus::Complete) {
      return;
    }
    case_.status = CaseStatus::Complete;
    case_.utilisation_tightening = wrench_.utilisation();
    case_.proof_share = wrench_.proof_share();
    double count = 0;
    std::vector<double> losses(kMechanismNames.size(), 0);
    double gain = 0;
    for (std::size_t k = 0; k < removed_.size(); ++k) {
      // An event of the wheel's column of alike studs is told of its first stud only.
      case_.nuts_loose += opened_[alike_[k]] != 0 ? 1U : 0U;
      case_.studs_yielded += yielded_[alike_[k]] != 0 ? 1U : 0U;
      if (removed_[k] == 0) {
        case_.clamp_cold_end[k] = last_.clamp_cold[k];
        gain += last_.retorque_gain[k];
        for (std::size_t m = 0; m < losses.size(); ++m) {
          losses[m] += last_.loss_clamp[k * losses.size() + m];
        }
        count += 1;
      }
    }
    if (count > 0) {
      case_.retorque_gain_end = gain / count;
      std::transform(losses.begin(), losses.end(), case_.loss_clamp_end.begin(),
                     [&](double sum) { return sum / count; });
    }
  }

  [[nodiscard]] StudyCase take() { return std::move(case_); }

private:
  /// Studs that have been the same to the last bit in every record are those that the run solves once.
  void tell_apart(const RecordRow& row) {
    std::map<std::tuple<std::size_t, double, double, double>, std::size_t> first;
    for (std::size_t k = 0; k < alike_.size(); ++k) {
      alike_[k] =
          first.emplace(std::tuple(started_ ? alike_[k] : 0, row.clamp[k], row.clamp_cold[k], row.check_torque[k]), k)
              .first->second;
    }
  }

  const std::vector<double>& axis_;
  const std::function<void(const RecordRow&)>& also_;
  StudyCase case_;
  std::vector<char> removed_, opened_, yielded_;
  std::vector<std::size_t> alike_; ///< first of the studs that are like this one
  RecordRow last_;
  WrenchStress wrench_;
  std::size_t next_ = 0;
  bool started_ = false;
};

} // namespace

Study lay_out(const Scenario& base, std::string scenario_text) {
  Study study;
  study.title = base.title;
  study.scenario_text = std::move(scenario_text);
  const double end = end_of(base);
  const double step = axis_step(end);
  study.time.push_back(0);
  if (step >= units::kDay) {
    for (const double hour : kFirstHours) {
      study.time.push_back(hour * units::kHour);
    }
  }
  for (std::size_t k = 1; static_cast<double>(k) * step < end - kSameInstant; ++k) {
    study.time.push_back(static_cast<double>(k) * step);
  }
  study.time.push_back(end);
  study.distance = distances(base, study.time);
  for (std::size_t k = 0; k < base.joint.studs.count; ++k) {
    study.studs.push_back(std::to_string(k + 1));
  }
  study.mechanisms.assign(kMechanismNames.begin(), kMechanismNames.end());
  return study;
}

void lay_out_sweep(Study& study, std::vector<StudyAxis> axes, bool list) {
  study.kind = StudyKind::Sweep;
  if (axes.empty()) {
    refuse(Code::MissingKey, "vary", "the scenario varies nothing", "a list of axes under `vary`, or --vary",
           "for example --vary 'tightening/torque=550 N*m..700 N*m:7'");
  }
  if (std::any_of(axes.begin(), axes.end(), [](const StudyAxis& a) { return moves_the_duty(a.path); })) {
    forget_distance(study);
  }
  if (!list) {
    std::size_t count = 1;
    for (const StudyAxis& axis : axes) {
      count = std::min(count * axis.size(), kMostCases + 1);
    }
    set_cases(study, count, "vary");
    study.axes = std::move(axes);
    return;
  }
  for (const StudyAxis& axis : axes) {
    if (axis.size() != axes.front().size()) {
      refuse(
          Code::Inconsistent, "--list",
          fmt::format("{} has {} values and {} has {}", axes.front().name, axes.front().size(), axis.name, axis.size()),
          "axes of one length", "without --list every value meets every other");
    }
  }
  set_cases(study, axes.front().size(), "vary");
  for (StudyAxis& axis : axes) {
    StudyInput input;
    input.name = std::move(axis.name);
    input.label = std::move(axis.label);
    input.path = std::move(axis.path);
    input.unit = std::move(axis.unit);
    input.values = std::move(axis.values);
    input.texts = std::move(axis.texts);
    study.inputs.push_back(std::move(input));
  }
}

void lay_out_sample(Study& study, const std::vector<ScatterSpec>& scatter, const SampleRequest& request) {
  study.kind = StudyKind::Sample;
  study.sampling = request.sampling;
  study.seed = request.seed;
  if (scatter.empty()) {
    refuse(Code::MissingKey, "scatter", "the scenario scatters nothing", "a list of values under `scatter`");
  }
  const std::size_t studs = study.studs.size();
  const std::size_t d = scatter.size();
  const std::size_t blocks = request.sensitivity ? d + 2 : 1;
  set_cases(study, std::min(request.count, kMostCases + 1) * blocks, "--count");
  std::vector<std::size_t> from; // first coordinate of each entry
  std::vector<Distribution> distributions;
  std::size_t dimensions = 0;
  for (std::size_t k = 0; k < d; ++k) {
    from.push_back(dimensions);
    dimensions += scatter[k].per_stud ? copula_dimensions(studs, scatter[k].correlation) : 1;
    try {
      distributions.emplace_back(scatter[k].distribution);
    } catch (const std::invalid_argument& e) {
      refuse(Code::Inconsistent, fmt::format("scatter/{}", k + 1), e.what(),
             "ends that leave some of the distribution");
    }
  }
  const std::size_t all = dimensions * (request.sensitivity ? 2 : 1);
  if (all > kMostDimensions) {
    refuse(Code::TooLarge, "scatter", fmt::format("the points have {} coordinates", all),
           fmt::format("at most {}", kMostDimensions), "fewer values with each: stud");
  }
  if (std::any_of(scatter.begin(), scatter.end(), [](const ScatterSpec& s) { return moves_the_duty(s.path); })) {
    forget_distance(study);
  }
  for (const ScatterSpec& s : scatter) {
    StudyInput input;
    input.name = s.name;
    input.label = s.label;
    input.path = s.path;
    input.unit = s.unit;
    input.distribution = s.text;
    input.per_stud = s.per_stud;
    input.values.reserve(study.cases.size() * (s.per_stud ? studs : 1));
    study.inputs.push_back(std::move(input));
  }
  const Points points(request.sampling, request.seed, all);
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    const std::size_t block = i % blocks;
    const std::vector<double> u = points.point(i / blocks);
    for (std::size_t k = 0; k < d; ++k) {
      const bool anew = block == 1 || block == 2 + k;
      const double* first = u.data() + from[k] + (anew ? dimensions : 0);
      const ScatterSpec& s = scatter[k];
      const std::size_t count = s.per_stud ? studs : 1;
      const std::vector<double> shares = s.per_stud ? copula(first, studs, s.correlation) : std::vector{*first};
      for (std::size_t n = 0; n < count; ++n) {
        study.inputs[k].values.push_back(distributions[k].quantile(shares[n]) * (s.base.empty() ? 1 : s.base.at(n)));
      }
    }
    if (request.sensitivity) {
      study.design.push_back(static_cast<int>(block));
    }
  }
}

std::vector<std::size_t> positions(const Study& study, const std::vector<StudyAxis>& axes, std::size_t index) {
  std::vector<std::size_t> out(axes.size(), index);
  if (study.axes.empty()) {
    return out; // a list
  }
  for (std::size_t k = axes.size(); k-- > 0;) {
    out[k] = index % axes[k].size();
    index /= axes[k].size();
  }
  return out;
}

std::vector<std::vector<double>> sample_values(const Study& study, std::size_t index) {
  std::vector<std::vector<double>> out;
  for (const StudyInput& input : study.inputs) {
    const std::size_t n = input.per_stud ? study.studs.size() : 1;
    const auto first = input.values.begin() + static_cast<std::ptrdiff_t>(index * n);
    out.emplace_back(first, first + static_cast<std::ptrdiff_t>(n));
  }
  return out;
}

Scenario with_study_records(Scenario scenario, const std::vector<double>& time) {
  scenario.record = {};
  scenario.record.layers = false;
  for (const double t : time) {
    scenario.record.at.push_back({When::Kind::Time, t});
  }
  return scenario;
}

StudyCase run_study_case(const Scenario& scenario, const std::vector<double>& time,
                         const std::function<bool(double share)>& report, HeatMemory* heat,
                         const std::function<void(const RecordRow& row)>& record) {
  CaseSink sink(time, record);
  RunOptions options;
  options.heat = heat;
  options.checkpoint_every = 1e9; // nothing is ever continued
  options.progress = [&](double now, double end) { return report(now / end); };
  try {
    run(scenario, sink, options);
  } catch (const NumericalError& e) {
    StudyCase failed = sink.take();
    failed.status = CaseStatus::Failed;
    failed.message = failed.message.empty() ? e.what() : failed.message;
    return failed;
  }
  return sink.take();
}

void run_study(Study& study, const MakeCase& make, const StudyRunOptions& options) {
  std::vector<std::size_t> todo;
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    if (study.mine(i) && study.cases[i].status == CaseStatus::Pending) {
      todo.push_back(i);
    }
  }
  std::vector<double> instants = study.time;
  instants.insert(instants.end(), options.also_at.begin(), options.also_at.end());
  std::mutex mutex; // of the outcomes and of what is known of heat
  std::vector<std::unique_ptr<HeatMemory>> idle;
  const auto run_case = [&](std::size_t which, const std::function<bool(double)>& report) {
    const std::size_t i = todo[which];
    std::unique_ptr<HeatMemory> heat;
    {
      const std::lock_guard lock(mutex);
      if (idle.empty()) {
        heat = std::make_unique<HeatMemory>();
      } else {
        heat = std::move(idle.back());
        idle.pop_back();
      }
    }
    StudyCase outcome;
    try {
      std::function<void(const RecordRow&)> record;
      if (options.record) {
        record = [&](const RecordRow& row) { options.record(i, row); };
      }
      outcome = run_study_case(with_study_records(make(i), instants), study.time, report, heat.get(), record);
    } catch (const InputError& e) {
      const Diagnostic& d = e.diagnostics().front();
      outcome.status = CaseStatus::Failed;
      outcome.message = fmt::format("{}: {}{}", d.path, d.found, d.allowed.empty() ? "" : "; allowed: " + d.allowed);
    }
    const std::lock_guard lock(mutex);
    idle.push_back(std::move(heat));
    if (outcome.status == CaseStatus::Pending) {
      return false;
    }
    study.cases[i] = std::move(outcome);
    return true;
  };
  using Clock = std::chrono::steady_clock;
  auto published = Clock::now();
  const auto watch = [&](std::size_t done, double share) {
    if (options.publish && std::chrono::duration<double>(Clock::now() - published).count() >= options.publish_every) {
      const Study now = [&] {
        const std::lock_guard lock(mutex);
        return study;
      }();
      options.publish(now);
      published = Clock::now();
    }
    return !options.progress || options.progress(done, share);
  };
  study.status = StudyStatus::Running;
  study.status = run_cases(todo.size(), options.jobs, run_case, watch) ? StudyStatus::Complete : StudyStatus::Stopped;
}

} // namespace clampfade

#include "solver/plan.hpp"

#include "models/units.hpp"
#include "solver/case_runner.hpp"
#include "solver/diagnostics.hpp"
#include "solver/duty.hpp"
#include "solver/service.hpp"
#include "solver/simulation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace clampfade {

namespace {

constexpr double kSameInstant = 1e-6; // s: closer times are one
constexpr std::size_t kCurve = 300;   // instants of a curve, about
constexpr std::size_t kDefaultRungs = 6;
constexpr double kLastShare = 0.75; // of the run: a retorque later than that shows little of what follows it

/// A stop at which a service may act.
struct Stop {
  double time = 0;     ///< [s]
  double distance = 0; ///< [m]
};

/// All of them, added up as a run does, so that a distance is reached at the same stop.
std::vector<Stop> stops_of(const Scenario& scenario) {
  const std::vector<Span> work = working_day(scenario);
  const std::vector<Span> rest = day_off(scenario);
  std::vector<Stop> stops;
  double distance = 0;
  for (std::size_t day = 0; day < days(scenario.duty.calendar); ++day) {
    for (const Span& span : works(scenario.duty.calendar, day) ? work : rest) {
      if (span.parked) {
        stops.push_back({static_cast<double>(day) * units::kDay + span.start, distance});
      }
      distance += span.distance();
    }
  }
  return stops;
}

std::string text(const When& when) {
  return when.kind == When::Kind::Time ? fmt::format("{:.4g} d", when.value / units::kDay)
                                       : fmt::format("{:.4g} km", when.value / units::kKilometre);
}

/// Number of the first stop at which a retorque asked for then is done; none if the run has no such stop.
std::optional<std::size_t> stop_for(const When& when, const std::vector<Stop>& stops) {
  Service service;
  service.after = when;
  const std::vector<Service> one = {service};
  ServicePlan plan(one);
  for (std::size_t i = 0; i < stops.size(); ++i) {
    if (plan.due(stops[i].time, stops[i].distance) != nullptr) {
      return i;
    }
  }
  return std::nullopt;
}

PlanRetorque asked(const When& when) {
  PlanRetorque r;
  (when.kind == When::Kind::Time ? r.asked_time : r.asked_distance) = when.value;
  return r;
}

When when(const PlanRetorque& r) {
  return std::isnan(r.asked_time) ? When{When::Kind::Distance, r.asked_distance} : When{When::Kind::Time, r.asked_time};
}

double end_of(const Scenario& scenario) { return static_cast<double>(days(scenario.duty.calendar)) * units::kDay; }

/// Instants common to all curves. Where the scenario itself records often enough they are some of its own, so that each
/// case is the very run that `simulate` would make of it.
std::vector<double> axis_of(const Scenario& scenario) {
  const double end = end_of(scenario);
  double step = end / static_cast<double>(kCurve);
  if (const std::optional<double>& every = scenario.record.every; every && *every <= 1.5 * step) {
    step = *every * std::max(1.0, std::round(step / *every));
  }
  std::vector<double> axis;
  for (std::size_t k = 0; static_cast<double>(k) * step < end - kSameInstant; ++k) {
    axis.push_back(static_cast<double>(k) * step);
  }
  axis.push_back(end);
  return axis;
}

/// The torque that the scenario's own retorques name; none: that of tightening.
std::optional<double> retorque_torque(const Scenario& scenario) {
  for (const Service& s : scenario.service) {
    if (s.kind == Service::Kind::Retorque) {
      return s.torque;
    }
  }
  return std::nullopt;
}

[[noreturn]] void refuse(Code code, std::string found, std::string allowed, std::string hint = "") {
  Diagnostic d;
  d.code = code;
  d.path = "--after";
  d.found = std::move(found);
  d.allowed = std::move(allowed);
  d.hint = std::move(hint);
  throw InputError({d});
}

} // namespace

std::vector<When> default_ladder(const Scenario& scenario) {
  const double last = std::max(1.0, std::floor(kLastShare * end_of(scenario) / units::kDay));
  std::vector<When> ladder;
  for (std::size_t k = 0; k < kDefaultRungs; ++k) {
    const double share = static_cast<double>(k) / static_cast<double>(kDefaultRungs - 1);
    const double day = std::round(std::pow(last, share));
    if (ladder.empty() || day * units::kDay > ladder.back().value) {
      ladder.push_back({When::Kind::Time, day * units::kDay});
    }
  }
  return ladder;
}

Scenario without_retorques(const Scenario& scenario) {
  Scenario s = scenario;
  s.service.clear();
  std::copy_if(scenario.service.begin(), scenario.service.end(), std::back_inserter(s.service),
               [](const Service& v) { return v.kind != Service::Kind::Retorque; });
  return s;
}

Plan lay_out(const Scenario& scenario, const PlanRequest& request) {
  Plan plan;
  plan.title = scenario.title;
  plan.scenario_text = scenario.resolved_text;
  plan.end_time = end_of(scenario);
  plan.time = axis_of(scenario);

  const auto own =
      static_cast<std::size_t>(std::count_if(scenario.service.begin(), scenario.service.end(),
                                             [](const Service& s) { return s.kind == Service::Kind::Retorque; }));
  if (own > 0) {
    plan.warnings.push_back(fmt::format("the scenario's own {} left out: each case has the retorques of the plan "
                                        "in their place",
                                        own == 1 ? "retorque is" : fmt::format("{} retorques are", own)));
    const std::optional<double> torque = retorque_torque(scenario);
    if (std::any_of(scenario.service.begin(), scenario.service.end(),
                    [&](const Service& s) { return s.kind == Service::Kind::Retorque && s.torque != torque; })) {
      plan.warnings.emplace_back("the scenario's own retorques name unlike torques: the plan uses that of the first");
    }
  }

  const std::vector<When> ladder = request.after.empty() ? default_ladder(scenario) : request.after;
  if (ladder.size() > kMostInstants) {
    refuse(Code::OutOfRange, fmt::format("{} instants", ladder.size()), fmt::format("at most {}", kMostInstants));
  }
  const std::vector<Stop> stops = stops_of(scenario);
  std::vector<std::pair<std::size_t, When>> rungs; // with the stop
  for (const When& w : ladder) {
    const std::optional<std::size_t> stop = stop_for(w, stops);
    if (!(w.value > 0) || !stop) {
      refuse(Code::OutOfRange,
             w.value > 0 ? fmt::format("{}: the run has no stop after that", text(w))
                         : fmt::format("{} is not after the wheel was tightened", text(w)),
             stops.empty() ? "none: the scenario has no stop at which a service may act"
                           : fmt::format("above 0, up to {:.4g} d or {:.4g} km, where the last stop is",
                                         stops.back().time / units::kDay, stops.back().distance / units::kKilometre));
    }
    const auto same = std::find_if(rungs.begin(), rungs.end(), [&](const auto& r) { return r.first == *stop; });
    if (same != rungs.end()) {
      plan.warnings.push_back(fmt::format("{} and {} come at the same stop, after {:.4g} d: they count once",
                                          text(same->second), text(w), stops[*stop].time / units::kDay));
      continue;
    }
    rungs.emplace_back(*stop, w);
  }
  std::stable_sort(rungs.begin(), rungs.end(), [](const auto& a, const auto& b) { return a.first < b.first; });

  plan.cases.emplace_back();
  for (const auto& rung : rungs) {
    plan.cases.emplace_back();
    plan.cases.back().retorques = {asked(rung.second)};
  }
  for (std::size_t i = 0; request.retorques > 1 && i < rungs.size(); ++i) {
    for (std::size_t j = i + 1; j < rungs.size(); ++j) {
      plan.cases.emplace_back();
      plan.cases.back().retorques = {asked(rungs[i].second), asked(rungs[j].second)};
    }
  }
  return plan;
}

Scenario case_scenario(const Scenario& scenario, const Plan& plan, const PlanCase& which) {
  Scenario s = without_retorques(scenario);
  for (const PlanRetorque& r : which.retorques) {
    Service service;
    service.after = when(r);
    service.torque = retorque_torque(scenario);
    s.service.push_back(service);
  }
  s.record.layers = false; // nobody reads them here
  const double step = plan.time.at(1);
  if (!s.record.every || *s.record.every > step + kSameInstant) {
    s.record.every = step;
  }
  return s;
}

OutcomeSink::OutcomeSink(PlanCase asked_case, const std::vector<double>& axis)
    : case_(std::move(asked_case)), axis_(axis), distance_(axis.size(), kNotANumber) {
  case_.clamp.assign(axis.size(), kNotANumber);
}

void OutcomeSink::begin(const RunHeader& header) {
  removed_.assign(header.studs.size(), 0);
  warnings_ = header.warnings;
  wrench_.begin(header);
  for (const Figure& f : header.joint) {
    if (f.name == "required_clamp" && f.values.size() == 1) {
      required_ = f.values.front();
    }
  }
}

void OutcomeSink::act(const ActRow& row) {
  wrench_.act(row);
  if (row.pass == 0) {
    acts_.push_back(row);
  }
}

OutcomeSink::Clamps OutcomeSink::clamps(const RecordRow& row) const {
  Clamps c;
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t k = 0; k < row.clamp_cold.size(); ++k) {
    if (removed_[k] == 0) {
      if (count == 0 || row.clamp_cold[k] < c.lowest) {
        c.lowest = row.clamp_cold[k];
        c.stud = k;
      }
      sum += row.clamp_cold[k];
      ++count;
    }
  }
  if (count > 0) {
    c.mean = sum / static_cast<double>(count);
  }
  return c;
}

void OutcomeSink::event(const EventRow& row) {
  if (row.kind == "nut removed" && row.stud >= 0) {
    removed_.at(static_cast<std::size_t>(row.stud)) = 1;
  } else if (row.kind == "below required clamp" && std::isnan(case_.below_time)) {
    case_.below_time = row.time;
    case_.below_distance = row.distance;
  } else if (row.kind == "stud yield") {
    ++case_.stud_yield;
  } else if (row.kind == "stud fatigue") {
    ++case_.stud_fatigue;
  } else if (row.kind == "open") {
    ++case_.open;
  } else if (row.kind == "gap") {
    ++case_.gap;
  } else if (row.kind == "nut free") {
    ++case_.nut_free;
  } else if (row.kind == "retorque" && done_ < case_.retorques.size()) {
    // A record stands just before the wrench comes.
    PlanRetorque& r = case_.retorques[done_];
    const Clamps before = clamps(last_);
    r.time = row.time;
    r.distance = row.distance;
    r.clamp_before = before.lowest;
    r.clamp_before_mean = before.mean;
    for (const ActRow& a : acts_) {
      // fmin and fmax pass over what is not a number yet.
      r.torque_lowest = std::fmin(r.torque_lowest, a.torque);
      r.torque_highest = std::fmax(r.torque_highest, a.torque);
      r.check_torque_lowest = std::fmin(r.check_torque_lowest, last_.check_torque.at(a.stud));
      r.check_torque_highest = std::fmax(r.check_torque_highest, last_.check_torque.at(a.stud));
      ++r.nuts;
      r.moved += a.moved ? 1 : 0;
    }
    retorqued_ = true;
  }
}

void OutcomeSink::record(const RecordRow& row) {
  const Clamps now = clamps(row);
  if (!started_) {
    started_ = true;
    first_ = now.lowest;
    first_mean_ = now.mean;
    anchor_ = row.clamp_cold;
  }
  if (retorqued_) {
    retorqued_ = false;
    PlanRetorque& r = case_.retorques[done_++];
    r.clamp_after = now.lowest;
    r.clamp_after_mean = now.mean;
    r.gain = now.mean - r.clamp_before_mean;
    for (const ActRow& a : acts_) {
      if (a.moved) {
        anchor_.at(a.stud) = row.clamp_cold.at(a.stud);
      }
    }
    acts_.clear();
  }
  if (!(now.lowest >= case_.lowest_clamp) && !std::isnan(now.lowest)) {
    case_.lowest_clamp = now.lowest;
    case_.lowest_time = row.time;
    case_.lowest_distance = row.distance;
    case_.lowest_stud = now.stud;
  }
  case_.end_clamp = now.lowest;
  case_.end_clamp_mean = now.mean;
  case_.end_stud = now.stud;
  case_.loss_after = std::isnan(now.lowest) ? kNotANumber : anchor_.at(now.stud) - now.lowest;
  // Of two records of one instant the second counts.
  while (next_ < axis_.size() && axis_[next_] < row.time - kSameInstant) {
    ++next_;
  }
  if (next_ < axis_.size() && std::abs(axis_[next_] - row.time) <= kSameInstant) {
    case_.clamp[next_] = now.lowest;
    distance_[next_] = row.distance;
  }
  last_ = row;
}

void OutcomeSink::steps(const StepsRow& row) { (void)row; }
void OutcomeSink::checkpoint(const Checkpoint& checkpoint) { (void)checkpoint; }

void OutcomeSink::end(RunStatus status, const std::string& reason, const std::vector<std::string>& warnings) {
  case_.status = status;
  case_.status_text = reason;
  case_.utilisation_tightening = wrench_.utilisation();
  case_.proof_share = wrench_.proof_share();
  warnings_ = warnings;
}

bool run_plan(const Scenario& scenario, Plan& plan, std::size_t jobs, const CaseProgress& progress) {
  const std::size_t count = plan.cases.size();
  std::vector<std::unique_ptr<OutcomeSink>> sinks(count);
  const auto run_case = [&](std::size_t i, const std::function<bool(double)>& report) {
    const Scenario one = case_scenario(scenario, plan, plan.cases[i]);
    sinks[i] = std::make_unique<OutcomeSink>(plan.cases[i], plan.time);
    RunOptions options;
    options.checkpoint_every = 1e9; // nothing is ever continued
    options.progress = [&](double time, double end) { return report(time / end); };
    try {
      run(one, *sinks[i], options);
    } catch (const NumericalError&) {
      // The sink was told, and the other cases go on.
    }
    return sinks[i]->outcome().status != RunStatus::Stopped;
  };
  if (!run_cases(count, jobs, run_case, progress)) {
    return false;
  }

  plan.distance.assign(plan.time.size(), kNotANumber);
  for (std::size_t i = 0; i < count; ++i) {
    const OutcomeSink& sink = *sinks[i];
    plan.cases[i] = sink.outcome();
    for (std::size_t k = 0; k < plan.time.size(); ++k) {
      plan.distance[k] = std::isnan(plan.distance[k]) ? sink.distance()[k] : plan.distance[k];
    }
    if (std::isnan(plan.first_clamp)) {
      plan.first_clamp = sink.first_clamp();
      plan.first_clamp_mean = sink.first_clamp_mean();
    }
    for (const std::string& warning : sink.warnings()) {
      if (std::find(plan.warnings.begin(), plan.warnings.end(), warning) == plan.warnings.end()) {
        plan.warnings.push_back(warning);
      }
    }
  }
  plan.required_clamp = sinks.front()->required_clamp();
  return true;
}

} // namespace clampfade

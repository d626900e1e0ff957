// Many random joints and short duties, to the edge of what a scenario may hold: every run comes to its end or says why
// not, and what it wrote down can be true. On demand; `scan --help` says how. Case k of a seed is the same whatever ran
// before it.
#include "solver/design.hpp"
#include "solver/duty.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "solver/study.hpp"
#include "tests/property/balance.hpp"
#include "tests/property/drawn_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <ctime>
#include <fstream>
#include <functional>
#include <iterator>
#include <limits>
#include <map>
#include <numeric>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr double kBalance = 1e-9;        // of the forces that balance; they are converged to 1e-11
constexpr double kClosure = 1e-9;        // of the first clamp
constexpr double kPromise = 2e-4;        // of the first clamp, between envelope and every stop
constexpr double kHeatPromise = 2;       // K
constexpr double kWarmth = 1e-3;         // K, that a temperature may leave its bounds by
constexpr double kSlow = 20;             // s
constexpr std::size_t kPairsEvery = 50;  // cases of which one is run again in another way
constexpr std::size_t kStudyEvery = 200; // and one is a study on two threads

/// Seconds of processor time so far: others may keep the machine busy.
double used() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

/// Keeps what a run tells, with where its records lie between acts and checkpoints.
class Watch final : public Sink {
public:
  void begin(const RunHeader& h) override { header = h; }
  void act(const ActRow& row) override { acts.push_back(row); }
  void event(const EventRow& row) override {
    events.push_back(row);
    if (row.kind == "retorque" || row.kind == "nut removed") {
      ++served_;
    }
  }
  void record(const RecordRow& row) override {
    records.push_back(row);
    served.push_back(served_);
  }
  void steps(const StepsRow& row) override { work.push_back(row); }
  void checkpoint(const Checkpoint& c) override {
    checkpoints.push_back(c);
    records_before.push_back(records.size());
    events_before.push_back(events.size());
  }
  void end(RunStatus s, const std::string& t, const std::vector<std::string>&) override {
    status = s;
    text = t;
  }

  RunHeader header;
  std::vector<ActRow> acts;
  std::vector<EventRow> events;
  std::vector<RecordRow> records;
  std::vector<std::size_t> served; ///< acts of service before each record
  std::vector<StepsRow> work;
  std::vector<Checkpoint> checkpoints;
  std::vector<std::size_t> records_before, events_before; ///< each checkpoint
  RunStatus status = RunStatus::Running;
  std::string text;

private:
  std::size_t served_ = 0;
};

/// What became of a case.
struct Verdict {
  std::string outcome; ///< "complete", "refused: ...", "failed: ...", "stopped"
  std::vector<std::string> faults;
  std::vector<std::string> features;
  double seconds = 0;
  double balance = 0;               ///< largest imbalance, share of the forces that balance
  double closure = 0;               ///< largest gap in the budget, share of the first clamp
  std::optional<double> resolution; ///< between envelope and every stop, share of the first clamp
  void fault(const std::string& what) {
    if (faults.size() < 5) {
      faults.push_back(what);
    }
  }
};

/// The same reason whatever its numbers.
std::string kind_of(std::string_view reason) {
  std::string kind;
  for (std::size_t i = 0; i < reason.size(); ++i) {
    const char c = reason[i];
    const bool digit = c >= '0' && c <= '9';
    const bool inside = !kind.empty() && kind.back() == '#' &&
                        std::string_view(".e+-").find(c) != std::string_view::npos && i + 1 < reason.size() &&
                        reason[i + 1] != ' ';
    if (digit || inside) {
      if (kind.empty() || kind.back() != '#') {
        kind += '#';
      }
    } else {
      kind += c;
    }
  }
  return kind;
}

RunStatus go(const Scenario& s, Watch& watch, double most, const Checkpoint* from = nullptr) {
  const double start = used();
  RunOptions options;
  options.checkpoint_every = 0;
  options.progress = [&](double, double) { return used() - start < most; };
  return from != nullptr ? resume(s, *from, watch, options) : run(s, watch, options);
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](double x, double y) {
           return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y);
         });
}

/// All numbers of a record in one list, the slip margin apart: no demand gives an infinite one.
std::vector<double> numbers(const RecordRow& r) {
  std::vector<double> all = {r.time, r.distance, r.stops};
  for (const auto* list : {&r.clamp, &r.clamp_cold, &r.temperature, &r.loss, &r.loss_clamp, &r.fatigue_amplitude,
                           &r.utilisation, &r.seat_pressure, &r.layer_thickness, &r.check_torque, &r.retorque_gain}) {
    all.insert(all.end(), list->begin(), list->end());
  }
  return all;
}

/// Records and events of `b` against those of `a` from these on.
void expect_same(const Watch& a, std::size_t record, std::size_t event, const Watch& b, const char* what, Verdict& v) {
  bool same = a.records.size() - record == b.records.size() && a.events.size() - event == b.events.size();
  for (std::size_t k = 0; same && k < b.records.size(); ++k) {
    same = same_bits(numbers(a.records[record + k]), numbers(b.records[k])) &&
           same_bits({a.records[record + k].slip_margin}, {b.records[k].slip_margin});
  }
  for (std::size_t k = 0; same && k < b.events.size(); ++k) {
    const EventRow& x = a.events[event + k];
    const EventRow& y = b.events[k];
    same = x.kind == y.kind && x.stud == y.stud && x.text == y.text &&
           same_bits({x.time, x.distance}, {y.time, y.distance});
  }
  if (!same) {
    v.fault(fmt::format("other bits {}", what));
  }
}

/// Studs that nothing tells apart share a column of the state that a checkpoint holds.
std::pair<std::vector<std::size_t>, std::vector<double>> columns_of(const Scenario& s, const Joint& joint) {
  std::vector<std::size_t> studs;
  std::vector<double> counts;
  const TighteningSpec& w = s.tightening;
  const auto removed = [&](std::size_t k) {
    return std::any_of(s.service.begin(), s.service.end(),
                       [&](const Service& v) { return v.kind == Service::Kind::RemoveNut && v.stud == k; });
  };
  for (std::size_t k = 0; k < s.joint.studs.count; ++k) {
    const auto alike = std::find_if(studs.begin(), studs.end(), [&](std::size_t other) {
      return !joint.coupled() && w.pause == 0 && !removed(k) && !removed(other) && w.torque[k] == w.torque[other] &&
             w.thread_friction[k] == w.thread_friction[other] && w.bearing_friction[k] == w.bearing_friction[other];
    });
    if (alike == studs.end()) {
      studs.push_back(k);
      counts.push_back(1);
    } else {
      counts[static_cast<std::size_t>(alike - studs.begin())] += 1;
    }
  }
  return {studs, counts};
}

Elastic elastic_at(const Joint& joint, std::span<const double> nodes) {
  std::vector<double> places;
  joint.place_temperatures(nodes, places);
  Elastic e;
  joint.elastic(places, e);
  return e;
}

/// The states that checkpoints hold, whole rings included.
void check_states(const Joint& joint, const Wheel& wheel, double scale, const Scenario& s, const Watch& watch,
                  Verdict& v) {
  const std::size_t size = wheel.columns() * wheel.stride();
  for (const Checkpoint& c : watch.checkpoints) {
    if (c.numbers.size() < size + s.heat.nodes.size()) {
      v.fault("a checkpoint of another wheel");
      return;
    }
    if (!std::all_of(c.numbers.begin(), c.numbers.begin() + static_cast<std::ptrdiff_t>(size),
                     [](double x) { return std::isfinite(x); })) {
      v.fault(fmt::format("a state at {} s is no number", c.time));
      return;
    }
    const State x(c.numbers.begin(), c.numbers.begin() + static_cast<std::ptrdiff_t>(size));
    const std::span<const double> nodes(c.numbers.data() + size, s.heat.nodes.size());
    const Imbalance worst = imbalance(wheel, x, elastic_at(joint, nodes), scale);
    v.balance = std::max(v.balance, worst.share);
    if (!(worst.share <= kBalance)) {
      v.fault(
          fmt::format("balance at {:.9g} s: {} is off by {:.3g} of {:.6g} N", c.time, worst.where, worst.share, scale));
      return;
    }
  }
}

/// What a record alone tells of the balance: without a ring, and where nested cones do not stick.
void check_lengths(const Joint& joint, double scale, const Watch& watch, Verdict& v) {
  if (joint.coupled() || (joint.washers() && joint.washers()->sticks())) {
    return;
  }
  const std::size_t n = watch.header.studs.size();
  std::vector<double> taken_up(n);
  std::vector<char> known(n); // of a stud that has no clamp after an act it is not known what its nut has taken up
  for (std::size_t i = 0; i < watch.records.size(); ++i) {
    const RecordRow& r = watch.records[i];
    const Elastic e = elastic_at(joint, r.temperature);
    for (std::size_t c = 0; c < n; ++c) {
      const auto from = r.loss.begin() + static_cast<std::ptrdiff_t>(c * kMechanisms);
      double length = e.compliance[0] * r.clamp[c] + e.offset[0] + std::accumulate(from, from + kMechanisms, 0.0);
      double soft = e.compliance[0];
      if (const auto& washers = joint.washers()) {
        const WasherAnswer w = washers->compress(r.clamp[c] / e.washer_modulus);
        length += w.deflection;
        soft += w.slope / e.washer_modulus;
      }
      if (i == 0 || watch.served[i] != watch.served[i - 1]) {
        taken_up[c] = length; // what the nut has taken up by now
        known[c] = i == 0 || r.clamp[c] > 0;
        continue;
      }
      const double off = (length - taken_up[c]) / soft / scale;
      const double wrong = known[c] == 0 ? 0 : r.clamp[c] > 0 ? std::abs(off) : -off;
      v.balance = std::max(v.balance, wrong);
      if (!(wrong <= kBalance)) {
        v.fault(fmt::format("length of stud {} at {:.9g} s is off by {:.3g} of {:.6g} N", c + 1, r.time, wrong, scale));
        return;
      }
    }
  }
}

/// Bounds of every node's temperature [K]: the coldest and the warmest that air and tightening are, and what all the
/// brakes' heat would come to in that node, were none of it to leave.
struct Bounds {
  double low = 0, high = 0;
  double energy = 0; ///< [J]
};
Bounds heat_bounds(const Scenario& s) {
  const AmbientSpec& air = s.duty.ambient;
  const double swing = air.daily_swing + air.yearly_swing;
  Bounds b{std::min(s.tightening.temperature, air.mean - swing), std::max(s.tightening.temperature, air.mean + swing),
           0};
  double day = 0;
  double moving = 0;
  for (const Span& span : working_day(s)) {
    day += span.brake_heat * span.duration;
    moving += span.speed > 0 ? span.duration : 0;
  }
  for (std::size_t d = 0; d < days(s.duty.calendar); ++d) {
    b.energy += works(s.duty.calendar, d) ? day : 0;
  }
  for (const Service& service : s.service) {
    b.energy += service.kind == Service::Kind::HotDay ? service.extra_power * moving : 0;
  }
  return b;
}

void check_records(const Scenario& s, double scale, const Watch& watch, Verdict& v) {
  const std::size_t n = s.joint.studs.count;
  const Bounds heat = heat_bounds(s);
  double time = -1;
  for (const RecordRow& r : watch.records) {
    for (const double x : numbers(r)) {
      if (!std::isfinite(x)) {
        v.fault(fmt::format("a figure at {} s is no number", r.time));
        return;
      }
    }
    if (std::isnan(r.slip_margin)) {
      v.fault(fmt::format("the slip margin at {} s is no number", r.time));
    }
    if (r.time < time) {
      v.fault(fmt::format("the record at {} s comes after {} s", r.time, time));
    }
    time = r.time;
    for (std::size_t c = 0; c < n; ++c) {
      if (r.clamp[c] < 0 || r.clamp_cold[c] < 0) {
        v.fault(fmt::format("clamp {:.6g} N, cold {:.6g} N of stud {} at {} s", r.clamp[c], r.clamp_cold[c], c + 1,
                            r.time));
      }
      double sum = watch.records.front().clamp_cold[c] + r.retorque_gain[c] - r.clamp_cold[c];
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        sum -= r.loss_clamp[c * kMechanisms + m];
      }
      v.closure = std::max(v.closure, std::abs(sum) / scale);
      if (!(std::abs(sum) <= kClosure * scale)) {
        v.fault(fmt::format("budget of stud {} at {:.9g} s is off by {:.3g} N of {:.6g} N", c + 1, r.time, sum, scale));
      }
    }
    for (std::size_t k = 0; k < r.temperature.size(); ++k) {
      const double high = heat.high + heat.energy / s.heat.nodes[k].capacity;
      if (r.temperature[k] < heat.low - kWarmth || r.temperature[k] > high + kWarmth) {
        v.fault(fmt::format("node {} at {} s has {:.6g} K, not {:.6g} to {:.6g}", k + 1, r.time, r.temperature[k],
                            heat.low, high));
      }
    }
    for (std::size_t k = 0; k < r.layer_thickness.size(); ++k) {
      if (r.layer_thickness[k] < 0) {
        v.fault(fmt::format("a film of {:.6g} m at {} s", r.layer_thickness[k], r.time));
      }
    }
  }
  time = 0;
  for (const EventRow& e : watch.events) {
    if (!std::isfinite(e.time) || !std::isfinite(e.distance) || e.time < time - 1e-6) {
      v.fault(fmt::format("'{}' at {:.9g} s comes after {:.9g} s", e.kind, e.time, time));
    }
    time = e.time;
  }
  for (const ActRow& a : watch.acts) {
    if (!std::isfinite(a.clamp) || !std::isfinite(a.clamp_end) || a.clamp < 0) {
      v.fault("an act of the wrench without a clamp");
    }
  }
}

/// From when on two ways of stepping need not agree any more.
double upset_at(const Watch& w) {
  for (const EventRow& e : w.events) {
    if (e.kind == "open" || e.kind == "nut free" || e.kind == "stud yield") {
      return e.time;
    }
  }
  return std::numeric_limits<double>::infinity();
}

/// What heat alone would clamp a column by, were it as stiff as its parts [N].
double thermal_force(const Joint& joint, std::span<const double> nodes) {
  const Elastic e = elastic_at(joint, nodes);
  return std::accumulate(e.offset.begin(), e.offset.end(), 0.0) /
         std::accumulate(e.compliance.begin(), e.compliance.end(), 0.0);
}

void compare_resolutions(Scenario s, const Joint& joint, double scale, double most, bool alone, Verdict& v) {
  s.tolerance = std::min(s.tolerance, 1e-6);
  Watch whole;
  Watch single;
  s.resolution = Resolution::Envelope;
  const RunStatus one = go(s, whole, most);
  s.resolution = Resolution::EveryStop;
  if (one != RunStatus::Complete || go(s, single, 3 * most) != RunStatus::Complete) {
    return;
  }
  const double until = std::min(upset_at(whole), upset_at(single));
  double worst = 0;
  std::string where;
  for (std::size_t i = 0; i < whole.records.size(); ++i) {
    const RecordRow& a = whole.records[i];
    auto b = single.records.begin();
    // An act of service has a record before and one after it.
    while (b != single.records.end() &&
           (std::abs(b->time - a.time) >= 1e-6 ||
            single.served[static_cast<std::size_t>(b - single.records.begin())] != whole.served[i])) {
      ++b;
    }
    if (a.time >= until || b == single.records.end()) {
      continue;
    }
    // Temperatures differ in the middle of a stretch, and with them, until they meet again, the clamps.
    const double heat = std::abs(thermal_force(joint, a.temperature) - thermal_force(joint, b->temperature));
    double here = 0;
    for (std::size_t c = 0; c < a.clamp.size(); ++c) {
      const double apart =
          std::max(std::abs(a.clamp[c] - b->clamp[c]) - heat, std::abs(a.clamp_cold[c] - b->clamp_cold[c]));
      here = std::max(here, apart);
      if (apart > worst) {
        worst = apart;
        where = fmt::format("stud {} at {:.9g} s, {:.9g} N and {:.9g} N, cold {:.9g} N and {:.9g} N", c + 1, a.time,
                            a.clamp[c], b->clamp[c], a.clamp_cold[c], b->clamp_cold[c]);
      }
    }
    if (alone) {
      fmt::print("{:>12.6f} h  envelope and every stop differ by {:.3g} of the first clamp, {:.3g} K\n",
                 a.time / units::kHour, here / scale, a.temperature[0] - b->temperature[0]);
    }
    for (std::size_t k = 0; k < a.temperature.size(); ++k) {
      if (std::abs(a.temperature[k] - b->temperature[k]) > kHeatPromise) {
        v.fault(fmt::format("node {} at {} s has {} K and {} K", k + 1, a.time, a.temperature[k], b->temperature[k]));
      }
    }
  }
  v.resolution = worst / scale;
  if (!(worst <= kPromise * scale)) {
    v.fault(fmt::format("envelope and every stop differ by {:.3g} of the first clamp: {}", worst / scale, where));
  }
  const auto order = [](const Watch& w) {
    std::string text;
    for (const EventRow& e : w.events) {
      text += fmt::format("{} {};", e.kind, e.stud);
    }
    return text;
  };
  if (std::isinf(until) && order(whole) != order(single)) {
    v.fault("events of envelope and every stop: " + order(whole) + " against " + order(single));
  }
}

void compare_threads(const Scenario& s, Verdict& v) {
  const auto ends = [&](std::size_t jobs) {
    Study study = lay_out(s, "");
    StudyAxis axis;
    axis.name = "share";
    axis.unit = "1";
    axis.values = {1, 0.97, 0.9};
    lay_out_sweep(study, {axis}, false);
    StudyRunOptions options;
    options.jobs = jobs;
    run_study(
        study,
        [&](std::size_t k) {
          Scenario one = s;
          for (double& torque : one.tightening.torque) {
            torque *= axis.values[k];
          }
          return one;
        },
        options);
    std::vector<double> all;
    for (const StudyCase& c : study.cases) {
      all.insert(all.end(), c.clamp_cold_end.begin(), c.clamp_cold_end.end());
      all.insert(all.end(), c.clamp_cold_lowest.begin(), c.clamp_cold_lowest.end());
    }
    return all;
  };
  if (!same_bits(ends(1), ends(2))) {
    v.fault("other bits of a study on two threads");
  }
}

/// A failure must say when and where.
void check_reason(const std::string& why, Verdict& v) {
  const bool when = why.rfind("while tightening", 0) == 0 || why.rfind("at ", 0) == 0;
  if (!when || why.find("stud") == std::string::npos) {
    v.fault("a failure that does not say when and where: " + why);
  }
}

DrawnText case_text(std::uint64_t seed, std::size_t k) {
  return texts()(rc::Random(rc::Random::Key{seed, k, 0, 0}), rc::kNominalSize).value();
}

/// What happened when, of a case that is looked at alone.
void print_course(const Watch& watch) {
  for (const EventRow& e : watch.events) {
    fmt::print("{:>12.6f} h  {} {}: {}\n", e.time / units::kHour, e.kind, e.stud + 1, e.text);
  }
  for (std::size_t i = 0; i < watch.records.size(); ++i) {
    const RecordRow& r = watch.records[i];
    const StepsRow& w = watch.work[i];
    fmt::print("{:>12.6f} h  clamp {:.6g} to {:.6g} N, {:.5g} K, {} steps ({} rejected, shortest {:.3g} s, {}; {})\n",
               r.time / units::kHour, *std::min_element(r.clamp.begin(), r.clamp.end()),
               *std::max_element(r.clamp.begin(), r.clamp.end()),
               *std::max_element(r.temperature.begin(), r.temperature.end()), w.steps, w.rejected, w.smallest,
               w.controlled_by, w.resolution);
  }
}

Verdict try_case(const DrawnText& drawn, std::size_t k, bool alone, double most) {
  Verdict v;
  v.features = drawn.features;
  const double start = used();
  try {
    const Scenario s = read_scenario_text(drawn.text, "scan.yaml");
    for (const Figure& f : derive(s)) {
      if (std::any_of(f.values.begin(), f.values.end(), [](double x) { return std::isnan(x); })) {
        v.fault("the figure " + f.name + " is no number");
      }
    }
    const Joint joint(s.joint, node_names(s.heat), s.tightening.temperature);
    const auto [studs, counts] = columns_of(s, joint);
    const Wheel wheel(s, joint, studs, counts);
    const double scale = wheel.scale();
    Watch watch;
    try {
      const RunStatus status = go(s, watch, most);
      v.outcome = status == RunStatus::Complete ? "complete" : "stopped: too slow";
    } catch (const NumericalError& e) {
      v.outcome = std::string("failed: ") + e.what();
      check_reason(e.what(), v);
      if (watch.status != RunStatus::Failed || watch.text != e.what()) {
        v.fault("the history does not tell of the failure");
      }
    }
    v.seconds = used() - start;
    if (alone) {
      print_course(watch);
    }
    check_records(s, scale, watch, v);
    const double forces = balance_scale(
        joint, wheel, elastic_at(joint, std::vector<double>(s.heat.nodes.size(), s.tightening.temperature)));
    check_states(joint, wheel, forces, s, watch, v);
    check_lengths(joint, forces, watch, v);
    for (const EventRow& e : watch.events) {
      v.features.push_back("it happened: " + e.kind);
    }
    if (std::any_of(watch.records.begin(), watch.records.end(), [](const RecordRow& r) { return r.slip_margin < 1; })) {
      v.features.emplace_back("it happened: gross slip");
    }
    if (std::any_of(watch.records.begin(), watch.records.end(), [](const RecordRow& r) {
          return *std::max_element(r.temperature.begin(), r.temperature.end()) > 600;
        })) {
      v.features.emplace_back("it happened: above 327 degC");
    }
    if (joint.washers() && std::any_of(watch.acts.begin(), watch.acts.end(), [&](const ActRow& a) {
          return a.clamp > 0 && joint.washers()->compress(a.clamp).deflection > joint.washers()->flat();
        })) {
      v.features.emplace_back("it happened: washers flat");
    }
    std::sort(v.features.begin(), v.features.end());
    v.features.erase(std::unique(v.features.begin(), v.features.end()), v.features.end());
    if (v.outcome == "complete") {
      if (k % kPairsEvery == 0) {
        compare_resolutions(s, joint, scale, most, alone, v);
      } else if (k % kPairsEvery == 1) {
        Watch again;
        go(s, again, 10 * most);
        expect_same(watch, 0, 0, again, "in a second run", v);
      } else if (k % kPairsEvery == 2) {
        const std::size_t middle = watch.checkpoints.size() / 2;
        Watch rest;
        go(s, rest, 10 * most, &watch.checkpoints[middle]);
        expect_same(watch, watch.records_before[middle], watch.events_before[middle], rest, "in a resumed run", v);
      } else if (k % kStudyEvery == 3) {
        compare_threads(s, v);
      }
    }
  } catch (const InputError& e) {
    const Diagnostic& d = e.diagnostics().front();
    v.outcome = "refused: " + d.path + ": " + d.found;
  } catch (const std::exception& e) {
    v.outcome = std::string("broke: ") + e.what();
    v.fault(v.outcome);
  }
  return v;
}

/// Adds up what all cases came to.
struct Tally {
  struct Row {
    std::size_t drawn = 0, complete = 0, failed = 0;
  };
  std::map<std::string, Row> features;
  std::map<std::string, std::pair<std::size_t, std::size_t>> outcomes; ///< how many, and the first of them
  std::map<std::string, std::pair<std::size_t, std::size_t>> faults;
  std::vector<std::pair<std::size_t, double>> slow;
  double seconds = 0, slowest = 0, balance = 0, closure = 0, resolution = 0;
  std::size_t slowest_case = 0, balance_case = 0, closure_case = 0, resolution_case = 0, compared = 0, faulty = 0;

  void add(std::size_t k, const Verdict& v) {
    const auto count = [k](auto& map, const std::string& name) {
      auto& [times, first] = map[name];
      first = times++ == 0 ? k : first;
    };
    const auto larger = [k](double x, double& most, std::size_t& at) {
      if (x > most) {
        most = x;
        at = k;
      }
    };
    count(outcomes, kind_of(v.outcome));
    for (const std::string& f : v.faults) {
      count(faults, kind_of(f));
    }
    faulty += v.faults.empty() ? 0U : 1U;
    for (const std::string& f : v.features) {
      Row& row = features[f];
      ++row.drawn;
      row.complete += v.outcome == "complete" ? 1U : 0U;
      row.failed += v.outcome.rfind("failed", 0) == 0 ? 1U : 0U;
    }
    seconds += v.seconds;
    larger(v.seconds, slowest, slowest_case);
    larger(v.balance, balance, balance_case);
    larger(v.closure, closure, closure_case);
    if (v.resolution) {
      ++compared;
      larger(*v.resolution, resolution, resolution_case);
    }
    if (v.seconds > kSlow) {
      slow.emplace_back(k, v.seconds);
    }
  }
  void print(std::size_t count) const {
    fmt::print("\n{:<30} {:>7} {:>9} {:>7}\n", "drawn, and what happened", "cases", "complete", "failed");
    for (const auto& [name, row] : features) {
      fmt::print("{:<30} {:>7} {:>9} {:>7}\n", name, row.drawn, row.complete, row.failed);
    }
    fmt::print("\n");
    for (const auto& [name, times] : outcomes) {
      fmt::print("{:>7} {} (first: case {})\n", times.first, name, times.second);
    }
    fmt::print("\n{} of {} cases with a fault\n", faulty, count);
    for (const auto& [name, times] : faults) {
      fmt::print("{:>7} {} (first: case {})\n", times.first, name, times.second);
    }
    fmt::print("largest imbalance {:.3g} (case {}), gap of a budget {:.3g} (case {}), between envelope and every stop "
               "{:.3g} (case {}, of {})\n",
               balance, balance_case, closure, closure_case, resolution, resolution_case, compared);
    fmt::print("{:.3g} ms a case, slowest {:.3g} s (case {})\n",
               1e3 * seconds / static_cast<double>(std::max<std::size_t>(count, 1)), slowest, slowest_case);
    for (const auto& [k, s] : slow) {
      fmt::print("slow: case {} took {:.3g} s\n", k, s);
    }
  }
};

constexpr const char* kHelp =
    "scan [--count N] [--first K] [--seed S] [--most SECONDS] [--only K]\n"
    "  --count  cases, 200 if not given     --first  number of the first, 0\n"
    "  --seed   of all cases, 1             --most   seconds after which a case is stopped, 60\n"
    "  --only   that case alone; its scenario is written to scan-K.yaml\n"
    "Ends with 1 where a case has a fault.\n";

} // namespace

int main(int argc, char** argv) {
  std::map<std::string, std::uint64_t> options = {{"--count", 200}, {"--first", 0}, {"--seed", 1}, {"--most", 60}};
  for (int i = 1; i < argc; i += 2) {
    const std::string name = argv[i];
    const std::string_view value = i + 1 < argc ? argv[i + 1] : "";
    std::uint64_t number = 0;
    const bool known = options.count(name) > 0 || name == "--only";
    if (!known || std::from_chars(value.data(), value.data() + value.size(), number).ptr == value.data() ||
        value.empty()) {
      fmt::print("{}", kHelp);
      return name == "--help" ? 0 : 2;
    }
    options[name] = number;
  }
  const bool alone = options.count("--only") > 0;
  const std::size_t first = alone ? options["--only"] : options["--first"];
  const std::size_t count = alone ? 1 : options["--count"];
  Tally tally;
  for (std::size_t k = first; k < first + count; ++k) {
    const DrawnText drawn = case_text(options["--seed"], k);
    if (alone) {
      std::ofstream(fmt::format("scan-{}.yaml", k)) << drawn.text;
    }
    const Verdict v = try_case(drawn, k, alone, static_cast<double>(options["--most"]));
    if (alone || !v.faults.empty() || v.outcome.rfind("failed", 0) == 0 || v.seconds > kSlow) {
      fmt::print("case {}: {} after {:.3g} s\n", k, v.outcome, v.seconds);
      for (const std::string& f : v.faults) {
        fmt::print("  {}\n", f);
      }
      std::fflush(stdout);
    }
    tally.add(k, v);
    if ((k + 1) % 1000 == 0) {
      fmt::print("... {} cases\n", k + 1 - first);
      std::fflush(stdout);
    }
  }
  tally.print(count);
  return tally.faulty > 0 ? 1 : 0;
}

#include "solver/simulation.hpp"

#include "models/fatigue.hpp"
#include "models/slip.hpp"
#include "models/units.hpp"
#include "solver/budget.hpp"
#include "solver/design.hpp"
#include "solver/diagnostics.hpp"
#include "solver/duty.hpp"
#include "solver/envelope.hpp"
#include "solver/held_rows.hpp"
#include "solver/known_range.hpp"
#include "solver/service.hpp"
#include "solver/span_system.hpp"
#include "solver/spot_check.hpp"
#include "solver/stretch.hpp"
#include "solver/temperature.hpp"
#include "solver/tightening.hpp"
#include "solver/wheel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <limits>

namespace clampfade {

namespace {

constexpr double kSameInstant = 1e-6; // s: closer times are one
constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// Studs that nothing tells apart share a column.
struct Lumps {
  std::vector<std::size_t> studs;  ///< first stud of each column
  std::vector<double> counts;      ///< studs of each column
  std::vector<std::size_t> column; ///< of each stud
};

Lumps lump(const Scenario& s, const Joint& joint) {
  const TighteningSpec& w = s.tightening;
  const bool may = !joint.coupled() && w.pause == 0;
  Lumps lumps;
  for (std::size_t k = 0; k < s.joint.studs.count; ++k) {
    const auto alike = [&](std::size_t other) {
      const bool single = std::any_of(s.service.begin(), s.service.end(), [&](const Service& v) {
        return v.kind == Service::Kind::RemoveNut && (v.stud == k || v.stud == other);
      });
      return may && !single && w.torque[k] == w.torque[other] && w.thread_friction[k] == w.thread_friction[other] &&
             w.bearing_friction[k] == w.bearing_friction[other];
    };
    const auto found = std::find_if(lumps.studs.begin(), lumps.studs.end(), alike);
    lumps.column.push_back(static_cast<std::size_t>(found - lumps.studs.begin()));
    if (found == lumps.studs.end()) {
      lumps.studs.push_back(k);
      lumps.counts.push_back(1);
    } else {
      lumps.counts[lumps.column.back()] += 1;
    }
  }
  return lumps;
}

/// When to write down where the wheel stands.
struct Agenda {
  double every = kInfinity;      ///< [s]
  std::vector<double> at;        ///< instants asked for one by one, sorted, ends with the last of the run [s]
  std::vector<double> distances; ///< sorted [m]

  /// The next instant after one of them or after 0; infinite after the last. Found anew each time: a list of all would
  /// grow with the run.
  [[nodiscard]] double after(double time) const {
    const auto next = std::partition_point(at.begin(), at.end(), [&](double t) { return t - time < kSameInstant; });
    double k = std::max(1.0, std::floor(time / every));
    while (k * every - time < kSameInstant) {
      ++k;
    }
    double t = k * every < at.back() - kSameInstant ? k * every : kInfinity;
    if (next != at.end()) {
      t = std::min(t, *next);
    }
    return t;
  }
};

Agenda make_agenda(const RecordSpec& record, double end) {
  Agenda a;
  a.every = record.every.value_or(kInfinity);
  for (const When& w : record.at) {
    auto& list = w.kind == When::Kind::Time ? a.at : a.distances;
    if (w.kind == When::Kind::Distance || (w.value > kSameInstant && w.value < end - kSameInstant)) {
      list.push_back(w.value);
    }
  }
  a.at.push_back(end);
  std::sort(a.at.begin(), a.at.end());
  std::sort(a.distances.begin(), a.distances.end());
  return a;
}

/// Whether somebody who has come so far has driven what was asked for, but for round-off [m].
bool driven(double asked, double distance) { return asked <= distance * (1 + 1e-12) + 1e-9; }

/// Somebody asked the run to stop in the middle of a day.
struct StopRequest {};

/// A day in stretches came upon something that wants every span by itself.
struct Upset {
  std::string why;
};

constexpr std::size_t kMostRemembered = 400; // days; some 0.15 MB each
constexpr double kCheckpointShare = 0.05;    // of the wall time at most, however long a checkpoint takes
constexpr std::uint64_t kAskEvery = 16;      // steps between questions whether to go on
constexpr double kRippleTold = 0.5;          // K that a record in the middle of stops tells of
constexpr double kStopTold = 2e-5;           // of the largest first clamp, likewise
constexpr std::size_t kNoStop = std::numeric_limits<std::size_t>::max();

class Run {
public:
  Run(const Scenario& scenario, Sink& sink, const RunOptions& options)
      : scenario_(scenario), sink_(&sink), options_(options),
        joint_(scenario.joint, node_names(scenario.heat), scenario.tightening.temperature),
        lumps_(lump(scenario, joint_)), wheel_(scenario, joint_, lumps_.studs, lumps_.counts), budget_(wheel_),
        heat_(scenario.heat, options.heat), days_(all_days(scenario)), spot_check_(scenario, wheel_),
        envelope_(scenario.resolution, days_[kServed].size() < days_[kBySpans].size()),
        agenda_(make_agenda(scenario.record, end())), required_(requirement(scenario, joint_).clamp),
        services_(scenario.service), ranges_(known_ranges(joint_)), warnings_(make_header(scenario).warnings) {
    const std::size_t n = wheel_.columns();
    nodes_.assign(scenario.heat.nodes.size(), scenario.tightening.temperature);
    was_open_.assign(n, 0);
    gapped_.assign(n, 0);
    tired_.assign(n, 0);
    yielded_.assign(n, 0);
    beyond_.assign(ranges_.size(), 0);
    fatigue_.assign(n, 0.0);
    yield_told_.assign(n, 0.0);
  }

  [[nodiscard]] SolveCounts solves() const { return wheel_.solve_counts(); }
  [[nodiscard]] double end() const { return static_cast<double>(days(scenario_.duty.calendar)) * units::kDay; }

  void start() {
    x_ = wheel_.fresh();
    try {
      write_acts(tighten_wheel(wheel_, scenario_.tightening, nodes_, scenario_.tolerance, x_, moved_at_));
    } catch (const NumericalError& e) {
      fail(e, "while tightening");
    }
    budget_.start(x_);
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      yield_told_[c] = wheel_.plastic(x_, c);
    }
    step_ = first_step(wheel_, nodes_, 0);
    below_ = false;
    check_required(0, 0, 0);
    record(0);
    sink_->checkpoint(save()); // a run stopped on its first day can go on too
  }

  void load(const Checkpoint& from) {
    // The shape first: nothing is read from a checkpoint of another wheel.
    x_ = wheel_.fresh();
    moved_at_.resize(wheel_.columns());
    budget_.start(x_);
    const Checkpoint shape = save();
    if (from.numbers.size() != shape.numbers.size() || from.counters.size() != shape.counters.size()) {
      throw FileError(Code::FileVersion, "the checkpoint was written for another wheel or by another version");
    }
    // A day beyond the end would make an unfinished run a complete one.
    const double day = from.time / units::kDay;
    if (from.counters.front() < 0 || static_cast<std::size_t>(from.counters.front()) > days(scenario_.duty.calendar) ||
        static_cast<double>(from.counters.front()) != day) {
      throw FileError(Code::FileTruncated, "the checkpoint is of a day that the run does not have");
    }
    for (std::size_t k = 0; k < from.numbers.size(); ++k) {
      if (!std::isfinite(from.numbers[k]) && from.numbers[k] != shape.numbers[k]) { // a margin not yet seen is infinite
        throw FileError(Code::FileTruncated, fmt::format("number {} of the checkpoint is {}", k, from.numbers[k]));
      }
    }
    restore(from);
  }

  /// Those known before the run, and those of the run so far.
  [[nodiscard]] std::vector<std::string> warnings() const {
    std::vector<std::string> all = warnings_;
    for (std::size_t k = 0; k < ranges_.size(); ++k) {
      if (beyond_[k] != 0) {
        all.push_back(ranges_[k].warning);
      }
    }
    return all;
  }

  /// Tells the sink of a failure and hands it on with the instant it happened.
  [[noreturn]] void fail(const NumericalError& e, const std::string& when) {
    const std::string text = when + ": " + e.what();
    sink_->end(RunStatus::Failed, text, warnings());
    throw NumericalError(e.code(), text);
  }

  RunStatus loop() {
    using Clock = std::chrono::steady_clock;
    auto saved = Clock::now();
    std::chrono::duration<double> saving{0}; // how long the last checkpoint took
    const std::size_t count = days(scenario_.duty.calendar);
    try {
      while (day_ < count) {
        run_day();
        ++day_;
        const bool wait =
            options_.checkpoint_every > 0 && std::chrono::duration<double>(Clock::now() - saved).count() <
                                                 std::max(options_.checkpoint_every, saving.count() / kCheckpointShare);
        const bool go_on = !options_.progress || options_.progress(static_cast<double>(day_) * units::kDay, end());
        if (day_ == count || !wait || !go_on) {
          const auto before = Clock::now();
          sink_->checkpoint(save());
          saved = Clock::now();
          saving = saved - before;
        }
        if (!go_on && day_ < count) {
          sink_->end(RunStatus::Stopped, fmt::format("stopped after day {} of {}", day_, count), warnings());
          return RunStatus::Stopped;
        }
      }
    } catch (const NumericalError& e) {
      fail(e, fmt::format("at {:.9g} s, day {}", now_, day_ + 1));
    } catch (const StopRequest&) {
      sink_->end(RunStatus::Stopped, fmt::format("stopped in day {} of {}", day_ + 1, count), warnings());
      return RunStatus::Stopped;
    }
    sink_->end(RunStatus::Complete, "", warnings());
    return RunStatus::Complete;
  }

private:
  /// While it lives a day is tried: rows are held back, and what is not smooth is an Upset.
  class Trial {
  public:
    Trial(Run& run, HeldRows& rows) : run_(run), outside_(run.sink_) {
      run.sink_ = &rows;
      run.trying_ = true;
    }
    Trial(const Trial&) = delete;
    Trial& operator=(const Trial&) = delete;
    ~Trial() {
      run_.sink_ = outside_;
      run_.trying_ = false;
    }

  private:
    Run& run_;
    Sink* outside_;
  };

  [[nodiscard]] Checkpoint save() const {
    Checkpoint c;
    c.time = static_cast<double>(day_) * units::kDay;
    c.counters.push_back(static_cast<std::int64_t>(day_));
    for (const auto* list : {&x_, &nodes_, &moved_at_, &fatigue_, &yield_told_}) {
      c.numbers.insert(c.numbers.end(), list->begin(), list->end());
    }
    c.numbers.insert(c.numbers.end(), {step_, distance_, stops_, margin_, last_record_, cold_before_});
    budget_.save(c.numbers);
    c.counters.push_back(times_told_);
    c.counters.push_back(static_cast<std::int64_t>(next_distance_));
    c.counters.push_back(below_ ? 1 : 0);
    c.counters.push_back(watched_ ? 1 : 0);
    for (const auto* flags : {&was_open_, &gapped_, &tired_, &yielded_, &beyond_}) {
      c.counters.insert(c.counters.end(), flags->begin(), flags->end());
    }
    services_.save(c.counters);
    const StepCounts& counts = stepper_.counts();
    c.counters.insert(c.counters.end(),
                      {static_cast<std::int64_t>(counts.accepted), static_cast<std::int64_t>(counts.rejected),
                       static_cast<std::int64_t>(counts.halved)});
    c.numbers.push_back(counts.smallest);
    envelope_.save(c.counters);
    return c;
  }

  /// What save() gave, of this wheel.
  void restore(const Checkpoint& from) {
    const double* in = from.numbers.data();
    const std::int64_t* count = from.counters.data();
    day_ = static_cast<std::size_t>(*count++);
    for (auto* list : {&x_, &nodes_, &moved_at_, &fatigue_, &yield_told_}) {
      for (double& v : *list) {
        v = *in++;
      }
    }
    step_ = *in++;
    distance_ = *in++;
    stops_ = *in++;
    margin_ = *in++;
    last_record_ = *in++;
    cold_before_ = *in++;
    budget_.load(in);
    times_told_ = *count++;
    next_time_ = agenda_.after(0);
    for (std::int64_t k = 0; k < times_told_ && next_time_ < kInfinity; ++k) {
      next_time_ = agenda_.after(next_time_);
    }
    next_distance_ = static_cast<std::size_t>(*count++);
    below_ = *count++ != 0;
    watched_ = *count++ != 0;
    for (auto* flags : {&was_open_, &gapped_, &tired_, &yielded_, &beyond_}) {
      for (char& f : *flags) {
        f = static_cast<char>(*count++);
      }
    }
    services_.load(count);
    StepCounts counts;
    counts.accepted = static_cast<std::uint64_t>(*count++);
    counts.rejected = static_cast<std::uint64_t>(*count++);
    counts.halved = static_cast<std::uint64_t>(*count++);
    counts.smallest = *in++;
    stepper_.set_counts(counts);
    envelope_.load(count);
  }

  /// A day depends on the state at its start alone: that is what makes a resumed run equal to an unbroken one.
  void run_day() {
    const double extra = services_.extra_power(day_);
    const bool worked = works(scenario_.duty.calendar, day_);
    const auto [way, resolution] = envelope_.choose(day_, worked, extra > 0);
    if (way == Envelope::Way::Spans) {
      const bool apart = scenario_.resolution == Resolution::EveryStop || expects_service(kOff);
      run_day(worked ? kBySpans : apart ? kOff : kOffUndisturbed, extra, resolution);
      return;
    }
    const Checkpoint midnight = save();
    HeldRows rows;
    checks_ = way == Envelope::Way::Checked;
    std::string why = try_stretches(midnight, rows, resolution);
    if (why.empty() && checks_) {
      if (const double apart = spot_check_.apart(); Envelope::stands(apart, spot_check_.heat_apart())) {
        envelope_.believe(day_, apart);
      } else {
        why = "stretches end elsewhere";
        restore(midnight);
      }
    }
    if (!why.empty()) {
      envelope_.doubt(day_);
      run_day(kBySpans, 0, "every-stop: " + why);
    } else {
      rows.hand_to(*sink_);
    }
  }

  /// Places in `days_`: a working day by spans, in stretches with every occasion for a service, and in stretches
  /// without; a day off with every occasion, and without.
  enum Day : std::size_t { kBySpans, kServed, kUndisturbed, kOff, kOffUndisturbed, kDays };
  using Days = std::array<std::vector<Stretch>, kDays>;

  static Days all_days(const Scenario& scenario) {
    const std::vector<Span> work = working_day(scenario);
    const std::vector<Span> rest = day_off(scenario);
    const VehicleSpec& vehicle = scenario.vehicle;
    const HeatNode& brake = scenario.heat.nodes[scenario.heat.brake];
    return {each_span(work, vehicle), drawn_together(work, vehicle, brake, Parks::Apart),
            drawn_together(work, vehicle, brake, Parks::Together), each_span(rest, vehicle),
            drawn_together(rest, vehicle, brake, Parks::Together)};
  }

  /// Whether a service may fall due on this day.
  [[nodiscard]] bool expects_service(Day day) const {
    double distance = distance_;
    for (const Stretch& stretch : days_[day]) {
      distance += stretch.distance();
    }
    return services_.expects(static_cast<double>(day_ + 1) * units::kDay, distance);
  }

  void run_day(Day day, double extra, std::string_view resolution) {
    resolved_by_ = resolution;
    wheel_.forget();
    heat_.begin_day(days_.size() * (day_ % remembered_) + day, nodes_);
    controlled_by_.clear();
    stop_of_ = kNoStop;
    if (extra > 0) {
      sink_->event({static_cast<double>(day_) * units::kDay, distance_, -1, "hot day",
                    fmt::format("{:.4g} W more brake heat in every moving span", extra)});
    }
    const double midnight = static_cast<double>(day_) * units::kDay;
    spot_check_.begin(day_, days_[day]);
    for (const Stretch& stretch : days_[day]) {
      now_ = midnight + stretch.start;
      if (stretch.parked) {
        while (const Service* s = services_.due(now_, distance_)) {
          serve(*s);
        }
      }
      if (trying_ && checks_ && spot_check_.due(stretch)) {
        SpotCheck::Place start;
        const std::vector<Stretch> parts = spot_check_.parts(stretch);
        for (const Stretch& part : parts) {
          start = {x_, nodes_, step_};
          run_drawn(part, extra);
        }
        spot_check_.hold(parts.back(), midnight, std::move(start), x_, nodes_);
      } else {
        run_drawn(stretch, extra);
      }
    }
  }

  /// A stretch whose stops springs that stick would remember is run by its spans.
  void run_drawn(const Stretch& stretch, double extra) {
    if (stretch.spans == 1 || !spot_check_.comes_apart(stretch)) {
      run_stretch(stretch, extra);
      return;
    }
    const auto first = spot_check_.spans().begin() + static_cast<std::ptrdiff_t>(stretch.first);
    for (const Stretch& span :
         each_span({first, first + static_cast<std::ptrdiff_t>(stretch.spans)}, scenario_.vehicle)) {
      run_stretch(span, extra);
    }
  }

  [[nodiscard]] const HeatNode& brake() const { return scenario_.heat.nodes[scenario_.heat.brake]; }

  /// Runs the day in stretches and holds its rows back. Gives why it cannot stand, with all as it was at midnight; an
  /// empty text if it can.
  std::string try_stretches(const Checkpoint& midnight, HeldRows& rows, std::string_view resolution) {
    const Trial trial(*this, rows);
    try {
      run_day(expects_service(kBySpans) ? kServed : kUndisturbed, 0, resolution);
      return {};
    } catch (const Upset& upset) {
      restore(midnight);
      return upset.why;
    } catch (const NumericalError& e) {
      restore(midnight);
      return e.what();
    }
  }

  void run_stretch(const Stretch& span, double extra_power) {
    const double start = now_;
    heat_.run({span.duration,
               ambient_during(scenario_.duty, start, span.duration),
               span.air,
               {span.brake_heat.middle + span.spared + span.moving * extra_power, span.brake_heat.rise}},
              nodes_);
    system_.begin(span.roads);
    const double distance = distance_;
    const double stops = stops_;
    double told_to = 0; // what a record in the middle of a stop knows of already
    const auto observe = [&](const State& before, const State& after, double t, double h) {
      distance_ = distance + span.speed * (t + h);
      now_ = start + t + h;
      after_step(before, after, start + t, h, span, std::max(t, told_to), t + h);
      if (++asked_ % kAskEvery == 0 && options_.progress && !options_.progress(now_, end())) {
        throw StopRequest{};
      }
    };
    const bool told = tells_of_stops(span);
    cold_begun_.resize(wheel_.columns());
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      cold_begun_[c] = budget_.cold(c);
    }
    double done = 0;
    while (done < span.duration) {
      // Records inside the span, and those at its end once it is over.
      double stop = span.duration;
      stop = std::min(stop, std::max(done, next_time_ - start));
      if (next_distance_ < agenda_.distances.size() && span.speed > 0) {
        stop = std::min(stop, std::max(done, (agenda_.distances[next_distance_] - distance) / span.speed));
      }
      if (span.duration - stop < kSameInstant) {
        stop = span.duration;
      }
      const bool due = next_time_ <= start + stop + kSameInstant ||
                       (next_distance_ < agenda_.distances.size() &&
                        driven(agenda_.distances[next_distance_], distance + span.speed * stop));
      const double from = done;
      done = told && due ? spot_check_.stop_begun(span, stop) : stop;
      system_.run(stepper_, x_, from, done, step_, std::ref(observe));
      now_ = start + stop;
      distance_ = distance + span.speed * stop;
      if (!system_.controlled_by().empty()) {
        controlled_by_ = system_.controlled_by();
      }
      const double share = stop == span.duration ? 1 : stop / span.duration;
      stops_ = stops + std::floor(static_cast<double>(span.stops) * share);
      while (next_time_ <= now_ + kSameInstant) {
        next_time_ = agenda_.after(next_time_);
        ++times_told_;
      }
      while (next_distance_ < agenda_.distances.size() && driven(agenda_.distances[next_distance_], distance_)) {
        ++next_distance_;
      }
      if (due && done < stop) {
        record_in_stop(span, start, done, stop, told_to);
        told_to = stop;
      } else if (due) {
        // What a record reads is where the heat stands then, not at the end of the span.
        at(done, recorded_nodes_);
        if (span.spans > 1 && span.ripple > kRippleTold) {
          recorded_nodes_[scenario_.heat.brake] = brake_among_stops(span, start, done);
        }
        recorded_nodes_.swap(nodes_);
        record(now_);
        recorded_nodes_.swap(nodes_);
      }
    }
    learn_of_stops(span);
  }

  /// Whether a record in the middle of one of these stops would tell of one more or less: a stretch knows load cycles,
  /// and what the joint feels of the brakes' heat, to a stop.
  [[nodiscard]] bool tells_of_stops(const Stretch& stretch) {
    return stretch.spans > 1 && !stretch.parked &&
           (spot_check_.spans()[stretch.first].step != stop_of_ || stop_cost_ > kStopTold ||
            (stretch.ripple > kRippleTold && joint_.feels(scenario_.heat.brake)));
  }

  void learn_of_stops(const Stretch& stretch) {
    if (stretch.spans == 1 || stretch.parked) {
      return;
    }
    stop_of_ = spot_check_.spans()[stretch.first].step;
    stop_cost_ = 0;
    const double stops = static_cast<double>(std::max<std::size_t>(stretch.stops, 1));
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      stop_cost_ = std::max(stop_cost_, std::abs(cold_begun_[c] - budget_.cold(c)) / wheel_.scale() / stops);
    }
  }

  /// A record at `to`, in the middle or at the end of a stop that began at `from`, the last before it at `told_to` [s
  /// after the start of the stretch]. The spans of that stop are followed aside, and the stretch goes on from where it
  /// was.
  void record_in_stop(const Stretch& stretch, double start, double from, double to, double told_to) {
    SpotCheck::Place place{x_, {}, step_};
    at(from, place.nodes);
    if (stretch.ripple > kRippleTold) {
      place.nodes[scenario_.heat.brake] = brake_among_stops(stretch, start, from);
    }
    std::vector<double> budget;
    budget_.save(budget);
    const auto observe = [&](const SpotCheck::Step& step) {
      budget_.step(step.before, step.after);
      if (step.end > told_to) {
        joint_.place_temperatures(step.nodes, places_);
        loads_ = {step.span.peaks.front().load};
        watch_extremes(step.before, loads_);
        watch_extremes(step.after, loads_);
      }
    };
    spot_check_.follow(stretch, start - stretch.start, from, to, place, observe);
    watched_ = true;
    x_.swap(place.x);
    nodes_.swap(place.nodes);
    record(now_);
    x_.swap(place.x);
    nodes_.swap(place.nodes);
    watched_ = true; // the next step begins before this record, which knows of its start
    const double* in = budget.data();
    budget_.load(in);
  }

  /// Temperature of the brake in the middle of a stretch [K]: that of the stretch and, by its spans, how far stops and
  /// moving air move the brake off it.
  [[nodiscard]] double brake_among_stops(const Stretch& stretch, double start, double time) {
    const std::vector<Span>& spans = spot_check_.spans();
    const Parabola ambient = ambient_during(scenario_.duty, start, stretch.duration);
    const std::size_t node = scenario_.heat.brake;
    std::vector<double> nodes;
    double off = 0;
    for (std::size_t i = stretch.first; i < stretch.first + stretch.spans; ++i) {
      const Span& s = spans[i];
      const double from = s.start - stretch.start;
      const double h = std::min(s.duration, time - from);
      if (h <= 0) {
        break;
      }
      at(from + h / 2, nodes);
      const double late = from + h / 2 - stretch.duration / 2;
      const double air = HeatNetwork::air_factor(s.speed);
      const double gained = s.brake_heat - stretch.brake_heat.at(late) - stretch.spared -
                            brake().moving * (air - stretch.air.at(late)) * (nodes[node] - ambient.at(late));
      const double lost = (scenario_.heat.outflow(node, nodes[node]) + brake().moving * air) * h / brake().capacity;
      const double share = lost > 0 ? -std::expm1(-lost) / lost : 1;
      off = off * std::exp(-lost) + gained * h / brake().capacity * share;
    }
    at(time, nodes);
    return nodes[node] + off;
  }

  void at(double time, std::vector<double>& nodes) const {
    nodes.resize(nodes_.size());
    heat_.at(time, nodes);
  }

  /// Everything that is watched between records. Loads count from `from` to `local` [s after the start of the span].
  void after_step(const State& before, const State& after, double t, double h, const Stretch& span, double from,
                  double local) {
    if (trying_) {
      refuse_what_is_not_smooth(before, after);
    }
    budget_.step(before, after);
    check_required(t, h, span.speed);
    at(local, watch_);
    joint_.place_temperatures(watch_, places_);
    loads_.clear();
    for (const Peak& peak : span.peaks) {
      if (peak.from <= local && peak.to >= from) {
        loads_.push_back(peak.load);
      }
    }
    if (!watched_) {
      watch_extremes(before, loads_); // the first step since a record: its start counts too
      watched_ = true;
    }
    watch_extremes(after, loads_);
    for (std::size_t k = 0; k < ranges_.size(); ++k) {
      if (beyond_[k] == 0 && places_[ranges_[k].place] > ranges_[k].highest) {
        beyond_[k] = 1;
        tell(now_, -1, "outside calibration", ranges_[k].warning);
      }
    }
    const double axial = axial_force(after, loads_);
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      const int stud = static_cast<int>(wheel_.studs()[c]);
      if (!wheel_.nut_on(after, c)) {
        continue;
      }
      const double factor = joint_.load_factor(places_, wheel_.washer_compliance(after, c));
      if (wheel_.open(after, c)) {
        if (!was_open_[c]) {
          was_open_[c] = 1;
          tell(now_, stud, "open", "the joint of this stud carries no clamp");
          if (budget_.loss(after, c, index(Mechanism::NutRotation)) > 0) {
            tell(now_, stud, "nut free", "the nut has turned until nothing holds it");
          }
        }
        continue;
      }
      was_open_[c] = 0;
      if (!gapped_[c] && wheel_.clamp(after, c) - (1 - factor) * axial <= 0) {
        gapped_[c] = 1;
        tell(now_, stud, "gap", "the joint opens once in each turn of the wheel");
      }
      if (!tired_[c] && fatigue_[c] > fatigue_limit(joint_.stud().thread().diameter)) {
        tired_[c] = 1;
        tell(now_, stud, "stud fatigue",
             fmt::format("stress amplitude {:.3g} MPa is above the endurance limit", fatigue_[c] / units::kMegapascal));
      }
      if (!yielded_[c] && wheel_.plastic(after, c) > yield_told_[c]) {
        yielded_[c] = 1;
        tell(now_, stud, "stud yield", "the stud stretches for good in service");
      }
    }
  }

  /// Stretches are for what goes on in the same way stop after stop.
  void refuse_what_is_not_smooth(const State& before, const State& after) const {
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      const auto refuse = [&](const char* what) {
        throw Upset{fmt::format("stud {} {}", wheel_.studs()[c] + 1, what)};
      };
      if (wheel_.nut_rotation(after, c) != wheel_.nut_rotation(before, c)) {
        refuse("has a nut that turns");
      }
      if (wheel_.plastic(after, c) != wheel_.plastic(before, c)) {
        refuse("yields");
      }
      if (wheel_.open(after, c) != wheel_.open(before, c)) {
        refuse("opens or closes");
      }
    }
  }

  /// Worst slip margin and stress amplitude since the last record.
  void watch_extremes(const State& x, const std::vector<WheelLoad>& loads) {
    for (const WheelLoad& load : loads) {
      wheel_.slip_state(x, load, slip_);
      margin_ = std::min(margin_, slip_.margin);
      const double axial = axial_force(x, {&load, 1});
      for (std::size_t c = 0; c < wheel_.columns(); ++c) {
        if (wheel_.nut_on(x, c)) {
          const double factor = joint_.load_factor(places_, wheel_.washer_compliance(x, c));
          fatigue_[c] = std::max(fatigue_[c], stress_amplitude(slip_, c, factor * axial));
        }
      }
    }
  }

  /// Largest axial force amplitude at the outermost of the studs that still clamp [N].
  [[nodiscard]] double axial_force(const State& x, std::span<const WheelLoad> loads) const {
    const double studs = clamping(x);
    double axial = 0;
    for (const WheelLoad& load : loads) {
      axial = std::max(axial, studs > 0 ? axial_amplitude(load.moment, studs, scenario_.joint.studs.bolt_circle) : 0);
    }
    return axial;
  }

  [[nodiscard]] double stress_amplitude(const SlipState& slip, std::size_t c, double axial) const {
    const Stud& stud = joint_.stud();
    return axial / stud.thread().stress_area() +
           bending_amplitude(std::min(slip.joint, slip.threshold[c]), joint_.grip(),
                             stud.material().youngs(joint_.tightening_temperature()), stud.thread().minor_diameter());
  }

  [[nodiscard]] double clamping(const State& x) const {
    double n = 0;
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      n += wheel_.nut_on(x, c) && wheel_.clamp(x, c) > 0 ? wheel_.counts()[c] : 0;
    }
    return n;
  }

  void tell(double time, int stud, const std::string& kind, const std::string& text) {
    sink_->event({time, distance_, stud, kind, text});
  }

  /// Whether the weakest stud's cold clamp has passed the required clamp between t and t + h; located in between.
  void check_required(double t, double h, double speed) {
    // Of the studs that have a nut: that a nut is off is an event of its own and must not hide what the others do.
    std::size_t weakest = wheel_.columns();
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      if (wheel_.nut_on(x_, c) && (weakest == wheel_.columns() || budget_.cold(c) < budget_.cold(weakest))) {
        weakest = c;
      }
    }
    if (weakest == wheel_.columns()) {
      return;
    }
    const double cold = budget_.cold(weakest);
    const bool below = cold < required_;
    if (below && !below_) {
      const double fall = cold_before_ - cold;
      const double share = h > 0 && fall > 0 ? std::clamp((cold_before_ - required_) / fall, 0.0, 1.0) : 1;
      sink_->event({t + share * h, distance_ - (1 - share) * h * speed, static_cast<int>(wheel_.studs()[weakest]),
                    "below required clamp",
                    fmt::format("the weakest stud's cold clamp falls below the required {:.4g} kN",
                                required_ / units::kKilonewton)});
    }
    below_ = below;
    cold_before_ = cold;
  }

  void write_acts(const std::vector<ActRow>& acts) {
    // One row a stud, also where studs share a column.
    for (const ActRow& a : acts) {
      for (std::size_t k = 0; k < lumps_.column.size(); ++k) {
        if (lumps_.studs[lumps_.column[k]] == a.stud) {
          ActRow row = a;
          row.stud = k;
          sink_->act(row);
        }
      }
    }
  }

  /// A nut that the wrench has moved starts anew: what happens to its stud from now on is told again.
  void rearm(std::size_t c) {
    was_open_[c] = gapped_[c] = tired_[c] = yielded_[c] = 0;
    yield_told_[c] = wheel_.plastic(x_, c);
  }

  void serve(const Service& s) {
    if (now_ - last_record_ > kSameInstant) {
      record(now_);
    }
    if (s.kind == Service::Kind::RemoveNut) {
      const std::size_t c = lumps_.column[s.stud];
      wheel_.remove_nut(x_, c, nodes_);
      tell(now_, static_cast<int>(s.stud), "nut removed", "the other studs carry the wheel");
    } else {
      std::vector<ActRow> acts;
      std::size_t moved = 0;
      for (const std::size_t stud : scenario_.tightening.order) {
        const std::size_t c = lumps_.column[stud];
        if (lumps_.studs[c] != stud || !wheel_.nut_on(x_, c)) {
          continue;
        }
        const double torque = s.torque.value_or(scenario_.tightening.torque[stud]);
        const double stretch = wheel_.plastic(x_, c);
        const bool turned =
            apply_wrench(wheel_, x_, c, torque, scenario_.tightening.breakaway, now_ - moved_at_[c], nodes_);
        if (turned) {
          moved_at_[c] = now_;
          if (wheel_.plastic(x_, c) > stretch) {
            tell(now_, static_cast<int>(stud), "stud yield", "the stud stretches for good under the wrench");
          }
          rearm(c);
          moved += static_cast<std::size_t>(wheel_.counts()[c]);
        }
        acts.push_back({now_, 0, stud, torque, wheel_.clamp(x_, c), 0, turned});
      }
      for (ActRow& a : acts) {
        a.clamp_end = wheel_.clamp(x_, lumps_.column[a.stud]);
      }
      write_acts(acts);
      tell(now_, -1, "retorque", fmt::format("{} of {} nuts moved", moved, scenario_.joint.studs.count));
    }
    envelope_.act(day_);
    stop_of_ = kNoStop;
    wheel_.forget();
    budget_.act(x_);
    step_ = first_step(wheel_, nodes_, 0);
    check_required(now_, 0, 0);
    record(now_);
  }

  void record(double time) {
    budget_.settle(x_);
    RecordRow row;
    row.time = time;
    row.distance = distance_;
    row.stops = stops_;
    row.temperature = nodes_;
    joint_.place_temperatures(nodes_, places_);
    const WheelLoad rolling = plain_rolling(scenario_);
    const SlipState slip = wheel_.slip_state(x_, rolling);
    const bool fresh = !watched_; // nothing happened since the record before: plain rolling
    row.slip_margin = fresh ? slip.margin : margin_;
    const double axial = axial_force(x_, {&rolling, 1});
    const double stud_temperature = places_[joint_.stud_place()];
    std::vector<std::vector<double>> layers(wheel_.columns());
    std::vector<std::vector<double>> losses(wheel_.columns());
    for (std::size_t c = 0; c < wheel_.columns(); ++c) {
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        losses[c].push_back(budget_.loss(x_, c, m));
      }
      if (scenario_.record.layers) {
        for (std::size_t k = 0; k < joint_.layers().size(); ++k) {
          layers[c].push_back(wheel_.layer_thickness(x_, c, k));
        }
      }
    }
    for (const std::size_t c : lumps_.column) {
      const double clamp = wheel_.clamp(x_, c);
      const double mu_t = wheel_.thread_friction(c);
      const double mu_b = wheel_.bearing_friction(c);
      row.clamp.push_back(clamp);
      row.clamp_cold.push_back(budget_.cold(c));
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        row.loss.push_back(losses[c][m]);
        row.loss_clamp.push_back(budget_.loss_clamp(c, m));
      }
      row.retorque_gain.push_back(budget_.gain(c));
      const double factor = joint_.load_factor(places_, wheel_.washer_compliance(x_, c));
      row.fatigue_amplitude.push_back(fresh ? stress_amplitude(slip, c, factor * axial) : fatigue_[c]);
      row.utilisation.push_back(joint_.nut().stress(clamp, mu_t, mu_b).equivalent(0.5) /
                                joint_.stud().strength().yield(stud_temperature));
      row.seat_pressure.push_back(clamp / joint_.seat_area());
      row.layer_thickness.insert(row.layer_thickness.end(), layers[c].begin(), layers[c].end());
      const bool on = wheel_.nut_on(x_, c);
      row.check_torque.push_back(
          on ? joint_.nut().torque_to_move(clamp, mu_t, mu_b, scenario_.tightening.breakaway(time - moved_at_[c])) : 0);
    }
    sink_->record(row);
    const StepCounts& counts = stepper_.counts();
    sink_->steps({time, counts.accepted, counts.rejected, counts.smallest, controlled_by_, resolved_by_});
    stepper_.set_counts({});
    controlled_by_.clear();
    watched_ = false;
    margin_ = kInfinity;
    std::fill(fatigue_.begin(), fatigue_.end(), 0.0);
    last_record_ = time;
  }

  const Scenario& scenario_;
  Sink* sink_; ///< the caller's, or one that holds a day back
  const RunOptions& options_;
  Joint joint_;
  Lumps lumps_;
  Wheel wheel_;
  Budget budget_;
  HeatSolver heat_;
  SpanSystem system_{wheel_, [this](double t, std::vector<double>& nodes) { at(t, nodes); }, scenario_.tolerance};
  Days days_;
  SpotCheck spot_check_;
  Envelope envelope_;
  Agenda agenda_;
  double required_;
  ServicePlan services_;
  std::vector<KnownRange> ranges_;
  std::vector<std::string> warnings_; ///< known before the run
  SettlingStepper stepper_;

  // State: everything that save() writes.
  std::size_t day_ = 0;
  State x_;
  std::vector<double> nodes_, moved_at_;
  double step_ = 0;
  double distance_ = 0, stops_ = 0;
  std::int64_t times_told_ = 0; ///< instants of the agenda that have passed
  std::size_t next_distance_ = 0;
  bool watched_ = false; ///< whether a step was watched since the last record
  double margin_ = kInfinity;
  std::vector<double> fatigue_;
  std::vector<double> yield_told_; ///< permanent stretch of the stud when the wrench last moved its nut [m]
  double last_record_ = -1;
  double cold_before_ = 0;
  bool below_ = false;
  std::vector<char> was_open_, gapped_, tired_, yielded_;
  std::vector<char> beyond_; ///< ranges_ that were left

  double next_time_ = agenda_.after(0); ///< follows from times_told_ [s]
  double now_ = 0;
  std::uint64_t asked_ = 0; ///< steps since the run began, for the questions whether to go on
  SlipState slip_;
  std::vector<double> watch_, places_, recorded_nodes_;
  std::vector<WheelLoad> loads_; ///< the largest of a step
  /// What a stop of the duty's step `stop_of_` took last of the stud that lost most, over the largest first clamp. A
  /// day knows nothing of it at first, nor does it after an act of the wrench.
  double stop_cost_ = 0;
  std::size_t stop_of_ = kNoStop;
  std::vector<double> cold_begun_; ///< cold clamps at the start of a stretch [N]
  std::string controlled_by_;
  /// Days whose heat is kept: of a week, that repeat themselves where no season moves them; or of the run, for the
  /// next.
  std::size_t remembered_ = options_.heat != nullptr ? kMostRemembered : 7;
  bool trying_ = false;     ///< a Trial lives
  bool checks_ = false;     ///< and some of its stretches are held against their spans
  std::string resolved_by_; ///< how the day is run
};

} // namespace

RunStatus run(const Scenario& scenario, Sink& sink, const RunOptions& options) {
  Run r(scenario, sink, options);
  sink.begin(make_header(scenario));
  r.start();
  const RunStatus status = r.loop();
  if (options.solves != nullptr) {
    *options.solves = r.solves();
  }
  if (options.warnings != nullptr) {
    *options.warnings = r.warnings();
  }
  return status;
}

void check_checkpoint(const Scenario& scenario, const Checkpoint& from) {
  HeldRows nothing;
  const RunOptions options;
  Run(scenario, nothing, options).load(from);
}

RunStatus resume(const Scenario& scenario, const Checkpoint& from, Sink& sink, const RunOptions& options) {
  Run r(scenario, sink, options);
  r.load(from);
  const RunStatus status = r.loop();
  if (options.solves != nullptr) {
    *options.solves = r.solves();
  }
  if (options.warnings != nullptr) {
    *options.warnings = r.warnings();
  }
  return status;
}

} // namespace clampfade

#include "solver/duty.hpp"

#include "models/constants.hpp"
#include "models/units.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

constexpr double kLongestPark = units::kHour;
constexpr double kAmbientRound = 1e-9;     // K, lets days that repeat themselves do so to the bit
constexpr double kServiceable = 600.0;     // s, shortest dwell in which the wheel can be worked on
constexpr double kLongestTraceSpan = 10.0; // s
// What a mean may stand for: the stops of a round are much alike, a trace goes up hill and down.
constexpr double kRoundTogether = 3600.0; // s
constexpr double kTraceTogether = 120.0;  // s
constexpr double kSlowestStop = 900.0; // s, stops farther apart leave their course in every node, not the brake alone
constexpr double kParkTogether = 4 * units::kHour;

/// Lays spans end to end.
class Day {
public:
  explicit Day(const Scenario& scenario) : scenario_(scenario) {}

  void park(double until, const StepLoad& load) {
    const double from = now_;
    const double length = until - from;
    if (length <= 1e-9) {
      return;
    }
    // Cut at the clock's hours, where most records are due: a record within a span costs a step more.
    while (until - now_ > 1e-9) {
      const double next = (std::floor(now_ / kLongestPark + 1e-9) + 1) * kLongestPark;
      Span s;
      s.duration = std::min(until, next) - now_;
      s.load = loads(load, (now_ + s.duration / 2 - from) / length, 0, 0);
      s.parked = true;
      s.begins = true;
      s.together = kParkTogether;
      add(s);
    }
    now_ = until; // exactly, whatever the pieces' sum rounds to
  }

  void drive(const DriveStep& d, const StepLoad& load) {
    Span s;
    s.duration = d.distance / d.speed;
    s.speed = d.speed;
    const double down = std::max(0.0, -d.grade);
    const double force = d.held_by_brakes * mass(load, 0.5) * kGravity * down / ends();
    s.brake_heat = force * d.speed;
    s.load = loads(load, 0.5, force, 0);
    add(s);
  }

  void round(const RoundStep& r, const StepLoad& load) {
    const double a = r.acceleration;
    const double d = r.deceleration;
    const double peak = r.peak_speed();
    const double cruise = r.cruise();
    const double stop_time = r.stop_time();
    const double whole = stop_time * static_cast<double>(r.stops);
    const double together = stop_time <= kSlowestStop ? kRoundTogether : 0;
    for (std::size_t i = 0; i < r.stops; ++i) {
      double at = stop_time * static_cast<double>(i);
      const auto middle = [&](double length) {
        const double share = (at + length / 2) / whole;
        at += length;
        return share;
      };
      const auto put = [&](Span& span) {
        span.together = together;
        add(span);
      };
      Span s;
      s.duration = peak / a;
      s.speed = peak / 2;
      s.begins = true;
      double share = middle(s.duration);
      s.load = loads(load, share, 0, traction(mass(load, share) * a));
      put(s);
      if (cruise > 1e-9 * r.spacing) {
        s = {};
        s.duration = cruise / peak;
        s.speed = peak;
        s.load = loads(load, middle(s.duration), 0, 0);
        put(s);
      }
      s = {};
      s.duration = peak / d;
      s.speed = peak / 2;
      share = middle(s.duration);
      const double m = mass(load, share);
      const double taken = scenario_.vehicle.brake_share / ends();
      s.brake_heat = m * peak * peak / 2 * taken / s.duration;
      s.load = loads(load, share, m * d * taken, 0);
      s.stop = true;
      put(s);
      if (r.dwell > 0) {
        s = {};
        s.duration = r.dwell;
        s.load = loads(load, middle(r.dwell), 0, 0);
        s.parked = r.dwell >= kServiceable;
        put(s);
      }
    }
  }

  void drag(const DragStep& d, const StepLoad& load) {
    Span s;
    s.duration = d.duration;
    s.speed = d.speed;
    s.brake_heat = d.power;
    s.load = loads(load, 0.5, 0, 0);
    add(s);
  }

  void trace(const TraceStep& t, const StepLoad& load) {
    const std::size_t n = t.time.size();
    const auto sign = [&](std::size_t i) {
      const double dv = t.speed[i + 1] - t.speed[i];
      return dv > 0 ? 1 : dv < 0 ? -1 : 0;
    };
    const double whole = t.time.back() - t.time.front();
    for (std::size_t i = 0; i + 1 < n;) {
      std::size_t end = i + 1;
      while (end + 1 < n && sign(end) == sign(i)) {
        ++end;
      }
      // A run of one sign, cut every 10 s from its start.
      const double run = t.time[end] - t.time[i];
      const auto pieces = static_cast<std::size_t>(std::ceil(run / kLongestTraceSpan - 1e-9));
      for (std::size_t k = 0; k < pieces; ++k) {
        const double from = t.time[i] + kLongestTraceSpan * static_cast<double>(k);
        trace_span(t, load, from, k + 1 == pieces ? t.time[end] : from + kLongestTraceSpan, whole);
        // A long stop in a trace is one in which the wheel can be worked on, from its start.
        const bool still = t.speed[i] == 0 && t.speed[end] == 0 && sign(i) == 0;
        spans_.back().parked = k == 0 && still && run >= kServiceable;
      }
      i = end;
    }
  }

  void next_step() { ++step_; }

  std::vector<Span> finish() {
    if (now_ > kLongestDay) {
      Diagnostic d;
      d.code = Code::Inconsistent;
      d.place.file = scenario_.source_path;
      d.path = "duty/day";
      d.found = fmt::format("the steps of the day last {:.4g} h", now_ / units::kHour);
      d.allowed = "at most 24 h from midnight to midnight";
      throw InputError({d});
    }
    park(units::kDay, {});
    return std::move(spans_);
  }

private:
  [[nodiscard]] double ends() const { return static_cast<double>(scenario_.vehicle.wheel_ends); }
  [[nodiscard]] double traction(double force) const {
    const std::size_t driven = scenario_.vehicle.driven_ends;
    return driven > 0 ? std::max(0.0, force) / static_cast<double>(driven) : 0;
  }
  [[nodiscard]] double mass(const StepLoad& load, double share) const {
    if (!load.mass_start) {
      return scenario_.vehicle.mass;
    }
    return *load.mass_start + (load.mass_end.value_or(*load.mass_start) - *load.mass_start) * share;
  }
  [[nodiscard]] WheelLoad loads(const StepLoad& load, double share, double brake, double pull) const {
    const VehicleSpec& v = scenario_.vehicle;
    return wheel_load(v, scenario_.joint.studs.bolt_circle, mass(load, share),
                      load.lateral_share.value_or(v.lateral_share), v.dynamic_factor, brake, pull);
  }
  void add(Span s) {
    s.start = now_;
    s.step = step_;
    now_ += s.duration;
    spans_.push_back(s);
  }

  void trace_span(const TraceStep& t, const StepLoad& load, double from, double to, double whole) {
    const auto value = [&](const std::vector<double>& y, double time) {
      const auto next = std::upper_bound(t.time.begin(), t.time.end(), time);
      const auto k = static_cast<std::size_t>(
          std::clamp<std::ptrdiff_t>(next - t.time.begin() - 1, 0, static_cast<std::ptrdiff_t>(t.time.size()) - 2));
      return y[k] + (y[k + 1] - y[k]) * (time - t.time[k]) / (t.time[k + 1] - t.time[k]);
    };
    const auto integral = [&](const std::vector<double>& y) {
      double sum = 0;
      double a = from;
      while (a < to) {
        const auto next = std::upper_bound(t.time.begin(), t.time.end(), a);
        const double b = next == t.time.end() ? to : std::min(to, *next);
        sum += (value(y, a) + value(y, b)) / 2 * (b - a);
        a = b;
      }
      return sum;
    };
    Span s;
    s.duration = to - from;
    s.speed = integral(t.speed) / s.duration;
    const double end_speed = value(t.speed, to);
    const double a = (end_speed - value(t.speed, from)) / s.duration;
    const double grade = t.grade.empty() ? 0 : integral(t.grade) / s.duration;
    const double share = ((from + to) / 2 - t.time.front()) / whole;
    const double m = mass(load, share);
    const double force = std::max(0.0, -m * (a + kGravity * grade)) * scenario_.vehicle.brake_share / ends();
    s.brake_heat = force * s.speed;
    s.load = loads(load, share, force, traction(m * a));
    s.stop = a < 0 && end_speed <= 0;
    s.begins = true;
    s.together = kTraceTogether;
    add(s);
  }

  const Scenario& scenario_;
  double now_ = 0;
  std::size_t step_ = 0;
  std::vector<Span> spans_;
};

template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;

} // namespace

WheelLoad wheel_load(const VehicleSpec& vehicle, double bolt_circle, double mass, double lateral_share,
                     double dynamic_factor, double brake_force, double traction) {
  const double load = vehicle.load * mass / vehicle.mass;
  const double lever = vehicle.rolling_radius / (bolt_circle / 2);
  return {dynamic_factor * load, brake_force * lever, traction * lever,
          load * (vehicle.load_offset + lateral_share * vehicle.rolling_radius)};
}

WheelLoad plain_rolling(const Scenario& scenario) {
  const VehicleSpec& v = scenario.vehicle;
  return wheel_load(v, scenario.joint.studs.bolt_circle, v.mass, v.lateral_share, v.dynamic_factor, 0, 0);
}

std::vector<Span> working_day(const Scenario& scenario) {
  Day day(scenario);
  for (const DayStep& step : scenario.duty.day) {
    day.next_step();
    std::visit(Overloaded{[&](const ParkStep& p) { day.park(p.until, step.load); },
                          [&](const DriveStep& d) { day.drive(d, step.load); },
                          [&](const RoundStep& r) { day.round(r, step.load); },
                          [&](const DragStep& d) { day.drag(d, step.load); },
                          [&](const TraceStep& t) { day.trace(t, step.load); }},
               step.what);
  }
  return day.finish();
}

std::vector<Span> day_off(const Scenario& scenario) { return Day(scenario).finish(); }

bool works(const Calendar& calendar, std::size_t day) { return day % 7 < calendar.working_days_per_week; }

std::size_t days(const Calendar& calendar) { return 7 * calendar.weeks; }

double ambient(const DutySpec& duty, double time) {
  const double elapsed = time / units::kDay;
  const double hour = (elapsed - std::floor(elapsed)) * 24;
  const double day = static_cast<double>(duty.calendar.start_day) + elapsed;
  return duty.ambient.mean + duty.ambient.daily_swing * std::cos(2 * kPi * (hour - 15) / 24) +
         duty.ambient.yearly_swing * std::cos(2 * kPi * (day - 200) / 365);
}

Parabola ambient_during(const DutySpec& duty, double start, double duration) {
  const auto at = [&](double time) { return std::round(ambient(duty, time) / kAmbientRound) * kAmbientRound; };
  const double first = at(start);
  const double middle = at(start + duration / 2);
  const double last = at(start + duration);
  return {middle, (last - first) / duration, 2 * (first - 2 * middle + last) / (duration * duration)};
}

} // namespace clampfade

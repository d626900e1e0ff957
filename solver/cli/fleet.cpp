#include "solver/cli/fleet.hpp"

#include "models/units.hpp"
#include "solver/cli/options.hpp"
#include "solver/cli/store_additions.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/io/document.hpp"
#include "solver/io/fleet_store.hpp"
#include "solver/io/instant.hpp"
#include "solver/io/prediction_reader.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/records_reader.hpp"
#include "solver/recheck.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <iterator>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

using nlohmann::ordered_json;

constexpr double kNever = std::numeric_limits<double>::infinity(); // later than any instant, more than any clamp
constexpr double kGap = units::kHour;                              // events of a wheel further apart are two visits

const ParamSpec kTime{"--recheck-every", "s", Quantity::Dimensional, {1, 1e10}, {}, "time", "d"};
const ParamSpec kDistance{"--recheck-every", "m", Quantity::Dimensional, {1, 1e11}, {}, "distance", "km"};
const ParamSpec kOdometer{"--odometer", "m", Quantity::Dimensional, {0, 1e11}, {}, "distance driven", "km"};

struct FleetOptions {
  std::string file, store, tightened, odometer, on, out;
  WheelId wheel;
  std::vector<std::string> every, odometers;
  bool json = false, force = false, people = false, no_people = false;
};

std::string torque_text(double newton_metres) { return significant(newton_metres) + " N·m"; }
std::string span_text(double seconds) {
  return seconds < 2 * units::kDay ? significant(seconds / units::kHour) + " h"
                                   : significant(seconds / units::kDay) + " d";
}
std::string clamp_text(double newton) { return significant(newton / units::kKilonewton) + " kN"; }

ordered_json maybe(const std::optional<double>& v) { return v ? ordered_json(*v) : ordered_json(); }

Instant instant_option(const std::string& text, const std::string& option) {
  const auto instant = read_instant(text);
  if (!instant) {
    refuse_option(Code::WrongType, option, fmt::format("'{}' is no date", text), std::string(kInstantForm));
  }
  return *instant;
}

void say_added(const std::string& store, const StoreAddition& added, const std::string& what,
               const std::vector<std::string>& wheels) {
  if (added.file_known) {
    fmt::print("{}: this file is already there, nothing added\n", store);
  } else {
    fmt::print("{}: {} {} added{}\n", store, added.added, what,
               added.known > 0 ? fmt::format(", {} already there", added.known) : "");
    for (const std::string& line : wheels) {
      fmt::print("{}\n", wrapped(line, 0, kPage));
    }
  }
}

int add_readings(const FleetOptions& o) {
  ReadingsFile file = read_readings(o.file);
  std::vector<StoredReading> readings;
  std::vector<NewRow> rows;
  for (const CheckReading& r : file.readings) {
    readings.push_back({{r.record.vehicle, r.record.axle, r.record.wheel},
                        r.record.stud + 1,
                        r.record.time,
                        r.record.instant.value(),
                        r.record.torque,
                        r.moved,
                        r.record.odometer,
                        r.record.tool,
                        o.people ? r.record.operator_name : ""});
    const StoredReading& s = readings.back();
    rows.push_back({s.wheel, s.stud, s.time, s.instant, s.odometer, r.record.line});
  }
  FleetStore store(o.store, StoreUse::Add);
  tell_note(store);
  require_known_studs(store, o.file, rows);
  const std::vector<std::string> warnings = doubts(store, o.file, rows, clock_now());
  const std::vector<std::string> wheels = new_wheels(store, rows);
  const StoreAddition added = store.add({std::filesystem::path(o.file).filename().string(), file.sha256}, readings);
  say_added(o.store, added, added.added == 1 ? "reading" : "readings", wheels);
  if (!added.file_known) {
    file.warnings.insert(file.warnings.end(), warnings.begin(), warnings.end());
  }
  print_cautions(file.warnings);
  return static_cast<int>(Exit::Ok);
}

int add_prediction(const FleetOptions& o) {
  for (const auto& [option, text] : {std::pair("--vehicle", &o.wheel.vehicle), std::pair("--axle", &o.wheel.axle),
                                     std::pair("--wheel", &o.wheel.wheel)}) {
    require_name(option, *text);
    if (text->empty()) {
      refuse_option(Code::WrongType, option, "no name", "a name as the records have it");
    }
  }
  std::vector<std::string> warnings;
  StoredPrediction p = read_prediction(o.file, warnings);
  p.wheel = o.wheel;
  p.tightened = o.tightened;
  p.tightened_instant = instant_option(o.tightened, "--tightened").seconds;
  if (!o.odometer.empty()) {
    p.odometer = option_value(o.odometer, kOdometer);
  }
  if (p.below_time) {
    p.recheck_time = kRecheckShare * *p.below_time;
  }
  if (p.below_distance) {
    p.recheck_distance = kRecheckShare * *p.below_distance;
  }
  FleetStore store(o.store, StoreUse::Add);
  tell_note(store);
  const std::vector<NewRow> row = {{p.wheel, 0, p.tightened, p.tightened_instant, p.odometer, 0}};
  const std::vector<std::string> doubtful = doubts(store, "--tightened", row, clock_now());
  const std::vector<std::string> wheels = new_wheels(store, row);
  const StoreAddition added = store.add({std::filesystem::path(o.file).filename().string(), p.digest}, p);
  say_added(o.store, added, "prediction", wheels);
  if (!added.file_known) {
    warnings.insert(warnings.end(), doubtful.begin(), doubtful.end());
  }
  if (p.below_time && *p.below_time <= 0) {
    fmt::print("{}\n",
               wrapped(fmt::format("Stud {} is below the required clamp of {} as tightened: the wheel is due at "
                                   "once.",
                                   p.below_stud, clamp_text(p.required_clamp)),
                       0, kText));
  } else if (p.below_time) {
    fmt::print("{}\n", wrapped(fmt::format("Stud {} falls below the required clamp of {} {} after the tightening{}: a "
                                           "re-check is due by half of that, or earlier.",
                                           p.below_stud, clamp_text(p.required_clamp), span_text(*p.below_time),
                                           p.below_distance ? " and " + kilometres(*p.below_distance) : ""),
                               0, kText));
  } else {
    fmt::print("{}\n", wrapped(fmt::format("No stud falls below the required clamp of {} within the {} d of the "
                                           "prediction. That puts no re-check off.",
                                           clamp_text(p.required_clamp), significant(p.end_time / units::kDay)),
                               0, kText));
  }
  print_cautions(warnings);
  return static_cast<int>(Exit::Ok);
}

/// Something that happened to a wheel, for its history.
struct Entry {
  double instant = 0;
  std::string date, what;
  std::shared_ptr<ordered_json> data = std::make_shared<ordered_json>(); ///< by pointer: the library's moves may throw
};

/// Rows of one wheel by instant, in visits.
template <class Row, class Tell>
void visits(const std::vector<Row>& rows, Tell tell) {
  for (std::size_t from = 0; from < rows.size();) {
    std::size_t to = from + 1;
    while (to < rows.size() && rows[to].instant <= rows[to - 1].instant + kGap) {
      ++to;
    }
    tell(std::vector<Row>(rows.begin() + static_cast<std::ptrdiff_t>(from),
                          rows.begin() + static_cast<std::ptrdiff_t>(to)));
    from = to;
  }
}

/// "studs 1, 4 and 7", "stud 1"; empty if it holds for none
template <class Row, class If>
std::string studs_where(const std::vector<Row>& rows, If holds) {
  std::vector<std::size_t> studs;
  for (const Row& r : rows) {
    if (holds(r) && std::find(studs.begin(), studs.end(), r.stud) == studs.end()) {
      studs.push_back(r.stud);
    }
  }
  std::sort(studs.begin(), studs.end());
  std::string out = studs.empty() ? "" : studs.size() == 1 ? "stud " : "studs ";
  for (std::size_t i = 0; i < studs.size(); ++i) {
    out += (i == 0 ? "" : i + 1 == studs.size() ? " and " : ", ") + std::to_string(studs[i]);
  }
  return out;
}

template <class Row>
std::optional<double> odometer_of(const std::vector<Row>& rows) {
  std::optional<double> out;
  for (const Row& r : rows) {
    out = r.odometer ? r.odometer : out;
  }
  return out;
}

/// "all 10 studs", "studs 1 and 2"
template <class Row>
std::string studs_of(const std::vector<Row>& rows, std::size_t all) {
  std::set<std::size_t> studs;
  for (const Row& r : rows) {
    studs.insert(r.stud);
  }
  if (all > 0 && studs.size() == all) {
    return fmt::format("all {} studs", all);
  }
  return studs_where(rows, [](const Row&) { return true; });
}

Entry tightened(const std::vector<StoredAct>& acts) {
  Entry e;
  e.instant = acts.front().instant;
  e.date = acts.front().time;
  const auto weakest = std::min_element(acts.begin(), acts.end(), [](const StoredAct& a, const StoredAct& b) {
    return a.clamp.value_or(kNever) < b.clamp.value_or(kNever);
  });
  e.what = fmt::format("tightened, {} act{} on {}", acts.size(), acts.size() == 1 ? "" : "s",
                       studs_of(acts, acts.front().studs));
  if (weakest->clamp) {
    e.what += fmt::format("; lowest clamp {} by estimate, stud {}", clamp_text(*weakest->clamp), weakest->stud);
  }
  bool inside = true;
  for (const StoredAct& a : acts) {
    if (!a.inside) {
      e.what += "; " + a.reasons;
      inside = false;
    }
  }
  e.what += inside ? "; inside its bands" : "";
  *e.data = {{"event", "tightened"}, {"time", e.date}, {"acts", ordered_json::array()}};
  for (const StoredAct& a : acts) {
    (*e.data)["acts"].push_back({{"stud", a.stud},
                                 {"pass", a.pass},
                                 {"time", a.time},
                                 {"torque_N_m", a.torque},
                                 {"set_torque_N_m", maybe(a.set_torque)},
                                 {"angle_rad", maybe(a.angle)},
                                 {"clamp_N", maybe(a.clamp)},
                                 {"clamp_deviation_N", maybe(a.clamp_deviation)},
                                 {"odometer_m", maybe(a.odometer)},
                                 {"inside", a.inside},
                                 {"reasons", a.reasons},
                                 {"tool", a.tool}});
  }
  return e;
}

Entry checked(const std::vector<StoredReading>& readings, std::size_t studs) {
  Entry e;
  e.instant = readings.front().instant;
  e.date = readings.front().time;
  const auto lowest = std::min_element(readings.begin(), readings.end(),
                                       [](const auto& a, const auto& b) { return a.torque < b.torque; });
  const std::string moved = studs_where(readings, [](const StoredReading& r) { return r.moved; });
  e.what =
      fmt::format("checked, {}; lowest torque {}, stud {}; {}", studs_of(readings, studs), torque_text(lowest->torque),
                  lowest->stud, moved.empty() ? "no nut moved" : "NUTS MOVED: " + moved);
  *e.data = {{"event", "checked"}, {"time", e.date}, {"readings", ordered_json::array()}};
  for (const StoredReading& r : readings) {
    (*e.data)["readings"].push_back({{"stud", r.stud},
                                     {"time", r.time},
                                     {"torque_N_m", r.torque},
                                     {"moved", r.moved},
                                     {"odometer_m", maybe(r.odometer)},
                                     {"tool", r.tool}});
  }
  return e;
}

Entry predicted(const StoredPrediction& p) {
  Entry e;
  e.instant = p.tightened_instant;
  e.date = p.tightened;
  e.what = fmt::format("predicted ({}): {}", p.source,
                       p.below_time ? fmt::format("stud {} below the required {} after {}{}", p.below_stud,
                                                  clamp_text(p.required_clamp), span_text(*p.below_time),
                                                  p.below_distance ? " and " + kilometres(*p.below_distance) : "")
                                    : fmt::format("no stud below the required {} within {} d",
                                                  clamp_text(p.required_clamp), significant(p.end_time / units::kDay)));
  *e.data = {{"event", "predicted"},
             {"tightened", p.tightened},
             {"title", p.title},
             {"source", p.source},
             {"digest", p.digest},
             {"required_clamp_N", p.required_clamp},
             {"end_time_s", p.end_time},
             {"below_time_s", maybe(p.below_time)},
             {"below_distance_m", maybe(p.below_distance)},
             {"below_stud", p.below_stud > 0 ? ordered_json(p.below_stud) : ordered_json()},
             {"recheck_time_s", maybe(p.recheck_time)},
             {"recheck_distance_m", maybe(p.recheck_distance)},
             {"odometer_m", maybe(p.odometer)},
             {"lowest_clamp", ordered_json::array()}};
  for (const StoredPrediction::Point& point : p.points) {
    (*e.data)["lowest_clamp"].push_back(
        {{"time_s", point.time}, {"distance_m", maybe(point.distance)}, {"clamp_N", point.clamp}});
  }
  return e;
}

int history(const FleetOptions& o) {
  const FleetStore store(o.store);
  tell_note(store);
  require_known(store, o.wheel);
  ordered_json document;
  document["wheels"] = ordered_json::array();
  std::string text; // told when all is read: a reader of ours that waits must not keep those waiting who add
  store.each_wheel(o.wheel, [&](const StoredHistory& wheel) {
    const WheelId& id = wheel.wheel;
    std::vector<Entry> entries;
    visits(wheel.acts, [&](const std::vector<StoredAct>& acts) { entries.push_back(tightened(acts)); });
    visits(wheel.readings, [&](const std::vector<StoredReading>& readings) {
      entries.push_back(checked(readings, wheel.acts.empty() ? 0 : wheel.acts.front().studs));
    });
    for (const StoredPrediction& p : wheel.predictions) {
      entries.push_back(predicted(p));
    }
    std::stable_sort(entries.begin(), entries.end(),
                     [](const Entry& a, const Entry& b) { return a.instant < b.instant; });
    if (o.json) {
      ordered_json one = {{"vehicle", id.vehicle}, {"axle", id.axle}, {"wheel", id.wheel}};
      one["events"] = ordered_json::array();
      for (Entry& e : entries) {
        one["events"].push_back(std::move(*e.data));
      }
      document["wheels"].push_back(std::move(one));
      return;
    }
    text += wheel_text(id) + '\n';
    for (const Entry& e : entries) {
      text += fmt::format("  {}  {}\n", e.date, wrapped(e.what, e.date.size() + 4, kPage));
    }
    text += '\n';
  });
  if (o.json) {
    document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
    fmt::print("{}\n", document.dump(2));
    return static_cast<int>(Exit::Ok);
  }
  fmt::print("{}", text.empty() ? "The store knows no wheel.\n" : text);
  print_cautions({});
  return static_cast<int>(Exit::Ok);
}

RecheckInterval interval_of(const std::vector<std::string>& texts) {
  RecheckInterval interval;
  for (const std::string& text : texts) {
    // A length is a distance; all else is to be a time, and the fault says so.
    ParamSpec distance = kDistance;
    const bool length = read_quantity(text, distance).value.has_value();
    if (length ? interval.distance.has_value() : interval.time.has_value()) {
      refuse_option(Code::DuplicateKey, "--recheck-every",
                    fmt::format("'{}' is a second {}", text, length ? "distance" : "time"),
                    "one time, one distance or one of each");
    }
    if (length) {
      interval.distance = option_value(text, kDistance);
    } else {
      interval.time = option_value(text, kTime);
    }
  }
  return interval;
}

/// "V=12345 km" by vehicle.
std::map<std::string, double> odometers_of(const std::vector<std::string>& texts) {
  std::map<std::string, double> out;
  for (const std::string& text : texts) {
    const std::size_t sign = text.rfind('=');
    if (sign == std::string::npos || sign == 0) {
      refuse_option(Code::Syntax, "--odometer", fmt::format("'{}' does not name a vehicle", text),
                    "VEHICLE=DISTANCE, for example \"demo vehicle 31=81330 km\"");
    }
    const std::string vehicle = text.substr(0, sign);
    require_name("--odometer", vehicle);
    if (!out.emplace(vehicle, option_value(text.substr(sign + 1), kOdometer)).second) {
      refuse_option(Code::DuplicateKey, "--odometer", fmt::format("'{}' is named twice", vehicle), "each vehicle once");
    }
  }
  return out;
}

/// A wheel with when it is due.
struct DueWheel {
  enum class State { Due, NotKnown, Later };
  WheelId id;
  State state = State::Later;
  RecheckDue due;
  WholeVisit last;
  std::optional<double> ahead;    ///< of UTC, the clock by which its times were written [s]
  std::optional<double> odometer; ///< of the vehicle now
  bool alarm = false;             ///< nuts moved at a check, or it was tightened outside its bands
  std::vector<std::string> notes;
  [[nodiscard]] std::string text(double instant) const { return instant_text(instant, ahead); }
};

template <class Row>
std::vector<StudEvent> events_of(const std::vector<Row>& rows) {
  std::vector<StudEvent> out;
  for (const Row& r : rows) {
    out.push_back({r.instant, r.stud, r.odometer});
  }
  return out;
}

std::optional<double> ahead_of(const std::string& time) {
  const auto instant = read_instant(time);
  return instant ? instant->ahead : std::nullopt;
}

/// Works one wheel out.
class DueCheck {
public:
  DueCheck(const WheelId& id, const StoredHistory& wheel) : wheel_(wheel) {
    due_.id = id;
    for (const StoredAct& a : wheel.acts) {
      studs_ = std::max({studs_, a.stud, a.studs});
    }
    for (const StoredReading& r : wheel.readings) {
      studs_ = std::max(studs_, r.stud);
    }
    due_.ahead = ahead_of(!wheel.acts.empty()       ? wheel.acts.back().time
                          : !wheel.readings.empty() ? wheel.readings.back().time
                                                    : wheel.predictions.back().tightened);
    tightening_ = last_whole_visit(events_of(wheel.acts), studs_, kGap);
    // Readings alone do not tell how many studs there are, and so not whether a check saw to all of them.
    if (!wheel.acts.empty()) {
      check_ = last_whole_visit(events_of(wheel.readings), studs_, kGap);
    }
  }

  DueWheel operator()(const RecheckInterval& interval, const Instant& on, std::optional<double> odometer) {
    due_.odometer = odometer;
    find_last();
    const std::vector<PredictedFall> predicted = falls();
    due_.due = next_recheck(due_.last, interval, predicted);
    // A date is the whole of its day, on the clock by which the wheel's times were written unless it says which.
    const double until = on.seconds + (on.time ? 0 : units::kDay) - (on.ahead ? 0 : due_.ahead.value_or(0));
    for (const PredictedFall& fall : predicted) {
      if (fall.time && fall.tightened + *fall.time <= until) {
        due_.notes.push_back("predicted below the required clamp since " + due_.text(fall.tightened + *fall.time));
      }
    }
    const bool by_time = due_.due.instant && *due_.due.instant <= until;
    const bool by_distance = due_.due.odometer && odometer && *due_.due.odometer <= *odometer;
    const bool blind = (interval.distance || due_.due.odometer) && !(due_.due.odometer && odometer);
    if (blind) {
      due_.notes.emplace_back(odometer ? "by distance it is not known: no odometer reading when it was last seen to"
                                       : "by distance it is not known: --odometer does not name the vehicle");
    }
    const bool no_studs = wheel_.acts.empty();
    if (no_studs) {
      due_.notes.emplace_back("the number of its studs is not known: no record of tightening");
    }
    due_.state = by_time || by_distance                     ? DueWheel::State::Due
                 : no_studs || (blind && interval.distance) ? DueWheel::State::NotKnown
                                                            : DueWheel::State::Later;
    return std::move(due_);
  }

private:
  [[nodiscard]] double day(double instant) const {
    return std::floor((instant + due_.ahead.value_or(0)) / units::kDay);
  }
  [[nodiscard]] double day(const StoredPrediction& p) const {
    return ahead_of(p.tightened) ? day(p.tightened_instant) : std::floor(p.tightened_instant / units::kDay);
  }

  /// A prediction is no visit: that the wheel was tightened at its date is known only from whoever added it, and must
  /// not put a re-check off. Without a visit to all studs the earliest thing that is known counts.
  void find_last() {
    if (tightening_ || check_) {
      due_.last = !check_ || (tightening_ && tightening_->instant >= check_->instant) ? *tightening_ : *check_;
    } else if (!wheel_.acts.empty()) {
      due_.last = {wheel_.acts.front().instant, wheel_.acts.front().odometer};
    } else if (!wheel_.readings.empty()) {
      due_.last = {wheel_.readings.front().instant, wheel_.readings.front().odometer};
    } else {
      due_.last = {wheel_.predictions.front().tightened_instant, wheel_.predictions.front().odometer};
    }
    double latest = due_.last.instant;
    if (!wheel_.acts.empty()) {
      latest = std::max(latest, wheel_.acts.back().instant);
    }
    if (!wheel_.readings.empty()) {
      latest = std::max(latest, wheel_.readings.back().instant);
    }
    if (!tightening_ && !check_) {
      due_.notes.emplace_back("the store knows of no time at which all studs were seen to");
    } else if (latest > due_.last.instant) {
      due_.notes.emplace_back("only some studs were seen to after that, which does not count for the wheel");
    }
    find_alarms();
  }

  /// Nuts that moved at a check are told until all studs are seen to again; so are findings of a tightening.
  void find_alarms() {
    std::vector<StoredReading> moved;
    visits(wheel_.readings, [&](const std::vector<StoredReading>& readings) {
      if (last_whole_visit(events_of(readings), studs_, kGap)) {
        moved.clear();
      }
      std::copy_if(readings.begin(), readings.end(), std::back_inserter(moved), [&](const StoredReading& r) {
        return r.moved && (!tightening_ || r.instant > tightening_->instant);
      });
    });
    const std::string studs = studs_where(moved, [](const StoredReading&) { return true; });
    std::vector<StoredAct> outside;
    visits(wheel_.acts, [&](const std::vector<StoredAct>& acts) {
      if (last_whole_visit(events_of(acts), studs_, kGap)) {
        outside.clear();
      }
      std::copy_if(acts.begin(), acts.end(), std::back_inserter(outside), [](const StoredAct& a) { return !a.inside; });
    });
    if (!outside.empty()) {
      std::string note = "TIGHTENED OUTSIDE ITS BANDS: " + outside.front().reasons;
      note += outside.size() > 1 ? fmt::format(" and {} more", outside.size() - 1) : "";
      due_.notes.insert(due_.notes.begin(), note);
    }
    if (!studs.empty()) {
      due_.notes.insert(due_.notes.begin(), "NUTS MOVED at a check: " + studs);
    }
    due_.alarm = !studs.empty() || !outside.empty();
  }

  /// The predictions that hold: those of the last tightening, or of one that the records do not know.
  std::vector<PredictedFall> falls() {
    std::vector<PredictedFall> out;
    for (const StoredPrediction& p : wheel_.predictions) {
      if (tightening_ && day(p) < day(tightening_->instant)) {
        continue;
      }
      PredictedFall fall{p.tightened_instant, p.odometer, p.below_time, p.below_distance};
      if (tightening_ && day(p) == day(tightening_->instant)) {
        fall.tightened = tightening_->instant; // the records know better when on that day
        fall.odometer = p.odometer ? p.odometer : tightening_->odometer;
        // Records of a tightening often have no odometer; whoever added the prediction may have read it.
        if (due_.last.instant == tightening_->instant && !due_.last.odometer) {
          due_.last.odometer = p.odometer;
        }
      }
      out.push_back(fall);
    }
    return out;
  }

  const StoredHistory& wheel_;
  DueWheel due_;
  std::size_t studs_ = 0;
  std::optional<WholeVisit> tightening_, check_;
};

/// Whether something was done after the time that is asked about; a date is the whole of its day, on the clock by
/// which `time` was written unless it says which.
bool later_than(const Instant& on, const std::string& time, double instant) {
  const double until = on.seconds + (on.time ? 0 : units::kDay) - (on.ahead ? 0 : ahead_of(time).value_or(0));
  return on.time ? instant > until : instant >= until;
}

/// Takes away what was done after that time. How many acts, readings and predictions that were.
std::size_t cut_after(StoredHistory& wheel, const Instant& on) {
  const std::size_t before = wheel.acts.size() + wheel.readings.size() + wheel.predictions.size();
  const auto late = [&](const auto& row) { return later_than(on, row.time, row.instant); };
  wheel.acts.erase(std::remove_if(wheel.acts.begin(), wheel.acts.end(), late), wheel.acts.end());
  wheel.readings.erase(std::remove_if(wheel.readings.begin(), wheel.readings.end(), late), wheel.readings.end());
  const auto foretold = [&](const StoredPrediction& p) { return later_than(on, p.tightened, p.tightened_instant); };
  wheel.predictions.erase(std::remove_if(wheel.predictions.begin(), wheel.predictions.end(), foretold),
                          wheel.predictions.end());
  return before - (wheel.acts.size() + wheel.readings.size() + wheel.predictions.size());
}

/// Throws InputError where a vehicle is said to have driven less than the store knows it had by then.
void require_odometers(const FleetStore& store, const std::map<std::string, double>& odometers, const Instant& on) {
  std::map<std::string, double> largest;
  std::vector<std::string> vehicles;
  for (const StoredWheel& w : store.wheels()) {
    vehicles.push_back(w.id.vehicle);
  }
  std::set<std::string> named;
  for (const auto& [vehicle, odometer] : odometers) {
    named.insert(vehicle);
  }
  for (const StoredOdometer& s : store.odometers(named)) {
    if (!later_than(on, s.time, s.instant)) {
      largest[s.vehicle] = std::max(largest[s.vehicle], s.odometer);
    }
  }
  for (const auto& [vehicle, odometer] : odometers) {
    if (std::find(vehicles.begin(), vehicles.end(), vehicle) == vehicles.end()) {
      const std::string near = nearest(vehicle, vehicles);
      refuse_option(Code::UnknownEntry, "--odometer", fmt::format("the store knows no vehicle '{}'", vehicle),
                    "a vehicle as the records name it", near.empty() ? "" : fmt::format("did you mean '{}'?", near));
    }
    const auto known = largest.find(vehicle);
    if (known != largest.end() && odometer < known->second) {
      refuse_option(Code::Inconsistent, "--odometer",
                    fmt::format("{} of {}, but the store has it at {} by then", kilometres(odometer), vehicle,
                                kilometres(known->second)),
                    "what the vehicle has driven, no less than before");
    }
  }
}

std::string_view state_text(DueWheel::State state) {
  return state == DueWheel::State::Due ? "DUE" : state == DueWheel::State::NotKnown ? "NOT KNOWN" : "later";
}

int due(const FleetOptions& o) {
  const Instant on = instant_option(o.on, "--on");
  const RecheckInterval interval = interval_of(o.every);
  const auto odometers = odometers_of(o.odometers);
  const FleetStore store(o.store);
  tell_note(store);
  require_known(store, o.wheel);
  require_odometers(store, odometers, on);
  std::vector<DueWheel> wheels;
  std::vector<std::string> warnings;
  std::size_t cut = 0;
  store.each_wheel(o.wheel, [&](StoredHistory& wheel) {
    const WheelId& id = wheel.wheel;
    cut += cut_after(wheel, on);
    if (wheel.acts.empty() && wheel.readings.empty() && wheel.predictions.empty()) {
      warnings.push_back(
          fmt::format("{} is left out: all that the store knows of it is later than {}", wheel_text(id), o.on));
      return;
    }
    const auto odometer = odometers.find(id.vehicle);
    wheels.push_back(DueCheck(id, wheel)(interval, on,
                                         odometer == odometers.end() ? std::nullopt : std::optional(odometer->second)));
  });
  if (cut > 0) {
    warnings.insert(warnings.begin(), fmt::format("{} {} of the store {} later than {} and {} not counted", cut,
                                                  cut == 1 ? "entry" : "entries", cut == 1 ? "is" : "are", o.on,
                                                  cut == 1 ? "is" : "are"));
  }
  std::stable_sort(wheels.begin(), wheels.end(), [](const DueWheel& a, const DueWheel& b) {
    return std::tuple(!a.alarm, a.state, a.due.instant.value_or(kNever)) <
           std::tuple(!b.alarm, b.state, b.due.instant.value_or(kNever));
  });
  if (o.json) {
    ordered_json document;
    document["on"] = o.on;
    document["wheels"] = ordered_json::array();
    for (const DueWheel& w : wheels) {
      document["wheels"].push_back({{"vehicle", w.id.vehicle},
                                    {"axle", w.id.axle},
                                    {"wheel", w.id.wheel},
                                    {"state", w.state == DueWheel::State::Due        ? "due"
                                              : w.state == DueWheel::State::NotKnown ? "not_known"
                                                                                     : "later"},
                                    {"last_seen_to", w.text(w.last.instant)},
                                    {"due", w.due.instant ? ordered_json(w.text(*w.due.instant)) : ordered_json()},
                                    {"due_by_prediction", w.due.time_predicted},
                                    {"due_odometer_m", maybe(w.due.odometer)},
                                    {"due_odometer_by_prediction", w.due.distance_predicted},
                                    {"odometer_m", maybe(w.odometer)},
                                    {"alarm", w.alarm},
                                    {"notes", w.notes}});
    }
    document["warnings"] = warnings;
    document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
    fmt::print("{}\n", document.dump(2));
    return static_cast<int>(Exit::Ok);
  }
  const auto count = [&](DueWheel::State state) {
    return std::count_if(wheels.begin(), wheels.end(), [&](const DueWheel& w) { return w.state == state; });
  };
  fmt::print("{}: {} wheel{}; {} due for a re-check by {}, {} not known, {} later\n", o.store, wheels.size(),
             wheels.size() == 1 ? "" : "s", count(DueWheel::State::Due), o.on, count(DueWheel::State::NotKnown),
             count(DueWheel::State::Later));
  for (const DueWheel& w : wheels) {
    std::string line =
        fmt::format("{:9}  {}: last seen to {}", state_text(w.state), wheel_text(w.id), w.text(w.last.instant));
    if (w.due.instant) {
      line += fmt::format("; due {}{}", w.text(*w.due.instant), w.due.time_predicted ? " by the prediction" : "");
    }
    if (w.due.odometer) {
      line += fmt::format("; due at {}{}", kilometres(*w.due.odometer),
                          w.due.distance_predicted ? " by the prediction" : "");
      line += w.odometer ? fmt::format(", now {}", kilometres(*w.odometer)) : "";
    }
    for (const std::string& note : w.notes) {
      line += "; " + note;
    }
    // The first word is kept at its width, which wrapping would take for one blank.
    fmt::print("{}{}\n", line.substr(0, 11), wrapped(line.substr(11), 11, kPage));
  }
  warnings.emplace_back("a re-check is due at the latest after the interval that you gave; a prediction brings it "
                        "forward and never puts it off");
  print_cautions(warnings);
  return static_cast<int>(Exit::Ok);
}

int export_store(const FleetOptions& o) {
  std::error_code ignored;
  if (std::filesystem::equivalent(o.store, o.out, ignored)) {
    throw FileError(Code::FileWrite, o.out + ": this is the store itself; give the export another name");
  }
  const FleetStore store(o.store);
  tell_note(store);
  require_known(store, o.wheel);
  const auto cell = [](const std::optional<double>& v) { return v ? fmt::format("{}", *v) : std::string(); };
  std::string text = "event,vehicle,axle,wheel,stud,time,instant_s,pass,torque_N_m,set_torque_N_m,angle_rad,clamp_N,"
                     "clamp_deviation_N,moved,inside,reasons,odometer_m,below_time_s,below_distance_m,recheck_time_s,"
                     "recheck_distance_m,required_clamp_N,source,tool";
  text += o.people ? ",operator\n" : "\n";
  const auto row = [&](const char* event, const WheelId& id, const std::string& rest, const std::string& person) {
    text += fmt::format("{},{},{},{},{}", event, csv_cell(id.vehicle), csv_cell(id.axle), csv_cell(id.wheel), rest);
    text += o.people ? ',' + csv_cell(person) + '\n' : "\n";
  };
  store.each_wheel(o.wheel, [&](const StoredHistory& wheel) {
    const WheelId& id = wheel.wheel;
    for (const StoredAct& a : wheel.acts) {
      row("tightened", id,
          fmt::format("{},{},{},{},{},{},{},{},{},,{},{},{},,,,,,,{}", a.stud, csv_cell(a.time), a.instant, a.pass,
                      a.torque, cell(a.set_torque), cell(a.angle), cell(a.clamp), cell(a.clamp_deviation),
                      a.inside ? "yes" : "no", csv_cell(a.reasons), cell(a.odometer), csv_cell(a.tool)),
          a.operator_name);
    }
    for (const StoredReading& r : wheel.readings) {
      row("checked", id,
          fmt::format("{},{},{},,{},,,,,{},,,{},,,,,,,{}", r.stud, csv_cell(r.time), r.instant, r.torque,
                      r.moved ? "yes" : "no", cell(r.odometer), csv_cell(r.tool)),
          r.operator_name);
    }
    for (const StoredPrediction& p : wheel.predictions) {
      row("predicted", id,
          fmt::format("{},{},{},,,,,,,,,,{},{},{},{},{},{},{},", p.below_stud > 0 ? std::to_string(p.below_stud) : "",
                      csv_cell(p.tightened), p.tightened_instant, cell(p.odometer), cell(p.below_time),
                      cell(p.below_distance), cell(p.recheck_time), cell(p.recheck_distance), p.required_clamp,
                      csv_cell(p.source)),
          "");
    }
  });
  write_text_file(o.out, text, o.force);
  fmt::print("{}\n", o.out);
  print_cautions({});
  return static_cast<int>(Exit::Ok);
}

} // namespace

void add_fleet(CLI::App& app, int& code) {
  CLI::App* fleet = app.add_subcommand("fleet", "Keep wheels over time in a store: tightened, checked, predicted, due");
  fleet->require_subcommand(1);
  fleet->footer(
      "A store is one file, made by the first command that adds to it; `clampfade records --store` adds what a\n"
      "wrench wrote down. Who did it is kept only with --with-people. What is there already is not added again.\n"
      "\n"
      "Examples:\n"
      "  clampfade records wheels.csv --torque \"475 lbf*ft\" --studs 10 --store fleet.sqlite\n"
      "  clampfade fleet add-readings checks.csv --store fleet.sqlite\n"
      "  clampfade fleet add-prediction wheel.h5 --store fleet.sqlite --vehicle V --axle A --wheel W \\\n"
      "      --tightened 2024-04-09 --odometer \"81250 km\"\n"
      "  clampfade fleet history --store fleet.sqlite --vehicle V\n"
      "  clampfade fleet due --store fleet.sqlite --on 2024-04-20 --recheck-every \"1 week\" \"80 km\" \\\n"
      "      --odometer \"V=81330 km\"\n"
      "  clampfade fleet export --store fleet.sqlite -o fleet.csv");
  const auto o = std::make_shared<FleetOptions>();
  const auto store = [o](CLI::App* command, const char* meaning) {
    command->add_option("--store", o->store, meaning)->required()->option_text("FILE");
  };
  const auto which = [o](CLI::App* command, bool must) {
    command->add_option("--vehicle", o->wheel.vehicle, must ? "vehicle" : "of this vehicle alone")->required(must);
    command->add_option("--axle", o->wheel.axle, must ? "axle" : "of this axle alone")->required(must);
    command->add_option("--wheel", o->wheel.wheel, must ? "wheel" : "of this wheel alone")->required(must);
  };
  const auto people = [o](CLI::App* command, const char* meaning) {
    CLI::Option* with = command->add_flag("--with-people", o->people, meaning);
    command->add_flag("--without-people", o->no_people, "leave out who did it; the default")->excludes(with);
  };

  CLI::App* readings = fleet->add_subcommand("add-readings", "Add what checks of the torque found");
  readings
      ->add_option("FILE", o->file,
                   "CSV: vehicle, axle, wheel, stud, time, torque, torque_unit, moved (yes or no), and optionally "
                   "odometer, odometer_unit, tool, operator")
      ->required();
  store(readings, "the store; made if it is not there");
  people(readings, "keep who did it");
  readings->callback([o, &code] { code = add_readings(*o); });

  CLI::App* prediction = fleet->add_subcommand("add-prediction", "Add what a run or a study says of a wheel");
  prediction->add_option("FILE", o->file, "history or study, HDF5")->required();
  store(prediction, "the store; made if it is not there");
  which(prediction, true);
  prediction->add_option("--tightened", o->tightened, "when it was tightened, ISO 8601")
      ->required()
      ->option_text("DATE");
  prediction->add_option("--odometer", o->odometer, "driven by the vehicle until then, with a unit");
  prediction->callback([o, &code] { code = add_prediction(*o); });

  CLI::App* history_command = fleet->add_subcommand("history", "All that is known of wheels, by date");
  store(history_command, "the store");
  which(history_command, false);
  history_command->add_flag("--json", o->json, "print JSON in SI units");
  history_command->callback([o, &code] { code = history(*o); });

  CLI::App* due_command = fleet->add_subcommand("due", "Which wheels are due for a re-check, soonest first");
  store(due_command, "the store");
  due_command->add_option("--on", o->on, "date, ISO 8601; without a time of day its end")
      ->required()
      ->option_text("DATE");
  due_command
      ->add_option(
          "--recheck-every", o->every,
          "longest time and longest distance from one re-check to the next: \"1 week\" \"80 km\", or one of them")
      ->required()
      ->expected(1, 2)
      ->option_text("INTERVAL...");
  due_command->add_option("--odometer", o->odometers, "what vehicles have driven by then: \"VEHICLE=81330 km\"")
      ->option_text("VEHICLE=DISTANCE...");
  which(due_command, false);
  due_command->add_flag("--json", o->json, "print JSON in SI units");
  due_command->callback([o, &code] { code = due(*o); });

  CLI::App* export_command = fleet->add_subcommand("export", "Write everything to a CSV file, in SI units");
  store(export_command, "the store");
  export_command->add_option("-o,--output", o->out, "the file")->required();
  which(export_command, false);
  export_command->add_flag("--force", o->force, "overwrite the file if it is there");
  people(export_command, "write who did it, where the store knows");
  export_command->callback([o, &code] { code = export_store(*o); });
}

} // namespace clampfade

#include "solver/cli/store_additions.hpp"

#include "models/units.hpp"
#include "solver/cli/options.hpp"
#include "solver/cli/streams.hpp"
#include "solver/io/instant.hpp"
#include "solver/io/record_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <set>
#include <utility>

namespace clampfade {

namespace {

constexpr std::size_t kMostTold = 10;                    // of one kind, then only their number
constexpr double kMostDriven = 2000 * units::kKilometre; // in a day, our choice, no source
constexpr double kRounded = units::kKilometre;           // odometers are read to the kilometre
constexpr double kFarthestClock = 14 * units::kHour;     // ahead of UTC that a clock on Earth is at most
constexpr std::string WheelId::*kParts[] = {&WheelId::vehicle, &WheelId::axle, &WheelId::wheel};
constexpr const char* kPartNames[] = {"vehicle", "axle", "wheel"};

std::string place(const std::string& file, int line) { return line > 0 ? fmt::format("{}:{}", file, line) : file; }

/// Whether an instant lies behind now for sure: without an offset its clock may be ahead of UTC.
bool in_future(const NewRow& row, double now) {
  const auto read = read_instant(row.time);
  return row.instant > now + (read && read->ahead ? 0 : kFarthestClock);
}

/// What a vehicle had driven at an instant; line -1 where the store has it.
struct Driven {
  double instant = 0, odometer = 0;
  std::string time;
  int line = -1;
};

/// What is odd about the way from one odometer to the next; empty if nothing.
std::string odd_way(const Driven& from, const Driven& to) {
  const double way = to.odometer - from.odometer;
  const double days = std::max(1.0, (to.instant - from.instant) / units::kDay);
  if (way >= -kRounded && way <= kMostDriven * days) {
    return "";
  }
  return fmt::format("the odometer {} from {} at {} to {} at {}", way < 0 ? "runs back" : "jumps",
                     kilometres(from.odometer), from.time, kilometres(to.odometer), to.time);
}

void told_in_part(std::vector<std::string>& all, const std::string& what) {
  if (all.size() > kMostTold) {
    const std::size_t more = all.size() - kMostTold;
    all.resize(kMostTold);
    all.push_back(fmt::format("{} more {}", more, what));
  }
}

/// Names of the store at the first part, vehicle, axle or wheel, by which it does not have a wheel.
struct Unknown {
  std::size_t part = 0;
  std::vector<std::string> names;
};
std::optional<Unknown> unknown_part(const std::vector<StoredWheel>& known, const WheelId& id, bool empty_is_any) {
  std::vector<const WheelId*> left;
  for (const StoredWheel& w : known) {
    left.push_back(&w.id);
  }
  for (std::size_t part = 0; part < std::size(kParts); ++part) {
    const std::string& name = id.*kParts[part];
    if (name.empty() && empty_is_any) {
      continue;
    }
    std::set<std::string> names;
    for (const WheelId* w : left) {
      names.insert(w->*kParts[part]);
    }
    if (names.count(name) == 0) {
      return Unknown{part, {names.begin(), names.end()}};
    }
    left.erase(std::remove_if(left.begin(), left.end(), [&](const WheelId* w) { return w->*kParts[part] != name; }),
               left.end());
  }
  return std::nullopt;
}

} // namespace

std::string wheel_text(const WheelId& id) {
  std::string out = id.vehicle;
  for (const std::string* part : {&id.axle, &id.wheel}) {
    out += part->empty() ? "" : ", " + *part;
  }
  return out;
}

std::string kilometres(double metres) { return fmt::format("{:.6g} km", metres / units::kKilometre); }

double clock_now() {
  return std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
}

void tell_note(const FleetStore& store) {
  if (!store.note().empty()) {
    tell("note: " + store.note() + '\n');
  }
}

void require_name(const std::string& option, const std::string& name) {
  const std::string reason = name_fault(name);
  if (!reason.empty()) {
    refuse_option(Code::WrongType, option, reason, "a name as the records have it");
  }
}

void require_known(const FleetStore& store, const WheelFilter& which) {
  for (std::size_t part = 0; part < std::size(kParts); ++part) {
    require_name(std::string("--") + kPartNames[part], which.*kParts[part]);
  }
  const auto unknown = unknown_part(store.wheels(), which, true);
  if (unknown) {
    const std::string& name = which.*kParts[unknown->part];
    const std::string near = nearest(name, unknown->names);
    refuse_option(Code::UnknownEntry, std::string("--") + kPartNames[unknown->part],
                  fmt::format("the store knows no such {} as '{}'", kPartNames[unknown->part], name),
                  "a name as the records have it", near.empty() ? "" : fmt::format("did you mean '{}'?", near));
  }
}

void require_known_studs(const FleetStore& store, const std::string& file, const std::vector<NewRow>& rows) {
  std::map<WheelId, std::size_t> studs;
  for (const StoredWheel& w : store.wheels()) {
    studs[w.id] = w.studs;
  }
  std::vector<Diagnostic> faults;
  for (const NewRow& r : rows) {
    const auto known = studs.find(r.wheel);
    if (known != studs.end() && known->second > 0 && r.stud > known->second && faults.size() < 2 * kMostTold) {
      Diagnostic d;
      d.code = Code::OutOfRange;
      d.place = {file, r.line, 0};
      d.path = "stud";
      d.found = fmt::format("there is no stud {} on {}", r.stud, wheel_text(r.wheel));
      d.allowed = fmt::format("1 to {}, as the wheel's records of tightening have it", known->second);
      faults.push_back(std::move(d));
    }
  }
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
}

std::vector<std::string> doubts(const FleetStore& store, const std::string& file, const std::vector<NewRow>& rows,
                                double now) {
  std::vector<std::string> out;
  std::map<std::string, std::vector<Driven>> driven;
  std::set<std::string> vehicles;
  for (const NewRow& r : rows) {
    vehicles.insert(r.wheel.vehicle);
  }
  for (const StoredOdometer& s : store.odometers(vehicles)) {
    driven[s.vehicle].push_back({s.instant, s.odometer, s.time, -1});
  }
  for (const NewRow& r : rows) {
    if (in_future(r, now)) {
      out.push_back(
          fmt::format("{}: the time {} is later than now by this computer's clock", place(file, r.line), r.time));
    }
    if (r.odometer) {
      driven[r.wheel.vehicle].push_back({r.instant, *r.odometer, r.time, r.line});
    }
  }
  told_in_part(out, "times are later than now");
  std::vector<std::string> ways;
  for (auto& [vehicle, all] : driven) {
    std::stable_sort(all.begin(), all.end(), [](const Driven& a, const Driven& b) { return a.instant < b.instant; });
    for (std::size_t i = 1; i < all.size(); ++i) {
      const std::string odd = odd_way(all[i - 1], all[i]);
      const int line = std::max(all[i - 1].line, all[i].line); // -1: the store alone, told when that was added
      if (!odd.empty() && line >= 0) {
        ways.push_back(fmt::format("{}: {}: {}", place(file, all[i].line >= 0 ? all[i].line : line), vehicle, odd));
      }
    }
  }
  told_in_part(ways, "odometers run back or jump");
  out.insert(out.end(), ways.begin(), ways.end());
  return out;
}

std::vector<std::string> new_wheels(const FleetStore& store, const std::vector<NewRow>& rows) {
  const std::vector<StoredWheel> known = store.wheels();
  std::set<WheelId> there;
  for (const StoredWheel& w : known) {
    there.insert(w.id);
  }
  std::vector<std::string> out;
  for (const NewRow& r : rows) {
    if (!there.insert(r.wheel).second) {
      continue;
    }
    out.push_back("new wheel " + wheel_text(r.wheel));
    if (out.size() > kMostTold) {
      continue; // its name is not told
    }
    if (const auto unknown = unknown_part(known, r.wheel, false)) {
      const std::string near = nearest(r.wheel.*kParts[unknown->part], unknown->names);
      if (!near.empty()) {
        out.back() += fmt::format("; the store has a near name: {} '{}'", kPartNames[unknown->part], near);
      }
    }
  }
  told_in_part(out, "new wheels");
  return out;
}

} // namespace clampfade

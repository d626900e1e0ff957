#include "solver/io/duty_reader.hpp"

#include "models/units.hpp"
#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <variant>

namespace clampfade {

namespace {

TraceStep read_trace(ReaderState& r, Map& m) {
  TraceStep trace;
  constexpr const char* kColumns = "time [s], speed [m/s], grade [-]";
  trace.file = m.text_or("file", "");
  const auto csv = CsvTable::from_map(r.context, m, "points", kColumns);
  if (!csv) {
    return trace;
  }
  struct Column {
    ParamSpec spec;
    std::vector<double>* values;
    std::size_t at = 0;
    std::string unit; ///< empty for SI
    bool there = false;
  };
  std::array<Column, 3> columns = {
      {{{"time", "s", Quantity::Dimensional, {}, {}, ""}, &trace.time, 0, "", false},
       {{"speed", "m/s", Quantity::Dimensional, {0, 100}, {}, ""}, &trace.speed, 0, "", false},
       {{"grade", "1", Quantity::Number, {-0.5, 0.5}, {}, ""}, &trace.grade, 0, "", false}}};
  const CsvRow& header = csv->header();
  for (std::size_t i = 0; i < header.cells.size(); ++i) {
    std::string name = header.cells[i];
    std::string unit;
    bool bare = true;
    if (const std::size_t bracket = name.find('['); bracket != std::string::npos) {
      const std::size_t end = name.find(']', bracket);
      unit = name.substr(bracket + 1, end == std::string::npos ? end : end - bracket - 1);
      name.resize(name.find_last_not_of(" \t", bracket - 1) + 1);
      bare = end == std::string::npos;
    }
    const auto found =
        std::find_if(columns.begin(), columns.end(), [&](const Column& c) { return c.spec.key == name; });
    if (found == columns.end()) {
      csv->fault(header, Code::UnknownKey, header.cells[i], "this column is not known", kColumns);
      continue;
    }
    if (found->there) {
      csv->fault(header, Code::DuplicateKey, header.cells[i], "this column is there twice", "each column once");
    }
    found->at = i;
    found->there = true;
    const bool pure = found->spec.quantity == Quantity::Number;
    if ((bare || unit.empty()) && !pure) {
      csv->fault(header, Code::MissingUnit, header.cells[i], "this column has no unit", wanted(found->spec),
                 fmt::format("for example {} [{}]", name, found->spec.unit));
      continue;
    }
    found->unit = unit == found->spec.unit || (pure && (bare || unit == "-")) ? "" : unit;
    if (!found->unit.empty()) {
      const QuantityResult probe = read_quantity("1 " + found->unit, found->spec);
      if (!probe.value) {
        csv->fault(header, probe.fault.code, header.cells[i], probe.fault.found, probe.fault.allowed, probe.fault.hint);
        found->unit.clear();
      }
    }
  }
  for (const std::size_t must : {std::size_t{0}, std::size_t{1}}) {
    if (!columns[must].there) {
      csv->fault(header, Code::MissingKey, std::string(columns[must].spec.key), "this column is missing", kColumns);
      return trace;
    }
  }
  csv->each_row([&](const CsvRow& row) {
    for (const Column& column : columns) {
      double v = column.there ? csv->number(row, column.at, std::string(column.spec.key)) : 0.0;
      if (!column.unit.empty() && !std::isnan(v)) {
        v = read_quantity(row.cells[column.at] + ' ' + column.unit, column.spec).value.value_or(kNone);
      }
      if (!std::isnan(v) && !column.spec.allowed.holds(v)) {
        csv->fault(row, Code::OutOfRange, std::string(column.spec.key),
                   fmt::format("'{}' is outside the allowed range", row.cells[column.at]),
                   range_text(column.spec.allowed, column.spec));
      }
      if (&column == &columns[0] && !trace.time.empty() && v <= trace.time.back()) {
        csv->fault(row, Code::Inconsistent, "time",
                   fmt::format("'{}' does not rise above the row before", row.cells[column.at]),
                   "time rising from row to row");
      }
      column.values->push_back(v);
    }
  });
  if (csv->size() < 3) {
    csv->fault(csv->last(), Code::Inconsistent, "", "one point is no trace", "at least two points");
  }
  return trace;
}

void read_step(ReaderState& r, const Item& item, const std::string& path, double& clock) {
  Map m(r.context, item, path, section("duty/day/*"));
  if (!m.is_map()) {
    return;
  }
  if (item.items.size() != 1) {
    inconsistent(r.context, item, path, fmt::format("{} steps in one entry of the list", item.items.size()),
                 "one step after each dash");
    return;
  }
  const std::string& kind = item.names.front().text;
  if (section("duty/day/*").find(kind) == nullptr) {
    return;
  }
  Map step(r.context, item.items.front(), path + '/' + kind, section("duty/day/*/" + kind));
  if (!step.is_map()) {
    return;
  }
  DayStep read;
  if (kind == "park") {
    ParkStep park;
    fill(step, park);
    // Steps that fill the day to the second need not lose it to round-off.
    if (park.until < clock * (1 - 1e-9) && clock <= kLongestDay) {
      inconsistent(r.context, step.place("until"), step.at("until"),
                   fmt::format("the steps before end at {:.4g} h", clock / units::kHour), "a later time of day");
    }
    clock = std::max(clock, park.until);
    read.what = park;
  } else if (kind == "drive") {
    DriveStep drive;
    fill(step, drive);
    clock += drive.distance / drive.speed;
    read.what = drive;
  } else if (kind == "round") {
    RoundStep round;
    fill(step, round);
    clock += static_cast<double>(round.stops) * round.stop_time();
    read.what = round;
  } else if (kind == "drag") {
    DragStep drag;
    fill(step, drag);
    clock += drag.duration;
    read.what = drag;
  } else {
    TraceStep trace = read_trace(r, step);
    if (!trace.time.empty()) {
      clock += trace.time.back() - trace.time.front();
    }
    read.what = std::move(trace);
  }
  if (const Item* mass = step.find("mass")) {
    const ParamSpec& spec = step.declared("mass").spec;
    if (!mass->list()) {
      read.load.mass_start = read.load.mass_end = read_value(r.context, *mass, spec, step.at("mass"));
    } else if (mass->items.size() == 2) {
      read.load.mass_start = read_value(r.context, mass->items[0], spec, step.at("mass"));
      read.load.mass_end = read_value(r.context, mass->items[1], spec, step.at("mass"));
    } else {
      r.context.faults.add(Code::WrongType, *mass, step.at("mass"), fmt::format("{} values", mass->items.size()),
                           "one value, or [at the start, at the end]");
    }
  }
  read.load.lateral_share = step.maybe("lateral_share");
  r.scenario.duty.day.push_back(std::move(read));
}

/// Distance of one working day [m].
double day_distance(const DutySpec& duty) {
  double sum = 0;
  for (const DayStep& step : duty.day) {
    if (const auto* drive = std::get_if<DriveStep>(&step.what)) {
      sum += drive->distance;
    } else if (const auto* round = std::get_if<RoundStep>(&step.what)) {
      sum += static_cast<double>(round->stops) * round->spacing;
    } else if (const auto* drag = std::get_if<DragStep>(&step.what)) {
      sum += drag->speed * drag->duration;
    } else if (const auto* trace = std::get_if<TraceStep>(&step.what)) {
      for (std::size_t i = 1; i < trace->time.size(); ++i) {
        sum += (trace->time[i] - trace->time[i - 1]) * (trace->speed[i] + trace->speed[i - 1]) / 2;
      }
    }
  }
  return sum;
}

std::optional<When> read_when(ReaderState& r, const Item& item, const std::string& path) {
  const ParamSpec time{"", "s", Quantity::Dimensional, {0, 1e12}, {}, ""};
  const ParamSpec distance{"", "m", Quantity::Dimensional, {0, 1e12}, {}, ""};
  const std::string allowed = "a time or a distance with a unit: h, d, min, km, mi";
  if (!item.scalar()) {
    r.context.faults.add(Code::WrongType, item, path, what_it_is(item) + " where a time or a distance is due", allowed);
    return std::nullopt;
  }
  QuantityResult read = read_quantity(item.text, time);
  When when{When::Kind::Time, 0};
  if (!read.value && read.fault.code == Code::WrongDimension) {
    when.kind = When::Kind::Distance;
    read = read_quantity(item.text, distance);
  }
  if (!read.value) {
    const bool wrong = read.fault.code == Code::WrongDimension;
    const bool bare = read.fault.code == Code::MissingUnit;
    r.context.faults.add(read.fault.code, item, path,
                         wrong ? fmt::format("'{}' is neither a time nor a distance", item.text) : read.fault.found,
                         allowed,
                         wrong  ? ""
                         : bare ? fmt::format("for example {0} km or {0} h", item.text)
                                : read.fault.hint);
    return std::nullopt;
  }
  if (*read.value < 0) {
    r.context.faults.add(Code::OutOfRange, item, path, fmt::format("'{}' is before the wheel was tightened", item.text),
                         "at least 0");
    return std::nullopt;
  }
  when.value = *read.value;
  return when;
}

void warn_if_never(ReaderState& r, const std::optional<When>& when, const std::string& path) {
  if (!when || r.context.faults.any()) {
    return;
  }
  const Calendar& calendar = r.scenario.duty.calendar;
  const double end = static_cast<double>(calendar.weeks) * units::kWeek;
  const double distance =
      static_cast<double>(calendar.weeks * calendar.working_days_per_week) * day_distance(r.scenario.duty);
  if (when->kind == When::Kind::Time && when->value > end) {
    r.context.faults.warn(fmt::format("{} = {:.4g} d is after the end of the run at {:.4g} d", path,
                                      when->value / units::kDay, end / units::kDay));
  } else if (when->kind == When::Kind::Distance && when->value > distance) {
    r.context.faults.warn(fmt::format("{} = {:.4g} km is more than the {:.4g} km that the run drives", path,
                                      when->value / units::kKilometre, distance / units::kKilometre));
  }
}

} // namespace

void read_duty(ReaderState& r, const Item& item) {
  Map m(r.context, item, "duty", section("duty"));
  if (!m.is_map()) {
    return;
  }
  static const Item nothing = [] {
    Item empty;
    empty.kind = Item::Kind::Map;
    return empty;
  }();
  const auto sub = [&](std::string_view key) -> const Item& {
    const Item* found = m.find(key);
    return found != nullptr ? *found : nothing;
  };
  Map ambient(r.context, sub("ambient"), "duty/ambient", section("duty/ambient"));
  fill(ambient, r.scenario.duty.ambient);
  const AmbientSpec& air = r.scenario.duty.ambient;
  const ParamSpec& mean = ambient.declared("mean").spec;
  for (const double swing : {-air.daily_swing - air.yearly_swing, air.daily_swing + air.yearly_swing}) {
    if (!std::isnan(air.mean + swing) && !mean.allowed.holds(air.mean + swing)) {
      inconsistent(r.context, sub("ambient"), "duty/ambient",
                   fmt::format("with both swings the air reaches {}", friendly(air.mean + swing, mean)),
                   range_text(mean.allowed, mean) + " all the year");
      break;
    }
  }
  Map calendar(r.context, sub("calendar"), "duty/calendar", section("duty/calendar"));
  fill(calendar, r.scenario.duty.calendar);
  const auto steps = m.list("day", true);
  double clock = 0;
  for (const auto& [step, path] : steps) {
    read_step(r, *step, path, clock);
  }
  if (const Item* day = m.find("day"); day != nullptr && day->list()) {
    if (day->items.empty()) {
      inconsistent(r.context, *day, "duty/day", "the list is empty",
                   "at least one step, for example - park: {until: 24 h}");
    } else if (clock > kLongestDay) {
      inconsistent(r.context, *day, "duty/day", fmt::format("the steps take {:.4g} h", clock / units::kHour),
                   "at most 24 h");
    }
  }
}

void read_service(ReaderState& r, Map& map) {
  for (const auto& [item, path] : map.list("service")) {
    Map m(r.context, *item, path, section("service/*"));
    if (!m.is_map()) {
      continue;
    }
    if (item->items.size() != 1) {
      inconsistent(r.context, *item, path, fmt::format("{} acts in one entry of the list", item->items.size()),
                   "one act after each dash");
      continue;
    }
    const std::string& kind = item->names.front().text;
    if (section("service/*").find(kind) == nullptr) {
      continue;
    }
    Map act(r.context, item->items.front(), path + '/' + kind, section("service/*/" + kind));
    if (!act.is_map()) {
      continue;
    }
    Service service;
    if (const Item* after = act.need("after")) {
      const auto when = read_when(r, *after, act.at("after"));
      service.after = when.value_or(When{});
      warn_if_never(r, when, act.at("after"));
    }
    if (kind == "retorque") {
      service.kind = Service::Kind::Retorque;
      service.torque = act.maybe("torque");
      if (service.torque && *service.torque <= r.scenario.joint.nut.prevailing_torque) {
        inconsistent(r.context, act.place("torque"), act.at("torque"),
                     "the torque does not exceed the nut's prevailing torque", "more than joint/nut/prevailing_torque");
      }
    } else if (kind == "remove_nut") {
      service.kind = Service::Kind::RemoveNut;
      const double stud = act.value("stud");
      if (stud > static_cast<double>(r.scenario.joint.studs.count) && r.scenario.joint.studs.count > 0) {
        r.context.faults.add(Code::OutOfRange, act.place("stud"), act.at("stud"),
                             fmt::format("there is no stud {:.0f}", stud),
                             fmt::format("1 to {}", r.scenario.joint.studs.count));
      }
      service.stud = std::isnan(stud) ? 0 : static_cast<std::size_t>(stud) - 1;
    } else {
      service.kind = Service::Kind::HotDay;
      service.extra_power = act.value("extra_power");
    }
    r.scenario.service.push_back(service);
  }
}

void read_record(ReaderState& r, const Item& item) {
  Map m(r.context, item, "record", section("record"));
  r.scenario.record.every = m.maybe("every");
  for (const auto& [at, path] : m.list("at")) {
    if (const auto when = read_when(r, *at, path)) {
      r.scenario.record.at.push_back(*when);
    }
  }
  r.scenario.record.layers = m.flag("layers", true);
}

} // namespace clampfade

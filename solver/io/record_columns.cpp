#include "solver/io/record_columns.hpp"

#include "models/units.hpp"
#include "solver/io/document.hpp"
#include "solver/io/instant.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/schema.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

constexpr std::size_t kMostStuds = 64; ///< of a wheel whose number of studs is not known
constexpr double kMostPasses = 20;
constexpr double kMostAngle = 100 * 360 * units::kDegree; ///< no act of a wrench turns a nut so far: a slip of units
const ParamSpec kOdometer{"odometer", "m", Quantity::Dimensional, {0, 1e11}, {}, "distance driven by the vehicle",
                          "km"};

} // namespace

const std::vector<std::string>& tightening_columns() {
  static const std::vector<std::string> names = {"stud",  "torque", "torque_unit", "angle_deg", "angle_rad",
                                                 "time",  "tool",   "operator",    "vehicle",   "axle",
                                                 "wheel", "pass",   "set_torque",  "odometer",  "odometer_unit"};
  return names;
}

const std::vector<std::string>& reading_columns() {
  static const std::vector<std::string> names = {"vehicle",  "axle",          "wheel",       "stud",
                                                 "time",     "torque",        "torque_unit", "moved",
                                                 "odometer", "odometer_unit", "tool",        "operator"};
  return names;
}

std::string name_fault(std::string_view name) {
  const bool control = std::any_of(name.begin(), name.end(), [](unsigned char c) { return c < 0x20 || c == 0x7F; });
  if (control || bad_character(name)) {
    return "the name holds control characters, or is not UTF-8";
  }
  const auto characters = static_cast<std::size_t>(
      std::count_if(name.begin(), name.end(), [](unsigned char c) { return (c & 0xC0U) != 0x80U; }));
  return characters > kLongestName ? fmt::format("the name has {} characters, more than {}", characters, kLongestName)
                                   : "";
}

RecordColumns::RecordColumns(const CsvTable& table, const RecordRules& rules)
    : table_(table), studs_(rules.studs), instants_(rules.instants) {
  const CsvRow& header = table.header();
  for (std::size_t i = 0; i < header.cells.size(); ++i) {
    const std::string& name = header.cells[i];
    if (std::find(rules.known.begin(), rules.known.end(), name) == rules.known.end()) {
      const std::string near = nearest(name, rules.known);
      table.fault(header, Code::UnknownKey, name, "this column is not known", joined(rules.known),
                  near.empty() ? "" : "did you mean " + near + "?");
    } else if (!column_.emplace(name, i).second) {
      table.fault(header, Code::DuplicateKey, name, "this column is there twice", "each column once");
    }
  }
  std::vector<std::string> required = rules.required;
  if (has("odometer")) {
    required.emplace_back("odometer_unit");
  }
  for (const std::string& name : required) {
    if (!has(name)) {
      table.fault(header, Code::MissingKey, name, "this column is missing", joined(required) + ", and more");
      complete_ = false;
    }
  }
}

std::string RecordColumns::cell(const CsvRow& row, const std::string& name) const {
  const auto found = column_.find(name);
  return found == column_.end() ? std::string() : row.cells[found->second];
}

double RecordColumns::torque(const CsvRow& row, const std::string& name) const {
  if (std::isnan(table_.number(row, column_.at(name), name))) {
    return kNone;
  }
  static const ParamSpec spec = section("tightening").find("torque")->spec;
  const std::string number = cell(row, name);
  const std::string unit = cell(row, "torque_unit");
  const QuantityResult read = read_quantity(number + ' ' + unit, spec);
  if (!read.value) {
    table_.fault(row, read.fault.code, name, read.fault.found, read.fault.allowed, read.fault.hint);
  } else if (!spec.allowed.holds(*read.value)) {
    table_.fault(row, Code::OutOfRange, name, fmt::format("'{} {}' is outside the allowed range", number, unit),
                 range_text(spec.allowed, spec));
  }
  return read.value.value_or(kNone);
}

std::optional<double> RecordColumns::odometer(const CsvRow& row) const {
  const std::string number = cell(row, "odometer");
  if (number.empty() || std::isnan(table_.number(row, column_.at("odometer"), "odometer"))) {
    return std::nullopt;
  }
  const QuantityResult read = read_quantity(number + ' ' + cell(row, "odometer_unit"), kOdometer);
  if (!read.value) {
    table_.fault(row, read.fault.code, "odometer", read.fault.found, read.fault.allowed, read.fault.hint);
  } else if (!kOdometer.allowed.holds(*read.value)) {
    table_.fault(row, Code::OutOfRange, "odometer", fmt::format("'{}' is outside the allowed range", number),
                 range_text(kOdometer.allowed, kOdometer));
  }
  return read.value;
}

std::optional<double> RecordColumns::angle(const CsvRow& row) const {
  const bool radians = !cell(row, "angle_rad").empty();
  if (!radians && cell(row, "angle_deg").empty()) {
    return std::nullopt;
  }
  if (radians && !cell(row, "angle_deg").empty()) {
    table_.fault(row, Code::Inconsistent, "angle_rad", "angle_deg is given in this row too", "one of the two");
  }
  const std::string name = radians ? "angle_rad" : "angle_deg";
  const double angle = table_.number(row, column_.at(name), name) * (radians ? 1 : units::kDegree);
  if (std::abs(angle) > kMostAngle) {
    table_.fault(row, Code::OutOfRange, name, fmt::format("'{}' is more than 100 turns", cell(row, name)),
                 "what one act of the wrench turns");
  }
  return angle;
}

std::string RecordColumns::named(const CsvRow& row, const std::string& column) const {
  std::string name = cell(row, column);
  const std::string reason = name_fault(name);
  if (!reason.empty()) {
    table_.fault(row, Code::WrongType, column, reason, "a name");
  }
  return name;
}

void RecordColumns::read_time(const CsvRow& row, TighteningRecord& record) const {
  record.time = cell(row, "time");
  if (!instants_ || record.time.empty()) {
    return;
  }
  const auto instant = read_instant(record.time);
  if (!instant) {
    table_.fault(row, Code::WrongType, "time", fmt::format("'{}' is no date and time", record.time),
                 std::string(kInstantForm));
    return;
  }
  record.instant = instant->seconds;
}

std::optional<TighteningRecord> RecordColumns::read(const CsvRow& row) const {
  TighteningRecord record;
  record.line = row.line;
  const double stud = table_.number(row, column_.at("stud"), "stud");
  const std::size_t most = studs_.value_or(kMostStuds);
  if (stud != std::floor(stud) || stud < 1 || stud > static_cast<double>(most)) {
    if (!std::isnan(stud) && most > 0) {
      table_.fault(row, Code::OutOfRange, "stud", fmt::format("there is no stud '{}'", cell(row, "stud")),
                   fmt::format("1 to {}", most));
    }
    return std::nullopt;
  }
  record.stud = static_cast<std::size_t>(stud) - 1;
  record.torque = torque(row, "torque");
  record.angle = angle(row);
  if (has("pass")) {
    const double pass = table_.number(row, column_.at("pass"), "pass");
    if (pass >= 1 && pass <= kMostPasses && pass == std::floor(pass)) {
      record.pass = static_cast<std::size_t>(pass);
    } else if (!std::isnan(pass)) {
      table_.fault(row, Code::OutOfRange, "pass", fmt::format("there is no pass '{}'", cell(row, "pass")),
                   fmt::format("1 to {:.0f}", kMostPasses));
    }
  }
  if (!cell(row, "set_torque").empty()) {
    record.set_torque = torque(row, "set_torque");
  }
  record.odometer = odometer(row);
  read_time(row, record);
  record.tool = named(row, "tool");
  record.operator_name = named(row, "operator");
  record.vehicle = named(row, "vehicle");
  record.axle = named(row, "axle");
  record.wheel = named(row, "wheel");
  return record;
}

} // namespace clampfade

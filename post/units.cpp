#include "post/units.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

std::string unit(Kind kind, System system) {
  const bool si = system == System::Si;
  switch (kind) {
  case Kind::Force:
    return si ? "kN" : "lbf";
  case Kind::Torque:
    return si ? "N·m" : "lbf·ft";
  case Kind::Temperature:
    return si ? "°C" : "°F";
  case Kind::Distance:
    return si ? "km" : "mi";
  case Kind::Thickness:
    return si ? "µm" : "thou";
  case Kind::Length:
    return si ? "mm" : "in";
  case Kind::Stress:
    return si ? "MPa" : "ksi";
  case Kind::Duration:
    return "days";
  case Kind::Number:
    break;
  }
  return "";
}

double convert(double si_value, Kind kind, System system) {
  const bool si = system == System::Si;
  switch (kind) {
  case Kind::Force:
    return si_value / (si ? units::kKilonewton : units::kPoundForce);
  case Kind::Torque:
    return si_value / (si ? 1.0 : units::kPoundForceFoot);
  case Kind::Temperature:
    return si ? units::to_celsius(si_value) : units::to_fahrenheit(si_value);
  case Kind::Distance:
    return si_value / (si ? units::kKilometre : units::kMile);
  case Kind::Thickness:
    return si_value / (si ? units::kMicrometre : units::kThou);
  case Kind::Length:
    return si_value / (si ? units::kMillimetre : 1000 * units::kThou);
  case Kind::Stress:
    return si_value / (si ? units::kMegapascal : units::kKsi);
  case Kind::Duration:
    return si_value / units::kDay;
  case Kind::Number:
    break;
  }
  return si_value;
}

Kind kind_of(std::string_view si_unit) {
  if (si_unit == "N") {
    return Kind::Force;
  }
  if (si_unit == "N m" || si_unit == "N*m") {
    return Kind::Torque;
  }
  if (si_unit == "K") {
    return Kind::Temperature;
  }
  if (si_unit == "m") {
    return Kind::Length;
  }
  if (si_unit == "Pa") {
    return Kind::Stress;
  }
  return Kind::Number;
}

std::string number(double value, int digits) {
  if (std::isnan(value)) {
    return "-";
  }
  if (std::isinf(value)) {
    return value > 0 ? "unlimited" : "-unlimited";
  }
  if (value == 0) {
    return "0";
  }
  // The exponent after rounding: 9.9996 to four digits is 10.00.
  const std::string scientific = fmt::format("{:.{}e}", value, digits - 1);
  const int magnitude = std::stoi(scientific.substr(scientific.find('e') + 1));
  if (magnitude < -4 || magnitude > 6) {
    return scientific;
  }
  return fmt::format("{:.{}f}", value, std::max(0, digits - 1 - magnitude));
}

std::string show(double si, Kind kind, System system, int digits) {
  const std::string name = unit(kind, system);
  const std::string text = number(convert(si, kind, system), digits);
  return name.empty() ? text : text + " " + name;
}

std::string duration(double seconds) {
  const double size = std::abs(seconds);
  if (size < 2 * units::kMinute) {
    return number(seconds, 3) + " s";
  }
  if (size < 2 * units::kHour) {
    return number(seconds / units::kMinute, 3) + " min";
  }
  if (size < 2 * units::kDay) {
    return number(seconds / units::kHour, 3) + " h";
  }
  return number(seconds / units::kDay, 3) + " days";
}

} // namespace clampfade::post

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
  case Kind::Resilience:
    return si ? "µm/kN" : "thou/klbf";
  case Kind::Power:
    return si ? "W" : "hp";
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
  case Kind::Resilience:
    return si_value / (si ? units::kMicrometre / units::kKilonewton : units::kThou / (1000 * units::kPoundForce));
  case Kind::Power:
    return si_value / (si ? 1.0 : 550 * units::kPoundForceFoot);
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
  if (si_unit == "m/N") {
    return Kind::Resilience;
  }
  if (si_unit == "W") {
    return Kind::Power;
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
  std::string scientific = fmt::format("{:.{}e}", value, digits - 1);
  const int magnitude = std::stoi(scientific.substr(scientific.find('e') + 1));
  if (magnitude < -4 || magnitude > 6) {
    return scientific;
  }
  return fmt::format("{:.{}f}", value, std::max(0, digits - 1 - magnitude));
}

std::string plain(double si, Kind kind, System system, int digits) {
  const double value = convert(si, kind, system);
  // A thousandth of 0.01, the smallest digit of the budget: round-off of the solver, no physics.
  constexpr double noise = 1e-5;
  return number(kind != Kind::Number && std::abs(value) < noise ? 0 : value, digits);
}

std::string fixed(double value, int decimals) {
  const double digit = std::pow(10, -decimals);
  const double size = std::abs(value);
  if (size < 1e-3 * digit) {
    return "0";
  }
  if (size < 0.1 * digit) {
    return fmt::format("<{:.{}f}", 0.1 * digit, decimals + 1);
  }
  const int shown = size < 0.5 * digit ? decimals + 1 : decimals;
  return fmt::format("{:.{}f}", value, shown);
}

std::string show(double si, Kind kind, System system, int digits) {
  const std::string name = unit(kind, system);
  const std::string text = plain(si, kind, system, digits);
  return name.empty() ? text : text + " " + name;
}

std::string milestone_name(const std::string& name, System system) {
  return name == "80 km" && system == System::Us ? "50 mi" : name;
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

#include "solver/io/quantity.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

ParamSpec dimensional(std::string_view unit) { return {"key", unit, Quantity::Dimensional, {}, {}, ""}; }
ParamSpec of(Quantity quantity) {
  const bool pure = quantity == Quantity::Number || quantity == Quantity::Count;
  return {"key", pure ? "1" : "K", quantity, {}, {}, ""};
}

double si(std::string_view text, const ParamSpec& spec) {
  const QuantityResult read = read_quantity(text, spec);
  INFO(std::string(text));
  REQUIRE_MESSAGE(read.value.has_value(), read.fault.found);
  return *read.value;
}

Code fault(std::string_view text, const ParamSpec& spec) {
  const QuantityResult read = read_quantity(text, spec);
  INFO(std::string(text));
  REQUIRE(!read.value.has_value());
  return read.fault.code;
}

std::string hint(std::string_view text, const ParamSpec& spec) { return read_quantity(text, spec).fault.hint; }

} // namespace

TEST_CASE("trade spellings of torque mean pounds of force, never of mass") {
  // 1 lbf = 4.4482216152605 N and 1 ft = 0.3048 m, both exact by definition.
  constexpr double foot_pound = 1.3558179483314004;
  for (const char* unit : {"lbf*ft", "lbf.ft", "lbf ft", "lbf-ft", "ft*lbf", "ft.lbf", "ft-lbf", "ft-lb", "lb-ft",
                           "ft lb", "lb*ft", "ft.lb", "ft-lbs", "ftlb", "ftlbs", "lbft",
                           "lbf\xC2\xB7"
                           "ft",
                           "ftlbf", "lbfft"}) {
    CAPTURE(unit);
    CHECK(si(std::string("475 ") + unit, dimensional("N m")) == close(475 * foot_pound, 0, 1e-14));
  }
  for (const char* unit : {"in-lb", "lb-in", "in-lbs", "lbf*in", "inlb", "in*lbf"}) {
    CAPTURE(unit);
    CHECK(si(std::string("120 ") + unit, dimensional("N m")) == close(10 * foot_pound, 0, 1e-14));
  }
  for (const char* unit : {"N*m", "N.m", "N m", "Nm", "N-m", "N\xC2\xB7m", "N\xE2\x8B\x85m", "m*N"}) {
    CAPTURE(unit);
    CHECK(si(std::string("644 ") + unit, dimensional("N m")) == close(644, 0, 1e-15));
  }
  CHECK(si("2 kNm", dimensional("N m")) == close(2000, 0, 1e-15));
}

TEST_CASE("a pound alone is a mass and is no force") {
  CHECK(si("1 lb", dimensional("kg")) == close(0.45359237, 0, 1e-15));
  CHECK(si("1 lbf", dimensional("N")) == close(4.4482216152605, 0, 1e-15));
  CHECK(fault("10000 lb", dimensional("N")) == Code::WrongDimension);
  CHECK(hint("10000 lb", dimensional("N")).find("lbf") != std::string::npos);
  CHECK(fault("80 lb/in^2", dimensional("Pa")) == Code::WrongDimension);
  CHECK(hint("80 lb/in^2", dimensional("Pa")).find("psi") != std::string::npos);
}

TEST_CASE("small lengths") {
  CHECK(si("3.2 mil", dimensional("m")) == close(81.28e-6, 0, 1e-14));
  CHECK(si("20 thou", dimensional("m")) == close(508e-6, 0, 1e-14));
  CHECK(si("80 um", dimensional("m")) == close(80e-6, 0, 1e-15));
  CHECK(si("80 \xC2\xB5m", dimensional("m")) == close(80e-6, 0, 1e-15)); // micro sign
  CHECK(si("80 \xCE\xBCm", dimensional("m")) == close(80e-6, 0, 1e-15)); // Greek mu
  CHECK(si("80um", dimensional("m")) == close(80e-6, 0, 1e-15));
}

TEST_CASE("speed, rates, pressures and the rest of the trade") {
  CHECK(si("60 mph", dimensional("m/s")) == close(26.8224, 0, 1e-15));
  CHECK(si("24 km/h", dimensional("m/s")) == close(24 / 3.6, 0, 1e-15));
  CHECK(si("24 kph", dimensional("m/s")) == close(24 / 3.6, 0, 1e-15));
  CHECK(si("60 rpm", dimensional("1/s")) == close(1, 0, 1e-15));
  CHECK(si("0.01 1/h", dimensional("1/s")) == close(0.01 / 3600, 0, 1e-15));
  CHECK(si("145 ksi", dimensional("Pa")) == close(145 * 6894757.293168361, 0, 1e-14));
  CHECK(si("26 t", dimensional("kg")) == close(26000, 0, 1e-15));
  CHECK(si("45 kip", dimensional("N")) == close(45000 * 4.4482216152605, 0, 1e-14));
  CHECK(si("0.6 gn", dimensional("m/s^2")) == close(0.6 * 9.80665, 0, 1e-14));
  CHECK(si("1.2 m/s\xC2\xB2", dimensional("m/s^2")) == close(1.2, 0, 1e-15));
  CHECK(si("1.2 m s-2", dimensional("m/s^2")) == close(1.2, 0, 1e-15));
  CHECK(si("12 ppm/K", dimensional("1/K")) == close(12e-6, 0, 1e-14));
  CHECK(si("12e-6 1/degC", dimensional("1/K")) == close(12e-6, 0, 1e-15));
  CHECK(si("6.5e-6 1/degF", dimensional("1/K")) == close(11.7e-6, 0, 1e-14));
  CHECK(si("1e-16 1/Pa", dimensional("1/Pa")) == close(1e-16, 0, 1e-15));
  CHECK(si("140 kJ/mol", dimensional("J/mol")) == close(140e3, 0, 1e-15));
  CHECK(si("1e9 Pa*s", dimensional("Pa s")) == close(1e9, 0, 1e-15));
  CHECK(si("30 deg", dimensional("rad")) == close(std::atan(1.0) * 4 / 6, 0, 1e-15));
  CHECK(si("2 weeks", dimensional("s")) == close(14 * 86400, 0, 1e-15));
  CHECK(si("100 cm^2", dimensional("m^2")) == close(0.01, 0, 1e-14));
}

TEST_CASE("temperatures are points or differences by what is asked for") {
  const ParamSpec point = of(Quantity::Point);
  const ParamSpec step = of(Quantity::Difference);
  CHECK(si("20 degC", point) == close(293.15, 0, 1e-15));
  CHECK(si("120 \xC2\xB0"
           "C",
           point) == close(393.15, 0, 1e-15));
  CHECK(si("120 degF", point) == close(322.03888888888889, 0, 1e-14));
  CHECK(si("-40 degF", point) == close(233.15, 0, 1e-14));
  CHECK(si("300 K", point) == close(300, 0, 1e-15));
  CHECK(si("8 K", step) == close(8, 0, 1e-15));
  CHECK(si("8 degC", step) == close(8, 0, 1e-15));
  CHECK(si("18 degF", step) == close(10, 0, 1e-15));
  CHECK(fault("20 C", point) == Code::UnknownUnit);
  CHECK(hint("20 C", point) == "did you mean degC?");
  CHECK(fault("20 mm", point) == Code::WrongDimension);
  CHECK(fault("20", step) == Code::MissingUnit);
}

TEST_CASE("a bare number is no quantity, zero neither") {
  CHECK(fault("475", dimensional("N m")) == Code::MissingUnit);
  CHECK(fault("0", dimensional("m")) == Code::MissingUnit);
  CHECK(fault("0.12", dimensional("m")) == Code::MissingUnit);
}

TEST_CASE("units of another dimension, unknown units and those with two meanings") {
  CHECK(fault("475 mm", dimensional("N m")) == Code::WrongDimension);
  CHECK(fault("5 m", dimensional("s")) == Code::WrongDimension);
  CHECK(fault("0.6 g", dimensional("m/s^2")) == Code::WrongDimension);
  CHECK(fault("475 kg*m", dimensional("N m")) == Code::WrongDimension);
  CHECK(fault("26 ton", dimensional("kg")) == Code::UnknownUnit);
  CHECK(fault("1 year", dimensional("s")) == Code::UnknownUnit);
  CHECK(fault("830 Mpa", dimensional("Pa")) == Code::UnknownUnit);
  CHECK(hint("830 Mpa", dimensional("Pa")) == "did you mean MPa?");
  CHECK(fault("475 nm", dimensional("N m")) == Code::UnknownUnit);
  CHECK(hint("475 nm", dimensional("N m")) == "did you mean Nm?");
  for (const char* text : {"5 mm/", "5 m^", "5 /m", "5 (mm", "5 mm)", "5 m**2", "5 mm 3", "5 banana"}) {
    CAPTURE(text);
    CHECK(fault(text, dimensional("m")) == Code::UnknownUnit);
  }
}

TEST_CASE("what is no plain decimal number") {
  for (const char* text : {"1_000", "010", "-010", ".nan", ".inf", "-.inf", "nan", "inf", "0x10", "1e400", "", "1.2.3",
                           "1,5", "--1", "1e", "e5", "12:30", "~"}) {
    CAPTURE(text);
    CHECK(!plain_number(text).has_value());
    CHECK(!read_quantity(text, of(Quantity::Number)).value.has_value());
  }
  for (const char* text : {"1_000 mm", "010 mm", ".nan mm", "1,5 mm", "1e400 mm", "mm", "3 3 mm"}) {
    CAPTURE(text);
    CHECK(fault(text, dimensional("m")) == Code::NotANumber);
  }
  CHECK(plain_number("1e7") == 1e7);
  CHECK(plain_number("10000000") == 1e7);
  CHECK(plain_number("0.12") == 0.12);
  CHECK(plain_number("-.5") == -0.5);
  CHECK(plain_number("+3") == 3.0);
  CHECK(hint("1,5 mm", dimensional("m")) == "the decimal sign is a point");
}

TEST_CASE("pure numbers take per cent, counts take neither fractions nor signs") {
  CHECK(si("-3 %", of(Quantity::Number)) == close(-0.03, 0, 1e-15));
  CHECK(si("-3%", of(Quantity::Number)) == close(-0.03, 0, 1e-15));
  CHECK(si("0.12", of(Quantity::Number)) == 0.12);
  CHECK(fault("0.12 mm", of(Quantity::Number)) == Code::WrongDimension);
  CHECK(si("1e3", of(Quantity::Count)) == 1000);
  CHECK(fault("1.5", of(Quantity::Count)) == Code::NotANumber);
  CHECK(fault("-1", of(Quantity::Count)) == Code::NotANumber);
  CHECK(fault("10 mm", of(Quantity::Count)) == Code::WrongDimension);
}

TEST_CASE("a value in its own SI unit keeps every bit") {
  CHECK(si("0.28575000000000006 m", dimensional("m")) == 0.28575000000000006);
  CHECK(si("644.01352545741519 N m", dimensional("N m")) == 644.01352545741519);
  CHECK(si("322.03888888888895 K", of(Quantity::Point)) == 322.03888888888895);
  CHECK(si("7.9999999999999993e-05 m", dimensional("m")) == 7.9999999999999993e-05);
}

TEST_CASE("every unit on the list is known to the unit library") {
  for (const std::string& unit : known_units()) {
    CAPTURE(unit);
    // Whatever its dimension, one of these takes it; the fault of a wrong one must not be "unknown".
    const QuantityResult as_length = read_quantity("1 " + unit, dimensional("m"));
    CHECK((as_length.value.has_value() || as_length.fault.code == Code::WrongDimension));
  }
}

TEST_CASE("values for people") {
  CHECK(friendly(0.012, dimensional("m")) == "12 mm");
  CHECK(friendly(80e-6, dimensional("m")) == "80 um");
  CHECK(friendly(0, dimensional("m")) == "0 mm");
  CHECK(friendly(119611, dimensional("N")) == "119.6 kN");
  CHECK(friendly(353.15, of(Quantity::Point)) == "80 degC");
  CHECK(friendly(8, of(Quantity::Difference)) == "8 K");
  CHECK(friendly(0.12, of(Quantity::Number)) == "0.12");
  CHECK(range_text({0.1e-3, 1}, dimensional("m")) == "100 um to 1 m");
  CHECK(range_text({0, std::numeric_limits<double>::infinity()}, of(Quantity::Number)) == "at least 0");
  CHECK(significant(9.99996) == "10.00");
  CHECK(significant(44600) == "44600");
  CHECK(significant(0.0281649) == "0.02816");
  CHECK(significant(1.5e-9) == "1.5e-09");
}

TEST_CASE("units shown in both systems") {
  CHECK(shown_unit("N m", 644, UnitSystem::Us)(644.0135254574152) == close(475, 0, 1e-12));
  CHECK(shown_unit("K", 300, UnitSystem::Us)(293.15) == close(68, 0, 1e-12));
  CHECK(shown_unit("K", 300, UnitSystem::Si)(293.15) == close(20, 1e-12, 0));
  CHECK(shown_unit("m", 80e-6, UnitSystem::Us).name == "thou");
  CHECK(shown_unit("m", 0.0563, UnitSystem::Us)(0.0254) == close(1, 0, 1e-15));
  CHECK(shown_unit("m2", 333e-6, UnitSystem::Si)(333e-6) == close(333, 0, 1e-14));
  CHECK(shown_unit("rad/m", 1, UnitSystem::Si).name == "rad/m");
  CHECK(shown_unit("1", 1, UnitSystem::Si).name.empty());
}

#include "post/units.hpp"

#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <limits>

using namespace clampfade::post;
using clampfade::test::close;

TEST_CASE("units: the inch system's factors are the exact ones") {
  // International yard and pound agreement of 1959 and standard gravity: 1 lbf = 0.45359237 kg x 9.80665 m/s^2.
  struct Row {
    Kind kind;
    double si, us;
    const char* unit;
  };
  for (const Row& row :
       {Row{Kind::Force, 0.45359237 * 9.80665, 1, "lbf"}, Row{Kind::Torque, 0.45359237 * 9.80665 * 0.3048, 1, "lbf·ft"},
        Row{Kind::Temperature, 373.15, 212, "°F"}, Row{Kind::Temperature, 233.15, -40, "°F"},
        Row{Kind::Distance, 1609.344, 1, "mi"}, Row{Kind::Thickness, 25.4e-6, 1, "thou"},
        Row{Kind::Length, 0.0254, 1, "in"},
        Row{Kind::Resilience, 25.4e-6 / (1000 * 0.45359237 * 9.80665), 1, "thou/klbf"},
        Row{Kind::Power, 550 * 0.45359237 * 9.80665 * 0.3048, 1, "hp"}, Row{Kind::Number, 3, 3, ""}}) {
    CAPTURE(row.unit);
    CHECK(convert(row.si, row.kind, System::Us) == close(row.us, 1e-12, 1e-12));
    CHECK(unit(row.kind, System::Us) == row.unit);
  }
  // 1 ksi = 1000 lbf over a square inch.
  CHECK(convert(1000 * 0.45359237 * 9.80665 / (0.0254 * 0.0254), Kind::Stress, System::Us) == close(1, 0, 1e-12));
}

TEST_CASE("units: the metric system's factors") {
  CHECK(convert(1500, Kind::Force, System::Si) == close(1.5, 0, 1e-15));
  CHECK(convert(644, Kind::Torque, System::Si) == 644);
  CHECK(convert(273.15, Kind::Temperature, System::Si) == 0);
  CHECK(convert(80e3, Kind::Distance, System::Si) == close(80, 0, 1e-15));
  CHECK(convert(3e-6, Kind::Thickness, System::Si) == close(3, 0, 1e-15));
  CHECK(convert(5e8, Kind::Stress, System::Si) == close(500, 0, 1e-15));
  CHECK(convert(1.5e-9, Kind::Resilience, System::Si) == close(1.5, 0, 1e-15));
  CHECK(unit(Kind::Resilience, System::Si) == "µm/kN");
  CHECK(convert(12, Kind::Power, System::Si) == 12);
  CHECK(show(119600, Kind::Force, System::Si) == "119.6 kN");
  CHECK(show(119600, Kind::Force, System::Us) == "26887 lbf");
}

TEST_CASE("units: a quantity's kind follows from its SI unit") {
  CHECK(kind_of("N") == Kind::Force);
  CHECK(kind_of("N m") == Kind::Torque);
  CHECK(kind_of("K") == Kind::Temperature);
  CHECK(kind_of("m") == Kind::Length);
  CHECK(kind_of("Pa") == Kind::Stress);
  CHECK(kind_of("m/N") == Kind::Resilience);
  CHECK(kind_of("W") == Kind::Power);
  CHECK(kind_of("N/m") == Kind::Number);
}

TEST_CASE("units: numbers have the digits asked for and no false ones") {
  CHECK(number(119.567) == "119.6");
  CHECK(number(0.0123456, 3) == "0.0123");
  CHECK(number(123456.7) == "123457");
  CHECK(number(0) == "0");
  CHECK(number(-2.5, 3) == "-2.50");
  CHECK(number(6e8) == "6.000e+08");
  CHECK(number(std::numeric_limits<double>::quiet_NaN()) == "-");
  CHECK(number(std::numeric_limits<double>::infinity()) == "unlimited");
  CHECK(number(9.9996) == "10.00");
  CHECK(number(99.96, 3) == "100");
}

TEST_CASE("units: a duration is told in the unit that suits it") {
  CHECK(duration(90) == "90.0 s");
  CHECK(duration(3600) == "60.0 min");
  CHECK(duration(86400) == "24.0 h");
  CHECK(duration(24.1 * 86400) == "24.1 days");
}

TEST_CASE("units: what no digit shows is 0, and a little is not") {
  CHECK(plain(1e-3, Kind::Force, System::Si) == "0"); // 1e-6 kN
  CHECK(plain(-1e-3, Kind::Force, System::Si) == "0");
  CHECK(plain(0.02, Kind::Force, System::Si) == "2.000e-05");
  CHECK(plain(1e-6, Kind::Number, System::Si) == "1.000e-06"); // a pure number may be small in earnest
  CHECK(fixed(12.346, 2) == "12.35");
  CHECK(fixed(-0.126, 2) == "-0.13");
  CHECK(fixed(0.004, 2) == "0.004");
  CHECK(fixed(-0.0004, 2) == "<0.001");
  CHECK(fixed(9e-6, 2) == "0");
  CHECK(fixed(-1e-9, 2) == "0");
  CHECK(fixed(0.04, 0) == "<0.1");
}

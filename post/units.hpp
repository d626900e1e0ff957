// Which units a report speaks. Everything in a history is SI; conversion happens when a number becomes text.
#pragma once

#include <string>
#include <string_view>

namespace clampfade::post {

enum class System { Si, Us };

/// What sort of quantity a number is, so that both systems know how to show it.
enum class Kind {
  Force,       ///< kN; lbf
  Torque,      ///< N·m; lbf·ft
  Temperature, ///< a point on the scale: °C; °F
  Distance,    ///< driven: km; mi
  Thickness,   ///< lost or coated: µm; thou
  Length,      ///< of parts: mm; in
  Stress,      ///< MPa; ksi
  Resilience,  ///< µm/kN; thou/klbf
  Power,       ///< W; hp
  Duration,    ///< days
  Number       ///< as it is
};

/// Name of the unit that the system shows for the kind; empty for Number.
std::string unit(Kind kind, System system);
/// The SI value in that unit.
double convert(double si, Kind kind, System system);
/// Kind that fits an SI unit as written in a history ("N", "m", ...); Number for units that are shown as they are.
Kind kind_of(std::string_view si_unit);

/// Fixed notation with `digits` significant digits, without an exponent from 1e-4 to 1e7; "-" for not a number.
std::string number(double value, int digits = 4);
/// The SI value in the system's unit. What is too small for any digit that a report shows is 0.
std::string plain(double si, Kind kind, System system, int digits = 4);
/// Number and unit.
std::string show(double si, Kind kind, System system, int digits = 4);
/// So many decimals, for columns whose entries add up. Less than a tenth of the last digit is "<0.001" (for two
/// decimals), less than a thousandth of it is nothing but rounding: 0. No minus before either.
std::string fixed(double value, int decimals);
/// Name of a milestone, which is one of distance, in the units of the report: "80 km" is "50 mi" to those who drive
/// miles.
std::string milestone_name(const std::string& name, System system);
/// A time in the unit that suits it: s, min, h or days.
std::string duration(double seconds);

} // namespace clampfade::post

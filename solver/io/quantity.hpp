// Text with a number and a unit becomes an SI number, and an SI number becomes text for people. Units are known by an
// own list; only what is on it reaches the unit library, because that reads some trade spellings as something else.
#pragma once

#include "models/law.hpp"
#include "solver/diagnostics.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Why a text is no value of the quantity asked for; the reader adds the place.
struct QuantityFault {
  Code code = Code::NotANumber;
  std::string found;   ///< "475 has no unit"
  std::string allowed; ///< "a torque with a unit: N*m, lbf*ft"
  std::string hint;    ///< nearest right spelling; may be empty
};

/// An SI value or the fault; never both.
struct QuantityResult {
  std::optional<double> value;
  QuantityFault fault;
};

/// A plain decimal number: optional sign, digits, point, exponent; finite. Anything else ("010", "1_000", ".nan",
/// "0x10") gives none.
std::optional<double> plain_number(std::string_view text);

/// Reads `text` as what `spec` declares: dimension is always checked, the allowed range is not. A quantity with a
/// dimension needs its unit, zero too. A Number may be written in per cent.
QuantityResult read_quantity(std::string_view text, const ParamSpec& spec);

/// "a torque with a unit: N*m, lbf*ft", "a number", "a whole number", ...: what may be written for `spec`.
std::string wanted(const ParamSpec& spec);
/// "0.1 mm to 1 m", "at least 0", empty for no limits: a range for people.
std::string range_text(const Range& range, const ParamSpec& spec);
/// "12.7 mm", "119.6 kN", "80 degC", "0.12": an SI value for people, four significant digits.
std::string friendly(double si, const ParamSpec& spec);

/// Four significant digits, without an exponent from 1e-4 to 1e7.
std::string significant(double value);

enum class UnitSystem { Si, Us };

/// A unit to show values in: shown = (si - offset) / factor.
struct ShownUnit {
  std::string name;
  double factor = 1;
  double offset = 0;
  [[nodiscard]] double operator()(double si) const { return (si - offset) / factor; }
};

/// The unit in which people read an SI unit at the size of `largest` (absolute). "K" is taken as a point on the scale.
/// Unknown units are shown as they are.
ShownUnit shown_unit(std::string_view si_unit, double largest, UnitSystem system);

/// Spellings of units that may be written, sorted; the schema page lists them.
std::vector<std::string> known_units();

} // namespace clampfade

// What a fit of parameters to readings comes to: values, intervals, and how the model stands to each reading. Data
// only, so that a file of it can be read without the solver.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// What a reading is of. All of one stud, or the mean of those with a nut; temperature is that of a node of the heat
/// network.
enum class FitQuantity {
  Clamp,       ///< clamp load as it stands, at the temperature it has then [N]
  ClampCold,   ///< that clamp once all has cooled to the tightening temperature [N]
  Stretch,     ///< elastic stretch of the stud under its clamp, without thermal expansion [m]
  Thickness,   ///< of a layer of paint [m]
  Temperature, ///< of a node [K]
  CheckTorque  ///< that starts the resting nut in the tightening direction [N m]
};
inline constexpr std::size_t kFitQuantities = 6;

/// The word of a quantity in files of readings, its SI unit and what it is.
struct FitQuantityName {
  std::string_view word, unit, meaning;
};
inline constexpr std::array<FitQuantityName, kFitQuantities> kFitQuantityNames = {
    {{"clamp", "N", "clamp load as it stands"},
     {"clamp_cold", "N", "clamp load cooled to the tightening temperature"},
     {"stretch", "m", "elastic stretch of the stud under its clamp"},
     {"thickness", "m", "thickness of a layer of paint"},
     {"temperature", "K", "temperature of a node"},
     {"check_torque", "N m", "torque that starts the resting nut"}}};
constexpr const FitQuantityName& describe(FitQuantity q) { return kFitQuantityNames.at(static_cast<std::size_t>(q)); }

/// How a reading far from the model counts: by its square, or less than that.
enum class FitLoss { None, Huber, Cauchy };
constexpr std::string_view name(FitLoss loss) {
  return loss == FitLoss::None ? "none" : loss == FitLoss::Huber ? "huber" : "cauchy";
}

inline constexpr double kFitUnknown = std::numeric_limits<double>::quiet_NaN();

/// A value of the scenario that the fit is to find [SI].
struct FitParameter {
  std::string path;         ///< as given
  std::string name;         ///< lower_snake, unique
  std::string label;        ///< for people
  std::string unit;         ///< SI, "1" for pure numbers
  double low = 0, high = 1; ///< low below high
  double start = 0;         ///< between them
  bool log = false;         ///< whether its box is measured in equal proportions; then low is above 0
  bool difference = false;  ///< of a value in K: a difference of temperatures, no point on the scale

  /// Place in the box, 0 at low and 1 at high, and back.
  [[nodiscard]] double scaled(double value) const {
    return log ? std::log(value / low) / std::log(high / low) : (value - low) / (high - low);
  }
  [[nodiscard]] double unscaled(double u) const {
    // The ends are met to the bit: a value a hair beyond one is no value of the scenario.
    return u <= 0 ? low : u >= 1 ? high : log ? low * std::pow(high / low, u) : low + (high - low) * u;
  }
};

/// One reading of an instrument.
struct FitReading {
  std::size_t set = 0; ///< data set, from 0
  double time = 0;     ///< since tightening [s], >= 0
  FitQuantity quantity = FitQuantity::Clamp;
  int stud = -1;              ///< from 0; -1: the mean of all that have a nut
  std::string part;           ///< layer or node; empty for others
  std::size_t index = 0;      ///< of the layer or node in the run
  double value = 0;           ///< [SI]
  double error = kFitUnknown; ///< one standard deviation [SI], above 0; not a number: unknown, found from the residuals
  std::string note;
};

/// A value found.
struct FitValue {
  double value = 0;                     ///< [SI]
  double low = 0, high = 0;             ///< 95 % interval, cut off at the bounds [SI]
  double error = kFitUnknown;           ///< standard error, to first order [SI]; not a number: undetermined
  double scaled_error = kFitUnknown;    ///< the same in the box, where it is what the interval is made of
  bool at_low = false, at_high = false; ///< the fit ended at this bound
  /// Where asked for: values at which all others were fitted again, and by how much the sum of squares is then above
  /// its least, over the square of the residuals' scale. The interval is then where that stays below t^2.
  std::vector<double> profile_value, profile_rise;
  double profile_low = kFitUnknown, profile_high = kFitUnknown; ///< [SI]
};

/// Whether the 95 % interval that is shown spans the bounds, so that the readings do not determine the value.
inline bool undetermined(const FitParameter& p, const FitValue& v) {
  const bool profile = !std::isnan(v.profile_low);
  return (profile ? v.profile_low : v.low) <= p.low && (profile ? v.profile_high : v.high) >= p.high;
}

/// Whether the readings leave the value open: they do not determine it, or it stands at its bound, where they ask for
/// more than it may be.
inline bool not_fixed(const FitParameter& p, const FitValue& v) { return v.at_low || v.at_high || undetermined(p, v); }

/// How the model stands to a reading at the values found.
struct FitResidual {
  double model = kFitUnknown;        ///< [SI]
  double error = kFitUnknown;        ///< as given, or as found for the quantity [SI]
  double standardised = kFitUnknown; ///< (reading - model)/error
  double weight = 1; ///< 1 with the loss none; less for a reading that a robust loss holds for an outlier
  /// Of a check-torque reading: the clamp that it stands for by the scenario's frictions, and its deviation [N].
  double clamp = kFitUnknown, clamp_deviation = kFitUnknown;
};

/// The model along time at the values found, for what some readings are of.
struct FitCurve {
  std::size_t set = 0;
  FitQuantity quantity = FitQuantity::Clamp;
  int stud = -1;
  std::string part;
  std::vector<double> value; ///< along FitSetResult::time of the set [SI]
};

/// Where one start of the search led.
struct FitStart {
  std::vector<double> from, to; ///< [SI], one a parameter
  double cost = kFitUnknown;    ///< half the sum of the losses of the residuals at the end, by the errors of the result
  std::string outcome;          ///< "converged", "no run", "not converged"
};

/// A data set, for people.
struct FitSetResult {
  std::string title, scenario_file, scenario_text; ///< of the scenario as given, without its `vary` and `scatter`
  std::string data_file, data_sha256;
  std::vector<double> time; ///< common axis of the set's curves [s]
};

struct FitResult {
  std::vector<FitParameter> parameters;
  std::vector<FitValue> values;
  std::vector<double> correlation; ///< parameters x parameters
  std::vector<FitSetResult> sets;
  std::vector<FitReading> readings;
  std::vector<FitResidual> residuals;
  std::vector<FitCurve> curves;
  std::vector<FitStart> starts;
  std::size_t best = 0; ///< start that led to the values
  FitLoss loss = FitLoss::None;
  std::uint64_t seed = 0;
  double chi_square = kFitUnknown; ///< sum of the squares of the standardised residuals
  std::size_t freedom = 0;         ///< readings less parameters
  /// What the errors as given were multiplied by for the intervals, because the readings lie further off: 1 where not.
  double widened = 1;
  double t_quantile = kFitUnknown; ///< half a 95 % interval in standard errors
  /// By quantity: the standard deviation found from the residuals; not a number where errors were given.
  std::array<double, kFitQuantities> found_error{};
  std::size_t runs = 0;              ///< of scenarios, over the whole fit
  std::size_t failed_runs = 0;       ///< of them that came to no end
  std::vector<std::string> warnings; ///< in words: bounds, what the readings cannot tell, outliers
  std::string block;                 ///< YAML to paste, with the values
  bool stopped = false;              ///< asked to stop; the rest is then of no use
};

} // namespace clampfade

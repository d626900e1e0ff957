// How a law declares what it needs and how it is asked to act. The declarations are data: the scenario reader, its
// error texts, the schema page and the report tables all read them, so a name, a unit or a range stands once.
#pragma once

#include "models/table.hpp"

#include <array>
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string_view>
#include <variant>

namespace clampfade {

/// What sort of number a parameter is; it decides how text from a scenario becomes SI.
enum class Quantity {
  Dimensional, ///< number with a unit, converted to the SI unit named in the declaration
  Point,       ///< a temperature on the scale (degC, degF, K); SI unit K
  Difference,  ///< a temperature difference (K, or degC/degF read as steps); SI unit K
  Number,      ///< pure number without a unit
  Count        ///< whole number
};

struct Range {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  [[nodiscard]] constexpr bool holds(double v) const { return v >= low && v <= high; }
};

/// One parameter of a law: key in the scenario, SI unit, ranges (both in SI), meaning.
/// Outside `allowed` is an error; outside `calibrated` is a warning that the report repeats.
struct ParamSpec {
  std::string_view key;
  std::string_view unit; ///< SI unit, "1" for pure numbers
  Quantity quantity = Quantity::Dimensional;
  Range allowed;
  Range calibrated;
  std::string_view meaning;
  std::string_view customary = ""; ///< the unit in which people write it, offered first where one is missing
};

/// A parameter bound to the member that holds it. A Table member accepts one value or [[temperature, value], ...].
/// Without a fallback the parameter must be given.
template <class T>
struct Field {
  ParamSpec spec;
  std::variant<double T::*, Table T::*, std::size_t T::*> member;
  std::optional<double> fallback;
};

/// Where clamp goes. The order is that of the history's /mechanism axis and of every table.
enum class Mechanism {
  Embedding,
  Unseated,
  CoatingCreep,
  CoatingFlow,
  CoatingBreakdown,
  MetalCreep,
  WasherSet,
  WasherFriction, ///< clamp only: friction between nested washers takes no thickness
  StudYield,
  NutRotation,
  Wear
};
inline constexpr std::size_t kMechanisms = 11;
inline constexpr std::array<std::string_view, kMechanisms> kMechanismNames = {
    "embedding",       "unseated",   "coating_creep", "coating_flow", "coating_breakdown", "metal_creep", "washer_set",
    "washer_friction", "stud_yield", "nut_rotation",  "wear"};
using ByMechanism = std::array<double, kMechanisms>;

constexpr std::size_t index(Mechanism m) { return static_cast<std::size_t>(m); }

/// What a law sees of one step of the time loop: everything outside the column's own force.
struct LawStep {
  double duration = 0;           ///< [s]
  double temperature_start = 0;  ///< of the place the law acts at [K]
  double temperature_middle = 0; ///< [K]
  double temperature_end = 0;    ///< [K]
  double cycle_rate = 0;         ///< nu_eff, effective load cycles per second [1/s]
  double stiffness = 0;          ///< -dF/d(loss) of the column at the start [N/m]; fits implicit weights; not shared
};

/// What a law answers for a trial end force.
struct LawLoss {
  double loss = 0;  ///< thickness or height lost since the nut was tightened [m]
  double slope = 0; ///< d loss / d drive at the end of the step [m per unit of drive]
  double doubt = 0; ///< estimate of the step's error in `loss` [m]
};

/// What drives a law's loss: the clamp at its place [N], that clamp over the clamp of the set torque [-], or the
/// deflection of the spring washers [m].
enum class Drive { Force, LoadRatio, WasherDeflection };

/// One mechanism at one place of a column. A law is immutable; its internal variables are handed in, so that the same
/// law serves every stud. `rate` is the definition, an ordinary differential equation; its step is exact in the
/// exponentials and implicit in the drive (force or deflection) at the end: `share` once for all studs, `prepare` once
/// a stud, `trial` in each iteration of the force balance, `finish` for the drive found.
class LossLaw {
public:
  LossLaw() = default;
  LossLaw(const LossLaw&) = default;
  LossLaw& operator=(const LossLaw&) = default;
  virtual ~LossLaw() = default;

  [[nodiscard]] virtual std::size_t states() const = 0;
  /// Doubles that `share` fills.
  [[nodiscard]] virtual std::size_t shared() const = 0;
  /// Doubles that `prepare` fills.
  [[nodiscard]] virtual std::size_t scratch() const = 0;
  [[nodiscard]] virtual Drive drive() const { return Drive::Force; }
  virtual void start(std::span<double> z) const = 0;
  /// Largest rate constant of the internal variables [1/s]; 0 for laws without one of their own.
  [[nodiscard]] virtual double fastest(double /*temperature*/, double /*cycle_rate*/) const { return 0; }
  /// dz/dt at drive x, temperature [K] and effective cycle rate [1/s]. Pure: no state but z.
  virtual void rate(std::span<const double> z, double x, double temperature, double cycle_rate,
                    std::span<double> dz) const = 0;
  /// All that temperatures and cycles decide.
  virtual void share(const LawStep& step, std::span<double> shared) const = 0;
  /// All that does not depend on the drive at the end; x0 is the drive at the start.
  virtual void prepare(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double x0,
                       std::span<double> work) const = 0;
  /// Loss and slope at the end for drive x1; no doubt.
  [[nodiscard]] virtual LawLoss trial(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                                      double x0, double x1, std::span<const double> work) const = 0;
  /// State at the end too, and the doubt.
  virtual LawLoss finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double x0,
                         double x1, std::span<const double> work, std::span<double> z1) const = 0;
  /// Thickness lost so far [m], added to the mechanisms it belongs to.
  virtual void add_losses(std::span<const double> z, ByMechanism& losses) const = 0;
  /// Thickness that the k-th of the paint layers it acts on has lost to it [m]; for laws placed on layers.
  [[nodiscard]] virtual double layer_loss(std::span<const double> z, std::size_t /*k*/) const { return loss(z); }
  /// Sum of what add_losses gives [m].
  [[nodiscard]] virtual double loss(std::span<const double> z) const = 0;
};

} // namespace clampfade

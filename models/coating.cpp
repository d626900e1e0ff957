#include "models/coating.hpp"

#include "models/constants.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace clampfade {

namespace {
// Universal constants of Williams, Landel and Ferry (1955), published.
constexpr double kWlfFactor = 17.44;
constexpr double kWlfOffset = 51.6; // K
constexpr double kSlowestShift = 16;
constexpr double kFastestShift = -12;
constexpr double kStiffestFilm = 1e18; // Pa s
} // namespace

double Coating::log10_shift(double temperature) const {
  const double above = temperature - glass_transition;
  const double shift =
      above >= 0 ? -kWlfFactor * above / (kWlfOffset + above)
                 : activation_below / (kGasConstant * std::numbers::ln10) * (1 / temperature - 1 / glass_transition);
  return std::clamp(shift, kFastestShift, kSlowestShift);
}

double Coating::compactable(double temperature) const {
  const double softened = 1 / (1 + std::exp(-(temperature - glass_transition) / transition_width));
  return compaction_cold + (compaction_hot - compaction_cold) * softened;
}

double Coating::viscosity(double temperature) const {
  // The shift is capped at both temperatures before their ratio is formed (EQUATIONS.md 7).
  const double decades = log10_shift(temperature) - log10_shift(flow->at);
  return std::min(kStiffestFilm, flow->viscosity * std::pow(10.0, decades));
}

double Coating::breakdown_rate(double temperature) const {
  if (!breakdown) {
    return 0;
  }
  return breakdown->rate * std::exp(-breakdown->activation / kGasConstant * (1 / temperature - 1 / breakdown->at));
}

std::span<const Field<Coating>> Coating::fields() {
  static const Field<Coating> list[] = {
      {{"modulus",
        "Pa",
        Quantity::Dimensional,
        {1e3, 2e12},
        {0.5e9, 10e9},
        "compressive modulus M of the confined film",
        "GPa"},
       &Coating::modulus,
       {}},
      {{"glass_transition", "K", Quantity::Point, {100, 1000}, {303.15, 453.15}, "glass transition T_g"},
       &Coating::glass_transition,
       {}},
      {{"transition_width", "K", Quantity::Difference, {1e-3, 200}, {3, 20}, "width w_g of the transition"},
       &Coating::transition_width,
       {}},
      {{"compaction_cold",
        "1",
        Quantity::Number,
        {0, 1},
        {0, 0.15},
        "share X_cold of the dry film that pressing can close below T_g"},
       &Coating::compaction_cold,
       {}},
      {{"compaction_hot",
        "1",
        Quantity::Number,
        {0, 1},
        {0, 0.4},
        "share X_hot of the dry film that pressing can close above T_g"},
       &Coating::compaction_hot,
       {}},
      {{"half_pressure",
        "Pa",
        Quantity::Dimensional,
        {1e-6, 1e12},
        {1e6, 200e6},
        "pressure p_half that closes half of it"},
       &Coating::half_pressure,
       {}},
      {{"activation_below",
        "J/mol",
        Quantity::Dimensional,
        {0, 1e7},
        {50e3, 400e3},
        "activation energy E_sub of the relaxation below T_g"},
       &Coating::activation_below,
       {}},
      {{"turns", "1", Quantity::Number, {1e-3, 1e30}, {1e4, 1e8}, "load cycles N that act like one relaxation time"},
       &Coating::turns,
       {}},
      {{"pigment", "1", Quantity::Number, {0, 1}, {0, 0.6}, "share phi_p of the dry film that always stays"},
       &Coating::pigment,
       {}},
  };
  return list;
}

std::span<const Field<CoatingFilm>> CoatingFilm::fields() {
  static const Field<CoatingFilm> list[] = {
      {{"thinnest", "m", Quantity::Dimensional, {0, 0.01}, {}, "thinnest dry film", "um"}, &CoatingFilm::thinnest, {}},
      {{"thickest", "m", Quantity::Dimensional, {0, 0.01}, {}, "thickest dry film", "um"}, &CoatingFilm::thickest, {}},
  };
  return list;
}

std::span<const Field<CoatingRelaxation>> CoatingRelaxation::fields() {
  static const Field<CoatingRelaxation> list[] = {
      {{"shortest", "s", Quantity::Dimensional, {1e-12, 1e30}, {}, "shortest relaxation time at T_g"},
       &CoatingRelaxation::shortest,
       {}},
      {{"longest", "s", Quantity::Dimensional, {1e-12, 1e30}, {}, "longest relaxation time at T_g"},
       &CoatingRelaxation::longest,
       {}},
      {{"modes", "1", Quantity::Count, {1, 64}, {}, "number of modes, log-spaced, both ends included"},
       &CoatingRelaxation::modes,
       {}},
  };
  return list;
}

std::span<const Field<CoatingFlow>> CoatingFlow::fields() {
  static const Field<CoatingFlow> list[] = {
      {{"viscosity",
        "Pa s",
        Quantity::Dimensional,
        {1e-3, 1e18},
        {1e5, 1e13},
        "effective viscosity eta_ref of the filled film"},
       &CoatingFlow::viscosity,
       {}},
      {{"at", "K", Quantity::Point, {100, 1500}, {303.15, 553.15}, "temperature of that viscosity"},
       &CoatingFlow::at,
       {}},
  };
  return list;
}

std::span<const Field<CoatingBreakdown>> CoatingBreakdown::fields() {
  static const Field<CoatingBreakdown> list[] = {
      {{"rate", "1/s", Quantity::Dimensional, {0, 1e6}, {0, 1e-3}, "first-order rate k_b"},
       &CoatingBreakdown::rate,
       {}},
      {{"at", "K", Quantity::Point, {100, 1500}, {303.15, 673.15}, "temperature of that rate"},
       &CoatingBreakdown::at,
       {}},
      {{"activation", "J/mol", Quantity::Dimensional, {0, 1e7}, {50e3, 300e3}, "activation energy E_a"},
       &CoatingBreakdown::activation,
       {}},
  };
  return list;
}

} // namespace clampfade

// A coating as a material: what the catalogue says of it. The laws that act on it are coating_creep and coating_film.
#pragma once

#include "models/law.hpp"

#include <optional>
#include <span>
#include <string>

namespace clampfade {

/// Flow of films that melt; a cross-linked film has none. EQUATIONS.md 7.
struct CoatingFlow {
  double viscosity = 0; ///< eta_ref, effective viscosity of the filled film [Pa s]
  double at = 0;        ///< T_ref [K]
  static std::span<const Field<CoatingFlow>> fields();
};

/// Binder burnt or flaked off: first order with an Arrhenius rate.
struct CoatingBreakdown {
  double rate = 0;       ///< k_b at the reference temperature [1/s]
  double at = 0;         ///< T_b [K]
  double activation = 0; ///< E_a [J/mol]
  static std::span<const Field<CoatingBreakdown>> fields();
};

/// The spectrum of compaction times, log-spaced from `shortest` to `longest` at the glass transition, ends included.
struct CoatingRelaxation {
  double shortest = 0;   ///< [s]
  double longest = 0;    ///< [s]
  std::size_t modes = 1; ///< number of modes, 1 to 64
  static std::span<const Field<CoatingRelaxation>> fields();
};

/// Dry film for which the entry's values are meant; a film outside it is a warning.
struct CoatingFilm {
  double thinnest = 0; ///< [m]
  double thickest = 0; ///< [m]
  static std::span<const Field<CoatingFilm>> fields();
};

struct Coating {
  std::string name;
  double modulus = 0;          ///< M, compressive modulus of the confined film [Pa]
  double glass_transition = 0; ///< T_g [K]
  double transition_width = 0; ///< w_g [K]
  double compaction_cold = 0;  ///< X_cold, share of h0 that pressing can close when glassy [-]
  double compaction_hot = 0;   ///< X_hot [-]
  double half_pressure = 0;    ///< p_half [Pa]
  double activation_below = 0; ///< E_sub below T_g [J/mol]
  double turns = 0;            ///< N, load cycles that act like one relaxation time [-]
  double pigment = 0;          ///< phi_p, share that always stays [-]
  CoatingRelaxation relaxation;
  std::optional<CoatingFlow> flow;
  std::optional<CoatingBreakdown> breakdown;
  std::optional<CoatingFilm> film;

  static std::span<const Field<Coating>> fields();
  /// Time-temperature shift log10 a_T, capped to [-12, +16]: universal WLF constants (17.44, 51.6 K; Williams, Landel
  /// and Ferry 1955) from T_g up, Arrhenius with E_sub below.
  [[nodiscard]] double log10_shift(double temperature) const;
  /// X(T) = X_cold + (X_hot - X_cold) / (1 + exp(-(T - T_g)/w_g)).
  [[nodiscard]] double compactable(double temperature) const;
  /// Effective viscosity [Pa s], capped at 1e18; only for films with `flow`.
  [[nodiscard]] double viscosity(double temperature) const;
  /// k_b exp(-E_a/R (1/T - 1/T_b)) [1/s]; zero without `breakdown`.
  [[nodiscard]] double breakdown_rate(double temperature) const;
  /// Share of h0 that can flow or burn, 1 - phi_p - X_hot [-]; the reader refuses films where it is negative.
  [[nodiscard]] double flowing_share() const { return 1 - pigment - compaction_hot; }
};

} // namespace clampfade

// Compaction of a paint film under pressure, with the time-temperature shift of its polymer. EQUATIONS.md 6.
#pragma once

#include "models/coating.hpp"
#include "models/settling_law.hpp"

namespace clampfade {

/// M modes of equal weight, log-spaced in time: x* = h0 X(T) p/(p + p_half), p = F/area; rates 1/(tau_m a_T) + nu/N.
class CoatingCreepLaw final : public SettlingLaw {
public:
  /// thickness h0 [m], contact area [m^2].
  CoatingCreepLaw(const Coating& coating, double thickness, double area);

private:
  [[nodiscard]] double property(double temperature) const override { return coating_.compactable(temperature); }
  [[nodiscard]] double speed(double temperature) const override;
  [[nodiscard]] Target target(double force, double compactable) const override;
  Coating coating_;
  double thickness_;
  double half_force_; ///< force at p_half [N]
};

} // namespace clampfade

// A stud in tension: resilience, and a free thread that yields with linear hardening. EQUATIONS.md 2.
#pragma once

#include "models/material.hpp"
#include "models/thread.hpp"

namespace clampfade {

/// Extension of a stud at a force.
struct StudStretch {
  double plastic = 0; ///< permanent stretch [m]
  double slope = 0;   ///< d plastic / d force [m/N]
};

class Stud {
public:
  /// grip L_k [m] > shank [m] >= 0.
  Stud(const Thread& thread, const Material& material, const PropertyClass& strength, double grip, double shank);

  /// Elastic compliance delta_S [m/N] at temperature [K]: head 0.5 d and shank on the nominal section, free and engaged
  /// thread (0.5 d) on the minor section, nut 0.4 d on the nominal one (VDI 2230-1, bolt resilience).
  [[nodiscard]] double compliance(double temperature) const {
    return length_over_area_ / material_.youngs(temperature);
  }
  /// Permanent stretch at `force` for a stud that already has `before`; `torsion_factor` > 1 while a wrench twists it.
  /// Hardening modulus 0.02 E/0.98, so that the tangent of the free thread is 0.02 E.
  [[nodiscard]] StudStretch stretch(double force, double before, double temperature, double torsion_factor) const;
  /// Force at which a stud with permanent stretch `before` yields further [N].
  [[nodiscard]] double yield_force(double before, double temperature, double torsion_factor) const;

  [[nodiscard]] double free_thread() const { return free_thread_; } ///< [m]
  [[nodiscard]] double grip() const { return grip_; }               ///< L_k [m]
  [[nodiscard]] const Material& material() const { return material_; }
  [[nodiscard]] const PropertyClass& strength() const { return strength_; }
  [[nodiscard]] const Thread& thread() const { return thread_; }
  /// Second moment of area on the minor diameter [m^4].
  [[nodiscard]] double second_moment() const;

private:
  [[nodiscard]] double hardening(double temperature) const; ///< force per permanent stretch [N/m]
  Thread thread_;
  Material material_;
  PropertyClass strength_;
  double grip_;
  double free_thread_;
  double length_over_area_; ///< sum of L/A [1/m]
};

} // namespace clampfade

// What the road does to a wheel joint: transverse demand and bending moment. EQUATIONS.md 9.
#pragma once

#include "models/joint.hpp"

#include <cmath>

namespace clampfade {

/// Loads on one wheel end that do not change over a span. Forces at the bolt circle [N], moment [N m].
struct WheelLoad {
  double radial = 0;                                                        ///< k_dyn W
  double brake = 0;                                                         ///< F_brake r_roll/R_bc
  double traction = 0;                                                      ///< F_traction r_roll/R_bc
  double moment = 0;                                                        ///< M_b = W e + lateral share W r_roll
  [[nodiscard]] double demand() const { return radial + brake + traction; } ///< Q of a face that carries all
};

/// Transverse demand at an interface, Q_i [N]: the worst place in a turn, where radial and ring load add.
inline double transverse_demand(const Carries& c, const WheelLoad& w) {
  return c.radial * w.radial + c.brake * w.brake + c.traction * w.traction;
}

/// Axial force amplitude at the stud farthest out, F_A = 2 |M|/(N R_bc) [N]: a turning wheel meets both signs.
inline double axial_amplitude(double moment, double studs, double bolt_circle) {
  return 2 * std::abs(moment) / (studs * bolt_circle / 2);
}

} // namespace clampfade

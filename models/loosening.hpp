// Self-loosening: a nut whose faces slide has little friction left against turning. EQUATIONS.md 9.
#pragma once

#include "models/torque.hpp"

namespace clampfade {

/// Share of a sliding ring's friction that opposes turning: mean over the ring of
/// (x + cos t)/sqrt(1 + x^2 + 2 x cos t), x = turning speed of the ring over sliding speed >= 0. In closed form by
/// complete elliptic integrals.
double turning_share(double x);

/// Turn of the nut per metre of slide xi [rad/m]: the root of P/2pi = (mu_t r_t/cos 30) G(xi r_t) + mu_b r_b G(xi r_b)
/// + T_prev/F; 0 where the prevailing torque alone holds the nut. clamp > 0 [N].
double turn_per_slide(const NutThread& nut, double clamp, double thread_friction, double bearing_friction);

} // namespace clampfade

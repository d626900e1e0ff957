// Side slip at an interface of the wheel: all studs share one displacement. EQUATIONS.md 9.
#pragma once

#include <span>

namespace clampfade {

/// Force with which a clamp zone resists a displacement s: Mindlin's form up to s = c_t mu F, friction beyond [N].
/// limit = mu F [N], compliance c_t [m/N].
double zone_force(double s, double limit, double compliance);

/// An interface under a transverse demand.
struct SlipAnswer {
  double displacement = 0; ///< s_i [m]
  double gross = 0;        ///< s_f, where the best clamped zone slips fully [m]
  double demand_ratio = 0; ///< psi = Q/(sum of mu F); infinite if nothing clamps
};

/// limits mu F of every stud [N] with how many studs each stands for; demand Q >= 0 [N]; compliance [m/N]; clearance
/// c >= 0 [m]. Past friction the disc goes to its stop at c/2 within 5 % of excess demand (a regularisation).
SlipAnswer slip(double demand, std::span<const double> limits, std::span<const double> counts, double compliance,
                double clearance);

/// Bending a stud takes before its nut slides: mu F L^3/(12 E I) [m]. Guided ends.
double nut_slip_threshold(double bearing_friction, double clamp, double grip, double youngs, double second_moment);

/// Bending stress amplitude of a stud whose ends move by s against each other: 3 E d3 s/L^2 [Pa].
double bending_amplitude(double displacement, double grip, double youngs, double minor_diameter);

} // namespace clampfade

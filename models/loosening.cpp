#include "models/loosening.hpp"

#include "models/elliptic.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

double turning_share(double x) {
  if (x < 1e-3) {
    return x / 2 + x * x * x / 16; // the closed form below loses digits here
  }
  if (x == 1) {
    return 2 / kPi;
  }
  double first = 0; // complete elliptic integrals of modulus k = 2 sqrt(x)/(1 + x)
  double second = 0;
  const double complement = std::abs(1 - x) / (1 + x);
  if (complement < 1e-4) { // k rounds to 1, where the first kind is infinite: their series about it
    const double log = std::log(4 / complement);
    first = log + (log - 1) * complement * complement / 4;
    second = 1 + (log - 0.5) * complement * complement / 2;
  } else {
    const double k = 2 * std::sqrt(x) / (1 + x);
#if defined(__STDCPP_MATH_SPEC_FUNCS__)
    first = std::comp_ellint_1(k);
    second = std::comp_ellint_2(k);
#else
    const EllipticIntegrals both = complete_elliptic(k);
    first = both.first;
    second = both.second;
#endif
  }
  return 2 / kPi * (second + (1 - x) / (2 * x) * (second - first));
}

double turn_per_slide(const NutThread& nut, double clamp, double thread_friction, double bearing_friction) {
  const double drive = nut.thread().pitch / (2 * kPi) - nut.prevailing_torque() / clamp;
  if (drive <= 0) {
    return 0;
  }
  const double r_thread = nut.thread().pitch_diameter() / 2;
  const double r_bearing = nut.bearing_diameter() / 2;
  const TorqueSplit arm = nut.split(1, thread_friction, bearing_friction);
  const auto resist = [&](double xi) {
    return arm.thread * turning_share(xi * r_thread) + arm.bearing * turning_share(xi * r_bearing);
  };
  if (drive >= arm.thread + arm.bearing) {
    return 1e6; // not self-locking: the nut spins as far as it slides
  }
  double low = 0;
  double high = 1 / r_bearing;
  while (resist(high) < drive && high < 1e6) {
    low = high;
    high *= 2;
  }
  // Regula falsi with the Illinois rule: the elliptic integrals are what costs.
  double miss_low = resist(low) - drive;
  double miss_high = resist(high) - drive;
  double xi = high;
  for (int i = 0; i < 200 && miss_high != 0 && high - low > 1e-15 * high; ++i) {
    const double before = xi;
    xi = (low * miss_high - high * miss_low) / (miss_high - miss_low);
    if (!(xi > low && xi < high)) {
      xi = (low + high) / 2;
    }
    const double miss = resist(xi) - drive;
    if (std::abs(xi - before) <= 1e-15 * xi || miss == 0) {
      return xi;
    }
    if (miss < 0) {
      miss_high /= before == low ? 2 : 1;
      low = xi;
      miss_low = miss;
    } else {
      miss_low /= before == high ? 2 : 1;
      high = xi;
      miss_high = miss;
    }
  }
  return xi;
}

} // namespace clampfade

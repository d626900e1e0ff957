// Complete elliptic integrals where the standard library has none (libc++, and so WebAssembly).
#pragma once

#include "models/constants.hpp"

#include <cmath>

namespace clampfade {

struct EllipticIntegrals {
  double first = 0;  ///< K(k) [-]
  double second = 0; ///< E(k) [-]
};

/// K(k) and E(k) of modulus 0 <= k < 1 by the arithmetic-geometric mean: Abramowitz and Stegun 17.6.3 and 17.6.4 (from
/// memory). Each round doubles the digits; 40 are never reached.
inline EllipticIntegrals complete_elliptic(double k) {
  double a = 1;
  double b = std::sqrt((1 - k) * (1 + k));
  double c = k;
  double power = 0.5;
  double sum = power * c * c;
  for (int i = 0; i < 40 && c > 1e-16 * a; ++i) {
    const double next = (a + b) / 2;
    c = (a - b) / 2;
    b = std::sqrt(a * b);
    a = next;
    power *= 2;
    sum += power * c * c;
  }
  const double first = kPi / (2 * a);
  return {first, first * (1 - sum)};
}

} // namespace clampfade

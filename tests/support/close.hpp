// Equality of computed numbers with both tolerances in sight. doctest::Approx hides an absolute 1.2e-5.
#pragma once

#include <cmath>
#include <ostream>

namespace clampfade::test {

struct Close {
  double value, abs, rel;
};
/// CHECK(x == close(expected, absolute, relative)): |x - expected| <= absolute + relative |expected|.
inline Close close(double value, double abs, double rel) { return {value, abs, rel}; }

inline bool operator==(double x, const Close& c) { return std::abs(x - c.value) <= c.abs + c.rel * std::abs(c.value); }
inline std::ostream& operator<<(std::ostream& out, const Close& c) {
  out.precision(12);
  return out << c.value << " (abs " << c.abs << ", rel " << c.rel << ')';
}

} // namespace clampfade::test

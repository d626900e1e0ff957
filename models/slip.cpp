#include "models/slip.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace clampfade {

double zone_force(double s, double limit, double compliance) {
  const double end = compliance * limit;
  if (s >= end) {
    return limit;
  }
  const double rest = 1 - s / end;
  return limit * (1 - rest * std::sqrt(rest));
}

SlipAnswer slip(double demand, std::span<const double> limits, std::span<const double> counts, double compliance,
                double clearance) {
  SlipAnswer answer;
  if (demand <= 0) {
    return answer;
  }
  double sum = 0;
  double largest = 0;
  double smallest = std::numeric_limits<double>::infinity();
  for (std::size_t c = 0; c < limits.size(); ++c) {
    sum += counts[c] * limits[c];
    largest = std::max(largest, limits[c]);
    smallest = std::min(smallest, limits[c]);
  }
  if (sum <= 0) {
    return {clearance / 2, 0, std::numeric_limits<double>::infinity()};
  }
  answer.gross = compliance * largest;
  answer.demand_ratio = demand / sum;
  if (answer.demand_ratio >= 1) {
    answer.displacement =
        answer.gross + std::min(1.0, (answer.demand_ratio - 1) / 0.05) * std::max(0.0, clearance / 2 - answer.gross);
    return answer;
  }
  // All alike: the closed form. It also starts the search, from below where Newton's method on a concave curve stays.
  double s = compliance * smallest * (1 - std::pow(1 - answer.demand_ratio, 2.0 / 3.0));
  if (smallest == largest) {
    answer.displacement = s;
    return answer;
  }
  double low = 0;
  double high = answer.gross;
  for (int i = 0; i < 200; ++i) {
    double miss = -demand;
    double slope = 0;
    for (std::size_t c = 0; c < limits.size(); ++c) {
      const double end = compliance * limits[c];
      if (s >= end) {
        miss += counts[c] * limits[c];
      } else {
        const double rest = 1 - s / end;
        const double root = std::sqrt(rest);
        miss += counts[c] * limits[c] * (1 - rest * root);
        slope += counts[c] * 1.5 * root / compliance;
      }
    }
    (miss < 0 ? low : high) = s;
    double next = slope > 0 ? s - miss / slope : high;
    if (!(next >= low && next <= high)) {
      next = (low + high) / 2;
    }
    if (std::abs(next - s) <= 1e-14 * answer.gross) {
      s = next;
      break;
    }
    s = next;
  }
  answer.displacement = s;
  return answer;
}

double nut_slip_threshold(double bearing_friction, double clamp, double grip, double youngs, double second_moment) {
  return bearing_friction * clamp * grip * grip * grip / (12 * youngs * second_moment);
}

double bending_amplitude(double displacement, double grip, double youngs, double minor_diameter) {
  return 3 * youngs * minor_diameter * displacement / (grip * grip);
}

} // namespace clampfade

#include "models/pressure_cone.hpp"

#include "models/constants.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

double cone_tangent(double length, double bearing_diameter, double pad_diameter) {
  return 0.362 + 0.032 * std::log(length / bearing_diameter / 2) + 0.153 * std::log(pad_diameter / bearing_diameter);
}

PressureCone::PressureCone(std::vector<ConeSlice> slices, double head_diameter, double nut_diameter, double tangent)
    : slices_(std::move(slices)), heights_(1, 0.0), head_(head_diameter), nut_(nut_diameter), tangent_(tangent) {
  for (const ConeSlice& s : slices_) {
    heights_.push_back(heights_.back() + s.thickness);
  }
}

double PressureCone::diameter(double z) const {
  return std::min(head_ + 2 * z * tangent_, nut_ + 2 * (heights_.back() - z) * tangent_);
}

double PressureCone::length_over_area(std::size_t m) const {
  const ConeSlice& s = slices_[m];
  const double bottom = heights_[m];
  const double top = heights_[m + 1];
  // Corners of the clipped outline: where the cones meet, and where either reaches the pad.
  std::vector<double> cuts = {bottom, top};
  for (const double z : {(heights_.back() + (nut_ - head_) / (2 * tangent_)) / 2, (s.pad - head_) / (2 * tangent_),
                         heights_.back() - (s.pad - nut_) / (2 * tangent_)}) {
    if (z > bottom && z < top) {
      cuts.push_back(z);
    }
  }
  std::sort(cuts.begin(), cuts.end());
  double sum = 0;
  for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
    const double length = cuts[i + 1] - cuts[i];
    const double a = std::min(diameter(cuts[i]), s.pad);
    const double b = std::min(diameter(cuts[i + 1]), s.pad);
    const double large = std::max(a, b);
    const double small = std::min(a, b);
    const double h = s.hole;
    if (large - small > 1e-9 * large) {
      // Integral of dz / (pi/4 (D^2 - h^2)) with D linear in z.
      const double slope = (large - small) / length;
      sum += 2 * std::log((large - h) * (small + h) / ((large + h) * (small - h))) / (kPi * h * slope);
    } else {
      const double mean = (large + small) / 2;
      sum += length / (kPi / 4 * (mean * mean - h * h));
    }
  }
  return sum;
}

} // namespace clampfade

#include "models/conical_washer.hpp"

#include "models/constants.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {
constexpr double kKnee = 0.98;       // of the flat deflection, where flattening begins
constexpr double kFlatFactor = 50.0; // tangent of a flat washer over that of a free one

/// K4 of washers with bearing flats: thickness t, free height l0 and reduced thickness t' [m].
double flats_factor(double t, double l0, double reduced) {
  const double r = reduced / t;
  const double c1 = r * r / ((l0 / (4 * t) - r + 0.75) * (5 * l0 / (8 * t) - r + 0.375));
  const double c2 = c1 / (r * r * r) * (5.0 / 32.0 * (l0 / t - 1) * (l0 / t - 1) + 1);
  return std::sqrt(-c1 / 2 + std::sqrt(c1 * c1 / 4 + c2));
}
} // namespace

double largest_rising_height(double thickness, double reduced_thickness) {
  const double plain = std::sqrt(2.0) * thickness;
  if (reduced_thickness == 0 || std::isnan(reduced_thickness)) {
    return plain + reduced_thickness;
  }
  const auto falls = [&](double height) {
    const double free = height + thickness;
    const double steepness = flats_factor(thickness, free, reduced_thickness) * (free / reduced_thickness - 1);
    return steepness * steepness >= 2;
  };
  // Flats make a washer the steeper cone, so the answer is below that without them.
  double low = 0;
  double high = plain;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (falls(middle) ? high : low) = middle;
  }
  return low;
}

ConicalWasher::ConicalWasher(double outer, double inner, double thickness, double cone_height, double reduced_thickness,
                             double youngs, double poisson)
    : thickness_(thickness), height_(cone_height), k4_(1), ratio_(outer / inner) {
  if (reduced_thickness > 0) {
    const double l0 = cone_height + thickness;
    k4_ = flats_factor(thickness, l0, reduced_thickness);
    thickness_ = reduced_thickness;
    height_ = l0 - reduced_thickness;
  }
  const double d = ratio_;
  const double log_d = std::log(d);
  k1_ = ((d - 1) / d) * ((d - 1) / d) / ((d + 1) / (d - 1) - 2 / log_d) / kPi;
  k2_ = 6 / kPi * ((d - 1) / log_d - 1) / log_d;
  k3_ = 3 / kPi * (d - 1) / log_d;
  scale_ = 4 * youngs / (1 - poisson * poisson) / (k1_ * outer * outer);
  knee_force_ = cone_force(kKnee * height_);
  knee_tangent_ = cone_tangent(kKnee * height_);
  flat_tangent_ = kFlatFactor * cone_tangent(0);
}

double ConicalWasher::cone_force(double s) const {
  const double t = thickness_;
  const double x = s / t;
  const double h = height_ / t;
  const double k = k4_ * k4_;
  return scale_ * t * t * t * t * k * x * (k * (h - x) * (h - x / 2) + 1);
}

double ConicalWasher::cone_tangent(double s) const {
  const double t = thickness_;
  const double x = s / t;
  const double h = height_ / t;
  const double k = k4_ * k4_;
  return scale_ * t * t * t * k * (k * (h * h - 3 * h * x + 1.5 * x * x) + 1);
}

double ConicalWasher::force(double s) const {
  const double knee = kKnee * height_;
  if (s <= knee) {
    return cone_force(s);
  }
  const double width = height_ - knee;
  const double rise = std::min(s - knee, width);
  const double past = std::max(0.0, s - height_);
  return knee_force_ + knee_tangent_ * rise + (flat_tangent_ - knee_tangent_) * rise * rise / (2 * width) +
         flat_tangent_ * past;
}

double ConicalWasher::tangent(double s) const {
  const double knee = kKnee * height_;
  if (s <= knee) {
    return cone_tangent(s);
  }
  return knee_tangent_ + (flat_tangent_ - knee_tangent_) * std::min(1.0, (s - knee) / (height_ - knee));
}

double ConicalWasher::deflection(double f) const {
  // Newton kept inside a bracket: the curve rises but is not convex.
  double low = 0;
  double high = height_;
  while (force(high) < f) {
    low = high;
    high *= 2;
  }
  double s = std::clamp(f / cone_tangent(0), low, high);
  for (int i = 0; i < 200; ++i) {
    const double miss = force(s) - f;
    (miss > 0 ? high : low) = s;
    double next = s - miss / tangent(s);
    if (!(next > low && next < high)) {
      next = (low + high) / 2;
    }
    if (std::abs(next - s) <= 1e-15 * height_) {
      return next;
    }
    s = next;
  }
  return s;
}

WasherStress ConicalWasher::stress(double s) const {
  const double x = s / thickness_;
  const double half = height_ / thickness_ - x / 2;
  const double c = -scale_ * thickness_ * thickness_ * k4_ * x;
  return {c * 3 / kPi, c * (k4_ * k2_ * half + k3_), c * (k4_ * k2_ * half - k3_),
          c / ratio_ * (k4_ * (k2_ - 2 * k3_) * half - k3_)};
}

WasherStack::WasherStack(const ConicalWasher& washer, std::size_t parallel, std::size_t series, double friction)
    : washer_(washer), series_(series) {
  const double n = static_cast<double>(parallel);
  load_factor_ = n / (1 - friction * (n - 1));
  unload_factor_ = n / (1 + friction * (n - 1));
  stick_ = 100 * n / static_cast<double>(series) * washer.tangent(0);
}

double WasherStack::compressing_force(double s) const {
  return load_factor_ * washer_.force(s / static_cast<double>(series_));
}
double WasherStack::opening_force(double s) const {
  return unload_factor_ * washer_.force(s / static_cast<double>(series_));
}
double WasherStack::compressing_tangent(double s) const {
  return load_factor_ * washer_.tangent(s / static_cast<double>(series_)) / static_cast<double>(series_);
}

WasherAnswer WasherStack::on_branch(double force, double factor) const {
  const double one = washer_.deflection(force / factor);
  const double i = static_cast<double>(series_);
  return {i * one, i / (factor * washer_.tangent(one))};
}

WasherAnswer WasherStack::deflect(double force, const WasherState& before) const {
  if (!sticks()) {
    return on_branch(force, load_factor_);
  }
  const WasherAnswer stuck = {before.deflection + (force - before.force) / stick_, 1 / stick_};
  if (force > compressing_force(stuck.deflection)) {
    return on_branch(force, load_factor_);
  }
  if (force < opening_force(stuck.deflection)) {
    return on_branch(force, unload_factor_);
  }
  return stuck;
}

} // namespace clampfade

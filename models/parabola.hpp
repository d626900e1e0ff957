// A course in time over a span, as seen from its middle.
#pragma once

namespace clampfade {

/// Value in the middle, its rise a second, and half the rise of that; a number alone is a constant course.
struct Parabola {
  // Not explicit: a constant is a course too.
  Parabola(double middle_value = 0, double rise_there = 0, double half_bend = 0)
      : middle(middle_value), rise(rise_there), bend(half_bend) {}
  double middle, rise, bend;
  [[nodiscard]] double at(double after_middle) const { return middle + after_middle * (rise + after_middle * bend); }
  [[nodiscard]] bool operator==(const Parabola&) const = default;
};

} // namespace clampfade

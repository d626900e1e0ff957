#include "tests/bench/floor.hpp"

#include <cmath>

namespace clampfade::test {

Floor::Floor(std::size_t studs, std::size_t modes)
    : studs_(studs), modes_(modes), weight_(modes, 1 / static_cast<double>(modes)), goal_(studs, 1e-5),
      z_(studs * modes, 0.0), keep_(modes), take_(modes) {
  for (std::size_t m = 0; m < modes; ++m) {
    rate_.push_back(std::pow(10.0, 2 - 16 * static_cast<double>(m) / static_cast<double>(modes)));
  }
}

double Floor::span(double duration) {
  for (std::size_t m = 0; m < modes_; ++m) {
    keep_[m] = std::exp(-rate_[m] * duration);
    take_[m] = weight_[m] * (1 - keep_[m]);
  }
  double all = 0;
  const double* keep = keep_.data();
  const double* take = take_.data();
  for (std::size_t c = 0; c < studs_; ++c) {
    double* z = &z_[c * modes_];
    const double goal = goal_[c];
    double sum = 0;
    // The one place that may add in another order: it is what lets the compiler use vectors.
#pragma omp simd reduction(+ : sum)
    for (std::size_t m = 0; m < modes_; ++m) {
      z[m] = keep[m] * z[m] + take[m] * goal;
      sum += z[m];
    }
    goal_[c] = 1e-5 - 1e-3 * sum; // the next span hangs on this one, as in a run
    all += sum;
  }
  return all;
}

} // namespace clampfade::test

// What every law's step must keep: its slope is a derivative, and a short step is its rate.
#pragma once

#include "models/law.hpp"
#include "tests/support/close.hpp"
#include "tests/support/law_step.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace clampfade::test {

struct Stepped {
  std::vector<double> z;
  LawLoss loss;
};

inline Stepped step_law(const LossLaw& law, const LawStep& step, const std::vector<double>& z0, double x0, double x1) {
  Stepped s{std::vector<double>(z0.size()), {}};
  s.loss = take_step(law, step, z0, x0, x1, s.z);
  // The force balance must see what the state becomes.
  const LawLoss tried = try_step(law, step, z0, x0, x1);
  CHECK(tried.loss == close(s.loss.loss, 1e-22, 1e-12));
  CHECK(tried.slope == close(s.loss.slope, 1e-9 * s.loss.loss / (x1 != 0 ? x1 : 1), 1e-10));
  return s;
}

inline std::vector<double> started(const LossLaw& law) {
  std::vector<double> z(law.states());
  law.start(z);
  return z;
}

/// x0 and x1: drives at the start and end; the step must be one at which no mode wakes or falls asleep.
inline void check_law(const LossLaw& law, const LawStep& step, const std::vector<double>& z0, double x0, double x1) {
  const Stepped whole = step_law(law, step, z0, x0, x1);
  const double dx = 1e-5 * x1;
  const double slope =
      (step_law(law, step, z0, x0, x1 + dx).loss.loss - step_law(law, step, z0, x0, x1 - dx).loss.loss) / (2 * dx);
  CHECK(whole.loss.slope == close(slope, 1e-9 * whole.loss.loss / x1, 1e-4));
  CHECK(whole.loss.loss == close(law.loss(whole.z), 1e-20, 1e-12));
  ByMechanism by{};
  law.add_losses(whole.z, by);
  double sum = 0;
  for (const double v : by) {
    sum += v;
  }
  CHECK(sum == close(whole.loss.loss, 1e-20, 1e-12));
  // A short step at constant drive and heat is the rate.
  LawStep brief = step;
  brief.temperature_middle = brief.temperature_end = brief.temperature_start;
  std::vector<double> rate(z0.size());
  law.rate(z0, x0, brief.temperature_start, brief.cycle_rate, rate);
  const double fastest = law.fastest(brief.temperature_start, brief.cycle_rate);
  brief.duration = fastest > 0 ? 1e-5 / fastest : 1e-3 * step.duration;
  const Stepped nudge = step_law(law, brief, z0, x0, x0);
  double largest = 0;
  for (const double r : rate) {
    largest = std::max(largest, std::abs(r));
  }
  for (std::size_t i = 0; i < z0.size(); ++i) {
    CHECK((nudge.z[i] - z0[i]) / brief.duration ==
          close(rate[i], 1e-9 * std::abs(z0[i]) / brief.duration + 1e-9 * largest, 2e-3));
  }
}

} // namespace clampfade::test

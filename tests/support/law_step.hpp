// One step of a single law for a known drive, as the wheel takes it.
#pragma once

#include "models/law.hpp"

#include <span>
#include <vector>

namespace clampfade::test {

/// State at the end into z1; loss, slope and doubt as the answer.
inline LawLoss take_step(const LossLaw& law, const LawStep& step, std::span<const double> z0, double x0, double x1,
                         std::span<double> z1) {
  std::vector<double> shared(law.shared());
  std::vector<double> work(law.scratch());
  law.share(step, shared);
  law.prepare(step, shared, z0, x0, work);
  return law.finish(step, shared, z0, x0, x1, work, z1);
}

/// What an iteration of the force balance sees of the same step.
inline LawLoss try_step(const LossLaw& law, const LawStep& step, std::span<const double> z0, double x0, double x1) {
  std::vector<double> shared(law.shared());
  std::vector<double> work(law.scratch());
  law.share(step, shared);
  law.prepare(step, shared, z0, x0, work);
  return law.trial(step, shared, z0, x0, x1, work);
}

} // namespace clampfade::test

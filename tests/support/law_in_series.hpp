// One law in series with a spring of given compliance at fixed total length, as a system for SettlingStepper: the
// smallest problem with a known answer that uses the steps of a law as the wheel does.
#pragma once

#include "models/law.hpp"
#include "solver/settling.hpp"

#include <cmath>
#include <limits>
#include <vector>

namespace clampfade::test {

/// State: the law's internal variables, then the force [N].
class LawInSeries {
public:
  LawInSeries(const LossLaw& law, double compliance, double force, double temperature, double tolerance)
      : law_(law), compliance_(compliance), start_force_(force), temperature_(temperature), tolerance_(tolerance),
        shared_(law.shared()), work_(law.scratch()) {}

  [[nodiscard]] std::vector<double> start() const {
    std::vector<double> x(law_.states() + 1);
    law_.start(std::span(x).first(law_.states()));
    x.back() = start_force_;
    return x;
  }
  double advance(const std::vector<double>& x0, double, double h, std::vector<double>& x1) {
    const std::size_t n = law_.states();
    const LawStep step{h, temperature_, temperature_, temperature_, 0, 1 / compliance_};
    x1 = x0;
    const double f0 = x0.back();
    const std::span<const double> z0 = std::span(x0).first(n);
    law_.share(step, shared_);
    law_.prepare(step, shared_, z0, f0, work_);
    double f = f0;
    for (int i = 0; i < 200; ++i) {
      const LawLoss a = law_.trial(step, shared_, z0, f0, f, work_);
      const double move = (compliance_ * (f - start_force_) + a.loss) / (compliance_ + a.slope);
      f = std::max(0.0, f - move);
      if (std::abs(move) < 1e-12 * start_force_) {
        x1.back() = f;
        const LawLoss end = law_.finish(step, shared_, z0, f0, f, work_, std::span(x1).first(n));
        return end.doubt / (compliance_ * tolerance_ * start_force_);
      }
    }
    return std::numeric_limits<double>::infinity();
  }
  [[nodiscard]] double distance(const std::vector<double>& a, const std::vector<double>& b) const {
    return std::abs(a.back() - b.back()) / (tolerance_ * start_force_);
  }
  /// Force at each of the times [s], rising.
  std::vector<double> run(const std::vector<double>& times, double first_step) {
    std::vector<double> x = start();
    std::vector<double> forces;
    SettlingStepper stepper;
    double t = 0;
    double step = first_step;
    for (const double end : times) {
      while (t < end) {
        const bool last = step >= end - t;
        double h = last ? end - t : step;
        const auto answer = stepper.try_step(std::ref(*this), x, t, h);
        step = answer == boost::numeric::odeint::success && last ? std::max(step, h) : h;
        if (answer == boost::numeric::odeint::success && last) {
          t = end;
        }
      }
      forces.push_back(x.back());
    }
    return forces;
  }

private:
  const LossLaw& law_;
  double compliance_, start_force_, temperature_, tolerance_;
  std::vector<double> shared_, work_;
};

} // namespace clampfade::test

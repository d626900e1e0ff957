// The stepper of the losses: error-controlled, L-stable, after Odeint's concept of a controlled stepper.
//
// The system knows how to advance by one step: exact exponentials for every mode, the forces at the end solved
// implicitly (see LossLaw and Wheel). It also estimates how far off that step may be. Where the estimate is small the
// step stands; elsewhere it is done again in halves, and the difference decides. EQUATIONS.md 13.
#pragma once

#include <boost/numeric/odeint/stepper/controlled_step_result.hpp>
#include <boost/numeric/odeint/stepper/stepper_categories.hpp>
#include <boost/numeric/odeint/util/unwrap_reference.hpp>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace clampfade {

/// What the stepper has done; the history keeps it.
struct StepCounts {
  std::uint64_t accepted = 0;
  std::uint64_t rejected = 0;
  std::uint64_t halved = 0; ///< steps that were done again in halves
  double smallest = 0;      ///< shortest accepted step [s]; 0 before the first
};

/// Second order. A System must offer
///   double advance(const State& x0, double t, double h, State& x1)  doubt of the step over the tolerance; infinite
///                                                                   where no step of that length can be done,
///   double distance(const State& a, const State& b)                 difference of two end states over the tolerance.
class SettlingStepper {
public:
  using state_type = std::vector<double>;
  using value_type = double;
  using deriv_type = state_type;
  using time_type = double;
  using stepper_category = boost::numeric::odeint::controlled_stepper_tag;

  /// growth: largest factor from one step to the next.
  explicit SettlingStepper(double growth = 2) : growth_(growth) {}

  /// Tries a step of length dt. On success moves x and t on and proposes the next dt; on failure only shortens dt.
  template <class System>
  boost::numeric::odeint::controlled_step_result try_step(System system, state_type& x, time_type& t, time_type& dt) {
    auto& sys = static_cast<typename boost::numeric::odeint::unwrap_reference<System>::type&>(system);
    const double h = dt;
    const double doubt = sys.advance(x, t, h, whole_);
    double error = doubt;
    double power = 0.5; // the doubt measures a first-order difference
    if (!(doubt <= 1)) {
      ++counts_.halved;
      power = 1.0 / 3;
      error = sys.advance(x, t, h / 2, half_);
      if (std::isfinite(error) && std::isfinite(sys.advance(half_, t + h / 2, h / 2, end_))) {
        error = std::isfinite(doubt) ? sys.distance(whole_, end_) / 3 : 10;
      } else {
        error = INFINITY;
      }
      if (!(error <= 1)) {
        ++counts_.rejected;
        dt = h * std::clamp(0.9 * std::pow(error, -power), 0.1, 0.5);
        return boost::numeric::odeint::fail;
      }
      std::swap(whole_, end_);
    }
    x.swap(whole_);
    t += h;
    ++counts_.accepted;
    counts_.smallest = counts_.smallest == 0 ? h : std::min(counts_.smallest, h);
    dt = h * std::clamp(0.9 * std::pow(std::max(error, 1e-12), -power), 0.2, growth_);
    return boost::numeric::odeint::success;
  }

  [[nodiscard]] const StepCounts& counts() const { return counts_; }
  void set_counts(const StepCounts& counts) { counts_ = counts; }

private:
  double growth_;
  StepCounts counts_;
  state_type whole_, half_, end_;
};

} // namespace clampfade

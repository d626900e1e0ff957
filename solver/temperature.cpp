#include "solver/temperature.hpp"

#include "solver/diagnostics.hpp"
#include "solver/step_grid.hpp"

#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace ode = boost::numeric::odeint;

namespace {
constexpr double kFirstStep = 1.0; // s
constexpr double kRelative = 1e-7; // of some 300 K: 3e-5 K a step
constexpr double kAbsolute = 1e-6; // K
constexpr double kMidnight = 1e-9; // K
constexpr int kMostSteps = 100000;
using Dopri = ode::runge_kutta_dopri5<std::vector<double>>;
using Checker = ode::default_error_checker<double, Dopri::algebra_type, Dopri::operations_type>;
using Controlled = ode::controlled_runge_kutta<Dopri, Checker>;
} // namespace

struct HeatSolver::Stepper {
  Controlled controlled{Checker(kAbsolute, kRelative, 1.0, 0.0)};
  double step = kFirstStep;
  std::vector<double> derivative, next, next_derivative; // kept to spare allocations
};

HeatSolver::HeatSolver(const HeatNetwork& network, HeatMemory* memory)
    : network_(network), stepper_(std::make_unique<Stepper>()), days_(memory != nullptr ? memory->days : own_.days) {
  if (memory != nullptr && !(memory->network == network)) {
    memory->network = network;
    memory->days.clear();
  }
  days_.resize(std::max<std::size_t>(days_.size(), 1));
}
HeatSolver::~HeatSolver() = default;

void HeatSolver::begin_day(std::size_t kind, std::vector<double>& temperatures) {
  for (double& t : temperatures) {
    t = std::round(t / kMidnight) * kMidnight;
  }
  stepper_->step = kFirstStep;
  days_.resize(std::max(days_.size(), kind + 1));
  kind_ = kind;
  next_ = 0;
  HeatMemory::Day& day = days_[kind];
  if (day.start != temperatures) {
    day.start = temperatures;
    day.solved = 0;
  }
}

void HeatSolver::run(const HeatSpan& span, std::vector<double>& temperatures) {
  HeatMemory::Day& day = days_[kind_];
  day.courses.resize(std::max(day.courses.size(), next_ + 1));
  HeatCourse& course = day.courses[next_];
  if (next_ < day.solved && course.span == span) {
    std::copy_n(course.values.end() - static_cast<std::ptrdiff_t>(temperatures.size()), temperatures.size(),
                temperatures.begin());
    stepper_->step = course.step;
  } else {
    day.solved = next_; // should this fail, nothing of it is known
    course.span = span;
    solve(course, temperatures);
    course.step = stepper_->step;
    day.solved = next_ + 1;
    ++solved_;
  }
  ++next_;
  course_ = &course;
}

void HeatSolver::solve(HeatCourse& course, std::vector<double>& temperatures) {
  const HeatSpan& span = course.span;
  const std::size_t n = temperatures.size();
  const auto rate = [&](const std::vector<double>& t, std::vector<double>& d, double time) {
    const double late = time - span.duration / 2;
    network_.rate(t, span.ambient.at(late), span.air.at(late), span.brake_heat.at(late), d);
  };
  course.times.clear();
  course.values.clear();
  course.derivatives.clear();
  std::vector<double>& derivative = stepper_->derivative;
  std::vector<double>& next = stepper_->next;
  std::vector<double>& next_derivative = stepper_->next_derivative;
  for (auto* list : {&derivative, &next, &next_derivative}) {
    list->resize(n);
  }
  rate(temperatures, derivative, 0);
  const auto knot = [&](double time) {
    course.times.push_back(time);
    course.values.insert(course.values.end(), temperatures.begin(), temperatures.end());
    course.derivatives.insert(course.derivatives.end(), derivative.begin(), derivative.end());
  };
  knot(0);
  double t = 0;
  int steps = 0;
  while (t < span.duration) {
    const double left = span.duration - t;
    const bool last = stepper_->step >= left * (1 - 1e-12);
    double h = last ? left : stepper_->step;
    const double tried = h;
    if (++steps > kMostSteps) {
      throw NumericalError(
          Code::StepTooSmall,
          fmt::format("node temperatures: more than {} steps in a span of {:.6g} s", kMostSteps, span.duration));
    }
    if (stepper_->controlled.try_step(rate, temperatures, derivative, t, next, next_derivative, h) == ode::success) {
      temperatures.swap(next);
      derivative.swap(next_derivative); // the pair's last stage is the next step's first
      if (!std::all_of(temperatures.begin(), temperatures.end(), [](double v) { return std::isfinite(v); })) {
        throw NumericalError(Code::NonFinite, "a node temperature is not a finite number");
      }
      if (last) {
        t = span.duration;
        stepper_->step = std::max(stepper_->step, on_step_grid(std::max(h, tried)));
      } else {
        stepper_->step = on_step_grid(h);
      }
      knot(t);
    } else {
      stepper_->step = on_step_grid(h);
    }
  }
}

void HeatSolver::at(double time, std::vector<double>& temperatures) const {
  const auto& [span, times, values, derivatives, step] = *course_;
  const std::size_t n = temperatures.size();
  const std::size_t steps = times.size() - 1;
  std::size_t k = 0;
  if (steps > 1) {
    const auto next = std::upper_bound(times.begin(), times.end(), time);
    k = static_cast<std::size_t>(
        std::clamp<std::ptrdiff_t>(next - times.begin() - 1, 0, static_cast<std::ptrdiff_t>(steps) - 1));
  }
  const double h = times[k + 1] - times[k];
  const double x = std::clamp((time - times[k]) / h, 0.0, 1.0);
  const double h00 = (1 + 2 * x) * (1 - x) * (1 - x);
  const double h10 = x * (1 - x) * (1 - x);
  const double h01 = x * x * (3 - 2 * x);
  const double h11 = x * x * (x - 1);
  const double* a = &values[k * n];
  const double* da = &derivatives[k * n];
  for (std::size_t i = 0; i < n; ++i) {
    temperatures[i] = h00 * a[i] + h01 * a[n + i] + h * (h10 * da[i] + h11 * da[n + i]);
  }
}

} // namespace clampfade

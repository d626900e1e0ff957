// Heat through the day: the node temperatures of a span, by Odeint's Dormand-Prince stepper.
#pragma once

#include "models/heat_network.hpp"
#include "models/parabola.hpp"

#include <memory>
#include <vector>

namespace clampfade {

/// Conditions over a span.
struct HeatSpan {
  double duration = 0; ///< [s]
  Parabola ambient;    ///< [K]
  Parabola air;        ///< HeatNetwork::air_factor of the speed
  Parabola brake_heat; ///< [W]
  [[nodiscard]] bool operator==(const HeatSpan&) const = default;
};

class HeatSolver {
public:
  explicit HeatSolver(const HeatNetwork& network);
  ~HeatSolver();

  /// Begins a day, which depends on those before through `temperatures` only: the step size starts over. Rounds them to
  /// 1e-9 K, so that days that repeat themselves do so to the bit. A day that begins as the last one of its kind did is
  /// that day as far as its spans are the same: what was found then is used again. Kinds are numbered from 0.
  void begin_day(std::size_t kind, std::vector<double>& temperatures);
  /// Spans that were integrated; the others were known.
  [[nodiscard]] std::size_t solved() const { return solved_; }
  /// Integrates `temperatures` [K] over the span; error of a step at most 1e-7 of each plus 1e-6 K. Throws
  /// NumericalError.
  void run(const HeatSpan& span, std::vector<double>& temperatures);
  /// Temperatures at a time in the span last run [s], cubic between the steps taken; the vector has one entry a node.
  void at(double time, std::vector<double>& temperatures) const;

private:
  struct Stepper; // keeps Odeint out of every other translation unit
  const HeatNetwork& network_;
  std::unique_ptr<Stepper> stepper_;
  /// One span, solved.
  struct Course {
    HeatSpan span;
    std::vector<double> times;               ///< knots [s]
    std::vector<double> values, derivatives; ///< knots times nodes
    double step = 0;                         ///< proposed for the span after [s]
  };
  struct Day {
    std::vector<double> start; ///< node temperatures [K]
    std::vector<Course> courses;
    std::size_t solved = 0; ///< courses that belong to that start
  };
  void solve(Course& course, std::vector<double>& temperatures);
  std::vector<Day> days_; ///< the last of each kind
  std::size_t kind_ = 0;
  std::size_t next_ = 0; ///< span of the day
  std::size_t solved_ = 0;
  const Course* course_ = nullptr; ///< of the span last run
};

} // namespace clampfade

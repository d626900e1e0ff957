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

/// One span, solved.
struct HeatCourse {
  HeatSpan span;
  std::vector<double> times;               ///< knots [s]
  std::vector<double> values, derivatives; ///< knots times nodes
  double step = 0;                         ///< proposed for the span after [s]
};

/// Days as they were solved last, by kind: see HeatSolver::begin_day.
struct HeatMemory {
  struct Day {
    std::vector<double> start; ///< node temperatures [K]
    std::vector<HeatCourse> courses;
    std::size_t solved = 0; ///< courses that belong to that start
  };
  HeatNetwork network; ///< for which all of it holds
  std::vector<Day> days;
};

class HeatSolver {
public:
  /// memory: of solvers before this one; it must outlive this one, and nobody else may use it meanwhile. None: its own.
  explicit HeatSolver(const HeatNetwork& network, HeatMemory* memory = nullptr);
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
  void solve(HeatCourse& course, std::vector<double>& temperatures);
  HeatMemory own_;
  std::vector<HeatMemory::Day>& days_; ///< the last of each kind
  std::size_t kind_ = 0;
  std::size_t next_ = 0; ///< span of the day
  std::size_t solved_ = 0;
  const HeatCourse* course_ = nullptr; ///< of the span last run
};

} // namespace clampfade

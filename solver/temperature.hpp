// Heat through the day: the node temperatures of a span, by Odeint's Dormand-Prince stepper.
#pragma once

#include "models/heat_network.hpp"

#include <memory>
#include <vector>

namespace clampfade {

/// Constant conditions over a span.
struct HeatSpan {
  double duration = 0;   ///< [s]
  double ambient = 0;    ///< [K]
  double speed = 0;      ///< [m/s]
  double brake_heat = 0; ///< [W]
};

class HeatSolver {
public:
  explicit HeatSolver(const HeatNetwork& network);
  ~HeatSolver();

  /// Starts over with the step size, so that a day does not depend on the one before but through `temperatures`.
  void restart();
  /// Integrates `temperatures` [K] over the span; error of a step at most 1e-7 of each plus 1e-6 K. Throws
  /// NumericalError.
  void run(const HeatSpan& span, std::vector<double>& temperatures);
  /// Temperatures at a time in the span last run [s], cubic between the steps taken; the vector has one entry a node.
  void at(double time, std::vector<double>& temperatures) const;

private:
  struct Stepper; // keeps Odeint out of every other translation unit
  const HeatNetwork& network_;
  std::unique_ptr<Stepper> stepper_;
  std::vector<double> times_;                ///< knots of the span [s]
  std::vector<double> values_, derivatives_; ///< knots times nodes
};

} // namespace clampfade

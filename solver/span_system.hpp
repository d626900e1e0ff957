// The wheel over one span as a system for SettlingStepper, and the loop that drives it to a given time.
#pragma once

#include "solver/settling.hpp"
#include "solver/wheel.hpp"

#include <functional>

namespace clampfade {

class SpanSystem {
public:
  /// Of the tolerance, what the estimate of a step's error may come to: estimates err, and hours of park or stops in
  /// one step leave no boundary that would hide it.
  static constexpr double kSafety = 0.5;

  /// roads must outlive the system; tolerance: local error of clamp per step over the first clamp.
  SpanSystem(Wheel& wheel, Roads roads, NodeTemperatures nodes, double tolerance)
      : wheel_(wheel), roads_(roads), nodes_(std::move(nodes)), tolerance_(kSafety * tolerance) {}
  SpanSystem(Wheel& wheel, const RoadLoad& road, NodeTemperatures nodes, double tolerance)
      : SpanSystem(wheel, Roads(&road, 1), std::move(nodes), tolerance) {}
  SpanSystem(Wheel&, RoadLoad&&, NodeTemperatures, double) = delete;
  /// For spans that come one after another under other roads, each with node temperatures in its own local time.
  SpanSystem(Wheel& wheel, NodeTemperatures nodes, double tolerance)
      : SpanSystem(wheel, Roads{}, std::move(nodes), tolerance) {}
  /// Turns to another span; its roads must outlive its steps.
  void begin(Roads roads) {
    roads_ = roads;
    controlled_by_.clear();
  }

  double advance(const State& x0, double t, double h, State& x1) {
    const double doubt = wheel_.step(x0, t, h, roads_, nodes_, tolerance_, x1);
    if (!(doubt <= 1)) {
      controlled_by_ = wheel_.controlled_by();
    }
    return doubt;
  }
  [[nodiscard]] double distance(const State& a, const State& b) const;

  /// Called after each accepted step with the state before and after; the step ran from t to t + h.
  using Observer = std::function<void(const State& before, const State& after, double t, double h)>;
  /// Steps from local time `from` to `to`; `step` is the proposed step size, carried on. A stud that opens under way
  /// ends its step: the instant is located. Throws NumericalError naming time and what limited the step.
  void run(SettlingStepper& stepper, State& x, double from, double to, double& step, const Observer& observer = {});

  /// What made a step too long last; empty if nothing did.
  [[nodiscard]] const std::string& controlled_by() const { return controlled_by_; }

private:
  /// Shortens an accepted step so that it ends where the first of the studs opens; leaves it where that can't be found.
  double locate_opening(const State& before, double t, double h, State& after);
  Wheel& wheel_;
  Roads roads_;
  NodeTemperatures nodes_;
  double tolerance_;
  std::string controlled_by_;
  State before_; ///< kept to spare allocations
};

} // namespace clampfade

// Parts of a day's stretches followed by their own spans: how far off the day may be, for a fraction of what a day by
// spans takes, and where the wheel stands in the middle of a stop. EQUATIONS.md 13.
#pragma once

#include "solver/settling.hpp"
#include "solver/span_system.hpp"
#include "solver/stretch.hpp"
#include "solver/temperature.hpp"
#include "solver/wheel.hpp"

#include <cstddef>
#include <functional>
#include <limits>
#include <vector>

namespace clampfade {

class SpotCheck {
public:
  /// Both must outlive the check.
  SpotCheck(const Scenario& scenario, Wheel& wheel);

  /// A new day, made of these stretches; which of them are due changes from day to day.
  void begin(std::size_t day, const std::vector<Stretch>& stretches);
  /// Whether the next of its stretches is one to hold against its spans: one in eight, at least one of a day that has
  /// any, and each that needs it.
  [[nodiscard]] bool due(const Stretch& stretch);
  /// Whether the joint itself comes and goes with the heat of the stops by more than what stretches may be off by: what
  /// one such stretch does says little of the next.
  [[nodiscard]] bool needs_it(const Stretch& stretch) const;
  /// Whether nested springs that stick would remember the heat of a stop that the stretch leaves out: it has to be run
  /// by its spans, as what they remember of one day says nothing about the next.
  [[nodiscard]] bool comes_apart(const Stretch& stretch) const;
  /// The spans of a working day.
  [[nodiscard]] const std::vector<Span>& spans();
  /// A stretch that is due, cut in two where it takes much longer than what stops make of it takes to see; the last of
  /// its parts is the one to hold. One that needs it stays whole.
  [[nodiscard]] std::vector<Stretch> parts(const Stretch& stretch);
  /// Where the wheel and its heat stand.
  struct Place {
    State x;
    std::vector<double> nodes; ///< [K]
    double step = 0;           ///< length proposed for the next step [s]
  };
  /// When the stop began that is under way, or just over, at a time; both from the start of the stretch [s].
  [[nodiscard]] double stop_begun(const Stretch& stretch, double time);
  struct Step {
    const Stretch& span; ///< that it is in
    const State& before;
    const State& after;
    double end;                       ///< [s after the start of the stretch]
    const std::vector<double>& nodes; ///< then [K]
  };
  using Observer = std::function<void(const Step&)>;
  /// Takes a place from the beginning of one of a stretch's spans to a later time by the spans themselves; both times
  /// from its start, midnight of its day [s]. Throws NumericalError.
  void follow(const Stretch& stretch, double midnight, double from, double to, Place& place,
              const Observer& observer = {});
  /// Runs the spans of a part from its start and notes how far they end from where the part did. midnight: of its day
  /// [s]. Throws NumericalError.
  void hold(const Stretch& part, double midnight, Place start, const State& x, const std::vector<double>& nodes);
  /// What the whole day may be off by, were the rest like what was looked at one in eight times: largest difference of
  /// a cold clamp over the largest first clamp [-].
  [[nodiscard]] double apart() const;
  /// Largest difference of a node temperature at the end of what was looked at [K].
  [[nodiscard]] double heat_apart() const { return heat_apart_; }

private:
  const Scenario& scenario_;
  Wheel& wheel_;
  std::vector<Span> spans_; ///< of a working day, once asked for
  HeatSolver heat_;
  SpanSystem system_{wheel_,
                     [this](double t, std::vector<double>& nodes) {
                       nodes.resize(scenario_.heat.nodes.size());
                       heat_.at(t, nodes);
                     },
                     scenario_.tolerance};
  SettlingStepper stepper_;
  std::size_t one_in_ = 1, next_ = 0, seen_ = 0;
  bool feels_brake_;
  double ripple_stuck_ = std::numeric_limits<double>::infinity(); ///< of the brake, that such springs tell of [K]
  bool whole_ = false;                                            ///< the stretch that was due last needs it
  double seconds_ = 0, held_ = 0; ///< of the stretches one in eight of which is looked at, and of what was [s]
  double heat_apart_ = 0;
  std::vector<double> off_, off_for_sure_; ///< sums over the one in eight and over those that need it, of columns [N]
  Rest rest_, other_rest_;
};

} // namespace clampfade

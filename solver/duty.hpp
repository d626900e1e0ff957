// What a day is made of: spans of constant mean speed, brake heat and load. EQUATIONS.md 12.
#pragma once

#include "models/loads.hpp"
#include "models/parabola.hpp"
#include "solver/scenario.hpp"

#include <vector>

namespace clampfade {

/// A stretch of time with constant mean conditions.
struct Span {
  double start = 0;      ///< time of day [s]
  double duration = 0;   ///< [s]
  double speed = 0;      ///< mean [m/s]
  double brake_heat = 0; ///< at this wheel end [W]
  WheelLoad load;
  bool parked = false; ///< a service may act at its start: a park, or a dwell of at least 10 min
  bool stop = false;   ///< ends with the vehicle at rest after a drive
  /// About how long a stretch of spans may be that is integrated by its mean with this one in it [s]; 0: it stays by
  /// itself.
  double together = 0;
  bool begins = false;  ///< a stop cycle or a piece of a trace begins here
  std::size_t step = 0; ///< number of the day's step it belongs to
  [[nodiscard]] double distance() const { return speed * duration; }
};

/// Loads on the wheel end for a vehicle mass [kg] and forces of brake and traction at this wheel end [N].
WheelLoad wheel_load(const VehicleSpec& vehicle, double bolt_circle, double mass, double lateral_share,
                     double dynamic_factor, double brake_force, double traction);

/// Rolling with nothing else: what a wheel carries when no duty says otherwise.
WheelLoad plain_rolling(const Scenario& scenario);

/// The spans of a working day from midnight to midnight. Throws InputError if the steps do not fit into a day.
std::vector<Span> working_day(const Scenario& scenario);
/// A day of standing still.
std::vector<Span> day_off(const Scenario& scenario);

/// Whether day d (0 is the day after tightening) is worked: working days come first in each week.
bool works(const Calendar& calendar, std::size_t day);
std::size_t days(const Calendar& calendar);

/// Ambient temperature [K] at a time since the first midnight [s].
double ambient(const DutySpec& duty, double time);

/// The parabola through the ambient temperatures at start, middle and end of a span that begins at `start` [s].
Parabola ambient_during(const DutySpec& duty, double start, double duration);

} // namespace clampfade

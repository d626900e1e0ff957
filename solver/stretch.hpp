// What the run integrates at a time: a span of the day, or many spans by their mean. EQUATIONS.md 13.
#pragma once

#include "solver/duty.hpp"
#include "solver/wheel.hpp"

#include <vector>

namespace clampfade {

/// One or more spans end to end under their mean conditions. Heat and loads are kept as integrals over the spans:
/// brake energy, forced convection, wheel turns and load cycles are those of the spans themselves.
struct Stretch {
  double start = 0;            ///< time of day [s]
  double duration = 0;         ///< [s]
  double speed = 0;            ///< mean [m/s]
  double wind = 0;             ///< speed at which the air cools as it does on average [m/s]
  double brake_heat = 0;       ///< mean, at this wheel end [W]
  double moving = 0;           ///< share of the time in which the wheel turns [-]
  std::size_t stops = 0;       ///< made in it
  bool parked = false;         ///< a service may act at its start
  std::vector<RoadLoad> roads; ///< each load with the share of the turns made under it; at least one
  std::vector<WheelLoad> peak; ///< the largest that each of `roads` stands for
  [[nodiscard]] double distance() const { return speed * duration; }
};

/// Every span by itself.
std::vector<Stretch> each_span(const std::vector<Span>& spans, const VehicleSpec& vehicle);

/// Spans of one step of the day drawn together into stretches of about the length that each span allows, cut where a
/// stop cycle begins. Loads within 2 % of each other count as one.
std::vector<Stretch> drawn_together(const std::vector<Span>& spans, const VehicleSpec& vehicle);

} // namespace clampfade

// What the run integrates at a time: a span of the day, or many spans by their mean. EQUATIONS.md 13.
#pragma once

#include "models/heat_network.hpp"
#include "solver/duty.hpp"
#include "solver/wheel.hpp"

#include <vector>

namespace clampfade {

/// The largest of some loads that count as one, and when these come [s after the start of their stretch].
struct Peak {
  WheelLoad load;
  double from = 0, to = 0;
};

/// One or more spans end to end under their mean conditions. Heat and loads are kept as integrals over the spans:
/// brake energy and forced convection with their first moments, wheel turns and load cycles are those of the spans
/// themselves.
struct Stretch {
  double start = 0;      ///< time of day [s]
  double duration = 0;   ///< [s]
  double speed = 0;      ///< mean [m/s]
  Parabola air;          ///< HeatNetwork::air_factor; mean and first moment are those of the spans
  Parabola brake_heat;   ///< at this wheel end [W]; likewise
  double spared = 0;     ///< what the air takes less of a brake that is hottest while it stands [W]
  double ripple = 0;     ///< how far what spans come and go by moves the brake off its straight course, at most [K]
  double moving = 0;     ///< share of the time in which the wheel turns [-]
  std::size_t stops = 0; ///< made in it
  std::size_t first = 0; ///< of its spans, in the list it was drawn from
  std::size_t spans = 1;
  bool parked = false;         ///< a service may act at its start
  std::vector<RoadLoad> roads; ///< each load with the share of the turns made under it; at least one
  std::vector<Peak> peaks;     ///< of each of `roads`
  [[nodiscard]] double distance() const { return speed * duration; }
};

/// Every span by itself.
std::vector<Stretch> each_span(const std::vector<Span>& spans, const VehicleSpec& vehicle);

/// Whether the spans of a park are drawn together too. Apart, each of them is an occasion for a service.
enum class Parks { Apart, Together };

/// Spans of one step of the day drawn together into stretches of about the length that each span allows, cut where a
/// stop cycle begins. Loads within 2 % of each other count as one. `brake` is the node that takes the brakes' heat.
std::vector<Stretch> drawn_together(const std::vector<Span>& spans, const VehicleSpec& vehicle, const HeatNode& brake,
                                    Parks parks);

/// A stretch drawn from `spans` in two: its last whole stop cycles that take at least so many seconds, and what comes
/// before; one alone where nothing does.
std::vector<Stretch> cut(const Stretch& whole, double last, const std::vector<Span>& spans, const VehicleSpec& vehicle,
                         const HeatNode& brake);

} // namespace clampfade

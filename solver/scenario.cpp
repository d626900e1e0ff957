#include "solver/scenario.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

std::span<const Field<VehicleSpec>> VehicleSpec::fields() {
  static const Field<VehicleSpec> list[] = {
      {{"mass", "kg", Quantity::Dimensional, {1, 1e7}, {3e3, 60e3}, "mass of the vehicle"}, &VehicleSpec::mass, {}},
      {{"wheel_ends", "1", Quantity::Count, {1, 200}, {}, "wheel ends that share the braking"},
       &VehicleSpec::wheel_ends,
       {}},
      {{"driven_ends",
        "1",
        Quantity::Count,
        {0, 200},
        {},
        "wheel ends that share the traction, 0 for a wheel that is not driven"},
       &VehicleSpec::driven_ends,
       0.0},
      {{"load", "N", Quantity::Dimensional, {1, 1e7}, {5e3, 100e3}, "static load W on this wheel end"},
       &VehicleSpec::load,
       {}},
      {{"rolling_radius", "m", Quantity::Dimensional, {0.01, 5}, {0.3, 0.8}, "rolling radius of the tyre", "m"},
       &VehicleSpec::rolling_radius,
       {}},
      {{"load_offset",
        "m",
        Quantity::Dimensional,
        {-1, 1},
        {-0.3, 0.3},
        "offset e of the load from the clamped faces along the axle"},
       &VehicleSpec::load_offset,
       0.0},
      {{"dynamic_factor", "1", Quantity::Number, {0.1, 20}, {1, 3}, "dynamic factor k_dyn on the static load"},
       &VehicleSpec::dynamic_factor,
       1.0},
      {{"brake_share", "1", Quantity::Number, {0, 1}, {}, "share of the kinetic energy that the service brakes take"},
       &VehicleSpec::brake_share,
       1.0},
      {{"lateral_share", "1", Quantity::Number, {0, 2}, {0, 0.5}, "side force of cornering as a share of the load"},
       &VehicleSpec::lateral_share,
       0.0},
  };
  return list;
}

std::span<const Field<AmbientSpec>> AmbientSpec::fields() {
  static const Field<AmbientSpec> list[] = {
      {{"mean", "K", Quantity::Point, {150, 1000}, {233.15, 323.15}, "mean air temperature of the year"},
       &AmbientSpec::mean,
       288.15},
      {{"daily_swing", "K", Quantity::Difference, {0, 200}, {0, 20}, "mean to peak over the day, warmest at 15 h"},
       &AmbientSpec::daily_swing,
       0.0},
      {{"yearly_swing", "K", Quantity::Difference, {0, 200}, {0, 30}, "mean to peak over the year, warmest on day 200"},
       &AmbientSpec::yearly_swing,
       0.0},
  };
  return list;
}

std::span<const Field<ParkStep>> ParkStep::fields() {
  static const Field<ParkStep> list[] = {
      {{"until",
        "s",
        Quantity::Dimensional,
        {0, units::kDay},
        {},
        "time of day at which the park ends, at most 24 h",
        "h"},
       &ParkStep::until,
       {}},
  };
  return list;
}

std::span<const Field<DriveStep>> DriveStep::fields() {
  static const Field<DriveStep> list[] = {
      {{"distance", "m", Quantity::Dimensional, {1e-3, 1e7}, {}, "distance driven", "km"}, &DriveStep::distance, {}},
      {{"speed", "m/s", Quantity::Dimensional, {1e-3, 100}, {0.5, 35}, "constant speed"}, &DriveStep::speed, {}},
      {{"grade",
        "1",
        Quantity::Number,
        {-0.5, 0.5},
        {-0.15, 0.15},
        "slope of the road, negative downhill, a number or per cent"},
       &DriveStep::grade,
       0.0},
      {{"held_by_brakes",
        "1",
        Quantity::Number,
        {0, 1},
        {},
        "share of the downhill force that the service brakes take"},
       &DriveStep::held_by_brakes,
       0.0},
  };
  return list;
}

std::span<const Field<RoundStep>> RoundStep::fields() {
  static const Field<RoundStep> list[] = {
      {{"stops", "1", Quantity::Count, {1, 100000}, {}, "number of stops"}, &RoundStep::stops, {}},
      {{"spacing", "m", Quantity::Dimensional, {0.1, 1e6}, {5, 20e3}, "distance from stop to stop", "m"},
       &RoundStep::spacing,
       {}},
      {{"top_speed",
        "m/s",
        Quantity::Dimensional,
        {0.01, 100},
        {1, 30},
        "speed held between stops, if the spacing lets it be reached"},
       &RoundStep::top_speed,
       {}},
      {{"acceleration", "m/s^2", Quantity::Dimensional, {1e-3, 50}, {0.2, 3}, "acceleration from a stop"},
       &RoundStep::acceleration,
       {}},
      {{"deceleration", "m/s^2", Quantity::Dimensional, {1e-3, 50}, {0.2, 6}, "deceleration to a stop"},
       &RoundStep::deceleration,
       {}},
      {{"dwell", "s", Quantity::Dimensional, {0, units::kDay}, {}, "standstill at each stop"}, &RoundStep::dwell, 0.0},
  };
  return list;
}

std::span<const Field<DragStep>> DragStep::fields() {
  static const Field<DragStep> list[] = {
      {{"power", "W", Quantity::Dimensional, {0, 1e7}, {0, 50e3}, "heat of a dragging brake at this wheel end", "kW"},
       &DragStep::power,
       {}},
      {{"speed", "m/s", Quantity::Dimensional, {0, 100}, {0, 35}, "constant speed"}, &DragStep::speed, {}},
      {{"duration", "s", Quantity::Dimensional, {1e-3, units::kDay}, {}, "how long", "min"}, &DragStep::duration, {}},
  };
  return list;
}

std::span<const Field<Calendar>> Calendar::fields() {
  static const Field<Calendar> list[] = {
      {{"working_days_per_week", "1", Quantity::Count, {0, 7}, {}, "days driven in each week, the first ones"},
       &Calendar::working_days_per_week,
       5.0},
      {{"weeks", "1", Quantity::Count, {1, 1040}, {}, "weeks simulated"}, &Calendar::weeks, 1.0},
      {{"start_day", "1", Quantity::Count, {1, 366}, {}, "day of the year on which the wheel is tightened"},
       &Calendar::start_day,
       100.0},
  };
  return list;
}

double RoundStep::peak_speed() const {
  return std::min(top_speed, std::sqrt(2 * spacing * acceleration * deceleration / (acceleration + deceleration)));
}

double RoundStep::cruise() const {
  const double peak = peak_speed();
  return std::max(0.0, spacing - peak * peak / (2 * acceleration) - peak * peak / (2 * deceleration));
}

double RoundStep::stop_time() const {
  const double peak = peak_speed();
  return peak / acceleration + cruise() / peak + peak / deceleration + dwell;
}

std::vector<std::size_t> star_order(std::size_t count) {
  std::vector<std::size_t> order;
  if (count % 2 == 0) {
    const std::size_t half = count / 2;
    for (const std::size_t first : {std::size_t{0}, std::size_t{1}}) {
      for (std::size_t pair = first; pair < half; pair += 2) {
        order.push_back(pair);
        order.push_back(pair + half);
      }
    }
    return order;
  }
  // (count - 1)/2 and an odd count have no common divisor, so the steps reach every stud.
  const std::size_t step = std::max<std::size_t>((count - 1) / 2, 1);
  for (std::size_t i = 0; i < count; ++i) {
    order.push_back(i * step % count);
  }
  return order;
}

std::vector<DesignCase> default_design_cases() {
  return {{"hard stop", 6.0, {}, {}}, {"corner", {}, 0.35, {}}, {"kerb", {}, {}, 2.0}};
}

} // namespace clampfade

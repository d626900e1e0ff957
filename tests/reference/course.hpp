// What the wheels of the reference checks are put through, and the program's own run of it.
#pragma once

#include "models/constants.hpp"
#include "solver/duty.hpp"
#include "solver/temperature.hpp"
#include "tests/reference/loss_ode.hpp"
#include "tests/support/bench.hpp"

#include <string>
#include <vector>

namespace clampfade::test {

/// Every mechanism that takes thickness, on one stud; demo values. Few modes, so that a dense solver is quick.
inline ScenarioText every_mechanism() {
  ScenarioText s;
  s.studs = 1;
  s.disc_material = "youngs: [[20 degC, 70 GPa], [200 degC, 60 GPa]], poisson: 0.33, expansion: 18e-6 1/K, creep: "
                    "{coefficient: 5e-6 1/s, exponent: 6, activation: 95 kJ/mol}";
  s.coating =
      "modulus: 3 GPa, glass_transition: 65 degC, transition_width: 8 K, compaction_cold: 0.05, compaction_hot: "
      "0.15, half_pressure: 30 MPa, relaxation: {shortest: 1e1 s, longest: 1e9 s, modes: 5}, activation_below: "
      "180 kJ/mol, turns: 1e6, pigment: 0.35, flow: {viscosity: 1e8 Pa*s, at: 120 degC}, breakdown: {rate: 0.5 "
      "1/h, at: 120 degC, activation: 120 kJ/mol}";
  s.disc += ", head_side: {coating: paint, thickness: 80 um}";
  // Soft faces: the nut's face slides a little while braking and the stud does not run away.
  s.interface_default =
      "embedding: 3 um, friction: 0.15, tangential_compliance: 2.7e-8 m/N, wear: 1e-15 1/Pa, unseated: 5 um";
  s.thread_contact = "embedding: 3 um";
  // A locking nut turns back only as far as its torque lets it.
  s.nut +=
      ", seat: {outer: 46 mm, inner: 25 mm}, prevailing_torque: 26 N*m, spring_washers: {outer: 47 mm, inner: 23.5 "
      "mm, thickness: 7 mm, cone_height: 0.40 mm, material: stud steel, parallel: 3, series: 1, friction: 0, set: "
      "[[20 degC, 0], [100 degC, 0.03]]}";
  return s;
}

inline const std::vector<Mechanism>& mechanisms_at_work() {
  static const std::vector<Mechanism> all = {
      Mechanism::Embedding,   Mechanism::Unseated,         Mechanism::CoatingCreep,
      Mechanism::CoatingFlow, Mechanism::CoatingBreakdown, Mechanism::MetalCreep,
      Mechanism::WasherSet,   Mechanism::NutRotation,      Mechanism::Wear};
  return all;
}

/// A span with everything that is constant over it.
struct Leg {
  double duration = 0; ///< [s]
  RoadLoad road;
  HeatSpan heat;
};

/// The working day of a scenario, up to `until` [s].
inline std::vector<Leg> legs(const Scenario& s, double until) {
  std::vector<Leg> all;
  for (const Span& span : working_day(s)) {
    if (span.start + span.duration > until) {
      break;
    }
    RoadLoad road{span.load, 0, 0};
    if (span.speed > 0) {
      road.turn_rate = span.speed / (2 * kPi * s.vehicle.rolling_radius);
      road.cycle_rate = road.turn_rate * span.load.demand() / s.vehicle.load;
    }
    all.push_back({span.duration,
                   road,
                   {span.duration, ambient_during(s.duty, span.start, span.duration),
                    HeatNetwork::air_factor(span.speed), span.brake_heat}});
  }
  return all;
}

/// Nuts' advances of a bench, as LossOde wants them.
inline std::vector<double> advances(const Bench& bench) {
  std::vector<double> all;
  for (std::size_t c = 0; c < bench.wheel.columns(); ++c) {
    all.push_back(bench.wheel.advance_of_nut(bench.x, c));
  }
  return all;
}

} // namespace clampfade::test

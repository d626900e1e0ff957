// Plans by hand: a wheel without a retorque, with one at two instants and with both.
#pragma once

#include "solver/plan_result.hpp"

#include <cmath>
#include <string>
#include <vector>

namespace clampfade::test {

inline constexpr double kPlanDay = 86400;

/// A retorque after so many days, 50 km each.
inline PlanRetorque plan_retorque(double days) {
  PlanRetorque r;
  r.asked_time = days * kPlanDay;
  r.time = (days + 0.5) * kPlanDay;
  r.distance = (days + 0.5) * 50e3;
  r.clamp_before = 150e3 - 500 * days;
  r.clamp_before_mean = r.clamp_before + 2e3;
  r.clamp_after = 178e3;
  r.clamp_after_mean = 179e3;
  r.gain = r.clamp_after_mean - r.clamp_before_mean;
  r.torque_lowest = r.torque_highest = 644;
  r.check_torque_lowest = 560 - days;
  r.check_torque_highest = 580 - days;
  r.nuts = r.moved = 10;
  return r;
}

/// `below`: days after which it first falls below; not a number for never.
inline PlanCase plan_case(const std::vector<double>& days, double lowest, double below = kNotANumber) {
  PlanCase c;
  for (const double d : days) {
    c.retorques.push_back(plan_retorque(d));
  }
  c.status = RunStatus::Complete;
  c.lowest_clamp = lowest;
  c.lowest_time = 100 * kPlanDay;
  c.lowest_distance = 5000e3;
  c.lowest_stud = 2;
  c.below_time = below * kPlanDay;
  c.below_distance = below * 50e3;
  c.end_clamp = lowest + 1e3;
  c.end_clamp_mean = lowest + 3e3;
  c.end_stud = 2;
  c.loss_after = 33e3;
  c.utilisation_tightening = 0.85;
  c.proof_share = 0.7;
  c.clamp = {180e3, 150e3, lowest + 1e3};
  return c;
}

/// 100 days, 120 kN required, instants after 5 and 40 days; nothing keeps the clamp.
inline Plan plan_example() {
  Plan p;
  p.title = "Invented wheel \u2013 demo";
  p.scenario_text = "schema: 1\n";
  p.warnings = {"an invented warning"};
  p.end_time = 100 * kPlanDay;
  p.required_clamp = 120e3;
  p.first_clamp = 180e3;
  p.first_clamp_mean = 181e3;
  p.time = {0, 50 * kPlanDay, 100 * kPlanDay};
  p.distance = {0, 2500e3, 5000e3};
  p.cases = {plan_case({}, 90e3, 60), plan_case({5}, 110e3, 90), plan_case({40}, 115e3, 95),
             plan_case({5, 40}, 118e3, 99)};
  return p;
}

} // namespace clampfade::test

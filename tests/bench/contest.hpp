// The problems that integrators of other libraries get, each a day of stops:
//   all-one, all-ten          every mechanism at work, a locking nut and spring washers, as in reference/test_cvode.cpp
//   painted-one, painted-ten  two discs painted on both faces, sixteen modes each, no washers, like the shipped
//   scenario
// "one" is one stud with a tenth of the wheel's load, "ten" a ring of ten tied studs, unlike in clamp.
#pragma once

#include "solver/settling.hpp"
#include "solver/temperature.hpp"
#include "tests/reference/course.hpp"

#include <algorithm>
#include <stdexcept>
#include <string>
#include <vector>

namespace clampfade::test {

/// Throws std::invalid_argument for a problem that is none of those above.
inline ScenarioText contest_text(const std::string& problem, int stops) {
  ScenarioText s;
  bool known = true;
  if (problem.starts_with("all-")) {
    s = every_mechanism();
    s.interface_default.replace(s.interface_default.find("2.7e-8"), 6, "4.2e-8");
  } else if (problem.starts_with("painted-")) {
    s.coating =
        "modulus: 3 GPa, glass_transition: 65 degC, transition_width: 8 K, compaction_cold: 0.05, compaction_hot: "
        "0.15, half_pressure: 30 MPa, relaxation: {shortest: 1e-2 s, longest: 1e14 s, modes: 16}, "
        "activation_below: 180 kJ/mol, turns: 1e6, pigment: 0.35, flow: {viscosity: 1e9 Pa*s, at: 120 degC}, "
        "breakdown: {rate: 0.01 1/h, at: 180 degC, activation: 120 kJ/mol}";
    s.disc += ", head_side: {coating: paint, thickness: 80 um}, nut_side: {coating: paint, thickness: 80 um}";
    s.second_disc = s.disc;
    s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 1e-16 1/Pa";
    s.thread_contact = "embedding: 3 um";
  } else {
    known = false;
  }
  const bool ten = problem.ends_with("-ten");
  if (!known || (!ten && !problem.ends_with("-one"))) {
    throw std::invalid_argument("no problem " + problem);
  }
  s.day = "{park: {until: 5 h}}, {round: {stops: " + std::to_string(stops) +
          ", spacing: 120 m, top_speed: 36 km/h, acceleration: 0.8 m/s^2, deceleration: 1.2 m/s^2, dwell: 10 s}}, "
          "{park: {until: 24 h}}";
  if (ten) {
    s.studs = 10;
    s.ring = "active: true, width: 70 mm, factor: 10";
    s.nodes = "joint: {capacity: 60 kJ/K, still: 60 W/K, moving: 5 W/K}";
  } else {
    s.studs = 1;
    s.nodes = "joint: {capacity: 6 kJ/K, still: 6 W/K, moving: 0.5 W/K}";
    s.vehicle = "mass: 2.6 t, wheel_ends: 6, driven_ends: 4, load: 4.5 kN, rolling_radius: 0.50 m, dynamic_factor: "
                "1.3, brake_share: 0.95, lateral_share: 0.05"; // a tenth of a wheel
  }
  return s;
}

/// The day span by span: next() moves on; ode() and nodes() are those of the span it moved to.
class Contest {
public:
  Contest(const std::string& problem, int stops, double tolerance = 1e-6)
      : bench(contest_text(problem, stops), tolerance), heat_(bench.scenario.heat), temperatures_(bench.cold()),
        legs_(legs(bench.scenario, 86400)) {
    const std::vector<double> clamps =
        bench.wheel.columns() > 1
            ? std::vector<double>{118e3, 121e3, 119e3, 122e3, 120e3, 118e3, 123e3, 119e3, 121e3, 120e3}
            : std::vector<double>{120e3};
    for (std::size_t c = 0; c < clamps.size(); ++c) {
      bench.tighten(c, clamps[c]);
    }
    ode_.emplace_back(bench.scenario, bench.joint, advances(bench), *std::max_element(clamps.begin(), clamps.end()));
  }
  Contest(const Contest&) = delete;
  Contest& operator=(const Contest&) = delete;

  /// The next span, or none.
  const Leg* next() {
    if (at_ == legs_.size()) {
      return nullptr;
    }
    const Leg& leg = legs_[at_++];
    heat_.run(leg.heat, temperatures_);
    ode().span(leg.road, nodes());
    return &leg;
  }
  [[nodiscard]] LossOde& ode() { return ode_.front(); }
  [[nodiscard]] NodeTemperatures nodes() const {
    return [this](double t, std::vector<double>& out) {
      out.resize(temperatures_.size());
      heat_.at(t, out);
    };
  }
  [[nodiscard]] std::size_t spans() const { return legs_.size(); }

  Bench bench;

private:
  HeatSolver heat_;
  std::vector<double> temperatures_;
  std::vector<Leg> legs_;
  std::size_t at_ = 0; ///< the leg that next() moves to
  std::vector<LossOde> ode_;
};

} // namespace clampfade::test

// Random wheels, and what may happen to them: structs of the program with sensible demo values, drawn by RapidCheck.
// Every draw shrinks towards the plain case: fewer studs, no paint, bare steel, one short stretch.
#pragma once

#include "models/units.hpp"
#include "solver/duty.hpp"
#include "solver/wheel.hpp"
#include "tests/support/scenario_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <ostream>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::test {

/// Evenly between low and high, on a grid of a million; shrinks towards low.
inline rc::Gen<double> between(double low, double high) {
  const auto grid = rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, 1000001));
  return rc::gen::map(grid, [=](int k) { return low + (high - low) * k / 1e6; });
}
/// Evenly in the logarithm, low > 0.
inline rc::Gen<double> spread(double low, double high) {
  return rc::gen::map(between(0, 1), [=](double share) { return low * std::pow(high / low, share); });
}
/// low to high, both included.
inline rc::Gen<std::size_t> count(std::size_t low, std::size_t high) {
  return rc::gen::resize(rc::kNominalSize, rc::gen::inRange<std::size_t>(low, high + 1));
}
/// True with probability p; shrinks towards false.
inline rc::Gen<bool> chance(double p) {
  const auto grid = rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, 1000));
  return rc::gen::map(grid, [=](int k) { return k >= 1000 * (1 - p); });
}

/// What a drawn wheel may have. A property that needs less says so.
struct Allowed {
  bool ring = true;     ///< discs that tie neighbours together
  bool uneven = true;   ///< studs that differ, discs that are not flat
  bool washers = true;  ///< conical spring washers
  bool sticking = true; ///< with friction between nested cones
  bool losses = true;   ///< embedding, unseated gaps, paint, creep, washer set
  bool yield = true;    ///< studs that may stretch for good
};

// The draws below are for rc::gen::exec: each `*generator` is one draw.

inline Table draw_youngs(double cold) { return Table({{293.15, cold}, {473.15, cold * *between(0.85, 1)}}); }

inline Material draw_metal(bool creeps) {
  Material m;
  m.name = "demo metal";
  m.youngs = draw_youngs(*between(70e9, 210e9));
  m.poisson = *between(0.25, 0.35);
  m.expansion = *between(10e-6, 24e-6);
  if (creeps && *chance(0.4)) {
    m.creep = MetalCreep{5e-6, *between(3, 7), *between(90e3, 140e3)};
  }
  return m;
}

inline Coating draw_coating() {
  Coating c;
  c.name = "demo paint";
  c.modulus = *between(1e9, 5e9);
  c.glass_transition = *between(310, 400);
  c.transition_width = *between(4, 15);
  c.compaction_cold = *between(0.02, 0.08);
  c.compaction_hot = *between(0.1, 0.3);
  c.half_pressure = *between(10e6, 60e6);
  c.activation_below = *between(80e3, 250e3);
  c.turns = *spread(1e5, 1e7);
  c.pigment = *between(0.2, 0.4);
  c.relaxation = {*spread(1e-2, 1e1), *spread(1e6, 1e14), *count(1, 12)};
  if (*chance(0.4)) {
    c.flow = CoatingFlow{*spread(1e8, 1e11), *between(360, 420)};
  }
  if (*chance(0.3)) {
    c.breakdown = CoatingBreakdown{*spread(1e-7, 1e-4), *between(390, 440), *between(80e3, 140e3)};
  }
  return c;
}

inline std::optional<FaceCoating> draw_paint() {
  if (!*chance(0.4)) {
    return std::nullopt;
  }
  return FaceCoating{draw_coating(), *between(20e-6, 150e-6)};
}

inline WasherSpec draw_washers(bool sticking, bool set) {
  WasherSpec w;
  w.outer = 47e-3;
  w.inner = 23.5e-3;
  w.thickness = *between(5e-3, 8e-3);
  w.cone_height = *between(0.3e-3, 0.9e-3);
  w.material.name = "demo spring steel";
  w.material.youngs = draw_youngs(206e9);
  w.material.expansion = 11e-6;
  w.parallel = *count(1, 3);
  w.series = *count(1, 2);
  w.friction = sticking && *chance(0.5) ? *between(0.01, 0.03) : 0;
  if (set && *chance(0.5)) {
    w.set = Table({{293.15, 0}, {373.15, *between(0.01, 0.05)}});
  }
  return w;
}

/// The scenarios that the draws start from: a single wheel and duals, with a warm hub and cooler discs.
inline const Scenario& base_scenario(bool duals) {
  const auto make = [](bool twin) {
    ScenarioText s;
    s.nodes = "hub: {capacity: 40 kJ/K, still: 5 W/K, moving: 1 W/K}, rim: {capacity: 20 kJ/K, still: 8 W/K, moving: 2 "
              "W/K}";
    s.links = "[hub, rim, 40 W/K]";
    s.brake = "hub";
    s.stud_node = "[hub, rim]";
    s.hub = "thickness: 32 mm, hole: 24 mm, pad: 75 mm, node: hub";
    s.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: rim";
    s.second_disc = twin ? s.disc : "";
    return s.scenario();
  };
  static const Scenario single = make(false);
  static const Scenario dual = make(true);
  return duals ? dual : single;
}

inline std::vector<std::size_t> draw_order(std::size_t n) {
  std::vector<std::size_t> order;
  for (std::size_t k = 0; k < n; ++k) {
    order.insert(order.begin() + static_cast<std::ptrdiff_t>(*count(0, k)), k);
  }
  return order;
}

inline Scenario draw_wheel(const Allowed& may) {
  Scenario s = base_scenario(*chance(0.4));
  JointSpec& j = s.joint;
  j.ring.active = may.ring && *chance(0.5);
  j.ring.factor = *between(1, 20);
  const std::size_t n = *rc::gen::element<std::size_t>(5, 6, 8, 10);
  j.studs.count = n;
  j.studs.bolt_circle = *between(0.2, 0.34);
  j.studs.material.youngs = draw_youngs(205e9);
  j.studs.material.expansion = *between(10e-6, 13e-6);
  const double yield = may.yield ? *between(700e6, 940e6) : 5e9;
  j.studs.property_class.yield = Table({{293.15, yield}, {573.15, (may.yield ? *between(0.8, 1) : 1) * yield}});
  if (*chance(0.3)) {
    j.cone_angle = *between(0.3, 0.6);
  }
  for (PartSpec& p : j.stack) {
    p.material = draw_metal(may.losses && p.wheel);
    p.thickness = p.wheel ? *between(8e-3, 20e-3) : *between(15e-3, 50e-3);
    p.pad = *between(60e-3, 85e-3);
    if (may.losses) {
      p.head_side = draw_paint();
      p.nut_side = draw_paint();
    }
    if (p.wheel && may.uneven && *chance(0.5)) {
      p.flatness = Flatness{*between(0.01e-3, 0.12e-3), *count(1, 3)};
    }
  }
  for (InterfaceSpec& i : j.interfaces) {
    i.embedding = may.losses ? *between(0, 6e-6) : 0;
    i.friction = *between(0.1, 0.2);
    i.tangential_compliance = *spread(1e-11, 1e-9);
    i.wear = may.losses ? *spread(1e-18, 1e-15) : 0;
    i.contact_compliance = *between(0, 2e-11);
    i.unseated = may.losses && *chance(0.15) ? *between(2e-6, 30e-6) : 0;
  }
  j.thread_embedding = may.losses ? *between(0, 4e-6) : 0;
  if (may.washers && *chance(0.4)) {
    j.nut.seat_outer = 47e-3;
    j.nut.seat_inner = 25e-3;
    j.nut.spring_washers = draw_washers(may.sticking, may.losses);
  }

  TighteningSpec& w = s.tightening;
  const double torque = *between(350, 700);
  w.torque.assign(n, torque);
  w.thread_friction.assign(n, *between(0.1, 0.15));
  w.bearing_friction.assign(n, *between(0.1, 0.15));
  if (may.uneven && *chance(0.6)) {
    for (std::size_t k = 0; k < n; ++k) {
      w.torque[k] *= *between(0.7, 1);
      w.thread_friction[k] *= *between(0.9, 1.1);
      w.bearing_friction[k] *= *between(0.9, 1.1);
    }
  }
  w.passes = *chance(0.5) ? std::vector<double>{0.5, 1} : std::vector<double>{1};
  w.order = draw_order(n);
  w.pause = *chance(0.5) ? 5 : 0;
  w.breakaway = Table(*between(1, 1.2));
  return s;
}

/// A tightened wheel's make and tightening; its duty is the base's: a week in the yard.
inline rc::Gen<Scenario> wheels(Allowed may = {}) {
  return rc::gen::exec([may] { return draw_wheel(may); });
}

/// Some time under one road load while the temperatures of the nodes go linearly to new ones.
struct Stretch {
  double duration = 0;             ///< [s]
  std::vector<double> temperature; ///< of the nodes at its end [K]
  RoadLoad road;
};

/// Rolling for `duration` with a random brake force.
inline RoadLoad draw_road(const Scenario& s) {
  RoadLoad road;
  road.load = wheel_load(s.vehicle, s.joint.studs.bolt_circle, *between(10e3, 26e3), *between(0, 0.1), *between(1, 1.5),
                         *between(0, 12e3), *between(0, 3e3));
  road.turn_rate = *between(0.3, 7);
  road.cycle_rate = road.turn_rate * road.load.demand() / s.vehicle.load;
  return road;
}

struct Heat {
  double low = 263; ///< [K]
  double high = 430;
};

/// rolls: whether the wheel may roll; at rest there is neither wear nor rotation.
inline Stretch draw_stretch(const Scenario& s, bool rolls, Heat heat = {}) {
  Stretch stretch;
  const bool rolling = rolls && *chance(0.5);
  stretch.duration = *spread(10, rolling ? 1e4 : 5e5);
  for (std::size_t i = 0; i < s.heat.nodes.size(); ++i) {
    stretch.temperature.push_back(*between(heat.low, heat.high));
  }
  if (rolling) {
    stretch.road = draw_road(s);
  }
  return stretch;
}

inline rc::Gen<std::vector<Stretch>> courses(const Scenario& s, bool rolls, Heat heat = {}) {
  return rc::gen::exec([s, rolls, heat] {
    std::vector<Stretch> course;
    for (std::size_t k = *count(1, 3); k > 0; --k) {
      course.push_back(draw_stretch(s, rolls, heat));
    }
    return course;
  });
}

/// A day of standing, driving, stops and a dragging brake, worked on one or two days of a week.
inline DutySpec draw_duty() {
  DutySpec duty;
  duty.ambient = {*between(260, 305), *between(0, 10), *between(0, 10)};
  const auto add = [&duty](auto step) { duty.day.push_back({step, {}}); };
  add(ParkStep{*between(0, 8) * units::kHour});
  if (*chance(0.7)) {
    add(DriveStep{*between(1e3, 40e3), *between(8, 25), *between(-0.05, 0.05), *between(0, 1)});
  }
  if (*chance(0.7)) {
    add(RoundStep{*count(1, 12), *between(50, 800), *between(4, 14), *between(0.5, 1), *between(0.8, 2),
                  *between(0, 60)});
  }
  if (*chance(0.5)) {
    add(DragStep{*between(500, 6e3), *between(4, 15), *between(600, 5400)});
  }
  duty.calendar.working_days_per_week = *count(1, 2);
  duty.calendar.weeks = 1;
  return duty;
}

/// Wheels with a duty of a week, for whole runs.
inline rc::Gen<Scenario> weeks(Allowed may = {}) {
  return rc::gen::exec([may] {
    Scenario s = draw_wheel(may);
    s.duty = draw_duty();
    return s;
  });
}

inline void showValue(const Stretch& s, std::ostream& out) {
  out << fmt::format("{:.6g} s to {} K at {:.4g} turns/s under Q {:.5g} N", s.duration, s.temperature, s.road.turn_rate,
                     s.road.load.demand());
}

} // namespace clampfade::test

namespace clampfade {

inline void showValue(const RecordSpec& r, std::ostream& out) {
  out << fmt::format("every {:.9g} s", r.every.value_or(0));
  for (const When& w : r.at) {
    out << fmt::format(", at {:.9g} {}", w.value, w.kind == When::Kind::Time ? "s" : "m");
  }
}

/// What RapidCheck prints of a wheel that breaks a property. Found by the type's namespace.
inline void showValue(const Scenario& s, std::ostream& out) {
  const JointSpec& j = s.joint;
  out << fmt::format("{} studs on {:.4g} m, ring {} x {:.4g}, yield {:.4g} Pa\n", j.studs.count, j.studs.bolt_circle,
                     j.ring.active, j.ring.factor, j.studs.property_class.yield(293.15));
  const auto paint = [&](const char* side, const std::optional<FaceCoating>& film) {
    if (film) {
      const Coating& c = film->coating;
      out << fmt::format("    {}: {:.4g} m, T_g {:.5g} K, {} modes{}{}\n", side, film->thickness, c.glass_transition,
                         c.relaxation.modes, c.flow ? ", flows" : "", c.breakdown ? ", burns" : "");
    }
  };
  for (const PartSpec& p : j.stack) {
    out << fmt::format("  {}: {:.4g} m, pad {:.4g} m, E {:.4g} Pa{}", p.name, p.thickness, p.pad,
                       p.material.youngs(293.15), p.material.creep ? ", creeps" : "");
    if (p.flatness) {
      out << fmt::format(", wavy {:.4g} m x {}", p.flatness->amplitude, p.flatness->lobes);
    }
    out << '\n';
    paint("head side", p.head_side);
    paint("nut side", p.nut_side);
  }
  for (const InterfaceSpec& i : j.interfaces) {
    out << fmt::format("  {}: embedding {:.4g} m, unseated {:.4g} m, wear {:.4g} 1/Pa\n", i.name, i.embedding,
                       i.unseated, i.wear);
  }
  if (const auto& w = j.nut.spring_washers) {
    out << fmt::format("  washers: t {:.4g} m, h0 {:.4g} m, {} x {}, friction {:.4g}{}\n", w->thickness, w->cone_height,
                       w->parallel, w->series, w->friction, w->set.empty() ? "" : ", set");
  }
  out << fmt::format("  torque {} N m, mu_t {}, mu_b {}, order {}, passes {}, pause {} s, breakaway {:.4g}",
                     s.tightening.torque, s.tightening.thread_friction, s.tightening.bearing_friction,
                     s.tightening.order, s.tightening.passes, s.tightening.pause, s.tightening.breakaway(0));
  for (const DayStep& d : s.duty.day) {
    if (const auto* park = std::get_if<ParkStep>(&d.what)) {
      out << fmt::format("\n  park until {:.6g} s", park->until);
    } else if (const auto* drive = std::get_if<DriveStep>(&d.what)) {
      out << fmt::format("\n  drive {:.6g} m at {:.4g} m/s, grade {:.3g}", drive->distance, drive->speed, drive->grade);
    } else if (const auto* round = std::get_if<RoundStep>(&d.what)) {
      out << fmt::format("\n  {} stops each {:.4g} m at {:.4g} m/s", round->stops, round->spacing, round->top_speed);
    } else if (const auto* drag = std::get_if<DragStep>(&d.what)) {
      out << fmt::format("\n  drag {:.5g} W for {:.5g} s", drag->power, drag->duration);
    }
  }
}

} // namespace clampfade

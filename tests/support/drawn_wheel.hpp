// A history of an invented wheel with everything that a page draws: geometry, coatings, a retorque, heat.
#pragma once

#include "models/law.hpp"
#include "solver/io/history.hpp"

#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace clampfade::test {

/// What a case may change.
struct DrawnWheel {
  std::string title = "Invented wheel";
  std::string node = "drum"; ///< name of the first
  std::size_t studs = 10;
  double days = 30;
  double every = 3600; ///< [s] between records
  double retorque = 0; ///< day of one; 0: none
  double removed = 0;  ///< day on which the nut of stud 3 is taken off; 0: never
  double required = 120e3;
  bool geometry = true;
  bool layers = true;
  bool washers = false;
  double stress = 0; ///< over yield, under the wrench; 0: not told
};

inline constexpr double kDrawnDay = 86400;

/// Losses of a stud by a time: two mechanisms, more for studs of higher number.
inline double drawn_embedding(double t) { return 3e3 * (1 - std::exp(-t / 7200)); }
inline double drawn_creep(double t, std::size_t stud) {
  return 70e3 * (1 + 0.01 * static_cast<double>(stud)) * (1 - std::exp(-t / (60 * kDrawnDay)));
}

inline RecordRow drawn_record(const DrawnWheel& w, double t, bool retorqued) {
  RecordRow r;
  r.time = t;
  r.distance = t / kDrawnDay * 50e3;
  const double hour = std::fmod(t, kDrawnDay) / 3600;
  const double heat = hour > 6 && hour < 18 ? 60 * std::sin((hour - 6) / 12 * std::acos(-1.0)) : 0;
  // One record is hotter than all others.
  const double peak = std::abs(t - (5 * kDrawnDay + 12 * 3600)) < 1 ? 40 : 0;
  r.temperature = {290 + 2 * heat + 2 * peak, 290 + heat + peak, 290 + 0.9 * heat};
  r.slip_margin = heat > 0 ? 2 - t / kDrawnDay * 1e-3 : std::numeric_limits<double>::infinity();
  r.loss.assign(w.studs * kMechanisms, 0);
  r.loss_clamp.assign(w.studs * kMechanisms, 0);
  for (std::size_t s = 0; s < w.studs; ++s) {
    const double e = drawn_embedding(t);
    const double c = drawn_creep(t, s);
    const double gain = retorqued ? 12e3 : 0;
    const bool off = w.removed > 0 && s == 2 && t > w.removed * kDrawnDay;
    const double cold = off ? 0 : 180e3 + 100 * static_cast<double>(s) - e - c + gain;
    r.loss_clamp[s * kMechanisms + index(Mechanism::Embedding)] = e;
    r.loss_clamp[s * kMechanisms + index(Mechanism::CoatingCreep)] = c;
    r.loss[s * kMechanisms + index(Mechanism::Embedding)] = e * 1.6e-9;
    r.loss[s * kMechanisms + index(Mechanism::CoatingCreep)] = c * 1.6e-9;
    r.clamp_cold.push_back(cold);
    r.clamp.push_back(off ? 0 : cold - 20 * heat);
    r.fatigue_amplitude.push_back(6e6);
    r.utilisation.push_back(0.6);
    r.seat_pressure.push_back(163e6);
    r.check_torque.push_back(600 - t / kDrawnDay);
    r.retorque_gain.push_back(gain);
    for (std::size_t layer = 0; w.layers && layer < 2; ++layer) {
      r.layer_thickness.push_back(80e-6 - c * 1e-10 * static_cast<double>(layer + 1));
    }
  }
  return r;
}

inline void write_drawn(const std::string& path, const DrawnWheel& w) {
  HistoryWriter writer(path);
  RunHeader h;
  h.title = w.title;
  h.scenario_text =
      "schema: 1\ntitle: \"</script><b>\"\nsolution:\n  resolution: every-stop\n  tolerance: 9.9999999999999995e-07\n";
  h.warnings = {"a warning with 5 kN in it & <b>"};
  for (std::size_t s = 0; s < w.studs; ++s) {
    h.studs.push_back(std::to_string(s + 1));
  }
  h.nodes = {w.node, "hub", "disc"};
  if (w.layers) {
    h.layers = {"hub flange | disc: disc head_side", "disc | nut: disc nut_side"};
  }
  h.end_time = w.days * kDrawnDay;
  const auto number = [&h](const char* name, const char* unit, double v) {
    h.joint.push_back({name, unit, name, {v}, {}, {}});
  };
  if (w.required > 0) {
    number("required_clamp", "N", w.required);
  }
  h.joint.push_back({"deciding_design_case", "", "case", {}, {}, {"hard stop"}});
  number("torque/torque", "N m", 640);
  if (w.stress > 0) {
    number("torque/utilisation", "1", w.stress);
  }
  if (w.geometry) {
    const std::vector<std::string> parts = {"hub flange", "disc"};
    h.joint.push_back({"geometry/part_thickness", "m", "thickness", {0.020, 0.010}, parts, {}});
    h.joint.push_back({"geometry/part_hole", "m", "hole", {0.024, 0.026}, parts, {}});
    h.joint.push_back({"geometry/part_pad", "m", "pad", {0.080, 0.060}, parts, {}});
    h.joint.push_back({"geometry/part_wheel", "1", "wheel", {0, 1}, parts, {}});
    h.joint.push_back({"geometry/part_material", "", "material", {}, parts, {"iron", "steel"}});
    h.joint.push_back({"geometry/part_node", "", "node", {}, parts, {"hub", "disc"}});
    number("geometry/stud_diameter", "m", 0.022);
    number("geometry/head_diameter", "m", 0.038);
    number("geometry/nut_outer", "m", 0.036);
    number("geometry/nut_inner", "m", 0.024);
    number("geometry/seat_outer", "m", 0.046);
    number("geometry/seat_inner", "m", 0.025);
    number("geometry/stud_shank", "m", 0);
    number("thread/d3", "m", 0.020);
    number("grip_length", "m", 0.030);
    number("cone/tangent", "1", 0.4);
    h.joint.push_back({"cone/diameter", "m", "cone", {0.038, 0.054, 0.046}, {"head", "between", "nut"}, {}});
    if (w.layers) {
      h.joint.push_back({"geometry/layer_thickness", "m", "film", {80e-6, 80e-6}, h.layers, {}});
      h.joint.push_back({"geometry/layer_part", "", "part", {}, h.layers, {"disc", "disc"}});
      h.joint.push_back({"geometry/layer_side", "", "side", {}, h.layers, {"head_side", "nut_side"}});
      h.joint.push_back({"geometry/layer_coating", "", "coating", {}, h.layers, {"topcoat", "topcoat"}});
    }
    if (w.washers) {
      number("geometry/washer_outer", "m", 0.050);
      number("geometry/washer_inner", "m", 0.025);
      number("geometry/washer_thickness", "m", 0.006);
      number("geometry/washer_cone_height", "m", 0.0006);
      number("geometry/washer_parallel", "1", 2);
      number("geometry/washer_series", "1", 1);
    }
  }
  h.provenance = {{"materials/steel", "youngs", "205 GPa", "invented <b>", "demo"},
                  {"threads/M22x1.5", "pitch", "1.5 mm", "ISO 261", "published"}};
  writer.begin(h);
  for (std::size_t pass = 1; pass <= 2; ++pass) {
    for (std::size_t s = 0; s < w.studs; ++s) {
      const double clamp = 91e3 * static_cast<double>(pass);
      writer.act({-200 + static_cast<double>(w.studs * pass + s), pass, s, 320 * static_cast<double>(pass), clamp,
                  180e3 + 100 * static_cast<double>(s), true});
    }
  }
  bool retorqued = false;
  bool removed = false;
  for (double t = 0; t <= w.days * kDrawnDay + 1; t += w.every) {
    writer.record(drawn_record(w, t, retorqued));
    if (w.retorque > 0 && !retorqued && t >= w.retorque * kDrawnDay) {
      writer.event({t, t / kDrawnDay * 50e3, -1, "retorque", "every nut, to 640 N·m"});
      for (std::size_t s = 0; s < w.studs; ++s) {
        writer.act({t, 0, s, 640, 180e3, 181e3, true});
      }
      retorqued = true;
      writer.record(drawn_record(w, t, true));
    }
    if (w.removed > 0 && !removed && t >= w.removed * kDrawnDay) {
      writer.event({t, t / kDrawnDay * 50e3, 2, "nut removed", "the nut was taken off"});
      removed = true;
    }
    writer.steps({t, 100, 2, 0.5, "stud 1: coating_creep", "every-stop"});
  }
  writer.end(RunStatus::Complete, "", h.warnings);
}

} // namespace clampfade::test

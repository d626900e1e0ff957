// A history of invented numbers, every one a function of its row, for tests of writer, reader and report.
#pragma once

#include "solver/sink.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade::test {

inline constexpr std::size_t kStuds = 3, kNodes = 2, kLayers = 2;

inline RunHeader synthetic_header() {
  RunHeader h;
  h.title = "Invented wheel \u2013 demo";
  h.scenario_text = "schema: 1\ntitle: Invented wheel\n";
  h.warnings = {"an invented warning"};
  h.studs = {"1", "2", "3"};
  h.nodes = {"drum", "hub"};
  h.layers = {"hub | disc: disc head_side", "disc | nut: disc nut_side"};
  h.joint = {{"required_clamp", "N", "clamp needed at each stud", {80e3}, {}, {}},
             {"deciding_design_case", "1", "design case that needs most", {}, {}, {"hard stop"}},
             {"design_cases/required", "N", "clamp needed", {80e3, 40e3}, {"hard stop", "corner"}, {}},
             {"stiffness/total_resilience", "m/N", "resilience of stud and parts", {1.6e-9}, {}, {}},
             {"torque/torque", "N m", "torque set", {640, 650, 660}, {"1", "2", "3"}, {}}};
  h.provenance = {{"materials/wheel steel", "youngs", "205 GPa", "invented", "demo"},
                  {"threads/M22x1.5", "pitch", "1.5 mm", "ISO 261", "published"},
                  {"coatings/topcoat", "modulus", "3 GPa", "invented", "demo"}};
  h.records = {{"1", "2026-01-02T03:04", "wrench 7", "operator A", "vehicle 12", "rear", "left", 645.5, 1.06}};
  h.end_time = 28 * 86400.0;
  return h;
}

inline std::vector<double> ramp(std::size_t n, double start, double step) {
  std::vector<double> v(n);
  for (std::size_t i = 0; i < n; ++i) {
    v[i] = start + step * static_cast<double>(i);
  }
  return v;
}

inline RecordRow synthetic_record(std::size_t row) {
  const auto t = static_cast<double>(row);
  RecordRow r;
  r.time = 3600 * t;
  r.distance = 1000 * t;
  r.stops = 10 * t;
  r.clamp = ramp(kStuds, 180e3 - t / 3, 7);
  r.clamp_cold = ramp(kStuds, 179e3 - t / 3, 7);
  r.temperature = ramp(kNodes, 290 + t / 7, 11);
  r.slip_margin = 2 - t * 1e-5;
  r.loss = ramp(kStuds * kMechanisms, t * 1e-9, 1e-8);
  r.loss_clamp = ramp(kStuds * kMechanisms, t / 9, 2);
  r.retorque_gain = ramp(kStuds, 0, t);
  r.fatigue_amplitude = ramp(kStuds, 1e6 + t, 1e3);
  r.utilisation = ramp(kStuds, 0.6 - t * 1e-6, 1e-3);
  r.seat_pressure = ramp(kStuds, 2e8 - t, 1e5);
  if (row % 2 == 0) {
    r.layer_thickness = ramp(kStuds * kLayers, 80e-6 - t * 1e-10, 1e-6);
  }
  r.check_torque = ramp(kStuds, 640 - t / 11, 3);
  return r;
}

inline ActRow synthetic_act(std::size_t i) {
  const auto x = static_cast<double>(i);
  return {-30 + 5 * x, 1 + i / kStuds, i % kStuds, 600 + x, 150e3 + x, 148e3 + x, i % 4 != 3};
}
inline EventRow synthetic_event(std::size_t row) {
  const auto t = static_cast<double>(row);
  return {3600 * t + 1, 1000 * t, row % 5 == 0 ? -1 : static_cast<int>(row % kStuds), "gap",
          "event of row " + std::to_string(row)};
}
inline StepsRow synthetic_steps(std::size_t row) {
  return {3600 * static_cast<double>(row),
          10 + row,
          row % 3,
          0.5,
          row % 2 == 0 ? "" : "stud 1: embedding",
          row % 2 == 0 ? "envelope" : "every-stop: hot day"};
}
inline Checkpoint synthetic_checkpoint(std::size_t row) {
  const auto t = static_cast<double>(row);
  return {3600 * t, {t, t / 3, t / 7}, {static_cast<std::int64_t>(row), -1}};
}

/// Everything up to the first record.
inline void synthetic_start(Sink& sink) {
  sink.begin(synthetic_header());
  for (std::size_t i = 0; i < 2 * kStuds; ++i) {
    sink.act(synthetic_act(i));
  }
}

/// Records `from` to `to`, an event every third, a checkpoint after every `every`-th.
inline void synthetic_rows(Sink& sink, std::size_t from, std::size_t to, std::size_t every) {
  for (std::size_t row = from; row < to; ++row) {
    sink.record(synthetic_record(row));
    sink.steps(synthetic_steps(row));
    if (row % 3 == 2) {
      sink.event(synthetic_event(row));
    }
    if ((row + 1) % every == 0) {
      sink.checkpoint(synthetic_checkpoint(row));
    }
  }
}

} // namespace clampfade::test

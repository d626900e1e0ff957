// Studies by hand: a grid of two axes, a list, a sample, and parts of them.
#pragma once

#include "solver/study_result.hpp"

#include <string>
#include <vector>

namespace clampfade::test {

inline constexpr double kStudyDay = 86400;

/// A case whose weakest stud ends at `end`, 120 kN being required; below from where the straight line from 180 kN gets
/// there in 100 days and 5000 km.
inline StudyCase study_case(double end) {
  StudyCase c;
  c.status = CaseStatus::Complete;
  c.clamp_cold_lowest = {180e3, (180e3 + end) / 2, end};
  c.clamp_cold_mean = {182e3, (182e3 + end) / 2 + 1e3, end + 2e3};
  c.clamp_cold_first = {180e3, 184e3};
  c.clamp_cold_end = {end, end + 4e3};
  c.loss_clamp_end = {0.25 * (180e3 - end), 0.75 * (180e3 - end)};
  c.retorque_gain_end = 0;
  c.required_clamp = 120e3;
  if (end < 120e3) {
    const double share = 60e3 / (180e3 - end);
    c.below_time = 100 * kStudyDay * share;
    c.below_distance = 5000e3 * share;
    c.below_stud = 1;
  }
  c.slip_margin_lowest = end / 100e3;
  c.utilisation_highest = 0.8;
  c.utilisation_tightening = 0.85;
  c.proof_share = 0.7;
  return c;
}

/// What all examples have in common; no cases yet.
inline Study study_frame() {
  Study s;
  s.title = "Invented wheel \u2013 demo";
  s.scenario_text = "schema: 1\n";
  s.status = StudyStatus::Complete;
  s.design_sha256 = std::string(64, 'a');
  s.warnings = {"an invented warning"};
  s.time = {0, 50 * kStudyDay, 100 * kStudyDay};
  s.distance = {0, 2500e3, 5000e3};
  s.studs = {"1", "2"};
  s.mechanisms = {"embedding", "coating_flow"};
  return s;
}

/// Thickness of the paint by kind of nut: 3 x 2 cases, the end falls with the first and is higher for the second nut.
inline Study grid_example() {
  Study s = study_frame();
  s.axes = {{"paint", "paint: thickness", "joint/stack/*/*_side/thickness", "m", {0, 60e-6, 120e-6}, {}},
            {"nut", "nut", "joint/nut", "1", {}, {"solid nut", "sprung nut"}}};
  for (int paint = 0; paint < 3; ++paint) {
    for (int nut = 0; nut < 2; ++nut) {
      s.cases.push_back(study_case(150e3 - 30e3 * paint + 10e3 * nut));
    }
  }
  return s;
}

/// Eight cases, the end spread evenly from 100 to 170 kN by one input of the wheel; another one, of each stud, has no
/// say.
inline Study sample_example() {
  Study s = study_frame();
  s.kind = StudyKind::Sample;
  s.seed = 7;
  s.inputs = {
      {"torque", "torque", "tightening/torque", "N m", "normal: {mean: 650 N*m, sd: 30 N*m}", false, {}, {}},
      {"thread", "thread friction", "tightening/friction/thread", "1", "uniform: {low: 0.1, high: 0.2}", true, {}, {}}};
  for (int i = 0; i < 8; ++i) {
    const int mixed = (3 * i) % 8;
    s.cases.push_back(study_case(100e3 + 10e3 * mixed));
    s.inputs[0].values.push_back(600 + 10 * mixed);
    s.inputs[1].values.push_back(0.1 + 0.01 * ((5 * i) % 8));
    s.inputs[1].values.push_back(0.1 + 0.01 * ((7 * i) % 8));
  }
  return s;
}

/// The study as one of several parts would have left it.
inline Study part_of(const Study& whole, std::size_t part, std::size_t parts) {
  Study s = whole;
  s.part = part;
  s.parts = parts;
  for (std::size_t i = 0; i < s.cases.size(); ++i) {
    if (!s.mine(i)) {
      s.cases[i] = StudyCase{};
    }
  }
  return s;
}

} // namespace clampfade::test

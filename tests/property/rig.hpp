// A tightened wheel of a drawn scenario that goes through drawn stretches, watched at every accepted step.
#pragma once

#include "solver/span_system.hpp"
#include "solver/tightening.hpp"
#include "tests/property/balance.hpp"
#include "tests/property/generators.hpp"
#include "tests/support/bench.hpp"

#include <functional>
#include <numeric>
#include <vector>

namespace clampfade::test {

class Rig {
public:
  /// One column a stud, tightened as the scenario says.
  explicit Rig(const Scenario& s)
      : scenario(s), joint(scenario.joint, node_names(scenario), scenario.tightening.temperature),
        wheel(scenario, joint, all(s.joint.studs.count), std::vector<double>(s.joint.studs.count, 1)), x(wheel.fresh()),
        nodes(scenario.heat.nodes.size(), scenario.tightening.temperature) {
    tighten_wheel(wheel, scenario.tightening, nodes, scenario.tolerance, x, moved_at_);
    balance_scale_ = clampfade::test::balance_scale(joint, wheel, elastic(nodes));
  }
  Rig(const Rig&) = delete;
  Rig& operator=(const Rig&) = delete;

  /// A step as it was accepted, with the node temperatures at its end.
  using Watch = std::function<void(const State& before, const State& after, const std::vector<double>& nodes)>;
  void go(const Stretch& stretch, const Watch& watch = {}) {
    const std::vector<double> start = nodes;
    const auto ramp = [&](double t, std::vector<double>& out) {
      out.resize(start.size());
      for (std::size_t i = 0; i < start.size(); ++i) {
        out[i] = start[i] + (stretch.temperature[i] - start[i]) * t / stretch.duration;
      }
    };
    SpanSystem system(wheel, stretch.road, ramp, scenario.tolerance);
    SettlingStepper stepper;
    double step = first_step(wheel, start, stretch.road.cycle_rate);
    system.run(stepper, x, 0, stretch.duration, step, [&](const State& before, const State& after, double t, double h) {
      if (watch) {
        ramp(t + h, nodes);
        watch(before, after, nodes);
      }
    });
    nodes = stretch.temperature;
  }
  /// A wrench on stud c at its set torque, long after the nut last turned. Returns whether it moved.
  bool retorque(std::size_t c) {
    return apply_wrench(wheel, x, c, scenario.tightening.torque[c], scenario.tightening.breakaway, 1e6, nodes);
  }

  [[nodiscard]] Elastic elastic(const std::vector<double>& at) const {
    std::vector<double> places;
    joint.place_temperatures(at, places);
    Elastic e;
    joint.elastic(places, e);
    return e;
  }
  /// See balance.hpp.
  [[nodiscard]] double force(const State& s, std::size_t c, std::size_t segment) const {
    return segment_force(wheel, s, c, segment);
  }
  [[nodiscard]] double face(const State& s, std::size_t c, std::size_t k) const { return face_place(wheel, s, c, k); }
  [[nodiscard]] std::vector<double> lost(const State& s, std::size_t c) const { return lost_by_segment(wheel, s, c); }
  /// Size of the forces that balance [N], see balance.hpp.
  [[nodiscard]] double balance_scale() const { return balance_scale_; }

  const Scenario scenario;
  const Joint joint;
  Wheel wheel;
  State x;
  std::vector<double> nodes; ///< temperatures now [K]

private:
  static std::vector<std::size_t> all(std::size_t n) {
    std::vector<std::size_t> list(n);
    std::iota(list.begin(), list.end(), std::size_t{0});
    return list;
  }
  std::vector<double> moved_at_;
  double balance_scale_ = 0;
};

} // namespace clampfade::test

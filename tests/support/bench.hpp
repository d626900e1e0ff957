// A tightened wheel on a bench: no vehicle and no day, only time, temperature and road as a test says.
#pragma once

#include "solver/span_system.hpp"
#include "solver/tightening.hpp"
#include "tests/support/scenario_text.hpp"

#include <numeric>
#include <vector>

namespace clampfade::test {

inline std::vector<std::string> node_names(const Scenario& s) {
  std::vector<std::string> names;
  for (const HeatNode& n : s.heat.nodes) {
    names.push_back(n.name);
  }
  return names;
}

/// One column a stud. Every node has the same temperature.
class Bench {
public:
  explicit Bench(const ScenarioText& text, double tolerance = 1e-7)
      : scenario(text.scenario()), joint(scenario.joint, node_names(scenario), scenario.tightening.temperature),
        wheel(scenario, joint, every_stud(scenario.joint.studs.count),
              std::vector<double>(scenario.joint.studs.count, 1)),
        x(wheel.fresh()), tolerance_(tolerance) {}

  /// Turns the nut of stud c to a clamp [N] without torsion.
  void tighten(std::size_t c, double clamp) { wheel.tighten(x, c, clamp, 1, cold()); }
  void tighten_all(double clamp) {
    for (std::size_t c = 0; c < wheel.columns(); ++c) {
      tighten(c, clamp);
    }
  }
  /// Lets time pass with node temperatures from `at` [K], time since the start of this call. Returns the steps taken.
  std::uint64_t hold(double seconds, const std::function<double(double)>& at, const RoadLoad& road = {}) {
    const auto nodes = [&](double t, std::vector<double>& out) { out.assign(scenario.heat.nodes.size(), at(t)); };
    SpanSystem system(wheel, road, nodes, tolerance_);
    SettlingStepper stepper;
    std::vector<double> start;
    nodes(0, start);
    double step = first_step(wheel, start, road.cycle_rate);
    system.run(stepper, x, 0, seconds, step);
    return stepper.counts().accepted;
  }
  std::uint64_t hold(double seconds, double kelvin, const RoadLoad& road = {}) {
    return hold(
        seconds, [kelvin](double) { return kelvin; }, road);
  }
  [[nodiscard]] double clamp(std::size_t c = 0) const { return wheel.clamp(x, c); }
  /// Loss of one mechanism in all segments of a column [m].
  [[nodiscard]] double loss(Mechanism m, std::size_t c = 0) const {
    std::vector<ByMechanism> by_segment;
    wheel.losses(x, c, by_segment);
    return std::accumulate(by_segment.begin(), by_segment.end(), 0.0,
                           [&](double sum, const ByMechanism& s) { return sum + s[index(m)]; });
  }
  /// Elastic compliance of a whole column at a temperature, washers apart [m/N].
  [[nodiscard]] double compliance(double kelvin) const {
    Elastic e;
    joint.elastic(std::vector<double>(joint.stud_place() + 1, kelvin), e);
    return std::accumulate(e.compliance.begin(), e.compliance.end(), 0.0);
  }
  [[nodiscard]] std::vector<double> cold() const {
    return std::vector<double>(scenario.heat.nodes.size(), scenario.tightening.temperature);
  }

  const Scenario scenario;
  const Joint joint;
  Wheel wheel;
  State x;

private:
  static std::vector<std::size_t> every_stud(std::size_t n) {
    std::vector<std::size_t> all(n);
    std::iota(all.begin(), all.end(), std::size_t{0});
    return all;
  }
  double tolerance_;
};

} // namespace clampfade::test

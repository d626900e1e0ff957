// Time of one step, of the spans of ten stops, of the floor below them, of the heat of a day and of a whole day.
#include "models/constants.hpp"
#include "models/units.hpp"
#include "solver/duty.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "solver/span_system.hpp"
#include "solver/temperature.hpp"
#include "solver/tightening.hpp"
#include "tests/bench/floor.hpp"
#include "tests/bench/null_sink.hpp"
#include "tests/bench/shipped.hpp"

#include <benchmark/benchmark.h>

#include <memory>
#include <numeric>

using namespace clampfade;
using test::Rig;

namespace {

constexpr std::size_t kWarm = 400; // spans before those that are timed: the wheel has come to the round's heat
constexpr std::size_t kSpans = 40; // ten stops

/// The painted wheel some hundred stops into its first round, and the spans that follow.
class OnTheRoad {
public:
  explicit OnTheRoad(Rig rig)
      : scenario(read_scenario_text(test::painted(rig), "bench.yaml")),
        joint(scenario.joint, names(), scenario.tightening.temperature),
        wheel(scenario, joint, every_stud(), std::vector<double>(scenario.joint.studs.count, 1)), x(wheel.fresh()) {
    std::vector<double> nodes(scenario.heat.nodes.size(), scenario.tightening.temperature);
    std::vector<double> moved(wheel.columns());
    tighten_wheel(wheel, scenario.tightening, nodes, scenario.tolerance, x, moved);
    step = first_step(wheel, nodes, 0);
    SettlingStepper stepper;
    std::size_t done = 0;
    for (const Span& span : working_day(scenario)) {
      auto solver = std::make_unique<HeatSolver>(scenario.heat);
      solver->run(
          {span.duration, ambient(scenario.duty, span.start), HeatNetwork::air_factor(span.speed), span.brake_heat},
          nodes);
      RoadLoad road{span.load, 0, 0};
      if (span.speed > 0) {
        road.turn_rate = span.speed / (2 * kPi * scenario.vehicle.rolling_radius);
        road.cycle_rate = road.turn_rate * span.load.demand() / scenario.vehicle.load;
      }
      Leg leg{span.duration, road, std::move(solver)};
      if (done < kWarm) {
        run(leg, stepper, x, step);
      } else {
        ahead.push_back(std::move(leg));
      }
      if (++done == kWarm + kSpans) {
        break;
      }
    }
  }

  struct Leg {
    double duration;
    RoadLoad road;
    std::unique_ptr<HeatSolver> heat;
  };
  [[nodiscard]] NodeTemperatures nodes(const Leg& leg) const {
    return [&leg, n = scenario.heat.nodes.size()](double t, std::vector<double>& out) {
      out.resize(n);
      leg.heat->at(t, out);
    };
  }
  void run(const Leg& leg, SettlingStepper& stepper, State& state, double& length) {
    SpanSystem system(wheel, {&leg.road, 1}, nodes(leg), scenario.tolerance);
    system.run(stepper, state, 0, leg.duration, length);
  }
  /// Internal variables of all columns.
  [[nodiscard]] std::size_t states_of_a_column() const {
    return std::accumulate(wheel.laws().begin(), wheel.laws().end(), std::size_t{0},
                           [](std::size_t sum, const PlacedLaw& p) { return sum + p.law->states(); });
  }

  const Scenario scenario;
  const Joint joint;
  Wheel wheel;
  State x;
  double step = 0;
  std::vector<Leg> ahead;

private:
  [[nodiscard]] std::vector<std::string> names() const {
    std::vector<std::string> all;
    for (const HeatNode& n : scenario.heat.nodes) {
      all.push_back(n.name);
    }
    return all;
  }
  [[nodiscard]] std::vector<std::size_t> every_stud() const {
    std::vector<std::size_t> all(scenario.joint.studs.count);
    std::iota(all.begin(), all.end(), std::size_t{0});
    return all;
  }
};

/// Wheel::step over the whole of a span.
void one_step(benchmark::State& state, Rig rig) {
  OnTheRoad road(rig);
  State after;
  std::size_t next = 0;
  for (auto _ : state) {
    const auto& leg = road.ahead[next++ % kSpans];
    benchmark::DoNotOptimize(
        road.wheel.step(road.x, 0, leg.duration, {&leg.road, 1}, road.nodes(leg), road.scenario.tolerance, after));
  }
}

/// SpanSystem over ten stops, error control included.
void spans(benchmark::State& state, Rig rig) {
  OnTheRoad road(rig);
  SettlingStepper stepper;
  for (auto _ : state) {
    State x = road.x;
    double length = road.step;
    for (const auto& leg : road.ahead) {
      road.run(leg, stepper, x, length);
    }
    benchmark::DoNotOptimize(x.data());
  }
  const auto done = static_cast<double>(state.iterations()) * kSpans;
  state.counters["spans"] = kSpans;
  state.counters["steps_per_span"] = static_cast<double>(stepper.counts().accepted) / done;
  state.counters["rejected_per_span"] = static_cast<double>(stepper.counts().rejected) / done;
}

/// The least that the same number of spans can cost.
void least(benchmark::State& state, Rig rig) {
  const OnTheRoad road(rig);
  test::Floor floor(road.wheel.columns(), road.states_of_a_column());
  for (auto _ : state) {
    for (const auto& leg : road.ahead) {
      benchmark::DoNotOptimize(floor.span(leg.duration));
    }
  }
  state.counters["spans"] = kSpans;
  state.counters["states"] = static_cast<double>(floor.states());
}

/// Node temperatures of a working day, 770 stops.
void heat_of_a_day(benchmark::State& state) {
  const Scenario scenario = read_scenario_text(test::painted(Rig::TenTied), "bench.yaml");
  const std::vector<Span> day = working_day(scenario);
  HeatSolver heat(scenario.heat);
  double start = scenario.tightening.temperature;
  for (auto _ : state) {
    start += 1e-6; // else the day would be known
    std::vector<double> nodes(scenario.heat.nodes.size(), start);
    heat.begin_day(0, nodes);
    for (const Span& span : day) {
      heat.run({span.duration, ambient(scenario.duty, span.start + span.duration / 2),
                HeatNetwork::air_factor(span.speed), span.brake_heat},
               nodes);
    }
    benchmark::DoNotOptimize(nodes.data());
  }
  state.counters["spans"] = static_cast<double>(day.size());
}

/// A run from the first act of the wrench to the end of its first day.
void day(benchmark::State& state, Rig rig) {
  const Scenario scenario = read_scenario_text(test::painted(rig), "bench.yaml");
  RunOptions options;
  options.progress = [](double time, double /*end*/) { return time < units::kDay; };
  std::uint64_t accepted = 0;
  for (auto _ : state) {
    test::NullSink sink;
    run(scenario, sink, options);
    accepted += sink.accepted;
  }
  state.counters["spans"] = static_cast<double>(working_day(scenario).size());
  state.counters["steps"] = static_cast<double>(accepted) / static_cast<double>(state.iterations());
}

} // namespace

BENCHMARK_CAPTURE(one_step, one_stud, Rig::OneStud)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(one_step, ten_tied, Rig::TenTied)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(spans, one_stud, Rig::OneStud)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(spans, ten_tied, Rig::TenTied)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(least, one_stud, Rig::OneStud)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(least, ten_tied, Rig::TenTied)->Unit(benchmark::kMicrosecond);
BENCHMARK(heat_of_a_day)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(day, one_stud, Rig::OneStud)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(day, ten_untied, Rig::TenUntied)->Unit(benchmark::kMicrosecond);
BENCHMARK_CAPTURE(day, ten_tied, Rig::TenTied)->Unit(benchmark::kMicrosecond);

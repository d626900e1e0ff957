// Checks: how much work three short runs are, counted instead of timed, so that any machine can tell.
// Problem: short_runs() of shipped.hpp: a painted ring of ten, aluminium with spring washers, a wheel that loosens.
// Reference: work.json beside this, recorded by this test itself.
// Tolerance: a tenth, or a few where the count is small: compilers differ in the last bits, and steps with them.
// Fails if: a change makes the program take more steps, more trial forces, more factorisations or more memory, or
//   fewer; then the counts are recorded again and the commit says why.
#include "solver/duty.hpp"
#include "solver/equilibrium.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "solver/span_system.hpp"
#include "solver/stretch.hpp"
#include "solver/tightening.hpp"
#include "tests/bench/null_sink.hpp"
#include "tests/bench/shipped.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <new>
#include <numeric>

using namespace clampfade;
using nlohmann::ordered_json;

namespace {
std::atomic<std::uint64_t> allocations{0};

void* counted(std::size_t size) {
  ++allocations;
  if (void* p = std::malloc(size == 0 ? 1 : size)) {
    return p;
  }
  throw std::bad_alloc();
}
} // namespace

// Every other form of new comes down to this one, but for types of more than ordinary alignment, which are not used.
void* operator new(std::size_t size) { return counted(size); }
void* operator new[](std::size_t size) { return counted(size); }
void operator delete(void* p) noexcept { std::free(p); }
void operator delete[](void* p) noexcept { std::free(p); }
void operator delete(void* p, std::size_t /*size*/) noexcept { std::free(p); }
void operator delete[](void* p, std::size_t /*size*/) noexcept { std::free(p); }

namespace {

const std::string kFile = std::string(CLAMPFADE_SOURCE) + "/tests/bench/work.json";
constexpr double kShare = 0.1;
constexpr double kFew = 3;

ordered_json work_of(const std::string& text) {
  const Scenario scenario = read_scenario_text(text, "short.yaml");
  test::NullSink sink;
  SolveCounts solves;
  RunOptions options;
  options.solves = &solves;
  const std::uint64_t before = allocations;
  REQUIRE(run(scenario, sink, options) == RunStatus::Complete);
  return {{"accepted steps", sink.accepted},  {"rejected steps", sink.rejected},
          {"force balances", solves.solves},  {"trial forces", solves.iterations},
          {"factorisations", solves.factors}, {"heap allocations", allocations - before}};
}

} // namespace

TEST_CASE("work: short runs need the steps, force balances and memory recorded for them") {
  ordered_json now;
  for (const test::ShortRun& r : test::short_runs()) {
    now[r.name] = work_of(r.text);
  }
  if (std::getenv("CLAMPFADE_WORK_RECORD") != nullptr) {
    std::ofstream(kFile) << now.dump(2) << '\n';
  }
  std::ifstream in(kFile);
  REQUIRE_MESSAGE(in.good(), "no ", kFile);
  const ordered_json recorded = ordered_json::parse(in);
  for (const auto& [run_name, counts] : now.items()) {
    for (const auto& [count, value] : counts.items()) {
      const double is = value.get<double>();
      const double was = recorded.at(run_name).at(count).get<double>();
      const std::string text =
          fmt::format("{}: {} {}, recorded {} ({:+.1f} %). If that is meant, record it with CLAMPFADE_WORK_RECORD=1 "
                      "ctest -R '^work:' and say why in the commit.",
                      run_name, is, count, was, 100 * (is - was) / std::max(was, 1.0));
      CHECK_MESSAGE(std::abs(is - was) <= std::max(kFew, kShare * was), text);
    }
  }
}

TEST_CASE("work: once a wheel is warm, its steps ask for no memory") {
  const Scenario scenario = read_scenario_text(test::short_runs().front().text, "short.yaml");
  std::vector<std::string> names;
  for (const HeatNode& n : scenario.heat.nodes) {
    names.push_back(n.name);
  }
  const Joint joint(scenario.joint, names, scenario.tightening.temperature);
  std::vector<std::size_t> studs(scenario.joint.studs.count);
  std::iota(studs.begin(), studs.end(), std::size_t{0});
  Wheel wheel(scenario, joint, studs, std::vector<double>(studs.size(), 1));
  State x = wheel.fresh();
  const std::vector<double> cold(names.size(), scenario.tightening.temperature);
  std::vector<double> moved(wheel.columns());
  tighten_wheel(wheel, scenario.tightening, cold, scenario.tolerance, x, moved);
  const std::vector<Stretch> day = each_span(working_day(scenario), scenario.vehicle);
  double heat = 0; // [K], so that the laws of heat have something to do
  SpanSystem system(
      wheel,
      [&](double t, std::vector<double>& nodes) {
        nodes = cold;
        nodes.front() += heat + 1e-3 * t;
      },
      scenario.tolerance);
  SettlingStepper stepper;
  double step = first_step(wheel, cold, 0);
  std::uint64_t steps = 0;
  double lowest = wheel.scale();
  double last = 0;
  const auto observe = [&](const State&, const State& after, double t, double h) {
    ++steps;
    lowest = std::min(lowest, wheel.clamp(after, 0));
    last = t + h;
  };
  std::uint64_t before = 0;
  std::uint64_t warm_steps = 0;
  REQUIRE(day.size() > 140);
  for (std::size_t i = 0; i < 140; ++i) {
    if (i == 100) {
      before = allocations;
      warm_steps = steps;
    }
    heat = 20 + 5 * std::sin(0.3 * static_cast<double>(i));
    system.begin(day[i].roads);
    system.run(stepper, x, 0, day[i].duration, step, std::ref(observe));
  }
  const std::uint64_t asked = allocations - before;
  CHECK(steps - warm_steps >= 40);
  CHECK(last > 0);
  CHECK(lowest < wheel.scale());
  CHECK(asked == 0);
}

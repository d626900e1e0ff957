// Checks: how much work three short runs are, counted instead of timed, so that any machine can tell.
// Problem: short_runs() of shipped.hpp: a painted ring of ten, aluminium with spring washers, a wheel that loosens.
// Reference: work.json beside this, recorded by this test itself.
// Tolerance: a tenth, or a few where the count is small: compilers differ in the last bits, and steps with them.
// Fails if: a change makes the program take more steps, more trial forces, more factorisations or more memory, or
//   fewer; then the counts are recorded again and the commit says why.
#include "solver/equilibrium.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
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

// One of the three short runs into a sink that keeps nothing, for a counter of instructions to look at.
//   bench_short_run NUMBER     0, 1 or 2; prints the run's name
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/bench/null_sink.hpp"
#include "tests/bench/shipped.hpp"

#include <iostream>
#include <string>

using namespace clampfade;

int main(int argc, char** argv) {
  const auto runs = test::short_runs();
  const std::size_t which = argc == 2 ? std::stoul(argv[1]) : runs.size();
  if (which >= runs.size()) {
    std::cerr << "usage: bench_short_run 0..." << runs.size() - 1 << '\n';
    return 2;
  }
  const Scenario scenario = read_scenario_text(runs[which].text, "short.yaml");
  test::NullSink sink;
  run(scenario, sink);
  std::cout << runs[which].name << '\n';
  return 0;
}

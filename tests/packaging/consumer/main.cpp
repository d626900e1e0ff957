// A program of one's own: reads a scenario, runs it, prints the lowest cold clamp of its last
// record [N] and what the run says against itself. Exit codes as those of clampfade: 0, 2 input,
// 3 numerics, 4 files.
#include "solver/diagnostics.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"

#include <algorithm>
#include <cstdio>
#include <string>
#include <vector>

namespace {

// Gets everything while the run goes on, and keeps what this program wants to know.
struct Last final : clampfade::Sink {
  double lowest = 0; // [N]
  std::vector<std::string> warnings;

  void begin(const clampfade::RunHeader&) override {}
  void act(const clampfade::ActRow&) override {}
  void event(const clampfade::EventRow&) override {}
  void record(const clampfade::RecordRow& row) override {
    lowest = *std::min_element(row.clamp_cold.begin(), row.clamp_cold.end());
  }
  void steps(const clampfade::StepsRow&) override {}
  void checkpoint(const clampfade::Checkpoint&) override {}
  void end(clampfade::RunStatus, const std::string& /*why*/, const std::vector<std::string>& said) override {
    warnings = said;
  }
};

int failed(clampfade::Exit code, const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
  return static_cast<int>(code);
}

} // namespace

int main(int count, char** words) {
  if (count != 2) {
    return failed(clampfade::Exit::Input, "usage: consumer SCENARIO");
  }
  try {
    const clampfade::Scenario scenario = clampfade::read_scenario(words[1]);
    Last last;
    clampfade::run(scenario, last);
    std::printf("%.6f\n", last.lowest);
    for (const std::string& warning : last.warnings) {
      std::fprintf(stderr, "warning: %s\n", warning.c_str());
    }
    return static_cast<int>(clampfade::Exit::Ok);
  } catch (const clampfade::InputError& e) { // all faults of the file at once
    return failed(clampfade::Exit::Input, clampfade::to_text(e.diagnostics()));
  } catch (const clampfade::NumericalError& e) {
    return failed(clampfade::Exit::Numerical, e.what());
  } catch (const clampfade::FileError& e) { // the scenario, a table it reads, or the catalogue of materials
    return failed(clampfade::Exit::File, e.what());
  }
}

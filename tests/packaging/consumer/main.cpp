// A program of somebody else: reads a scenario, runs it, prints the lowest clamp of its last record [N].
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"

#include <algorithm>
#include <cstdio>

namespace {
struct Last final : clampfade::Sink {
  double lowest = 0;
  void begin(const clampfade::RunHeader&) override {}
  void act(const clampfade::ActRow&) override {}
  void event(const clampfade::EventRow&) override {}
  void record(const clampfade::RecordRow& row) override {
    lowest = *std::min_element(row.clamp_cold.begin(), row.clamp_cold.end());
  }
  void steps(const clampfade::StepsRow&) override {}
  void checkpoint(const clampfade::Checkpoint&) override {}
  void end(clampfade::RunStatus, const std::string&, const std::vector<std::string>&) override {}
};
} // namespace

int main(int, char** argv) {
  Last last;
  clampfade::run(clampfade::read_scenario(argv[1]), last);
  std::printf("%.6f\n", last.lowest);
}

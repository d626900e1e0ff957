#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/fuzz/targets.hpp"
#include "tests/support/scenario_text.hpp"

namespace clampfade::fuzz {

namespace {

void read(Bytes input) {
  test::ScenarioText text;
  text.day = "{trace: {file: " + input_file(input, ".csv") + "}}, {park: {until: 24 h}}";
  const Scenario scenario = text.scenario();
  (void)derive(scenario);
  // The table is part of what a history keeps.
  if (read_scenario_text(scenario.resolved_text, "resolved.yaml", resolved_options()).resolved_text !=
      scenario.resolved_text) {
    finding("the trace reads back as another:\n" + scenario.resolved_text);
  }
}

} // namespace

void trace(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

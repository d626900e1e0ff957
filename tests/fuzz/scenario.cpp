#include "solver/io/scenario.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/simulation.hpp"
#include "tests/fuzz/targets.hpp"

#include <exception>
#include <vector>

namespace clampfade::fuzz {

namespace {

/// What the program wrote itself must read back, to the same.
void reads_back(const std::string& text) {
  std::string again;
  try {
    again = read_scenario_text(text, "resolved.yaml", resolved_options()).resolved_text;
  } catch (const std::exception& e) {
    finding("the resolved text does not read back: " + std::string(e.what()) + "\n" + text);
  }
  if (again != text) {
    finding("the resolved text reads back as another:\n" + text + "\n--- and again\n" + again);
  }
}

void read(Bytes input) {
  ReadOptions options;
  options.catalogue = CLAMPFADE_SOURCE "/models/catalogue";
  const StudyReader reader(as_text(input), "wheel.yaml", options);
  const Scenario& scenario = reader.base();
  reads_back(scenario.resolved_text);
  for (const Figure& figure : derive(scenario)) {
    must_be_text("a figure", figure.name + figure.unit + figure.long_name);
  }
  for (const std::string& text : make_header(scenario).warnings) {
    must_be_text("a warning", text);
  }
  if (!reader.axes().empty()) {
    (void)reader.sweep_case(std::vector<std::size_t>(reader.axes().size(), 0));
  }
}

} // namespace

void scenario(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

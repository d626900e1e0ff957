#include "solver/io/history.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/prediction_reader.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/fuzz/edited_file.hpp"
#include "tests/support/memory_sink.hpp"

#include <algorithm>
#include <string>
#include <vector>

namespace clampfade::fuzz {

namespace {

void read_all(const History& history) {
  must_be_text("the title", history.title());
  must_be_text("the status", history.status_text());
  for (const std::string& warning : history.warnings()) {
    must_be_text("a warning", warning);
  }
  const std::size_t rows = history.rows();
  for (const RecordRow& row : history.records()) {
    if (row.clamp.size() != history.studs().size() || row.temperature.size() != history.nodes().size()) {
      finding("a record without a value for each stud and node");
    }
  }
  if (history.series("clamp").size() != rows * history.studs().size()) {
    finding("a clamp too few or too many");
  }
  for (const ActRow& act : history.acts()) {
    if (act.stud >= history.studs().size()) {
      finding("an act on a stud that the wheel does not have");
    }
  }
  for (const EventRow& event : history.events()) {
    if (event.stud < -1 || event.stud >= static_cast<int>(history.studs().size())) {
      finding("an event of a stud that the wheel does not have");
    }
  }
  (void)history.steps();
  (void)history.joint();
  (void)history.provenance();
  (void)history.identity();
  (void)history.digest();
  (void)history.verify();
  for (const Dataset& dataset : history.datasets()) {
    (void)history.dataset(dataset.path);
  }
}

/// As `clampfade resume` does, for no longer than a day.
void go_on(const History& history) {
  const auto from = history.checkpoint();
  if (!from) {
    return;
  }
  const Scenario scenario = read_scenario_text(history.scenario_text(), "history (scenario)", resolved_options());
  if (scenario.duty.calendar.weeks > 1) {
    return; // sound, but long
  }
  test::MemorySink sink;
  RunOptions options;
  options.progress = [](double /*time*/, double /*end*/) { return false; };
  (void)resume(scenario, *from, sink, options);
}

void read(Bytes bytes) {
  Input input(bytes);
  const FileKind kind = input.byte() % 2 == 0 ? FileKind::Run : FileKind::Invented;
  const std::string path = edited_file(kind, input);
  const History history(path);
  read_all(history);
  try {
    std::vector<std::string> warnings;
    (void)read_prediction(path, warnings);
  } catch (const FileError&) { // of a run that did not come to its end; it can still go on
  }
  go_on(history);
}

} // namespace

void history(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

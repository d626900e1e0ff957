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

void read_head(const History& history) {
  must_be_text("the title", history.title());
  must_be_text("the status", history.status_text());
  for (const std::string& warning : history.warnings()) {
    must_be_text("a warning", warning);
  }
}

void read_rows(const History& history) {
  for (const RecordRow& row : history.records()) {
    if (row.clamp.size() != history.studs().size() || row.temperature.size() != history.nodes().size()) {
      finding("a record without a value for each stud and node");
    }
  }
  if (history.series("clamp").size() != history.rows() * history.studs().size()) {
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
}

void read_lists(const History& history, unsigned which) {
  (void)history.steps();
  (void)history.joint();
  (void)history.provenance();
  (void)history.identity();
  const std::vector<Dataset> all = history.datasets();
  if (!all.empty()) {
    const Dataset one = history.dataset(all[which % all.size()].path);
    std::size_t count = 1;
    for (const Dataset::Axis& axis : one.axes) {
      count *= axis.length;
    }
    if ((one.type == Dataset::Type::Text ? one.text.size() : one.values.size()) != count) {
      finding("a dataset of " + std::to_string(count) + " values without them");
    }
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

/// One of the things that are done with a history; all at once would take half a second.
void read(Bytes bytes) {
  Input input(bytes);
  const FileKind kind = input.byte() % 2 == 0 ? FileKind::Run : FileKind::Invented;
  const unsigned which = input.byte();
  const std::string path = edited_file(kind, input);
  const History history(path);
  read_head(history);
  switch (which % 4) {
  case 0:
    return read_rows(history);
  case 1:
    return read_lists(history, which / 4);
  case 2: {
    (void)history.verify();
    std::vector<std::string> warnings;
    (void)read_prediction(path, warnings);
    return;
  }
  default:
    return go_on(history);
  }
}

} // namespace

void history(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

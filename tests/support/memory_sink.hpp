// Keeps a run's results in memory.
#pragma once

#include "solver/sink.hpp"

#include <stdexcept>
#include <string>
#include <vector>

namespace clampfade::test {

class MemorySink final : public Sink {
public:
  void begin(const RunHeader& h) override { header = h; }
  void act(const ActRow& row) override { acts.push_back(row); }
  void event(const EventRow& row) override { events.push_back(row); }
  void record(const RecordRow& row) override { records.push_back(row); }
  void steps(const StepsRow& row) override { work.push_back(row); }
  void checkpoint(const Checkpoint& c) override { checkpoints.push_back(c); }
  void end(RunStatus s, const std::string& t, const std::vector<std::string>& all) override {
    status = s;
    text = t;
    warnings = all;
  }

  /// Figure of the header by name; throws std::out_of_range.
  [[nodiscard]] const Figure& figure(const std::string& name) const {
    for (const Figure& f : header.joint) {
      if (f.name == name) {
        return f;
      }
    }
    throw std::out_of_range(name);
  }

  RunHeader header;
  std::vector<ActRow> acts;
  std::vector<EventRow> events;
  std::vector<RecordRow> records;
  std::vector<StepsRow> work;
  std::vector<Checkpoint> checkpoints;
  RunStatus status = RunStatus::Running;
  std::string text;
  std::vector<std::string> warnings;
};

} // namespace clampfade::test

// Rows held back until it is known whether they count.
#pragma once

#include "solver/sink.hpp"

#include <variant>
#include <vector>

namespace clampfade {

/// Keeps acts, events, records and steps in their order; begin, checkpoint and end are none of its business.
class HeldRows : public Sink {
public:
  void begin(const RunHeader&) override {}
  void act(const ActRow& row) override { rows_.emplace_back(row); }
  void event(const EventRow& row) override { rows_.emplace_back(row); }
  void record(const RecordRow& row) override { rows_.emplace_back(row); }
  void steps(const StepsRow& row) override { rows_.emplace_back(row); }
  void checkpoint(const Checkpoint&) override {}
  void end(RunStatus, const std::string&, const std::vector<std::string>&) override {}

  void hand_to(Sink& sink) const {
    for (const auto& row : rows_) {
      std::visit([&sink](const auto& r) { hand(sink, r); }, row);
    }
  }

private:
  static void hand(Sink& sink, const ActRow& row) { sink.act(row); }
  static void hand(Sink& sink, const EventRow& row) { sink.event(row); }
  static void hand(Sink& sink, const RecordRow& row) { sink.record(row); }
  static void hand(Sink& sink, const StepsRow& row) { sink.steps(row); }
  std::vector<std::variant<ActRow, EventRow, RecordRow, StepsRow>> rows_;
};

} // namespace clampfade

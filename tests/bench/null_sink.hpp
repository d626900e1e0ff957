// A sink that keeps nothing: a run without its output.
#pragma once

#include "solver/sink.hpp"

#include <cstdint>

namespace clampfade::test {

/// Adds up the steps and forgets all else.
class NullSink final : public Sink {
public:
  void begin(const RunHeader& /*header*/) override {}
  void act(const ActRow& /*row*/) override {}
  void event(const EventRow& /*row*/) override {}
  void record(const RecordRow& /*row*/) override {}
  void steps(const StepsRow& row) override {
    accepted += row.steps;
    rejected += row.rejected;
  }
  void checkpoint(const Checkpoint& /*checkpoint*/) override {}
  void end(RunStatus /*status*/, const std::string& /*text*/, const std::vector<std::string>& /*warnings*/) override {}

  std::uint64_t accepted = 0;
  std::uint64_t rejected = 0;
};

} // namespace clampfade::test

// Speed of writing a history to a real file, in the working folder.
#include "models/units.hpp"
#include "solver/io/history.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/bench/shipped.hpp"
#include "tests/support/memory_sink.hpp"

#include <benchmark/benchmark.h>

#include <filesystem>

using namespace clampfade;

namespace {

/// Half a year of hourly rows of the painted wheel: its first week over and over.
void write_history(benchmark::State& state) {
  const Scenario scenario = read_scenario_text(test::painted(test::Rig::TenTied), "bench.yaml");
  test::MemorySink week;
  run(scenario, week);
  const std::string path = "bench_history.h5";
  constexpr int kWeeks = 26;
  std::size_t rows = 0;
  double bytes = 0;
  for (auto _ : state) {
    HistoryWriter writer(path, true);
    writer.begin(week.header);
    for (const ActRow& act : week.acts) {
      writer.act(act);
    }
    for (int w = 0; w < kWeeks; ++w) {
      for (std::size_t i = w == 0 ? 0 : 1; i < week.records.size(); ++i) {
        RecordRow row = week.records[i];
        StepsRow work = week.work[i];
        row.time += 7 * units::kDay * w;
        work.time = row.time;
        writer.record(row);
        writer.steps(work);
        ++rows;
      }
    }
    writer.checkpoint(week.checkpoints.back());
    writer.end(RunStatus::Complete, "", {});
    bytes += static_cast<double>(std::filesystem::file_size(path));
  }
  std::filesystem::remove(path);
  state.counters["rows"] = static_cast<double>(rows) / static_cast<double>(state.iterations());
  state.counters["bytes"] = bytes / static_cast<double>(state.iterations());
}

} // namespace

BENCHMARK(write_history)->Unit(benchmark::kMicrosecond)->UseRealTime();

// Fits of scenarios that a test writes itself, to readings that it makes.
#pragma once

#include "solver/fit.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/simulation.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"

#include <cmath>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::test {

/// One scenario with values to be found; keeps what the request points to.
class FitExample {
public:
  FitExample(const ScenarioText& text, const std::vector<std::string>& free)
      : reader_(std::make_unique<StudyReader>(text.text(), "test.yaml", ReadOptions{}, more(free))) {
    FitSet set;
    set.make = [reader = reader_.get()](const std::vector<double>& values) { return reader->free_case(values); };
    for (const auto& p : reader_->free()) {
      request.parameters.push_back(p.value());
      set.depends.push_back(1);
    }
    request.sets.push_back(std::move(set));
    request.starts = 1;
  }

  /// The run at some values, with its records at these times.
  [[nodiscard]] std::vector<RecordRow> records(const std::vector<double>& values,
                                               const std::vector<double>& times) const {
    Scenario s = reader_->free_case(values);
    s.tolerance = kFitTolerance;
    s.record = {};
    for (const double t : times) {
      s.record.at.push_back({When::Kind::Time, t});
    }
    MemorySink sink;
    run(s, sink);
    return sink.records;
  }
  /// Clamps of the mean of all studs, as they stand, at these times and values.
  [[nodiscard]] std::vector<double> clamps(const std::vector<double>& values, const std::vector<double>& times) const {
    std::vector<double> out;
    const std::vector<RecordRow> rows = records(values, times);
    for (const double t : times) {
      for (const RecordRow& row : rows) {
        if (std::abs(row.time - t) < 1) {
          double sum = 0;
          for (const double f : row.clamp) {
            sum += f;
          }
          out.push_back(sum / static_cast<double>(row.clamp.size()));
          break;
        }
      }
    }
    return out;
  }
  void read(FitQuantity quantity, double time, double value, double error = kFitUnknown) {
    FitReading r;
    r.quantity = quantity;
    r.time = time;
    r.value = value;
    r.error = error;
    request.readings.push_back(r);
  }
  [[nodiscard]] const StudyReader& reader() const { return *reader_; }

  FitRequest request;

private:
  static StudyReader::More more(const std::vector<std::string>& free) {
    StudyReader::More m;
    m.instead = true;
    m.free = free;
    return m;
  }
  std::unique_ptr<StudyReader> reader_;
};

} // namespace clampfade::test

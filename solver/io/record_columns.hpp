// The columns of what a wrench wrote down: acts that tightened, for one wheel in a scenario or for many wheels, and
// readings of a check. One reader for all of them.
#pragma once

#include "solver/io/csv_table.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Columns of acts that tightened.
const std::vector<std::string>& tightening_columns();
/// Columns of readings of a check: those of an act, without what only tightening has, with `moved`.
const std::vector<std::string>& reading_columns();

/// Characters of the name of a vehicle, axle, wheel, tool or person at most; our choice, no source.
inline constexpr std::size_t kLongestName = 200;
/// What is wrong with such a name: too long, or with control characters or bytes that are no UTF-8. Empty if nothing.
std::string name_fault(std::string_view name);

/// What a file of records may and must hold.
struct RecordRules {
  const std::vector<std::string>& known;
  std::vector<std::string> required;
  std::optional<std::size_t> studs; ///< highest number that a stud may have; 0 is silent, because it was a fault before
  bool instants = false;            ///< `time` must be one where it is given; else it is any text
};

/// Rows of a table of records, with every fault noted and reading going on.
class RecordColumns {
public:
  /// Notes what is wrong with the header. The table must outlive this.
  RecordColumns(const CsvTable& table, const RecordRules& rules);

  /// Whether all required columns are there; rows can only be read where they are.
  [[nodiscard]] bool complete() const { return complete_; }
  [[nodiscard]] bool has(const std::string& name) const { return column_.count(name) != 0; }
  /// The cell, empty where there is no such column.
  [[nodiscard]] std::string cell(const CsvRow& row, const std::string& name) const;
  /// The row; none where its stud is none. A torque that could not be read is not a number.
  [[nodiscard]] std::optional<TighteningRecord> read(const CsvRow& row) const;

private:
  [[nodiscard]] double torque(const CsvRow& row, const std::string& name) const;
  [[nodiscard]] std::optional<double> odometer(const CsvRow& row) const;
  [[nodiscard]] std::optional<double> angle(const CsvRow& row) const;
  [[nodiscard]] std::string named(const CsvRow& row, const std::string& column) const;
  void read_time(const CsvRow& row, TighteningRecord& record) const;

  const CsvTable& table_;
  std::optional<std::size_t> studs_;
  bool instants_;
  std::map<std::string, std::size_t> column_;
  bool complete_ = true;
};

} // namespace clampfade

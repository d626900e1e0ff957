// Tables that a scenario names or holds: comma-separated values under a header.
#pragma once

#include "solver/io/document.hpp"
#include "solver/io/map_reader.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// A header and at least one row; its source lives as long as the context.
class CsvTable {
public:
  /// The table in the file that `file` names, beside the scenario. None, with the fault noted, if there is none, or if
  /// something else than commas stands between its columns. `columns`, here and below: those that are needed, for the
  /// message.
  static std::optional<CsvTable> from_file(Context& c, const Item& file, const std::string& path,
                                           std::string_view columns = "");
  /// The table that is the value of `inline_key`, or else in the file under the key `file`.
  static std::optional<CsvTable> from_map(Context& c, Map& map, std::string_view inline_key,
                                          std::string_view columns = "");
  /// The table in a text; `name` stands for its file in messages.
  static std::optional<CsvTable> from_text(Context& c, std::string name, const std::string& text,
                                           std::string_view columns = "");

  [[nodiscard]] const CsvRow& header() const { return rows().front(); }
  [[nodiscard]] std::size_t size() const { return rows().size(); } ///< rows, the header counted
  [[nodiscard]] const CsvRow& last() const { return rows().back(); }

  void fault(const CsvRow& row, Code code, std::string column, std::string found, std::string allowed,
             std::string hint = "") const;
  /// A cell as a plain finite number; NaN, with its fault noted, if it is none.
  [[nodiscard]] double number(const CsvRow& row, std::size_t column, const std::string& name) const;
  /// Calls `read` with each row below the header that has as many cells; ends after too many faults.
  template <class F>
  void each_row(F read) const {
    const std::size_t before = context_->faults.errors().size();
    for (std::size_t i = 1; i < size() && context_->faults.errors().size() < before + kMostFaults; ++i) {
      if (fits(rows()[i])) {
        read(rows()[i]);
      }
    }
  }

  static constexpr std::size_t kMostFaults = 20; ///< of a long table that are told

private:
  /// Whether the row has as many cells as the header; a fault if not.
  [[nodiscard]] bool fits(const CsvRow& row) const;
  [[nodiscard]] const std::vector<CsvRow>& rows() const { return table_->rows; }
  explicit CsvTable(Context& c, std::shared_ptr<const SharedFiles::Rows> table)
      : context_(&c), table_(std::move(table)), source_(table_->source.get()) {}
  Context* context_;
  std::shared_ptr<const SharedFiles::Rows> table_;
  const Source* source_;
};

} // namespace clampfade

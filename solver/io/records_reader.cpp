#include "solver/io/records_reader.hpp"

#include "solver/io/catalogue.hpp"
#include "solver/io/csv_table.hpp"
#include "solver/io/instant.hpp"
#include "solver/io/record_columns.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>

#include <utility>

namespace clampfade {

namespace {

constexpr std::size_t kMostBytes = 1U << 28U; ///< a million rows are some 120 MB

/// Reads a table row by row into `take`, and returns its digest. Throws with all faults.
template <class Take>
std::string read_table(const std::string& path, const RecordRules& rules, std::vector<std::string>& warnings,
                       Take take) {
  Context context;
  context.name = path;
  context.options.max_table_bytes = kMostBytes;
  std::string reason;
  const auto text = file_text(path, kMostBytes, reason);
  if (!text) {
    throw FileError(Code::FileMissing, path + ": " + reason);
  }
  if (text->size() > kMostBytes) {
    context.faults.add(Code::TooLarge, nullptr, 0, 0, path,
                       fmt::format("the file is longer than {} bytes", kMostBytes));
    throw_faults(context.faults);
  }
  const auto csv = CsvTable::from_text(context, path, *text, joined(rules.required));
  throw_faults(context.faults);
  const RecordColumns columns(*csv, rules);
  if (columns.complete()) {
    std::size_t with = 0;
    std::size_t without = 0;
    csv->each_row([&](const CsvRow& row) {
      if (auto record = columns.read(row)) {
        if (record->instant) {
          ++(read_instant(record->time)->ahead ? with : without);
        }
        take(*csv, columns, row, *std::move(record));
      }
    });
    if (with > 0 && without > 0) {
      warnings.push_back(fmt::format("{} times have an offset from UTC and {} have none: those without are read as if "
                                     "their clock showed UTC",
                                     with, without));
    }
  }
  throw_faults(context.faults);
  return sha256(*text);
}

} // namespace

RecordsFile read_records(const std::string& path, std::optional<std::size_t> studs) {
  RecordsFile file;
  file.path = path;
  const RecordRules rules{tightening_columns(), {"stud", "torque", "torque_unit"}, studs, true};
  file.sha256 = read_table(path, rules, file.warnings,
                           [&](const CsvTable&, const RecordColumns&, const CsvRow&, TighteningRecord record) {
                             file.records.push_back(std::move(record));
                           });
  return file;
}

ReadingsFile read_readings(const std::string& path) {
  ReadingsFile file;
  file.path = path;
  const RecordRules rules{
      reading_columns(), {"vehicle", "axle", "wheel", "stud", "time", "torque", "torque_unit", "moved"}, {}, true};
  const auto take = [&](const CsvTable& table, const RecordColumns& columns, const CsvRow& row,
                        TighteningRecord record) {
    const std::string moved = columns.cell(row, "moved");
    if (moved != "yes" && moved != "no") {
      table.fault(row, Code::WrongType, "moved", fmt::format("'{}' does not say whether the nut turned", moved),
                  "yes, no");
    }
    for (const char* name : {"vehicle", "time"}) {
      if (columns.cell(row, name).empty()) {
        table.fault(row, Code::MissingKey, name, "this cell is empty",
                    "a reading says of what vehicle it is, and when");
      }
    }
    file.readings.push_back({std::move(record), moved == "yes"});
  };
  file.sha256 = read_table(path, rules, file.warnings, take);
  return file;
}

Tool read_tool(const std::string& name, const std::string& option) {
  Context context;
  context.name = option;
  context.quiet = true;
  Catalogue catalogue(context);
  Item item;
  item.kind = Item::Kind::Scalar;
  item.text = name;
  Tool tool = catalogue.tool(item, option);
  throw_faults(context.faults);
  return tool;
}

} // namespace clampfade

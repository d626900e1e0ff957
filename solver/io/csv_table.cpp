#include "solver/io/csv_table.hpp"

#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <utility>

namespace clampfade {

namespace {

namespace fs = std::filesystem;

/// What stands between the columns where no comma does; 0 where none does, or nothing.
char other_separator(const CsvRow& header) {
  for (const char c : {';', '\t'}) {
    if (header.cells.size() == 1 && header.cells.front().find(c) != std::string::npos) {
      return c;
    }
  }
  return '\0';
}

} // namespace

std::optional<CsvTable> CsvTable::from_file(Context& c, const Item& file, const std::string& path,
                                            std::string_view columns) {
  if (!file.scalar() || file.text.empty()) {
    c.faults.add(Code::WrongType, file, path, what_it_is(file) + " where a file is due", "the name of a CSV file");
    return std::nullopt;
  }
  const std::string where = (fs::path(c.name).parent_path() / file.text).string();
  {
    const std::lock_guard lock(c.files->mutex);
    if (const auto known = c.files->tables.find(where); known != c.files->tables.end()) {
      return CsvTable(c, known->second);
    }
  }
  std::string reason;
  const auto text = file_text(where, c.options.max_table_bytes, reason);
  if (!text) {
    c.faults.add(Code::FileMissing, file, path, fmt::format("'{}' can't be read: {}", where, reason),
                 "a CSV file, relative to the scenario");
    return std::nullopt;
  }
  if (text->size() > c.options.max_table_bytes) {
    c.faults.add(Code::TooLarge, file, path,
                 fmt::format("'{}' is longer than {} bytes", where, c.options.max_table_bytes), "");
    return std::nullopt;
  }
  std::optional<CsvTable> table = from_text(c, where, *text, columns);
  if (table) {
    const std::lock_guard lock(c.files->mutex);
    c.files->tables.emplace(where, table->table_);
  }
  return table;
}

std::optional<CsvTable> CsvTable::from_map(Context& c, Map& map, std::string_view inline_key,
                                           std::string_view columns) {
  if (const Item* rows = map.find(inline_key)) {
    const std::string text = map.word(*rows, map.at(inline_key));
    return text.empty() ? std::nullopt
                        : from_text(c, fmt::format("{} ({})", c.name, map.at(inline_key)), text, columns);
  }
  const Item* file = map.need("file");
  return file == nullptr ? std::nullopt : from_file(c, *file, map.at("file"), columns);
}

std::optional<CsvTable> CsvTable::from_text(Context& c, std::string name, const std::string& written,
                                            std::string_view columns) {
  const std::string text = plain_line_ends(written);
  if (const auto excess = csv_excess(text)) {
    c.tables.push_back(make_source(std::move(name), ""));
    c.faults.add(Code::TooLarge, c.tables.back().get(), excess->line, 0, "", excess->what, "",
                 "give it in parts, or with fewer points");
    return std::nullopt;
  }
  c.tables.push_back(make_source(std::move(name), text));
  CsvTable table(c, std::make_shared<const SharedFiles::Rows>(SharedFiles::Rows{c.tables.back(), csv_rows(text)}));
  if (const auto bad = bad_character(text)) {
    c.faults.add(Code::Syntax, table.source_, bad->first, 0, "",
                 fmt::format("character {} of this line is a control character or not UTF-8", bad->second),
                 "UTF-8 text without control characters");
    return std::nullopt;
  }
  if (table.size() < 2) {
    c.faults.add(Code::Syntax, table.source_, 0, 0, "", "the table has no rows below its header", "a header and rows");
    return std::nullopt;
  }
  if (const char separator = other_separator(table.header()); separator != '\0') {
    table.fault(table.header(), Code::Syntax, "",
                fmt::format("columns are separated by {}", separator == ';' ? "';'" : "tabs"),
                columns.empty() ? "commas between columns" : fmt::format("commas between columns: {}", columns),
                "write commas, and a point in decimal numbers");
    return std::nullopt;
  }
  return table;
}

void CsvTable::fault(const CsvRow& row, Code code, std::string column, std::string found, std::string allowed,
                     std::string hint) const {
  context_->faults.add(code, source_, row.line, 0, std::move(column), std::move(found), std::move(allowed),
                       std::move(hint));
}

double CsvTable::number(const CsvRow& row, std::size_t column, const std::string& name) const {
  const auto v = plain_number(row.cells[column]);
  if (!v) {
    fault(row, Code::NotANumber, name, fmt::format("'{}' is not a plain finite number", row.cells[column]), "a number");
  }
  return v.value_or(kNone);
}

bool CsvTable::fits(const CsvRow& row) const {
  if (row.cells.size() == header().cells.size()) {
    return true;
  }
  fault(row, Code::Syntax, "", fmt::format("{} cells under a header of {}", row.cells.size(), header().cells.size()),
        "as many cells as the header");
  return false;
}

} // namespace clampfade

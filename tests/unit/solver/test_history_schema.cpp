// The page of the format and the program state the same unit for every dataset.
#include "solver/io/history_schema.hpp"

#include <doctest/doctest.h>

#include <cstddef>
#include <fstream>
#include <map>
#include <sstream>
#include <string>

using namespace clampfade;

namespace {

/// What the page says of each dataset: the cells behind its name, "| stud | N m | ...", or "[N m]" beside it.
std::map<std::string, std::string> rows_of_the_page() {
  std::map<std::string, std::string> rows;
  std::ifstream page(CLAMPFADE_SOURCE "/solver/HISTORY_FORMAT.md");
  for (std::string line; std::getline(page, line);) {
    if (line.rfind("| `/", 0) == 0) {
      const std::size_t end = line.find(" |", 2);
      std::istringstream names(line.substr(2, end - 2));
      for (std::string name; std::getline(names, name, ',');) {
        const std::size_t first = name.find('`');
        const std::size_t last = name.rfind('`');
        rows[name.substr(first + 1, last - first - 1)] = name.substr(last + 1) + line.substr(end);
      }
    }
  }
  return rows;
}

template <class Row>
std::size_t compare(const schema::RowTable<Row>& table, const std::map<std::string, std::string>& page) {
  std::size_t dimensional = 0;
  for (const schema::Column<Row>& column : table.columns) {
    const std::string path = schema::path(table, column);
    CAPTURE(path);
    const auto row = page.find(path);
    if (column.unit == "1") {
      continue; // texts and counts
    }
    REQUIRE(row != page.end());
    const std::string unit(column.unit);
    const auto says = [&](const std::string& text) { return row->second.find(text) != std::string::npos; };
    const bool stated = says("| " + unit + " |") || says(", " + unit + " |") || says("[" + unit + "]");
    CHECK(stated);
    ++dimensional;
  }
  return dimensional;
}

} // namespace

TEST_CASE("history: every dataset states the unit of its numbers as the format page does") {
  const auto page = rows_of_the_page();
  CHECK(compare(schema::kRecords, page) >= 10);
  CHECK(compare(schema::kActs, page) >= 4);
  CHECK(compare(schema::kEvents, page) >= 2);
  CHECK(compare(schema::kSteps, page) >= 2);
  CHECK(compare(schema::kIdentity, page) >= 2);
}

#include "solver/io/document.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace clampfade;

TEST_CASE("csv: cells in quotes keep commas, blanks and doubled quotes") {
  const std::vector<CsvRow> rows = csv_rows("stud, tool\n\n# a remark\n3, \" wrench \"\"long\"\", left \"\r\n4,\n");
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].cells == std::vector<std::string>{"stud", "tool"});
  CHECK(rows[1].cells == std::vector<std::string>{"3", " wrench \"long\", left "});
  CHECK(rows[1].line == 4);
  CHECK(rows[2].cells == std::vector<std::string>{"4", ""});
}

TEST_CASE("csv: a cell written is the cell read") {
  for (const std::string text : {"plain", "", "a, b", "\"quoted\"", " blanks ", "#1", "a\"b", "\tx"}) {
    CAPTURE(text);
    const std::vector<CsvRow> rows = csv_rows("first," + csv_cell(text) + ",last\n");
    REQUIRE(rows.size() == 1);
    CHECK(rows[0].cells == std::vector<std::string>{"first", text, "last"});
  }
}

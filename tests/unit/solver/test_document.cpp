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

TEST_CASE("csv: a text full of line ends, commas or one long line is too much, and a million rows are not") {
  const auto times = [](const std::string& what, std::size_t count) {
    std::string out;
    for (std::size_t i = 0; i < count; ++i) {
      out += what;
    }
    return out;
  };
  CHECK(!csv_excess(times("1,640,N*m,truck 7,1,left,2024-04-09T06:12:00\n", 1000000)));
  CHECK(!csv_excess(std::string(kLongestCsvLine, 'x') + "\n"));
  const auto line = csv_excess("a\n" + std::string(kLongestCsvLine + 1, 'x'));
  REQUIRE(line);
  CHECK(line->line == 2);
  CHECK(csv_excess(std::string(kMostCsvLines + 1, '\n')));
  CHECK(!csv_excess(std::string(kMostCsvLines, '\n')));
  CHECK(csv_excess(times(std::string(999, ',') + "\n", kMostCsvCells / 1000 + 1)));
}

TEST_CASE("faults: the two hundredth ends the reading, with all of them") {
  Faults faults;
  const auto add = [&](std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
      faults.add(Code::UnknownKey, nullptr, 0, 0, "k" + std::to_string(i), "unknown");
    }
  };
  add(199);
  try {
    add(100000);
    FAIL("went on");
  } catch (const InputError& e) {
    CHECK(e.diagnostics().size() == 200);
    CHECK(e.diagnostics().back().path == "k0");
  }
}

TEST_CASE("source: lines are those of the text, whatever ends them") {
  const auto source = make_source("f", "one\r\n\ntwo\nlast");
  REQUIRE(source->lines() == 4);
  CHECK(source->line(0) == "one");
  CHECK(source->line(1).empty());
  CHECK(source->line(2) == "two");
  CHECK(source->line(3) == "last");
  CHECK(make_source("f", "one\n")->lines() == 1);
  CHECK(make_source("f", "")->lines() == 0);
}

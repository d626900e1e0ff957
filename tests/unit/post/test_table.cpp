#include "post/table.hpp"

#include <doctest/doctest.h>

#include <stdexcept>
#include <string>

using namespace clampfade::post;

TEST_CASE("table: width counts characters, not bytes") {
  CHECK(width("N·m") == 3);
  CHECK(width("µm") == 2);
  CHECK(width("") == 0);
}

TEST_CASE("table: text breaks at blanks before the last column") {
  CHECK(wrap("one two three", 0, 7) == "one two\nthree\n");
  CHECK(wrap("one two three", 0, 6) == "one\ntwo\nthree\n"); // the blank counts
  CHECK(wrap("one two three", 2, 9) == "  one two\n  three\n");
  CHECK(wrap("a  wordlongerthanthecolumns b", 0, 8) == "a\nwordlongerthanthecolumns\nb\n");
  CHECK(wrap("µm µm µm", 0, 5) == "µm µm\nµm\n");
}

TEST_CASE("table: numbers stand under each other") {
  Table table({"what", "kN", "N·m"});
  table.add({"weakest", "9.5", "640"});
  table.add({"µ", "119.6", "7"});
  CHECK(table.text() == "  what        kN  N·m\n"
                        "  weakest    9.5  640\n"
                        "  µ        119.6    7\n");
  CHECK_THROWS_AS(table.add({"short"}), std::logic_error);
}

TEST_CASE("table: a last column of sentences is wrapped in its place") {
  Table table({"at", "what"}, true);
  table.add({"1 h", std::string(50, 'x') + " " + std::string(30, 'y')});
  CHECK(table.text() == "  at   what\n  1 h  " + std::string(50, 'x') + "\n       " + std::string(30, 'y') + "\n");
}

TEST_CASE("table: one that is too wide closes up, then wraps its names") {
  const std::string number(12, '7');
  Table close_up({"name", "a", "b", "c", "d", "e"});
  close_up.add({"0123456789", number, number, number, number, number});
  // 2 + 10 + 5 x (12 + 2) = 82 columns; with single blanks 77.
  const std::string row = " " + number;
  CHECK(close_up.text().substr(close_up.text().find('\n') + 1) == "  0123456789" + row + row + row + row + row + "\n");
  Table names({"name", "a", "b", "c", "d", "e"});
  names.add({"inner disc of duals", number, number, number, number, number});
  // 13 columns are left for the name.
  CHECK(names.text().substr(names.text().find('\n') + 1) ==
        "  inner disc of\n  duals        " + row + row + row + row + row + "\n");
}

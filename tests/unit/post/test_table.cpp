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

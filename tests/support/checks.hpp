// A row for every comparison that says how good the program is, and the table of all of them.
//
// Where the environment names files, the test binary writes them when it ends: CLAMPFADE_CHECKS_OUT the whole table in
// Markdown, CLAMPFADE_CHECKS_SHORT_OUT the short form that ships with clampfade-report (JSON),
// CLAMPFADE_CHECKS_ROWS_OUT the plain rows (JSON), as tests/reference/recorded keeps those of the checks that run on
// demand.
#pragma once

#include "tests/support/close.hpp"

#include <string>
#include <string_view>

namespace clampfade::test {

/// Where the expected value comes from.
enum class Kind {
  Text,       ///< published, read in public text
  Memory,     ///< published, recalled from the document named
  Practice,   ///< common practice of the trade, no source
  ClosedForm, ///< exact solution of the same equations
  Library,    ///< the same equations solved by a library that is not ours
  Derived     ///< our own arithmetic from published formulas or data
};

struct CheckRow {
  std::string what;       ///< quantity with its unit in [ ]
  std::string source;     ///< document, formula or library
  Kind kind = Kind::Text; ///<
  double expected = 0;    ///< in the unit of `what`; NaN: the source has no number, or the program has no such model
  double computed = 0;    ///< NaN: the program has no such model
  double tolerance = 0;   ///< absolute, as applied; half the width of a band
  bool band = false;      ///< the source gives a range; `expected` is its middle
  std::string outside;    ///< why the program cannot or should not meet the figure; empty: it must
};

/// Adds a row. What the test has captured (size, friction, time) becomes part of it, so that rows can be told apart.
void record_check(CheckRow row);

/// Checks and records a comparison with an exact solution. The problem and its reference stand in the head of the file.
void check_closed_form(std::string_view what, double computed, const Close& expected);

/// Checks and records a comparison with another library's answer; `library` with its version and method.
void check_library(std::string_view what, std::string_view library, double computed, const Close& expected);

} // namespace clampfade::test

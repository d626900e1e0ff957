// Checks: the short form of the table of checks that ships with clampfade-report. Whether it and the table itself are
//   fresh is for table.cmake, which runs this whole binary once more.
// Problem: the form as it was built in.
// Reference: the totals of its own rows.
// Tolerance: none, these are counts and words.
// Fails if: a section is lost, a line is too long for the page, a figure out of scope has no reason, or a row of common
//   practice goes under another name.
#include "post/checks.hpp"
#include "post/table.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <sstream>
#include <string>

using namespace clampfade;

TEST_CASE("verification table: the short form keeps to 100 columns and carries the caution") {
  const std::string text = post::checks_text();
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    CHECK(post::width(line) <= 100);
  }
  for (const char* part : {"Comparisons by kind", "Sources", "Largest differences", "cannot or should not meet",
                           "common practice", "not a release to service", "never skip a re-check"}) {
    CAPTURE(part);
    CHECK(text.find(part) != std::string::npos);
  }
}

TEST_CASE("verification table: totals, sources and reasons of the short form hang together") {
  const auto checks = nlohmann::json::parse(post::checks_json());
  std::size_t outside = 0;
  std::size_t sourced = 0;
  for (const auto& t : checks["totals"]) {
    outside += t["outside_scope"].get<std::size_t>();
    const std::string kind = t["kind"].get<std::string>();
    if (kind != "derived" && kind != "closed form") {
      sourced += t["inside"].get<std::size_t>() + t["outside_scope"].get<std::size_t>();
    }
  }
  CHECK(checks["totals"].size() == 6);
  std::size_t rows = 0;
  for (const auto& s : checks["sources"]) {
    CAPTURE(s.dump());
    rows += s["rows"].get<std::size_t>();
    const bool practice = s["kind"] == "common practice";
    CHECK(practice == (s["source"].get<std::string>().find("common practice") == 0));
  }
  CHECK(rows == sourced);
  // Figures of every kind can be outside, our own arithmetic on a published range too.
  CHECK(checks["outside_scope"].size() == outside);
  for (const auto& r : checks["outside_scope"]) {
    CAPTURE(r.dump());
    CHECK(r["reason"].get<std::string>().size() > 10);
  }
  CHECK(checks["worst"].size() == 10);
}

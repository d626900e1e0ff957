#include "post/checks.hpp"

#include "post/table.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace clampfade::post {

namespace {

constexpr std::size_t kColumns = 100;
using nlohmann::json;

std::string plain(const json& value) { return value.is_null() ? "–" : fmt::format("{:.5g}", value.get<double>()); }

std::string expected(const json& row) {
  return row.contains("expected_low") ? plain(row["expected_low"]) + " to " + plain(row["expected_high"])
                                      : plain(row["expected"]);
}

std::string text(const json& value) { return value.get<std::string>(); }

/// "quantity: expected, computed (source, kind)".
std::string sentence(const json& row) {
  if (row["computed"].is_null()) {
    const std::string figure = row["expected"].is_null() ? "" : "expected " + plain(row["expected"]) + ", ";
    return text(row["quantity"]) + ": " + figure + "not modelled (" + text(row["source"]) + ", " + text(row["kind"]) +
           ")";
  }
  return text(row["quantity"]) + ": expected " + expected(row) + ", computed " + plain(row["computed"]) + " (" +
         text(row["source"]) + ", " + text(row["kind"]) + ")";
}

} // namespace

std::string checks_text() {
  const json checks = json::parse(checks_json());
  std::string out = "What this version was held against\n";
  out += wrap("Every figure below is a comparison with formulas, tables or practice, none with a measured wheel. The "
              "program gives an estimate, not a release to service: follow the instructions of the makers of vehicle "
              "and wheel and local codes, leave the work to qualified people, and never skip a re-check because of a "
              "prediction.",
              0, kColumns);
  out += "\nComparisons by kind\n";
  Table totals({"kind", "inside", "outside scope", "meaning"}, true);
  for (const json& t : checks["totals"]) {
    totals.add({text(t["kind"]), std::to_string(t["inside"].get<int>()), std::to_string(t["outside_scope"].get<int>()),
                text(t["meaning"])});
  }
  out += totals.text();
  out += "\nSources\n";
  Table sources({"rows", "kind", "source"}, true);
  for (const json& s : checks["sources"]) {
    sources.add({std::to_string(s["rows"].get<int>()), text(s["kind"]), text(s["source"])});
  }
  out += sources.text();
  out += "\nLargest differences inside the tolerances\n";
  for (const json& row : checks["worst"]) {
    out += wrap(fmt::format("{:.2g} %  {}", 100 * row["share_of_value"].get<double>(), sentence(row)), 2, kColumns);
  }
  out += "\nFigures that the program cannot or should not meet\n";
  for (const json& row : checks["outside_scope"]) {
    out += wrap(sentence(row) + ". Why: " + text(row["reason"]), 2, kColumns);
  }
  return out;
}

} // namespace clampfade::post

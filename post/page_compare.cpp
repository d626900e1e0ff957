#include "post/page_compare.hpp"

#include "post/alarms.hpp"
#include "post/charts.hpp"
#include "post/markup.hpp"
#include "post/page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <string_view>

namespace clampfade::post {

using namespace markup;

namespace {

/// Colours and dashes of a page's lines repeat together only after 40 of them.
constexpr std::size_t kColours = 10;
constexpr std::size_t kMostPoints = 800;      // of a line
constexpr std::string_view kBreak = "<wbr/>"; ///< where a word may be broken

/// Head of a table with a column for each run.
std::vector<std::string> head(const Comparison& c, const char* first) {
  std::vector<std::string> cells = {first};
  for (const Compared& one : c.all) {
    cells.push_back(escape(one.letter));
  }
  return cells;
}

std::string runs_markup(const Comparison& c, Units units) {
  std::string list;
  for (const Compared& one : c.all) {
    list += element("li", {},
                    element("strong", {}, escape(one.letter)) + ": " + escape(one.summary.title) + " " +
                        element("span", {{"class", "muted"}}, escape(one.summary.path)));
  }
  std::string out = element("ul", {{"class", "runs"}}, list);
  for (const std::string& reservation : c.reservations) {
    out += paragraph(escape(reservation), "alarm");
  }
  for (const Compared& one : c.all) {
    const Finding& f = one.summary.finding;
    for (const Alarm& a : one.summary.alarms) {
      out += paragraph(element("strong", {}, escape(one.letter)) + ": " +
                           said([&](System s) { return sentence(a, one.summary, s); }, units),
                       "alarm");
    }
    if (one.summary.records == 0 || !f.required_clamp) {
      continue;
    }
    out += paragraph(element("strong", {}, escape(one.letter)) + ": " +
                     (f.below_from_start ? "below the required clamp from the start"
                      : f.first_below ? escape("falls below the required clamp after " + duration(f.first_below->time))
                                      : "never below the required clamp in this run") +
                     "; lowest cold clamp " + force(f.lowest_clamp_cold, units) + ", required " +
                     force(*f.required_clamp, units) + ".");
  }
  return out + paragraph(escape(reservation_sentence(c)), "note") + cautions_box();
}

/// Lowest cold clamp of the studs that kept their nuts, at each record.
std::vector<double> weakest(const Run& run) {
  std::vector<double> lowest(run.rows(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t row = 0; row < run.rows(); ++row) {
    for (std::size_t stud = 0; stud < run.studs(); ++stud) {
      if (!run.summary.stud_lines[stud].removed) {
        lowest[row] = std::fmin(lowest[row], run.clamp_cold[row * run.studs() + stud]);
      }
    }
  }
  return lowest;
}

Chart clamp_of_all(const Comparison& c, const std::vector<Run>& runs) {
  Chart chart;
  chart.id = "clamp";
  chart.title = "Cold clamp of the weakest stud";
  chart.note =
      "Each line is a run, by its letter at the line's end; below its required clamp a wheel is not held as it "
      "must be.";
  chart.y_name = "Clamp load";
  chart.y_kind = Kind::Force;
  ChartVariant variant;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const Run& run = runs[i];
    const std::vector<double> y = weakest(run);
    const std::vector<std::size_t> rows = choose_rows(run, {&y}, kMostPoints);
    variant.axes.push_back({pick(run.time, 1, 0, rows), pick(run.distance, 1, 0, rows)});
    ChartLine line;
    line.label = c.all[i].letter;
    line.name = line.label + ": " + c.all[i].summary.title;
    line.y = pick(y, 1, 0, rows);
    line.axis = i;
    line.colour = i % kColours + 1;
    line.dash = i / kColours % 4;
    variant.lines.push_back(std::move(line));
    const auto& required = c.all[i].summary.finding.required_clamp;
    const auto same = [&](const ChartLevel& l) { return required && l.y == *required; };
    if (required && *required > 0 && std::none_of(chart.levels.begin(), chart.levels.end(), same)) {
      chart.levels.push_back({"required clamp", *required});
    }
  }
  if (chart.levels.size() > 1) {
    for (ChartLevel& level : chart.levels) { // which runs a level belongs to
      std::string letters;
      for (const Compared& one : c.all) {
        letters += one.summary.finding.required_clamp == level.y ? (letters.empty() ? "" : ", ") + one.letter : "";
      }
      level.name += " of " + letters;
    }
  }
  chart.variants.push_back(std::move(variant));
  return chart;
}

std::string decisions_markup(const Comparison& c, Units units) {
  const std::vector<DecisionRow> si = decision_rows(c, System::Si);
  const std::vector<DecisionRow> us = decision_rows(c, System::Us);
  const auto both = [&](const std::string& a, const std::string& b) {
    return said([&](System s) { return s == System::Si ? a : b; }, units);
  };
  std::vector<std::vector<std::string>> rows;
  for (std::size_t i = 0; i < si.size(); ++i) {
    std::vector<std::string> cells = {both(si[i].what, us[i].what)};
    for (std::size_t k = 0; k < si[i].values.size(); ++k) {
      cells.push_back(both(si[i].values[k], us[i].values[k]));
    }
    rows.push_back(std::move(cells));
  }
  return table("What it comes to", head(c, ""), rows);
}

std::string differences_markup(const Comparison& c, Units units) {
  if (c.differences.empty()) {
    return paragraph("The scenarios are the same, titles apart.");
  }
  std::vector<std::vector<std::string>> rows;
  for (const Difference& d : c.differences) {
    const std::vector<std::string> si = shown_values(d, System::Si);
    const std::vector<std::string> us = shown_values(d, System::Us);
    std::string path = escape(d.path); // a long one breaks after a slash
    for (std::size_t at = path.find('/'); at != std::string::npos; at = path.find('/', at + 1 + kBreak.size())) {
      path.insert(at + 1, kBreak);
    }
    std::vector<std::string> cells = {path};
    for (std::size_t k = 0; k < si.size(); ++k) {
      cells.push_back(said([&](System s) { return s == System::Si ? si[k] : us[k]; }, units));
    }
    rows.push_back(std::move(cells));
  }
  return table("Keys of the scenarios that differ", head(c, "key"), rows, 1 + c.all.size()) +
         paragraph("A dash: that scenario does not have the key.", "note");
}

/// The weakest stud's budget of every run; mechanisms that took nothing anywhere are left out.
std::string budgets_markup(const Comparison& c, Units units) {
  const auto line = [](const Compared& one, std::size_t m) -> const BudgetLine* {
    return m < one.summary.budget.lines.size() ? &one.summary.budget.lines[m] : nullptr;
  };
  std::size_t mechanisms = 0;
  for (const Compared& one : c.all) {
    mechanisms = std::max(mechanisms, one.summary.budget.lines.size());
  }
  std::vector<std::vector<std::string>> rows;
  const auto row = [&](const std::string& what, const std::function<std::string(const Compared&)>& of) {
    std::vector<std::string> cells = {what};
    for (const Compared& one : c.all) {
      cells.push_back(one.summary.records == 0 ? "–" : of(one));
    }
    rows.push_back(std::move(cells));
  };
  const auto fixed = [&](double v, Kind kind) { return fixed_quantity(v, kind, units.first, "span", true); };
  row("cold clamp as tightened",
      [&](const Compared& one) { return fixed(one.summary.budget.weakest.first, Kind::Force); });
  for (std::size_t m = 0; m < mechanisms; ++m) {
    const bool idle = std::all_of(c.all.begin(), c.all.end(), [&](const Compared& one) {
      const BudgetLine* l = line(one, m);
      return l == nullptr || (l->clamp_weakest == 0 && l->loss_weakest == 0);
    });
    if (idle) {
      continue;
    }
    std::string what;
    for (const Compared& one : c.all) {
      if (const BudgetLine* l = line(one, m); l != nullptr) {
        what = l->mechanism;
      }
    }
    row(escape(mechanism_name(what)), [&](const Compared& one) {
      const BudgetLine* l = line(one, m);
      return l == nullptr
                 ? std::string("–")
                 : fixed(-l->clamp_weakest, Kind::Force) + " " +
                       element("span", {{"class", "muted"}}, "(" + fixed(l->loss_weakest, Kind::Thickness) + ")");
    });
  }
  row("retorque gain", [&](const Compared& one) { return fixed(one.summary.budget.weakest.gain, Kind::Force); });
  row("cold clamp at the end", [&](const Compared& one) { return fixed(one.summary.budget.weakest.end, Kind::Force); });
  return table("Where the clamp of the weakest stud went", head(c, ""), rows) +
         paragraph("Clamp in " + unit_name(Kind::Force, units.first) + ", in brackets the thickness lost in " +
                       unit_name(Kind::Thickness, units.first) +
                       ". Each run's own weakest stud: the lowest cold clamp of all that kept their nuts.",
                   "note");
}

} // namespace

std::string compare_page(const Comparison& comparison, const std::vector<Run>& runs, System opens_with) {
  const Units units{opens_with, true};
  PageBuilder page(fmt::format("{} runs side by side", runs.size()), units);
  page.header(
      title_block("Clamp load of a wheel joint: runs side by side", fmt::format("{} runs compared", runs.size()), {}));
  std::vector<std::string> warnings;
  for (const Run& run : runs) {
    warnings.insert(warnings.end(), run.summary.warnings.begin(), run.summary.warnings.end());
  }
  page.basis(warnings);
  page.section("finding", "Finding", "Which of them keep the clamp they need?", runs_markup(comparison, units));
  page.section("clamp-over-time", "Clamp", "How much clamp is left?", page.figure(clamp_of_all(comparison, runs)));
  page.section("decision", "Decision", "What does it come to?", decisions_markup(comparison, units));
  page.section("budgets", "Losses", "What took the clamp?", budgets_markup(comparison, units));
  page.section("differences", "Differences", "What differs between the scenarios?",
               differences_markup(comparison, units));
  return page.html();
}

} // namespace clampfade::post

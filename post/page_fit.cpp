#include "post/page_fit.hpp"

#include "post/drawing/xy_chart.hpp"
#include "post/fit_text.hpp"
#include "post/markup.hpp"
#include "post/page.hpp"
#include "post/sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

using namespace markup;

namespace {

constexpr ChartSize kFull{800, 340};
constexpr ChartSize kLow{800, 230};
constexpr ChartSize kHalf{520, 280};
constexpr std::size_t kMostRows = 400;
constexpr double kLittle = 0.5; // weight below which a point is hollow

std::string in_units(const std::function<std::string(System)>& text, Units units) {
  return said([&](System s) { return text(s); }, units);
}

std::string figure_of(const std::string& svg, const std::string& note, double wide) {
  const std::string width = fmt::format("min-width:{:.0f}px;max-width:{:.0f}px", 0.8 * wide, 1.25 * wide);
  return element("figure", {},
                 element("div", {{"class", "scroll"}}, element("div", {{"class", "sized"}, {"style", width}}, svg)) +
                     element("figcaption", {}, escape(note)));
}

std::string finding(const FitResult& fit, Units units) {
  std::string keys;
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitValue& v = fit.values[k];
    const ValueScale scale = scale_of(fit.parameters[k]);
    keys += key_figure(not_fixed(fit.parameters[k], v) ? "bad" : "good", capital(fit.parameters[k].label),
                       in_units([&](System s) { return value_text(v.value, scale, s); }, units),
                       "95 %: " + in_units([&](System s) { return interval_text(fit, k, s); }, units));
  }
  std::string out = element("dl", {{"class", "keys"}}, keys);
  const std::size_t n = fit_sentences(fit, System::Si).size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::string text = in_units([&](System s) { return fit_sentences(fit, s).at(i); }, units);
    out += paragraph(text, i + 1 == n ? "note" : "lead");
  }
  return out + cautions_box();
}

std::string values_markup(const FitResult& fit, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitParameter& p = fit.parameters[k];
    const FitValue& v = fit.values[k];
    const ValueScale scale = scale_of(p);
    const auto text = [&](double si) { return in_units([&](System s) { return value_text(si, scale, s); }, units); };
    rows.push_back(
        {escape(p.label), text(v.value), text(v.low), text(v.high),
         std::isnan(v.profile_low) ? "–" : text(v.profile_low), std::isnan(v.profile_high) ? "–" : text(v.profile_high),
         std::isnan(v.error) ? "–"
                             : in_units([&](System s) { return value_text(v.error, difference_scale(p), s); }, units),
         text(p.low), text(p.high), text(p.start), element("code", {}, escape(p.path))});
  }
  std::string out = table("What was found",
                          {"", "value", "95 % from", "to", "profile from", "to", "standard error", "lower bound",
                           "upper bound", "before", "in the scenario"},
                          rows);
  if (fit.values.size() > 1) {
    std::vector<std::string> heads = {""};
    std::vector<std::vector<std::string>> cells;
    for (std::size_t k = 0; k < fit.values.size(); ++k) {
      heads.push_back(escape(fit.parameters[k].label));
      std::vector<std::string> row = {escape(fit.parameters[k].label)};
      for (std::size_t m = 0; m < fit.values.size(); ++m) {
        const double r = fit.correlation[k * fit.values.size() + m];
        const std::string text = fmt::format("{:.3f}", r);
        row.push_back(k != m && std::abs(r) > 0.95 ? element("strong", {}, text) : text);
      }
      cells.push_back(std::move(row));
    }
    out += table("Correlations of the values", heads, cells) +
           paragraph("Near 1 or -1, in bold: the readings know a combination of the two better than either.", "note");
  }
  return out;
}

/// The shortest reading time of a set above 0 and its longest.
EarlyTime time_scale(const FitResult& fit, std::size_t set) {
  double first = INFINITY;
  double last = 0;
  for (const FitReading& r : fit.readings) {
    if (r.set == set) {
      first = r.time > 0 ? std::min(first, r.time) : first;
      last = std::max(last, r.time);
    }
  }
  return {std::isfinite(first) ? first / 2 : 1, std::max(last, 1.0)};
}

std::string chart_of(const FitResult& fit, std::size_t set, FitQuantity quantity, Units units) {
  const EarlyTime scale = time_scale(fit, set);
  XyChart chart;
  chart.id =
      fmt::format("fit-{}-{}", set + 1, word_of(quantity).substr(0, 5) == "cold " ? "cold" : describe(quantity).word);
  std::replace(chart.id.begin(), chart.id.end(), '_', '-');
  chart.title = fmt::format("{} read, and the model: {}", capital(word_of(quantity)), fit.sets[set].title);
  chart.note =
      "Points: readings, with a bar of one standard deviation to either side. Lines: the model with the values "
      "found. Hollow: readings that a robust loss counts less than half. Early hours have more room.";
  chart.y_name = capital(word_of(quantity));
  chart.y_kind = kind_of(quantity);
  chart.x_name = {"time since tightening", "time since tightening"};
  chart.ticks = scale.ticks();
  XyChart residuals = chart;
  residuals.id += "-off";
  residuals.title = fmt::format("{}: reading less model, in errors", capital(word_of(quantity)));
  residuals.note =
      "Readings that lie about nothing without a course, within two errors for the most part, are what the "
      "model and its errors lead one to expect.";
  residuals.y_name = "Off the model, errors";
  residuals.y_kind = Kind::Number;
  residuals.levels = {{"", 0}, {"2", 2}, {"-2", -2}};
  std::size_t colour = 0;
  for (const FitCurve& c : fit.curves) {
    if (c.set != set || c.quantity != quantity) {
      continue;
    }
    colour = colour % 9 + 1;
    XySeries line;
    line.joined = true;
    line.colour = colour;
    for (const double t : fit.sets[set].time) {
      line.x.push_back(scale(t));
    }
    line.y = c.value;
    XySeries points;
    points.name = subject(quantity, c.stud, c.part);
    points.colour = colour;
    XySeries off;
    off.name = points.name;
    off.colour = colour;
    for (std::size_t i = 0; i < fit.readings.size(); ++i) {
      const FitReading& r = fit.readings[i];
      if (r.set == set && r.quantity == quantity && r.stud == c.stud && r.part == c.part) {
        points.x.push_back(scale(r.time));
        points.y.push_back(r.value);
        points.error.push_back(fit.residuals[i].error);
        points.hollow.push_back(fit.residuals[i].weight < kLittle ? 1 : 0);
        off.y.push_back(fit.residuals[i].standardised);
      }
    }
    off.x = points.x;
    off.hollow = points.hollow;
    chart.series.push_back(std::move(line));
    chart.series.push_back(std::move(points));
    residuals.series.push_back(std::move(off));
  }
  return figure_of(draw(chart, units, kFull), chart.note, kFull.width) +
         figure_of(draw(residuals, units, kLow), residuals.note, kLow.width);
}

std::string profile_markup(const FitResult& fit, Units units) {
  std::string out;
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitValue& v = fit.values[k];
    const FitParameter& p = fit.parameters[k];
    if (v.profile_value.size() < 2) {
      continue;
    }
    const ValueScale scale = scale_of(p);
    XyChart chart;
    chart.id = fmt::format("profile-{}", k + 1);
    chart.title = capital(p.label);
    chart.note =
        fmt::format("How much worse the best fit gets with {} held. Below the line: the 95 % interval.", p.label);
    chart.y_name = "Rise of the sum of squares";
    chart.x_name = {p.label + (unit_text(scale, System::Si).empty() ? "" : ", " + unit_text(scale, System::Si)),
                    p.label + (unit_text(scale, System::Us).empty() ? "" : ", " + unit_text(scale, System::Us))};
    XySeries line;
    line.joined = true;
    line.x = v.profile_value;
    line.y = v.profile_rise;
    XySeries points;
    points.x = line.x;
    points.y = line.y;
    chart.series = {line, points};
    chart.levels = {{"95 %", fit.t_quantile * fit.t_quantile}};
    // Round numbers of the SI unit shown, at their places in SI.
    const double low = convert(v.profile_value.front(), scale.kind, System::Si);
    const double high = convert(v.profile_value.back(), scale.kind, System::Si);
    const double step = (v.profile_value.back() - v.profile_value.front()) / (high - low);
    for (const double t : ticks(low, high, 6)) {
      const double si = v.profile_value.front() + (t - low) * step;
      chart.ticks.push_back({si, {value_text(si, scale, System::Si, false), value_text(si, scale, System::Us, false)}});
    }
    out += element("div", {{"class", "cell"}}, figure_of(draw(chart, units, kHalf), chart.note, kHalf.width));
  }
  return out.empty() ? "" : element("div", {{"class", "grid"}}, out);
}

std::string starts_markup(const FitResult& fit, Units units) {
  std::vector<std::string> heads = {"start", "outcome", "cost"};
  for (const FitParameter& p : fit.parameters) {
    heads.push_back(escape(p.label) + ", from");
    heads.emplace_back("to");
  }
  std::vector<std::vector<std::string>> rows;
  for (std::size_t s = 0; s < fit.starts.size(); ++s) {
    const FitStart& start = fit.starts[s];
    std::vector<std::string> row = {fmt::format("{}{}", s + 1, s == fit.best ? ", best" : ""), escape(start.outcome),
                                    std::isnan(start.cost) ? "–" : escape(number(start.cost, 5))};
    for (std::size_t k = 0; k < fit.parameters.size(); ++k) {
      const ValueScale scale = scale_of(fit.parameters[k]);
      for (const double v : {start.from[k], start.to[k]}) {
        row.push_back(in_units([&](System u) { return value_text(v, scale, u); }, units));
      }
    }
    rows.push_back(std::move(row));
  }
  return table("Where each search began and ended", heads, rows, 2) +
         paragraph(
             "Searches that end at the same values from unlike starts make it likely that there are no better ones. "
             "Cost: half the sum of the losses of the residuals, by the errors of the result.",
             "note");
}

std::string readings_markup(const FitResult& fit, Units units) {
  const bool several = fit.sets.size() > 1;
  std::vector<std::vector<std::string>> rows;
  bool checks = false;
  for (std::size_t i = 0; i < std::min(fit.readings.size(), kMostRows); ++i) {
    const FitReading& r = fit.readings[i];
    const FitResidual& e = fit.residuals[i];
    const Kind kind = kind_of(r.quantity);
    std::vector<std::string> row = {escape(subject(r.quantity, r.stud, r.part))};
    if (several) {
      row.push_back(std::to_string(r.set + 1));
    }
    row.push_back(escape(duration(r.time)));
    row.push_back(quantity(r.value, kind, units.first));
    row.push_back(quantity(e.model, kind, units.first));
    row.push_back(kind == Kind::Temperature ? escape(number(e.error, 3) + " K")
                                            : quantity(e.error, kind, units.first, 3));
    row.push_back(std::abs(e.standardised) > 3 ? element("strong", {}, fmt::format("{:+.2f}", e.standardised))
                                               : fmt::format("{:+.2f}", e.standardised));
    row.push_back(escape(number(e.weight, 2)));
    row.push_back(std::isnan(e.clamp) ? "" : force(e.clamp, units, 3) + " ± " + force(e.clamp_deviation, units, 2));
    checks = checks || !std::isnan(e.clamp);
    row.push_back(escape(r.note));
    rows.push_back(std::move(row));
  }
  std::vector<std::string> heads = {"reading"};
  if (several) {
    heads.emplace_back("set");
  }
  for (const char* head : {"time", "read", "model", "error", "off, errors", "counts", "stands for", "note"}) {
    heads.emplace_back(head);
  }
  std::string out = table("Every reading", heads, rows);
  out = rows.size() > 40 ? details(fmt::format("All {} readings", rows.size()), out) : out;
  if (checks) {
    out +=
        paragraph("Stands for: the clamp that a check torque stands for by the scenario's frictions, ± one standard "
                  "deviation from those of reading, frictions and breakaway. A reading stays high where friction has "
                  "risen, with the clamp long gone.",
                  "note");
  }
  if (fit.readings.size() > kMostRows) {
    out += paragraph(fmt::format("{} more readings are not shown; clampfade-report table has them all.",
                                 fit.readings.size() - kMostRows),
                     "note");
  }
  return out;
}

std::string block_markup(const FitResult& fit) {
  return paragraph("The catalogue entries with the values found, whole, to take the place of those in a scenario's "
                   "`catalogue` or to stand in a file of it.") +
         element("pre", {}, escape(fit.block));
}

} // namespace

std::string fit_page(const FitFile& file, System opens_with) {
  const Units units{opens_with, true};
  const FitResult& fit = file.fit;
  PageBuilder page(fit.sets.front().title, units);
  page.basis(fit.warnings);
  page.header(title_block("Clamp load of a bolted joint: values from readings", fit.sets.front().title,
                          {counted(fit.readings.size(), "reading"), counted(fit.values.size(), "value"),
                           counted(fit.sets.size(), "data set")}));
  page.section("finding", "Finding", "What do the readings say?", finding(fit, units));
  const std::string warnings = warnings_list(fit.warnings, units);
  if (!warnings.empty()) {
    page.section("warnings", "Warnings", "What do they not say?", warnings);
  }
  page.section("values", "Values", "How well is each value known?", values_markup(fit, units));
  std::string charts;
  for (std::size_t s = 0; s < fit.sets.size(); ++s) {
    std::string of_set;
    for (std::size_t q = 0; q < kFitQuantities; ++q) {
      const auto quantity = static_cast<FitQuantity>(q);
      if (std::any_of(fit.curves.begin(), fit.curves.end(),
                      [&](const FitCurve& c) { return c.set == s && c.quantity == quantity; })) {
        of_set += chart_of(fit, s, quantity, units);
      }
    }
    charts += (fit.sets.size() > 1 ? element("h3", {}, escape(fmt::format("{}: {}", s + 1, fit.sets[s].title))) : "") +
              of_set;
  }
  page.section("model", "Model", "Does the model go through the readings?", charts);
  const std::string profiles = profile_markup(fit, units);
  if (!profiles.empty()) {
    page.section("profiles", "Profiles", "How fast does the fit get worse beside the values?", profiles);
  }
  page.section("block", "To be pasted", "How are the values used?", block_markup(fit));
  page.section("readings", "Readings", "How far is each reading off?", readings_markup(fit, units));
  page.section("starts", "Search", "Is there a better answer elsewhere?", starts_markup(fit, units));
  std::string made = paragraph(
      escape(fmt::format("{} runs{}; loss {}, seed {}.", fit.runs,
                         fit.failed_runs > 0 ? fmt::format(", {} of them without an end", fit.failed_runs) : "",
                         name(fit.loss), fit.seed)));
  for (const FitSetResult& s : fit.sets) {
    made += paragraph(escape(fmt::format("{}: scenario {}, readings {} (SHA-256 {:.12}).", s.title, s.scenario_file,
                                         s.data_file, s.data_sha256)),
                      "note") +
            details("The scenario", element("pre", {}, escape(s.scenario_text)));
  }
  page.section("computed", "Computation", "How was it computed?",
               made + paragraph(escape(fmt::format("Written by program {} ({}) on {}.", file.program_version,
                                                   file.git_sha, file.created_utc)),
                                "note"));
  return page.html();
}

} // namespace clampfade::post

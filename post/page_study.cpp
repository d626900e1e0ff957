#include "post/page_study.hpp"

#include "post/markup.hpp"
#include "post/page.hpp"
#include "post/sentences.hpp"
#include "post/study_charts.hpp"
#include "post/study_text.hpp"
#include "solver/basis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

using namespace markup;

namespace {

constexpr std::size_t kMostRows = 400;  // of the table of cases
constexpr std::size_t kMostShown = 40;  // of them in sight at once
constexpr std::size_t kMostPanels = 24; // small maps
constexpr std::size_t kSmallMap = 5;    // columns
constexpr ChartSize kHalf{560, 330};    // of a card
constexpr ChartSize kFull{800, 340};
constexpr std::size_t kMostFailures = 20;

/// Plain text in both systems of units.
std::string both_spans(const BothTexts& texts, Units units) {
  return units.both ? in_both(texts.si, texts.us) : escape(units.first == System::Si ? texts.si : texts.us);
}

/// A drawing as wide as its words ask for: no smaller than they can be read, and not as if for a wall.
std::string box(const std::string& svg) {
  const double wide = std::stod(svg.substr(svg.find("viewBox=\"0 0 ") + 13));
  const std::string width = fmt::format("min-width:{:.0f}px;max-width:{:.0f}px", 0.8 * wide, 1.25 * wide);
  return element("div", {{"class", "scroll"}}, element("div", {{"class", "sized"}, {"style", width}}, svg));
}

std::string figure_of(const std::string& svg, const std::string& note) {
  return element("figure", {}, box(svg) + element("figcaption", {}, escape(note)));
}

/// Against time or distance as the reader likes; against time alone where cases differ in distance.
std::string chart_of(PageBuilder& page, const Study& study, const Chart& chart) {
  return drives_alike(study) ? page.figure(chart) : figure_of(draw(chart, Along::Time, page.units()), chart.note);
}

std::string finding(const Study& study, const StudySummary& s, Units units) {
  std::string out;
  if (study.kind == StudyKind::Sample && !s.chances.empty()) {
    const Chance& end = s.chances.back();
    std::string keys = key_figure(end.below > 0 ? "bad" : "good", "Wheels with a stud below, at the end",
                                  escape(share_text(end.share())),
                                  escape(fmt::format("{} of {}; 95 % confidence: {} to {}", end.below, end.of,
                                                     share_text(end.band.low), share_text(end.band.high))));
    const RiskLimit& r = s.risk;
    const bool far = r.enough && std::isfinite(r.distance);
    keys +=
        key_figure(r.enough && std::isinf(r.time) ? "good" : "bad", "Risk of " + share_text(r.risk) + " reached",
                   !r.enough            ? "not known"
                   : std::isinf(r.time) ? "never"
                   : r.time <= 0        ? "from the start"
                   : far                ? quantity(r.distance, Kind::Distance, units.first, 3)
                                        : escape(duration(r.time)),
                   !r.enough                           ? escape(fmt::format("takes {} cases or more", r.fewest))
                   : std::isinf(r.time) || r.time <= 0 ? "by the upper edge of the band"
                                                       : escape(duration(r.time)) + "; by the upper edge of the band");
    if (s.overtightened > 0) {
      keys += key_figure(
          "bad", "Wheels overtightened",
          escape(share_text(static_cast<double>(s.overtightened) / static_cast<double>(end.of))),
          escape(fmt::format("{} of {}: a stud stretched for good, or above its proof load", s.overtightened, end.of)));
    }
    out += element("dl", {{"class", "keys"}}, keys);
  }
  const std::size_t n = study_sentences(study, s, System::Si).size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::string text = said([&](System u) { return study_sentences(study, s, u).at(i); }, units);
    const bool loud = i == 0 ? s.below > 0 : i == 1 && s.overtightened > 0;
    out += paragraph(text, loud ? "alarm" : i > 0 && i + 1 == n ? "note" : "lead");
  }
  return out + cautions_box();
}

std::string maps_markup(const std::vector<StudyMap>& maps, Units units) {
  if (maps.empty()) {
    return "";
  }
  const std::string& note = maps.front().map.note;
  if (maps.size() == 1) {
    return figure_of(draw(maps.front().map, units), note);
  }
  std::string cells;
  for (std::size_t i = 0; i < std::min(maps.size(), kMostPanels); ++i) {
    cells += element("div", {{"class", "cell"}},
                     element("h3", {}, both_spans(maps[i].others, units)) + box(draw(maps[i].map, units, 520)));
  }
  std::string out =
      element("div", {{"class", "grid"}}, cells) + paragraph(escape(note + " All maps share their grounds."), "note");
  if (maps.size() > kMostPanels) {
    out += paragraph(
        fmt::format("{} more maps are not drawn; the table of cases has their values.", maps.size() - kMostPanels),
        "note");
  }
  return out;
}

std::string cases_markup(const Study& study, Units units) {
  std::vector<std::string> heads = {"case"};
  for (const StudyAxis& axis : study.axes) {
    heads.push_back(escape(axis.label));
  }
  for (const StudyInput& input : study.inputs) {
    heads.push_back(escape(input.label));
  }
  const std::size_t words = heads.size();
  const auto in = [&](const char* what, Kind kind) { return heading_unit(what, kind, units); };
  for (const std::string& head :
       {in("weakest at the end", Kind::Force), in("mean at the end", Kind::Force), in("lost", Kind::Force),
        in("first below", Kind::Distance), std::string("after"), std::string("slip margin"), std::string("nuts loose"),
        std::string("studs yielded"), std::string("under the wrench, of yield")}) {
    heads.push_back(head);
  }
  std::vector<std::vector<std::string>> rows;
  for (std::size_t i = 0; i < std::min(study.cases.size(), kMostRows); ++i) {
    const StudyCase& c = study.cases[i];
    std::vector<std::string> row = {std::to_string(i)};
    const std::vector<std::string> si = case_values(study, i, System::Si);
    const std::vector<std::string> us = case_values(study, i, System::Us);
    for (std::size_t k = 0; k < si.size(); ++k) {
      row.push_back(both_spans({si[k], us[k]}, units));
    }
    if (c.status != CaseStatus::Complete) {
      row.push_back(c.status == CaseStatus::Failed ? "failed" : "waits");
      row.insert(row.end(), 8, "");
    } else {
      for (const Outcome* o : {&outcomes()[0], &outcomes()[4], &outcomes()[5], &outcomes()[1], &outcomes()[2],
                               &outcomes()[6], &outcomes()[8], &outcomes()[9], &outcomes()[10]}) {
        const double v = o->of(c);
        const bool quantity_of = std::isfinite(v) && (o->kind == Kind::Force || o->kind == Kind::Distance);
        row.push_back(quantity_of ? bare(v, o->kind, units) : escape(outcome_text(*o, v, System::Si, 3)));
      }
      if (weakest_at_end().of(c) < c.required_clamp) {
        row[words] = element("strong", {}, row[words]);
      }
      if (const std::string mark = wrench_mark(c); !mark.empty()) {
        row.back() = element("strong", {}, row.back() + " " + mark);
      } else if (std::isnan(c.utilisation_tightening)) {
        row.back() = "–";
      }
    }
    rows.push_back(std::move(row));
  }
  std::string out = table("Every case", heads, rows, 1);
  if (rows.size() > kMostShown) {
    out = details(fmt::format("All {} cases", rows.size()), out);
  }
  out += paragraph(
      "Clamps are cold. Lost and mean: of all studs. First below: where and when a stud first falls below the "
      "required clamp. Bold: the weakest stud ends below it, or the wrench is too much for a stud: it stretches it for "
      "good, or pulls it above its proof load.",
      "note");
  if (study.cases.size() > kMostRows) {
    out += paragraph(fmt::format("{} more cases are not shown; clampfade-report table has them all.",
                                 study.cases.size() - kMostRows),
                     "note");
  }
  return out;
}

std::string failures_markup(const Study& study, const StudySummary& s, Units units) {
  std::string items;
  for (std::size_t i = 0; i < std::min(s.failures.size(), kMostFailures); ++i) {
    const std::size_t at = s.failures[i];
    items += element("li", {},
                     said([&](System u) { return case_name(study, at, u); }, units) + ": " +
                         escape(study.cases[at].message));
  }
  std::string out = element("ul", {}, items);
  if (s.failures.size() > kMostFailures) {
    out += paragraph(fmt::format("... and {} more.", s.failures.size() - kMostFailures), "note");
  }
  return out;
}

std::string inputs_markup(const Study& study, const StudySummary& s, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (const InputSpread& spread : s.inputs) {
    const StudyInput& input = study.inputs[spread.input];
    std::vector<std::string> row = {escape(input.label), input.per_stud ? "each stud" : "the wheel"};
    for (const std::size_t q : {0U, 2U, 4U}) {
      row.push_back(both_spans({value_text(spread.at.at(q), spread.scale, System::Si),
                                value_text(spread.at.at(q), spread.scale, System::Us)},
                               units));
    }
    row.push_back(element("code", {}, escape(input.distribution)));
    row.push_back(element("code", {}, escape(input.path)));
    rows.push_back(std::move(row));
  }
  return table("What was drawn, by its quantiles over all cases and studs",
               {"", "drawn for", "5 %", "50 %", "95 %", "as written", "in the scenario"}, rows, 9);
}

std::string spreads_markup(const StudySummary& s, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (const OutcomeSpread& spread : s.spreads) {
    const Outcome& o = *spread.outcome;
    const bool plain_kind = o.kind == Kind::Number || o.kind == Kind::Duration;
    std::vector<std::string> row = {plain_kind ? escape(o.label)
                                               : escape(o.label) + ", " + unit_name(o.kind, units.first)};
    for (const double v : spread.at) {
      row.push_back(!plain_kind && std::isfinite(v) ? bare(v, o.kind, units)
                                                    : escape(outcome_text(o, v, System::Si, 3)));
    }
    rows.push_back(std::move(row));
  }
  return table("So many of the wheels have at most the value", {"", "5 %", "25 %", "50 %", "75 %", "95 %"}, rows);
}

std::string chances_markup(const StudySummary& s, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (const Chance& c : s.chances) {
    rows.push_back({std::isfinite(c.distance) ? bare(c.distance, Kind::Distance, units, 3) : "–",
                    std::isfinite(c.time) ? escape(duration(c.time)) : "–", std::to_string(c.below),
                    escape(share_text(c.share())), escape(share_text(c.band.low)), escape(share_text(c.band.high))});
  }
  return table("The same in numbers",
               {heading_unit("driven", Kind::Distance, units), "time", "wheels below", "share", "from", "to"}, rows);
}

void sweep_sections(PageBuilder& page, const Study& study, const StudySummary& s) {
  const Units units = page.units();
  if (study.axes.size() < 2) {
    page.section("end-of-run", "At the end", "How much clamp is left?",
                 figure_of(draw(end_chart(study), units, kHalf), end_chart(study).note), PageBuilder::Width::Half);
    page.section("first-below", "First below", "How long does the clamp suffice?",
                 figure_of(draw(below_chart(study), units, kHalf), below_chart(study).note), PageBuilder::Width::Half);
    page.section("took", "Losses", "What took the clamp?",
                 figure_of(draw(loss_chart(study), units, kFull), loss_chart(study).note));
  } else {
    // Small ones stand side by side.
    const bool small = study.axes.size() == 2 && study.axes.back().size() <= kSmallMap;
    const auto width = small ? PageBuilder::Width::Half : PageBuilder::Width::Full;
    page.section("end-of-run", "At the end", "How much clamp is left?", maps_markup(end_maps(study), units), width);
    page.section("first-below", "First below", "How long does the clamp suffice?",
                 maps_markup(below_maps(study), units), width);
  }
  const Chart curves = curves_chart(study, s);
  if (!curves.variants.empty()) {
    page.section("over-time", "Over time", "How does the clamp fall?", chart_of(page, study, curves));
  }
  page.section("cases", "Cases", "What came of each case?", cases_markup(study, units));
}

void sample_sections(PageBuilder& page, const Study& study, const StudySummary& s) {
  const Units units = page.units();
  page.section("fan-over-time", "Clamp", "How does the clamp of such wheels fall?",
               chart_of(page, study, fan_chart(study, s)));
  page.section("chance-over-time", "Too little", "How many wheels have a stud with too little clamp, and when?",
               chart_of(page, study, chance_chart(study, s)) + chances_markup(s, units));
  std::string causes;
  if (!s.causes.empty()) {
    causes = figure_of(cause_drawing(study, s),
                       "Lines across the ends of bars: 95 % intervals; where one reaches to nothing, "
                       "the input may have no say at all.");
  }
  for (const std::string& sentence : cause_sentences(study, s)) {
    causes += paragraph(escape(sentence));
  }
  page.section("causes", "Causes", "What does the spread come from?", causes);
  page.section("outcomes", "Outcomes", "How far do such wheels lie apart?", spreads_markup(s, units));
  page.section("scattered", "Scatter", "What was scattered?", inputs_markup(study, s, units));
}

} // namespace

std::string study_page(const StudyFile& file, const StudySummary& s, System opens_with) {
  const Units units{opens_with, true};
  const Study& study = file.study;
  PageBuilder page(study.title, units);
  page.basis(study_warnings(study));
  const bool sample = study.kind == StudyKind::Sample;
  std::vector<std::string> facts = {study_kind(study), fmt::format("{} complete, {} failed", s.done, s.failed)};
  if (!study.time.empty()) {
    facts.insert(facts.begin(), duration(study.time.back()) + " simulated");
  }
  page.header(title_block(sample ? "Clamp load of a wheel joint: scatter" : "Clamp load of a wheel joint: sweep",
                          study.title, facts));
  page.section("finding", "Finding",
               sample ? "How many such wheels keep the clamp they need?"
                      : "Which of these joints keep the clamp they need?",
               finding(study, s, units));
  if (s.done > 0) {
    if (sample) {
      sample_sections(page, study, s);
    } else {
      sweep_sections(page, study, s);
    }
  }
  if (!s.failures.empty()) {
    page.section("failed", "Failed", "Which cases failed, and why?", failures_markup(study, s, units));
  }
  const std::string warnings = warnings_list(study_warnings(study), units);
  if (!warnings.empty()) {
    page.section("warnings", "Warnings", "Warnings", warnings);
  }
  page.section("computed", "Computation", "How was it computed?",
               paragraph(escape(capital(study_kind(study)) + ".")) +
                   paragraph(escape(fmt::format("Written by program {} ({}) on {}; scenario {:.12}, design {:.12}.",
                                                file.program_version, file.git_sha, file.created_utc,
                                                file.scenario_sha256, study.design_sha256)),
                             "note") +
                   details("The scenario", element("pre", {}, escape(study.scenario_text))));
  return page.html();
}

} // namespace clampfade::post

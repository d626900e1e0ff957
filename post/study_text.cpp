#include "post/study_text.hpp"

#include "post/alarms.hpp"
#include "post/charts.hpp"
#include "post/sentences.hpp"
#include "post/table.hpp"

#include "solver/basis.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr std::size_t kPage = 100;
constexpr std::size_t kMostRows = 150; // of cases; who wants more takes a table of data
constexpr std::size_t kMostFailures = 10;

std::string heading_of(const char* name, Kind kind, System system) {
  const std::string u = unit(kind, system);
  return u.empty() ? name : fmt::format("{}, {}", name, u);
}

/// Names of axes or inputs, as heads of columns.
std::vector<std::string> value_heads(const Study& study) {
  std::vector<std::string> heads;
  for (const StudyAxis& axis : study.axes) {
    heads.push_back(axis.label);
  }
  for (const StudyInput& input : study.inputs) {
    heads.push_back(input.label);
  }
  return heads;
}

bool overtightened_cases(const Study& study) {
  return std::any_of(study.cases.begin(), study.cases.end(), [](const StudyCase& c) { return c.overtightened(); });
}

/// Of a sweep: a row for each case.
std::string case_table(const Study& study, System system) {
  std::vector<std::string> heads = {"case"};
  for (const std::string& head : value_heads(study)) {
    heads.push_back(head);
  }
  for (const std::string& head :
       {heading_of("end low", Kind::Force, system), std::string("end mean"), std::string("lost"),
        heading_of("first below", Kind::Distance, system), std::string("after"), std::string("slip margin")}) {
    heads.push_back(head);
  }
  const bool marks = overtightened_cases(study);
  if (marks) {
    heads.emplace_back("wrench");
  }
  Table table(heads);
  for (std::size_t i = 0; i < std::min(study.cases.size(), kMostRows); ++i) {
    const StudyCase& c = study.cases[i];
    std::vector<std::string> row = {std::to_string(i)};
    for (const std::string& value : case_values(study, i, system)) {
      row.push_back(value);
    }
    if (c.status != CaseStatus::Complete) {
      row.insert(row.end(), {c.status == CaseStatus::Failed ? "failed" : "waits", "-", "-", "-", "-", "-"});
      row.resize(heads.size(), "-");
    } else {
      for (const std::size_t k : {0U, 4U, 5U, 1U, 2U, 6U}) {
        row.push_back(outcome_text(outcomes()[k], outcomes()[k].of(c), system, k == 6 ? 3 : 4));
      }
      if (marks) {
        row.push_back(wrench_mark(c).empty() ? "borne" : wrench_mark(c));
      }
    }
    table.add(std::move(row));
  }
  std::string out = table.text(kPage);
  if (study.cases.size() > kMostRows) {
    out += fmt::format("  ... and {} more: clampfade-report table has them all.\n", study.cases.size() - kMostRows);
  }
  return out;
}

/// Of a sample: outcomes at their quantiles.
std::string spread_table(const StudySummary& s, System system) {
  Table table({"", "unit", "5 %", "25 %", "50 %", "75 %", "95 %"});
  for (const OutcomeSpread& spread : s.spreads) {
    const std::string u = unit(spread.outcome->kind, system);
    std::vector<std::string> row = {spread.outcome->label, spread.outcome->kind == Kind::Duration ? "" : u};
    for (const double v : spread.at) {
      row.push_back(outcome_text(*spread.outcome, v, system));
    }
    table.add(std::move(row));
  }
  return table.text(kPage);
}

std::string input_table(const Study& study, const StudySummary& s, System system) {
  Table table({"scattered", "each", "5 %", "50 %", "95 %", "as written"}, true);
  for (const InputSpread& spread : s.inputs) {
    const StudyInput& input = study.inputs[spread.input];
    table.add({input.label, input.per_stud ? "stud" : "wheel", value_text(spread.at[0], spread.scale, system),
               value_text(spread.at[2], spread.scale, system), value_text(spread.at[4], spread.scale, system),
               input.distribution});
  }
  return table.text(kPage);
}

std::string chance_table(const StudySummary& s, System system) {
  Table table({heading_of("driven", Kind::Distance, system), "time", "below", "of", "share", "from", "to"});
  for (const Chance& c : s.chances) {
    table.add({plain(c.distance, Kind::Distance, system, 3), std::isfinite(c.time) ? duration(c.time) : "-",
               std::to_string(c.below), std::to_string(c.of), share_text(c.share()), share_text(c.band.low),
               share_text(c.band.high)});
  }
  return table.text(kPage);
}

std::string interval_text(const Interval& i) {
  const auto whole = [](double share) { return std::round(100 * share) + 0.0; }; // and no "-0"
  return fmt::format("{:.0f} to {:.0f}", whole(i.low), whole(i.high));
}

std::string percent_text(double share) { return fmt::format("{:.1f}", std::round(1000 * share) / 10 + 0.0); }

std::string cause_table(const Study& study, const StudySummary& s) {
  const bool total = s.way == CauseWay::Design;
  std::vector<std::string> heads = {"input", "first, %", "95 %"};
  if (total) {
    heads.insert(heads.end(), {"total, %", "95 %"});
  }
  Table table(heads);
  for (const Cause& cause : s.causes) {
    std::vector<std::string> row = {study.inputs[cause.input].label, percent_text(cause.shares.first.value),
                                    interval_text(cause.shares.first.interval)};
    if (total) {
      row.push_back(percent_text(cause.shares.total->value));
      row.push_back(interval_text(cause.shares.total->interval));
    }
    table.add(std::move(row));
  }
  return table.text(kPage);
}

std::string list_item(const std::string& text) {
  std::string item = wrap(text, 4, kPage);
  item[2] = '-';
  return item;
}

} // namespace

std::string study_kind(const Study& study) {
  if (study.kind == StudyKind::Sample) {
    return fmt::format("{} of {} cases {}, seed {}", study.design.empty() ? "sample" : "sample for sensitivities",
                       study.cases.size(),
                       study.sampling == StudySampling::Sobol ? "by a Sobol sequence" : "drawn at random", study.seed);
  }
  if (study.axes.empty()) {
    return fmt::format("sweep of a list of {} cases", study.cases.size());
  }
  std::string sizes;
  for (const StudyAxis& axis : study.axes) {
    sizes += (sizes.empty() ? "" : " x ") + std::to_string(axis.size());
  }
  return fmt::format("sweep of {} cases{}", study.cases.size(), study.axes.size() > 1 ? ", " + sizes : "");
}

std::string to_text(const StudyFile& file, const StudySummary& s, System system, bool colour) {
  const Study& study = file.study;
  std::string out;
  const auto line = [&](const std::string& text) { out += wrap(text, 0, kPage); };
  const auto note = [&](const std::string& text) { out += wrap(text, 2, kPage); };
  const auto heading = [&](const std::string& text) { out += "\n" + marked("1", text, colour) + "\n"; };
  const std::vector<std::string> warnings = study_warnings(study);
  out += basis_line(warnings, colour);
  line(fmt::format("Study: {}; {} complete, {} failed, {} waiting.", study_kind(study), s.done, s.failed, s.pending));
  line(study.title);
  out += '\n';
  const std::vector<std::string> said = study_sentences(study, s, system);
  for (std::size_t i = 0; i < said.size(); ++i) {
    const std::string text = wrap(said[i], 0, kPage);
    out += i == 0                          ? marked(s.below > 0 ? "1;31" : "1", text, colour)
           : i == 1 && s.overtightened > 0 ? marked("1;31", text, colour)
                                           : text;
  }
  if (study.kind == StudyKind::Sweep) {
    heading("Every case");
    out += case_table(study, system);
    note(
        "Clamps are cold. End low: of the weakest stud; end mean, lost: mean of the studs. First below: where and when "
        "a stud first falls below the required clamp.");
    if (s.overtightened > 0) {
      note(
          "Wrench: STRETCHED where it stretches a stud for good, ABOVE PROOF where it pulls one above its proof load.");
    }
  } else {
    heading("What was scattered");
    out += input_table(study, s, system);
    heading("What came of it: so many of the wheels have at most the value");
    out += spread_table(s, system);
    heading("Wheels with a stud below the required clamp, and the 95 % band");
    out += chance_table(s, system);
    note("The band is that of a share among independent wheels (Clopper and Pearson, 1934). Of a Sobol sequence, whose "
         "cases lie more evenly than by chance, it is as a rule too wide.");
    if (!s.causes.empty()) {
      heading("What the spread comes from");
      out += cause_table(study, s);
    }
    for (const std::string& text : cause_sentences(study, s)) {
      note(text);
    }
  }
  if (!s.failures.empty()) {
    heading("Failed cases");
    for (std::size_t i = 0; i < std::min(s.failures.size(), kMostFailures); ++i) {
      out += list_item(case_name(study, s.failures[i], system) + ": " + study.cases[s.failures[i]].message);
    }
    if (s.failures.size() > kMostFailures) {
      note(fmt::format("... and {} more.", s.failures.size() - kMostFailures));
    }
  }
  heading("Cautions");
  for (const std::string_view caution : cautions()) {
    out += list_item(std::string(caution));
  }
  if (!warnings.empty()) {
    heading("Warnings");
    for (const std::string& warning : warnings) {
      out += list_item(translated(warning, system));
    }
  }
  out += '\n';
  line(fmt::format("Written by program {} ({}) on {}; scenario {:.12}, design {:.12}.", file.program_version,
                   file.git_sha, file.created_utc, file.scenario_sha256, study.design_sha256));
  return out;
}

namespace {

using Json = nlohmann::ordered_json;

Json value(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }
template <class List>
Json values(const List& all) {
  Json j = Json::array();
  for (const double v : all) {
    j.push_back(value(v));
  }
  return j;
}
Json interval(const Interval& i) { return Json::array({value(i.low), value(i.high)}); }

const char* status_name(CaseStatus status) {
  return status == CaseStatus::Complete ? "complete" : status == CaseStatus::Failed ? "failed" : "pending";
}

Json index(const Index& i) { return {{"value", value(i.value)}, {"interval", interval(i.interval)}}; }

Json sample_json(const Study& study, const StudySummary& s) {
  Json spreads = Json::object();
  for (const OutcomeSpread& spread : s.spreads) {
    spreads[spread.outcome->name] = values(spread.at);
  }
  Json chances = Json::array();
  for (const Chance& c : s.chances) {
    chances.push_back({{"distance", value(c.distance)},
                       {"time", value(c.time)},
                       {"below", c.below},
                       {"of", c.of},
                       {"share", c.share()},
                       {"interval", interval(c.band)}});
  }
  Json causes = Json::array();
  for (const Cause& cause : s.causes) {
    causes.push_back({{"input", study.inputs[cause.input].name},
                      {"first", index(cause.shares.first)},
                      {"total", cause.shares.total ? index(*cause.shares.total) : Json(nullptr)}});
  }
  return {{"counted", s.counted.size()},
          {"below", s.below},
          {"quantiles", values(kShares)},
          {"outcomes", spreads},
          {"below_required", chances},
          {"risk",
           {{"risk", s.risk.risk},
            {"fewest_cases", s.risk.fewest},
            {"enough_cases", s.risk.enough},
            {"reached", s.risk.enough && std::isfinite(s.risk.time)},
            {"time", value(s.risk.time)},
            {"distance", value(s.risk.distance)},
            {"likely_time", value(s.risk.likely_time)},
            {"likely_distance", value(s.risk.likely_distance)}}},
          {"sensitivity_of", s.way == CauseWay::Design ? Json("clamp_cold_lowest_end")
                             : s.way == CauseWay::Rank ? Json("clamp_cold_end")
                                                       : Json(nullptr)},
          {"sensitivities", causes}};
}

} // namespace

std::string to_json(const StudyFile& file, const StudySummary& s) {
  const Study& study = file.study;
  Json axes = Json::array();
  for (const StudyAxis& axis : study.axes) {
    axes.push_back({{"name", axis.name},
                    {"label", axis.label},
                    {"path", axis.path},
                    {"unit", axis.unit},
                    {"values", axis.texts.empty() ? values(axis.values) : Json(axis.texts)}});
  }
  Json inputs = Json::array();
  for (const StudyInput& input : study.inputs) {
    inputs.push_back({{"name", input.name},
                      {"label", input.label},
                      {"path", input.path},
                      {"unit", input.unit},
                      {"each", input.per_stud ? "stud" : "wheel"},
                      {"distribution", input.distribution}});
  }
  Json cases = Json::array();
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    const StudyCase& c = study.cases[i];
    Json one = {{"case", i}, {"status", status_name(c.status)}, {"message", c.message}};
    for (std::size_t k = 0; k < study.axes.size(); ++k) {
      const StudyAxis& axis = study.axes[k];
      const std::size_t at = place_of(study, i)[k];
      one[axis.name] = axis.texts.empty() ? value(axis.values[at]) : Json(axis.texts[at]);
    }
    for (const StudyInput& input : study.inputs) {
      one[input.name] = input.texts.empty() ? value(input_mean(study, input, i)) : Json(input.texts[i]);
    }
    for (const Outcome& o : outcomes()) {
      one[o.name] = c.status == CaseStatus::Complete ? value(o.of(c)) : Json(nullptr);
    }
    one["required_clamp"] = value(c.required_clamp);
    cases.push_back(std::move(one));
  }
  Json units = {{"time", "s"}, {"distance", "m"}, {"required_clamp", "N"}};
  for (const Outcome& o : outcomes()) {
    units[o.name] = o.kind == Kind::Force ? "N" : o.kind == Kind::Distance ? "m" : o.kind == Kind::Duration ? "s" : "1";
  }
  Json j = {{"title", study.title},
            {"kind", name(study.kind)},
            {"status", name(study.status)},
            {"part", study.part},
            {"parts", study.parts},
            {"program_version", file.program_version},
            {"git_sha", file.git_sha},
            {"created_utc", file.created_utc},
            {"scenario_sha256", file.scenario_sha256},
            {"design_sha256", study.design_sha256},
            {"digest", file.digest.empty() ? Json(nullptr) : Json(file.digest)},
            {"units", units},
            {"end_time", study.time.empty() ? Json(nullptr) : value(study.time.back())},
            {"axes", axes},
            {"inputs", inputs},
            {"complete", s.done},
            {"failed", s.failed},
            {"pending", s.pending},
            {"overtightened", s.overtightened}};
  if (study.kind == StudyKind::Sample) {
    j["sampling"] = name(study.sampling);
    j["seed"] = study.seed;
    j["sample"] = sample_json(study, s);
  }
  j["sentences"] = study_sentences(study, s, System::Si);
  j["cases"] = std::move(cases);
  j["warnings"] = study_warnings(study);
  j["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

} // namespace clampfade::post

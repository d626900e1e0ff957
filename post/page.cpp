#include "post/page.hpp"

#include "post/alarms.hpp"
#include "post/charts.hpp"
#include "post/drawing/section.hpp"
#include "post/drawing/stud_strip.hpp"
#include "post/drawing/tightening.hpp"
#include "post/drawing/waterfall.hpp"
#include "post/markup.hpp"
#include "post/page_data.hpp"
#include "post/sentences.hpp"
#include "post/web.hpp"

#include "solver/basis.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>

namespace clampfade::post {

using namespace markup;

namespace {

/// Where the lowest clamp stands between nothing and the clamp after tightening.
std::string gauge(const Run& run, Units units) {
  const Finding& f = run.summary.finding;
  const double first = run.summary.budget.weakest.first;
  const double full = std::max({first, f.required_clamp.value_or(0), f.lowest_clamp_cold});
  if (!f.required_clamp || full <= 0) {
    return "";
  }
  const auto share = [&](double v) { return fmt::format("{:.2f}%", 100 * std::clamp(v / full, 0.0, 1.0)); };
  const std::string text = fmt::format(
      "lowest cold clamp {}, required {}, after tightening {}", show(f.lowest_clamp_cold, Kind::Force, units.first),
      show(*f.required_clamp, Kind::Force, units.first), show(first, Kind::Force, units.first));
  return element("div", {{"class", f.first_below ? "gauge below" : "gauge"}, {"role", "img"}, {"aria-label", text}},
                 element("span", {{"class", "fill"}, {"style", "width:" + share(f.lowest_clamp_cold)}}, "") +
                     element("span", {{"class", "need"}, {"style", "left:" + share(*f.required_clamp)}}, ""));
}

std::string status_markup(const Summary& s, Units units) {
  std::string out;
  if (s.status != RunStatus::Complete) {
    out += paragraph(said([&](System u) { return status_sentence(s, u); }, units), "alarm");
  }
  if (s.digest == Digest::Wrong) {
    out +=
        paragraph("THE FILE WAS CHANGED after the run wrote it: its digest does not fit. Do not rely on it.", "alarm");
  }
  for (const Alarm& alarm : s.alarms) {
    out += paragraph(said([&](System u) { return sentence(alarm, s, u); }, units), "alarm");
  }
  return out;
}

/// What a reader sees of the limits that sharpen and of those that are idle.
std::string percent_of(const std::optional<Peak>& p) {
  return p && p->limit && *p->limit > 0 ? escape(number(100 * p->value / *p->limit, 3)) : "–";
}

std::string parts_table(const SectionGeometry& g, const Run& run, std::size_t row, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (std::size_t i = 0; i < g.parts.size(); ++i) {
    const SectionPart& p = g.parts[i];
    const auto node = std::find(run.nodes.begin(), run.nodes.end(), p.node);
    std::string temperature = "–";
    if (node != run.nodes.end() && !run.temperature.empty()) {
      const auto at = static_cast<std::size_t>(node - run.nodes.begin());
      temperature = element("span", {{"data-node", std::to_string(at)}},
                            bare(run.temperature[row * run.nodes.size() + at], Kind::Temperature, units, 3));
    }
    rows.push_back({std::to_string(i + 1), escape(p.name), escape(p.material),
                    bare(p.thickness, Kind::Length, units, 3), temperature});
  }
  std::string out = table("Parts, from the stud's head to the nut",
                          {"No.", "part", "material", heading_unit("thickness", Kind::Length, units),
                           heading_unit("", Kind::Temperature, units)},
                          rows, 3);
  rows.clear();
  const std::size_t stud = run.summary.budget.weakest_stud;
  for (std::size_t i = 0; i < g.layers.size(); ++i) {
    const SectionLayer& l = g.layers[i];
    std::string now = "–";
    if (!run.layer_thickness.empty() && i < run.layers.size()) {
      now = element(
          "span", {{"data-layer", std::to_string(i)}},
          bare(run.layer_thickness[(row * run.studs() + stud) * run.layers.size() + i], Kind::Thickness, units, 3));
    }
    rows.push_back({std::string(1, static_cast<char>('a' + i % 26)),
                    escape(l.part + ", " + (l.head_side ? "head side" : "nut side")), escape(l.coating),
                    bare(l.thickness, Kind::Thickness, units, 3), now});
  }
  if (!rows.empty()) {
    out += table(
        "Coatings, at stud " + run.summary.studs[stud],
        {"", "on", "coating", heading_unit("new", Kind::Thickness, units), heading_unit("now", Kind::Thickness, units)},
        rows, 3);
  }
  return out;
}

std::string section_card(const std::string& id, const Run& run, std::size_t row, Units units) {
  const std::optional<SectionGeometry> g = section_geometry(run.summary);
  if (!g) {
    return paragraph(
        "This history does not hold the joint's dimensions, as those of older programs do not, or none that can be "
        "drawn to scale. Run the scenario again to see the section.",
        "empty");
  }
  std::string note = "True proportion along and across. Heights of head and nut are not part of the model and drawn by "
                     "eye; the dashed outline is the pressure cone.";
  if (!g->layers.empty()) {
    note += fmt::format(" Coatings (a, b, ...) are drawn {} times too thick, so that they can be seen.",
                        number(coating_factor(*g), 3));
  }
  if (g->washer_series > 0) {
    note += " Spring washers are shown without load.";
  }
  note += " Parts are tinted by their temperature.";
  return element("figure", {{"class", "drawing"}},
                 element("div", {{"class", "scroll"}}, section(id, *g, run, row, units)) +
                     element("figcaption", {}, escape(note))) +
         element("div", {}, parts_table(*g, run, row, units));
}

std::string budget_table(const Run& run, Units units) {
  const Budget& b = run.summary.budget;
  std::vector<std::vector<std::string>> rows;
  const auto share = [](double part, double whole) { return whole > 0 ? number(100 * part / whole, 3) : "–"; };
  const auto force_of = [&](double v) { return bare(v, Kind::Force, units, 4); };
  rows.push_back({"tightened, cold", "", force_of(b.mean.first), "100", "", force_of(b.weakest.first), "100"});
  std::string none;
  for (const BudgetLine& l : b.lines) {
    if (l.clamp_mean == 0 && l.clamp_weakest == 0 && l.loss_mean == 0 && l.loss_weakest == 0) {
      none += (none.empty() ? "" : ", ") + mechanism_name(l.mechanism);
      continue;
    }
    rows.push_back({escape(mechanism_name(l.mechanism)), bare(l.loss_mean, Kind::Thickness, units, 3),
                    force_of(-l.clamp_mean), share(-l.clamp_mean, b.mean.first),
                    bare(l.loss_weakest, Kind::Thickness, units, 3), force_of(-l.clamp_weakest),
                    share(-l.clamp_weakest, b.weakest.first)});
  }
  if (b.mean.gain != 0 || b.weakest.gain != 0) {
    rows.push_back({"retorque gain", "", force_of(b.mean.gain), share(b.mean.gain, b.mean.first), "",
                    force_of(b.weakest.gain), share(b.weakest.gain, b.weakest.first)});
  }
  rows.push_back({"left, cold", "", force_of(b.mean.end), share(b.mean.end, b.mean.first), "", force_of(b.weakest.end),
                  share(b.weakest.end, b.weakest.first)});
  const std::string stud = "stud " + escape(run.summary.studs[b.weakest_stud]);
  std::string out =
      table("The budget at the last record: mean of the studs, and the weakest",
            {"", heading_unit("mean", Kind::Thickness, units), unit_name(Kind::Force, units.first), "%",
             heading_unit(stud.c_str(), Kind::Thickness, units), unit_name(Kind::Force, units.first), "%"},
            rows);
  if (!none.empty()) {
    out += paragraph("Nothing taken by: " + escape(none) + ".", "note");
  }
  return out;
}

} // namespace

PageBuilder::PageBuilder(std::string title, Units units) : title_(std::move(title)), units_(units) {}

void PageBuilder::basis(const std::vector<std::string>& warnings) {
  basis_ = paragraph(escape(basis_sentence(warnings)), "basis");
}

void PageBuilder::section(const std::string& id, const std::string& short_name, const std::string& heading,
                          const std::string& markup, Width width) {
  const char* const style = width == Width::Full ? "card full" : width == Width::Third ? "card third" : "card";
  contents_ += element("li", {}, element("a", {{"href", "#" + id}}, escape(short_name)));
  body_ += element("section", {{"id", id}, {"class", style}, {"aria-labelledby", id + "-h"}},
                   element("h2", {{"id", id + "-h"}}, escape(heading)) + markup) +
           "\n";
}

std::string PageBuilder::figure(const Chart& chart) {
  charts_.emplace_back(chart.id, chart_json(chart));
  return element("figure", {{"class", "chart-box"}, {"data-chart", chart.id}},
                 element("div", {{"class", "static scroll"}}, draw(chart, Along::Time, units_)) +
                     element("figcaption", {}, escape(chart.note)));
}

std::string PageBuilder::html() const {
  const auto object = [](const std::vector<std::pair<std::string, std::string>>& members) {
    std::string out;
    for (const auto& [name, json] : members) {
      out += (out.empty() ? "" : ",") + ("\"" + name + "\":") + json;
    }
    return "{" + out + "}";
  };
  const std::string data = "{\"units\":" + units_json() + ",\"opensWith\":\"" +
                           (units_.first == System::Si ? "si" : "us") + "\",\"charts\":" + object(charts_) +
                           ",\"moments\":" + object(moments_) + "}";
  std::string out = "<!DOCTYPE html>\n<html lang=\"en\" data-units=\"";
  out += units_.first == System::Si ? "si" : "us";
  out += "\">\n<head>\n<meta charset=\"utf-8\"/>\n";
  // Nothing in the page can reach a network, whatever stands in a title.
  out += element("meta", {{"http-equiv", "Content-Security-Policy"},
                          {"content", "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
                                      "img-src data:"}}) +
         "\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
         "<meta name=\"color-scheme\" content=\"light dark\"/>\n";
  out += element("title", {}, escape(title_)) + "\n<style>\n";
  for (const std::string_view css : {web::colours_css(), web::dygraph_css(), web::drawing_css(), web::page_css()}) {
    out += css;
    out += "\n";
  }
  out += "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">To the report</a>\n";
  out += basis_ + "<header class=\"top\">" + header_ +
         "<div class=\"switches\" hidden=\"hidden\" id=\"switches\"></div></header>\n";
  out += element("nav", {{"aria-label", "Contents"}}, element("ul", {}, contents_)) + "\n";
  out += "<main id=\"main\">\n" + body_ + "</main>\n";
  out += element("footer", {}, element("h2", {}, "Cautions") + cautions_markup()) + "\n";
  out += "<script type=\"application/json\" id=\"data\">" + for_script(data) + "</script>\n";
  for (const std::string_view script : {web::dygraph_js(), web::page_js()}) {
    out += "<script>";
    out += script;
    out += "</script>\n";
  }
  return out + "</body>\n</html>\n";
}

std::string finding_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::string out = status_markup(s, units);
  if (run.rows() == 0) {
    out += paragraph("The run has left no record yet, so there is nothing to say about the clamp.", "lead");
  } else {
    const Finding& f = s.finding;
    const auto at = [&](const Moment& m) {
      return said([&](System u) { return m.time <= 0 ? after(0) : "after " + words(m, u); }, units);
    };
    std::string keys =
        key_figure(f.first_below ? "bad" : "good", "Lowest cold clamp", force(f.lowest_clamp_cold, units),
                   "stud " + escape(s.studs[f.lowest.stud]) + ", " + at(f.lowest));
    if (f.required_clamp) {
      keys += key_figure("", "Required clamp", force(*f.required_clamp, units),
                         s.deciding_design_case.empty() ? "" : "set by " + escape(s.deciding_design_case));
      keys += f.first_below
                  ? key_figure("bad", "First below it",
                               f.below_from_start ? "from the start" : escape(duration(f.first_below->time)),
                               f.below_from_start
                                   ? ""
                                   : "stud " + escape(s.studs[f.first_below->stud]) + ", " +
                                         quantity(f.first_below->distance, Kind::Distance, units.first, 4) + " driven")
                  : key_figure("good", "First below it", "never", "in the time simulated");
    }
    out += element("dl", {{"class", "keys"}}, keys) + gauge(run, units);
    out += paragraph(said([&](System u) { return finding_sentence(s, u); }, units), "lead");
    out += paragraph(said([&](System u) { return retorque_sentence(s, u); }, units), "lead");
    out += paragraph(escape(reservation_sentence(s)), "note");
  }
  return out + cautions_box();
}

std::string milestones_markup(const Run& run, Units units) {
  std::vector<std::vector<std::string>> rows;
  for (const Milestone& m : run.summary.milestones) {
    const std::string name = said([&](System u) { return milestone_name(m.name, u); }, units);
    if (!m.reached) {
      rows.push_back({name, "not reached", "", "", "", "", "", "", ""});
      continue;
    }
    if (!m.recorded) {
      rows.push_back({name, "not recorded", "", "", "", "", "", "", ""});
      continue;
    }
    const auto f = [&](double v) { return bare(v, Kind::Force, units); };
    rows.push_back({name + (m.late ? " (later)" : ""), escape(duration(m.time)),
                    bare(m.distance, Kind::Distance, units, 3), f(m.clamp_cold.lowest), f(m.clamp_cold.mean),
                    f(m.clamp_cold.highest), f(m.clamp.lowest), f(m.clamp.mean), f(m.clamp.highest)});
  }
  const std::string unit_text = unit_name(Kind::Force, units.first);
  return table("Clamp at milestones: the first record at or after each",
               {"", "record at", unit_name(Kind::Distance, units.first), "cold, lowest " + unit_text, "mean", "highest",
                "as it is, lowest " + unit_text, "mean", "highest"},
               rows);
}

std::string moments_markup(PageBuilder& page, const Run& run, const std::string& prefix) {
  const Units units = page.units();
  const Summary& s = run.summary;
  const std::size_t row = run.rows() - 1;
  const std::string region = prefix + "moment";
  page.moments(region, moments_json(run));
  const std::string weakest = escape(s.studs[s.budget.weakest_stud]);
  const std::string readout = said([&](System u) { return moment_text(run.time[row], run.distance[row], u); }, units);
  std::string fall = element("h3", {}, "Loss budget") +
                     element("div", {{"class", "choice"}, {"hidden", "hidden"}, {"data-choice", "budget"}}, "") +
                     element("figure", {{"class", "drawing"}},
                             element("div", {{"class", "scroll"}}, waterfall(prefix + "waterfall", run, units)) +
                                 element("figcaption", {},
                                         "<span class=\"whose\">Stud " + weakest +
                                             ", the weakest.</span> From the clamp after tightening, less what each "
                                             "mechanism took of it, to what is left; the length lost stands at the "
                                             "right.")) +
                     details("Numbers at the last record, mean and weakest", budget_table(run, units), "more print");
  std::string studs =
      element("h3", {}, "Studs round the bolt circle") +
      element("figure", {{"class", "drawing"}},
              element("div", {{"class", "scroll"}}, stud_strip(prefix + "strip", run, row, units)) +
                  element("figcaption", {},
                          "Outline: cold clamp after tightening. Filled: now. Neighbours feel each other through the "
                          "discs. Stud " +
                              weakest + " is the weakest."));
  std::string cut = element("h3", {}, "The joint in section, at stud " + weakest) +
                    element("div", {{"class", "section-card"}}, section_card(prefix + "section", run, row, units));
  return element("div", {{"class", "moment"}, {"data-moments", region}},
                 element("p", {{"class", "shown"}},
                         "Shown: <strong class=\"readout\">" + readout +
                             "</strong><span class=\"only-static\"> (the last record)</span>.") +
                     element("div", {{"class", "grid"}},
                             element("div", {{"class", "cell"}}, fall) + element("div", {{"class", "cell"}}, studs) +
                                 element("div", {{"class", "cell wide"}}, cut)) +
                     element("div", {{"class", "slider"}, {"hidden", "hidden"}}, ""));
}

std::string required_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::string out;
  if (s.slip_margin) {
    const Peak& p = *s.slip_margin;
    out += paragraph("Lowest slip margin in the daily duty: " + bare(p.value, Kind::Number, units, 3) + " (" +
                     said([&](System u) { return p.when.time <= 0 ? after(0) : "after " + words(p.when, u); }, units) +
                     ").");
  } else {
    out += paragraph("Nothing in the duty loads the joint sideways.");
  }
  if (s.finding.required_clamp) {
    out += paragraph("Required clamp of each stud: " + force(*s.finding.required_clamp, units) +
                     (s.deciding_design_case.empty() ? "" : ", set by " + escape(s.deciding_design_case)) + ".");
  }
  std::vector<std::vector<std::string>> rows;
  const auto cell = [&](const std::optional<double>& v) { return v ? bare(*v, Kind::Force, units) : "–"; };
  for (const DesignCase& c : s.design_cases) {
    rows.push_back({escape(c.name), cell(c.clamp_for_slip), cell(c.clamp_for_gap), cell(c.required)});
  }
  if (!rows.empty()) {
    out += table("Clamp that each design case asks of every stud",
                 {"design case", heading_unit("against slip", Kind::Force, units), "against a gap", "required"}, rows);
  }
  return out;
}

std::string limits_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::vector<std::vector<std::string>> rows;
  if (s.utilisation_tightening) {
    rows.push_back({"utilisation while tightening", escape(number(*s.utilisation_tightening, 3)), number(1, 3),
                    escape(number(100 * *s.utilisation_tightening, 3)), "–", "–"});
  }
  const auto row = [&](const char* what, const std::optional<Peak>& p, Kind kind) {
    if (p) {
      rows.push_back({what, quantity(p->value, kind, units.first, 3),
                      p->limit ? quantity(*p->limit, kind, units.first, 3) : "–", percent_of(p),
                      escape(s.studs[p->when.stud]), escape(duration(p->when.time))});
    }
  };
  row("clamp, against proof load", s.clamp, Kind::Force);
  row("utilisation in service", s.utilisation, Kind::Number);
  row("fatigue amplitude", s.fatigue_amplitude, Kind::Stress);
  row("pressure under the seat", s.seat_pressure, Kind::Stress);
  return rows.empty()
             ? paragraph("Nothing to compare.", "empty")
             : table("Highest values and their limits", {"what", "highest", "limit", "% of it", "stud", "at"}, rows);
}

std::string studs_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::vector<std::vector<std::string>> rows;
  for (const StudLine& l : s.stud_lines) {
    if (l.removed) {
      rows.push_back({escape(l.name), bare(l.first_clamp_cold, Kind::Force, units), "nut removed", "", "", "", ""});
      continue;
    }
    rows.push_back({escape(l.name), bare(l.first_clamp_cold, Kind::Force, units), bare(l.end_clamp, Kind::Force, units),
                    bare(l.end_clamp_cold, Kind::Force, units),
                    l.first_clamp_cold > 0 ? escape(number(100 * (1 - l.end_clamp_cold / l.first_clamp_cold), 3)) : "–",
                    bare(l.lowest_clamp_cold, Kind::Force, units), bare(l.check_torque, Kind::Torque, units)});
  }
  return table("Stud by stud at the last record",
               {"stud", heading_unit("first, cold", Kind::Force, units), "now", "now, cold", "lost %", "lowest cold",
                heading_unit("check torque", Kind::Torque, units)},
               rows) +
         paragraph(said([&](System u) { return check_torque_sentence(s, u); }, units), "note");
}

std::string tightening_markup(const std::string& prefix, const Run& run, Units units) {
  const Summary& s = run.summary;
  if (s.passes.empty()) {
    return paragraph("No act of the wrench was recorded.", "empty");
  }
  std::string out =
      element("figure", {{"class", "drawing"}},
              element("div", {{"class", "scroll"}}, tightening_sequence(prefix + "tightening", run, units)) +
                  element("figcaption", {},
                          "Tightening one stud presses its neighbours' parts together and takes some of "
                          "their clamp: elastic interaction. What a stud got is not what it keeps."));
  std::vector<std::vector<std::string>> rows;
  for (const PassLine& p : s.passes) {
    rows.push_back({p.pass == 0 ? "retorque" : fmt::format("pass {}", p.pass), escape(duration(p.time)),
                    range_bare(p.torque_lowest, p.torque_highest, Kind::Torque, units),
                    fmt::format("{} of {}", p.moved, p.nuts), bare(p.clamp_lowest, Kind::Force, units),
                    bare(p.clamp_highest, Kind::Force, units), bare(p.clamp_end_lowest, Kind::Force, units),
                    bare(p.clamp_end_highest, Kind::Force, units)});
  }
  const std::string unit_text = unit_name(Kind::Force, units.first);
  return out +
         table(
             "Acts of the wrench: clamp right after each nut's turn, and of the same studs once the last pass was done",
             {"", "at", heading_unit("torque", Kind::Torque, units), "nuts moved", "right after, lowest " + unit_text,
              "highest", "after the last pass, lowest " + unit_text, "highest"},
             rows);
}

std::string events_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::vector<std::vector<std::string>> rows;
  for (const EventGroup& g : grouped_events(s)) {
    std::string what = g.kind + ", " + stud_list(g.studs, s.studs);
    if (g.count > std::max<std::size_t>(1, g.studs.size())) {
      what += fmt::format(", {} times", g.count);
    }
    const std::string meaning = said([&](System u) { return words(g, s, u); }, units);
    rows.push_back({together(duration(g.first.time)), bare(g.first.distance, Kind::Distance, units, 3),
                    together(duration(g.last.time)), escape(what) + (meaning.empty() ? "" : ": " + meaning)});
  }
  if (rows.empty()) {
    return paragraph("Nothing happened that a run tells of: no stud opened, slipped loose, yielded or fell below the "
                     "required clamp, and no nut was touched.",
                     "empty");
  }
  return table("Events, gravest first", {"first at", unit_name(Kind::Distance, units.first), "last at", "what"}, rows,
               4);
}

std::string inputs_markup(const Run& run, Units units) {
  static_cast<void>(units); // values are shown as they stand in the catalogue
  std::map<std::string, std::vector<std::vector<std::string>>> kinds;
  for (const RunHeader::ProvenanceRow& row : run.provenance) {
    kinds[row.provenance].push_back({escape(row.entry), escape(row.key), escape(row.value), escape(row.source)});
  }
  if (kinds.empty()) {
    return paragraph("No catalogue value was used: everything stands in the scenario.", "empty");
  }
  const std::map<std::string, const char*> meaning = {{"published", "published, with its source"},
                                                      {"memory", "recalled from tables, to be looked up"},
                                                      {"practice", "common practice, without a source"},
                                                      {"demo", "invented for demonstration"},
                                                      {"fitted", "fitted to measurements"}};
  const auto demo = kinds.find("demo");
  std::string out;
  if (demo != kinds.end()) {
    out += paragraph(fmt::format("{} of {} catalogue values are invented demonstration values: the result is no better "
                                 "than they are. Put measured ones in their place before it decides anything.",
                                 demo->second.size(), run.provenance.size()),
                     "warn");
  }
  for (const auto& [kind, rows] : kinds) {
    const auto known = meaning.find(kind);
    out += details(
        escape(fmt::format("{}: {} {}", kind, rows.size(), rows.size() == 1 ? "value" : "values")) +
            (known == meaning.end() ? "" : element("span", {{"class", "muted"}}, fmt::format(" – {}", known->second))),
        table("Catalogue values: " + kind, {"entry", "key", "value", "source"}, rows, 4), "more print");
  }
  if (!run.summary.identity.empty()) {
    std::vector<std::vector<std::string>> rows;
    for (const RunHeader::IdentityRow& r : run.summary.identity) {
      rows.push_back({escape(r.stud), escape(r.time), escape(r.tool), escape(r.operator_name), escape(r.vehicle),
                      escape(r.axle), escape(r.wheel),
                      std::isfinite(r.torque) ? bare(r.torque, Kind::Torque, units) : "–"});
    }
    out += details("The wheel as it was tightened",
                   table("The wheel as it was tightened",
                         {"stud", "time", "tool", "operator", "vehicle", "axle", "wheel",
                          heading_unit("torque", Kind::Torque, units)},
                         rows, 7),
                   "more print");
  }
  return out;
}

std::string warnings_markup(const Run& run, Units units) {
  const std::vector<std::string> si = warnings_said(run.summary, System::Si);
  const std::vector<std::string> us = warnings_said(run.summary, System::Us);
  std::string list;
  for (std::size_t i = 0; i < si.size() && i < us.size(); ++i) {
    list += element("li", {}, units.both ? in_both(si[i], us[i]) : escape(units.first == System::Si ? si[i] : us[i]));
  }
  return list.empty() ? "" : element("ul", {}, list);
}

/// What the scenario as run gives for a key of its solution, as text; empty where it has none.
std::string asked_of_solution(const Run& run, const std::string& key) {
  const std::string& text = run.scenario_text;
  const std::size_t solution = text.find("\nsolution:");
  const std::string before = "\n  " + key + ": ";
  const std::size_t at = solution == std::string::npos ? solution : text.find(before, solution);
  return at == std::string::npos
             ? ""
             : text.substr(at + before.size(), text.find('\n', at + before.size()) - at - before.size());
}

std::string computed_markup(const Run& run, Units units) {
  const Summary& s = run.summary;
  std::uint64_t steps = 0;
  std::uint64_t rejected = 0;
  double smallest = 0;
  std::map<std::string, std::size_t> limits;
  for (const StepsRow& row : run.steps) {
    steps += row.steps;
    rejected += row.rejected;
    smallest = row.smallest > 0 && (smallest == 0 || row.smallest < smallest) ? row.smallest : smallest;
    if (!row.controlled_by.empty()) {
      ++limits[row.controlled_by];
    }
  }
  std::string limit = "nothing limited them";
  std::size_t most = 0;
  for (const auto& [what, count] : limits) {
    if (count > most) {
      most = count;
      limit = what;
    }
  }
  constexpr const char* digest_words[] = {"absent, since the run is not complete", "fits the data",
                                          "DOES NOT FIT THE DATA"};
  std::vector<std::vector<std::string>> rows = {
      {"program", escape(fmt::format("clampfade {} ({})", s.program_version, s.git_sha))},
      {"history", escape(s.path)},
      {"written", escape(s.created_utc)},
      {"status", said([&](System u) { return status_sentence(s, u); }, units)},
      {"digest of the results", digest_words[static_cast<std::size_t>(s.digest)]},
      {"SHA-256 of the scenario", element("code", {}, escape(s.scenario_sha256))},
      {"records", std::to_string(s.records)},
      {"steps", fmt::format("{} accepted, {} repeated in halves", steps, rejected)}};
  if (smallest > 0) {
    rows.push_back({"shortest step", escape(duration(smallest))});
    rows.push_back({"what limited the steps most", escape(limit)});
  }
  if (s.records > 0) {
    const double closure = std::max(std::abs(s.budget.mean.closure()), std::abs(s.budget.weakest.closure()));
    rows.push_back({"closure error of the budget", fmt::format("{:.2g} N at most", closure)});
  }
  const std::string resolution = asked_of_solution(run, "resolution");
  if (!resolution.empty()) {
    rows.push_back({"resolution", escape(resolution)});
  }
  const std::string tolerance = asked_of_solution(run, "tolerance");
  if (!tolerance.empty()) {
    rows.push_back(
        {"tolerance of a step", fmt::format("{:g} of the first clamp", std::strtod(tolerance.c_str(), nullptr))});
  }
  return table("How it was computed", {}, rows, 2) +
         details("The scenario as run, with all defaults and catalogue values",
                 element("pre", {{"tabindex", "0"}}, escape(run.scenario_text)));
}

void add_run(PageBuilder& page, const Run& run, const std::string& prefix) {
  const Units units = page.units();
  using Width = PageBuilder::Width;
  page.section(prefix + "finding", "Finding", "Does the wheel keep the clamp it needs?", finding_markup(run, units));
  if (run.rows() > 0) {
    page.section(prefix + "clamp-over-time", "Clamp", "How much clamp is left?",
                 page.figure(clamp_chart(run, prefix)) + milestones_markup(run, units));
    page.section(prefix + "losses", "Losses", "What took the clamp, from which stud, and where?",
                 moments_markup(page, run, prefix));
    page.section(prefix + "events", "Events", "What happened?", events_markup(run, units));
    page.section(prefix + "temperatures", "Temperatures", "How hot does the joint get?",
                 page.figure(temperature_chart(run, prefix)), Width::Half);
    const bool coated = !run.layers.empty();
    if (coated) {
      page.section(prefix + "coatings", "Coatings", "How thin do the coatings get?",
                   page.figure(coating_chart(run, prefix)), Width::Half);
    }
    page.section(prefix + "slip", "Slip", "Does the wheel slip?", page.figure(slip_margin_chart(run, prefix)),
                 Width::Half);
    page.section(prefix + "limits", "Limits", "How near are the limits?",
                 required_markup(run, units) + limits_markup(run, units), coated ? Width::Half : Width::Full);
    page.section(prefix + "wrench", "Tightening", "What did the wrench do?", tightening_markup(prefix, run, units));
    page.section(prefix + "studs", "Check", "What would a check find?", studs_markup(run, units));
  }
  const std::string warnings = warnings_markup(run, units);
  if (!warnings.empty()) {
    page.section(prefix + "warnings", "Warnings", "Warnings", warnings);
  }
  page.section(prefix + "inputs", "Inputs", "Where do the inputs come from?", inputs_markup(run, units));
  page.section(prefix + "computed", "Computation", "How was it computed?", computed_markup(run, units));
}

std::string page(const Run& run, System opens_with) {
  const Summary& s = run.summary;
  PageBuilder builder(s.title, Units{opens_with, true});
  std::vector<std::string> facts;
  if (run.rows() > 0) {
    facts.push_back(duration(run.time.back()) + " simulated");
  }
  if (!s.studs.empty()) {
    const Figure* thread = find_figure(s, "geometry/thread");
    const Figure* grade = find_figure(s, "geometry/property_class");
    facts.push_back(fmt::format("{} studs{}{}", s.studs.size(),
                                thread != nullptr && !thread->text.empty() ? " " + thread->text[0] : "",
                                grade != nullptr && !grade->text.empty() ? ", class " + grade->text[0] : ""));
  }
  std::string list;
  for (const std::string& fact : facts) {
    list += element("li", {}, escape(fact));
  }
  builder.header(element("div", {{"class", "title"}},
                         element("p", {{"class", "kind"}}, "Clamp load of a wheel joint: report of one run") +
                             element("h1", {}, escape(s.title)) + element("ul", {{"class", "facts"}}, list)));
  builder.basis(s.warnings);
  add_run(builder, run);
  return builder.html();
}

} // namespace clampfade::post

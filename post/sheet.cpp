#include "post/sheet.hpp"

#include "post/alarms.hpp"
#include "post/drawing/bolt_circle.hpp"
#include "post/run.hpp"
#include "post/sentences.hpp"
#include "post/summary.hpp"
#include "post/svg.hpp"
#include "solver/basis.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

namespace clampfade::post {

namespace {

/// For paper; on a small screen everything stands below each other.
constexpr std::string_view kStyle = R"(
@page { margin: 8mm }
:root { color-scheme: light; --ink: #1b2430; --rule: #8793a3; --soft: #f0f3f7; --muted: #4a5563; --accent: #0b5f96;
  --bad: #a8370b; --bad-ground: #fdeee7 }
* { box-sizing: border-box }
html { background: #fff; -webkit-print-color-adjust: exact; print-color-adjust: exact }
body { margin: 0 auto; padding: 12px; max-width: 820px; color: var(--ink); background: #fff;
  font: 13px/1.36 system-ui, sans-serif; font-variant-numeric: tabular-nums; overflow-wrap: break-word }
h1 { font-size: 19px; line-height: 1.2; margin: 8px 0 2px }
h2 { font-size: 14px; margin: 9px 0 3px; border-bottom: 1.5px solid var(--ink) }
p { margin: 3px 0 }
ul { margin: 3px 0; padding-left: 17px }
.caution { border: 2px solid var(--bad); background: var(--bad-ground); padding: 4px 9px; font-weight: 600; margin: 5px 0 }
.caution ul { list-style: none; padding: 0; margin: 0 }
.caution li { display: inline }
.caution li + li::before { content: " \25AA  " }
.alarm { border-left: 5px solid var(--bad); padding-left: 8px; color: var(--bad); font-weight: 600 }
.basis { color: var(--bad); font-weight: 600; margin: 0 0 4px }
.muted { color: var(--muted) }
.fields { display: grid; grid-template-columns: repeat(5, 1fr); gap: 4px 12px; margin: 6px 0 }
.fields div { border-bottom: 1px solid var(--rule); min-height: 20px; padding-top: 1px }
.fields b { font-weight: 400; color: var(--muted); font-size: 11px; margin-right: 5px }
.two { display: grid; grid-template-columns: 285px 1fr; gap: 4px 20px; align-items: start }
.wide { overflow-x: auto; /* a shade where there is more to scroll to; the ground that hides it scrolls along */
  background: linear-gradient(270deg, #fff 40%, transparent) right / 2.4rem 100% no-repeat local,
    linear-gradient(270deg, var(--rule), transparent) right / 0.8rem 100% no-repeat scroll }
table { border-collapse: collapse; width: 100% }
th, td { border: 1px solid var(--rule); padding: 1px 5px; text-align: right; white-space: nowrap }
th { background: var(--soft); font-weight: 600 }
th:first-child, td:first-child { text-align: left }
.passes td { font-size: 16px; padding: 2px 6px }
.passes .last td { font-weight: 700 }
.expected td, .expected th { padding: 1px 4px }
.readings td { height: 24px; min-width: 30px }
.readings th { text-align: center }
.faces td { text-align: left; white-space: normal; width: 38% }
.faces td:first-child { width: 24% }
.faces th { text-align: left }
.bolt-circle { display: block; width: 100%; max-width: 300px; margin: 0 auto; font-family: inherit }
.bolt-circle .disc { fill: #fff; stroke: var(--rule); stroke-width: 1.5 }
.bolt-circle .line { fill: none; stroke: var(--rule); stroke-width: 1; stroke-dasharray: 7 4 2 4 }
.bolt-circle .nut { fill: var(--soft); stroke: var(--ink); stroke-width: 2 }
.bolt-circle .stud { fill: var(--ink); font-weight: 700 }
.bolt-circle .way { stroke: var(--accent); stroke-width: 1.8; fill: none }
.bolt-circle .head { fill: var(--accent) }
.bolt-circle circle.turn { fill: var(--accent) }
.bolt-circle text.turn { fill: #fff; font-weight: 700 }
@media (max-width: 620px) {
  .two { grid-template-columns: 1fr }
  .fields { grid-template-columns: 1fr 1fr }
}
@media print {
  body { padding: 0; max-width: none; font-size: 11px; line-height: 1.3 }
  h1 { font-size: 16px; margin-top: 5px } h2 { font-size: 12.5px; margin: 7px 0 2px }
  .two { grid-template-columns: 255px 1fr }
  .fields { grid-template-columns: repeat(5, 1fr) }
  .passes td { font-size: 13.5px }
  .readings td { height: 20px }
  .wide { overflow: visible; background: none }
  .caution { padding: 2px 7px; font-size: 10.5px; break-inside: avoid }
  .fields div { min-height: 17px }
}
)";

System other(System system) { return system == System::Si ? System::Us : System::Si; }

class Sheet {
public:
  Sheet(const History& history, System system)
      : history_(history), s_(summarise(history)), acts_(history.acts()), first_(system) {}

  std::string html() {
    out_ = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
           "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
    out_ += element("title", {}, escape("Tightening sheet: " + s_.title)) + "\n<style>" + std::string(kStyle) +
            "</style>\n</head>\n<body>\n";
    const std::string basis = basis_sentence(s_.warnings);
    if (!basis.empty()) {
      out_ += element("p", {{"class", "basis"}}, escape(basis)) + "\n";
    }
    cautions();
    head();
    out_ += "<div class=\"two\">\n<div>\n";
    circle();
    out_ += "</div>\n<div>\n";
    passes();
    faces();
    out_ += "</div>\n</div>\n";
    check_again();
    retorques();
    line(reservation_sentence(s_));
    expected();
    readings();
    cautions();
    foot();
    return out_ + "</body>\n</html>\n";
  }

private:
  void line(const std::string& text) { out_ += element("p", {}, escape(text)) + "\n"; }
  void heading(const std::string& text) { out_ += element("h2", {}, escape(text)) + "\n"; }
  [[nodiscard]] std::string torque(double si, int digits = 3) const {
    return show(si, Kind::Torque, first_, digits) + " (" + show(si, Kind::Torque, other(first_), digits) + ")";
  }

  void cautions() {
    std::string items;
    for (const std::string_view c : clampfade::cautions()) {
      items += element("li", {}, escape(c));
    }
    out_ += element("div", {{"class", "caution"}}, element("ul", {}, items)) + "\n";
  }

  /// A field to fill in, or filled in from the tightening record.
  void field(const char* what, const std::string& known) {
    out_ += element("div", {}, element("b", {}, escape(what)) + escape(known));
  }

  void head() {
    out_ += element("h1", {}, escape("Tightening sheet: " + s_.title)) + "\n";
    std::string stud;
    const Figure* thread = find_figure(s_, "geometry/thread");
    const Figure* strength = find_figure(s_, "geometry/property_class");
    const Figure* bolt_circle = find_figure(s_, "geometry/bolt_circle");
    if (thread != nullptr && !thread->text.empty() && strength != nullptr && !strength->text.empty() &&
        bolt_circle != nullptr && !bolt_circle->values.empty()) {
      stud = fmt::format("{} studs {}, class {}, on a bolt circle of {} ({}).", s_.studs.size(), thread->text.at(0),
                         strength->text.at(0), show(bolt_circle->values.at(0), Kind::Length, first_),
                         show(bolt_circle->values.at(0), Kind::Length, other(first_)));
      line(stud);
    }
    const RunHeader::IdentityRow known = s_.identity.empty() ? RunHeader::IdentityRow() : s_.identity.front();
    out_ += "<div class=\"fields\">";
    field("Vehicle", known.vehicle);
    field("Axle", known.axle);
    field("Wheel", known.wheel);
    field("Date", "");
    field("Distance", "");
    out_ += "</div>\n";
    const std::string status = s_.status == RunStatus::Complete ? "" : status_sentence(s_, first_);
    if (!status.empty()) {
      out_ += element("p", {{"class", "alarm"}}, escape(status)) + "\n";
    }
    constexpr std::size_t few = 2;
    for (std::size_t i = 0; i < std::min(few, s_.alarms.size()); ++i) {
      out_ += element("p", {{"class", "alarm"}}, escape("In this run: " + sentence(s_.alarms[i], s_, first_))) + "\n";
    }
    if (s_.alarms.size() > few) {
      out_ += element("p", {{"class", "alarm"}},
                      escape(fmt::format("And {} more: read the summary of the run first.", s_.alarms.size() - few))) +
              "\n";
    }
  }

  /// Positions of studs from 0 in the order of a pass; empty where the history does not tell.
  [[nodiscard]] std::vector<std::size_t> order() const {
    std::vector<std::size_t> found;
    if (const Figure* f = find_figure(s_, "tightening/order")) {
      for (const double v : f->values) {
        if (!(v >= 1 && v <= static_cast<double>(s_.studs.size()))) {
          return {};
        }
        found.push_back(static_cast<std::size_t>(v) - 1);
      }
    } else {
      for (const ActRow& act : acts_) {
        if (act.pass == 1) {
          found.push_back(act.stud);
        }
      }
    }
    std::vector<std::size_t> sorted = found;
    std::sort(sorted.begin(), sorted.end());
    for (std::size_t i = 0; i < sorted.size(); ++i) {
      if (sorted[i] != i) {
        return {};
      }
    }
    return found.size() == s_.studs.size() ? found : std::vector<std::size_t>();
  }

  void circle() {
    heading("Order of tightening");
    const std::vector<std::size_t> turns = order();
    out_ += bolt_circle(s_.studs, turns) + "\n";
    if (turns.empty()) {
      line("The run does not tell an order: follow the maker's.");
      return;
    }
    std::string text = "Number the studs clockwise as you look at the wheel. In the nut: the stud. In the dot: its "
                       "turn in each pass. The order:";
    for (const std::size_t stud : turns) {
      text += " " + s_.studs[stud];
    }
    out_ += element("p", {{"class", "muted"}}, escape(text + ".")) + "\n";
    line("All nuts of a pass before the next pass begins.");
  }

  void passes() {
    heading("Passes and torques");
    std::vector<PassLine> all;
    bool unlike = false;
    for (const PassLine& p : s_.passes) {
      if (p.pass > 0) {
        all.push_back(p);
        unlike = unlike || p.torque_lowest != p.torque_highest;
      }
    }
    if (all.empty()) {
      line("The run does not tell the passes: follow the maker's.");
      return;
    }
    const auto range = [](const PassLine& p, System system) {
      const std::string high = plain(p.torque_highest, Kind::Torque, system, 3);
      return p.torque_lowest == p.torque_highest ? high
                                                 : plain(p.torque_lowest, Kind::Torque, system, 3) + " to " + high;
    };
    std::string rows = element("tr", {},
                               "<th>pass</th>" + element("th", {}, escape(unit(Kind::Torque, first_))) +
                                   element("th", {}, escape(unit(Kind::Torque, other(first_)))));
    for (const PassLine& p : all) {
      rows +=
          element("tr", {{"class", p.pass == all.back().pass ? "last" : ""}},
                  element("td", {}, escape(fmt::format("{} of {}", p.pass, all.size()))) +
                      element("td", {}, escape(range(p, first_))) + element("td", {}, escape(range(p, other(first_)))));
    }
    out_ += element("table", {{"class", "passes"}}, rows) + "\n";
    std::string objection;
    if (unlike) {
      objection =
          "In this run the studs did not all get the same torque. That is a case to study, not one to copy: give "
          "every nut the maker's torque.";
    } else if (!s_.alarms.empty() || s_.finding.below_from_start) {
      objection = "This run ended badly: its torques are here to be talked about, not to be used. Use the maker's.";
    }
    out_ += objection.empty() ? "" : element("p", {{"class", "alarm"}}, escape(objection)) + "\n";
    line("These are the torques of the run: where the maker's differ, the maker's hold. Run the nuts down by hand "
         "first, "
         "with the wheel off the ground, and use a calibrated wrench (common practice, no source).");
  }

  /// Faces of the stack with what is on them.
  void faces() {
    heading("Clean, bare or oiled: what the run took for granted");
    const Figure* parts = find_figure(s_, "geometry/part_thickness");
    const Figure* thickness = find_figure(s_, "geometry/layer_thickness");
    const Figure* layer_part = find_figure(s_, "geometry/layer_part");
    const Figure* layer_side = find_figure(s_, "geometry/layer_side");
    const Figure* layer_coating = find_figure(s_, "geometry/layer_coating");
    if (parts != nullptr) {
      const bool painted =
          thickness != nullptr && layer_part != nullptr && layer_side != nullptr && layer_coating != nullptr;
      const auto face = [&](const std::string& part, const char* side) {
        for (std::size_t i = 0; painted && i < thickness->values.size(); ++i) {
          if (layer_part->text.at(i) == part && layer_side->text.at(i) == side) {
            return fmt::format("painted: {}, {}", layer_coating->text.at(i),
                               show(thickness->values[i], Kind::Thickness, first_, 3));
          }
        }
        return std::string("bare");
      };
      std::string rows = "<tr><th>part</th><th>towards the head</th><th>towards the nut</th></tr>";
      for (const std::string& part : parts->labels) {
        rows += element("tr", {},
                        element("td", {}, escape(part)) + element("td", {}, escape(face(part, "head_side"))) +
                            element("td", {}, escape(face(part, "nut_side"))));
      }
      out_ += element("table", {{"class", "faces"}}, rows) + "\n";
    }
    std::string friction;
    const Figure* in_thread = find_figure(s_, "tightening/friction_thread");
    const Figure* under_nut = find_figure(s_, "tightening/friction_bearing");
    if (in_thread != nullptr && under_nut != nullptr) {
      friction = element("li", {},
                         escape(fmt::format("Friction {} in the thread and {} under the nut. A thread or seat "
                                            "in another state, oiled where the run's was dry or the other "
                                            "way round, gives another clamp at the same torque: oil only what "
                                            "the maker says.",
                                            range_of(in_thread->values), range_of(under_nut->values))));
    }
    out_ += "<ul>" + friction +
            element("li", {},
                    "Rust, scale, dirt and loose paint come off faces, threads and seats first; no grease "
                    "or fresh paint between faces (common practice, no source).") +
            "</ul>\n";
  }
  static std::string range_of(const std::vector<double>& values) {
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    return *low == *high ? number(*low, 2) : number(*low, 2) + " to " + number(*high, 2);
  }

  void check_again() {
    heading("When to check again");
    const Finding& f = s_.finding;
    std::string text = "At the interval that the vehicle's and the wheel's maker give.";
    if (s_.records == 0) {
      line(text + " The run has left no record yet, so there is no estimate to set beside it.");
      return;
    }
    if (f.below_from_start) {
      out_ += element("p", {{"class", "alarm"}},
                      "In this estimate the clamp is below the required one from the start: a re-check does not mend "
                      "that, and the wheel must not go into service tightened like this.") +
              "\n";
      return;
    }
    if (f.latest_retorque && f.latest_retorque->time > 0) {
      text += fmt::format(" In this estimate a retorque after {} comes too late: stud {} is then at the required clamp "
                          "of {}. If that is before the maker's interval is up, check before it; if it is later, the "
                          "maker's interval holds.",
                          words(*f.latest_retorque, first_), s_.studs.at(f.first_below ? f.first_below->stud : 0),
                          f.required_clamp ? show(*f.required_clamp, Kind::Force, first_) : "unknown size");
    } else if (f.first_below) {
      text += " In this estimate a stud is below the required clamp before the first record after tightening: check "
              "at once, and record more often.";
    } else if (f.required_clamp) {
      const Milestone* last = s_.milestones.empty() ? nullptr : &s_.milestones.back();
      text += fmt::format(" This estimate{} finds no stud below the required clamp of {}. It lengthens no interval.",
                          last != nullptr && last->reached ? " of " + duration(last->time) + " and " +
                                                                 show(last->distance, Kind::Distance, first_, 3)
                                                           : "",
                          show(*f.required_clamp, Kind::Force, first_));
    } else {
      text += " The run names no required clamp, so there is no estimate to set beside it.";
    }
    line(text + (s_.alarms.empty() ? "" : " What stands in red above comes first."));
  }

  /// What the estimate and the readings to expect take for granted; nothing where the run has no retorque.
  void retorques() {
    std::string list;
    for (const PassLine& p : s_.passes) {
      if (p.pass > 0) {
        continue;
      }
      const auto event = std::find_if(s_.events.begin(), s_.events.end(),
                                      [&](const EventRow& e) { return e.kind == "retorque" && e.time == p.time; });
      const std::string distance =
          event == s_.events.end() ? "" : " and " + show(event->distance, Kind::Distance, first_, 3);
      list += fmt::format("{}after {}{} to {}{}", list.empty() ? "" : "; ", duration(p.time), distance,
                          p.torque_lowest == p.torque_highest ? "" : torque(p.torque_lowest) + " up to ",
                          torque(p.torque_highest));
    }
    if (!list.empty()) {
      out_ += element("p", {},
                      element("b", {}, "This estimate takes for granted that the nuts are retorqued: ") +
                          escape(list + ". Without that it does not hold, and the check torques below that come later "
                                        "hold only after it.")) +
              "\n";
    }
  }

  /// Readings of a check, one row for each instant, a column for each stud.
  void expected() {
    if (s_.records == 0) {
      return;
    }
    const std::vector<double> time = history_.series("time");
    const std::vector<double> check = history_.series("check_torque");
    const std::size_t n = s_.studs.size();
    struct Instant {
      std::string what;
      std::size_t row;
    };
    std::vector<Instant> instants = {{"when tightened", 0}};
    if (s_.finding.latest_retorque && s_.finding.latest_retorque->time > 0) {
      const auto after_it = std::upper_bound(time.begin(), time.end(), s_.finding.latest_retorque->time);
      const auto row = static_cast<std::size_t>(std::max<std::ptrdiff_t>(1, after_it - time.begin()) - 1);
      if (row > 0) {
        instants.push_back({"after " + duration(time[row]), row});
      }
    }
    if (time.size() - 1 > instants.back().row) {
      instants.push_back({"after " + duration(time.back()), time.size() - 1});
    }
    heading("Check torque to expect, to start the nut turning: " + unit(Kind::Torque, first_) + " / " +
            unit(Kind::Torque, other(first_)));
    std::string rows = "<tr><th>stud</th>";
    for (const std::string& stud : s_.studs) {
      rows += element("th", {}, escape(stud));
    }
    rows += "</tr>";
    const auto cell = [](double si, System system) { return fmt::format("{:.0f}", convert(si, Kind::Torque, system)); };
    constexpr std::size_t in_line = 10; // studs whose cells fit across the page with both units beside each other
    const std::string between = n <= in_line ? "/" : "<br>";
    for (const Instant& i : instants) {
      std::string row = element("td", {}, escape(i.what));
      for (std::size_t k = 0; k < n; ++k) {
        const double si = check.at(i.row * n + k);
        // Less than a newton metre is a nut that nothing holds.
        const bool held = std::isfinite(si) && si >= 1;
        row += element("td", {}, held ? cell(si, first_) + between + cell(si, other(first_)) : std::string("-"));
      }
      rows += element("tr", {}, row);
    }
    out_ += element("div", {{"class", "wide"}}, element("table", {{"class", "expected"}}, rows)) + "\n";
    out_ +=
        element("p", {{"class", "muted"}},
                "These are readings to expect, not torques to tighten to. A nut that does not move at its torque is no "
                "proof of clamp: friction at rest holds it too. One that moves early has lost clamp: find out why "
                "before it is tightened again.") +
        "\n";
  }

  void readings() {
    heading("Readings found (write the unit beside the first)");
    std::string rows = "<tr><th>date</th><th>distance</th><th>tool</th><th>initials</th>";
    for (const std::string& stud : s_.studs) {
      rows += element("th", {}, escape(stud));
    }
    rows += "</tr>";
    std::string empty = "<td></td><td></td><td></td><td></td>";
    for (std::size_t k = 0; k < s_.studs.size(); ++k) {
      empty += "<td></td>";
    }
    // Alarms take the room of a line each, so that one page is enough.
    const std::size_t lines = 6 - std::min<std::size_t>(3, s_.alarms.size());
    for (std::size_t i = 0; i < lines; ++i) {
      rows += element("tr", {}, empty);
    }
    out_ += element("div", {{"class", "wide"}}, element("table", {{"class", "readings"}}, rows)) + "\n";
  }

  void foot() {
    out_ += element("p", {{"class", "muted"}},
                    escape(fmt::format("From a run of {}, program {} ({}), scenario {:.12}.", s_.created_utc,
                                       s_.program_version, s_.git_sha, s_.scenario_sha256))) +
            "\n";
  }

  const History& history_;
  Summary s_;
  std::vector<ActRow> acts_;
  System first_;
  std::string out_;
};

} // namespace

std::string sheet(const History& history, System system) { return Sheet(history, system).html(); }

} // namespace clampfade::post

#include "post/summary_text.hpp"

#include "post/alarms.hpp"
#include "post/sentences.hpp"
#include "post/table.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace clampfade::post {

namespace {

/// Everything below the finding, section by section, in one system of units.
class Writer {
public:
  Writer(const Summary& summary, System system, bool colour) : s_(summary), system_(system), colour_(colour) {}
  std::string text();

private:
  [[nodiscard]] std::string force(double v) const { return show(v, Kind::Force, system_); }
  [[nodiscard]] std::string plain(double v, Kind kind, int digits = 4) const {
    return post::plain(v, kind, system_, digits);
  }
  [[nodiscard]] std::string unit_of(Kind kind) const { return unit(kind, system_); }
  [[nodiscard]] std::string stud(std::size_t i) const { return "stud " + s_.studs.at(i); }
  [[nodiscard]] std::string mark(const char* code, const std::string& text) const {
    return marked(code, text, colour_);
  }
  void heading(const std::string& title) { out_ += "\n" + mark("1", title) + "\n"; }
  void line(const std::string& text) { out_ += wrap(text); }
  void note(const std::string& text) { out_ += wrap(text, 2); }

  void status();
  void finding();
  void retorque();
  void alarms();
  void cautions();
  void milestones();
  void budget();
  void required();
  void limits();
  void studs();
  void check_torque();
  void tightening();
  void temperatures();
  void events();
  void joint();
  void inputs();
  void warnings();

  const Summary& s_;
  System system_;
  bool colour_;
  std::string out_;
};

void Writer::status() {
  const std::string text = status_sentence(s_, system_);
  out_ += s_.status == RunStatus::Complete ? wrap(text) : mark("1;31", wrap(text));
  if (s_.digest == Digest::Wrong) {
    out_ +=
        mark("1;31", wrap("THE FILE WAS CHANGED after the run wrote it: its digest does not fit. Do not rely on it."));
  }
  line(s_.title);
  if (!s_.identity.empty()) {
    const RunHeader::IdentityRow& id = s_.identity.front();
    std::string text_id;
    for (const auto& [what, value] : {std::pair<const char*, const std::string&>{"vehicle", id.vehicle},
                                      {"axle", id.axle},
                                      {"wheel", id.wheel},
                                      {"tightened", id.time},
                                      {"tool", id.tool},
                                      {"operator", id.operator_name}}) {
      if (!value.empty()) {
        text_id += (text_id.empty() ? "" : ", ") + std::string(what) + " " + value;
      }
    }
    const auto span = [&](const char* what, double RunHeader::IdentityRow::*member, double factor,
                          const std::string& unit_name) {
      double low = std::numeric_limits<double>::infinity();
      double high = -low;
      for (const RunHeader::IdentityRow& row : s_.identity) {
        if (std::isfinite(row.*member)) {
          low = std::min(low, row.*member * factor);
          high = std::max(high, row.*member * factor);
        }
      }
      if (low <= high) {
        text_id += fmt::format("{}{} {}{} {}", text_id.empty() ? "" : ", ", what,
                               low < high ? number(low) + " to " : "", number(high), unit_name);
      }
    };
    span("torque", &RunHeader::IdentityRow::torque, convert(1, Kind::Torque, system_), unit_of(Kind::Torque));
    span("angle", &RunHeader::IdentityRow::angle, 1 / units::kDegree, "deg");
    if (!text_id.empty()) {
      line("As tightened: " + text_id + ".");
    }
  }
}

void Writer::finding() {
  const std::string text = wrap(finding_sentence(s_, system_));
  const Finding& f = s_.finding;
  out_ += '\n';
  out_ += f.first_below ? mark("1;31", text) : f.required_clamp && s_.alarms.empty() ? mark("1;32", text) : text;
}

void Writer::alarms() {
  if (s_.alarms.empty()) {
    return;
  }
  out_ += '\n';
  for (const Alarm& a : s_.alarms) {
    out_ += mark("1;31", wrap(sentence(a, s_, system_)));
  }
}

void Writer::retorque() {
  const std::string text = retorque_sentence(s_, system_);
  if (!text.empty()) {
    line(text);
  }
}

void Writer::cautions() {
  out_ += '\n';
  line(kCaution);
}

void Writer::milestones() {
  heading("Clamp as it is, and cold, " + unit_of(Kind::Force));
  Table table({"", "record at", unit_of(Kind::Distance), "low", "mean", "high", "cold low", "mean", "high"});
  std::string late;
  bool any_missing = false;
  std::size_t more = 0;
  std::size_t retorque_rows = 0;
  constexpr std::size_t few = 12; // before and after each
  for (const Milestone& m : s_.milestones) {
    if (m.name.rfind("retorque", 0) == 0 && ++retorque_rows > few) {
      ++more;
      continue;
    }
    const std::string name = milestone_name(m.name, system_);
    if (!m.reached) {
      table.add({name, "-", "-", "-", "-", "-", "-", "-", "-"});
      continue;
    }
    if (!m.recorded) {
      table.add({name, "not recorded", "", "", "", "", "", "", ""});
      any_missing = true;
      continue;
    }
    const auto f = [&](double v) { return plain(v, Kind::Force); };
    table.add({name, duration(m.time), plain(m.distance, Kind::Distance, 3), f(m.clamp.lowest), f(m.clamp.mean),
               f(m.clamp.highest), f(m.clamp_cold.lowest), f(m.clamp_cold.mean), f(m.clamp_cold.highest)});
    if (m.late) {
      late += fmt::format(" Nothing was recorded near {}: its row is more than 20 % later.", name);
    }
  }
  out_ += table.text();
  note(
      "Low is the weakest stud, high the strongest. Cold: the same joint at the temperature of tightening. Each row is "
      "the first record at or after its time or distance, nothing is read between records; - was not reached." +
      late +
      (any_missing
           ? " Not recorded: there is none from there to the end; the scenario's `record` says when one is made."
           : "") +
      (more > 0 ? fmt::format(" {} later retorques stand under the acts of the wrench.", more / 2) : ""));
}

void Writer::budget() {
  const Budget& b = s_.budget;
  heading("Where the clamp went, up to the last record (%: of the first cold clamp)");
  const std::string thickness = unit_of(Kind::Thickness);
  const std::string force_unit = unit_of(Kind::Force);
  Table table({"", "mean: " + thickness, force_unit, "%", stud(b.weakest_stud) + ": " + thickness, force_unit, "%"});
  const auto um = [&](double v) { return fixed(convert(v, Kind::Thickness, system_), system_ == System::Si ? 2 : 3); };
  const auto kn = [&](double v) { return fixed(convert(v, Kind::Force, system_), system_ == System::Si ? 2 : 0); };
  const auto share = [](double part, double whole) { return whole > 0 ? fixed(100 * part / whole, 2) : "-"; };
  const auto nothing = [&](double thickness_lost, double clamp_lost) {
    return um(thickness_lost) == "0" && kn(clamp_lost) == "0";
  };
  const auto row = [&](const std::string& name, const std::string& mean_loss, double mean, const std::string& weak_loss,
                       double weak) {
    table.add(
        {name, mean_loss, kn(mean), share(mean, b.mean.first), weak_loss, kn(weak), share(weak, b.weakest.first)});
  };
  row("first clamp, cold", "", b.mean.first, "", b.weakest.first);
  std::string none;
  double loss_mean = 0;
  double loss_weakest = 0;
  for (const BudgetLine& l : b.lines) {
    if (nothing(l.loss_mean, l.clamp_mean) && nothing(l.loss_weakest, l.clamp_weakest)) {
      none += (none.empty() ? "" : ", ") + l.mechanism;
      continue;
    }
    loss_mean += l.loss_mean;
    loss_weakest += l.loss_weakest;
    row(l.mechanism, um(l.loss_mean), -l.clamp_mean, um(l.loss_weakest), -l.clamp_weakest);
  }
  row("all losses", um(loss_mean), -b.mean.lost, um(loss_weakest), -b.weakest.lost);
  row("retorque gain", "", b.mean.gain, "", b.weakest.gain);
  row("cold clamp now", "", b.mean.end, "", b.weakest.end);
  // An error that does not show is still none of 0.
  const auto error = [](const std::string& shown, const std::string& least) { return shown == "0" ? least : shown; };
  const std::string least = system_ == System::Si ? "<0.001" : "<0.1";
  table.add({"not accounted for", "", error(kn(b.mean.closure()), least),
             error(share(b.mean.closure(), b.mean.first), "<0.001"), "", error(kn(b.weakest.closure()), least),
             error(share(b.weakest.closure(), b.weakest.first), "<0.001")});
  out_ += table.text();
  if (!none.empty()) {
    note("Nothing taken by: " + none + ".");
  }
}

void Writer::required() {
  if (s_.slip_margin || !s_.design_cases.empty() || s_.finding.required_clamp) {
    heading("Slip, and what sets the required clamp");
  }
  if (s_.slip_margin) {
    const Peak& p = *s_.slip_margin;
    note(fmt::format("In the daily duty the lowest slip margin is {} ({}). {}", number(p.value, 3),
                     p.when.time <= 0 ? after(0) : "after " + words(p.when, system_),
                     p.value < 1 ? "Below 1 the joint slides." : "Above 1 friction holds the wheel."));
  }
  if (s_.finding.required_clamp) {
    note(fmt::format("Required clamp of each stud: {}{}.", force(*s_.finding.required_clamp),
                     s_.deciding_design_case.empty() ? ""
                                                     : ", set by the design case \"" + s_.deciding_design_case + "\""));
  }
  if (!s_.design_cases.empty()) {
    Table table({"design case", "for slip, " + unit_of(Kind::Force), "against a gap", "required"});
    const auto f = [&](const std::optional<double>& v) { return v ? plain(*v, Kind::Force) : "-"; };
    for (const DesignCase& c : s_.design_cases) {
      table.add({c.name, f(c.clamp_for_slip), f(c.clamp_for_gap), f(c.required)});
    }
    out_ += table.text();
  }
}

void Writer::limits() {
  heading("Highest values against their limits");
  Table table({"what", "highest", "limit", "% of limit", "stud", "at"});
  const auto row = [&](const std::string& what, const std::optional<Peak>& p, Kind kind) {
    if (p) {
      table.add({what, show(p->value, kind, system_, 3), p->limit ? show(*p->limit, kind, system_, 3) : "-",
                 p->limit && *p->limit > 0 ? number(100 * p->value / *p->limit, 3) : "-", s_.studs.at(p->when.stud),
                 duration(p->when.time)});
    }
  };
  if (s_.utilisation_tightening) {
    table.add({"utilisation while tightening", number(*s_.utilisation_tightening, 3), "1.00",
               number(100 * *s_.utilisation_tightening, 3), "-", "-"});
  }
  row("clamp, against proof load", s_.clamp, Kind::Force);
  row("utilisation in service", s_.utilisation, Kind::Number);
  row("fatigue amplitude", s_.fatigue_amplitude, Kind::Stress);
  row("pressure under the seat", s_.seat_pressure, Kind::Stress);
  if (!table.empty()) {
    out_ += table.text();
  }
}

void Writer::studs() {
  heading("Stud by stud, " + unit_of(Kind::Force) + " and " + unit_of(Kind::Torque));
  Table table({"stud", "first, cold", "now", "now, cold", "lost %", "lowest cold", "check torque"});
  for (const StudLine& l : s_.stud_lines) {
    if (l.removed) {
      table.add({l.name, plain(l.first_clamp_cold, Kind::Force), "nut removed", "", "", "", ""});
      continue;
    }
    table.add({l.name, plain(l.first_clamp_cold, Kind::Force), plain(l.end_clamp, Kind::Force),
               plain(l.end_clamp_cold, Kind::Force),
               l.first_clamp_cold > 0 ? number(100 * (1 - l.end_clamp_cold / l.first_clamp_cold), 3) : "-",
               plain(l.lowest_clamp_cold, Kind::Force), plain(l.check_torque, Kind::Torque)});
  }
  out_ += table.text();
}

void Writer::check_torque() {
  const std::string text = check_torque_sentence(s_, system_);
  if (!text.empty()) {
    note(text);
  }
}

void Writer::tightening() {
  if (s_.passes.empty()) {
    return;
  }
  heading("Acts of the wrench, " + unit_of(Kind::Torque) + " and " + unit_of(Kind::Force));
  Table table({"", "at", "torque", "moved", "low", "high", "end low", "high"});
  for (const PassLine& p : s_.passes) {
    const std::string torque = plain(p.torque_lowest, Kind::Torque);
    table.add({p.pass == 0 ? "retorque" : "pass " + std::to_string(p.pass), duration(p.time),
               p.torque_lowest == p.torque_highest ? torque : torque + " to " + plain(p.torque_highest, Kind::Torque),
               fmt::format("{} of {}", p.moved, p.nuts), plain(p.clamp_lowest, Kind::Force),
               plain(p.clamp_highest, Kind::Force), plain(p.clamp_end_lowest, Kind::Force),
               plain(p.clamp_end_highest, Kind::Force)});
  }
  out_ += table.text();
  note("Moved: nuts that turned. Low, high: clamp right after each nut's turn; end: of the same studs once the "
       "last pass was done, so alike in passes that turn the same nuts.");
}

void Writer::temperatures() {
  if (s_.nodes.empty()) {
    return;
  }
  heading("Highest temperatures at records, " + unit_of(Kind::Temperature));
  Table table({"node", "highest", "at"});
  for (const NodeLine& n : s_.nodes) {
    table.add({n.name, number(convert(n.highest, Kind::Temperature, system_), 3), duration(n.time)});
  }
  out_ += table.text();
}

void Writer::events() {
  if (s_.events.empty()) {
    return;
  }
  heading("Events, gravest first");
  Table table({"first at", unit_of(Kind::Distance), "last at", "what"}, true);
  for (const EventGroup& g : grouped_events(s_)) {
    std::string what = g.kind + ", " + stud_list(g.studs, s_.studs);
    if (g.count > std::max<std::size_t>(1, g.studs.size())) {
      what += fmt::format(", {} times", g.count);
    }
    const std::string meaning = words(g, s_, system_);
    table.add({duration(g.first.time), plain(g.first.distance, Kind::Distance, 3), duration(g.last.time),
               meaning.empty() ? what : what + ": " + meaning});
  }
  out_ += table.text();
  if (s_.events.size() > 1) {
    note("--json gives each one by itself.");
  }
}

void Writer::joint() {
  // Names of figures that say what the joint is made of; their words and units come from the file.
  constexpr std::array<std::string_view, 10> shown = {"torque/clamp",
                                                      "torque/check_torque",
                                                      "thread/proof_load",
                                                      "thread/yield_load",
                                                      "grip_length",
                                                      "stiffness/load_factor",
                                                      "stiffness/total_resilience",
                                                      "stiffness/stud_resilience",
                                                      "torque/utilisation_after",
                                                      "slip_margin"};
  Table table({"value", "figure"}, true);
  for (const std::string_view name : shown) {
    for (const Figure& f : s_.joint) {
      if (f.name != name || f.values.empty()) {
        continue;
      }
      const auto [low, high] = std::minmax_element(f.values.begin(), f.values.end());
      const Kind kind = kind_of(f.unit);
      std::string value = plain(*low, kind);
      if (*low != *high) {
        value += " to " + plain(*high, kind);
      }
      const std::string name_of_unit = kind == Kind::Number ? (f.unit == "1" ? "" : f.unit) : unit_of(kind);
      table.add({value + (name_of_unit.empty() ? "" : " " + name_of_unit), f.long_name.empty() ? f.name : f.long_name});
    }
  }
  if (!table.empty()) {
    heading("The joint");
    out_ += table.text();
  }
}

void Writer::inputs() {
  if (s_.provenance.empty()) {
    return;
  }
  heading("Where the inputs come from");
  std::size_t all = 0;
  std::size_t demo = 0;
  std::string kinds;
  for (const auto& [kind, count] : s_.provenance) {
    all += count;
    demo += kind == "demo" ? count : 0;
    kinds += fmt::format("{}{} {}", kinds.empty() ? "" : ", ", count, kind);
  }
  note(fmt::format("{} catalogue values: {}.", all, kinds));
  if (demo > 0) {
    note(fmt::format("{} of {} are invented demonstration values: the result is no better than they are. Put measured "
                     "ones in their place before it decides anything.",
                     demo, all));
  }
}

void Writer::warnings() {
  const std::vector<std::string> said = warnings_said(s_, system_);
  if (said.empty()) {
    return;
  }
  heading("Warnings");
  for (const std::string& warning : said) {
    std::string item = wrap(warning, 4);
    item[2] = '-';
    out_ += item;
  }
}

std::string Writer::text() {
  out_ += basis_line(s_.warnings, colour_);
  status();
  if (s_.records == 0) {
    out_ += '\n';
    line("The run has left no record yet, so there is nothing to say about the clamp.");
    alarms();
    cautions();
    warnings();
    return out_;
  }
  alarms();
  finding();
  retorque();
  line(reservation_sentence(s_));
  cautions();
  milestones();
  budget();
  required();
  limits();
  studs();
  check_torque();
  tightening();
  temperatures();
  events();
  joint();
  inputs();
  warnings();
  out_ += '\n';
  line(fmt::format("Written by program {} ({}) on {}; scenario {:.12}.", s_.program_version, s_.git_sha, s_.created_utc,
                   s_.scenario_sha256));
  return out_;
}

} // namespace

std::string to_text(const Summary& summary, System system, bool colour) {
  return Writer(summary, system, colour).text();
}

} // namespace clampfade::post

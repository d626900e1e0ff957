#include "post/compare.hpp"

#include "post/alarms.hpp"
#include "post/sentences.hpp"
#include "post/table.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>

namespace clampfade::post {

namespace {

constexpr std::size_t kPage = 100;
constexpr std::size_t kBeside = 3; // histories in a block
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Lowest cold clamp of the studs that kept their nuts, at the last record up to `time`.
double lowest_at(const History& history, const Summary& s, double time) {
  const std::vector<double> times = history.series("time");
  const std::vector<double> cold = history.series("clamp_cold");
  const double slack = 1e-9 * std::abs(time);
  const auto after =
      static_cast<std::size_t>(std::upper_bound(times.begin(), times.end(), time + slack) - times.begin());
  double lowest = kNan;
  for (std::size_t stud = 0; after > 0 && stud < s.stud_lines.size(); ++stud) {
    if (!s.stud_lines[stud].removed) {
      lowest = std::fmin(lowest, cold[(after - 1) * s.stud_lines.size() + stud]);
    }
  }
  return lowest;
}

std::string range(double low, double high, Kind kind, System system) {
  const std::string a = plain(low, kind, system, 3);
  const std::string b = plain(high, kind, system, 3);
  return a == b ? a : a + "-" + b;
}

std::string with_limit(const std::optional<Peak>& p, Kind kind, System system) {
  if (!p) {
    return "-";
  }
  std::string text = plain(p->value, kind, system, 3);
  if (p->limit && *p->limit > 0) {
    text += fmt::format(" of {} ({})", plain(*p->limit, kind, system, 3), percent(p->value / *p->limit));
  }
  return text;
}

double lowest_end(const Summary& s) {
  double lowest = kNan;
  for (const StudLine& line : s.stud_lines) {
    if (!line.removed) {
      lowest = std::fmin(lowest, line.end_clamp_cold);
    }
  }
  return lowest;
}

double lowest_first(const Summary& s) {
  double lowest = kNan;
  for (const StudLine& line : s.stud_lines) {
    lowest = std::fmin(lowest, line.first_clamp_cold);
  }
  return lowest;
}

/// Kinds of alarm, each once.
std::string alarm_words(const Summary& s) {
  std::string text;
  for (const Alarm& a : s.alarms) {
    if (text.find(a.kind) == std::string::npos) {
      text += (text.empty() ? "" : ", ") + a.kind;
    }
  }
  return text.empty() ? "none" : text;
}

} // namespace

Comparison compare(const std::vector<History>& histories) {
  Comparison c;
  std::vector<std::string> texts;
  c.common_time = std::numeric_limits<double>::infinity();
  for (const History& history : histories) {
    Compared one;
    one.letter = std::string(1, static_cast<char>('A' + c.all.size()));
    one.summary = summarise(history);
    const Summary& s = one.summary;
    if (s.records > 0) {
      one.reached = s.milestones.back().time;
      one.distance = s.milestones.back().distance;
    }
    for (const PassLine& p : s.passes) {
      one.retorques += p.pass == 0 ? 1U : 0U;
      one.moved += p.pass == 0 ? p.moved : 0U;
    }
    c.common_time = std::min(c.common_time, one.reached);
    texts.push_back(history.scenario_text());
    c.all.push_back(std::move(one));
  }
  for (std::size_t i = 0; i < c.all.size(); ++i) {
    c.all[i].clamp_common = lowest_at(histories[i], c.all[i].summary, c.common_time);
    constexpr double same = 1; // s
    c.unlike_length = c.unlike_length || c.all[i].reached > c.common_time + same;
  }
  c.differences = differences(texts);

  for (const Compared& one : c.all) {
    const Summary& s = one.summary;
    if (s.status != RunStatus::Complete) {
      c.reservations.push_back(fmt::format("{} is not complete ({}): it covers {} of {}.", one.letter, name(s.status),
                                           duration(one.reached), duration(s.end_time)));
    }
    if (s.digest == Digest::Wrong) {
      c.reservations.push_back(one.letter + " was changed after its run wrote it. Do not rely on it.");
    }
    if (s.records == 0) {
      c.reservations.push_back(one.letter + " has no record yet.");
    }
  }
  if (c.unlike_length) {
    std::string reached;
    for (const Compared& one : c.all) {
      reached += (reached.empty() ? "" : ", ") + one.letter + " " + duration(one.reached);
    }
    c.reservations.push_back(fmt::format("The runs are of unlike length ({}): compare what is left after {}, which all "
                                         "have reached, not at the end of each.",
                                         reached, duration(c.common_time)));
  }
  const auto differ = [&](const auto& of) {
    return std::any_of(c.all.begin(), c.all.end(), [&](const Compared& one) { return of(one) != of(c.all.front()); });
  };
  if (differ([](const Compared& one) { return one.summary.studs.size(); })) {
    c.reservations.emplace_back("The wheels have unlike numbers of studs.");
  }
  if (differ([](const Compared& one) { return one.summary.program_version + one.summary.git_sha; })) {
    c.reservations.emplace_back("The histories were written by unlike versions of the program.");
  }
  return c;
}

std::string reservation_sentence(const Comparison& c) {
  std::string text = scatter_sentence("these runs");
  for (const Compared& one : c.all) {
    const std::string own = reservation_sentence(one.summary).substr(scatter_sentence("this run").size());
    text += own.empty() ? "" : fmt::format(" {}:{}", one.letter, own);
  }
  return text;
}

std::vector<DecisionRow> decision_rows(const Comparison& c, System system) {
  std::vector<DecisionRow> rows;
  const auto row = [&](std::string what, const std::function<std::string(const Compared&)>& of) {
    DecisionRow r{std::move(what), {}};
    for (const Compared& one : c.all) {
      r.values.push_back(of(one));
    }
    rows.push_back(std::move(r));
  };
  const auto recorded = [&](std::string what, const std::function<std::string(const Compared&)>& of) {
    row(std::move(what), [&](const Compared& one) { return one.summary.records == 0 ? "-" : of(one); });
  };
  const auto force = [&](double v) { return plain(v, Kind::Force, system); };
  const std::string in_force = ", " + unit(Kind::Force, system);
  const std::string in_torque = ", " + unit(Kind::Torque, system);
  const std::string in_stress = ", " + unit(Kind::Stress, system);

  row("run", [](const Compared& one) { return std::string(name(one.summary.status)); });
  row("time covered", [](const Compared& one) { return duration(one.reached); });
  row("driven, " + unit(Kind::Distance, system),
      [&](const Compared& one) { return plain(one.distance, Kind::Distance, system, 3); });
  recorded("cold clamp as tightened, weakest stud" + in_force,
           [&](const Compared& one) { return force(lowest_first(one.summary)); });
  if (c.unlike_length) {
    recorded("cold clamp after " + duration(c.common_time) + ", weakest stud" + in_force,
             [&](const Compared& one) { return force(one.clamp_common); });
  }
  recorded("cold clamp left at the end, weakest stud" + in_force,
           [&](const Compared& one) { return force(lowest_end(one.summary)); });
  recorded("cold clamp left at the end, mean" + in_force,
           [&](const Compared& one) { return force(one.summary.budget.mean.end); });
  recorded("lowest cold clamp of all" + in_force,
           [&](const Compared& one) { return force(one.summary.finding.lowest_clamp_cold); });
  recorded("required clamp" + in_force, [&](const Compared& one) {
    return one.summary.finding.required_clamp ? force(*one.summary.finding.required_clamp) : "-";
  });
  recorded("margin of the lowest over the required clamp", [](const Compared& one) {
    const Finding& f = one.summary.finding;
    return f.required_clamp && *f.required_clamp > 0 ? percent(f.lowest_clamp_cold / *f.required_clamp - 1) : "-";
  });
  recorded("first time below the required clamp", [](const Compared& one) {
    const Finding& f = one.summary.finding;
    return !f.required_clamp    ? std::string("-")
           : f.below_from_start ? std::string("from the start")
           : f.first_below      ? duration(f.first_below->time)
                                : std::string("never");
  });
  recorded("utilisation of the stud, highest in service",
           [&](const Compared& one) { return with_limit(one.summary.utilisation, Kind::Number, system); });
  recorded("fatigue amplitude of its limit, highest" + in_stress,
           [&](const Compared& one) { return with_limit(one.summary.fatigue_amplitude, Kind::Stress, system); });
  recorded("slip margin, lowest", [](const Compared& one) {
    return one.summary.slip_margin ? number(one.summary.slip_margin->value, 3) : "unlimited";
  });
  recorded("check torque to expect at the end" + in_torque, [&](const Compared& one) {
    const auto& t = one.summary.check_torque;
    return t && std::isfinite(t->lowest) ? range(t->lowest, t->highest, Kind::Torque, system) : "-";
  });
  recorded("set torque" + in_torque, [&](const Compared& one) {
    const std::vector<double>& t = one.summary.finding.torque;
    if (t.empty()) {
      return std::string("-");
    }
    const auto [low, high] = std::minmax_element(t.begin(), t.end());
    return range(*low, *high, Kind::Torque, system);
  });
  row("retorques (nuts moved)", [](const Compared& one) {
    return one.retorques == 0 ? std::string("none") : fmt::format("{} ({})", one.retorques, one.moved);
  });
  row("alarms", [](const Compared& one) { return alarm_words(one.summary); });
  return rows;
}

namespace {

/// Text of one comparison, block by block.
class Writer {
public:
  Writer(const Comparison& comparison, System system, bool colour) : c_(comparison), system_(system), colour_(colour) {}

  std::string text() {
    std::vector<std::string> warnings;
    for (const Compared& one : c_.all) {
      warnings.insert(warnings.end(), one.summary.warnings.begin(), one.summary.warnings.end());
    }
    out_ += basis_line(warnings, colour_);
    line(fmt::format("{} histories side by side.", c_.all.size()));
    for (const Compared& one : c_.all) {
      std::string item = wrap(fmt::format("{} ({})", one.summary.title, one.summary.path), 4, kPage);
      item.replace(2, 1, one.letter);
      out_ += item;
    }
    if (!c_.reservations.empty()) {
      out_ += '\n';
      for (const std::string& r : c_.reservations) {
        out_ += mark("1;31", wrap(r, 0, kPage));
      }
    }
    findings();
    difference_table();
    heading("What that comes to");
    const std::vector<DecisionRow> rows = decision_rows(c_, system_);
    each_block([&](std::size_t from, std::size_t to) {
      Grid grid = start(from, to);
      for (const DecisionRow& r : rows) {
        grid.rows.push_back({r.what, {r.values.begin() + offset(from), r.values.begin() + offset(to)}});
      }
      out_ += grid_text(grid);
    });
    budget();
    heading("Cautions");
    for (const std::string_view caution : cautions()) {
      std::string item = wrap(caution, 4, kPage);
      item[2] = '-';
      out_ += item;
    }
    return out_;
  }

private:
  struct Grid {
    std::vector<std::pair<std::string, std::vector<std::string>>> rows;
  };

  static std::ptrdiff_t offset(std::size_t i) { return static_cast<std::ptrdiff_t>(i); }
  [[nodiscard]] std::string mark(const char* code, const std::string& text) const {
    return marked(code, text, colour_);
  }
  void line(const std::string& text) { out_ += wrap(text, 0, kPage); }
  void note(const std::string& text) { out_ += wrap(text, 2, kPage); }
  void heading(const std::string& title) { out_ += "\n" + mark("1", title) + "\n"; }

  void each_block(const std::function<void(std::size_t, std::size_t)>& block) {
    for (std::size_t from = 0; from < c_.all.size(); from += kBeside) {
      if (from > 0) {
        out_ += '\n';
      }
      block(from, std::min(from + kBeside, c_.all.size()));
    }
  }

  [[nodiscard]] Grid start(std::size_t from, std::size_t to) const {
    std::vector<std::string> letters;
    for (std::size_t i = from; i < to; ++i) {
      letters.push_back(c_.all[i].letter);
    }
    return {{{"", letters}}};
  }

  /// Cells wrap; columns of values are equally wide and stand to the left.
  static std::string grid_text(const Grid& grid) {
    constexpr std::size_t margin = 2;
    constexpr std::size_t between = 2;
    constexpr std::size_t least = 9;
    const std::size_t columns = grid.rows.front().second.size();
    std::size_t label = 0;
    std::vector<std::size_t> widths(columns, least);
    for (const auto& [what, values] : grid.rows) {
      label = std::max(label, width(what));
      for (std::size_t i = 0; i < columns; ++i) {
        widths[i] = std::max(widths[i], width(values[i]));
      }
    }
    constexpr std::size_t widest_label = 46;
    label = std::min(label, widest_label);
    const std::size_t room = (kPage - margin - label) / std::max<std::size_t>(columns, 1) - between;
    for (std::size_t& w : widths) {
      w = std::min(w, room);
    }
    std::string out;
    for (const auto& [what, values] : grid.rows) {
      std::vector<std::vector<std::string>> cells = {lines(what, label)};
      std::size_t height = cells.front().size();
      for (std::size_t i = 0; i < columns; ++i) {
        cells.push_back(lines(values[i], widths[i]));
        height = std::max(height, cells.back().size());
      }
      for (std::size_t k = 0; k < height; ++k) {
        std::string text(margin, ' ');
        for (std::size_t i = 0; i < cells.size(); ++i) {
          const std::string cell = k < cells[i].size() ? cells[i][k] : "";
          const std::size_t wide = i == 0 ? label : widths[i - 1];
          text += (i == 0 ? "" : std::string(between, ' ')) + cell + std::string(wide - width(cell), ' ');
        }
        text.erase(text.find_last_not_of(' ') + 1);
        out += text + '\n';
      }
    }
    return out;
  }

  /// Broken at blanks, and where a word alone is too wide, after a slash or anywhere.
  static std::vector<std::string> lines(const std::string& text, std::size_t wide) {
    std::string broken;
    std::string word;
    const auto flush = [&] {
      while (width(word) > wide) {
        std::size_t cut = 0;
        std::size_t seen = 0;
        std::size_t at = 0;
        while (at < word.size() && seen < wide) {
          ++at;
          while (at < word.size() && (static_cast<unsigned char>(word[at]) & 0xC0U) == 0x80U) {
            ++at;
          }
          ++seen;
          cut = word[at - 1] == '/' ? at : cut;
        }
        cut = cut == 0 ? at : cut;
        broken += word.substr(0, cut) + "\n";
        word.erase(0, cut);
      }
      broken += word;
      word.clear();
    };
    for (const char letter : text) {
      if (letter == ' ') {
        flush();
        broken += ' ';
      } else {
        word += letter;
      }
    }
    flush();
    const std::string wrapped = wrap(broken, 0, wide);
    // wrap() takes a line's end for a blank, but two pieces of one word never fit into one line.
    std::vector<std::string> all;
    for (std::size_t begin = 0; begin < wrapped.size();) {
      const std::size_t end = wrapped.find('\n', begin);
      all.push_back(wrapped.substr(begin, end - begin));
      begin = end + 1;
    }
    return all.empty() ? std::vector<std::string>{""} : all;
  }

  /// Alarms are as loud as in the run's own summary, before any clamp.
  void findings() {
    out_ += '\n';
    for (const Compared& one : c_.all) {
      for (const Alarm& a : one.summary.alarms) {
        out_ += mark("1;31", wrap(one.letter + ": " + sentence(a, one.summary, system_), 0, kPage));
      }
      if (one.summary.records > 0) {
        line(one.letter + ": " + finding_sentence(one.summary, system_));
      }
    }
    line(reservation_sentence(c_));
  }

  void difference_table() {
    heading("What differs in the scenarios");
    if (c_.differences.empty()) {
      note("Nothing.");
      return;
    }
    bool absent = false;
    each_block([&](std::size_t from, std::size_t to) {
      Grid grid = start(from, to);
      for (const Difference& d : c_.differences) {
        const std::vector<std::string> shown = shown_values(d, system_);
        absent = absent || std::find(shown.begin(), shown.end(), "-") != shown.end();
        grid.rows.push_back({d.path, {shown.begin() + offset(from), shown.begin() + offset(to)}});
      }
      out_ += grid_text(grid);
    });
    if (absent) {
      note("- the scenario does not have that key. Catalogue entries that only some use are named once.");
    }
  }

  void budget() {
    const std::string force = unit(Kind::Force, system_);
    const std::string thickness = unit(Kind::Thickness, system_);
    heading(fmt::format("Where the clamp of the weakest stud went, {} and {}", force, thickness));
    const auto kn = [&](double v) { return fixed(convert(v, Kind::Force, system_), system_ == System::Si ? 2 : 0); };
    const auto um = [&](double v) {
      return fixed(convert(v, Kind::Thickness, system_), system_ == System::Si ? 2 : 3);
    };
    std::vector<std::string> mechanisms;
    for (const Compared& one : c_.all) {
      for (const BudgetLine& l : one.summary.budget.lines) {
        if (std::find(mechanisms.begin(), mechanisms.end(), l.mechanism) == mechanisms.end()) {
          mechanisms.push_back(l.mechanism);
        }
      }
    }
    std::string nothing;
    each_block([&](std::size_t from, std::size_t to) {
      std::vector<std::string> header = {""};
      for (std::size_t i = from; i < to; ++i) {
        header.push_back(c_.all[i].letter + ": " + force);
        header.push_back(thickness);
      }
      Table table(header);
      const auto row = [&](const std::string& what,
                           const std::function<std::array<std::string, 2>(const Budget&)>& of) {
        std::vector<std::string> cells = {what};
        for (std::size_t i = from; i < to; ++i) {
          const bool any = c_.all[i].summary.records > 0;
          const std::array<std::string, 2> two =
              any ? of(c_.all[i].summary.budget) : std::array<std::string, 2>{"-", "-"};
          cells.insert(cells.end(), two.begin(), two.end());
        }
        table.add(cells);
      };
      row("first clamp, cold", [&](const Budget& b) { return std::array<std::string, 2>{kn(b.weakest.first), ""}; });
      for (const std::string& m : mechanisms) {
        const auto of = [&](const Budget& b) -> const BudgetLine* {
          const auto l =
              std::find_if(b.lines.begin(), b.lines.end(), [&](const BudgetLine& x) { return x.mechanism == m; });
          return l == b.lines.end() ? nullptr : &*l;
        };
        const bool none = std::all_of(c_.all.begin(), c_.all.end(), [&](const Compared& one) {
          const BudgetLine* l = of(one.summary.budget);
          return l == nullptr || (kn(l->clamp_weakest) == "0" && um(l->loss_weakest) == "0");
        });
        if (none) {
          nothing += from > 0 ? "" : (nothing.empty() ? "" : ", ") + m;
          continue;
        }
        row(m, [&](const Budget& b) {
          const BudgetLine* l = of(b);
          return l == nullptr ? std::array<std::string, 2>{"-", "-"}
                              : std::array<std::string, 2>{kn(-l->clamp_weakest), um(l->loss_weakest)};
        });
      }
      row("retorque gain", [&](const Budget& b) { return std::array<std::string, 2>{kn(b.weakest.gain), ""}; });
      row("cold clamp at the end", [&](const Budget& b) { return std::array<std::string, 2>{kn(b.weakest.end), ""}; });
      out_ += table.text(kPage);
    });
    note("Up to the last record of each." + (nothing.empty() ? "" : " Nothing taken by: " + nothing + "."));
  }

  const Comparison& c_;
  System system_;
  bool colour_;
  std::string out_;
};

using Json = nlohmann::ordered_json;

Json value(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }
Json value(const std::optional<double>& v) { return v ? value(*v) : Json(nullptr); }

Json peak(const std::optional<Peak>& p) {
  return p ? Json{{"value", value(p->value)}, {"limit", value(p->limit)}, {"time", value(p->when.time)}}
           : Json(nullptr);
}

Json sum(const BudgetSum& s) {
  return {{"first_clamp", s.first}, {"lost_clamp", s.lost}, {"retorque_gain", s.gain}, {"end_clamp", s.end}};
}

Json one_json(const Compared& one) {
  const Summary& s = one.summary;
  Json j = {{"name", one.letter},         {"path", s.path},
            {"title", s.title},           {"scenario_sha256", s.scenario_sha256},
            {"status", name(s.status)},   {"reached", one.reached},
            {"end_time", s.end_time},     {"distance", one.distance},
            {"retorques", one.retorques}, {"nuts_moved", one.moved}};
  if (s.records == 0) {
    return j;
  }
  const Finding& f = s.finding;
  j["first_clamp"] = value(lowest_first(s));
  j["clamp_common"] = value(one.clamp_common);
  j["end_clamp"] = value(lowest_end(s));
  j["end_clamp_mean"] = value(s.budget.mean.end);
  j["lowest_clamp"] = value(f.lowest_clamp_cold);
  j["required_clamp"] = value(f.required_clamp);
  j["margin"] =
      f.required_clamp && *f.required_clamp > 0 ? Json(f.lowest_clamp_cold / *f.required_clamp - 1) : Json(nullptr);
  j["below_time"] = f.first_below ? Json(f.first_below->time) : Json(nullptr);
  j["utilisation"] = peak(s.utilisation);
  j["fatigue_amplitude"] = peak(s.fatigue_amplitude);
  j["slip_margin"] = peak(s.slip_margin);
  j["check_torque_lowest"] = s.check_torque ? value(s.check_torque->lowest) : Json(nullptr);
  j["check_torque_highest"] = s.check_torque ? value(s.check_torque->highest) : Json(nullptr);
  j["torque"] = f.torque;
  Json lines = Json::array();
  for (const BudgetLine& l : s.budget.lines) {
    lines.push_back({{"mechanism", l.mechanism},
                     {"loss_weakest", l.loss_weakest},
                     {"clamp_weakest", l.clamp_weakest},
                     {"loss_mean", l.loss_mean},
                     {"clamp_mean", l.clamp_mean}});
  }
  j["budget"] = {{"weakest_stud", s.studs.at(s.budget.weakest_stud)},
                 {"weakest", sum(s.budget.weakest)},
                 {"mean", sum(s.budget.mean)},
                 {"lines", lines}};
  Json alarms = Json::array();
  for (const Alarm& a : s.alarms) {
    alarms.push_back(a.kind);
  }
  j["alarms"] = alarms;
  return j;
}

} // namespace

std::string to_text(const Comparison& comparison, System system, bool colour) {
  return Writer(comparison, system, colour).text();
}

std::string to_json(const Comparison& c) {
  Json differing = Json::array();
  for (const Difference& d : c.differences) {
    Json values = Json::array();
    for (const auto& v : d.values) {
      values.push_back(v ? Json(*v) : Json(nullptr));
    }
    differing.push_back({{"key", d.path}, {"values", values}});
  }
  Json histories = Json::array();
  for (const Compared& one : c.all) {
    histories.push_back(one_json(one));
  }
  const Json units = {{"reached", "s"},
                      {"end_time", "s"},
                      {"distance", "m"},
                      {"below_time", "s"},
                      {"common_time", "s"},
                      {"first_clamp", "N"},
                      {"clamp_common", "N"},
                      {"end_clamp", "N"},
                      {"end_clamp_mean", "N"},
                      {"lowest_clamp", "N"},
                      {"required_clamp", "N"},
                      {"lost_clamp", "N"},
                      {"retorque_gain", "N"},
                      {"clamp_weakest", "N"},
                      {"clamp_mean", "N"},
                      {"loss_weakest", "m"},
                      {"loss_mean", "m"},
                      {"fatigue_amplitude", "Pa"},
                      {"check_torque_lowest", "N m"},
                      {"check_torque_highest", "N m"},
                      {"torque", "N m"},
                      {"time", "s"}};
  const Json j = {{"units", units},
                  {"common_time", value(c.common_time)},
                  {"reservations", c.reservations},
                  {"differences", differing},
                  {"histories", histories},
                  {"cautions", std::vector<std::string>(cautions().begin(), cautions().end())}};
  return j.dump(2) + "\n";
}

} // namespace clampfade::post

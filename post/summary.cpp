#include "post/summary.hpp"

#include "post/alarms.hpp"

#include "models/units.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>

namespace clampfade::post {

namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();

/// The series of a history that a summary looks at again and again.
struct Series {
  explicit Series(const History& history)
      : studs(history.studs().size()), time(history.series("time")), distance(history.series("distance")),
        clamp(history.series("clamp")), clamp_cold(history.series("clamp_cold")), removed(studs, kNever) {
    for (const EventRow& event : history.events()) {
      const auto stud = static_cast<std::size_t>(event.stud);
      if (event.kind == "nut removed" && event.stud >= 0 && stud < studs) {
        removed[stud] = std::min(removed[stud], event.time);
      }
    }
  }
  std::size_t studs;
  std::vector<double> time, distance, clamp, clamp_cold;
  std::vector<double> removed; ///< when each nut was taken off

  [[nodiscard]] std::size_t rows() const { return time.size(); }
  /// A record may be made just before and just after the nut goes, at the same time.
  [[nodiscard]] bool nut_on(std::size_t row, std::size_t stud) const {
    return time[row] < removed[stud] || (time[row] == removed[stud] && clamp_cold[row * studs + stud] > 0);
  }
  [[nodiscard]] bool stays_on(std::size_t stud) const { return removed[stud] == kNever; }
  [[nodiscard]] Moment moment(std::size_t row, std::size_t stud) const { return {time[row], distance[row], stud}; }

  [[nodiscard]] Spread spread(const std::vector<double>& values, std::size_t row) const {
    Spread s{kNever, 0, -kNever, 0};
    std::size_t count = 0;
    for (std::size_t stud = 0; stud < studs; ++stud) {
      if (!nut_on(row, stud)) {
        continue;
      }
      const double v = values[row * studs + stud];
      if (v < s.lowest) {
        s.lowest = v;
        s.weakest = stud;
      }
      s.highest = std::max(s.highest, v);
      s.mean += v;
      ++count;
    }
    if (count == 0) {
      constexpr double nan = std::numeric_limits<double>::quiet_NaN();
      return {nan, nan, nan, 0};
    }
    s.mean /= static_cast<double>(count);
    return s;
  }
};

std::optional<double> figure(const std::vector<Figure>& joint, std::string_view name) {
  for (const Figure& f : joint) {
    if (f.name == name && f.values.size() == 1) {
      return f.values.front();
    }
  }
  return std::nullopt;
}

/// Figures that may stand there for each stud: the least or the greatest of them.
std::optional<std::pair<double, double>> range(const std::vector<Figure>& joint, std::string_view name) {
  for (const Figure& f : joint) {
    if (f.name == name && !f.values.empty()) {
      const auto [low, high] = std::minmax_element(f.values.begin(), f.values.end());
      return std::pair(*low, *high);
    }
  }
  return std::nullopt;
}

Finding find(const Series& series, const History& history, const std::vector<Figure>& joint) {
  Finding finding;
  finding.required_clamp = figure(joint, "required_clamp");
  for (const char* name : {"torque/torque", "torque/torque_by_stud"}) {
    for (const Figure& f : joint) {
      if (f.name == name) {
        finding.torque = f.values;
      }
    }
  }
  finding.lowest_clamp_cold = kNever;
  std::optional<Moment> first_record_below;
  for (std::size_t row = 0; row < series.rows(); ++row) {
    const Spread s = series.spread(series.clamp_cold, row);
    if (s.lowest < finding.lowest_clamp_cold) {
      finding.lowest_clamp_cold = s.lowest;
      finding.lowest = series.moment(row, s.weakest);
    }
    if (!first_record_below && finding.required_clamp && s.lowest < *finding.required_clamp) {
      first_record_below = series.moment(row, s.weakest);
      finding.below_from_start = row == 0;
    }
  }
  if (!finding.required_clamp) {
    return finding;
  }
  finding.first_below = first_record_below;
  for (const EventRow& event : history.events()) {
    const auto stud = static_cast<std::size_t>(std::max(event.stud, 0));
    // A nut taken off on purpose is not a clamp that faded.
    if (event.kind == "below required clamp" && event.time < series.removed.at(std::min(stud, series.studs - 1))) {
      finding.first_below = Moment{event.time, event.distance, stud};
      finding.first_below_located = true;
      break;
    }
  }
  if (finding.first_below && !finding.below_from_start) {
    const double at = finding.first_below->time;
    std::size_t row = 0;
    while (row + 1 < series.rows() &&
           (series.time[row + 1] < at || (finding.first_below_located && series.time[row + 1] == at))) {
      ++row;
    }
    const std::size_t stud = finding.first_below->stud;
    finding.latest_retorque = finding.first_below_located ? *finding.first_below : series.moment(row, stud);
    finding.check_torque_then = history.series("check_torque")[row * series.studs + stud];
  }
  return finding;
}

Milestone milestone(const Series& series, std::string name, std::size_t row) {
  Milestone m;
  m.name = std::move(name);
  m.reached = row < series.rows();
  if (m.reached) {
    m.time = series.time[row];
    m.distance = series.distance[row];
    m.clamp = series.spread(series.clamp, row);
    m.clamp_cold = series.spread(series.clamp_cold, row);
  }
  return m;
}

std::vector<Milestone> milestones(const Series& series, const std::vector<PassLine>& acts) {
  struct Asked {
    const char* name;
    const std::vector<double>* along;
    double at;
  };
  const std::vector<Asked> asked = {{"tightened", &series.time, series.time.front()},
                                    {"1 h", &series.time, units::kHour},
                                    {"1 day", &series.time, units::kDay},
                                    {"80 km", &series.distance, 80 * units::kKilometre},
                                    {"1 week", &series.time, units::kWeek},
                                    {"4 weeks", &series.time, 4 * units::kWeek}};
  std::vector<std::pair<std::size_t, Milestone>> found; // with its row
  for (const Asked& a : asked) {
    // A record asked for at that very instant may differ from it by round-off.
    const double slack = 1e-9 * std::abs(a.at);
    const auto row =
        static_cast<std::size_t>(std::lower_bound(a.along->begin(), a.along->end(), a.at - slack) - a.along->begin());
    Milestone m = milestone(series, a.name, row);
    constexpr double much_later = 1.2;
    m.late = m.reached && a.at > 0 && (*a.along)[row] > much_later * a.at;
    m.recorded = !(m.late && row + 1 == series.rows());
    found.emplace_back(row, std::move(m));
  }
  for (const PassLine& act : acts) {
    // A run records just before and just after a retorque, at the same time.
    const auto after = static_cast<std::size_t>(std::upper_bound(series.time.begin(), series.time.end(), act.time) -
                                                series.time.begin());
    if (act.pass == 0 && after >= 2) {
      found.emplace_back(after - 2, milestone(series, "retorque, before", after - 2));
      found.emplace_back(after - 1, milestone(series, "retorque, after", after - 1));
    }
  }
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<Milestone> all;
  for (auto& entry : found) {
    all.push_back(std::move(entry.second));
  }
  all.push_back(milestone(series, "end", series.rows() - 1));
  return all;
}

std::vector<std::size_t> same_as(const Series& series) {
  std::vector<std::size_t> first(series.studs);
  for (std::size_t stud = 0; stud < series.studs; ++stud) {
    first[stud] = stud;
    for (std::size_t other = 0; other < stud && first[stud] == stud; ++other) {
      bool same = true;
      for (std::size_t row = 0; row < series.rows() && same; ++row) {
        same = series.clamp[row * series.studs + stud] == series.clamp[row * series.studs + other];
      }
      if (same) {
        first[stud] = first[other];
      }
    }
  }
  return first;
}

/// Of the studs that kept their nuts, the one with the lowest cold clamp at any record.
std::size_t weakest_staying(const Series& series) {
  std::size_t weakest = 0;
  double lowest = kNever;
  for (std::size_t i = 0; i < series.clamp_cold.size(); ++i) {
    if (series.stays_on(i % series.studs) && series.clamp_cold[i] < lowest) {
      lowest = series.clamp_cold[i];
      weakest = i % series.studs;
    }
  }
  return weakest;
}

Budget budget(const Series& series, const History& history) {
  const std::size_t weakest = weakest_staying(series);
  const std::size_t last = series.rows() - 1;
  const std::vector<double> loss = history.series("loss");
  const std::vector<double> loss_clamp = history.series("loss_clamp");
  const std::vector<double> gain = history.series("retorque_gain");
  const std::size_t n = history.mechanisms().size();
  Budget b;
  b.weakest_stud = weakest;
  // Mean over the studs that kept their nuts: what a removed nut takes is no loss.
  const auto mean = [&](const std::function<double(std::size_t)>& of) {
    double sum = 0;
    std::size_t count = 0;
    for (std::size_t stud = 0; stud < series.studs; ++stud) {
      if (series.stays_on(stud)) {
        sum += of(stud);
        ++count;
      }
    }
    return count > 0 ? sum / static_cast<double>(count) : 0.0;
  };
  for (std::size_t m = 0; m < n; ++m) {
    const auto at = [&](std::size_t stud) { return (last * series.studs + stud) * n + m; };
    BudgetLine line;
    line.mechanism = history.mechanisms()[m];
    line.loss_mean = mean([&](std::size_t stud) { return loss[at(stud)]; });
    line.loss_weakest = loss[at(weakest)];
    line.clamp_mean = mean([&](std::size_t stud) { return loss_clamp[at(stud)]; });
    line.clamp_weakest = loss_clamp[at(weakest)];
    b.mean.lost += line.clamp_mean;
    b.weakest.lost += line.clamp_weakest;
    b.lines.push_back(std::move(line));
  }
  const auto at_end = [&](const std::vector<double>& v) {
    return [&](std::size_t stud) { return v[last * series.studs + stud]; };
  };
  b.mean.first = mean([&](std::size_t stud) { return series.clamp_cold[stud]; });
  b.mean.gain = mean(at_end(gain));
  b.mean.end = mean(at_end(series.clamp_cold));
  b.weakest.first = series.clamp_cold[weakest];
  b.weakest.gain = at_end(gain)(weakest);
  b.weakest.end = at_end(series.clamp_cold)(weakest);
  return b;
}

/// Highest value of a series over studs and records.
std::optional<Peak> highest(const Series& series, const std::vector<double>& values, std::optional<double> limit) {
  std::optional<Peak> peak;
  for (std::size_t row = 0; row < series.rows(); ++row) {
    for (std::size_t stud = 0; stud < series.studs; ++stud) {
      const double v = values[row * series.studs + stud];
      if (std::isfinite(v) && (!peak || v > peak->value)) {
        peak = Peak{v, series.moment(row, stud), limit};
      }
    }
  }
  return peak;
}

std::optional<Peak> lowest_slip_margin(const Series& series, const std::vector<double>& values) {
  std::optional<Peak> peak;
  for (std::size_t row = 0; row < series.rows(); ++row) {
    if (std::isfinite(values[row]) && (!peak || values[row] < peak->value)) {
      peak = Peak{values[row], series.moment(row, 0), 1.0};
    }
  }
  return peak;
}

std::vector<PassLine> passes(const std::vector<ActRow>& acts) {
  std::vector<PassLine> all;
  for (const ActRow& act : acts) {
    // Acts of one retorque follow within minutes; two retorques do not.
    if (all.empty() || act.pass != all.back().pass || (act.pass == 0 && act.time - all.back().time > units::kHour)) {
      PassLine line;
      line.pass = act.pass;
      line.torque_lowest = line.clamp_lowest = line.clamp_end_lowest = kNever;
      all.push_back(line);
    }
    PassLine& line = all.back();
    line.time = act.time;
    line.torque_lowest = std::min(line.torque_lowest, act.torque);
    line.torque_highest = std::max(line.torque_highest, act.torque);
    ++line.nuts;
    line.moved += act.moved ? 1 : 0;
    line.clamp_lowest = std::min(line.clamp_lowest, act.clamp);
    line.clamp_highest = std::max(line.clamp_highest, act.clamp);
    line.clamp_end_lowest = std::min(line.clamp_end_lowest, act.clamp_end);
    line.clamp_end_highest = std::max(line.clamp_end_highest, act.clamp_end);
  }
  return all;
}

std::vector<StudLine> stud_lines(const Series& series, const History& history) {
  const std::vector<double> check = history.series("check_torque");
  const std::size_t last = series.rows() - 1;
  std::vector<StudLine> all;
  for (std::size_t stud = 0; stud < series.studs; ++stud) {
    StudLine line;
    line.name = history.studs()[stud];
    line.removed = !series.stays_on(stud);
    line.first_clamp_cold = series.clamp_cold[stud];
    line.end_clamp = series.clamp[last * series.studs + stud];
    line.end_clamp_cold = series.clamp_cold[last * series.studs + stud];
    line.check_torque = check[last * series.studs + stud];
    line.lowest_clamp_cold = kNever;
    for (std::size_t row = 0; row < series.rows(); ++row) {
      line.lowest_clamp_cold = std::min(line.lowest_clamp_cold, series.clamp_cold[row * series.studs + stud]);
    }
    all.push_back(std::move(line));
  }
  return all;
}

std::vector<NodeLine> node_lines(const Series& series, const History& history) {
  const std::vector<double> temperature = history.series("temperature");
  const std::size_t n = history.nodes().size();
  std::vector<NodeLine> all;
  for (std::size_t node = 0; node < n; ++node) {
    NodeLine line{history.nodes()[node], -kNever, 0};
    for (std::size_t row = 0; row < series.rows(); ++row) {
      if (temperature[row * n + node] > line.highest) {
        line.highest = temperature[row * n + node];
        line.time = series.time[row];
      }
    }
    all.push_back(std::move(line));
  }
  return all;
}

std::vector<DesignCase> design_cases(const std::vector<Figure>& joint) {
  std::vector<DesignCase> all;
  const auto entry = [&all](const std::string& name) -> DesignCase& {
    for (DesignCase& c : all) {
      if (c.name == name) {
        return c;
      }
    }
    all.push_back({name, {}, {}, {}});
    return all.back();
  };
  for (const Figure& f : joint) {
    std::optional<double> DesignCase::*member = f.name == "design_cases/clamp_for_slip"  ? &DesignCase::clamp_for_slip
                                                : f.name == "design_cases/clamp_for_gap" ? &DesignCase::clamp_for_gap
                                                : f.name == "design_cases/required"      ? &DesignCase::required
                                                                                         : nullptr;
    if (member != nullptr && f.labels.size() == f.values.size()) {
      for (std::size_t i = 0; i < f.labels.size(); ++i) {
        entry(f.labels[i]).*member = f.values[i];
      }
    }
  }
  return all;
}

} // namespace

Summary summarise(const History& history) {
  Summary s;
  s.path = history.path();
  s.title = history.title();
  s.program_version = history.program_version();
  s.git_sha = history.git_sha();
  s.created_utc = history.created_utc();
  s.scenario_sha256 = history.scenario_sha256();
  s.status = history.status();
  s.status_text = history.status_text();
  s.end_time = history.end_time();
  s.digest = history.verify();
  s.records = history.rows();
  s.studs = history.studs();
  s.warnings = history.warnings();
  s.events = history.events();
  s.joint = history.joint();
  s.identity = history.identity();
  s.passes = passes(history.acts());
  s.design_cases = design_cases(s.joint);
  if (const auto utilisation = range(s.joint, "torque/utilisation")) {
    s.utilisation_tightening = utilisation->second;
  }
  for (const Figure& f : s.joint) {
    if (f.name == "deciding_design_case" && !f.text.empty()) {
      s.deciding_design_case = f.text.front();
    }
  }
  std::map<std::string, std::size_t> kinds;
  for (const RunHeader::ProvenanceRow& row : history.provenance()) {
    ++kinds[row.provenance];
  }
  s.provenance.assign(kinds.begin(), kinds.end());
  if (s.records == 0 || s.studs.empty()) {
    s.records = 0;
    s.alarms = find_alarms(s); // what the wrench did is known before any record
    return s;
  }

  const Series series(history);
  s.finding = find(series, history, s.joint);
  s.milestones = milestones(series, s.passes);
  s.budget = budget(series, history);
  const std::vector<double> margin = history.series("slip_margin");
  s.slip_margin = lowest_slip_margin(series, margin);
  const auto slips = std::find_if(margin.begin(), margin.end(), [](double m) { return m < 1; });
  if (slips != margin.end()) {
    s.first_slip = series.moment(static_cast<std::size_t>(slips - margin.begin()), 0);
  }
  s.utilisation = highest(series, history.series("utilisation"), 1.0);
  s.fatigue_amplitude = highest(series, history.series("fatigue_amplitude"), figure(s.joint, "fatigue_limit"));
  s.seat_pressure = highest(series, history.series("seat_pressure"), figure(s.joint, "seat_pressure_limit"));
  s.check_torque = series.spread(history.series("check_torque"), series.rows() - 1);
  s.stud_lines = stud_lines(series, history);
  s.nodes = node_lines(series, history);
  s.clamp = highest(series, series.clamp, figure(s.joint, "thread/proof_load"));
  s.same_as = same_as(series);
  s.alarms = find_alarms(s);
  return s;
}

} // namespace clampfade::post

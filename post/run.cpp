#include "post/run.hpp"

#include "models/units.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

namespace clampfade::post {

namespace {

/// Rows of the extremes of one column between two rows.
void add_extremes(std::set<std::size_t>& rows, const std::vector<double>& series, std::size_t width, std::size_t column,
                  std::size_t from, std::size_t to) {
  std::optional<std::size_t> low, high;
  for (std::size_t row = from; row < to; ++row) {
    const double v = series[row * width + column];
    if (!std::isfinite(v)) {
      continue;
    }
    if (!low || v < series[*low * width + column]) {
      low = row;
    }
    if (!high || v > series[*high * width + column]) {
      high = row;
    }
  }
  if (low) {
    rows.insert(*low);
    rows.insert(*high);
  }
}

/// First, last, and both records of every pair of one time.
std::set<std::size_t> fixed_rows(const Run& run) {
  std::set<std::size_t> rows;
  if (run.rows() == 0) {
    return rows;
  }
  rows.insert(0);
  rows.insert(run.rows() - 1);
  for (std::size_t row = 1; row < run.rows(); ++row) {
    if (run.time[row] == run.time[row - 1]) {
      rows.insert(row - 1);
      rows.insert(row);
    }
  }
  return rows;
}

/// Temperature of the hottest node [K]; of a history without nodes always the same.
double hottest(const Run& run, std::size_t row) {
  const std::size_t n = run.nodes.size();
  double highest = 0;
  for (std::size_t node = 0; node < n; ++node) {
    highest = std::max(highest, run.temperature[row * n + node]);
  }
  return highest;
}

/// Rows of every day from midnight to midnight, a record at midnight belonging to both days.
std::vector<Day> all_days(const Run& run) {
  std::vector<Day> days;
  constexpr double round_off = 1e-6; // [s]
  for (std::size_t row = 0; row < run.rows(); ++row) {
    const double day = run.time[row] / units::kDay;
    const auto number = static_cast<std::size_t>(std::max(0.0, std::floor(day + round_off / units::kDay)));
    if (days.empty() || days.back().number < number + 1) {
      const bool at_midnight = run.time[row] - static_cast<double>(number) * units::kDay < round_off;
      if (!days.empty() && at_midnight && days.back().number == number) {
        days.back().rows.push_back(row);
      }
      days.push_back({number + 1, "", {}});
    }
    days.back().rows.push_back(row);
  }
  constexpr std::size_t few = 3;
  days.erase(std::remove_if(days.begin(), days.end(), [](const Day& d) { return d.rows.size() < few; }), days.end());
  return days;
}

} // namespace

Run read_run(const History& history) {
  Run run;
  run.summary = summarise(history);
  run.scenario_text = history.scenario_text();
  run.nodes = history.nodes();
  run.layers = history.layers();
  run.mechanisms = history.mechanisms();
  run.acts = history.acts();
  run.steps = history.steps();
  run.provenance = history.provenance();
  if (run.summary.records == 0) {
    return run;
  }
  run.time = history.series("time");
  run.distance = history.series("distance");
  run.clamp = history.series("clamp");
  run.clamp_cold = history.series("clamp_cold");
  run.temperature = history.series("temperature");
  run.slip_margin = history.series("slip_margin");
  run.loss = history.series("loss");
  run.loss_clamp = history.series("loss_clamp");
  run.retorque_gain = history.series("retorque_gain");
  run.layer_thickness = history.series("layer_thickness");
  return run;
}

const Figure* find_figure(const Summary& s, std::string_view name) {
  const auto found = std::find_if(s.joint.begin(), s.joint.end(), [&](const Figure& f) { return f.name == name; });
  return found == s.joint.end() ? nullptr : &*found;
}

std::optional<double> find_number(const Summary& s, std::string_view name) {
  const Figure* f = find_figure(s, name);
  return f != nullptr && f->values.size() == 1 ? std::optional(f->values.front()) : std::nullopt;
}

std::vector<std::size_t> choose_rows(const Run& run, const std::vector<const std::vector<double>*>& guides,
                                     std::size_t most) {
  const std::set<std::size_t> fixed = fixed_rows(run);
  if (run.rows() <= most) {
    std::vector<std::size_t> all(run.rows());
    std::iota(all.begin(), all.end(), 0);
    return all;
  }
  // Columns that move together share their extremes, so the stretches are taken short at first, and longer until few
  // enough rows are left.
  std::size_t stretches = most > fixed.size() ? most - fixed.size() : 1;
  while (true) {
    std::set<std::size_t> chosen = fixed;
    for (std::size_t i = 0; i < stretches; ++i) {
      const std::size_t from = i * run.rows() / stretches;
      const std::size_t to = (i + 1) * run.rows() / stretches;
      for (const std::vector<double>* guide : guides) {
        const std::size_t width = guide->size() / run.rows();
        for (std::size_t column = 0; column < width; ++column) {
          add_extremes(chosen, *guide, width, column, from, to);
        }
      }
    }
    if (chosen.size() <= most || stretches == 1) {
      return {chosen.begin(), chosen.end()};
    }
    stretches = std::max<std::size_t>(1, stretches * 2 / 3);
  }
}

std::vector<std::size_t> choose_moments(const Run& run, std::size_t most) {
  std::set<std::size_t> rows = fixed_rows(run);
  if (run.rows() <= most) {
    for (std::size_t row = 0; row < run.rows(); ++row) {
      rows.insert(row);
    }
    return {rows.begin(), rows.end()};
  }
  const double span = run.time.back() - run.time.front();
  const double early = std::min(2 * units::kDay, span / 4);
  std::vector<std::size_t> at_first;
  for (std::size_t row = 0; row < run.rows() && run.time[row] - run.time.front() <= early; ++row) {
    at_first.push_back(row);
  }
  const std::size_t some = most / 4;
  for (std::size_t i = 0; i < std::min(some, at_first.size()); ++i) {
    rows.insert(at_first[i * at_first.size() / std::min(some, at_first.size())]);
  }
  const std::vector<Day> days = all_days(run);
  const std::size_t wanted = most - std::min(most / 2, rows.size());
  for (std::size_t i = 0; i < std::min(wanted, days.size()); ++i) {
    const Day& day = days[i * days.size() / std::min(wanted, days.size())];
    if (run.time[day.rows.front()] >= early) {
      rows.insert(*std::max_element(day.rows.begin(), day.rows.end(),
                                    [&](std::size_t a, std::size_t b) { return hottest(run, a) < hottest(run, b); }));
    }
  }
  // Days longer than the run leave it to evenly spread records.
  for (std::size_t i = 0; rows.size() < most / 2 && i < most / 2; ++i) {
    rows.insert(i * run.rows() / (most / 2));
  }
  return {rows.begin(), rows.end()};
}

std::vector<Day> choose_days(const Run& run, std::size_t most) {
  std::vector<Day> days = all_days(run);
  if (days.empty() || run.nodes.empty()) {
    return {};
  }
  const auto name = [&](std::size_t i, const char* why) {
    days[i].why += (days[i].why.empty() ? "" : ", ") + std::string(why);
  };
  name(0, "first day");
  std::size_t hot = 0;
  double highest = 0;
  for (std::size_t i = 0; i < days.size(); ++i) {
    for (const std::size_t row : days[i].rows) {
      if (hottest(run, row) > highest) {
        highest = hottest(run, row);
        hot = i;
      }
    }
  }
  name(hot, "hottest");
  if (run.summary.finding.first_below) {
    const auto number = static_cast<std::size_t>(run.summary.finding.first_below->time / units::kDay) + 1;
    for (std::size_t i = 0; i < days.size(); ++i) {
      if (days[i].number == number) {
        name(i, "falls below the required clamp");
      }
    }
  }
  name(days.size() - 1, "last day");
  std::vector<Day> chosen;
  const std::size_t spread = std::min(days.size(), most > 4 ? most - 4 : 1);
  std::set<std::size_t> even;
  for (std::size_t i = 0; i < spread; ++i) {
    even.insert(i * days.size() / spread);
  }
  for (std::size_t i = 0; i < days.size(); ++i) {
    if (!days[i].why.empty() || even.count(i) > 0) {
      chosen.push_back(std::move(days[i]));
    }
  }
  return chosen;
}

std::vector<double> pick(const std::vector<double>& series, std::size_t width, std::size_t column,
                         const std::vector<std::size_t>& rows) {
  std::vector<double> out;
  out.reserve(rows.size());
  for (const std::size_t row : rows) {
    out.push_back(series[row * width + column]);
  }
  return out;
}

} // namespace clampfade::post

#include "post/charts.hpp"

#include "post/alarms.hpp"
#include "post/sentences.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr std::size_t kMostRows = 2000;
constexpr std::size_t kMostDays = 14;
constexpr std::size_t kMostInADay = 300;
constexpr std::size_t kColours = 10;

ChartAxis axis(const Run& run, const std::vector<std::size_t>& rows) {
  return {pick(run.time, 1, 0, rows), pick(run.distance, 1, 0, rows)};
}

std::size_t colour(std::size_t i) { return i % kColours + 1; }
/// Neighbours in colour differ in dashes, and beyond ten lines so do those that share one.
std::size_t dash(std::size_t i) { return i / 5 % 4; }

/// Lines of the studs, those that are alike at every record once.
std::vector<ChartLine> stud_lines(const Run& run, const std::vector<double>& series,
                                  const std::vector<std::size_t>& rows) {
  const Summary& s = run.summary;
  std::vector<ChartLine> lines;
  for (std::size_t stud = 0; stud < run.studs(); ++stud) {
    if (s.same_as[stud] != stud) {
      continue;
    }
    std::vector<std::size_t> alike;
    for (std::size_t other = stud; other < run.studs(); ++other) {
      if (s.same_as[other] == stud) {
        alike.push_back(other);
      }
    }
    ChartLine line;
    line.name = stud_list(alike, s.studs);
    line.label = line.name.substr(line.name.find(' ') + 1);
    if (alike.size() == run.studs() && alike.size() > 1) {
      line.name = "every stud";
      line.label = "all";
    }
    line.y = pick(series, run.studs(), stud, rows);
    line.colour = colour(stud);
    line.dash = dash(stud);
    lines.push_back(std::move(line));
  }
  return lines;
}

std::vector<std::size_t> thin(const Run& run, const std::vector<std::size_t>& rows, std::size_t most) {
  if (rows.size() <= most) {
    return rows;
  }
  // Of each stretch the coldest and the hottest record of the node that swings most are what a reader looks for.
  std::vector<std::size_t> out;
  const std::size_t n = run.nodes.size();
  const std::size_t stretches = most / 2;
  for (std::size_t i = 0; i < stretches; ++i) {
    const auto from = rows.begin() + static_cast<std::ptrdiff_t>(i * rows.size() / stretches);
    const auto to = rows.begin() + static_cast<std::ptrdiff_t>((i + 1) * rows.size() / stretches);
    const auto [low, high] = std::minmax_element(from, to, [&](std::size_t a, std::size_t b) {
      const auto hot = [&](std::size_t row) {
        const auto first = run.temperature.begin() + static_cast<std::ptrdiff_t>(row * n);
        return *std::max_element(first, first + static_cast<std::ptrdiff_t>(n));
      };
      return hot(a) < hot(b);
    });
    out.push_back(std::min(*low, *high));
    if (*low != *high) {
      out.push_back(std::max(*low, *high));
    }
  }
  return out;
}

/// Row of the lowest finite slip margin of each day on which the wheel rolls.
std::vector<std::size_t> lowest_of_days(const Run& run) {
  std::vector<std::size_t> rows;
  double day = -1;
  for (std::size_t row = 1; row < run.rows(); ++row) {
    if (!std::isfinite(run.slip_margin[row]) || run.distance[row] <= run.distance[row - 1]) {
      continue;
    }
    // A record at midnight tells of the day that ends with it.
    const double of = std::ceil(run.time[row] / units::kDay);
    if (rows.empty() || of != day) {
      rows.push_back(row);
      day = of;
    } else if (run.slip_margin[row] < run.slip_margin[rows.back()]) {
      rows.back() = row;
    }
  }
  return rows;
}

} // namespace

std::string mechanism_name(const std::string& mechanism) {
  std::string out = mechanism;
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

std::vector<ChartMark> event_marks(const Run& run) {
  const Summary& s = run.summary;
  std::vector<ChartMark> marks;
  std::vector<std::vector<std::size_t>> studs;
  std::vector<std::string> kinds;
  for (const EventRow& event : s.events) {
    const bool one = event.stud >= 0 && static_cast<std::size_t>(event.stud) < run.studs();
    std::size_t i = 0;
    // Within a retorque or a stop everything happens at once on the scale of a chart.
    while (i < marks.size() && (kinds[i] != event.kind || std::abs(marks[i].time - event.time) > units::kHour)) {
      ++i;
    }
    if (i == marks.size()) {
      marks.push_back({event.time, event.distance, ""});
      kinds.push_back(event.kind);
      studs.emplace_back();
    }
    if (one) {
      studs[i].push_back(static_cast<std::size_t>(event.stud));
    }
  }
  for (std::size_t i = 0; i < marks.size(); ++i) {
    std::sort(studs[i].begin(), studs[i].end());
    studs[i].erase(std::unique(studs[i].begin(), studs[i].end()), studs[i].end());
    const bool all = studs[i].empty() || studs[i].size() == run.studs();
    marks[i].text = kinds[i] + (all ? "" : ", " + stud_list(studs[i], s.studs));
  }
  // The gravest first: where room is short, theirs are the words that stay.
  std::vector<ChartMark> sorted;
  for (const EventGroup& group : grouped_events(s)) {
    for (std::size_t i = 0; i < marks.size(); ++i) {
      if (kinds[i] == group.kind) {
        sorted.push_back(marks[i]);
      }
    }
  }
  return sorted;
}

Chart clamp_chart(const Run& run, const std::string& prefix) {
  const Summary& s = run.summary;
  Chart chart;
  chart.id = prefix + "clamp";
  chart.title = "Clamp of every stud";
  chart.y_name = "Clamp load";
  chart.y_kind = Kind::Force;
  chart.choose = "Clamp";
  if (run.rows() > 0) {
    const std::vector<std::size_t> rows = choose_rows(run, {&run.clamp_cold, &run.clamp}, kMostRows);
    ChartVariant cold{"cold", {axis(run, rows)}, stud_lines(run, run.clamp_cold, rows)};
    ChartVariant hot{"as it is, hot or cold", {axis(run, rows)}, stud_lines(run, run.clamp, rows)};
    // What heat does to the clamp is seen on the stud that matters.
    ChartLine weakest;
    weakest.name = "stud " + s.studs[s.budget.weakest_stud] + " as it is, hot or cold";
    weakest.y = pick(run.clamp, run.studs(), s.budget.weakest_stud, rows);
    weakest.colour = 10;
    weakest.faint = true;
    cold.lines.push_back(std::move(weakest));
    chart.variants = {std::move(cold), std::move(hot)};
  }
  if (s.finding.required_clamp) {
    chart.levels.push_back({"required clamp", *s.finding.required_clamp});
  }
  chart.marks = event_marks(run);
  chart.note =
      std::string("Each line is a stud, by its number at the line's end; cold is the clamp of the same joint at the "
                  "temperature of tightening, which is what the required clamp is compared with. ") +
      (s.finding.required_clamp ? "A line below the required clamp no longer holds the wheel as it must."
                                : "The scenario asks for no clamp, so there is no line to stay above.");
  return chart;
}

Chart temperature_chart(const Run& run, const std::string& prefix) {
  Chart chart;
  chart.id = prefix + "temperature";
  chart.title = "Temperatures over a day";
  chart.y_name = "Temperature";
  chart.y_kind = Kind::Temperature;
  chart.from_zero = false;
  chart.of_a_day = true;
  chart.choose = "Day";
  chart.note = "Heat thins paint and lengthens studs: what the discs reach each day decides how fast the clamp goes. "
               "Between records it may have been hotter.";
  std::vector<Day> days = choose_days(run, kMostDays);
  // The hottest day first: it is the one that stands in print.
  std::stable_partition(days.begin(), days.end(),
                        [](const Day& d) { return d.why.find("hottest") != std::string::npos; });
  for (const Day& day : days) {
    const std::vector<std::size_t> rows = thin(run, day.rows, kMostInADay);
    ChartVariant variant;
    variant.name = fmt::format("day {}{}", day.number, day.why.empty() ? "" : " (" + day.why + ")");
    variant.axes = {axis(run, rows)};
    for (double& t : variant.axes[0].time) {
      t -= static_cast<double>(day.number - 1) * units::kDay;
    }
    for (std::size_t node = 0; node < run.nodes.size(); ++node) {
      ChartLine line;
      line.name = run.nodes[node];
      line.y = pick(run.temperature, run.nodes.size(), node, rows);
      line.colour = colour(node);
      line.dash = node % 4;
      variant.lines.push_back(std::move(line));
    }
    chart.variants.push_back(std::move(variant));
  }
  if (!chart.variants.empty()) {
    chart.title += ": " + chart.variants.front().name;
  }
  return chart;
}

Chart slip_margin_chart(const Run& run, const std::string& prefix) {
  Chart chart;
  chart.id = prefix + "slip-margin";
  chart.title = "Slip margin in the daily duty";
  chart.y_name = "Slip margin";
  chart.y_kind = Kind::Number;
  chart.note = "Friction that the clamp gives over the load that wants to slide the wheel, the lowest between two "
               "records. Below 1 the joint slides, and sliding works nuts loose.";
  if (run.summary.slip_margin) {
    const std::vector<std::size_t> all = choose_rows(run, {&run.slip_margin}, kMostRows);
    std::vector<std::size_t> rows;
    std::copy_if(all.begin(), all.end(), std::back_inserter(rows),
                 [&](std::size_t row) { return std::isfinite(run.slip_margin[row]); });
    // What decides is the lowest of each day; in between a parked wheel hardly loads the joint.
    ChartAxis days;
    ChartLine lowest;
    lowest.name = "lowest of each day driven";
    for (const std::size_t row : lowest_of_days(run)) {
      days.time.push_back(run.time[row]);
      days.distance.push_back(run.distance[row]);
      lowest.y.push_back(run.slip_margin[row]);
    }
    lowest.axis = 1;
    lowest.colour = 1;
    ChartLine all_records;
    all_records.name = "lowest since the record before";
    all_records.y = pick(run.slip_margin, 1, 0, rows);
    const bool long_run = days.time.size() > 7;
    all_records.colour = long_run ? 10 : 1;
    all_records.faint = long_run;
    ChartVariant variant{"", {axis(run, rows)}, {std::move(all_records)}};
    if (long_run) {
      variant.axes.push_back(std::move(days));
      variant.lines.push_back(std::move(lowest));
    }
    chart.variants.push_back(std::move(variant));
    chart.levels.push_back({"slides below", 1, 1});
    // The margin that the design cases are to keep is no limit of the duty, which is milder.
    chart.marks = event_marks(run);
  }
  return chart;
}

Chart coating_chart(const Run& run, const std::string& prefix) {
  Chart chart;
  chart.id = prefix + "coating";
  chart.title = "Thickness of the coatings";
  chart.y_name = "Thickness";
  chart.y_kind = Kind::Thickness;
  const std::size_t width = run.layers.size();
  const std::size_t stud = run.summary.budget.weakest_stud;
  std::vector<std::size_t> recorded;
  if (!run.layer_thickness.empty()) {
    const std::vector<std::size_t> all = choose_rows(run, {&run.layer_thickness}, kMostRows);
    std::copy_if(all.begin(), all.end(), std::back_inserter(recorded), [&](std::size_t row) {
      return std::isfinite(run.layer_thickness[(row * run.studs() + stud) * width]);
    });
  }
  if (!recorded.empty()) {
    ChartVariant variant;
    variant.axes = {axis(run, recorded)};
    for (std::size_t layer = 0; layer < width; ++layer) {
      ChartLine line;
      line.label = std::string(1, static_cast<char>('a' + layer % 26));
      line.name = line.label + ": " + mechanism_name(run.layers[layer]);
      line.y = pick(run.layer_thickness, run.studs() * width, stud * width + layer, recorded);
      line.colour = colour(layer);
      line.dash = layer % 4;
      variant.lines.push_back(std::move(line));
    }
    chart.variants.push_back(std::move(variant));
    chart.note = "At stud " + run.summary.studs.at(stud) +
                 ", the weakest. What a film loses in thickness the stud loses in stretch: all films add up.";
    chart.marks = event_marks(run);
  } else {
    chart.note = width == 0 ? "No face of this joint is coated." : "The run was not asked to record coatings.";
  }
  return chart;
}

} // namespace clampfade::post

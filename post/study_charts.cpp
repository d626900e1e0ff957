#include "post/study_charts.hpp"

#include "post/charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

namespace clampfade::post {

namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t kMostLines = 10;
constexpr std::size_t kMostSteps = 300; // of a chance, each with a band to be computed

/// The cases along the one axis there is, in its ascending order; of a list in its own.
std::vector<std::size_t> along(const Study& study) {
  if (study.axes.size() == 1) {
    return ascending(study.axes.front());
  }
  std::vector<std::size_t> all(study.cases.size());
  std::iota(all.begin(), all.end(), 0);
  return all;
}

ValueAxis only_axis(const Study& study) {
  if (study.axes.size() == 1) {
    return axis_of(study.axes.front());
  }
  ValueAxis out;
  out.joined = false;
  out.name = {"case, as numbered in the table", "case, as numbered in the table"};
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    out.at.push_back(static_cast<double>(i));
    out.texts.push_back({std::to_string(i), std::to_string(i)});
  }
  return out;
}

ValueSeries series(const Study& study, const std::string& name, const Outcome& outcome, std::size_t colour) {
  ValueSeries s{name, {}, colour, 0};
  for (const std::size_t i : along(study)) {
    const bool done = study.cases[i].status == CaseStatus::Complete;
    s.y.push_back(done ? outcome.of(study.cases[i]) : kNaN);
  }
  return s;
}

const Outcome& outcome_named(std::string_view name) {
  return *std::find_if(outcomes().begin(), outcomes().end(), [&](const Outcome& o) { return o.name == name; });
}

std::vector<double> curve_values(const Study& study, const StudySummary& s, std::size_t instant) {
  std::vector<double> values;
  for (const std::size_t i : s.counted) {
    const double v = study.cases[i].clamp_cold_lowest[instant];
    if (!std::isnan(v)) {
      values.push_back(v);
    }
  }
  return values;
}

void add_required(const Study& study, Chart& chart) {
  if (const std::optional<double> required = required_of_all(study); required && *required > 0) {
    chart.levels.push_back({"required clamp", *required});
  }
}

} // namespace

bool drives_alike(const Study& study) {
  return !study.distance.empty() &&
         std::all_of(study.distance.begin(), study.distance.end(), [](double d) { return std::isfinite(d); }) &&
         study.distance.back() > 0;
}

std::optional<double> required_of_all(const Study& study) {
  std::optional<double> required;
  for (const StudyCase& c : study.cases) {
    if (c.status != CaseStatus::Complete) {
      continue;
    }
    if (required && *required != c.required_clamp) {
      return std::nullopt;
    }
    required = c.required_clamp;
  }
  return required;
}

ValueChart end_chart(const Study& study) {
  ValueChart chart;
  chart.id = "end";
  chart.title = "Cold clamp at the end";
  chart.note = "Each point is a case. The weakest stud decides: where it is under the dashed line the joint has too "
               "little clamp at the end.";
  chart.y_name = "Clamp load at the end, cold";
  chart.y_kind = Kind::Force;
  chart.x = only_axis(study);
  // The weakest last, so that it lies on top.
  chart.series = {series(study, "mean of the studs", outcome_named("clamp_cold_mean_end"), 3),
                  series(study, "weakest stud", weakest_at_end(), 1)};
  chart.series[0].dash = 1;
  for (const std::size_t i : along(study)) {
    const StudyCase& c = study.cases[i];
    chart.required.push_back(c.status == CaseStatus::Complete ? c.required_clamp
                                                              : required_of_all(study).value_or(kNaN));
  }
  const bool known = std::all_of(chart.required.begin(), chart.required.end(), [](double r) { return r > 0; });
  if (!known) {
    chart.required.clear();
  }
  return chart;
}

ValueChart below_chart(const Study& study) {
  ValueChart chart;
  chart.id = "below";
  chart.title = "Where a stud first falls below the required clamp";
  const bool far = drives_alike(study);
  chart.note =
      std::string("How ") + (far ? "far the wheel is driven" : "long the wheel runs") +
      " until a stud first has too little clamp: higher is better, and a retorque has to come before. A triangle "
      "at the upper edge: never in the time simulated.";
  chart.y_name = far ? "Driven until a stud is first below" : "Time until a stud is first below";
  chart.y_kind = far ? Kind::Distance : Kind::Duration;
  chart.x = only_axis(study);
  chart.y_top = study.time.empty() ? 0 : far ? study.distance.back() : study.time.back();
  chart.series = {series(study, "first below", far ? first_below_distance() : first_below_time(), 2)};
  return chart;
}

ValueChart loss_chart(const Study& study) {
  ValueChart chart;
  chart.id = "losses";
  chart.title = "What took the clamp by the end";
  chart.note =
      "The mean of the studs. Each bar is a case, and its height is the clamp that is gone at the end, without what "
      "later retorques won back; colours say what took it.";
  chart.y_name = "Clamp load lost by the end, cold";
  chart.y_kind = Kind::Force;
  chart.x = only_axis(study);
  chart.stacked = true;
  constexpr double seen = 50; // [N], half of the last digit shown
  for (std::size_t m = 0; m < study.mechanisms.size(); ++m) {
    ValueSeries s{mechanism_name(study.mechanisms[m]), {}, chart.series.size() % 10 + 1, 0};
    bool any = false;
    for (const std::size_t i : along(study)) {
      const StudyCase& c = study.cases[i];
      s.y.push_back(c.status == CaseStatus::Complete ? c.loss_clamp_end[m] : kNaN);
      any = any || std::abs(s.y.back()) > seen;
    }
    if (any) {
      chart.series.push_back(std::move(s));
    }
  }
  // Bars need room of their own: they stand side by side, whatever the values are.
  for (std::size_t i = 0; i < chart.x.at.size(); ++i) {
    chart.x.at[i] = static_cast<double>(i);
  }
  return chart;
}

Chart curves_chart(const Study& study, const StudySummary& s) {
  Chart chart;
  chart.id = "curves";
  chart.title = "Cold clamp of the weakest stud";
  chart.note = "Each line is a case, from tightening to the end.";
  chart.y_name = "Clamp load";
  chart.y_kind = Kind::Force;
  add_required(study, chart);
  if (s.done == 0 || s.done > kMostLines) {
    return chart;
  }
  ChartVariant variant;
  variant.axes.push_back({study.time, study.distance});
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    if (study.cases[i].status == CaseStatus::Complete) {
      const std::size_t n = variant.lines.size();
      variant.lines.push_back({study.axes.empty() ? fmt::format("case {}", i) : case_name(study, i, System::Si), "",
                               study.cases[i].clamp_cold_lowest, 0, n % 10 + 1, n / 10 + n % 2, false});
    }
  }
  chart.variants.push_back(std::move(variant));
  return chart;
}

Chart fan_chart(const Study& study, const StudySummary& s) {
  Chart chart;
  chart.id = "fan";
  chart.title = "Cold clamp of the weakest stud of each wheel";
  chart.note =
      "At each instant a share of the wheels has less than each line: half of them less than the median, one in "
      "twenty less than the lowest line. Where a line is under the dashed level, so many wheels have too little.";
  chart.y_name = "Clamp load of the weakest stud, cold";
  chart.y_kind = Kind::Force;
  add_required(study, chart);
  if (s.counted.empty()) {
    return chart;
  }
  struct Line {
    std::size_t at;
    const char* name;
    const char* label;
    std::size_t dash, colour;
  };
  ChartVariant variant;
  variant.axes.push_back({study.time, study.distance});
  std::vector<std::vector<double>> values;
  for (std::size_t t = 0; t < study.time.size(); ++t) {
    values.push_back(curve_values(study, s, t));
  }
  for (const Line& line : {Line{4, "95 % of the wheels have less", "95 %", 2, 4},
                           Line{3, "75 % have less", "75 %", 1, 3}, Line{2, "median", "median", 0, 1},
                           Line{1, "25 % have less", "25 %", 1, 8}, Line{0, "5 % have less", "5 %", 2, 2}}) {
    ChartLine drawn;
    drawn.name = line.name;
    drawn.label = line.label;
    drawn.colour = line.colour;
    drawn.dash = line.dash;
    for (const std::vector<double>& at_instant : values) {
      drawn.y.push_back(quantile(at_instant, kShares.at(line.at)));
    }
    variant.lines.push_back(std::move(drawn));
  }
  chart.variants.push_back(std::move(variant));
  return chart;
}

Chart chance_chart(const Study& study, const StudySummary& s) {
  Chart chart;
  chart.id = "chance";
  chart.title = "Wheels with a stud below the required clamp";
  chart.note =
      "The share of wheels in which at least one stud has fallen below the required clamp by then, and the band in "
      "which it lies with 95 % confidence, given so many cases (Clopper and Pearson, 1934). More cases make the "
      "band narrower.";
  chart.y_name = "Share of wheels, %";
  chart.stairs = true;
  if (s.counted.empty() || study.time.empty()) {
    return chart;
  }
  std::vector<double> times;
  std::vector<double> distances;
  for (const std::size_t i : s.counted) {
    const StudyCase& c = study.cases[i];
    if (!std::isnan(c.below_time)) {
      times.push_back(c.below_time);
      distances.push_back(std::isnan(c.below_distance) ? 0 : c.below_distance);
    }
  }
  std::sort(times.begin(), times.end());
  std::sort(distances.begin(), distances.end());
  const double far = drives_alike(study) ? study.distance.back() : distances.empty() ? 0 : distances.back();
  ChartAxis axis;
  std::vector<std::size_t> below;
  const auto put = [&](double time, double distance, std::size_t k) {
    axis.time.push_back(time);
    axis.distance.push_back(distance);
    below.push_back(k);
  };
  put(0, 0, 0);
  // A step at each wheel, or at every second, third ... where there are many.
  const std::size_t stride = times.size() / kMostSteps + 1;
  for (std::size_t k = 0; k < times.size(); k += stride) {
    const std::size_t up = std::min(k + stride, times.size());
    put(times[up - 1], distances[up - 1], k);
    put(times[up - 1], distances[up - 1], up);
  }
  put(std::max(study.time.back(), axis.time.back()), std::max(far, axis.distance.back()), times.size());
  ChartVariant variant;
  variant.axes.push_back(std::move(axis));
  ChartLine share{"share of the cases", "share", {}, 0, 2, 0, false};
  ChartLine low{"lower edge of the 95 % band", "", {}, 0, 10, 2, false};
  ChartLine high{"upper edge of the 95 % band", "", {}, 0, 10, 1, false};
  for (const std::size_t k : below) {
    const Interval band = share_interval(k, s.counted.size());
    share.y.push_back(100 * static_cast<double>(k) / static_cast<double>(s.counted.size()));
    low.y.push_back(100 * band.low);
    high.y.push_back(100 * band.high);
  }
  variant.lines = {std::move(high), std::move(low), std::move(share)};
  chart.variants.push_back(std::move(variant));
  const double top = y_range(chart).second;
  if (100 * s.risk.risk < 2 * top) {
    chart.levels.push_back({"stated risk, %:", 100 * s.risk.risk, 2});
  }
  return chart;
}

std::string cause_drawing(const Study& study, const StudySummary& s) {
  std::vector<ShareBar> bars;
  for (const Cause& cause : s.causes) {
    bars.push_back({study.inputs[cause.input].label, cause.shares});
  }
  return share_bars(
      "causes-chart", "What the spread comes from",
      "Bars for each input, the share of the variance that it is behind; lines across their ends are 95 % "
      "intervals.",
      bars);
}

std::vector<std::string> study_figures(const Study& study) {
  if (study.kind == StudyKind::Sample) {
    return {"fan", "chance", "causes"};
  }
  if (study.axes.size() < 2) {
    return {"end", "below", "losses"};
  }
  // Of several small maps none is the figure.
  return study.axes.size() == 2 ? std::vector<std::string>{"end", "below"} : std::vector<std::string>{};
}

std::string study_figure(const Study& study, const StudySummary& s, const std::string& name, Along along_of,
                         System system) {
  const std::vector<std::string> names = study_figures(study);
  if (std::find(names.begin(), names.end(), name) == names.end()) {
    throw std::invalid_argument(
        names.empty() ? "a sweep over three axes or more has several maps of each kind; page draws them"
                      : fmt::format("there is no {} of this study; there are {}", name, fmt::join(names, ", ")));
  }
  const Units units{system, false};
  if (study.kind == StudyKind::Sample) {
    return name == "fan"      ? draw(fan_chart(study, s), along_of, units)
           : name == "chance" ? draw(chance_chart(study, s), along_of, units)
                              : cause_drawing(study, s);
  }
  if (study.axes.size() == 2) {
    return draw((name == "end" ? end_maps(study) : below_maps(study)).front().map, units);
  }
  return draw(name == "end" ? end_chart(study) : name == "below" ? below_chart(study) : loss_chart(study), units);
}

} // namespace clampfade::post

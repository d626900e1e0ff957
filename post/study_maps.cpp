// Maps of a study over two axes, and the axes that all its charts share.
#include "post/study_charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace clampfade::post {

namespace {

/// Values that grow by a factor are drawn that far apart, others as they are.
std::vector<double> spaced(std::vector<double> values) {
  constexpr double wide = 20;
  constexpr double alike = 0.02;
  if (values.size() < 3 || values.front() <= 0 || values.back() / values.front() < wide) {
    return values;
  }
  const double factor = values[1] / values[0];
  for (std::size_t i = 1; i < values.size(); ++i) {
    if (std::abs(values[i] / values[i - 1] / factor - 1) > alike) {
      return values;
    }
  }
  for (double& v : values) {
    v = std::log(v);
  }
  return values;
}

BothTexts number_of(double si, Kind kind, int digits) {
  return {plain(si, kind, System::Si, digits), plain(si, kind, System::Us, digits)};
}

/// One empty map for each place on the axes before the last two, and what a map is of.
template <class Field>
std::vector<StudyMap> maps(const Study& study, const std::string& id, const std::string& title, const Field& field) {
  const StudyAxis& down = study.axes[study.axes.size() - 2];
  const StudyAxis& across = study.axes.back();
  const std::vector<std::size_t> rows = ascending(down);
  const std::vector<std::size_t> columns = ascending(across);
  const std::size_t fields = rows.size() * columns.size();
  std::vector<StudyMap> all;
  for (std::size_t panel = 0; panel < study.cases.size() / fields; ++panel) {
    StudyMap one;
    one.map.id = fmt::format("{}-{}", id, panel);
    one.map.title = title;
    one.map.columns = axis_of(across);
    one.map.rows = axis_of(down);
    const std::vector<std::size_t> place = place_of(study, panel * fields);
    for (std::size_t k = 0; k + 2 < study.axes.size(); ++k) {
      const StudyAxis& axis = study.axes[k];
      const auto add = [&](std::string& to, System system) {
        to += (to.empty() ? "" : ", ") + axis.label + " = " + axis_texts(axis, system)[place[k]];
      };
      add(one.others.si, System::Si);
      add(one.others.us, System::Us);
    }
    // The largest value of an axis of numbers stands at the top, as in any chart.
    std::vector<std::size_t> upwards = rows;
    if (down.texts.empty()) {
      std::reverse(upwards.begin(), upwards.end());
      std::reverse(one.map.rows.texts.begin(), one.map.rows.texts.end());
    }
    for (const std::size_t r : upwards) {
      for (const std::size_t c : columns) {
        one.map.fields.push_back(field(study.cases[panel * fields + r * columns.size() + c]));
      }
    }
    all.push_back(std::move(one));
  }
  return all;
}

} // namespace

std::vector<std::size_t> ascending(const StudyAxis& axis) {
  std::vector<std::size_t> order(axis.size());
  std::iota(order.begin(), order.end(), 0);
  if (axis.texts.empty()) {
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return axis.values[a] < axis.values[b]; });
  }
  return order;
}

ValueAxis axis_of(const StudyAxis& axis) {
  ValueAxis out;
  out.joined = axis.texts.empty();
  const ValueScale scale = scale_of(axis.unit, axis.values);
  const auto name = [&](System system) {
    const std::string unit_of = axis.texts.empty() ? unit_text(scale, system) : "";
    return axis.label + (unit_of.empty() ? "" : ", " + unit_of);
  };
  out.name = {name(System::Si), name(System::Us)};
  std::vector<double> values;
  for (const std::size_t i : ascending(axis)) {
    if (axis.texts.empty()) {
      values.push_back(axis.values[i]);
      out.texts.push_back(
          {value_text(axis.values[i], scale, System::Si, false), value_text(axis.values[i], scale, System::Us, false)});
    } else {
      values.push_back(static_cast<double>(out.texts.size()));
      out.texts.push_back({axis.texts[i], axis.texts[i]});
    }
  }
  out.at = axis.texts.empty() ? spaced(std::move(values)) : std::move(values);
  return out;
}

std::vector<StudyMap> end_maps(const Study& study) {
  double widest = 0;
  double worst = 0;
  double best = 0;
  for (const StudyCase& c : study.cases) {
    const double beside = weakest_at_end().of(c) - c.required_clamp;
    if (c.status == CaseStatus::Complete && std::isfinite(beside)) {
      widest = std::max(widest, std::abs(beside));
      worst = std::min(worst, beside);
      best = std::max(best, beside);
    }
  }
  widest = widest > 0 ? widest : 1;
  std::vector<StudyMap> all = maps(study, "end", "Weakest stud's cold clamp at the end", [&](const StudyCase& c) {
    HeatField field;
    const double v = weakest_at_end().of(c);
    if (c.status == CaseStatus::Complete && std::isfinite(v)) {
      field.text = number_of(v, Kind::Force, 4);
      field.bad = v < c.required_clamp;
      field.tone = (v - c.required_clamp) / widest;
    }
    return field;
  });
  for (StudyMap& one : all) {
    one.map.note =
        "Fields are cases; the number is the weakest stud's cold clamp at the end. Underlined on orange: below "
        "the required clamp, the deeper the further.";
    one.map.values = {"Weakest stud's cold clamp at the end, kN", "Weakest stud's cold clamp at the end, lbf"};
    one.map.legend_name = {"against the required clamp, kN", "against the required clamp, lbf"};
    for (const double beside : {worst, worst / 2, 0.0, best / 2, best}) {
      const bool twice = beside == 0 && !one.map.legend.empty() && one.map.legend.back().tone == 0;
      if (!twice) {
        const auto text = [&](System system) {
          const std::string number = plain(beside, Kind::Force, system, 3);
          return beside > 0 ? "+" + number : beside < 0 ? number : std::string("0");
        };
        one.map.legend.push_back({beside / widest, {text(System::Si), text(System::Us)}});
      }
    }
  }
  return all;
}

std::vector<StudyMap> below_maps(const Study& study) {
  const bool far = drives_alike(study);
  const Outcome& outcome = far ? first_below_distance() : first_below_time();
  const Kind kind = far ? Kind::Distance : Kind::Duration;
  const double end = far ? study.distance.back() : study.time.empty() ? 1 : study.time.back();
  const auto tone = [&](double v) { return std::isinf(v) ? 0.35 : -(1 - 0.9 * std::clamp(v / end, 0.0, 1.0)); };
  std::vector<StudyMap> all =
      maps(study, "below", "Where a stud first falls below the required clamp", [&](const StudyCase& c) {
        HeatField field;
        if (c.status == CaseStatus::Complete) {
          const double v = outcome.of(c);
          field.text = std::isinf(v) ? BothTexts{"never", "never"} : number_of(v, kind, 3);
          field.bad = std::isfinite(v);
          field.tone = tone(v);
        }
        return field;
      });
  for (StudyMap& one : all) {
    one.map.note =
        far ? "Fields are cases; the number is how far the wheel is driven until a stud first has too little "
              "clamp. The deeper the orange, the sooner."
            : "Fields are cases; the number is how many days pass until a stud first has too little clamp. The "
              "deeper the orange, the sooner.";
    one.map.values = far ? BothTexts{"A stud is first below the required clamp after, km",
                                     "A stud is first below the required clamp after, mi"}
                         : BothTexts{"A stud is first below the required clamp after, days",
                                     "A stud is first below the required clamp after, days"};
    one.map.legend_name = far ? BothTexts{"first below after, km", "first below after, mi"}
                              : BothTexts{"first below after, days", "first below after, days"};
    for (const double v : {0.0, end / 2, end}) {
      one.map.legend.push_back({tone(v), number_of(v, kind, 3)});
    }
    one.map.legend.push_back({tone(std::numeric_limits<double>::infinity()), {"never", "never"}});
  }
  return all;
}

} // namespace clampfade::post

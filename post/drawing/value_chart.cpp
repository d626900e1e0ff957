#include "post/drawing/value_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace clampfade::post {

namespace {

constexpr double kCharacter = 6.6;
constexpr double kLine = 14;

class Drawing {
public:
  Drawing(const ValueChart& chart, Units units, ChartSize size) : chart_(chart), units_(units), size_(size) {}
  std::string svg();

private:
  [[nodiscard]] double x(std::size_t place) const {
    const double low = chart_.x.at.front();
    const double high = chart_.x.at.back();
    // Bars need half of their width beside the outer places.
    const double air = chart_.stacked || !chart_.x.joined || chart_.x.at.size() == 1
                           ? 0.5 * (right_ - left_) / static_cast<double>(chart_.x.at.size())
                           : 14;
    const double share = high > low ? (chart_.x.at[place] - low) / (high - low) : 0.5;
    return left_ + air + share * (right_ - left_ - 2 * air);
  }
  [[nodiscard]] double y(double si) const { return bottom_ - (si - y_low_) / (y_high_ - y_low_) * (bottom_ - top_); }
  void ranges();
  void legend();
  void y_axis(System system);
  void x_axis();
  void required();
  void lines();
  void bars();
  /// A name on lines as its place has room for; none for numbers.
  [[nodiscard]] std::vector<std::string> name_lines(std::size_t place) const;
  void never_mark(std::size_t place, std::size_t colour);

  const ValueChart& chart_;
  Units units_;
  ChartSize size_;
  double left_ = 52, right_ = 0, top_ = 26, bottom_ = 0;
  double y_low_ = 0, y_high_ = 1;
  double more_lines_ = 0; ///< height that names take beyond their first line
  bool any_ = false;
  std::string legend_, out_;
};

void Drawing::ranges() {
  double low = 0;
  double high = -std::numeric_limits<double>::infinity();
  const auto take = [&](double v) {
    if (std::isfinite(v)) {
      low = std::min(low, v);
      high = std::max(high, v);
    }
  };
  for (std::size_t i = 0; i < chart_.x.at.size(); ++i) {
    double up = 0;
    double down = 0;
    for (const ValueSeries& s : chart_.series) {
      const double v = s.y.at(i);
      any_ = any_ || !std::isnan(v);
      take(chart_.stacked ? 0 : v);
      (v > 0 ? up : down) += std::isfinite(v) ? v : 0;
    }
    if (chart_.stacked) {
      take(up);
      take(down);
    }
  }
  for (const double r : chart_.required) {
    take(r);
  }
  high = std::max(high, chart_.y_top);
  high = high > low ? high : low + 1;
  y_low_ = low < 0 ? low - 0.05 * (high - low) : 0;
  y_high_ = high + 0.07 * (high - low);
}

void Drawing::legend() {
  double at = left_;
  double row = 0;
  const double under = 54; // the axis with its name
  std::vector<std::string> entries;
  std::vector<std::pair<double, double>> places;
  for (const ValueSeries& s : chart_.series) {
    const double wide = 44 + text_width_of(s.name);
    if (at > left_ && at + wide > size_.width) {
      at = left_;
      ++row;
    }
    places.emplace_back(at, row);
    at += wide;
  }
  const bool shown = chart_.series.size() > 1;
  bottom_ = size_.height - 44 - (shown ? (row + 1) * 18 : 0) - more_lines_;
  for (std::size_t k = 0; shown && k < chart_.series.size(); ++k) {
    const ValueSeries& s = chart_.series[k];
    const double at_y = bottom_ + more_lines_ + under + places[k].second * 18;
    legend_ += chart_.stacked     ? element("rect", {{"class", fmt::format("stack s{}", s.colour)},
                                                     {"x", places[k].first + 6},
                                                     {"y", at_y - 10},
                                                     {"width", 14.0},
                                                     {"height", 11.0}})
               : !chart_.x.joined ? element("circle", {{"class", fmt::format("dot s{}", s.colour)},
                                                       {"cx", places[k].first + 16},
                                                       {"cy", at_y - 4},
                                                       {"r", 5.0}})
                                  : element("line", {{"class", fmt::format("line s{} d{}", s.colour, s.dash)},
                                                     {"x1", places[k].first},
                                                     {"y1", at_y - 4},
                                                     {"x2", places[k].first + 24},
                                                     {"y2", at_y - 4}});
    legend_ += element("text", {{"class", "label"}, {"x", places[k].first + 30}, {"y", at_y}}, escape(s.name));
  }
}

void Drawing::y_axis(System system) {
  std::string out;
  const double first = convert(y_low_, chart_.y_kind, system);
  const double last = convert(y_high_, chart_.y_kind, system);
  for (const double v : ticks(first, last, static_cast<std::size_t>(std::max(3.0, (bottom_ - top_) / 42)))) {
    const double at = bottom_ - (v - first) / (last - first) * (bottom_ - top_);
    out += element("line", {{"class", "grid"}, {"x1", left_}, {"y1", at}, {"x2", right_}, {"y2", at}});
    out += element("text", {{"class", "tick"}, {"x", left_ - 6}, {"y", at + 4}, {"text-anchor", "end"}},
                   fmt::format("{}", v == 0 ? 0 : std::round(v * 1e9) / 1e9));
  }
  const std::string unit_name_of = unit(chart_.y_kind, system);
  out += element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", 13.0}},
                 escape(chart_.y_name + (unit_name_of.empty() ? "" : ", " + unit_name_of)));
  out_ += units_.both ? element("g", {{"class", system == System::Si ? "si" : "us"}}, out) : out;
}

std::vector<std::string> Drawing::name_lines(std::size_t place) const {
  const BothTexts& text = chart_.x.texts.at(place);
  const double slot = (right_ - left_) / static_cast<double>(chart_.x.at.size());
  return chart_.x.joined ? std::vector<std::string>{} : lines_of(text.si, slot - 6);
}

void Drawing::x_axis() {
  // Numbers from both ends inwards, so that these are always told; names all of them, on lines of their own.
  std::vector<std::pair<double, double>> taken;
  const std::size_t n = chart_.x.at.size();
  std::vector<std::size_t> order = {0};
  if (n > 1) {
    order.push_back(n - 1);
  }
  for (std::size_t i = 1; i + 1 < n; ++i) {
    order.push_back(i);
  }
  for (const std::size_t i : order) {
    const BothTexts& text = chart_.x.texts.at(i);
    const std::vector<std::string> lines = name_lines(i);
    double wide = lines.empty() ? std::max(text_width_of(text.si), text_width_of(text.us)) : 0;
    for (const std::string& line : lines) {
      wide = std::max(wide, text_width_of(line));
    }
    const double from = x(i) - wide / 2 - 3;
    const double to = x(i) + wide / 2 + 3;
    out_ += element("line", {{"class", "axis-line"}, {"x1", x(i)}, {"y1", bottom_}, {"x2", x(i)}, {"y2", bottom_ + 4}});
    if (std::any_of(taken.begin(), taken.end(),
                    [&](const auto& other) { return from < other.second && other.first < to; })) {
      continue;
    }
    taken.emplace_back(from, to);
    for (std::size_t k = 0; k < std::max<std::size_t>(lines.size(), 1); ++k) {
      out_ += element("text",
                      {{"class", "tick"},
                       {"x", x(i)},
                       {"y", bottom_ + 17 + kLine * static_cast<double>(k)},
                       {"text-anchor", "middle"}},
                      lines.empty() ? both(text, units_) : escape(lines[k]));
    }
  }
  out_ += element("text",
                  {{"class", "axis-name"}, {"x", right_}, {"y", bottom_ + more_lines_ + 34}, {"text-anchor", "end"}},
                  both(chart_.x.name, units_));
}

void Drawing::required() {
  if (chart_.required.empty()) {
    return;
  }
  std::string points;
  const auto put = [&](double px, double py) {
    points += (points.empty() ? "" : " ") + coordinate(px) + "," + coordinate(py);
  };
  put(left_, y(chart_.required.front()));
  for (std::size_t i = 0; i < chart_.required.size(); ++i) {
    put(x(i), y(chart_.required[i]));
  }
  put(right_, y(chart_.required.back()));
  out_ += element("polyline", {{"class", "level"}, {"fill", "none"}, {"points", points}});
  const bool same = std::all_of(chart_.required.begin(), chart_.required.end(),
                                [&](double r) { return r == chart_.required.front(); });
  std::string text = "required clamp";
  if (same) {
    text += " " + (units_.both ? quantity(chart_.required.front(), chart_.y_kind, units_.first, 4, "tspan")
                               : escape(show(chart_.required.front(), chart_.y_kind, units_.first)));
  }
  // Where fewer points are near it.
  const auto crowd = [&](bool right) {
    double n = 0;
    for (const ValueSeries& s : chart_.series) {
      for (std::size_t i = 0; i < s.y.size(); ++i) {
        const bool here = right ? x(i) > right_ - 200 : x(i) < left_ + 200;
        n += here && std::abs(y(s.y[i]) - y(chart_.required.front()) + 8) < 16 ? 1 : 0;
      }
    }
    return n;
  };
  const bool right = crowd(true) <= crowd(false);
  out_ += element("text",
                  {{"class", "level-text halo"},
                   {"x", right ? right_ - 6 : left_ + 6},
                   {"y", y(right ? chart_.required.back() : chart_.required.front()) - 6},
                   {"text-anchor", right ? "end" : "start"}},
                  text);
}

void Drawing::never_mark(std::size_t place, std::size_t colour) {
  const double at = x(place);
  const double high = top_ + 3;
  out_ += element("path", {{"class", fmt::format("dot s{}", colour)},
                           {"d", fmt::format("M{},{}l6,10h-12z", coordinate(at), coordinate(high))}});
}

void Drawing::lines() {
  for (const ValueSeries& s : chart_.series) {
    std::string points;
    std::string dots;
    const auto finish = [&] {
      if (chart_.x.joined && points.find(' ') != std::string::npos) {
        out_ += element("polyline", {{"class", fmt::format("line s{} d{}", s.colour, s.dash)}, {"points", points}});
      }
      points.clear();
    };
    for (std::size_t i = 0; i < s.y.size(); ++i) {
      if (!std::isfinite(s.y[i])) {
        finish();
        if (std::isinf(s.y[i]) && s.y[i] > 0) {
          never_mark(i, s.colour);
        }
        continue;
      }
      points += (points.empty() ? "" : " ") + coordinate(x(i)) + "," + coordinate(y(s.y[i]));
      dots += element("circle", {{"class", fmt::format("dot s{}", s.colour)},
                                 {"cx", x(i)},
                                 {"cy", y(s.y[i])},
                                 {"r", chart_.x.joined ? 3.0 : 5.0}});
    }
    finish();
    out_ += dots;
  }
}

void Drawing::bars() {
  double closest = right_ - left_;
  for (std::size_t i = 1; i < chart_.x.at.size(); ++i) {
    closest = std::min(closest, x(i) - x(i - 1));
  }
  const double wide = std::clamp(0.7 * closest, 2.0, 60.0);
  for (std::size_t i = 0; i < chart_.x.at.size(); ++i) {
    double up = 0;
    double down = 0;
    for (const ValueSeries& s : chart_.series) {
      const double v = s.y[i];
      if (!std::isfinite(v) || v == 0) {
        continue;
      }
      double& at = v > 0 ? up : down;
      const double from = y(std::max(at, at + v));
      out_ += element("rect", {{"class", fmt::format("stack s{}", s.colour)},
                               {"x", x(i) - wide / 2},
                               {"y", from},
                               {"width", wide},
                               {"height", y(std::min(at, at + v)) - from}});
      at += v;
    }
  }
}

std::string Drawing::svg() {
  ranges();
  right_ = size_.width - 12;
  if (any_) {
    for (std::size_t i = 0; i < chart_.x.at.size(); ++i) {
      more_lines_ = std::max(more_lines_, kLine * (static_cast<double>(name_lines(i).size()) - 1));
    }
    legend();
    y_axis(units_.first);
    if (units_.both) {
      y_axis(units_.first == System::Si ? System::Us : System::Si);
    }
    if (chart_.stacked) {
      bars();
    }
    out_ += element("path", {{"class", "axis-line"},
                             {"d", fmt::format("M{0},{1}V{2}H{3}", coordinate(left_), coordinate(top_),
                                               coordinate(bottom_), coordinate(right_))}});
    x_axis();
    if (!chart_.stacked) {
      lines();
    }
    required();
    out_ += legend_;
  } else {
    out_ = nothing_to_draw(size_.width, "No case is done that could be drawn here.");
    size_.height = 70;
  }
  return picture("chart", chart_.id, size_.width, size_.height, chart_.title, chart_.note, out_);
}

} // namespace

double text_width_of(const std::string& text) {
  const auto visible = std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; });
  return kCharacter * static_cast<double>(visible);
}

std::vector<std::string> lines_of(const std::string& text, double width) {
  std::vector<std::string> lines;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t blank = std::min(text.find(' ', from), text.size());
    const std::string word = text.substr(from, blank - from);
    if (!lines.empty() && text_width_of(lines.back() + " " + word) <= width) {
      lines.back() += " " + word;
    } else if (!word.empty()) {
      lines.push_back(word);
    }
    from = blank + 1;
  }
  return lines;
}

std::string both(const BothTexts& texts, Units units) {
  return units.both ? in_both(texts.si, texts.us, "tspan") : escape(units.first == System::Si ? texts.si : texts.us);
}

std::string draw(const ValueChart& chart, Units units, ChartSize size) { return Drawing(chart, units, size).svg(); }

} // namespace clampfade::post

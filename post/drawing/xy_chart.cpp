#include "post/drawing/xy_chart.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace clampfade::post {

namespace {

class Drawing {
public:
  Drawing(const XyChart& chart, Units units, ChartSize size) : chart_(chart), units_(units), size_(size) {}
  std::string svg();

private:
  [[nodiscard]] double x(double v) const {
    return left_ + 10 + (v - x_low_) / (x_high_ - x_low_) * (right_ - left_ - 20);
  }
  [[nodiscard]] double y(double si) const { return bottom_ - (si - y_low_) / (y_high_ - y_low_) * (bottom_ - top_); }
  [[nodiscard]] double bar(const XySeries& s, std::size_t i) const {
    return i < s.error.size() && std::isfinite(s.error[i]) ? s.error[i] : 0;
  }
  void ranges();
  void legend();
  void y_axis(System system);
  void x_axis();
  void levels();
  void line(const XySeries& s);
  void points(const XySeries& s);

  const XyChart& chart_;
  Units units_;
  ChartSize size_;
  double left_ = 58, right_ = 0, top_ = 26, bottom_ = 0;
  double x_low_ = 0, x_high_ = 1, y_low_ = 0, y_high_ = 1;
  bool any_ = false;
  std::string out_;
};

void Drawing::ranges() {
  constexpr double kFar = std::numeric_limits<double>::infinity();
  double low[2] = {kFar, kFar};
  double high[2] = {-kFar, -kFar};
  const auto take = [&](int axis, double v) {
    low[axis] = std::min(low[axis], v);
    high[axis] = std::max(high[axis], v);
  };
  for (const XySeries& s : chart_.series) {
    for (std::size_t i = 0; i < s.x.size(); ++i) {
      if (std::isfinite(s.y[i])) {
        any_ = true;
        take(0, s.x[i]);
        take(1, s.y[i] - bar(s, i));
        take(1, s.y[i] + bar(s, i));
      }
    }
  }
  if (!any_) {
    return;
  }
  for (const XyLevel& level : chart_.levels) {
    take(1, level.y);
  }
  for (int axis = 0; axis < 2; ++axis) {
    // A single value has no range of its own.
    if (!(high[axis] > low[axis])) {
      const double room = std::max(std::abs(high[axis]) * 0.05, 1e-12);
      low[axis] -= room;
      high[axis] += room;
    }
  }
  const double air = 0.06 * (high[1] - low[1]);
  x_low_ = low[0];
  x_high_ = high[0];
  y_low_ = low[1] - air;
  y_high_ = high[1] + air;
}

void Drawing::legend() {
  double at = left_;
  const double row = size_.height - 8;
  for (const XySeries& s : chart_.series) {
    if (s.name.empty()) {
      continue;
    }
    out_ += s.joined
                ? element("line", {{"class", fmt::format("line s{} d{}", s.colour, s.dash)},
                                   {"x1", at},
                                   {"y1", row - 4},
                                   {"x2", at + 24},
                                   {"y2", row - 4}})
                : element("circle",
                          {{"class", fmt::format("dot s{}", s.colour)}, {"cx", at + 12}, {"cy", row - 4}, {"r", 3.5}});
    out_ += element("text", {{"class", "label"}, {"x", at + 30}, {"y", row}}, escape(s.name));
    at += 44 + text_width_of(s.name);
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
  std::string unit_of = unit(chart_.y_kind, system);
  unit_of = unit_of.empty() ? chart_.y_unit : unit_of;
  out += element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", 13.0}},
                 escape(chart_.y_name + (unit_of.empty() ? "" : ", " + unit_of)));
  out_ += units_.both ? element("g", {{"class", system == System::Si ? "si" : "us"}}, out) : out;
}

void Drawing::x_axis() {
  for (const XyTick& tick : chart_.ticks) {
    if (tick.at < x_low_ - 1e-9 * (x_high_ - x_low_) || tick.at > x_high_ + 1e-9 * (x_high_ - x_low_)) {
      continue;
    }
    const double at = x(tick.at);
    out_ += element("line", {{"class", "axis-line"}, {"x1", at}, {"y1", bottom_}, {"x2", at}, {"y2", bottom_ + 4}});
    out_ += element("text", {{"class", "tick"}, {"x", at}, {"y", bottom_ + 17}, {"text-anchor", "middle"}},
                    both(tick.text, units_));
  }
  out_ += element("text", {{"class", "axis-name"}, {"x", right_}, {"y", bottom_ + 33}, {"text-anchor", "end"}},
                  both(chart_.x_name, units_));
}

void Drawing::levels() {
  for (const XyLevel& level : chart_.levels) {
    const double at = y(level.y);
    out_ += element("line", {{"class", "mark"}, {"x1", left_}, {"y1", at}, {"x2", right_}, {"y2", at}});
    out_ += element("text", {{"class", "mark-text halo"}, {"x", right_ - 4}, {"y", at - 4}, {"text-anchor", "end"}},
                    escape(level.text));
  }
}

void Drawing::line(const XySeries& s) {
  std::string points;
  const auto finish = [&] {
    if (points.find(' ') != std::string::npos) {
      out_ += element("polyline", {{"class", fmt::format("line s{} d{}", s.colour, s.dash)}, {"points", points}});
    }
    points.clear();
  };
  for (std::size_t i = 0; i < s.x.size(); ++i) {
    if (std::isfinite(s.y[i])) {
      points += (points.empty() ? "" : " ") + coordinate(x(s.x[i])) + "," + coordinate(y(s.y[i]));
    } else {
      finish();
    }
  }
  finish();
}

void Drawing::points(const XySeries& s) {
  for (std::size_t i = 0; i < s.x.size(); ++i) {
    if (!std::isfinite(s.y[i])) {
      continue;
    }
    const double at = x(s.x[i]);
    if (const double half = bar(s, i); half > 0) {
      out_ += element("line", {{"class", fmt::format("error s{}", s.colour)},
                               {"x1", at},
                               {"y1", y(s.y[i] - half)},
                               {"x2", at},
                               {"y2", y(s.y[i] + half)}});
    }
    const bool hollow = i < s.hollow.size() && s.hollow[i] != 0;
    out_ += element("circle", {{"class", fmt::format("{} s{}", hollow ? "ring" : "dot", s.colour)},
                               {"cx", at},
                               {"cy", y(s.y[i])},
                               {"r", 3.5}});
  }
}

std::string Drawing::svg() {
  ranges();
  right_ = size_.width - 12;
  bottom_ = size_.height - 64;
  if (any_) {
    y_axis(units_.first);
    if (units_.both) {
      y_axis(units_.first == System::Si ? System::Us : System::Si);
    }
    out_ += element("path", {{"class", "axis-line"},
                             {"d", fmt::format("M{0},{1}V{2}H{3}", coordinate(left_), coordinate(top_),
                                               coordinate(bottom_), coordinate(right_))}});
    x_axis();
    levels();
    for (const XySeries& s : chart_.series) {
      s.joined ? line(s) : points(s);
    }
    legend();
  } else {
    out_ = nothing_to_draw(size_.width, "There is nothing to draw here.");
    size_.height = 70;
  }
  return picture("chart", chart_.id, size_.width, size_.height, chart_.title, chart_.note, out_);
}

} // namespace

std::string draw(const XyChart& chart, Units units, ChartSize size) { return Drawing(chart, units, size).svg(); }

double EarlyTime::operator()(double time) const { return std::log1p(time / first_); }

std::vector<XyTick> EarlyTime::ticks(double apart) const {
  constexpr double kMinute = 60;
  constexpr double kWeek = 7 * units::kDay;
  struct Round {
    double time;
    const char* text;
  };
  constexpr Round all[] = {{0, "0"},
                           {kMinute, "1 min"},
                           {10 * kMinute, "10 min"},
                           {units::kHour, "1 h"},
                           {3 * units::kHour, "3 h"},
                           {12 * units::kHour, "12 h"},
                           {units::kDay, "1 d"},
                           {3 * units::kDay, "3 d"},
                           {kWeek, "1 week"},
                           {2 * kWeek, "2 weeks"},
                           {4 * kWeek, "4 weeks"},
                           {13 * kWeek, "13 weeks"},
                           {26 * kWeek, "26 weeks"},
                           {52 * kWeek, "1 year"},
                           {104 * kWeek, "2 years"}};
  std::vector<XyTick> out;
  for (const Round& r : all) {
    const double at = (*this)(r.time);
    if (r.time <= last_ && (out.empty() || at - out.back().at >= apart * (*this)(last_))) {
      out.push_back({at, {r.text, r.text}});
    }
  }
  return out;
}

} // namespace clampfade::post

// Charts of two numbers: points with the bars of their errors, lines, and levels across.
#pragma once

#include "post/chart.hpp"
#include "post/drawing/value_chart.hpp"
#include "post/svg.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

struct XyTick {
  double at = 0; ///< in the scale of x
  BothTexts text;
};

struct XySeries {
  std::string name;
  std::vector<double> x, y;  ///< y in SI; not a number where there is nothing
  std::vector<double> error; ///< half of the bar through each point [SI]; empty for none, not a number for none there
  std::vector<char> hollow;  ///< points that count less; empty for none
  bool joined = false;       ///< a line in place of points
  std::size_t colour = 1;    ///< 1 to 10
  std::size_t dash = 0;      ///< 0 (solid) to 3; of lines
};

struct XyLevel {
  std::string text;
  double y = 0; ///< SI
};

struct XyChart {
  std::string id; ///< letters, digits and hyphens; unique in a page
  std::string title, note;
  std::string y_name; ///< without unit
  std::string y_unit; ///< of what is shown as it is, where the kind has none
  Kind y_kind = Kind::Number;
  BothTexts x_name; ///< with unit
  std::vector<XyTick> ticks;
  std::vector<XySeries> series; ///< drawn in this order
  std::vector<XyLevel> levels;
};

/// As <svg> of class "chart", in one system of units or both. Points that share a place are all drawn. Throws
/// Undrawable as coordinate().
std::string draw(const XyChart& chart, Units units, ChartSize size = {});

/// A scale of time in which early hours have room: place of a time [s], and its ticks. `first`: the shortest time above
/// 0 that is to be told from 0.
class EarlyTime {
public:
  EarlyTime(double first, double last) : first_(first), last_(last) {}
  [[nodiscard]] double operator()(double time) const;
  /// Round times that stand at least `apart` of the whole length from each other, 0 among them.
  [[nodiscard]] std::vector<XyTick> ticks(double apart = 0.07) const;

private:
  double first_, last_;
};

} // namespace clampfade::post

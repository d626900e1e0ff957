// Charts against values that were chosen one by one, or against names: lines with a point for each, or stacked bars.
#pragma once

#include "post/chart.hpp"
#include "post/svg.hpp"

#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

/// Words in both systems of units, equal where there is nothing to convert.
struct BothTexts {
  std::string si, us;
};

struct ValueAxis {
  BothTexts name;               ///< with unit
  std::vector<double> at;       ///< places in any scale, ascending
  std::vector<BothTexts> texts; ///< without unit
  bool joined = true;           ///< a line from place to place means something; not from name to name
};

struct ValueSeries {
  std::string name;
  std::vector<double> y;  ///< SI, one for each place; not a number where there is nothing, infinite for never
  std::size_t colour = 1; ///< 1 to 10
  std::size_t dash = 0;   ///< 0 (solid) to 3; of lines
};

struct ValueChart {
  std::string id; ///< letters, digits and hyphens; unique in a page
  std::string title, note;
  std::string y_name; ///< without unit
  Kind y_kind = Kind::Number;
  ValueAxis x;
  std::vector<ValueSeries> series;
  std::vector<double> required; ///< for each place a level drawn across; empty for none [SI]
  bool stacked = false;         ///< bars on top of each other in place of lines
  double y_top = 0;             ///< that the axis reaches at least [SI]
};

/// As <svg> of class "chart", in one system of units or both. What never comes is a triangle at the upper edge. Throws
/// Undrawable as coordinate().
std::string draw(const ValueChart& chart, Units units, ChartSize size = {});

/// Width of text in these drawings, a little more than most fonts need.
double text_width_of(const std::string& text);
/// Words of a text on lines no wider than that, words permitting.
std::vector<std::string> lines_of(const std::string& text, double width);
/// Both texts for a drawing: one, or one for each system of units of which a style sheet shows one.
std::string both(const BothTexts& texts, Units units);

} // namespace clampfade::post

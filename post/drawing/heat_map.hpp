// A map of values over two axes: a field for each case, with its number in it and a ground that says how good it is.
#pragma once

#include "post/drawing/value_chart.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

struct HeatField {
  BothTexts text;   ///< the number; empty where there is none
  double tone = 0;  ///< -1 (worst) to 1 (best); 0 is the limit between bad and good
  bool bad = false; ///< marked beyond its ground, for those who see no colours
};

/// An entry of the legend.
struct HeatTone {
  double tone = 0;
  BothTexts text;
};

struct HeatMap {
  std::string id; ///< letters, digits and hyphens; unique in a page
  std::string title, note;
  ValueAxis columns, rows;       ///< `at` is not used: fields are of one size
  std::vector<HeatField> fields; ///< row by row, the first row at the top
  BothTexts values;              ///< what the numbers are, with their unit; stands above the map
  std::vector<HeatTone> legend;  ///< from worst to best; empty for none
  BothTexts legend_name;
};

/// As <svg> of class "chart heat".
std::string draw(const HeatMap& map, Units units, double width = 720);

} // namespace clampfade::post

// Line charts as static SVG. A chart holds SI values; colours are classes of a style sheet.
#pragma once

#include "post/svg.hpp"
#include "post/units.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade::post {

/// What a chart's lines are drawn against: entries ascend, equal ones may follow each other.
struct ChartAxis {
  std::vector<double> time;     ///< [s]
  std::vector<double> distance; ///< [m]
};

struct ChartLine {
  std::string name;       ///< for the legend and the read-out
  std::string label;      ///< short, at the line's end; may be empty
  std::vector<double> y;  ///< SI, one for each entry of the axis; not finite where there is nothing
  std::size_t axis = 0;   ///< position in ChartVariant::axes
  std::size_t colour = 1; ///< 1 to 10
  std::size_t dash = 0;   ///< 0 (solid) to 3
  bool faint = false;     ///< background to the others
};

/// Lines that stand in the chart together. A reader with script chooses among a chart's variants.
struct ChartVariant {
  std::string name;
  std::vector<ChartAxis> axes;
  std::vector<ChartLine> lines;
};

/// A line across the chart, such as a limit.
struct ChartLevel {
  std::string name;
  double y = 0;   ///< SI
  int digits = 4; ///< significant ones of the number beside the name
};

/// Something that happened.
struct ChartMark {
  double time = 0;     ///< [s]
  double distance = 0; ///< [m]
  std::string text;
};

struct Chart {
  std::string id; ///< letters, digits and hyphens; unique in a page
  std::string title;
  std::string note;   ///< one sentence that says what to see
  std::string y_name; ///< without unit
  Kind y_kind = Kind::Number;
  std::vector<ChartVariant> variants; ///< the first is the one drawn
  std::vector<ChartLevel> levels;
  std::vector<ChartMark> marks;
  bool from_zero = true; ///< the axis of values starts at 0
  bool of_a_day = false; ///< times are those of a day, from its midnight; no distance
  std::string choose;    ///< what the variants are a choice of: "day"; empty with one
  bool stairs = false;   ///< lines are steps, whose corners are no records: few points are not marked
};

enum class Along { Time, Distance };

struct ChartSize {
  double width = 720, height = 360;
};

/// Multiples of 1, 2 or 5 times a power of ten from `low` to `high`, ends included where they are such multiples: at
/// most `most` of them, or up to two more where the next longer step would leave fewer than two. None if the range is
/// empty, too small to tell its ends apart, or not finite.
std::vector<double> ticks(double low, double high, std::size_t most);
/// Multiples of a whole number of hours that people count in, for an axis of hours.
std::vector<double> hour_ticks(double low, double high, std::size_t most);

/// The unit that suits a span of time: its name and how many seconds it has.
struct TimeUnit {
  std::string name;
  double seconds = 1;
};
TimeUnit time_unit(double span);

/// Places for labels that want to stand at `wanted`, in the same order: at least `gap` apart, as near as that allows,
/// within `low` to `high` as long as they fit.
std::vector<double> spread_labels(const std::vector<double>& wanted, double gap, double low, double high);

/// Marks with room for their texts: lane 0 is the lowest. Marks of one text that stand closer than they can be told
/// apart become one with "(x times)". Earlier ones in the list find room first; for one that finds none the text is
/// empty and its number stands in a last one, in a lane above all others, that marks no place.
struct PlacedMark {
  double x = 0;      ///< in the drawing
  double text_x = 0; ///< left end of the text
  std::size_t lane = 0;
  std::string text;
};
std::vector<PlacedMark> place_marks(const std::vector<ChartMark>& marks, const std::vector<double>& x, double left,
                                    double right, std::size_t lanes);

/// Points that look the same as all of them when drawn: at most `tolerance` off. Takes and gives pairs x, y.
std::vector<std::pair<double, double>> thin_points(const std::vector<std::pair<double, double>>& points,
                                                   double tolerance);

/// The extremes of the values of all variants with levels, widened to be drawn; SI.
std::pair<double, double> y_range(const Chart& chart);

/// The chart's first variant as <svg>, with title and description for readers of the screen. Without lines that have a
/// value it says so. The y axis is `wide` from the extremes of all variants. Throws Undrawable as coordinate().
std::string draw(const Chart& chart, Along along, Units units, ChartSize size = {}, std::size_t variant = 0);

} // namespace clampfade::post

// The charts of a study, built from its cases; drawn elsewhere.
#pragma once

#include "post/chart.hpp"
#include "post/drawing/heat_map.hpp"
#include "post/drawing/share_bars.hpp"
#include "post/drawing/value_chart.hpp"
#include "post/study_summary.hpp"

#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

/// The places of an axis in ascending order of its values; names stay as they are.
std::vector<std::size_t> ascending(const StudyAxis& axis);
/// The axis as charts have it, in that order.
ValueAxis axis_of(const StudyAxis& axis);

/// Of a sweep along one axis, or of a list along its cases: what is left at the end, where a stud first falls below the
/// required clamp, and what took the clamp.
ValueChart end_chart(const Study& study);
ValueChart below_chart(const Study& study);
ValueChart loss_chart(const Study& study);

/// Curves of the weakest stud, a line for each case; without lines if there are more than a reader can tell apart.
Chart curves_chart(const Study& study, const StudySummary& summary);

/// Maps over the last two axes of a sweep, one for each place on the others; all with the same grounds. `others` names
/// that place, empty with two axes.
struct StudyMap {
  BothTexts others;
  HeatMap map;
};
/// Of the weakest stud's clamp at the end against the required one.
std::vector<StudyMap> end_maps(const Study& study);
/// Of the distance at which a stud first falls below the required clamp; of the time, where cases differ in distance.
std::vector<StudyMap> below_maps(const Study& study);

/// Of a sample: quantiles of the weakest stud's clamp along the run.
Chart fan_chart(const Study& study, const StudySummary& summary);
/// Of a sample: how many wheels have a stud below the required clamp, with the band.
Chart chance_chart(const Study& study, const StudySummary& summary);
/// Of a sample: which input the spread comes from.
std::string cause_drawing(const Study& study, const StudySummary& summary);

/// What `figure` can draw of this study: "end", "below" and, along one axis, "losses" of a sweep; "fan", "chance" and
/// "causes" of a sample.
std::vector<std::string> study_figures(const Study& study);
/// One of them as <svg>. Throws std::invalid_argument, with what there is, for a name that is none.
std::string study_figure(const Study& study, const StudySummary& summary, const std::string& name, Along along,
                         System system);

/// Whether all cases drive the same distances, so that curves can be drawn against them.
bool drives_alike(const Study& study);
/// The required clamp, if it is the same in all complete cases.
std::optional<double> required_of_all(const Study& study);

} // namespace clampfade::post

// What the script of a page works with, as JSON. All SI, five significant digits or a little more.
#pragma once

#include "post/chart.hpp"
#include "post/run.hpp"

#include <string>

namespace clampfade::post {

/// {"si": "...", "us": "..."} of each kind: unit, and scale and offset that make the shown number of the SI value.
std::string units_json();

/// Everything that draw() was given, all variants.
std::string chart_json(const Chart& chart);

/// What the slider moves: at chosen records the clamps of all studs, the budget of the weakest stud and of the mean,
/// temperatures and, at the weakest stud, coatings.
std::string moments_json(const Run& run);

/// Safe inside <script>: "</" and "<!--" cannot end or hide anything.
std::string for_script(const std::string& json);

/// "56 days and 13 h after tightening, 2549 km", in one system.
std::string moment_text(double time, double distance, System system);

} // namespace clampfade::post

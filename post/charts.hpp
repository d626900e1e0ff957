// The line charts of one run.
#pragma once

#include "post/chart.hpp"
#include "post/run.hpp"

#include <string>

namespace clampfade::post {

/// Name of a mechanism for people: "coating creep".
std::string mechanism_name(const std::string& mechanism);

/// Events of the run as marks, those of one kind and time together.
std::vector<ChartMark> event_marks(const Run& run);

/// Ids are these names after `prefix`, which lets several runs stand in one page.
/// Clamp of every stud, cold and as it is, with the required clamp: "clamp".
Chart clamp_chart(const Run& run, const std::string& prefix = "");
/// Temperatures of the nodes over chosen days: "temperature".
Chart temperature_chart(const Run& run, const std::string& prefix = "");
/// Lowest slip margin between records: "slip-margin".
Chart slip_margin_chart(const Run& run, const std::string& prefix = "");
/// Thickness of every coating at the weakest stud: "coating". Without lines if none was recorded.
Chart coating_chart(const Run& run, const std::string& prefix = "");

} // namespace clampfade::post

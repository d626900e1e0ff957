// A plan of retorques in words and tables, and as data for other programs.
#pragma once

#include "post/plan_advice.hpp"
#include "post/units.hpp"

#include <string>

namespace clampfade::post {

/// At most 100 columns. `colour`: mark the finding with terminal colours.
std::string to_text(const PlanFile& file, System system, bool colour = false);

/// Everything, SI, full precision, with the object `units` beside it; what there is none of is null.
std::string to_json(const PlanFile& file);

} // namespace clampfade::post

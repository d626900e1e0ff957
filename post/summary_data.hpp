// A summary as data for other programs.
#pragma once

#include "post/summary.hpp"
#include "post/units.hpp"

#include <string>

namespace clampfade::post {

/// Everything, SI, full precision. The object `units` beside the rest names the unit of every key that has one.
std::string to_json(const Summary& summary);

/// Milestones and budget in long form, one value a line: table,item,subject,quantity,value,unit. Full precision. A
/// value that there is none of, such as the clamp of a wheel whose nuts are all off, is an empty cell (null in the
/// JSON).
std::string to_csv(const Summary& summary, System system);

} // namespace clampfade::post

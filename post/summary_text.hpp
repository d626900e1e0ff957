// A summary in plain words and tables, as a person reads it in a terminal.
#pragma once

#include "post/summary.hpp"
#include "post/units.hpp"

#include <string>

namespace clampfade::post {

/// `colour`: mark the finding with terminal colours.
std::string to_text(const Summary& summary, System system, bool colour = false);

} // namespace clampfade::post

// The bolt circle from outside with the order of tightening. Static SVG; colours come from the style sheet around it.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade::post {

/// Studs clockwise from the top, the first one there: their names in the nuts, beside each its turn within a pass, and
/// arrows from each stud to the next. `order` holds positions from 0; where it is empty, turns and arrows are left out.
/// Throws std::invalid_argument unless it names each stud once.
std::string bolt_circle(const std::vector<std::string>& studs, const std::vector<std::size_t>& order);

} // namespace clampfade::post

// The page of several runs: what differs between them, and what that comes to.
#pragma once

#include "post/compare.hpp"
#include "post/run.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

/// In both systems of units, of which it opens with one. `runs` are those of the comparison, in its order.
std::string compare_page(const Comparison& comparison, const std::vector<Run>& runs, System opens_with);

} // namespace clampfade::post

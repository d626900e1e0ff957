// What a reader of a study must be told before its figures.
#pragma once

#include "solver/study_result.hpp"

#include <string>
#include <vector>

namespace clampfade {

/// The warnings of the scenario and of its values, and in how many cases a part leaves what its material is given for.
std::vector<std::string> study_warnings(const Study& study);

} // namespace clampfade

// What figures rest on, in words, before anybody reads them.
#pragma once

#include "solver/study_result.hpp"

#include <string>
#include <vector>

namespace clampfade {

/// What a result rests on that nobody measured, and how many values lie outside what they are calibrated for; empty
/// where neither is the case. The first line of every report, from its warnings.
std::string basis_sentence(const std::vector<std::string>& warnings);

/// The warnings of the scenario and of its values, and in how many cases a part leaves what its material is given for.
std::vector<std::string> study_warnings(const Study& study);

} // namespace clampfade

// The page of a study: what varying or scattering values does to the clamp.
#pragma once

#include "post/study_summary.hpp"
#include "post/units.hpp"

#include <string>

namespace clampfade::post {

/// The finding first, then charts and tables. In both systems of units, of which the page opens with one.
std::string study_page(const StudyFile& file, const StudySummary& summary, System opens_with);

} // namespace clampfade::post

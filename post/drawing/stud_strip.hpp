// The bolt circle unrolled: one bar a stud, its cold clamp at the start and now.
#pragma once

#include "post/run.hpp"
#include "post/svg.hpp"

#include <string>

namespace clampfade::post {

/// At a row, as <svg>. Script finds each stud's fill by data-stud, and zero and scale in data-y0 and data-scale
/// (drawing units per N). Empty for a run without records.
std::string stud_strip(const std::string& id, const Run& run, std::size_t row, Units units);

} // namespace clampfade::post

// The page about a fit: values with their intervals, readings against the model, and what to paste.
#pragma once

#include "post/units.hpp"
#include "solver/io/fit_file.hpp"

#include <string>

namespace clampfade::post {

/// In both systems of units, of which it opens with one.
std::string fit_page(const FitFile& file, System opens_with);

} // namespace clampfade::post

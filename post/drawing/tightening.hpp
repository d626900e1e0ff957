// Acts of the wrench in their order: the clamp right after each, and what later acts made of it.
#pragma once

#include "post/run.hpp"
#include "post/svg.hpp"

#include <string>

namespace clampfade::post {

/// As <svg>: each act a dot at its clamp with the stud's number; from those of the last pass a line leads to the clamp
/// when all was done. Retorques are left to the table. Empty if no act was recorded.
std::string tightening_sequence(const std::string& id, const Run& run, Units units);

} // namespace clampfade::post

// A list of times and distances as text: "1 d, 80 km, 1 week".
#pragma once

#include "solver/scenario.hpp"

#include <string_view>
#include <vector>

namespace clampfade {

/// Reads times and distances with their units, separated by commas, in the order written. `name` is that of the option
/// in messages. Throws InputError with all faults.
std::vector<When> read_ladder(std::string_view text, std::string_view name);

} // namespace clampfade

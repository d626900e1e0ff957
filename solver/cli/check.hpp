// The command `check`.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/io/quantity.hpp"

#include <string>

namespace clampfade {

/// Reads a scenario and prints what follows from it without running it. Throws as read_scenario does.
Exit check(const std::string& file, bool json, UnitSystem system);

} // namespace clampfade

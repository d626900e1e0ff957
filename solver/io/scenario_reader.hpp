// From the tree of a scenario to a Scenario, as often as wished.
#pragma once

#include "solver/io/catalogue.hpp"
#include "solver/io/map_reader.hpp"
#include "solver/scenario.hpp"

#include <string>

namespace clampfade {

/// Reads the tree, whose faults and warnings go to the context; the scenario is of use only where there are none. What
/// it names in the catalogue is then in `catalogue`. Scenario::resolved_text stays empty.
Scenario read_items(Context& context, const Item& root, Catalogue& catalogue);

/// Throws InputError with all faults, where there are any.
void throw_faults(const Faults& faults);

/// The text of a scenario's file. Throws FileError.
std::string scenario_file_text(const std::string& path, const ReadOptions& options);

} // namespace clampfade

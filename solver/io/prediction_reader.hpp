// What a history or a study says of a wheel, for the store of a fleet.
#pragma once

#include "solver/io/fleet_store.hpp"

#include <string>
#include <vector>

namespace clampfade {

/// Reads a finished run or study: when the weakest stud falls below the required clamp, and the lowest cold clamp at
/// each record. Of a study the earliest fall of all cases counts, and the lowest clamp of them. Wheel, date and
/// odometer are left open, and so is the re-check. `warnings` gets what limits it. Throws FileError as History and
/// read_study do, and FileVersion for a run or study that did not come to its end.
StoredPrediction read_prediction(const std::string& path, std::vector<std::string>& warnings);

} // namespace clampfade

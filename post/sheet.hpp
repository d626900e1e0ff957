// One page of paper for whoever tightens the wheel.
#pragma once

#include "post/units.hpp"
#include "solver/io/history.hpp"

#include <string>

namespace clampfade::post {

/// A work sheet as one HTML file without script: order on the bolt circle, passes and torques in both systems of units,
/// what the run took for granted of faces and friction, when to check again, readings to expect, a table for those
/// found, cautions at both ends. `system` comes first where both are given and alone in distances and forces. Fits one
/// page of A4 or Letter up to twelve studs. Throws FileError as History does.
std::string sheet(const History& history, System system);

} // namespace clampfade::post

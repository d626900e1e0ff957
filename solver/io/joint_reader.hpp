// The scenario's section `joint`.
#pragma once

#include "solver/io/reader_state.hpp"

namespace clampfade {

/// Fills the joint, the required clamp and its margin, and the design cases. The heat network must have been read.
void read_joint(ReaderState& r, const Item& item);

} // namespace clampfade

// The scenario's section `tightening`, with as-tightened records.
#pragma once

#include "solver/io/reader_state.hpp"

namespace clampfade {

/// Fills the tightening and the records. The joint must have been read.
void read_tightening(ReaderState& r, const Item& item);

} // namespace clampfade

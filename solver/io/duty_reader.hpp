// The scenario's sections `duty`, `service` and `record`: what the wheel is put through and what is written down.
#pragma once

#include "solver/io/reader_state.hpp"

namespace clampfade {

void read_duty(ReaderState& r, const Item& item);
/// `map` is the whole file. Joint and duty must have been read.
void read_service(ReaderState& r, Map& map);
void read_record(ReaderState& r, const Item& item);

} // namespace clampfade

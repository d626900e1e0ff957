// What the readers of a scenario's sections work on.
#pragma once

#include "solver/io/catalogue.hpp"
#include "solver/io/map_reader.hpp"
#include "solver/scenario.hpp"

namespace clampfade {

struct ReaderState {
  Context& context;
  Catalogue& catalogue;
  Scenario& scenario; ///< being filled; sections read before are there
};

} // namespace clampfade

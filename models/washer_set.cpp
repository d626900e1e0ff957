#include "models/washer_set.hpp"

namespace clampfade {

WasherSetLaw::WasherSetLaw(Table set)
    : SettlingLaw(Mechanism::WasherSet, {{1.0 / 3, 1e-3, 0}, {1.0 / 3, 1e-5, 0}, {1.0 / 3, 1e-7, 0}}),
      set_(std::move(set)) {}

SettlingLaw::Target WasherSetLaw::target(double deflection, double set) const { return {set * deflection, set}; }

} // namespace clampfade

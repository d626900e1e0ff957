// Where a run leaves what its materials were given for.
#pragma once

#include "models/joint.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade {

/// A part, or the stud, whose material has values against temperature: beyond the last of them they are taken for
/// constant, which no measurement stands behind.
struct KnownRange {
  std::size_t place = 0; ///< of Joint::place_temperatures
  double highest = 0;    ///< temperature of the last value [K]
  std::string warning;   ///< what a report says once the place is hotter
};

/// One for each part and for the stud, as far as their materials have more than one value; of several tables the one
/// that ends first. Below the first value, at room temperature as a rule, metals change little: that is not watched.
std::vector<KnownRange> known_ranges(const Joint& joint);

} // namespace clampfade

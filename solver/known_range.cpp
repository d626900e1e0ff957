#include "solver/known_range.hpp"

#include "models/units.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace clampfade {

namespace {
constexpr double kNoEnd = std::numeric_limits<double>::infinity();

double end_of(const Table& table) {
  if (table.empty() || table.constant()) {
    return kNoEnd;
  }
  return table.points().back().first;
}
} // namespace

std::vector<KnownRange> known_ranges(const Joint& joint) {
  std::vector<KnownRange> ranges;
  const auto add = [&](std::size_t place, double highest, const std::string& what) {
    if (highest < kNoEnd) {
      ranges.push_back(
          {place, highest,
           fmt::format("the temperature of the {} goes {}: values of its material are given up to {:.4g} degC "
                       "and taken for constant beyond",
                       what, kOutsideCalibration, highest - units::kZeroCelsius)});
    }
  };
  for (std::size_t m = 0; m < joint.spec().stack.size(); ++m) {
    add(m, end_of(joint.spec().stack[m].material.youngs), joint.spec().stack[m].name);
  }
  add(joint.stud_place(),
      std::min(end_of(joint.spec().studs.material.youngs), end_of(joint.spec().studs.property_class.yield)), "studs");
  return ranges;
}

} // namespace clampfade

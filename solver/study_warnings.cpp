#include "solver/study_warnings.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace clampfade {

std::vector<std::string> study_warnings(const Study& study) {
  std::vector<std::string> all = study.warnings;
  const auto outside =
      std::count_if(study.cases.begin(), study.cases.end(), [](const StudyCase& c) { return c.parts_outside > 0; });
  if (outside > 0) {
    all.push_back(fmt::format("in {} of {} cases the temperature of a part goes {}: hotter than the values of its "
                              "material reach, the last of which is taken for constant beyond",
                              outside, study.cases.size(), kOutsideCalibration));
  }
  return all;
}

} // namespace clampfade

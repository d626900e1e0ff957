#include "solver/basis.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>

namespace clampfade {

std::string basis_sentence(const std::vector<std::string>& warnings) {
  std::set<std::string> invented; // of several runs each its own
  std::set<std::string> outside;
  for (const std::string& warning : warnings) {
    const std::size_t at = warning.find(kInventedValues);
    if (at != std::string::npos) {
      invented.insert(warning.substr(0, at - std::min<std::size_t>(at, 1)));
    } else if (warning.find(kOutsideCalibration) != std::string::npos) {
      outside.insert(warning);
    }
  }
  std::string text = fmt::format("{}", fmt::join(invented, "; "));
  if (!outside.empty()) {
    text += fmt::format("{}{} outside the range that is calibrated, see the warnings", text.empty() ? "" : "; ",
                        outside.size() == 1 ? "1 value lies" : fmt::format("{} values lie", outside.size()));
  }
  return text.empty() ? "" : "NO BASIS FOR A DECISION BY ITSELF: " + text + ".";
}

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

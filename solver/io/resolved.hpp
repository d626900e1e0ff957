// A Scenario as text again: YAML in SI with every default filled in, the catalogue entries used, and tables inline.
#pragma once

#include "solver/io/document.hpp"
#include "solver/scenario.hpp"

#include <string>
#include <utility>
#include <vector>

namespace clampfade {

/// A catalogue entry that the scenario uses, as written; `source` and `provenance` are added where it has none.
struct UsedEntry {
  std::string kind; ///< "coatings"
  std::string name;
  const Item* item = nullptr;
  std::string source, provenance;
};

/// Numbers have 17 significant digits and SI units, entries stay as written, so that reading gives the same bits.
std::string resolved_text(const Scenario& scenario, const std::vector<UsedEntry>& entries);

} // namespace clampfade

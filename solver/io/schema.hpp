// Every key that a scenario may have, in one place: the reader refuses what is not here, and SCHEMA.md is printed from
// it. Parameters of laws are not repeated: they come from the laws' own declarations.
#pragma once

#include "models/law.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// One key. `form` tells people what to write where it is no single value; `otherwise` what holds when it is left out
/// ("" if it must be given).
struct Key {
  ParamSpec spec;
  std::optional<double> fallback; ///< SI
  std::string form;
  std::string otherwise;
  [[nodiscard]] bool required() const { return !fallback && otherwise.empty(); }
};

/// A map of keys: "joint/studs"; `*` in the path stands for any name or number.
struct Section {
  std::string path;
  std::string meaning;
  std::vector<Key> keys;
  [[nodiscard]] const Key* find(std::string_view key) const;
};

const std::vector<Section>& schema();
/// The section with that path; a path that is not declared is a bug.
const Section& section(std::string_view path);

/// The schema page: what `clampfade schema` prints.
std::string schema_page();

} // namespace clampfade

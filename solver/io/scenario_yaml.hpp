// From YAML text to items. The only place that knows YAML.
#pragma once

#include "solver/io/document.hpp"
#include "solver/io/scenario.hpp"

#include <optional>
#include <string>

namespace clampfade {

/// The text as a tree of items: places, duplicate and merge keys, depth and size are dealt with here once. None if
/// nothing can be made of it; `faults` says why. `source` is kept by the items and must outlive them.
std::optional<Item> load_yaml(const Source& source, const std::string& text, const ReadOptions& options,
                              Faults& faults);

} // namespace clampfade

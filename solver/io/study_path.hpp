// Paths into the tree of a scenario: steps with / between them, names, numbers and wildcards.
#pragma once

#include "solver/io/document.hpp"
#include "solver/io/map_reader.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// A place in a tree: an item that is there, or a key of a map that may be put there.
struct TreePlace {
  std::vector<std::size_t> steps;  ///< from the root, index by index, to the item or to the map that lacks the key
  std::vector<std::string> keys;   ///< the same for people, with the missing key at the end
  std::optional<ParamSpec> absent; ///< what the missing key declares; none for an item that is there

  /// The item, or the map that lacks the key. `root` is the tree in which it was found, or a copy.
  [[nodiscard]] const Item& find(const Item& root) const;
  /// Puts a value there; one of kind Null takes the key or the entry out, and places behind it are no longer right.
  void put(Item& root, const Item& value) const;
  /// Whether one of the two is, or lies inside, the other.
  [[nodiscard]] bool overlaps(const TreePlace& other) const;
};

std::vector<std::string> split_path(std::string_view path);
std::string joined_path(const std::vector<std::string>& steps);
/// Whether `text` is `pattern`, in which * stands for any run of characters.
bool matches(std::string_view pattern, std::string_view text);

/// All places that the path in the scalar `path` leads to. Keys are told by name; entries of a list by the name they
/// have under `part` or `name`, by that of the one key they are (a step of the day, a service), or by their number from
/// 1. A step with * takes every entry that has what follows. A key that is not there is a place too, where its section
/// declares it; `reading` says how the tree was read. Where nothing is found, or a name is not told apart, one fault
/// says at which step, and what is there.
std::vector<TreePlace> find_places(Context& c, const Item& root, const Reading& reading, const Item& path,
                                   const std::string& where);

} // namespace clampfade

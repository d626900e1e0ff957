// A line behind the last byte of a file's proper content with the content's SHA-256. HDF5 does not look there, and a
// library that changes the file cuts the line off; so a seal that does not fit means damage. HDF5 itself notices damage
// late or by crashing.
#pragma once

#include "solver/io/replaced_file.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade {

enum class Seal {
  None,   ///< there is none
  Intact, ///< it fits the content
  Broken
};

/// Appends the seal of what `content` holds.
void add_seal(std::vector<char>& content);
/// Writes all bytes of an open file, and their seal behind them; a block at a time. Leaves the reason in errno and
/// gives false where the disk refuses.
bool copy_sealed(int from, const Descriptor& to);
/// Reads the whole file, without judging what cannot be opened or read: that counts as None.
Seal check_seal(const std::string& path);

} // namespace clampfade

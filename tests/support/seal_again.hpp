// Files of results as another program would have them, and as if this one had written them so.
#pragma once

#include "solver/io/seal.hpp"
#include "tests/support/run_cli.hpp"

#include <string>
#include <vector>

namespace clampfade::test {

/// The bytes of a file without the seal behind them.
inline std::string content_of(const std::string& path) {
  const std::string bytes = read_text(path);
  return bytes.substr(0, bytes.rfind("\nclampfade seal"));
}

/// A seal over what the file holds now, so that it is read and found wrong only by what it says.
inline void seal_again(const std::string& path) {
  const std::string content = content_of(path);
  std::vector<char> sealed(content.begin(), content.end());
  add_seal(sealed);
  write_text(path, {sealed.begin(), sealed.end()});
}

} // namespace clampfade::test

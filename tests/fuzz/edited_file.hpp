// Files of results that were changed: a good one, and the input is a list of what to change in it. Bytes alone would
// hardly ever get past HDF5's own checks.
#pragma once

#include "tests/fuzz/targets.hpp"

#include <string>

namespace clampfade::fuzz {

/// What the good files are: a short run of a small wheel with a checkpoint, and files of invented numbers.
enum class FileKind { Run, Invented, Plan, Sweep, Sample, Fit };
inline constexpr unsigned kFileKinds = 6;

/// Takes an input apart from its front; zeros where it has ended.
class Input {
public:
  explicit Input(Bytes bytes) : bytes_(bytes) {}
  [[nodiscard]] bool ended() const { return bytes_.empty(); }
  unsigned byte();
  /// A number below `below`, of as many bytes as that takes; 0 where `below` is 0.
  std::size_t index(std::size_t below);
  /// Eight bytes.
  double real();
  /// Up to `most` bytes.
  std::string text(std::size_t most);

private:
  Bytes bytes_;
};

/// Writes the good file with the changes that `input` asks for, until it ends, and gives its path. Changes by HDF5's
/// own means come first, and the seal fits them. Where the first byte is even, bytes are then changed, or the file cut,
/// behind the seal's back: it must notice. They are not changed under a seal made to fit: HDF5 1.10.8 itself crashes on
/// some of those (H5HG_read, references of texts beyond their heap), which is what the seal is for.
std::string edited_file(FileKind kind, Input& input);

} // namespace clampfade::fuzz

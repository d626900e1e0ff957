// The file of a fit: what `clampfade fit` writes and the report reads. Its layout is in solver/HISTORY_FORMAT.md. No
// HDF5 type appears here.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/fit_result.hpp"

#include <memory>
#include <string>
#include <string_view>

namespace clampfade {

/// What stands in a fit's root attributes `filetype` and `format_version`.
inline constexpr std::string_view kFitFileType = "clampfade-fit";
inline constexpr int kFitFormatMajor = 1;
inline constexpr int kFitFormatMinor = 0;

/// Writes a fit, as a whole and at once: until then the path is as it was.
class FitWriter {
public:
  /// Writes nothing yet, but makes sure that it can, and keeps others away from the path. Throws FileError: FileExists
  /// if the path exists and must not be overwritten, FileWrite if the disk refuses.
  explicit FitWriter(const std::string& path, bool overwrite = false);
  ~FitWriter();
  FitWriter(const FitWriter&) = delete;
  FitWriter& operator=(const FitWriter&) = delete;

  /// Throws FileError(FileWrite); what was on the disk then stays.
  void write(const FitResult& fit);

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// A fit as read, with what its file says about itself.
struct FitFile {
  std::string path, program_version, git_sha, created_utc;
  std::string scenario_sha256; ///< of the first set's scenario
  std::string digest;          ///< SHA-256 over all datasets, the same for two fits that came to the same
  FitResult fit;
};

/// Reads a fit. Throws FileError: FileMissing, FileVersion (another kind of file or format), FileTruncated (damaged).
FitFile read_fit(const std::string& path);

/// Whether the path holds a fit, by what the file itself says. Throws nothing; false for what cannot be read.
bool is_fit(const std::string& path);

} // namespace clampfade

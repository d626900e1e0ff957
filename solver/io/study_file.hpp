// The file of a study: what `clampfade sweep` and `sample` write, `merge` puts together and the report reads. Its
// layout is in solver/HISTORY_FORMAT.md. No HDF5 type appears here.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/study_result.hpp"

#include <memory>
#include <string>
#include <string_view>

namespace clampfade {

/// What stands in a study's root attributes `filetype` and `format_version`.
inline constexpr std::string_view kStudyFileType = "clampfade-study";
inline constexpr int kStudyFormatMajor = 1;
inline constexpr int kStudyFormatMinor = 2;

/// Writes a study again and again, each time as a whole and at once: who opens the path finds the state before or the
/// new one, never a piece, even if the program is killed.
class StudyWriter {
public:
  /// Writes nothing yet, but makes sure that it can, and keeps others away from the path. Throws FileError: FileExists
  /// if the path exists and must not be overwritten, FileWrite if the disk refuses.
  explicit StudyWriter(const std::string& path, bool overwrite = false);
  ~StudyWriter();
  StudyWriter(const StudyWriter&) = delete;
  StudyWriter& operator=(const StudyWriter&) = delete;

  /// Throws FileError(FileWrite); what was on the disk then stays. Throws std::logic_error if the study does not fit
  /// together: lists of other lengths than its axes, names of axes that are taken.
  void write(const Study& study);

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// A study as read, with what its file says about itself.
struct StudyFile {
  std::string path, program_version, git_sha, created_utc, scenario_sha256;
  /// SHA-256 over all datasets, the same for two studies that came to the same; empty unless the study is complete.
  std::string digest;
  Study study;
};

/// Reads a study, finished or not. Throws FileError: FileMissing, FileVersion (another kind of file or format),
/// FileTruncated (damaged).
StudyFile read_study(const std::string& path);

/// Whether the path holds a study, by what the file itself says. Throws nothing; false for what cannot be read.
bool is_study(const std::string& path);

} // namespace clampfade

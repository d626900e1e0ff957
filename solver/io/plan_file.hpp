// The file of a plan: what `clampfade plan` writes and the report reads. Its layout is in solver/HISTORY_FORMAT.md. No
// HDF5 type appears here.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/plan_result.hpp"

#include <memory>
#include <string>
#include <string_view>

namespace clampfade {

/// What stands in a plan's root attributes `filetype` and `format_version`.
inline constexpr std::string_view kPlanFileType = "clampfade-plan";
inline constexpr int kPlanFormatMajor = 1;
inline constexpr int kPlanFormatMinor = 1;

/// Writes a plan, as a whole and at once: until then the path is as it was.
class PlanWriter {
public:
  /// Writes nothing yet, but makes sure that it can, and keeps others away from the path. Throws FileError: FileExists
  /// if the path exists and must not be overwritten, FileWrite if the disk refuses.
  explicit PlanWriter(const std::string& path, bool overwrite = false);
  ~PlanWriter();
  PlanWriter(const PlanWriter&) = delete;
  PlanWriter& operator=(const PlanWriter&) = delete;

  /// Throws FileError(FileWrite); what was on the disk then stays.
  void write(const Plan& plan);

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// A plan as read, with what its file says about itself.
struct PlanFile {
  std::string path, program_version, git_sha, created_utc, scenario_sha256;
  std::string digest; ///< SHA-256 over all datasets, the same for two plans that came to the same
  Plan plan;
};

/// Reads a plan. Throws FileError: FileMissing, FileVersion (another kind of file or format), FileTruncated (damaged).
PlanFile read_plan(const std::string& path);

/// Whether the path holds a plan, by what the file itself says. Throws nothing; false for what cannot be read.
bool is_plan(const std::string& path);

} // namespace clampfade

// The history file: what a run writes and what every report reads. Its layout is in solver/HISTORY_FORMAT.md.
// No HDF5 type appears here.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/sink.hpp"

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// What stands in a history's root attributes `filetype` and `format_version`; writer and reader have no other copy.
inline constexpr std::string_view kHistoryFileType = "clampfade-history";
inline constexpr int kHistoryFormatMajor = 1;
inline constexpr int kHistoryFormatMinor = 1;

/// "running", "complete", "stopped", "failed".
std::string_view name(RunStatus status);

class History;

/// Writes a history. It grows in a file without a name beside the path, and each checkpoint replaces the one under the
/// path as a whole by a copy, so whoever opens the path, at any moment and after any kind of death of this process,
/// finds a complete file: the last checkpoint's. Besides, the file is brought up to date about every ten seconds of
/// wall time, less often where it is so large that this would take more than a twentieth of the time. Memory is
/// bounded, whatever the number of rows. All functions throw FileError(FileWrite) with path and reason if the disk
/// refuses; what was on it before stays.
class HistoryWriter final : public Sink {
public:
  /// Writes nothing yet, but makes sure that it can. Throws FileError: FileExists if the path exists and must not be
  /// overwritten, FileWrite if the folder is missing or refuses. An old file is replaced by the first `begin`.
  explicit HistoryWriter(std::string path, bool overwrite = false);
  /// Opens a history that is not complete (died, stopped or failed) and goes back to its last checkpoint: later rows
  /// are dropped, `begin` then only compares the header. `look` sees it before anything is changed and may throw, to
  /// leave it as it is. Throws FileError as History does; FileWrite if there is nothing to continue.
  static std::unique_ptr<HistoryWriter> reopen(const std::string& path,
                                               const std::function<void(const History&)>& look = {});
  /// Never throws. Rows since the last checkpoint are lost unless `end` was called.
  ~HistoryWriter() override;

  void begin(const RunHeader& header) override;
  void act(const ActRow& row) override;
  void event(const EventRow& row) override;
  void record(const RecordRow& row) override;
  void steps(const StepsRow& row) override;
  void checkpoint(const Checkpoint& checkpoint) override;
  void end(RunStatus status, const std::string& text, const std::vector<std::string>& warnings) override;

private:
  struct Impl;
  explicit HistoryWriter(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

/// What a comparison of the stored digest with the data says.
enum class Digest {
  Absent, ///< the run is not complete
  Right,
  Wrong ///< the data are not those that the run wrote
};

/// A dataset of a history as it stands in the file, for reports that list and print any of them.
struct Dataset {
  std::string path; ///< from the root, without its slash: "clamp", "joint/torque/clamp"
  std::string unit; ///< SI, "1" for pure numbers and texts
  std::string long_name;
  struct Axis {
    std::string path; ///< of the dataset that names its positions, its own for an axis; empty where none does
    std::size_t length = 0;
  };
  std::vector<Axis> axes;
  enum class Type { Real, Whole, Text } type = Type::Real;
  std::vector<double> values;    ///< row-major in the order of the axes; empty for texts
  std::vector<std::string> text; ///< likewise
};

/// Reads a history; read-only, without locks, also while a run is writing it. Sees what was there when it was opened.
/// All functions throw FileError: FileMissing, FileVersion (another kind of file, or a format this program does not
/// know), FileTruncated (damaged); each names the path and what to do.
class History {
public:
  explicit History(std::string path);
  ~History();
  History(History&&) noexcept;
  History& operator=(History&&) noexcept;

  [[nodiscard]] const std::string& path() const;
  [[nodiscard]] RunStatus status() const;
  [[nodiscard]] const std::string& status_text() const; ///< why a run stopped or failed; may be empty
  [[nodiscard]] const std::string& title() const;
  [[nodiscard]] const std::vector<std::string>& warnings() const;
  [[nodiscard]] const std::string& program_version() const;
  [[nodiscard]] const std::string& git_sha() const;
  [[nodiscard]] int format_minor() const;               ///< of the file; its major is kHistoryFormatMajor
  [[nodiscard]] const std::string& created_utc() const; ///< ISO 8601
  [[nodiscard]] double end_time() const;                ///< the run's intended end [s]
  [[nodiscard]] std::string scenario_text() const;
  [[nodiscard]] const std::string& scenario_sha256() const; ///< lower-case hexadecimal

  [[nodiscard]] std::size_t rows() const; ///< number of records
  [[nodiscard]] const std::vector<std::string>& studs() const;
  [[nodiscard]] const std::vector<std::string>& nodes() const;
  [[nodiscard]] const std::vector<std::string>& layers() const;
  [[nodiscard]] const std::vector<std::string>& mechanisms() const;

  /// A dataset over time, row-major in the order of its axes: series("clamp")[row * studs + stud].
  /// Names and units as in HISTORY_FORMAT.md. Throws std::out_of_range for a name that is none of them.
  [[nodiscard]] std::vector<double> series(std::string_view dataset) const;
  [[nodiscard]] std::vector<RecordRow> records() const;
  [[nodiscard]] std::vector<ActRow> acts() const;
  [[nodiscard]] std::vector<EventRow> events() const;
  [[nodiscard]] std::vector<StepsRow> steps() const; ///< what an older minor format did not have is empty
  [[nodiscard]] std::vector<Figure> joint() const;
  [[nodiscard]] std::vector<RunHeader::ProvenanceRow> provenance() const;
  [[nodiscard]] std::vector<RunHeader::IdentityRow> identity() const; ///< the scenario's tightening records
  [[nodiscard]] std::optional<Checkpoint> checkpoint() const;
  /// All datasets in the order of the file, without values; not those of the checkpoint, nor the labels of the joint's
  /// figures.
  [[nodiscard]] std::vector<Dataset> datasets() const;
  /// One of them, or labels, with its values; of growing ones the valid rows. Throws std::out_of_range for other paths.
  [[nodiscard]] Dataset dataset(std::string_view path) const;
  /// SHA-256 over all results, the same for two runs that gave the same; empty unless the run is complete.
  [[nodiscard]] std::string digest() const;
  /// Reads every dataset again and compares with the digest written at completion.
  [[nodiscard]] Digest verify() const;

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

} // namespace clampfade

// Datasets of a small file of results that is written whole and read whole. For plan_file.cpp and study_file.cpp.
#pragma once

#include "solver/io/history_hdf5.hpp"
#include "solver/io/replaced_file.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Such a file as a whole under its path: until it is written, and where that fails, what was there stays.
class WholeFile {
public:
  /// Writes nothing yet, but makes sure that it can, and keeps others away. Throws FileError(FileExists, FileWrite).
  WholeFile(const std::string& path, bool overwrite);
  /// `what` is built by `build`, which throws h5::Error as HDF5 does. Throws FileError(FileWrite).
  void write(std::string_view what, const std::function<std::vector<char>()>& build);

private:
  std::string path_;
  ReplacedFile target_;
};

/// Makes datasets in an open file and puts them on their axes, which must be there.
class ArrayWriter {
public:
  using Lengths = std::vector<std::size_t>;
  using Axes = std::vector<std::string>;
  explicit ArrayWriter(hid_t file) : file_(file) {}

  h5::Id reals(const std::string& path, const Lengths& lengths, const std::vector<double>& values,
               const std::string& unit, const std::string& long_name, const Axes& axes = {}) const;
  h5::Id integers(const std::string& path, const Lengths& lengths, const std::vector<std::int64_t>& values,
                  const std::string& long_name, const Axes& axes = {}) const;
  /// Integers of one byte, for codes.
  h5::Id codes(const std::string& path, const Lengths& lengths, const std::vector<std::int64_t>& values,
               const std::string& long_name, const Axes& axes = {}) const;
  h5::Id texts(const std::string& path, const Lengths& lengths, const std::vector<std::string>& values,
               const std::string& long_name, const Axes& axes = {}) const;
  /// Makes a dataset that is there an axis.
  void axis(const std::string& path) const;
  /// Makes an axis that counts from 0.
  void count(const std::string& path, std::size_t length, const std::string& long_name) const;

private:
  [[nodiscard]] h5::Id dataset(const std::string& path, const Lengths& lengths, hid_t type, const std::string& unit,
                               const std::string& long_name, const Axes& axes) const;

  hid_t file_;
};

/// Reads such datasets. Each call throws FileError(FileTruncated) where the file holds something else, h5::Error as
/// HDF5 does.
class ArrayReader {
public:
  using Lengths = std::vector<std::size_t>;
  /// @param path of the file, for messages
  ArrayReader(std::string path, hid_t file) : path_(std::move(path)), file_(file) {}

  /// Attributes of the file.
  [[nodiscard]] std::string text(const char* attribute) const;
  [[nodiscard]] double real(const char* attribute) const;
  [[nodiscard]] std::int64_t integer(const char* attribute) const;
  /// Length of an axis, 1 to `most`.
  [[nodiscard]] std::size_t length(const std::string& axis, std::size_t most) const;
  [[nodiscard]] std::vector<double> reals(const std::string& path, const Lengths& lengths) const;
  [[nodiscard]] std::vector<std::int64_t> integers(const std::string& path, const Lengths& lengths) const;
  [[nodiscard]] std::vector<std::string> texts(const std::string& path, const Lengths& lengths) const;
  [[noreturn]] void damaged(const std::string& reason) const;

private:
  [[nodiscard]] h5::Id open(const std::string& path, const Lengths& lengths, H5T_class_t expected) const;

  std::string path_;
  hid_t file_;
};

/// Who wrote a file, of PlanFile, StudyFile and FitFile.
template <class File>
void read_identity(const ArrayReader& in, const std::string& path, File& out) {
  out.path = path;
  out.program_version = in.text("program_version");
  out.git_sha = in.text("git_sha");
  out.created_utc = in.text("created_utc");
}

} // namespace clampfade

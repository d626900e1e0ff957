// Opening a file of results to read it: every check that comes before its datasets. For history.cpp,
// plan_file.cpp, study_file.cpp and what they share.
#pragma once

#include "solver/io/history_hdf5.hpp"

#include <cstddef>
#include <string>
#include <string_view>

namespace clampfade {

/// Throws FileError(FileTruncated).
[[noreturn]] void throw_damaged(const std::string& path, const std::string& reason);

/// Does `work`, which reads; what HDF5 cannot do is damage. Throws FileError(FileTruncated).
template <class Work>
auto reading(const std::string& path, Work work) {
  try {
    return work();
  } catch (const h5::Error& e) {
    throw_damaged(path, e.what());
  }
}

/// What a file must be to be read.
struct FileKind {
  std::string_view filetype; ///< root attribute of that name
  int major = 0, minor = 0;  ///< format that this program writes
  std::string_view writer;   ///< who writes such files, for messages: "a run"
};

struct OpenedResults {
  h5::Id file;
  std::size_t bytes = 0; ///< its length
};

/// Opens a file for reading, without locks, after a look at its first bytes and its seal, and checks what it is. Throws
/// FileError: FileMissing, FileVersion, or FileTruncated, also where the seal is missing; h5::Error as HDF5 does.
OpenedResults open_results(const std::string& path, const FileKind& kind);

/// The attribute `filetype` of a file; empty if there is none or the file has no seal. Throws nothing.
std::string filetype_of(const std::string& path);

} // namespace clampfade

#include "solver/io/history_open.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/seal.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <sys/stat.h>

namespace clampfade {

namespace {

h5::Id open_read_only(const std::string& path) {
  const h5::Id access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "file access");
  h5::check(H5Pset_file_locking(access, false, true), "file access");
  return h5::Id(H5Fopen(path.c_str(), H5F_ACC_RDONLY, access), H5Fclose, "open");
}

void check_type(hid_t file, const std::string& path, const FileKind& kind) {
  const std::optional<std::string> type = h5::text_attribute(file, "filetype");
  if (type != kind.filetype) {
    throw FileError(Code::FileVersion,
                    fmt::format("{}: this is {}, not a {}; give a file that {} has written{}", path,
                                type ? "a file of type \"" + *type + "\"" : "an HDF5 file of another kind",
                                kind.filetype, kind.writer,
                                type == "clampfade-plan"    ? " (a plan is read by plan, page and lesson)"
                                : type == "clampfade-study" ? " (a study is read by summary, table and page)"
                                                            : ""));
  }
  const auto version = h5::integer_attribute(file, "format_version");
  if (!version || version->size() != 2) {
    throw_damaged(path, "no format_version");
  }
  if ((*version)[0] != kind.major) {
    throw FileError(Code::FileVersion,
                    fmt::format("{}: the file has format {}.{}, this program reads format {}.{}; {}", path,
                                (*version)[0], (*version)[1], kind.major, kind.minor,
                                (*version)[0] > kind.major ? "use a newer program"
                                                           : "use an older program, or run the scenario again"));
  }
}

} // namespace

void throw_damaged(const std::string& path, const std::string& reason) {
  throw FileError(
      Code::FileTruncated,
      fmt::format("{}: the file is cut short or damaged ({}); use a copy, or run the scenario again", path, reason));
}

OpenedResults open_results(const std::string& path, const FileKind& kind) {
  struct stat info {};
  if (::stat(path.c_str(), &info) != 0) {
    const int error = errno;
    throw FileError(Code::FileMissing, fmt::format("{}: cannot open: {}", path, std::strerror(error)));
  }
  if (!S_ISREG(info.st_mode)) {
    throw FileError(Code::FileMissing, fmt::format("{}: cannot open: not a file", path));
  }
  std::array<char, 8> start{};
  std::ifstream in(path, std::ios::binary);
  if (!in) {
    const int error = errno;
    throw FileError(Code::FileMissing, fmt::format("{}: cannot open: {}", path, std::strerror(error)));
  }
  in.read(start.data(), start.size());
  if (in.gcount() < 8) {
    throw_damaged(path, fmt::format("{} bytes long", info.st_size));
  }
  if (std::string_view(start.data(), 8) != "\x89HDF\r\n\x1a\n") {
    throw FileError(Code::FileVersion, fmt::format("{}: this is not an HDF5 file, so no {}; give a file that {} has "
                                                   "written",
                                                   path, kind.filetype, kind.writer));
  }
  // Before HDF5 sees it: it crashes on damaged files, follows links to others, and knows of no digest over attributes.
  switch (check_seal(path)) {
  case Seal::Intact:
    break;
  case Seal::Broken:
    throw_damaged(path, "its bytes are not those that were written");
  case Seal::None:
    throw_damaged(path,
                  "the seal at its end is missing: another program has written to it, it is older than seals, or no " +
                      std::string(kind.filetype));
  }
  OpenedResults opened{open_read_only(path), static_cast<std::size_t>(info.st_size)};
  check_type(opened.file, path, kind);
  return opened;
}

std::string filetype_of(const std::string& path) {
  h5::quiet();
  struct stat info {};
  if (::stat(path.c_str(), &info) != 0 || !S_ISREG(info.st_mode)) {
    return ""; // a pipe would keep whoever opens it waiting
  }
  try {
    return check_seal(path) == Seal::Intact ? h5::text_attribute(open_read_only(path), "filetype").value_or("") : "";
  } catch (const h5::Error&) {
    return "";
  }
}

} // namespace clampfade

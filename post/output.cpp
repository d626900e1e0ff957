#include "post/output.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>

namespace clampfade::post {

namespace fs = std::filesystem;

namespace {

/// Gives the reason why it failed, or nothing.
std::string written(const fs::path& path, std::string_view text) {
  errno = 0;
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out.write(text.data(), static_cast<std::streamsize>(text.size()));
  out.close();
  if (out) {
    return "";
  }
  const int error = errno;
  return error != 0 ? std::strerror(error) : "the system gives no reason";
}

[[noreturn]] void refuse(const std::string& path, const std::string& reason) {
  throw FileError(Code::FileWrite, fmt::format("{}: cannot write the report: {}", path, reason));
}

} // namespace

void write_output(const std::string& path, std::string_view text, bool force, const std::vector<std::string>& inputs) {
  if (path.empty() || path == "-") {
    std::cout.write(text.data(), static_cast<std::streamsize>(text.size()));
    return;
  }
  std::error_code ignored;
  const fs::file_status status = fs::status(path, ignored);
  if (fs::is_directory(status)) {
    refuse(path, "it is a folder");
  }
  if (fs::exists(status) && !fs::is_regular_file(status)) {
    // A pipe or a device: there is nothing to replace.
    if (const std::string reason = written(path, text); !reason.empty()) {
      refuse(path, reason);
    }
    return;
  }
  const auto itself = [&](const std::string& input) { return fs::equivalent(path, input, ignored); };
  if (fs::exists(status) && std::any_of(inputs.begin(), inputs.end(), itself)) {
    throw FileError(Code::FileExists, path + ": this is the history itself; give the report another name");
  }
  if (fs::exists(status) && !force) {
    throw FileError(Code::FileExists, path + ": this file is there already; --force overwrites it");
  }
  // A link stays and the file that it points to is replaced, in one step.
  const fs::path target = fs::is_symlink(path, ignored) ? fs::weakly_canonical(path, ignored) : fs::path(path);
  if (const fs::path folder = target.parent_path(); !folder.empty() && !fs::exists(folder, ignored)) {
    refuse(path, "there is no folder " + folder.string());
  }
  fs::path part = target;
  part += ".part";
  std::string reason = written(part, text);
  if (reason.empty()) {
    std::error_code failed;
    fs::rename(part, target, failed);
    reason = failed ? failed.message() : "";
  }
  if (!reason.empty()) {
    fs::remove(part, ignored);
    refuse(path, reason);
  }
}

} // namespace clampfade::post

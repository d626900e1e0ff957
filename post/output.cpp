#include "post/output.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/replaced_file.hpp"

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
  // As files of results are: a link is followed, two reports at once to one path do not mix, and a reader finds the old
  // report or the new one.
  ReplacedFile file(path, force);
  file.replace([&](const Descriptor& other) { return other.write(text.data(), text.size()); },
               fs::exists(status) ? "the report that was there is kept" : "no report was written");
}

} // namespace clampfade::post

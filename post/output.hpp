// Where a report goes: standard output or a file.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace clampfade::post {

/// Writes a report to the path as a whole, or to standard output for an empty path or "-". Throws FileError: FileExists
/// if a file is there and must not be overwritten, or if it is one of `inputs`, the histories themselves; FileWrite if
/// the disk refuses, and what was there before stays.
void write_output(const std::string& path, std::string_view text, bool force, const std::vector<std::string>& inputs);

} // namespace clampfade::post

// Work that may crash is done once in a process of its own, to see whether it ends.
#pragma once

#include <functional>
#include <string>

namespace clampfade {

/// Does `work` in a copy of this process that shares nothing with it but open files, and drops what comes of it. Empty
/// if it came to an end, by return or by an exception; else what ended it: "crashed (Segmentation fault)", or that it
/// took more than `seconds` of processor time, at least 1, or waited six times as long. Standard output and error of
/// the copy go nowhere. Throws std::system_error where the system grants no process.
std::string rehearse(const std::function<void()>& work, unsigned seconds);

} // namespace clampfade

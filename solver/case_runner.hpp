// Many independent cases on many threads.
#pragma once

#include <cstddef>
#include <functional>

namespace clampfade {

/// Runs one case; may call `report` with the share of it that is done, 0 to 1, and ends early where that answers false.
/// Gives whether the case was finished. Called from many threads, for each case once.
using RunCase = std::function<bool(std::size_t index, const std::function<bool(double share)>& report)>;

/// Progress: cases done, share of all work done (0 to 1). Return false to stop. Called from the thread that called
/// run_cases, a few times a second.
using CaseProgress = std::function<bool(std::size_t done, double share)>;

/// Runs the cases 0 to count - 1 on at most `jobs` threads (at least 1), each case once. False if it was asked to stop
/// before all were finished. Throws the first exception that a case threw; the others are then asked to stop.
bool run_cases(std::size_t count, std::size_t jobs, const RunCase& run_case, const CaseProgress& progress = {});

} // namespace clampfade

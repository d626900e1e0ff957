// Readings of a bench test: a CSV file in long form, a row for each reading.
#pragma once

#include "solver/fit_result.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade {

/// What the run of the scenario has, so that readings can be held against it.
struct RunNames {
  std::vector<std::string> layers, nodes; ///< in the order of the run
  std::size_t studs = 0;
  double end_time = 0; ///< [s]
};

struct FitData {
  std::vector<FitReading> readings; ///< in the order of the file; `set` is 0
  std::string text;                 ///< of the file, to the byte
};

/// Reads `time,time_unit,quantity,value,unit` and, where there are such columns, `error` (one standard deviation in the
/// same unit), `stud` (empty: the mean of all), `part` (layer or node) and `note`. Either all readings of a quantity
/// have an error or none. A layer may be named by what stands behind the colon, where that is only one. Throws
/// FileError(FileMissing), InputError with all faults.
FitData read_fit_data(const std::string& path, const RunNames& names);

} // namespace clampfade

#include "solver/io/fit_data.hpp"
#include "tests/fuzz/targets.hpp"

#include <cmath>

namespace clampfade::fuzz {

namespace {

void read(Bytes input) {
  const RunNames names{
      {"hub | disc: disc head_side", "disc | nut: disc nut_side"}, {"joint", "drum"}, 10, 30 * 86400.0};
  for (const FitReading& reading : read_fit_data(input_file(input, ".csv"), names).readings) {
    if (!std::isfinite(reading.value) || !(reading.time >= 0 && reading.time <= names.end_time)) {
      finding("a reading without a value or time");
    }
  }
}

} // namespace

void fit_data(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

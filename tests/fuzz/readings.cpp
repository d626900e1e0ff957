#include "solver/io/records_reader.hpp"
#include "tests/fuzz/targets.hpp"

#include <cmath>

namespace clampfade::fuzz {

namespace {

void read(Bytes input) {
  for (const CheckReading& reading : read_readings(input_file(input, ".csv")).readings) {
    if (!std::isfinite(reading.record.torque) || !reading.record.instant || reading.record.vehicle.empty()) {
      finding("a reading without torque, time or vehicle");
    }
  }
}

} // namespace

void readings(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

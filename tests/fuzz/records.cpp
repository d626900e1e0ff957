#include "solver/io/records_reader.hpp"
#include "solver/record_check.hpp"
#include "tests/fuzz/targets.hpp"

#include <span>

namespace clampfade::fuzz {

namespace {

void read(Bytes input) {
  const RecordsFile file = read_records(input_file(input, ".csv"), {});
  RecordBands bands;
  for (const WheelRecord& wheel : check_records(file.records, bands)) {
    must_be_text("a name", wheel.vehicle + wheel.axle + wheel.wheel);
    for (const RecordFinding& f : wheel.findings) {
      if (f.stud >= wheel.studs.size() && !wheel.studs.empty() && f.line == 0) {
        finding("a fault of a stud that the wheel does not have");
      }
    }
  }
}

} // namespace

void records(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

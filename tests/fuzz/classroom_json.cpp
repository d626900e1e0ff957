#include "solver/classroom/classroom.hpp"
#include "solver/classroom/json.hpp"
#include "solver/simulation.hpp"
#include "tests/fuzz/targets.hpp"

namespace clampfade::fuzz {

namespace {

void read(Bytes input) {
  const ClassroomSettings settings = classroom_settings(as_text(input));
  (void)derive(classroom_scenario(settings));
}

} // namespace

void classroom_json(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

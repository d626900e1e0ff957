// Settings and results of the classroom as JSON text, SI units, keys as the members are called.
#pragma once

#include "solver/classroom/classroom.hpp"

#include <string>

namespace clampfade {

/// Settings from an object; what is left out keeps its default. Paint, wheel and route are words: "bare", "primer",
/// "thermoplastic", "cross-linked"; "steel", "aluminium"; "round", "highway", "parked". Acts: {"kind": "retorque" or
/// "remove_nut", "time": s, "stud": from 1}. Throws InputError: unknown keys and words, wrong types, what `check`
/// refuses.
ClassroomSettings classroom_settings(const std::string& json);

/// A result. `cost` and `loss` hold only the mechanisms listed in `mechanisms`, those that took anything by the end;
/// `cost`, `clamp`, `cold`, `gain` and `films` are rows of records. Numbers are written so that they read back to the
/// bit.
std::string classroom_text(const ClassroomResult& result);

} // namespace clampfade

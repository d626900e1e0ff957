// What the program was held against before it shipped, in short.
#pragma once

#include <string>

namespace clampfade::post {

/// Totals by kind, sources, the worst differences and what is out of scope, as the tests of this version wrote them:
/// JSON with a newline at its end. Shares are fractions, units stand in the names of the quantities.
std::string checks_json();

/// The same in words, lines of 100 columns at most.
std::string checks_text();

} // namespace clampfade::post

// A figure as it was printed, held against one that the program computes.
#pragma once

#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <string_view>

namespace clampfade::test {

/// Text: read in public text. Memory: recalled from the document named. Derived: our own arithmetic from published
/// formulas or figures, so a regression point and not a published number.
enum class Seen { Text, Memory, Derived };

constexpr std::string_view name(Seen s) { return s == Seen::Text ? "text" : s == Seen::Memory ? "memory" : "derived"; }

struct Printed {
  double value = 0;        ///< in the unit it was printed in
  double digit = 0;        ///< worth of the last printed digit
  std::string_view source; ///< document
  Seen seen = Seen::Memory;
};

/// `computed` must lie within half of the last printed digit plus the relative tolerance, whose reason stands in the
/// header of the file that calls.
inline void check(std::string_view what, const Printed& p, double computed, double relative) {
  CAPTURE(what);
  CAPTURE(p.source);
  CAPTURE(name(p.seen));
  CHECK(computed == close(p.value, p.digit / 2 * (1 + 1e-9), relative));
}

} // namespace clampfade::test

// A figure as it was printed, held against one that the program computes. Every comparison becomes a row of
// tests/VERIFICATION.md.
#pragma once

#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>
#include <string_view>

namespace clampfade::test {

/// Text: read in public text. Memory: recalled from the document named. Practice: known in the trade, no source.
/// Derived: our own arithmetic from published formulas or figures, so a regression point and not a published number.
enum class Seen { Text, Memory, Practice, Derived };

constexpr Kind kind(Seen s) {
  return s == Seen::Text       ? Kind::Text
         : s == Seen::Memory   ? Kind::Memory
         : s == Seen::Practice ? Kind::Practice
                               : Kind::Derived;
}

struct Printed {
  double value = 0;        ///< in the unit it was printed in
  double digit = 0;        ///< worth of the last printed digit
  std::string_view source; ///< document
  Seen seen = Seen::Memory;
};

struct Band {
  double low = 0, high = 0; ///< both ends count
  std::string_view source;
  Seen seen = Seen::Practice;
};

/// `computed` must lie within half of the last printed digit plus the relative tolerance, whose reason stands in the
/// header of the file that calls.
inline void check(std::string_view what, const Printed& p, double computed, double relative) {
  const Close expected = close(p.value, p.digit / 2 * (1 + 1e-9), relative);
  record_check({std::string(what), std::string(p.source), kind(p.seen), p.value, computed,
                expected.abs + expected.rel * std::abs(p.value), false, ""});
  CAPTURE(what);
  CAPTURE(p.source);
  CHECK(computed == expected);
}

/// `computed` must lie in the band.
inline void check(std::string_view what, const Band& b, double computed) {
  record_check({std::string(what), std::string(b.source), kind(b.seen), (b.low + b.high) / 2, computed,
                (b.high - b.low) / 2, true, ""});
  CAPTURE(what);
  CAPTURE(b.source);
  CHECK(computed >= b.low);
  CHECK(computed <= b.high);
}

/// A figure that the program does not meet, with the reason. Fails once it is met, so that the row can become a check.
inline void outside_scope(std::string_view what, const Printed& p, double computed, double relative,
                          std::string_view reason) {
  const Close expected = close(p.value, p.digit / 2 * (1 + 1e-9), relative);
  record_check({std::string(what), std::string(p.source), kind(p.seen), p.value, computed,
                expected.abs + expected.rel * std::abs(p.value), false, std::string(reason)});
  CAPTURE(what);
  CAPTURE(p.source);
  CHECK_FALSE(computed == expected);
}

inline void outside_scope(std::string_view what, const Band& b, double computed, std::string_view reason) {
  record_check({std::string(what), std::string(b.source), kind(b.seen), (b.low + b.high) / 2, computed,
                (b.high - b.low) / 2, true, std::string(reason)});
  CAPTURE(what);
  CAPTURE(b.source);
  CHECK_FALSE((computed >= b.low && computed <= b.high));
}

/// Something published of which the program has no model; `value` NaN where the source has no single number.
inline void not_modelled(std::string_view what, std::string_view source, Seen seen, double value,
                         std::string_view reason) {
  constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
  record_check({std::string(what), std::string(source), kind(seen), value, kNone, 0, false, std::string(reason)});
}

} // namespace clampfade::test

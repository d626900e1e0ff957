// RapidCheck under doctest: a property is tried on random cases, and one that fails is made as simple as it can be.
//
// The ordinary run has a fixed seed and a bounded number of cases. Another seed, or more cases:
//   RC_PARAMS="seed=7 max_success=400" ctest -L property --output-on-failure
// Without a seed in RC_PARAMS RapidCheck takes one from the clock. What it prints on failure has the seed and a
// `reproduce` key that leads straight to the failing case.
#pragma once

#include "tests/support/close.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <rapidcheck.h>

#include <cmath>
#include <cstdlib>
#include <string>
#include <string_view>

namespace clampfade::test {

inline constexpr const char* kDefaultCases = "seed=19 max_success=60";

/// Tries the property; it fails by an RC_ macro, by `expect` or by an exception.
template <class Property>
void check_property(const char* statement, Property property) {
  setenv("RC_PARAMS", kDefaultCases, 0); // read by RapidCheck at its first use; a setting from outside stands
  const std::string setting = std::getenv("RC_PARAMS");
  CHECK_MESSAGE(rc::check(statement, property), "with RC_PARAMS=\"", setting, "\"");
}

/// Fails the case with all digits where x is not what it should be.
inline void expect(std::string_view what, double x, const Close& expected) {
  if (!(x == expected)) {
    const std::string why = fmt::format("{}: {:.17g}, expected {:.17g} (abs {:.3g}, rel {:.3g}), off by {:.3g}", what,
                                        x, expected.value, expected.abs, expected.rel, x - expected.value);
    RC_FAIL(why);
  }
}

/// Fails the case where x is below `least` by more than `slack`.
inline void expect_at_least(std::string_view what, double x, double least, double slack) {
  if (!(x >= least - slack)) {
    const std::string why = fmt::format("{}: {:.17g}, expected at least {:.17g} (slack {:.3g}), short by {:.3g}", what,
                                        x, least, slack, least - x);
    RC_FAIL(why);
  }
}

} // namespace clampfade::test

// What differs between scenarios, key by key, from their texts as run. Knows the shape of such a text (lines, two
// blanks a level, lists with dashes, maps and lists within a line), not what its keys mean.
#pragma once

#include "post/units.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::post {

/// Paths ("joint/stack/inner disc/thickness") and values as written, in the order of the text. Entries of a list go by
/// their `part` or `name`, else by their number from 1. A map within a line is taken apart too, a list is not.
std::vector<std::pair<std::string, std::string>> flatten(const std::string& scenario_text);

struct Difference {
  std::string path;
  std::vector<std::optional<std::string>> values; ///< as written, one for each scenario; none: the key is not there
};

/// Only the keys that differ, in the order in which they turn up. Titles are passed over. Of a catalogue entry that not
/// all scenarios use there is one line, with "used".
std::vector<Difference> differences(const std::vector<std::string>& scenario_texts);

/// A value for people: SI numbers in the system's units with `digits` significant digits, texts without their quotes.
/// Temperatures below 150 K are taken for differences, which keep K. Tables of several lines: their number.
std::string shown_value(const std::string& value, System system, int digits = 4);

/// The values of a difference for people, with as many digits as it takes to tell them apart; "-" where there is none.
std::vector<std::string> shown_values(const Difference& difference, System system);

} // namespace clampfade::post

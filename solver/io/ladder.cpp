#include "solver/io/ladder.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>

namespace clampfade {

namespace {

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  const std::size_t last = text.find_last_not_of(" \t");
  return first == std::string_view::npos ? std::string_view() : text.substr(first, last - first + 1);
}

} // namespace

std::vector<When> read_ladder(std::string_view text, std::string_view name) {
  const ParamSpec time{"", "s", Quantity::Dimensional, {0, 1e12}, {}, ""};
  const ParamSpec distance{"", "m", Quantity::Dimensional, {0, 1e12}, {}, ""};
  std::vector<When> ladder;
  std::vector<Diagnostic> faults;
  const auto add = [&](Code code, std::string found, std::string hint) {
    Diagnostic d;
    d.code = code;
    d.path = std::string(name);
    d.found = std::move(found);
    d.allowed = "times and distances with their units, separated by commas: 1 d, 80 km, 1 week";
    d.hint = std::move(hint);
    faults.push_back(std::move(d));
  };
  for (std::size_t start = 0; start <= text.size();) {
    const std::size_t end = std::min(text.find(',', start), text.size());
    const std::string_view item = trimmed(text.substr(start, end - start));
    start = end + 1;
    if (item.empty()) {
      add(Code::NotANumber, "nothing stands between two commas, before the first or behind the last", "");
      continue;
    }
    QuantityResult read = read_quantity(item, time);
    When when{When::Kind::Time, 0};
    if (!read.value && read.fault.code == Code::WrongDimension) {
      when.kind = When::Kind::Distance;
      read = read_quantity(item, distance);
    }
    if (!read.value) {
      const bool wrong = read.fault.code == Code::WrongDimension;
      const bool bare = read.fault.code == Code::MissingUnit;
      add(read.fault.code, wrong ? fmt::format("'{}' is neither a time nor a distance", item) : read.fault.found,
          wrong  ? ""
          : bare ? fmt::format("for example {0} km or {0} d", item)
                 : read.fault.hint);
      continue;
    }
    when.value = *read.value;
    ladder.push_back(when);
  }
  if (!faults.empty()) {
    throw InputError(faults);
  }
  return ladder;
}

} // namespace clampfade

// Scenarios that ship with the program, changed where a benchmark asks for something else.
#pragma once

#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::test {

using Changes = std::vector<std::pair<std::string, std::string>>;

/// Text of scenarios/`file` with each first text in place of the second. Throws std::runtime_error where the file is
/// missing or a text to replace does not stand there exactly once: a benchmark must not quietly become another one.
inline std::string shipped(const std::string& file, const Changes& changes) {
  std::ifstream in(std::string(CLAMPFADE_SOURCE) + "/scenarios/" + file);
  if (!in) {
    throw std::runtime_error("no scenario " + file);
  }
  std::ostringstream whole;
  whole << in.rdbuf();
  std::string text = whole.str();
  for (const auto& [from, to] : changes) {
    const std::size_t at = text.find(from);
    if (at == std::string::npos || text.find(from, at + 1) != std::string::npos) {
      throw std::runtime_error(file + ": \"" + from + "\" does not stand there once");
    }
    text.replace(at, from.size(), to);
  }
  return text;
}

/// Three short runs that between them use what the program has: for counts of work, which need no clock.
struct ShortRun {
  std::string name;
  std::string text;
};

inline std::vector<ShortRun> short_runs() {
  const std::pair<std::string, std::string> few{"stops: 770", "stops: 40"};
  return {{"painted steel, ring of ten", shipped("painted-steel-duals.yaml", {few, {"weeks: 26", "weeks: 1"}})},
          {"aluminium with spring washers", shipped("aluminium-spring-washers.yaml", {few, {"weeks: 4", "weeks: 1"}})},
          {"slip and self-loosening", shipped("self-loosening.yaml", {{"distance: 120 km", "distance: 30 km"}})}};
}

/// The painted wheel of scenarios/painted-steel-duals.yaml for a week, every stop followed.
enum class Rig { OneStud, TenUntied, TenTied };

inline std::string painted(Rig rig) {
  Changes changes = {{"weeks: 26", "weeks: 1"}, {"\nrecord: {", "\nsolution: {resolution: every-stop}\nrecord: {"}};
  if (rig != Rig::TenTied) {
    changes.emplace_back("ring_coupling: {active: true,", "ring_coupling: {active: false,");
  }
  if (rig == Rig::OneStud) {
    changes.emplace_back("count: 10", "count: 1");
    changes.emplace_back("friction: 0.15", "friction: 1.5"); // carries what ten do, so that it slips no more than they
  }
  return shipped("painted-steel-duals.yaml", changes);
}

} // namespace clampfade::test

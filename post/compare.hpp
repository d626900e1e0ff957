// Histories side by side: what differs in their scenarios, and what that came to.
#pragma once

#include "post/scenario_difference.hpp"
#include "post/summary.hpp"
#include "post/units.hpp"

#include "solver/io/history.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

/// Histories that a comparison takes at most: they are named by letters.
inline constexpr std::size_t kMostCompared = 26;

struct Compared {
  std::string letter; ///< "A"
  Summary summary;
  double reached = 0;        ///< time of the last record [s]
  double distance = 0;       ///< driven by then [m]
  double clamp_common = 0;   ///< lowest cold clamp at Comparison::common_time, of studs that kept their nuts [N]
  std::size_t retorques = 0; ///< rounds of the wrench after tightening
  std::size_t moved = 0;     ///< nuts that turned in them
};

struct Comparison {
  std::vector<Compared> all;
  std::vector<Difference> differences;
  double common_time = 0; ///< the last one that all have reached [s]
  bool unlike_length = false;
  std::vector<std::string> reservations; ///< what makes them hard to compare, in sentences
};

/// What no clamp of the runs holds without.
std::string reservation_sentence(const Comparison& comparison);

/// Throws FileError as History does.
Comparison compare(const std::vector<History>& histories);

/// A row of the decision table: what, and a text for each history.
struct DecisionRow {
  std::string what;
  std::vector<std::string> values;
};
/// Clamp left, margin to the required clamp, first time below, utilisation, fatigue, check torque.
std::vector<DecisionRow> decision_rows(const Comparison& comparison, System system);

/// At most 100 columns; three histories beside each other, further ones in blocks below.
std::string to_text(const Comparison& comparison, System system, bool colour = false);

/// Everything, SI, full precision.
std::string to_json(const Comparison& comparison);

} // namespace clampfade::post

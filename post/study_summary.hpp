// What a study says, worked out once for text, data and page: how its cases ended, how likely a stud falls below the
// required clamp and by when, and which input is behind the spread. All SI. Judges only what the file holds.
#pragma once

#include "post/statistics.hpp"
#include "post/units.hpp"

#include "solver/io/study_file.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::post {

/// How the values of an axis or an input are shown.
struct ValueScale {
  Kind kind = Kind::Number;
  std::string unit; ///< of what is shown as it is
};
/// By the SI unit and the size of the values: lengths as thicknesses, of parts or driven, times as days or seconds.
ValueScale scale_of(const std::string& si_unit, std::span<const double> values);
/// Number and unit, or the number alone, without needless zeros: "60 µm".
std::string value_text(double si, const ValueScale& scale, System system, bool with_unit = true);
/// The unit alone; empty for pure numbers.
std::string unit_text(const ValueScale& scale, System system);
/// Values of an axis with units, or its names.
std::vector<std::string> axis_texts(const StudyAxis& axis, System system);

/// A figure of a case that a report shows.
struct Outcome {
  const char* name;  ///< for other programs
  const char* label; ///< for people
  Kind kind;
  double (*of)(const StudyCase& c); ///< not a number if not known; infinite for what never comes
};
/// Weakest and mean clamp, first below, loss, slip margin, utilisation, nuts loose, studs yielded, and what the wrench
/// does to studs.
std::span<const Outcome> outcomes();
const Outcome& weakest_at_end();
const Outcome& first_below_distance();
const Outcome& first_below_time();
/// "never" for what is infinite, except a margin, which is without limit.
std::string outcome_text(const Outcome& outcome, double si, System system, int digits = 4);

inline constexpr std::array kShares = {0.05, 0.25, 0.5, 0.75, 0.95};

/// An outcome over all counted cases, at kShares.
struct OutcomeSpread {
  const Outcome* outcome = nullptr;
  std::array<double, kShares.size()> at{};
};
/// An input over all counted cases and studs, at kShares; nothing of named entries.
struct InputSpread {
  std::size_t input = 0; ///< position among the study's
  ValueScale scale;
  std::array<double, kShares.size()> at{};
};

/// How many wheels have a stud below the required clamp by an instant.
struct Chance {
  double time = 0;     ///< [s]; not a number where cases differ
  double distance = 0; ///< [m]; not a number where cases differ
  std::size_t below = 0, of = 0;
  Interval band; ///< of the share
  [[nodiscard]] double share() const { return of == 0 ? 0 : static_cast<double>(below) / static_cast<double>(of); }
};

/// Until when the risk that a stud is below the required clamp stays at what is stated.
struct RiskLimit {
  double risk = 0;
  std::size_t fewest = 0; ///< cases that it takes to say anything
  bool enough = false;    ///< there are so many
  /// By the upper edge of the band; infinite: not reached in the run. [s], [m]
  double time = 0, distance = 0;
  double likely_time = 0, likely_distance = 0; ///< by the share itself
};

enum class CauseWay {
  None,   ///< too few cases
  Design, ///< from blocks, of the weakest stud's clamp at the end
  Rank    ///< from neighbours, of a single stud's clamp at the end
};
struct Cause {
  std::size_t input = 0; ///< position among the study's
  InputShares shares;
};

struct StudySummary {
  std::size_t done = 0, failed = 0, pending = 0;
  std::vector<std::size_t> failures; ///< cases
  /// Complete ones that stand for wheels by chance: of a design for sensitivities only the two that are drawn.
  std::vector<std::size_t> counted;
  std::size_t below = 0;         ///< of counted: a stud falls below the required clamp
  std::size_t overtightened = 0; ///< of counted: the wrench stretches a stud for good or pulls it above its proof load
  double worst_tightening = StudyCase::kUnknown; ///< of counted: highest stress under the wrench over yield
  std::size_t failed_counted = 0;                ///< failed ones that would have been counted
  std::vector<OutcomeSpread> spreads;
  std::vector<InputSpread> inputs;
  std::vector<Chance> chances; ///< of a sample, ascending, the last at the end
  RiskLimit risk;
  CauseWay way = CauseWay::None;
  std::vector<Cause> causes; ///< largest first, by total if there is one
  /// Of a sweep, by weakest clamp at the end; an overtightened case is never the best.
  std::optional<std::size_t> best, worst;
};

/// @param risk stated by the reader, 0 to 1 exclusive
StudySummary summarise(const Study& study, double risk);

/// "thickness = 60 µm, nut = sprung nut" for a sweep, "case 12" for a sample.
std::string case_name(const Study& study, std::size_t index, System system);
/// Values of a case along every axis of a grid, or the inputs of a list; unit included.
std::vector<std::string> case_values(const Study& study, std::size_t index, System system);
/// Position on each axis.
std::vector<std::size_t> place_of(const Study& study, std::size_t index);
/// Mean of the scattered values of a case over its studs.
double input_mean(const Study& study, const StudyInput& input, std::size_t index);

/// The finding, sentence by sentence, the answer first; and what is uncertain about it.
std::vector<std::string> study_sentences(const Study& study, const StudySummary& summary, System system);
/// How a table marks a case that the wrench is too much for; empty for others.
std::string wrench_mark(const StudyCase& c);
/// How the sensitivities were found and what they say; empty without.
std::vector<std::string> cause_sentences(const Study& study, const StudySummary& summary);
/// "3.7 %", of a share; two digits that count.
std::string share_text(double share);

} // namespace clampfade::post

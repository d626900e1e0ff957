// Checked records of wheels as text, JSON and CSV.
#pragma once

#include "solver/io/quantity.hpp"
#include "solver/record_check.hpp"
#include "solver/record_clamp.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Records with all that was found of them.
struct CheckedRecords {
  std::string file;
  std::vector<TighteningRecord> records;
  RecordBands bands;
  std::vector<WheelRecord> wheels;
  std::vector<std::vector<StudClamp>> clamps; ///< by wheel and stud; empty without a scenario
  std::optional<double> required_clamp;       ///< of each stud [N]
  std::vector<std::string> assumed;           ///< what the estimates take for granted, sentences
  std::vector<std::string> warnings;
  bool people = false; ///< whether who did it is told

  [[nodiscard]] bool inside() const;
};

/// What is wrong, as a phrase: "torque 352.0 lbf·ft, 25.9 % below the set 475.0 lbf·ft (band 5 %)".
std::string reason(const RecordFinding& finding, UnitSystem system);
/// Reasons that name a stud, with "; " between them; SI.
std::string stud_reasons(const WheelRecord& wheel, std::size_t stud);
/// When the first and the last act were done, as written; empty where nothing is written.
std::string first_time(const CheckedRecords& checked, const WheelRecord& wheel);
std::string last_time(const CheckedRecords& checked, const WheelRecord& wheel);

void print_records(const CheckedRecords& checked, UnitSystem system, bool only_outside);
void print_records_json(const CheckedRecords& checked, bool only_outside);
/// One row a stud, in SI, the unit in the column's name: identity, torque, angle, clamp, what is wrong.
std::string records_csv(const CheckedRecords& checked);

} // namespace clampfade

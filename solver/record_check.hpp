// Whether wheels were tightened properly, from what a wrench wrote down.
#pragma once

#include "solver/scenario.hpp"

#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace clampfade {

/// What is held against a record.
enum class RecordCheck {
  MissingStud,  ///< a stud without an act in a pass
  RepeatedAct,  ///< a stud with a second act in a pass
  Torque,       ///< outside the band about the set torque
  Angle,        ///< does not go with the torque as the angles of the wheel's other studs do
  Order,        ///< two short steps in a row in a pass: its order does not cross the wheel
  BackwardsTime ///< an act earlier than the one above it in the file
};
/// "missing_stud" and so on.
std::string_view name(RecordCheck check);

/// What the checks are to hold records to.
struct RecordBands {
  /// Torque of the last pass [N m]; wins over the set torques that the records name.
  std::optional<double> torque;
  /// By stud, for the last pass where neither says anything [N m]; may be empty.
  std::vector<double> usual_torque;
  double torque_band = 0.05;      ///< allowed distance from the set torque over it [-]
  double angle_band = 3;          ///< standard deviations of a normal distribution [-]
  double snug_torque = 0;         ///< from which an angle counts [N m]
  std::size_t studs = 0;          ///< of each wheel; 0: the highest number in the records
  bool crossing = true;           ///< whether an order is to cross the wheel
  std::vector<std::size_t> order; ///< a whole order that is right besides, stud indices; may be empty
  double gap = 3600;              ///< acts of a wheel further apart belong to two tightenings [s]
};

/// One thing that is wrong. Figures that a check has no use for are not numbers.
struct RecordFinding {
  RecordCheck check = RecordCheck::MissingStud;
  int line = 0;          ///< of the record; 0 where there is none
  std::size_t stud = 0;  ///< 0-based
  std::size_t pass = 0;  ///< from 1
  std::size_t after = 0; ///< Order: the stud before, 0-based
  /// Torque [N m], angle [rad]; BackwardsTime: by how much [s]; Order: how often in the pass [-].
  double found = std::numeric_limits<double>::quiet_NaN();
  double wanted = std::numeric_limits<double>::quiet_NaN(); ///< set torque [N m]; angle that the others tell [rad]
  double band = std::numeric_limits<double>::quiet_NaN();   ///< allowed distance from it, same unit
};

/// A stud of a tightening, as its last act left it.
struct StudRecord {
  std::size_t stud = 0;                                         ///< 0-based
  std::optional<std::size_t> record;                            ///< index of its last act; none for a stud without one
  std::size_t pass = 0;                                         ///< of that act, from 1
  double torque = std::numeric_limits<double>::quiet_NaN();     ///< [N m]
  double set_torque = std::numeric_limits<double>::quiet_NaN(); ///< held against it; not a number where none is known
  std::optional<double> angle; ///< of all its acts together [rad]; none where one of them has none
  bool inside = true;          ///< whether no finding names this stud
};

/// Acts on one wheel that belong together.
struct WheelRecord {
  std::string vehicle, axle, wheel;
  std::vector<std::size_t> records; ///< indices, in the order of the file
  std::vector<std::size_t> passes;  ///< of each of them, from 1
  std::size_t last_pass = 0;
  std::vector<StudRecord> studs; ///< by number
  std::vector<RecordFinding> findings;
  [[nodiscard]] bool inside() const { return findings.empty(); }
};

/// Puts acts together by vehicle, axle, wheel and time, and checks each wheel. A pass is what the records say; where
/// they say nothing, a stud that comes again begins a new pass if all studs have had their turn, and is a repeated act
/// if not. A torque is held to its band in the last pass, and before it where the record names a set torque. Acts of a
/// stud add up their angles, because a wrench counts each from where the nut stood.
std::vector<WheelRecord> check_records(std::span<const TighteningRecord> records, const RecordBands& bands);

/// A value that does not go with the others.
struct Outlier {
  std::size_t index = 0;
  double expected = 0; ///< mean of the values that go together
  double band = 0;     ///< distance from it that the check allows
};

/// Values that stand out from the rest. With n values none can lie further than (n - 1)/sqrt(n) of their own standard
/// deviation from their mean, 2.85 for ten: three deviations would never be seen. So each value is held against the
/// others alone, and since the spread of a few is itself uncertain, by Student's distribution: `deviations` stands for
/// how seldom a normal value lies so far out (3: once in 370). The farthest is taken out first and the rest looked at
/// again, up to a third of them, so that two do not hide each other: the generalised extreme studentised deviate of
/// Rosner (Technometrics 25, 1983, memory), with that chance for each value. The spread is taken as 1 % of the mean at
/// least, which is what recorded angles are rounded to (our choice). Fewer than five values tell nothing.
std::vector<Outlier> outliers(std::span<const double> values, double deviations);

/// Places of an order, from 1, at which it does not cross the wheel: where a stud is less than a third of the circle
/// from the one before, and that one too. Of any two steps one must so lead across, as in the star orders of this
/// program and in those of the trade (common practice, no source). Wheels of up to three studs cross always.
std::vector<std::size_t> short_steps(std::span<const std::size_t> order, std::size_t studs);

} // namespace clampfade

// What a plan of retorques comes to: its cases and what became of each. Data only, so that a file of it can be read
// without the solver.
#pragma once

#include "solver/sink.hpp"

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace clampfade {

inline constexpr double kNotANumber = std::numeric_limits<double>::quiet_NaN();

/// One retorque of a case: when it was asked for, when it was done and what the wrench met. Not a number: it was not
/// done, or not asked in that way. Clamps are cold, over the studs that have a nut.
struct PlanRetorque {
  double asked_time = kNotANumber;          ///< since tightening [s]; either this
  double asked_distance = kNotANumber;      ///< driven [m]; or this is a number
  double time = kNotANumber;                ///< done at the first stop from then on at which a service may act [s]
  double distance = kNotANumber;            ///< [m]
  double clamp_before = kNotANumber;        ///< of the weakest stud just before [N]
  double clamp_before_mean = kNotANumber;   ///< [N]
  double clamp_after = kNotANumber;         ///< of the weakest stud just after [N]
  double clamp_after_mean = kNotANumber;    ///< [N]
  double gain = kNotANumber;                ///< mean of what the studs won [N]
  double torque_lowest = kNotANumber;       ///< set torque, over the studs [N m]
  double torque_highest = kNotANumber;      ///< [N m]
  double check_torque_lowest = kNotANumber; ///< would have started the nut just before, over the studs [N m]
  double check_torque_highest = kNotANumber;
  std::size_t nuts = 0;  ///< that the wrench was put on
  std::size_t moved = 0; ///< of them that turned
};

/// One run of the plan.
struct PlanCase {
  std::vector<PlanRetorque> retorques; ///< in the order of time; empty for the case without
  RunStatus status = RunStatus::Running;
  std::string status_text;              ///< why it failed
  double lowest_clamp = kNotANumber;    ///< lowest cold clamp of a stud with a nut, over all records [N]
  double lowest_time = kNotANumber;     ///< [s]
  double lowest_distance = kNotANumber; ///< [m]
  std::size_t lowest_stud = 0;          ///< from 0
  double below_time = kNotANumber;      ///< first below the required clamp [s]; not a number if never
  double below_distance = kNotANumber;  ///< [m]
  double end_clamp = kNotANumber;       ///< cold, of the weakest stud at the end [N]
  double end_clamp_mean = kNotANumber;  ///< [N]
  std::size_t end_stud = 0;             ///< that stud, from 0
  /// Cold clamp that this stud lost between the last act of the wrench that turned its nut, tightening included, and
  /// the end [N].
  double loss_after = kNotANumber;
  /// Reduced stress over yield strength under the wrench, of the stud pulled hardest [-]; not a number if not known.
  double utilisation_tightening = kNotANumber;
  double proof_share = kNotANumber; ///< highest clamp load that the wrench made, over the proof load [-]
  std::size_t stud_yield = 0;       ///< events of this kind: in service and under the wrench
  std::size_t stud_fatigue = 0;     ///< as above
  std::size_t open = 0;
  std::size_t gap = 0;
  std::size_t nut_free = 0;
  std::vector<double> clamp; ///< cold clamp of the weakest stud along Plan::time [N]; not a number after a failure

  /// Whether the wrench stretched a stud for good, or pulled it above its proof load.
  [[nodiscard]] bool overtightened() const { return utilisation_tightening > 1 || proof_share > 1; }
};

struct Plan {
  std::string title;
  std::string scenario_text; ///< as given, its own retorques included
  std::vector<std::string> warnings;
  double end_time = 0;                   ///< [s]
  double required_clamp = 0;             ///< of each stud [N]
  double first_clamp = kNotANumber;      ///< cold, of the weakest stud as tightened [N]
  double first_clamp_mean = kNotANumber; ///< [N]
  std::vector<double> time;              ///< common axis of the curves, from 0 to the end [s]
  std::vector<double> distance;          ///< driven by then [m]
  std::vector<PlanCase> cases; ///< without; with one retorque, by time; with two, by the first, then by the second
};

} // namespace clampfade

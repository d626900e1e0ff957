// A run from the first turn of the wrench to the last day. Owns State; knows neither YAML nor HDF5.
#pragma once

#include "solver/scenario.hpp"
#include "solver/sink.hpp"
#include "solver/temperature.hpp"

#include <functional>
#include <optional>
#include <vector>

namespace clampfade {

struct SolveCounts; // solver/equilibrium.hpp

/// Progress of a run, for whoever shows it. Return false to stop cleanly (status Stopped, resumable).
using Progress = std::function<bool(double time, double end_time)>;

struct RunOptions {
  Progress progress; ///< called about once a simulated day; may be empty
  /// Wall seconds between checkpoints, more where one takes so long that they would take over 5 %; each at the end of a
  /// simulated day. 0 makes one at the end of every day. A little under the ten seconds after which a history is
  /// brought up to date anyway, so that a fast run does not write it twice.
  double checkpoint_every = 8;
  /// Where given: what is known of the heat of days, used and added to. For runs one after another that have the duty
  /// in common; the results are the same to the bit.
  HeatMemory* heat = nullptr;
  SolveCounts* solves = nullptr; ///< where given: the force balances that this call solved; set when it returns
  /// Where given: all warnings that the sink was told; set when the call returns.
  std::vector<std::string>* warnings = nullptr;
};

/// Everything `check` shows: geometry, torque, stiffness, washers, slip, fatigue, required clamp, heat. Runs no time.
std::vector<Figure> derive(const Scenario& scenario);

/// What is wrong with a wheel as it stands, in sentences: studs pulled beyond yield, proof or tensile strength, too
/// little clamp, a wheel that slips in plain rolling, a crushed seat, studs too close together. Empty if nothing is. A
/// history carries them among its warnings.
std::vector<std::string> concerns(const Scenario& scenario);

/// The header a sink gets at the start of a run.
RunHeader make_header(const Scenario& scenario);

/// Runs from the first act of the wrench. Throws NumericalError after having told the sink.
RunStatus run(const Scenario& scenario, Sink& sink, const RunOptions& options = {});

/// Throws FileError where `resume` would: FileVersion for a checkpoint of another size, FileTruncated for one of a day
/// that the run does not have or with numbers that are none.
void check_checkpoint(const Scenario& scenario, const Checkpoint& from);

/// Goes on from a checkpoint of the same scenario, to the same bits as an unbroken run. Throws as check_checkpoint and
/// run.
RunStatus resume(const Scenario& scenario, const Checkpoint& from, Sink& sink, const RunOptions& options = {});

} // namespace clampfade

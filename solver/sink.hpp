// Where results go, without knowing how: a file, memory, a browser.
#pragma once

#include "models/law.hpp"

#include <cstddef>
#include <cstdint>
#include <limits>
#include <string>
#include <vector>

namespace clampfade {

/// A derived figure with everything needed to show it: `check` prints these, the history stores them under /joint.
/// Exactly one of `values` and `text` is used. `labels` names the entries of an array.
struct Figure {
  std::string name;      ///< lower_snake, unique; a group may precede: "stiffness/total"
  std::string unit;      ///< SI, "1" for pure numbers
  std::string long_name; ///< a sentence fragment for people
  std::vector<double> values;
  std::vector<std::string> labels;
  std::vector<std::string> text;
};

/// Everything known before time starts to run.
struct RunHeader {
  std::string title;
  std::string scenario_text; ///< as run
  std::vector<std::string> warnings;
  std::vector<std::string> studs; ///< "1", "2", ...
  std::vector<std::string> nodes;
  std::vector<std::string> layers; ///< "drum flange | inner disc: inner disc head_side"
  std::vector<Figure> joint;       ///< see Figure
  struct ProvenanceRow {
    std::string entry, key, value, source, provenance;
  };
  std::vector<ProvenanceRow> provenance;
  struct IdentityRow {
    std::string stud, time, tool, operator_name, vehicle, axle, wheel;
    double torque = std::numeric_limits<double>::quiet_NaN(); ///< as recorded [N m], NaN if not given
    double angle = std::numeric_limits<double>::quiet_NaN();  ///< as recorded [rad], NaN if not given
  };
  std::vector<IdentityRow> records; ///< may be empty
  double end_time = 0;              ///< [s]
};

/// One act of the wrench, in the order done; later retorques too.
struct ActRow {
  double time = 0;      ///< [s], negative before the first midnight
  std::size_t pass = 0; ///< 1-based; 0 for a retorque
  std::size_t stud = 0; ///< 0-based
  double torque = 0;    ///< [N m]
  double clamp = 0;     ///< of that stud right after [N]
  double clamp_end = 0; ///< of that stud when the whole act (all passes, all studs) was done [N]
  bool moved = true;    ///< whether the nut turned
};

struct EventRow {
  double time = 0;     ///< [s]
  double distance = 0; ///< [m]
  int stud = -1;       ///< 0-based; -1: the wheel
  std::string kind; ///< open, gap, nut free, stud fatigue, stud yield, below required clamp, retorque, nut removed, hot
                    ///< day, outside calibration
  std::string text;
};

/// One instant. Arrays are row-major: [stud], [stud][mechanism], [stud][layer], [node].
struct RecordRow {
  double time = 0;                       ///< [s]
  double distance = 0;                   ///< [m]
  double stops = 0;                      ///< made so far [-]
  std::vector<double> clamp, clamp_cold; ///< [N]
  std::vector<double> temperature;       ///< [K]
  double slip_margin = 0;                ///< [-], worst since the record before
  std::vector<double> loss, loss_clamp;  ///< since tightening [m]; what it has cost of the cold clamp [N]
  std::vector<double> fatigue_amplitude; ///< [Pa], worst since the record before
  std::vector<double> utilisation;       ///< [-]
  std::vector<double> seat_pressure;     ///< [Pa]
  std::vector<double> layer_thickness;   ///< [m]; empty where layers are not recorded
  std::vector<double> check_torque;      ///< [N m]
  std::vector<double> retorque_gain;     ///< clamp won by later acts of the wrench, cold [N]
};

/// Work done since the record before.
struct StepsRow {
  double time = 0;         ///< end of the interval [s]
  std::uint64_t steps = 0; ///< accepted
  std::uint64_t rejected = 0;
  double smallest = 0;       ///< shortest accepted step [s]
  std::string controlled_by; ///< "stud 3: coating_creep at drum flange | inner disc"; empty if nothing limited a step
  std::string resolution;    ///< "envelope", "every-stop", or "every-stop: " and why, where the envelope gave way
};

/// All that the next step depends on, flat; the solver writes and reads it, a sink only keeps it.
struct Checkpoint {
  double time = 0; ///< [s]
  std::vector<double> numbers;
  std::vector<std::int64_t> counters;
};

enum class RunStatus { Running, Complete, Stopped, Failed };

class Sink {
public:
  Sink() = default;
  Sink(const Sink&) = delete;
  Sink& operator=(const Sink&) = delete;
  virtual ~Sink() = default;

  virtual void begin(const RunHeader& header) = 0;
  virtual void act(const ActRow& row) = 0;
  virtual void event(const EventRow& row) = 0;
  virtual void record(const RecordRow& row) = 0;
  virtual void steps(const StepsRow& row) = 0;
  /// Makes everything before it durable; `resume` continues from the last one.
  virtual void checkpoint(const Checkpoint& checkpoint) = 0;
  /// Last call. `text` says why for Failed and Stopped.
  virtual void end(RunStatus status, const std::string& text, const std::vector<std::string>& warnings) = 0;
};

} // namespace clampfade

// What clamp the studs of a tightened wheel probably have, by the joint of a scenario.
#pragma once

#include "models/as_tightened.hpp"
#include "solver/record_check.hpp"
#include "solver/scenario.hpp"

#include <memory>
#include <optional>
#include <vector>

namespace clampfade {

/// How far torque, friction, angle and resilience are known.
struct RecordScatter {
  TorqueScatter torque;
  AngleScatter angle;
  double snug_torque = 0; ///< from which an angle counts [N m]
};

/// Estimates for one stud. Absent where there is nothing to estimate from.
struct StudClamp {
  std::optional<ClampEstimate> torque;
  std::optional<AngleEstimate> angle;
  std::optional<CombinedEstimate> both;
  /// The best there is: of both, or of the one that there is.
  [[nodiscard]] std::optional<ClampEstimate> best() const;
};

/// Estimates for the studs of wheels that are built like the scenario's.
class RecordClamp {
public:
  RecordClamp(const Scenario& scenario, const RecordScatter& scatter);
  ~RecordClamp();
  RecordClamp(const RecordClamp&) = delete;
  RecordClamp& operator=(const RecordClamp&) = delete;

  /// One a stud of the record. The record must have as many studs as the scenario at most.
  [[nodiscard]] std::vector<StudClamp> operator()(const WheelRecord& wheel) const;
  /// Clamp that each stud needs [N].
  [[nodiscard]] double required() const { return required_; }
  /// Elastic resilience of the column, washers apart [m/N].
  [[nodiscard]] double resilience() const;

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
  double required_;
};

} // namespace clampfade

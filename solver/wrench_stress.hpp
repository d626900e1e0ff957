// How hard the wrench pulls the studs of a run, from what the run tells of itself. For sinks that keep no history.
#pragma once

#include "solver/sink.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>

namespace clampfade {

/// Of the stud pulled hardest, tightening and retorques alike. Not a number where the run names no torque or class.
class WrenchStress {
public:
  void begin(const RunHeader& header) {
    utilisation_ = figure(header, "torque/utilisation");
    planned_ = clamp_ = figure(header, "torque/clamp");
    proof_load_ = figure(header, "thread/proof_load");
  }
  void act(const ActRow& row) {
    clamp_ = std::fmax(clamp_, row.clamp);
    if (row.pass == 0) {
      retorqued_ = std::fmax(retorqued_, row.clamp);
    }
  }

  /// Reduced stress over yield strength under the wrench [-]; above 1 the stud stretches for good. A retorque may go
  /// beyond the tightening: at the same friction stress goes with clamp.
  [[nodiscard]] double utilisation() const {
    return planned_ > 0 ? std::fmax(utilisation_, utilisation_ * retorqued_ / planned_) : utilisation_;
  }
  /// Clamp load over proof load [-].
  [[nodiscard]] double proof_share() const { return proof_load_ > 0 ? clamp_ / proof_load_ : kUnknown; }

private:
  static constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

  /// Highest of its values.
  static double figure(const RunHeader& header, std::string_view name) {
    const auto found = std::find_if(header.joint.begin(), header.joint.end(),
                                    [&](const Figure& f) { return f.name == name && !f.values.empty(); });
    return found == header.joint.end() ? kUnknown : *std::max_element(found->values.begin(), found->values.end());
  }

  double utilisation_ = kUnknown;                  ///< of the tightening [-]
  double planned_ = kUnknown;                      ///< clamp load that this is of [N]
  double clamp_ = kUnknown, retorqued_ = kUnknown; ///< highest right after an act, after a retorque [N]
  double proof_load_ = kUnknown;                   ///< [N]
};

} // namespace clampfade

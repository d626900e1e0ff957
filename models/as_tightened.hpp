// What clamp a tightened stud probably has, from the torque and the angle that a wrench wrote down. EQUATIONS.md 2.
#pragma once

#include "models/joint.hpp"

namespace clampfade {

/// A clamp load as far as it is known: mean and standard deviation [N].
struct ClampEstimate {
  double clamp = 0;
  double deviation = 0;
};

/// Relative standard deviations [-] from one act of the wrench to the next, >= 0.
struct TorqueScatter {
  double clamp = 0;    ///< of the clamp at one torque for all reasons, friction among them: that of a Tool
  double torque = 0;   ///< of the torque itself against what is recorded
  double friction = 0; ///< of each of the two coefficients, which scatter by themselves
};

/// Clamp by (2.5) at the recorded torque, with the spread of (2.14). Zero where the prevailing torque takes it all.
/// @param torque [N m] >= 0
ClampEstimate clamp_from_torque(const NutThread& nut, double torque, double thread_friction, double bearing_friction,
                                const TorqueScatter& scatter);

/// What is not known of an angle, standard deviations.
struct AngleScatter {
  double angle = 0;      ///< of the recorded angle [rad]
  double resilience = 0; ///< of the joint's resilience, relative [-]
  double snug = 0;       ///< of the clamp from which the angle counts beyond what TorqueScatter says, relative [-]
};

/// A clamp from an angle; `shared` is the part of its deviation that comes from the snug torque, and so goes with that
/// of the estimate from torque [N].
struct AngleEstimate {
  ClampEstimate estimate;
  double shared = 0;
};

/// How far a nut travels on its stud as the clamp rises, all faces closed and nothing settling: elastic shortening of
/// the column, spring washers on their compressing curve, and what the stud yields under the wrench. At T_0.
class NutTravel {
public:
  /// Frictions > 0: they twist the stud, and so bring its yield forward. The joint must outlive this.
  NutTravel(const Joint& joint, double thread_friction, double bearing_friction);

  /// Elastic resilience of stud, parts, paint and contacts in series, washers apart [m/N].
  [[nodiscard]] double resilience() const { return resilience_; }
  /// Travel from a nut that just touches to `clamp` >= 0 [m]. (2.15)
  [[nodiscard]] double travel(double clamp) const;
  /// d travel / d clamp [m/N].
  [[nodiscard]] double slope(double clamp) const;
  /// Clamp of a nut at `snug` [N] after it has turned by `angle` more [rad]; zero where it was turned back to nothing.
  [[nodiscard]] double clamp_after(double snug, double angle) const;
  /// Clamp after an angle counted from `snug_torque` [N m], and its spread. (2.16)
  [[nodiscard]] AngleEstimate estimate(double snug_torque, double angle, const TorqueScatter& torque,
                                       const AngleScatter& scatter) const;

private:
  const Joint& joint_;
  double thread_friction_, bearing_friction_;
  double resilience_;
};

/// Both estimates as one.
struct CombinedEstimate {
  ClampEstimate estimate;
  double torque_weight = 0; ///< of the estimate from torque [-], 0 to 1
  /// Distance of the two over the standard deviation that it should have [-]; above kDisagreement one of them is wrong.
  double disagreement = 0;
};
inline constexpr double kDisagreement = 2;

/// The mean of least variance. (2.17)
CombinedEstimate combine(const ClampEstimate& torque, const AngleEstimate& angle);

} // namespace clampfade

// Torque and clamp at the nut. EQUATIONS.md 2; VDI 2230-1 and, for the split into terms, ISO 16047.
#pragma once

#include "models/thread.hpp"

namespace clampfade {

/// Where the torque on a nut goes [N m].
struct TorqueSplit {
  double pitch = 0;      ///< stretches the stud, F P/(2 pi)
  double thread = 0;     ///< thread friction
  double bearing = 0;    ///< friction under the nut
  double prevailing = 0; ///< of a locking nut
  [[nodiscard]] double total() const { return pitch + thread + bearing + prevailing; }
};

/// Stresses of a stud under clamp and wrench.
struct StudStress {
  double axial = 0;   ///< F/As [Pa]
  double torsion = 0; ///< 12 T_thread/(pi d0^3), fully plastic section [Pa]
  /// sqrt(axial^2 + 3 (k torsion)^2) [Pa]; k is 1 while tightening and 0.5 after.
  [[nodiscard]] double equivalent(double k) const;
};

/// A nut on a thread: what a wrench's torque makes of it. Torques in N m, clamps in N, frictions > 0.
class NutThread {
public:
  /// bearing_diameter D_b = (outer + inner)/2 of the ring on which the nut slides [m].
  NutThread(const Thread& thread, double bearing_diameter, double prevailing_torque);

  [[nodiscard]] TorqueSplit split(double clamp, double thread_friction, double bearing_friction) const;
  /// Clamp reached at a torque; zero if the prevailing torque takes it all.
  [[nodiscard]] double clamp(double torque, double thread_friction, double bearing_friction) const;
  /// Torque that starts a resting nut at `clamp`: both frictions times `breakaway`. What a check with a wrench reads.
  [[nodiscard]] double torque_to_move(double clamp, double thread_friction, double bearing_friction,
                                      double breakaway) const;
  /// Stresses at the clamp `clamp` while the wrench is on.
  [[nodiscard]] StudStress stress(double clamp, double thread_friction, double bearing_friction) const;
  /// sqrt(1 + 3 (torsion/axial)^2) while tightening: by how much torsion brings yield forward [-].
  [[nodiscard]] double torsion_factor(double clamp, double thread_friction, double bearing_friction) const;

  [[nodiscard]] const Thread& thread() const { return thread_; }
  [[nodiscard]] double bearing_diameter() const { return bearing_diameter_; }
  [[nodiscard]] double prevailing_torque() const { return prevailing_; }

  /// Torque per clamp of a nut that turns: (2.5) without the prevailing torque [m].
  [[nodiscard]] double arm(double thread_friction, double bearing_friction) const;
  [[nodiscard]] double thread_arm(double friction) const;  ///< torque per clamp from thread friction [m]
  [[nodiscard]] double bearing_arm(double friction) const; ///< [m]

private:
  Thread thread_;
  double bearing_diameter_;
  double prevailing_;
};

/// A value and its standard deviation, both in the same unit.
struct Measured {
  double value = 0;
  double deviation = 0; ///< >= 0
};

/// The clamp load that a check-torque reading stands for [N], (2.18), and its standard deviation to first order in
/// those of what it is made of, which are taken as independent, (2.19). torque [N m] started the resting nut; frictions
/// > 0; breakaway [-] > 0 is that at the age of the last act. A torque up to the prevailing one leaves no clamp: 0,
/// with the deviation that the torque's alone gives. Only as right as the frictions: a reading stays high where they
/// have risen, with the clamp long gone.
Measured clamp_of_check_torque(const NutThread& nut, Measured torque, Measured thread_friction,
                               Measured bearing_friction, Measured breakaway);

} // namespace clampfade

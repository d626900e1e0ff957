// Conical spring washers, singly and stacked. EQUATIONS.md 4; Almen and Laszlo (1936) as in DIN 2092 / EN 16984.
#pragma once

#include <cstddef>

namespace clampfade {

/// Stresses at the standard's points [Pa], compression negative.
struct WasherStress {
  double om = 0, i = 0, ii = 0, iii = 0;
};

/// Largest cone height h0 [m] up to which a washer's force rises all the way to flat: K4^2 (h0'/t')^2 = 2 at flat,
/// where the tangent of the cone's curve is least (h0 = sqrt(2) t without bearing flats). Thickness t, reduced
/// thickness t' [m], t' = 0 for washers without flats; 0 where t' is too far below t for any cone, NaN for NaN.
double largest_rising_height(double thickness, double reduced_thickness);

/// One washer. The reader accepts only washers whose force rises all the way to flat (largest_rising_height).
class ConicalWasher {
public:
  /// outer De, inner Di, thickness t, cone height h0, reduced thickness t' (0 for washers without flats) [m];
  /// Young's modulus [Pa], Poisson's ratio.
  ConicalWasher(double outer, double inner, double thickness, double cone_height, double reduced_thickness,
                double youngs, double poisson);

  /// Force [N] at deflection s [m]; past 0.98 of flat the tangent rises to 50 times that at s = 0 (flattening).
  [[nodiscard]] double force(double s) const;
  [[nodiscard]] double tangent(double s) const;         ///< dF/ds [N/m]
  [[nodiscard]] double deflection(double force) const;  ///< the inverse of `force` [m], force >= 0
  [[nodiscard]] WasherStress stress(double s) const;    ///< at deflection s [m]
  [[nodiscard]] double flat() const { return height_; } ///< deflection at which the washer is flat [m]
  [[nodiscard]] double k4() const { return k4_; }       ///< K4 of bearing flats [-]; 1 without

private:
  [[nodiscard]] double cone_force(double s) const;
  [[nodiscard]] double cone_tangent(double s) const;
  double thickness_, height_, k1_, k2_, k3_, k4_, ratio_, scale_;
  double knee_force_, knee_tangent_, flat_tangent_;
};

/// Where a stack of nested washers stands: needed because friction between the cones makes it remember.
struct WasherState {
  double deflection = 0; ///< [m]
  double force = 0;      ///< [N]
};

struct WasherAnswer {
  double deflection = 0; ///< [m]
  double slope = 0;      ///< d deflection / d force [m/N]
};

/// n washers nested in parallel, i such packs in series, friction w [-] between the cones; w (n - 1) < 1. Deflections s
/// [m] are those of the whole stack.
class WasherStack {
public:
  WasherStack(const ConicalWasher& washer, std::size_t parallel, std::size_t series, double friction);

  [[nodiscard]] double compressing_force(double s) const;   ///< F+ [N]
  [[nodiscard]] double opening_force(double s) const;       ///< F- [N]
  [[nodiscard]] double compressing_tangent(double s) const; ///< dF+/ds [N/m]
  /// Stiffness while the cones stick, 100 n/i F'(0) [N/m].
  [[nodiscard]] double stick_stiffness() const { return stick_; }
  /// Deflection under `force` >= 0 [N] for a stack that stood at `before` (return mapping); does not move it.
  [[nodiscard]] WasherAnswer deflect(double force, const WasherState& before) const;
  /// Deflection on the compressing curve at force >= 0 [N].
  [[nodiscard]] WasherAnswer compress(double force) const { return on_branch(force, load_factor_); }
  [[nodiscard]] bool sticks() const { return load_factor_ != unload_factor_; }
  [[nodiscard]] double flat() const { return static_cast<double>(series_) * washer_.flat(); } ///< [m]
  [[nodiscard]] const ConicalWasher& washer() const { return washer_; }

private:
  [[nodiscard]] WasherAnswer on_branch(double force, double factor) const;
  ConicalWasher washer_;
  std::size_t series_;
  double load_factor_, unload_factor_, stick_; ///< F+ and F- over the force of one washer [-]; sticking [N/m]
};

} // namespace clampfade

// Spring washers that take a set when warm. EQUATIONS.md 6; amounts after DIN 2092's guidance (memory).
#pragma once

#include "models/settling_law.hpp"

namespace clampfade {

/// Target q(T) s of the stack's deflection s, in three equal modes of 1e3, 1e5 and 1e7 s; rolling does not speed it up.
class WasherSetLaw final : public SettlingLaw {
public:
  explicit WasherSetLaw(Table set); ///< q [-] against temperature [K]
  [[nodiscard]] Drive drive() const override { return Drive::WasherDeflection; }

private:
  [[nodiscard]] double property(double temperature) const override { return set_(temperature); }
  [[nodiscard]] Target target(double deflection, double set) const override;
  Table set_;
};

} // namespace clampfade

// The wrench: which nut turns at which torque, and a wheel tightened pass by pass. EQUATIONS.md 5.
#pragma once

#include "solver/settling.hpp"
#include "solver/sink.hpp"
#include "solver/wheel.hpp"

#include <vector>

namespace clampfade {

/// Puts a torque on the nut of column c, at rest for `age` seconds since it last turned. A nut turns only if the torque
/// exceeds what would move it at its present clamp. Returns whether it did.
bool apply_wrench(Wheel& wheel, State& x, std::size_t c, double torque, const Table& breakaway, double age,
                  std::span<const double> nodes);

/// Tightens a fresh wheel: passes, order and pauses of the scenario, relaxing in between. The last act ends at time 0.
/// Returns the acts; `x` is the wheel at time 0, `moved_at` the time of each column's last act that turned it [s].
std::vector<ActRow> tighten_wheel(Wheel& wheel, const TighteningSpec& spec, std::span<const double> nodes,
                                  double tolerance, State& x, std::vector<double>& moved_at);

/// First step after an act of the wrench [s]: short against the fastest mode, since the fast ones settle one by one.
double first_step(const Wheel& wheel, std::span<const double> nodes, double cycle_rate);

} // namespace clampfade

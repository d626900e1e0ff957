// Bending and shear of a wheel disc between neighbouring studs. EQUATIONS.md 5.
#pragma once

#include "models/material.hpp"

#include <cstddef>

namespace clampfade {

/// Distance between neighbouring studs on a bolt circle of the given diameter [m].
double stud_pitch(double bolt_circle, std::size_t studs);

/// Stiffness k between the two faces' like points of neighbouring columns [N/m], both faces together:
/// 1/k = b^3/(12 E I) + b/(5/6 G A), I = w t^3/12, A = w t, times `factor` (a disc is a plate held all round).
double ring_stiffness(const Material& material, double temperature, double thickness, double width, double pitch,
                      double factor);

} // namespace clampfade

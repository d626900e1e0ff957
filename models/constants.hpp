// Constants of nature, SI. 2019 SI definitions (exact) unless a line says otherwise.
#pragma once

namespace clampfade {

inline constexpr double kPi = 3.141592653589793;
inline constexpr double kGasConstant = 8.31446261815324;         // J/(mol K)
inline constexpr double kStefanBoltzmann = 5.670374419184429e-8; // W/(m^2 K^4)
inline constexpr double kGravity = 9.80665;                      // m/s^2, standard gravity (CGPM 1901)

} // namespace clampfade

// SI inside; these factors are for the edges only: how many SI units one shown unit holds.
#pragma once

namespace clampfade::units {

inline constexpr double kMillimetre = 1e-3;                     // m
inline constexpr double kMicrometre = 1e-6;                     // m
inline constexpr double kKilometre = 1e3;                       // m
inline constexpr double kMile = 1609.344;                       // m, exact by definition
inline constexpr double kThou = 25.4e-6;                        // m, exact by definition
inline constexpr double kKilonewton = 1e3;                      // N
inline constexpr double kPoundForce = 4.4482216152605;          // N, exact by definition
inline constexpr double kPoundForceFoot = kPoundForce * 0.3048; // N m
inline constexpr double kMegapascal = 1e6;                      // Pa
inline constexpr double kKsi = 6894757.293168361;               // Pa
inline constexpr double kDegree = 0.017453292519943295;         // rad
inline constexpr double kMinute = 60.0;                         // s
inline constexpr double kHour = 3600.0;                         // s
inline constexpr double kDay = 86400.0;                         // s
inline constexpr double kWeek = 7 * kDay;                       // s
inline constexpr double kZeroCelsius = 273.15;                  // K

constexpr double to_celsius(double kelvin) { return kelvin - kZeroCelsius; }
constexpr double to_fahrenheit(double kelvin) { return to_celsius(kelvin) * 1.8 + 32.0; }

} // namespace clampfade::units

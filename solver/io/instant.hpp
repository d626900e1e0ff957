// Dates and times of ISO 8601 as text and as seconds.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace clampfade {

/// A date, or a date with a time of day.
struct Instant {
  double seconds =
      0; ///< since 1970-01-01T00:00:00, of UTC where there is an offset, else of the clock it was read from
  std::optional<double> ahead; ///< by how much its clock is ahead of UTC, where the text tells it [s]
  bool time = false;           ///< whether there is a time of day; else it is midnight
};

/// "2024-04-09", "2024-04-09T06:12", "2024-04-09 06:12:00.5", each time of day with or without "Z", "+02:00", "+0200"
/// or "+02" behind it; years 1900 to 2199. None for anything else, a day that the calendar does not have included. A
/// time without an offset is taken as it stands, as if its clock showed UTC: right for what lies between two times of
/// one clock, except across a change of the clock to or from summer time.
std::optional<Instant> read_instant(std::string_view text);

/// What read_instant takes, for messages.
inline constexpr std::string_view kInstantForm = "a date and time of ISO 8601, for example 2024-04-09T06:12:00 or "
                                                 "2024-04-09T06:12:00+02:00";

/// "2024-04-09T06:12:00", or "2024-04-09T08:12:00+02:00" on a clock `ahead` of UTC; to the second below.
std::string instant_text(double seconds, std::optional<double> ahead = {});

} // namespace clampfade

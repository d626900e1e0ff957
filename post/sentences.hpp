// What a summary says in whole sentences, the same in text and page. One paragraph each, without line breaks.
#pragma once

#include "post/summary.hpp"
#include "post/units.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace clampfade::post {

/// "5 %", of a share.
std::string percent(double share);
/// "right after tightening" for the first moment, else "after 3.00 days".
std::string after(double time);
/// "56.5 days and 2549 km".
std::string words(const Moment& moment, System system);
/// The first letter large.
std::string capital(std::string text);

/// How far the run came, and why no further.
std::string status_sentence(const Summary& summary, System system);
/// Lowest cold clamp against the required clamp, and when. Needs records.
std::string finding_sentence(const Summary& summary, System system);
/// Whether and when to retorque; empty where an alarm says what to do instead. Needs records.
std::string retorque_sentence(const Summary& summary, System system);
/// What no clamp of a run holds without. `where` it is not: "this run", "these runs".
std::string scatter_sentence(std::string_view where);
/// The same of a run, with what its washers add to it.
std::string reservation_sentence(const Summary& summary);
/// What a wrench would read at the end, and what that proves. Needs records; empty without check torques.
std::string check_torque_sentence(const Summary& summary, System system);
/// basis_sentence for a terminal, a line of its own.
std::string basis_line(const std::vector<std::string>& warnings, bool colour);
/// Warnings, each once, without the one about demonstration values, which stands with the inputs.
std::vector<std::string> warnings_said(const Summary& summary, System system);
/// The same to whoever has no time to read more.
inline constexpr const char* kCaution =
    "Caution: an estimate, not a release to service. A wheel that comes off kills. Follow the vehicle's and the "
    "wheel's "
    "maker and the local codes, let qualified people do the work, and never skip a re-check because of a prediction "
    "alone.";

} // namespace clampfade::post

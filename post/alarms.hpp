// What a reader must know before any clamp: what breaks, comes loose or was damaged, gravest first.
#pragma once

#include "post/summary.hpp"
#include "post/units.hpp"

#include <string>
#include <vector>

namespace clampfade::post {

/// All events of one kind.
struct EventGroup {
  std::string kind;
  std::vector<std::size_t> studs; ///< from 0, ascending; empty for the wheel
  std::size_t count = 0;
  EventRow first, last;
};

/// By kind, gravest first; kinds that this program does not know come after those that it does.
std::vector<EventGroup> grouped_events(const Summary& summary);

/// From events, peaks and figures of a summary that has all the rest. Gravest first.
std::vector<Alarm> find_alarms(const Summary& summary);

/// What it is and what to do about it, to be shown loudly.
std::string sentence(const Alarm& alarm, const Summary& summary, System system);

/// What an event means, in the program's own words and the system's units.
std::string words(const EventGroup& group, const Summary& summary, System system);

/// "stud 3", "studs 1-4, 7", "every stud"; "the wheel" for none.
std::string stud_list(const std::vector<std::size_t>& studs, const std::vector<std::string>& names);

/// Free text with its metric numbers in the system's units: "119.6 kN" becomes "26887 lbf".
std::string translated(const std::string& text, System system);

} // namespace clampfade::post

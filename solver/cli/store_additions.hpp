// What is asked of names and rows on their way to and from the store of a fleet: faults refuse, doubts warn.
#pragma once

#include "solver/io/fleet_store.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace clampfade {

/// "V, front, left"
std::string wheel_text(const WheelId& id);
/// "81250 km", of metres
std::string kilometres(double metres);

/// Seconds since 1970 of UTC by this computer's clock. Only the commands ask it: laws and stores know no now.
double clock_now();

/// A row of a file that is to be added to a store, or an option's values.
struct NewRow {
  WheelId wheel;
  std::size_t stud = 0;           ///< from 1; 0: of no one stud
  std::string time;               ///< as written
  double instant = 0;             ///< [s since 1970]
  std::optional<double> odometer; ///< [m]
  int line = 0;                   ///< of its file; 0: none
};

/// Tells, beside the results, what there is to tell of a store's opening: that it is of an older format, for one.
void tell_note(const FleetStore& store);

/// Throws InputError where an option's name is too long or holds control characters; an empty one passes.
void require_name(const std::string& option, const std::string& name);
/// Throws InputError where the options --vehicle, --axle and --wheel name nothing that the store has.
void require_known(const FleetStore& store, const WheelFilter& which);
/// Throws InputError with the rows whose stud is above the number that the store knows of their wheel.
void require_known_studs(const FleetStore& store, const std::string& file, const std::vector<NewRow>& rows);

/// Warnings of rows with a time later than `now` [s since 1970], and of odometers that run back or jump from one row
/// of their vehicle to the next by time, those of the store between them. Ask before the rows are added.
std::vector<std::string> doubts(const FleetStore& store, const std::string& file, const std::vector<NewRow>& rows,
                                double now);
/// A line for each wheel that the store does not have yet, with a name of the store that is near, if there is one. Ask
/// before the rows are added.
std::vector<std::string> new_wheels(const FleetStore& store, const std::vector<NewRow>& rows);

} // namespace clampfade

// Files of what a wrench wrote down, of many wheels.
#pragma once

#include "models/tool.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace clampfade {

/// A file of acts that tightened wheels.
struct RecordsFile {
  std::string path;
  std::string sha256; ///< of the file
  std::vector<TighteningRecord> records;
  std::vector<std::string> warnings;
};

/// Reads one, CSV with the columns of a scenario's records and any number of wheels. @param studs highest number that a
/// stud may have, where it is known; 64 else. Throws InputError with all faults, FileError if the file can't be read.
RecordsFile read_records(const std::string& path, std::optional<std::size_t> studs);

/// A torque that a check found on a stud.
struct CheckReading {
  TighteningRecord record; ///< who, where, when and how much; its torque is what the wrench showed
  bool moved = false;      ///< whether the nut turned
};
struct ReadingsFile {
  std::string path;
  std::string sha256; ///< of the file
  std::vector<CheckReading> readings;
  std::vector<std::string> warnings;
};

/// Reads one. Throws as read_records does.
ReadingsFile read_readings(const std::string& path);

/// The catalogue's tool of that name. `option` names it in messages. Throws InputError.
Tool read_tool(const std::string& name, const std::string& option);

} // namespace clampfade

// What both programs do about the streams they were started with. Neither YAML, HDF5 nor physics.
#pragma once

#include <string>

namespace clampfade {

/// First thing in `main`. A standard stream that was closed (`>&-`) is held open on nothing, refusing what is written
/// to it as a closed one does: else the first file of results would get its number, and messages would go into that
/// file. And a file-size limit becomes an error of the write, which is told, instead of a death without a word.
void keep_streams();

/// Says something on stderr. That nobody can hear it is no error: what it tells of stands in the exit code or in a
/// file.
void tell(const std::string& text);

/// Writes out what waits for stdout. Whether all that was printed since the start could be written.
bool stdout_written();

} // namespace clampfade

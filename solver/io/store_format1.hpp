// Stores of format 1, in which rows have no sums: they are read as they are, and brought forward.
#pragma once

#include "solver/io/store_tables.hpp"

#include <functional>
#include <vector>

namespace clampfade::store {

using WheelChoice = std::function<bool(const WheelId&)>;

/// Rows of the wheels that are chosen, by wheel and instant. Acts and readings are held against what tells them apart.
/// Throws FileError as FleetStore does.
template <class Row>
std::vector<Row> read_format1(const Database& db, const WheelChoice& chosen);
/// All wheels; how many rows they have is not known.
std::vector<WheelRow> wheels_of_format1(const Database& db);

/// Throws FileTruncated where a row is of a wheel, a file or a prediction that is not there: it would be left out.
void require_ties(const Database& db);

/// Makes the tables of this format and puts everything into them, inside a transaction of the caller's. Throws
/// FileTruncated where a row is not what was added, FileVersion where there is something that is not this program's.
void bring_forward_format1(Database& db);

} // namespace clampfade::store

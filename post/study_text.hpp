// A study in words and tables, as data for other programs, and as a table with a row for each case.
#pragma once

#include "post/dataset_table.hpp"
#include "post/study_summary.hpp"
#include "post/units.hpp"

#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

/// At most 100 columns. `colour`: mark the finding with terminal colours.
std::string to_text(const StudyFile& file, const StudySummary& summary, System system, bool colour = false);

/// Everything but curves, SI, full precision, with the object `units` beside it; what there is none of is null.
std::string to_json(const StudyFile& file, const StudySummary& summary);

/// What `datasets` may name in study_table: the datasets of the file that have a row for each case, or more.
std::vector<std::string> study_datasets(const Study& study);

/// A row for each case: its number, its values along the axes or its inputs, its status and what it came to; or, for
/// datasets named, a row for each case and instant, stud or mechanism. Without a system everything stays SI. Throws
/// std::invalid_argument, with what to do about it, for a name that is none and for datasets along different axes.
LongTable study_table(const Study& study, const std::vector<std::string>& datasets, std::optional<System> system);

/// Kind of study and how far it is: "sample of 1000 cases by a Sobol sequence, seed 7".
std::string study_kind(const Study& study);

} // namespace clampfade::post

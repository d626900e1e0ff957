// A fit in words and tables, for a terminal and for other programs; and the texts that its page shares with them.
#pragma once

#include "post/dataset_table.hpp"
#include "post/study_summary.hpp"
#include "solver/io/fit_file.hpp"

#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

/// How a value that was found is shown, and how a difference of two such values is.
ValueScale scale_of(const FitParameter& parameter);
ValueScale difference_scale(const FitParameter& parameter);
Kind kind_of(FitQuantity quantity);
/// "1 reading", "3 readings".
std::string counted(std::size_t n, const char* what);
/// "clamp", "check torque": the quantity's word for people.
std::string word_of(FitQuantity quantity);
/// "clamp of stud 2", "thickness of disc head_side": what a reading or a curve is of.
std::string subject(FitQuantity quantity, int stud, const std::string& part);

/// The 95 % interval: by the profile where there is one.
std::string interval_text(const FitResult& fit, std::size_t parameter, System system);
/// What was found, and how well the readings meet it. One paragraph each.
std::vector<std::string> fit_sentences(const FitResult& fit, System system);
/// Readings by their distance from the model in errors, the farthest first.
std::vector<std::size_t> farthest(const FitResult& fit);

std::string to_text(const FitFile& file, System system, bool colour);
std::string to_json(const FitFile& file);
/// Names of the tables that there are: readings, values, curves, starts, profiles.
std::vector<std::string> fit_tables(const FitResult& fit);
/// One of them; readings where none is named. Units differ from row to row and stand in a column. Throws
/// std::invalid_argument, with what there is, for a name that is none, and for more than one.
LongTable fit_table(const FitResult& fit, const std::vector<std::string>& names, std::optional<System> system);

} // namespace clampfade::post

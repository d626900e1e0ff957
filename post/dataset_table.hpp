// Any dataset of a history in long form: a row for each observation, its place on the axes before its value.
#pragma once

#include "post/units.hpp"
#include "solver/io/history.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace clampfade::post {

/// A cell: nothing where there is no value, a number or a text.
using Cell = std::variant<std::monostate, double, std::string>;

struct Column {
  std::string name;
  std::string unit; ///< as written in a header; "1" for pure numbers, empty for names, texts and row numbers
  std::vector<Cell> cells;
};

/// Places first, values last; columns of equal length.
struct LongTable {
  std::vector<std::string> datasets; ///< whose values the last columns hold
  std::vector<std::string> long_names;
  std::vector<Column> columns;
  [[nodiscard]] std::size_t rows() const { return columns.empty() ? 0 : columns.front().cells.size(); }
};

/// Observations of one or more datasets along the same axes, a value column each. Records are placed by time and
/// distance; acts by time, pass and stud; events by time, distance, stud and kind; studs, nodes, layers and mechanisms
/// by name. Without a system everything stays SI; with one forces, torques, temperatures, distances, thicknesses,
/// lengths and stresses are in its units. Throws std::invalid_argument, with what to do about it, for a name that is no
/// dataset and for datasets along different axes.
LongTable long_table(const History& history, const std::vector<std::string>& datasets, std::optional<System> system);

/// "time [s],distance [m],stud,clamp [N]" and a line for each observation; quoted as RFC 4180 says, lines end with a
/// newline alone. All digits. What is not a number is an empty cell, infinity is "inf".
std::string to_csv(const LongTable& table);
/// Columns with name and unit, then rows; what is not a finite number is null.
std::string to_json(const LongTable& table, const History& history);
/// The same of another file of results.
std::string to_json(const LongTable& table, const std::string& path, const std::string& title,
                    const std::string& scenario_sha256);

/// All datasets: name, unit, shape and meaning, one paragraph each.
std::string dataset_list(const History& history);
std::string dataset_list_json(const History& history);

} // namespace clampfade::post

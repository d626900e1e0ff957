// A history read once into memory, for everything that is drawn.
#pragma once

#include "post/summary.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade::post {

/// All SI, row-major as in the history.
struct Run {
  Summary summary;
  std::string scenario_text;
  std::vector<std::string> nodes, layers, mechanisms;
  std::vector<double> time, distance; ///< of each record [s], [m]
  std::vector<double> clamp, clamp_cold, temperature, slip_margin, loss, loss_clamp, retorque_gain, layer_thickness;
  std::vector<ActRow> acts;
  std::vector<StepsRow> steps;
  std::vector<RunHeader::ProvenanceRow> provenance;

  [[nodiscard]] std::size_t rows() const { return time.size(); }
  [[nodiscard]] std::size_t studs() const { return summary.studs.size(); }
};

/// Throws FileError as History does.
Run read_run(const History& history);

/// The figure of that name; none if the history does not have it.
const Figure* find_figure(const Summary& summary, std::string_view name);
/// A single number of that name.
std::optional<double> find_number(const Summary& summary, std::string_view name);

/// Rows to draw instead of all, ascending: the first, the last, both of every pair of records of one time, and the
/// lowest and the highest of every column of every guide in stretches of equal length, as short as `most` rows allow;
/// so the extremes of all are among them. More than `most` only if those alone are more. A guide is row-major with
/// rows() * its width entries; values that are not finite are passed over.
std::vector<std::size_t> choose_rows(const Run& run, const std::vector<const std::vector<double>*>& guides,
                                     std::size_t most);

/// Rows for a slider: the first days record by record, then the hottest record of each day or of every few days; both
/// sides of services, and the last. About `most`.
std::vector<std::size_t> choose_moments(const Run& run, std::size_t most);

/// A day of the duty: rows of its records, from midnight to midnight.
struct Day {
  std::size_t number = 0; ///< from 1
  std::string why;        ///< "first day", "hottest record"; empty for those in between
  std::vector<std::size_t> rows;
};
/// At most `most` days worth looking at: the first, the hottest, that of falling below the required clamp, the last,
/// the rest evenly spread. Days with fewer than three records are left out.
std::vector<Day> choose_days(const Run& run, std::size_t most);

/// `column` of a row-major series of that width at the rows.
std::vector<double> pick(const std::vector<double>& series, std::size_t width, std::size_t column,
                         const std::vector<std::size_t>& rows);

} // namespace clampfade::post

// From a scenario file to a Scenario, with every fault of the file said at once.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <string>

namespace clampfade {

/// Limits against hostile or mistaken files, and where to look for things. The shipped scenarios take up to 6 kB, 500
/// values and 7 levels; a study of two wheels with every key written out stays below 100 kB; the largest sound one
/// holds a trace of a day, second by second, as one text of some 900 kB. At these limits no text takes longer than half
/// a second or more than 150 MB (tests/input_errors/test_hostile.cpp).
struct ReadOptions {
  std::size_t max_bytes = 1U << 20U; ///< of the YAML text
  std::size_t max_depth = 32;        ///< of nesting
  /// Values and keys; what has an anchor counts twice, each alias as often as it is used. Also the most brackets and
  /// commas in a line.
  std::size_t max_nodes = 100000;
  std::size_t max_table_bytes = 1U << 26U; ///< of a CSV file, see csv_excess for the others
  std::string catalogue; ///< folder; empty: $CLAMPFADE_CATALOGUE, else the one beside the program, built or installed
};

/// Reads a file. Throws InputError with all faults, FileError if the file itself can't be read.
Scenario read_scenario(const std::string& path, const ReadOptions& options = {});

/// Reads a text; `name` stands for the file in messages, and files it names are looked for beside it.
Scenario read_scenario_text(const std::string& text, const std::string& name, const ReadOptions& options = {});

/// Options for a text that this program wrote itself (Scenario::resolved_text): it holds whole traces.
ReadOptions resolved_options();

/// The names in the catalogue by kind, with what tells them apart: the schema page's section about them. `folder` as in
/// ReadOptions::catalogue. Throws InputError or FileError if the catalogue can't be read.
std::string catalogue_page(const std::string& folder = "");

/// Reads every entry of a catalogue folder. Throws InputError with all faults.
void check_catalogue(const std::string& folder);

} // namespace clampfade

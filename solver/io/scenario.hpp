// From a scenario file to a Scenario, with every fault of the file said at once.
#pragma once

#include "solver/diagnostics.hpp"
#include "solver/scenario.hpp"

#include <cstddef>
#include <string>

namespace clampfade {

/// Limits against hostile or mistaken files, and where to look for things.
struct ReadOptions {
  std::size_t max_bytes = 1U << 20U;       ///< of the YAML text
  std::size_t max_depth = 32;              ///< of nesting
  std::size_t max_nodes = 100000;          ///< values, each alias counted as often as it is used
  std::size_t max_table_bytes = 1U << 26U; ///< of a CSV file
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

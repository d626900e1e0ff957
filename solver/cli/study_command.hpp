// The commands `sweep`, `sample`, `merge` and `limit`.
#pragma once

namespace CLI {
class App;
}

namespace clampfade {

/// Adds them; `code` gets the exit code once one of them has run.
void add_study_commands(CLI::App& app, int& code);

} // namespace clampfade

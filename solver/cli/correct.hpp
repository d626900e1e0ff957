// The command `correct`.
#pragma once

namespace CLI {
class App;
}

namespace clampfade {

/// Adds it; `code` gets the exit code once it has run.
void add_correct(CLI::App& app, int& code);

} // namespace clampfade

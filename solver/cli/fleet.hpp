// The command `fleet` and what others need of the store.
#pragma once

namespace CLI {
class App;
}

namespace clampfade {

/// Adds it; `code` gets the exit code once it has run.
void add_fleet(CLI::App& app, int& code);

} // namespace clampfade

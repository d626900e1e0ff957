// `clampfade fit`: parameters from measured readings.
#pragma once

namespace CLI {
class App;
}

namespace clampfade {

/// `code` gets the exit code once the command has run.
void add_fit(CLI::App& app, int& code);

} // namespace clampfade

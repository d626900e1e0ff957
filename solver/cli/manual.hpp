// What a program's declarations of its commands say in the forms that an installed program needs: a page for man, and
// completion for the shell bash.
#pragma once

#include <string>

namespace CLI {
class App;
}

namespace clampfade {

/// The page in troff with the macros of man(7): section 1, all commands with their options, examples, exit codes and
/// the cautions. `app` as declared, parsed or not.
std::string man_page(const CLI::App& app, const std::string& version);
/// A script for bash: commands, options, and the words that an option takes where these are listed; else files.
std::string bash_completion(const CLI::App& app);
/// Adds the flags --man-page and --bash-completion, which print these and end; help does not list them.
void add_manual(CLI::App& app, const std::string& version);

} // namespace clampfade

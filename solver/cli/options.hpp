// Values with units on the command line.
#pragma once

#include "models/law.hpp"
#include "solver/diagnostics.hpp"

#include <string>

namespace clampfade {

/// Throws InputError with one fault of an option.
[[noreturn]] void refuse_option(Code code, const std::string& option, std::string found, std::string allowed,
                                std::string hint = "");

/// The value of an option [SI] by its declaration; its key is the option's name. Throws InputError.
double option_value(const std::string& text, const ParamSpec& spec);

/// Writes a text to a file that takes the path in one step. Throws FileError: FileExists where it is there and must not
/// be overwritten, FileWrite where the disk refuses.
void write_text_file(const std::string& path, const std::string& text, bool overwrite);

} // namespace clampfade

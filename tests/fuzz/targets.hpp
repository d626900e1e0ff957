// What is fed with hostile input: each reader of something that a person or another program gives us, and what is made
// of it at once. A target returns where the input is taken or refused with one of our own errors; anything else it
// throws, and whatever it finds half believed, is a finding.
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>

namespace clampfade::fuzz {

using Bytes = std::span<const unsigned char>;

void scenario(Bytes input); ///< text of a scenario: read, derived, written back and read again
void trace(Bytes input);    ///< CSV of a drive's speeds, in the day of a small scenario
void records(Bytes input);  ///< CSV of what a wrench wrote down, with all checks
void readings(Bytes input); ///< CSV of a check's readings
void fit_data(Bytes input); ///< CSV of a bench test's readings
void history(Bytes input);  ///< edits of a history (edited_file.hpp), through all that reads one, resume among them
void report(Bytes input);   ///< edits of any file of results, through every text and page of the report
void classroom_json(Bytes input); ///< JSON of the classroom's settings

struct Target {
  std::string_view name;
  void (*run)(Bytes input);
};
inline constexpr std::array<Target, 8> kTargets = {{{"scenario", scenario},
                                                    {"trace", trace},
                                                    {"records", records},
                                                    {"readings", readings},
                                                    {"fit_data", fit_data},
                                                    {"history", history},
                                                    {"report", report},
                                                    {"classroom_json", classroom_json}}};

/// Throws std::logic_error: the input was half believed.
[[noreturn]] void finding(const std::string& what);

/// Runs `work`, which may refuse its input as the programs do: InputError with at least one fault, NumericalError,
/// FileError.
void guarded(void (*work)(Bytes), Bytes input);

/// What is said to people must be text: UTF-8 without control characters but line breaks and tabs.
void must_be_text(std::string_view what, const std::string& text);

/// A file of this process in memory (/dev/shm where there is one), written anew by each call. `extension` is part of
/// its name.
std::string input_file(Bytes content, std::string_view extension);

inline std::string as_text(Bytes input) { return {input.begin(), input.end()}; }

} // namespace clampfade::fuzz

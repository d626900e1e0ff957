// The one list of message codes, the shape of a message, and exit codes.
#pragma once

#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace clampfade {

/// Exit codes of both programs. Outside: done, and some wheel that was checked lies outside its bands.
enum class Exit { Ok = 0, Outside = 1, Input = 2, Numerical = 3, File = 4, Bug = 70 };

/// Every message a user can see has one of these codes; `describe` gives its text for the manual.
enum class Code {
  UnknownKey,
  MissingKey,
  DuplicateKey,
  WrongType,
  MissingUnit,
  UnknownUnit,
  WrongDimension,
  NotANumber,
  OutOfRange,
  OutsideCalibration,
  UnknownEntry,
  UnknownNode,
  Inconsistent,
  Syntax,
  TooLarge,
  NoEquilibrium,
  StepTooSmall,
  NonFinite,
  FileMissing,
  FileExists,
  FileVersion,
  FileTruncated,
  FileWrite,
  Internal
};
/// "input.unknown_key" and so on.
std::string_view name(Code code);
/// What it means, one phrase for the manual.
std::string_view describe(Code code);
/// The exit code that belongs to it.
Exit exit_code(Code code);
/// All codes in the order of the enumeration.
std::span<const Code> all_codes();

/// What every report of a result must say beside it, whole sentences: a lost wheel kills.
std::span<const std::string_view> cautions();

/// Words by which warnings are known: of catalogue values nobody measured, and of a value that a law, or a run that a
/// material, was not given for. Reports begin with how many there are.
inline constexpr std::string_view kInventedValues = "(provenance demo)";
inline constexpr std::string_view kOutsideCalibration = "outside the calibrated range";

/// A place in a text file; line and column count from 1, 0 where unknown.
struct Place {
  std::string file;
  int line = 0;
  int column = 0;
};

enum class Severity { Warning, Error };

struct Diagnostic {
  Severity severity = Severity::Error;
  Code code = Code::Internal;
  Place place;
  std::string path;    ///< "joint/stack/outer disc/thickness"
  std::string found;   ///< the value as written, or what is wrong
  std::string allowed; ///< what would be right
  std::string hint;    ///< nearest word or next thing to try; may be empty
  std::string line;    ///< the offending source line, for the caret; may be empty
};

/// file:line:column: error [code] path: found, then the line with a caret, then what is allowed and the hint.
std::string to_text(const Diagnostic& d);
/// All of them sorted by file and line, then a count line.
std::string to_text(const std::vector<Diagnostic>& all);

/// Thrown once for a whole file with all its faults.
class InputError : public std::runtime_error {
public:
  explicit InputError(std::vector<Diagnostic> diagnostics);
  [[nodiscard]] const std::vector<Diagnostic>& diagnostics() const { return diagnostics_; }

private:
  std::vector<Diagnostic> diagnostics_;
};

/// The numerics gave up; names time, stud, element and variable.
class NumericalError : public std::runtime_error {
public:
  NumericalError(Code code, const std::string& what) : std::runtime_error(what), code_(code) {}
  [[nodiscard]] Code code() const { return code_; }

private:
  Code code_;
};

/// A file could not be read or written; names the path and the system's reason.
class FileError : public std::runtime_error {
public:
  FileError(Code code, const std::string& what) : std::runtime_error(what), code_(code) {}
  [[nodiscard]] Code code() const { return code_; }

private:
  Code code_;
};

/// Place of the first byte that is no UTF-8 or a control character other than line ends and tabs, as line and column
/// from 1; none if all is well. What fails this must not reach a terminal or a page.
std::optional<std::pair<int, int>> bad_character(std::string_view text);

/// The word of `words` nearest to `word` by edit distance, or empty if none is near (distance > max(2, length/3)).
std::string nearest(std::string_view word, const std::vector<std::string>& words);

/// "did you mean ...?" with those of `words` that begin with `word`, at most four of them, else with those that hold
/// it, else with the nearest; empty where none is known. A thread without its pitch is so sent to the pitches of its
/// own diameter, and to none where they are too many.
std::string did_you_mean(std::string_view word, const std::vector<std::string>& words);

/// What to say to a word of the command line that stands where a command of `program` is due: that it is none, the
/// one it looks like or the other program that has it, and the commands there are.
/// @param elsewhere commands of `other`, the program beside this one
std::string unknown_command(std::string_view word, const std::string& program, const std::vector<std::string>& commands,
                            const std::string& other, const std::vector<std::string>& elsewhere);

} // namespace clampfade

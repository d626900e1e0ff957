#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <iterator>
#include <tuple>

namespace clampfade {

namespace {

struct Row {
  Code code;
  std::string_view name;
  Exit exit;
  std::string_view meaning;
};

constexpr Row kRows[] = {
    {Code::UnknownKey, "input.unknown_key", Exit::Input, "a key that the schema does not know at this place"},
    {Code::MissingKey, "input.missing_key", Exit::Input, "a key that must be given is not there"},
    {Code::DuplicateKey, "input.duplicate_key", Exit::Input, "the same key or name twice"},
    {Code::WrongType, "input.wrong_type", Exit::Input,
     "a list, a map, a word or a number where another of these is due"},
    {Code::MissingUnit, "input.missing_unit", Exit::Input, "a bare number where a quantity with a unit is due"},
    {Code::UnknownUnit, "input.unknown_unit", Exit::Input, "a unit that is not known, or that is read in two ways"},
    {Code::WrongDimension, "input.wrong_dimension", Exit::Input, "a unit of another dimension than the key's"},
    {Code::NotANumber, "input.not_a_number", Exit::Input, "text that is not a plain finite decimal number"},
    {Code::OutOfRange, "input.out_of_range", Exit::Input, "a value outside the allowed range"},
    {Code::OutsideCalibration, "input.outside_calibration", Exit::Input,
     "a value outside the range for which the law has been calibrated (a warning)"},
    {Code::UnknownEntry, "input.unknown_entry", Exit::Input,
     "a name that is not in the catalogue, the stack or the list"},
    {Code::UnknownNode, "input.unknown_node", Exit::Input, "a name that is not a node of the heat network"},
    {Code::Inconsistent, "input.inconsistent", Exit::Input, "values that are right alone and contradict each other"},
    {Code::Syntax, "input.syntax", Exit::Input, "the file is not well-formed YAML, CSV or UTF-8"},
    {Code::TooLarge, "input.too_large", Exit::Input, "the file is too long, too deep or has too many entries"},
    {Code::NoEquilibrium, "solve.no_equilibrium", Exit::Numerical, "no balance of forces was found"},
    {Code::StepTooSmall, "solve.step_too_small", Exit::Numerical, "the time step fell below its limit"},
    {Code::NonFinite, "solve.non_finite", Exit::Numerical, "a state or a force is not a finite number"},
    {Code::FileMissing, "file.missing", Exit::File, "a file is not there or can't be read"},
    {Code::FileExists, "file.exists", Exit::File, "a file is there already and would be overwritten"},
    {Code::FileVersion, "file.version", Exit::File, "a file of another kind or of an unknown version"},
    {Code::FileTruncated, "file.truncated", Exit::File, "a file is cut short or damaged"},
    {Code::FileWrite, "file.write", Exit::File, "a file could not be written"},
    {Code::Internal, "bug.internal", Exit::Bug, "a fault of the program itself"},
};

const Row& row(Code code) {
  const auto* found = std::find_if(std::begin(kRows), std::end(kRows), [&](const Row& r) { return r.code == code; });
  return found == std::end(kRows) ? *std::prev(std::end(kRows)) : *found;
}

bool starts_character(char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }

// Columns count characters, so both the cut and the caret go by characters, not bytes.
std::string excerpt(const Diagnostic& d) {
  constexpr std::size_t width = 110;
  std::vector<std::string> characters;
  for (char c : d.line) {
    if (starts_character(c) || characters.empty()) {
      characters.emplace_back();
    }
    characters.back() += c == '\t' ? ' ' : c;
  }
  const auto column = static_cast<std::size_t>(std::max(d.place.column, 1)) - 1;
  std::size_t first = 0;
  if (characters.size() > width && column > width / 2) {
    first = std::min(column - width / 2, characters.size() - width);
  }
  const std::size_t last = std::min(characters.size(), first + width);
  std::string shown = first > 0 ? "..." : "";
  const std::size_t lead = shown.size();
  for (std::size_t i = first; i < last; ++i) {
    shown += characters[i];
  }
  if (last < characters.size()) {
    shown += "...";
  }
  std::string out = fmt::format("{:>6} | {}\n", d.place.line, shown);
  if (d.place.column > 0) {
    out += fmt::format("       | {}^\n", std::string(lead + column - first, ' '));
  }
  return out;
}

} // namespace

std::string_view name(Code code) { return row(code).name; }
Exit exit_code(Code code) { return row(code).exit; }
std::string_view describe(Code code) { return row(code).meaning; }

std::span<const Code> all_codes() {
  static const auto codes = [] {
    std::array<Code, std::size(kRows)> list{};
    std::transform(std::begin(kRows), std::end(kRows), list.begin(), [](const Row& r) { return r.code; });
    return list;
  }();
  return codes;
}

std::span<const std::string_view> cautions() {
  static constexpr std::string_view list[] = {
      "This is an estimate from a model, not a release to service.",
      "Follow the instructions of the vehicle maker and the wheel maker, and the local codes. Leave the work to "
      "qualified people.",
      "Never skip a re-check of the nuts on the strength of a prediction alone.",
  };
  return list;
}

std::string to_text(const Diagnostic& d) {
  std::string out;
  if (!d.place.file.empty()) {
    out += d.place.file + ':';
    if (d.place.line > 0) {
      out +=
          d.place.column > 0 ? fmt::format("{}:{}:", d.place.line, d.place.column) : fmt::format("{}:", d.place.line);
    }
    out += ' ';
  }
  out += fmt::format("{} [{}] ", d.severity == Severity::Error ? "error" : "warning", name(d.code));
  out += d.path.empty() ? d.found : d.path + ": " + d.found;
  out += '\n';
  if (!d.line.empty()) {
    out += excerpt(d);
  }
  if (!d.allowed.empty()) {
    out += "   allowed: " + d.allowed + '\n';
  }
  if (!d.hint.empty()) {
    out += "   hint: " + d.hint + '\n';
  }
  return out;
}

std::string to_text(const std::vector<Diagnostic>& all) {
  std::vector<Diagnostic> sorted = all;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Diagnostic& a, const Diagnostic& b) {
    return std::tie(a.place.file, a.place.line, a.place.column) < std::tie(b.place.file, b.place.line, b.place.column);
  });
  std::string out;
  std::size_t errors = 0;
  for (const Diagnostic& d : sorted) {
    out += to_text(d);
    errors += d.severity == Severity::Error ? 1 : 0;
  }
  const std::size_t warnings = all.size() - errors;
  const auto counted = [](std::size_t n, const char* what) {
    return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
  };
  out += counted(errors, "error");
  if (warnings > 0) {
    out += ", " + counted(warnings, "warning");
  }
  return out + '\n';
}

InputError::InputError(std::vector<Diagnostic> diagnostics)
    : std::runtime_error(to_text(diagnostics)), diagnostics_(std::move(diagnostics)) {}

namespace {

/// Length of the UTF-8 character at s[i], 0 if there is none. RFC 3629: no overlong forms, no surrogates.
std::size_t character_length(std::string_view s, std::size_t i) {
  const auto byte = [&](std::size_t k) { return k < s.size() ? static_cast<unsigned char>(s[k]) : 0U; };
  const auto tail = [&](std::size_t k) { return (byte(k) & 0xC0U) == 0x80U; };
  const unsigned first = byte(i);
  if (first < 0x80U) {
    return 1;
  }
  if (first >= 0xC2U && first <= 0xDFU) {
    return tail(i + 1) ? 2 : 0;
  }
  if (first >= 0xE0U && first <= 0xEFU) {
    const bool overlong = first == 0xE0U && byte(i + 1) < 0xA0U;
    const bool surrogate = first == 0xEDU && byte(i + 1) >= 0xA0U;
    return tail(i + 1) && tail(i + 2) && !overlong && !surrogate ? 3 : 0;
  }
  if (first >= 0xF0U && first <= 0xF4U) {
    const bool overlong = first == 0xF0U && byte(i + 1) < 0x90U;
    const bool beyond = first == 0xF4U && byte(i + 1) >= 0x90U;
    return tail(i + 1) && tail(i + 2) && tail(i + 3) && !overlong && !beyond ? 4 : 0;
  }
  return 0;
}

} // namespace

std::optional<std::pair<int, int>> bad_character(std::string_view text) {
  int line = 1;
  int column = 1;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = character_length(text, i);
    const auto c = static_cast<unsigned char>(text[i]);
    // The second set of controls, U+0080 to U+009F, moves a terminal's cursor too.
    const bool second = length == 2 && c == 0xC2U && static_cast<unsigned char>(text[i + 1]) < 0xA0U;
    const bool control = (c < 0x20U && c != '\n' && c != '\r' && c != '\t') || c == 0x7FU || second;
    if (length == 0 || control) {
      return std::pair{line, column};
    }
    i += length;
    if (c == '\n') {
      ++line;
      column = 1;
    } else {
      ++column;
    }
  }
  return std::nullopt;
}

std::string nearest(std::string_view word, const std::vector<std::string>& words) {
  const auto distance = [&](std::string_view other) {
    std::vector<std::size_t> previous(other.size() + 1);
    std::vector<std::size_t> current(other.size() + 1);
    for (std::size_t j = 0; j <= other.size(); ++j) {
      previous[j] = j;
    }
    for (std::size_t i = 1; i <= word.size(); ++i) {
      current[0] = i;
      for (std::size_t j = 1; j <= other.size(); ++j) {
        const std::size_t replaced = previous[j - 1] + (word[i - 1] == other[j - 1] ? 0 : 1);
        current[j] = std::min({previous[j] + 1, current[j - 1] + 1, replaced});
      }
      std::swap(previous, current);
    }
    return previous[other.size()];
  };
  std::string best;
  std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (const std::string& candidate : words) {
    // Words differ by at least their difference in length; a text of a megabyte is not walked for that.
    const std::size_t lengths = std::max(word.size(), candidate.size()) - std::min(word.size(), candidate.size());
    const std::size_t d = lengths > least ? lengths : distance(candidate);
    if (d < least || (d == least && !best.empty() && candidate < best)) {
      least = d;
      best = candidate;
    }
  }
  return best;
}

std::string did_you_mean(std::string_view word, const std::vector<std::string>& words) {
  // One letter begins too many words to mean any.
  constexpr std::size_t few = 4;
  std::vector<std::string> meant;
  std::copy_if(words.begin(), words.end(), std::back_inserter(meant),
               [&](const std::string& w) { return word.size() > 1 && w.compare(0, word.size(), word) == 0; });
  if (meant.size() > few) {
    return "";
  }
  if (meant.empty() && word.size() >= few) {
    std::copy_if(words.begin(), words.end(), std::back_inserter(meant),
                 [&](const std::string& w) { return w.find(word) != std::string::npos; });
    if (meant.size() > few) {
      return "";
    }
  }
  if (meant.empty()) {
    meant.push_back(nearest(word, words));
  }
  return meant.front().empty() ? "" : fmt::format("did you mean {}?", fmt::join(meant, " or "));
}

std::string unknown_command(std::string_view word, const std::string& program, const std::vector<std::string>& commands,
                            const std::string& other, const std::vector<std::string>& elsewhere) {
  std::string out = fmt::format("'{}' is no {} of {}", word, word.rfind('-', 0) == 0 ? "option" : "command", program);
  if (std::find(elsewhere.begin(), elsewhere.end(), word) != elsewhere.end()) {
    out += fmt::format("; {} has it", other);
  } else if (const std::string meant = did_you_mean(word, commands); !meant.empty()) {
    out += ", " + meant;
  }
  return out + fmt::format("\nCommands: {}\n", fmt::join(commands, ", "));
}

} // namespace clampfade

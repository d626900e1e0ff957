// A text file as a tree of items that know their place, and the list of faults found in it. No YAML here.
#pragma once

#include "solver/diagnostics.hpp"

#include <cstddef>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// A file's name and its lines, for messages. Tables of millions of rows have one: eight bytes a line beside the text.
struct Source {
  std::string file;
  std::string text;
  std::vector<std::size_t> starts; ///< of the lines in the text, ascending

  [[nodiscard]] std::size_t lines() const { return starts.size(); }
  /// A line by its number from 0, below lines(), without its end.
  [[nodiscard]] std::string_view line(std::size_t number) const;
};
std::shared_ptr<const Source> make_source(std::string file, std::string_view text);

/// A value in a file: nothing, a scalar, a list or a map. Places count from 1, columns in characters.
struct Item {
  enum class Kind { Null, Scalar, List, Map };
  Kind kind = Kind::Null;
  std::string text;    ///< of a scalar
  bool quoted = false; ///< quoted text is never a number
  const Source* source = nullptr;
  int line = 0, column = 0;
  struct Name {
    std::string text;
    int line = 0, column = 0;
  };
  std::vector<Name> names; ///< of a map, one for each of `items`, unique
  std::vector<Item> items; ///< of a list or a map

  [[nodiscard]] const Item* find(std::string_view name) const;
  [[nodiscard]] bool scalar() const { return kind == Kind::Scalar; }
  [[nodiscard]] bool list() const { return kind == Kind::List; }
  [[nodiscard]] bool map() const { return kind == Kind::Map; }
};

/// "a list", "a map", "nothing", "'text'": what an item is, for messages.
std::string what_it_is(const Item& item);
/// The item as one line of text that reads back to the same item.
std::string flow_text(const Item& item);
/// The item for people: like flow_text, without quotes round plain words.
std::string plain_text(const Item& item);
/// A scalar written so that YAML reads exactly this text back; quoted unless it is a plain word.
std::string yaml_text(std::string_view text);

/// Collects everything that is wrong, so that all of it can be said at once. `add` throws InputError with all of them
/// at the two hundredth: nobody mends a file by reading on from there, and a hostile one has a hundred thousand.
class Faults {
public:
  void add(Code code, const Item& at, std::string path, std::string found, std::string allowed = "",
           std::string hint = "");
  void add(Code code, const Source* source, int line, int column, std::string path, std::string found,
           std::string allowed = "", std::string hint = "");
  /// A warning by text; the same text is kept once.
  void warn(std::string text);
  [[nodiscard]] bool any() const { return !errors_.empty(); }
  [[nodiscard]] const std::vector<std::string>& warnings() const { return warnings_; }
  [[nodiscard]] const std::vector<Diagnostic>& errors() const { return errors_; }

private:
  std::vector<Diagnostic> errors_;
  std::vector<std::string> warnings_;
  std::set<std::string> told_; ///< warnings, to be found again
};

/// The text with every line end, CR LF and a lone CR too, as LF.
std::string plain_line_ends(std::string_view text);

/// What no table of measurements comes to, so that a file full of commas or line ends is refused before it takes a
/// gigabyte: five million lines are a drive of two months second by second, sixteen million cells a million rows with
/// every column that a record of a wrench can have. Our choices, no source.
inline constexpr std::size_t kMostCsvLines = 5'000'000;
inline constexpr std::size_t kMostCsvCells = 16'000'000;
inline constexpr std::size_t kLongestCsvLine = 1'000'000; ///< [bytes]
/// Which of these limits the text goes beyond, in words, and the line; none if it keeps them.
struct CsvExcess {
  int line = 0; ///< 0 where it is not of one line
  std::string what;
};
std::optional<CsvExcess> csv_excess(std::string_view text);

/// Cells of a CSV text by row; "" quoting, both line ends, blank lines and lines that begin with # skipped.
struct CsvRow {
  int line = 0; ///< in the file, from 1
  std::vector<std::string> cells;
};
std::vector<CsvRow> csv_rows(std::string_view text);
/// A cell, quoted where it must be.
std::string csv_cell(std::string_view text);

/// The whole of a file, or none if it can't be read; `reason` is the system's. Longer than `limit` is cut at limit + 1.
std::optional<std::string> file_text(const std::string& path, std::size_t limit, std::string& reason);

} // namespace clampfade

#include "solver/io/document.hpp"

#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <system_error>
#include <utility>

namespace clampfade {

namespace {

bool plain_word(std::string_view text) {
  static constexpr std::string_view safe = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-+./*%^() ";
  static constexpr std::array<std::string_view, 12> words = {"true", "false", "null",  "yes",  "no",  "on",
                                                             "off",  "True",  "False", "Null", "Yes", "No"};
  if (text.empty() || text.front() == ' ' || text.back() == ' ' || text.find_first_not_of(safe) != std::string::npos) {
    return false;
  }
  const char c = text.front();
  const bool starts = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                      ((c == '-' || c == '+') && text.size() > 1 && text[1] >= '0' && text[1] <= '9');
  return starts && std::find(words.begin(), words.end(), text) == words.end();
}

std::string double_quoted(std::string_view text) {
  std::string out = "\"";
  for (char c : text) {
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (c == '\n') {
      out += "\\n";
    } else if (c == '\t') {
      out += "\\t";
    } else {
      out += c;
    }
  }
  return out + '"';
}

std::string as_text(const Item& item, bool for_people) {
  switch (item.kind) {
  case Item::Kind::Null:
    return "null";
  case Item::Kind::Scalar:
    if (for_people) {
      return item.text;
    }
    // A plain scalar stays plain if it can: quotes would turn a number or a truth value into text.
    return !item.quoted && (plain_word(item.text) || item.text == "true" || item.text == "false")
               ? item.text
               : double_quoted(item.text);
  case Item::Kind::List: {
    std::string out = "[";
    for (const Item& child : item.items) {
      out += (out.size() > 1 ? ", " : "") + as_text(child, for_people);
    }
    return out + ']';
  }
  case Item::Kind::Map:
    break;
  }
  std::string out = "{";
  for (std::size_t i = 0; i < item.items.size(); ++i) {
    out += (i > 0 ? ", " : "") + (for_people ? item.names[i].text : yaml_text(item.names[i].text)) + ": " +
           as_text(item.items[i], for_people);
  }
  return out + '}';
}

} // namespace

std::string_view Source::line(std::size_t number) const {
  const std::size_t start = starts.at(number);
  const std::size_t end = number + 1 < starts.size() ? starts[number + 1] - 1 : text.size();
  std::string_view line = std::string_view(text).substr(start, end - start);
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r')) {
    line.remove_suffix(1);
  }
  return line;
}

std::shared_ptr<const Source> make_source(std::string file, std::string_view text) {
  auto source = std::make_shared<Source>();
  source->file = std::move(file);
  source->text = text;
  for (std::size_t start = 0; start < text.size();) {
    source->starts.push_back(start);
    const std::size_t end = text.find('\n', start);
    start = end == std::string_view::npos ? text.size() : end + 1;
  }
  return source;
}

const Item* Item::find(std::string_view name) const {
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i].text == name) {
      return &items[i];
    }
  }
  return nullptr;
}

std::string what_it_is(const Item& item) {
  switch (item.kind) {
  case Item::Kind::Null:
    return "nothing";
  case Item::Kind::List:
    return "a list";
  case Item::Kind::Map:
    return "a map";
  case Item::Kind::Scalar:
    break;
  }
  return (item.quoted ? "the text '" : "'") + item.text + "'";
}

std::string flow_text(const Item& item) { return as_text(item, false); }
std::string plain_text(const Item& item) { return as_text(item, true); }

std::string yaml_text(std::string_view text) {
  return plain_word(text) && !plain_number(text) ? std::string(text) : double_quoted(text);
}

namespace {
constexpr std::size_t kMostFaults = 200;   ///< of one file that are told
constexpr std::size_t kLongestLine = 400;  ///< that is shown with a caret below it
constexpr std::size_t kLongestText = 4000; ///< of a message [bytes]; lists of all keys or units are shorter

/// A message does not repeat a megabyte that stands in the file.
std::string clipped(std::string text) {
  if (text.size() > kLongestText) {
    std::size_t end = kLongestText;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) {
      --end; // inside a character of several bytes
    }
    text.resize(end);
    text += " ...";
  }
  return text;
}
} // namespace

void Faults::add(Code code, const Item& at, std::string path, std::string found, std::string allowed,
                 std::string hint) {
  add(code, at.source, at.line, at.column, std::move(path), std::move(found), std::move(allowed), std::move(hint));
}

void Faults::add(Code code, const Source* source, int line, int column, std::string path, std::string found,
                 std::string allowed, std::string hint) {
  Diagnostic d;
  d.code = code;
  d.path = clipped(std::move(path));
  d.found = clipped(std::move(found));
  d.allowed = clipped(std::move(allowed));
  d.hint = clipped(std::move(hint));
  if (source != nullptr) {
    d.place = {source->file, line, column};
    if (line > 0 && static_cast<std::size_t>(line) <= source->lines()) {
      const std::string_view text = source->line(static_cast<std::size_t>(line) - 1);
      d.line = text.size() <= kLongestLine ? text : "";
      // What the file must not hold must not reach the terminal either.
      if (bad_character(d.line)) {
        for (char& c : d.line) {
          const auto byte = static_cast<unsigned char>(c);
          c = byte < 0x20U || byte > 0x7EU ? '?' : c;
        }
      }
    }
  }
  errors_.push_back(std::move(d));
  if (errors_.size() >= kMostFaults) {
    throw InputError(errors_);
  }
}

void Faults::warn(std::string text) {
  if (told_.insert(text).second) {
    warnings_.push_back(std::move(text));
  }
}

std::string plain_line_ends(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r') {
      out += text[i];
    } else if (i + 1 >= text.size() || text[i + 1] != '\n') {
      out += '\n';
    }
  }
  return out;
}

std::optional<CsvExcess> csv_excess(std::string_view text) {
  std::size_t lines = 0;
  std::size_t cells = 0;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    const std::string_view line = text.substr(start, end - start);
    ++lines;
    cells += 1 + static_cast<std::size_t>(std::count(line.begin(), line.end(), ','));
    if (line.size() > kLongestCsvLine) {
      return CsvExcess{static_cast<int>(lines), fmt::format("this line is longer than {} bytes", kLongestCsvLine)};
    }
    if (lines > kMostCsvLines) {
      return CsvExcess{0, fmt::format("the table has more than {} lines", kMostCsvLines)};
    }
    if (cells > kMostCsvCells) {
      return CsvExcess{0, fmt::format("the table has more than {} cells", kMostCsvCells)};
    }
    start = end + 1;
  }
  return std::nullopt;
}

std::vector<CsvRow> csv_rows(std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") {
    text.remove_prefix(3);
  }
  std::vector<CsvRow> rows;
  int line = 0;
  while (!text.empty()) {
    ++line;
    const std::size_t end = text.find('\n');
    std::string_view row = text.substr(0, end);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    if (!row.empty() && row.back() == '\r') {
      row.remove_suffix(1);
    }
    if (row.find_first_not_of(" \t") == std::string_view::npos || row.front() == '#') {
      continue;
    }
    CsvRow parsed{line, {}};
    std::string cell;
    bool inside = false;
    bool was_quoted = false;
    const auto finish = [&] {
      if (!was_quoted) {
        const std::size_t first = cell.find_first_not_of(" \t");
        const std::size_t last = cell.find_last_not_of(" \t");
        cell = first == std::string::npos ? "" : cell.substr(first, last - first + 1);
      }
      parsed.cells.push_back(std::move(cell));
      cell.clear();
      was_quoted = false;
    };
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (inside && row[i] == '"' && i + 1 < row.size() && row[i + 1] == '"') {
        cell += '"';
        ++i;
      } else if (row[i] == '"' && (inside || cell.find_first_not_of(" \t") == std::string::npos)) {
        inside = !inside;
        if (inside) {
          cell.clear();
          was_quoted = true;
        }
      } else if (row[i] == ',' && !inside) {
        finish();
      } else {
        cell += row[i];
      }
    }
    finish();
    rows.push_back(std::move(parsed));
  }
  return rows;
}

std::string csv_cell(std::string_view text) {
  const bool spaces = !text.empty() && (text.front() == ' ' || text.back() == ' ' || text.front() == '#');
  if (!spaces && text.find_first_of(",\"\t") == std::string_view::npos) {
    return std::string(text);
  }
  std::string out = "\"";
  for (char c : text) {
    out += c == '"' ? "\"\"" : std::string(1, c);
  }
  return out + '"';
}

std::optional<std::string> file_text(const std::string& path, std::size_t limit, std::string& reason) {
  const auto close = [](std::FILE* f) { std::fclose(f); };
  errno = 0;
  const std::unique_ptr<std::FILE, decltype(close)> file(std::fopen(path.c_str(), "rb"), close);
  if (!file) {
    reason = std::generic_category().message(errno);
    return std::nullopt;
  }
  std::string text;
  std::array<char, 65536> block{};
  while (text.size() <= limit) {
    const std::size_t n = std::fread(block.data(), 1, block.size(), file.get());
    text.append(block.data(), n);
    if (n < block.size()) {
      break;
    }
  }
  if (std::ferror(file.get()) != 0) {
    reason = std::generic_category().message(errno);
    return std::nullopt;
  }
  text.resize(std::min(text.size(), limit + 1));
  return text;
}

} // namespace clampfade

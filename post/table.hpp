// Aligned tables and wrapped paragraphs of plain text.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade::post {

/// Columns of a terminal that a report keeps to, words permitting.
inline constexpr std::size_t kWidth = 80;

/// Characters on the screen, for text of single-width characters in UTF-8.
std::size_t width(std::string_view text);

/// Breaks at blanks; every line starts with `indent` blanks and ends with a newline.
std::string wrap(std::string_view text, std::size_t indent = 0, std::size_t columns = kWidth);

/// Text between the escape sequences of a terminal, `code` as in "1;31"; without colour as it is.
std::string marked(const char* code, const std::string& text, bool colour);

/// First column left-aligned, the others right-aligned; or the last one left-aligned and wrapped, for sentences. A
/// table too wide for the terminal closes up, then wraps its first column.
class Table {
public:
  explicit Table(std::vector<std::string> header, bool last_is_text = false)
      : rows_{std::move(header)}, last_is_text_(last_is_text) {}
  /// As many cells as the header has.
  void add(std::vector<std::string> cells);
  [[nodiscard]] bool empty() const { return rows_.size() == 1; }
  /// `page`: columns that it may take.
  [[nodiscard]] std::string text(std::size_t page = kWidth) const;

private:
  std::vector<std::vector<std::string>> rows_;
  bool last_is_text_;
};

} // namespace clampfade::post

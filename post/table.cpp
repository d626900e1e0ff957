#include "post/table.hpp"

#include <algorithm>
#include <numeric>
#include <stdexcept>

namespace clampfade::post {

std::size_t width(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string marked(const char* code, const std::string& text, bool colour) {
  return colour ? std::string("\x1b[") + code + "m" + text + "\x1b[0m" : text;
}

std::string wrap(std::string_view text, std::size_t indent, std::size_t columns) {
  const std::string margin(indent, ' ');
  std::string out;
  std::string line;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find_first_of(" \n", start), text.size());
    const std::string_view word = text.substr(start, end - start);
    if (!line.empty() && !word.empty() && indent + width(line) + 1 + width(word) > columns) {
      out += margin + line + '\n';
      line.clear();
    }
    if (!word.empty()) {
      line += (line.empty() ? "" : " ") + std::string(word);
    }
    start = end + 1;
  }
  return out + margin + line + '\n';
}

void Table::add(std::vector<std::string> cells) {
  if (cells.size() != rows_.front().size()) {
    throw std::logic_error("a table's row has another number of cells than its header");
  }
  rows_.push_back(std::move(cells));
}

std::string Table::text(std::size_t page) const {
  const std::size_t columns = rows_.front().size();
  std::vector<std::size_t> widths(columns, 0);
  for (const auto& row : rows_) {
    for (std::size_t c = 0; c < columns; ++c) {
      widths[c] = std::max(widths[c], width(row[c]));
    }
  }
  constexpr std::size_t margin = 2;
  std::size_t between = 2;
  if (!last_is_text_) {
    const std::size_t cells = std::accumulate(widths.begin(), widths.end(), std::size_t{0});
    if (margin + cells + between * (columns - 1) > page) {
      between = 1;
    }
    // What is still too wide is the names' fault: they wrap.
    const std::size_t others = margin + cells - widths[0] + between * (columns - 1);
    constexpr std::size_t narrowest = 8;
    widths[0] = std::min(widths[0], page > others + narrowest ? page - others : narrowest);
  }
  std::string out;
  for (const auto& row : rows_) {
    // The numbers stand in the last line of a wrapped name.
    std::string name = row[0];
    if (width(name) > widths[0]) {
      name = wrap(name, 0, widths[0]);
      name.pop_back();
      for (std::size_t end = name.find('\n'); end != std::string::npos; end = name.find('\n')) {
        out += std::string(margin, ' ') + name.substr(0, end) + '\n';
        name.erase(0, end + 1);
      }
    }
    std::string line(margin, ' ');
    for (std::size_t c = 0; c < columns; ++c) {
      const std::string& text = c == 0 ? name : row[c];
      const std::string pad(widths[c] > width(text) ? widths[c] - width(text) : 0, ' ');
      const std::string gap(c == 0 ? 0 : between, ' ');
      if (c + 1 == columns && last_is_text_) {
        const std::size_t indent = width(line) + gap.size();
        const std::string cell = wrap(text, 0, page > indent + 20 ? page - indent : 20);
        line += gap;
        for (const char letter : cell.substr(0, cell.size() - 1)) {
          line += letter;
          if (letter == '\n') {
            line += std::string(indent, ' ');
          }
        }
      } else {
        line += gap + (c == 0 ? text + pad : pad + text);
      }
    }
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + '\n';
  }
  return out;
}

} // namespace clampfade::post

// Looking for words in what a program says.
#pragma once

#include <string>

namespace clampfade::test {

inline bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Line breaks and runs of blanks are one blank: wrapping does not matter to a reader.
inline std::string flat(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const char letter = c == '\n' ? ' ' : c;
    if (letter != ' ' || out.empty() || out.back() != ' ') {
      out += letter;
    }
  }
  return out;
}

} // namespace clampfade::test

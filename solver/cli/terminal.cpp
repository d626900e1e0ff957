#include "solver/cli/terminal.hpp"

#include "solver/basis.hpp"
#include "solver/cli/streams.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <unistd.h>
#include <utility>

namespace clampfade {

namespace {

volatile std::sig_atomic_t asked = 0;

extern "C" void ask_to_stop(int signal) {
  asked = signal;
  // Whoever asks twice means it; the file on disk is whole at any moment.
  std::signal(signal, SIG_DFL);
}

bool terminal(int descriptor) {
  const char* term = std::getenv("TERM");
  return isatty(descriptor) == 1 && term != nullptr && std::string_view(term) != "dumb";
}

bool coloured() {
  const char* off = std::getenv("NO_COLOR");
  return terminal(STDERR_FILENO) && (off == nullptr || *off == '\0');
}

std::string span_text(double seconds) {
  const ShownUnit unit = shown_unit("s", seconds, UnitSystem::Si);
  return fmt::format("{:.0f} {}", unit(seconds), unit.name);
}

} // namespace

void listen_for_stop() {
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  if (std::signal(SIGHUP, ask_to_stop) == SIG_IGN) {
    std::signal(SIGHUP, SIG_IGN);
  }
}

int stop_signal() { return asked; }

std::string with_colour(std::string text) {
  if (!coloured()) {
    return text;
  }
  constexpr std::string_view word = "error [";
  constexpr std::string_view shown = "\x1b[1;31merror\x1b[0m [";
  for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + shown.size())) {
    text.replace(at, word.size(), shown);
  }
  return text;
}

ProgressLine::ProgressLine(bool quiet) : shown_(!quiet && terminal(STDERR_FILENO)) {}

void ProgressLine::show(double share, const std::string& what) {
  const double now = std::chrono::duration<double>(Clock::now() - start_).count();
  if (!started_) {
    // A resumed run starts part way; only what this process did tells how fast it is.
    first_ = share;
    started_ = true;
  }
  if (!shown_ || now < 1 || now - drawn_ < 0.1) {
    return;
  }
  drawn_ = now;
  std::string line = fmt::format("{}, {:.0f} %", what, 100 * share);
  if (share > first_) {
    line += ", " + span_text(now * (1 - share) / (share - first_)) + " left";
  }
  tell(fmt::format("\r{}\x1b[K", line));
  std::fflush(stderr);
}

void ProgressLine::clear() {
  if (drawn_ > 0) {
    tell("\r\x1b[K");
    std::fflush(stderr);
    drawn_ = 0;
  }
}

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string wrapped(std::string_view text, std::size_t indent, std::size_t width) {
  std::string out;
  std::size_t column = 0;
  while (!text.empty()) {
    const std::size_t end = text.find(' ');
    const std::string_view word = text.substr(0, end);
    if (column > indent && column + 1 + columns(word) > width) {
      out += '\n' + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      out += ' ';
      ++column;
    } else {
      column = indent;
    }
    out += word;
    column += columns(word);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  return out;
}

void print_basis(const std::vector<std::string>& warnings) {
  if (const std::string basis = basis_sentence(warnings); !basis.empty()) {
    fmt::print("{}\n", wrapped(basis, 0, kText));
  }
}

void print_cautions(const std::vector<std::string>& warnings) {
  if (!warnings.empty()) {
    fmt::print("\nWarnings\n");
    for (const std::string& w : warnings) {
      fmt::print("  - {}\n", wrapped(w, 4, kText));
    }
  }
  fmt::print("\nCautions\n");
  for (const std::string_view c : cautions()) {
    fmt::print("  - {}\n", wrapped(c, 4, kText));
  }
}

void print_rows(const std::vector<std::vector<std::string>>& rows, std::size_t left, std::size_t indent) {
  std::vector<std::size_t> width(rows.front().size(), 0);
  for (const auto& row : rows) {
    for (std::size_t k = 0; k < row.size(); ++k) {
      width[k] = std::max(width[k], columns(row[k]));
    }
  }
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t k = 0; k < row.size(); ++k) {
      const std::string pad(width[k] - columns(row[k]), ' ');
      line += std::string(k == 0 ? indent : 2, ' ') + (k < left ? row[k] + pad : pad + row[k]);
    }
    line.erase(line.find_last_not_of(' ') + 1);
    fmt::print("{}\n", line);
  }
}

std::string typeset(std::string unit) {
  for (const auto& [plain, shown] :
       {std::pair<std::string_view, std::string_view>{"um", "\u00B5m"}, {"degC", "\u00B0C"}, {"degF", "\u00B0F"}}) {
    if (unit.rfind(plain, 0) == 0) {
      unit.replace(0, plain.size(), shown);
    }
  }
  return unit;
}

} // namespace clampfade

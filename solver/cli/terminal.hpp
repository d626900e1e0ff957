// What the commands say to a person at a terminal. Results go to stdout, everything else to stderr.
#pragma once

#include <chrono>
#include <csignal>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// Makes SIGINT, SIGTERM and SIGHUP (the terminal is gone) ask for an end instead of bringing it; the second one brings
/// it. A SIGHUP that is ignored stays so: `nohup` asks for that.
void listen_for_stop();
/// The signal that asked for an end; 0 while none did.
int stop_signal();

/// The word "error" in red, where someone looks at it.
std::string with_colour(std::string text);

/// One line on stderr while a run goes on: only on a terminal, only after the first second, ten times a second at most.
class ProgressLine {
public:
  explicit ProgressLine(bool quiet);
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  ~ProgressLine() { clear(); }

  /// `share` of the work is done, 0 to 1; `what` says it in the user's terms.
  void show(double share, const std::string& what);
  void clear();

private:
  using Clock = std::chrono::steady_clock;
  bool shown_;
  Clock::time_point start_ = Clock::now();
  double drawn_ = 0;
  double first_ = 0;
  bool started_ = false;
};

/// Columns that the tables and paragraphs of `check` take at most.
inline constexpr std::size_t kPage = 100;
inline constexpr std::size_t kText = 80; ///< of running text

/// Characters on the screen.
std::size_t columns(std::string_view text);
/// A paragraph of at most `width` columns that begins at column `indent`, as its later lines do.
std::string wrapped(std::string_view text, std::size_t indent, std::size_t width);
/// Prints a table, two blanks between columns and `indent` before them: the first `left` columns to the left, the
/// others to the right. At least one row; the first is the longest.
void print_rows(const std::vector<std::vector<std::string>>& rows, std::size_t left = 0, std::size_t indent = 2);
/// A unit's name as the report writes it.
std::string typeset(std::string unit);

/// What the figures that follow rest on; nothing where they rest on measurements.
void print_basis(const std::vector<std::string>& warnings);
void print_cautions(const std::vector<std::string>& warnings);

} // namespace clampfade

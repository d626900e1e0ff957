#include "solver/io/instant.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cmath>

namespace clampfade {

namespace {

/// Reads a text from its front.
class Digits {
public:
  explicit Digits(std::string_view text) : text_(text) {}

  /// Exactly `count` digits.
  std::optional<int> number(std::size_t count) {
    if (text_.size() < count) {
      return std::nullopt;
    }
    int value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      if (text_[i] < '0' || text_[i] > '9') {
        return std::nullopt;
      }
      value = 10 * value + (text_[i] - '0');
    }
    text_.remove_prefix(count);
    return value;
  }
  bool sign(char c) {
    const bool there = !text_.empty() && text_.front() == c;
    text_.remove_prefix(there ? 1 : 0);
    return there;
  }
  [[nodiscard]] bool done() const { return text_.empty(); }
  [[nodiscard]] bool digit() const { return !done() && text_.front() >= '0' && text_.front() <= '9'; }

private:
  std::string_view text_;
};

/// Seconds from the front of a time of day; none if it is none.
std::optional<double> time_of_day(Digits& in) {
  const auto hour = in.number(2);
  if (!hour || *hour > 23 || !in.sign(':')) {
    return std::nullopt;
  }
  const auto minute = in.number(2);
  if (!minute || *minute > 59) {
    return std::nullopt;
  }
  double seconds = 3600.0 * *hour + 60.0 * *minute;
  if (in.sign(':')) {
    const auto whole = in.number(2);
    if (!whole || *whole > 59) {
      return std::nullopt;
    }
    seconds += *whole;
    if (in.sign('.')) {
      if (!in.digit()) {
        return std::nullopt;
      }
      for (double place = 0.1; in.digit(); place /= 10) {
        seconds += place * *in.number(1);
      }
    }
  }
  return seconds;
}

/// Seconds that a clock is ahead of UTC; none if what is left is no offset.
std::optional<double> clock_offset(Digits& in) {
  if (in.sign('Z')) {
    return 0;
  }
  const bool ahead = in.sign('+');
  if (!ahead && !in.sign('-')) {
    return std::nullopt;
  }
  const auto hours = in.number(2);
  if (!hours || *hours > 14) {
    return std::nullopt;
  }
  double seconds = 3600.0 * *hours;
  if (!in.done()) {
    in.sign(':');
    const auto minutes = in.number(2);
    if (!minutes || *minutes > 59) {
      return std::nullopt;
    }
    seconds += 60.0 * *minutes;
  }
  return ahead ? seconds : -seconds;
}

} // namespace

std::optional<Instant> read_instant(std::string_view text) {
  Digits in(text);
  const auto year = in.number(4);
  if (!year || *year < 1900 || *year > 2199 || !in.sign('-')) {
    return std::nullopt;
  }
  const auto month = in.number(2);
  if (!month || !in.sign('-')) {
    return std::nullopt;
  }
  const auto day = in.number(2);
  if (!day) {
    return std::nullopt;
  }
  const std::chrono::year_month_day date{std::chrono::year(*year), std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  if (!date.ok()) {
    return std::nullopt;
  }
  Instant instant;
  instant.seconds = 86400.0 * static_cast<double>(std::chrono::sys_days(date).time_since_epoch().count());
  if (in.done()) {
    return instant;
  }
  if (!in.sign('T') && !in.sign(' ')) {
    return std::nullopt;
  }
  const auto seconds = time_of_day(in);
  if (!seconds) {
    return std::nullopt;
  }
  instant.time = true;
  instant.seconds += *seconds;
  if (in.done()) {
    return instant;
  }
  const auto offset = clock_offset(in);
  if (!offset || !in.done()) {
    return std::nullopt;
  }
  instant.ahead = offset;
  instant.seconds -= *offset;
  return instant;
}

std::string instant_text(double utc, std::optional<double> ahead) {
  const double seconds = utc + ahead.value_or(0);
  const auto whole = static_cast<std::int64_t>(std::floor(seconds));
  const std::chrono::sys_seconds at{std::chrono::seconds(whole)};
  const auto midnight = std::chrono::floor<std::chrono::days>(at);
  const std::chrono::year_month_day date(midnight);
  const auto of_day = (at - midnight).count();
  std::string offset;
  if (ahead) {
    const auto minutes = static_cast<int>(std::abs(*ahead) / 60);
    offset = fmt::format("{}{:02}:{:02}", *ahead < 0 ? '-' : '+', minutes / 60, minutes % 60);
  }
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{}", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), of_day / 3600,
                     of_day / 60 % 60, of_day % 60, offset);
}

} // namespace clampfade

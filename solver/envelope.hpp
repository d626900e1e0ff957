// Which days of a run are integrated in stretches, decided from what came of the days before. EQUATIONS.md 13.
#pragma once

#include "solver/scenario.hpp"

#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace clampfade {

class Envelope {
public:
  enum class Way {
    Spans,
    Stretches,
    Checked ///< in stretches, some of which are held against their spans
  };
  struct Choice {
    Way way = Way::Spans;
    std::string_view resolution; ///< as StepsRow has it
  };

  /// stretches: whether the working day has anything that may be drawn together.
  Envelope(Resolution resolution, bool stretches) : resolution_(resolution), stretches_(stretches) {}

  /// worked: it is no day off; hot: it has brake heat of its own.
  [[nodiscard]] Choice choose(std::size_t day, bool worked, bool hot) const;

  /// Whether stretches may end so far from their spans: cold clamp of a day over the largest first clamp, node
  /// temperature [K].
  [[nodiscard]] static bool stands(double clamp, double temperature);

  /// The wrench has moved something on this day: what stretches were held against before says nothing about what comes.
  void act(std::size_t day);
  /// This day's stretches stood against its spans, with clamps so far apart over the largest first clamp. The next look
  /// comes before that much a day adds up to 5e-4, and within a quarter of a year: a season is another heat.
  void believe(std::size_t day, double apart);
  /// This day's stretches did not: spans by themselves for a while, a day at first, twice as many each time it happens
  /// again.
  void doubt(std::size_t day);

  /// What a checkpoint holds of it.
  void save(std::vector<std::int64_t>& out) const;
  void load(const std::int64_t*& in);

private:
  Resolution resolution_;
  bool stretches_;
  std::size_t untouched_from_ = 0; ///< first day that begins after the last act of the wrench
  std::size_t next_look_ = 0;      ///< first day to be checked again
  std::size_t stretches_from_ = 0; ///< first day on which stretches may be tried again
  std::size_t waited_ = 0;         ///< days by spans after the last doubt
};

} // namespace clampfade

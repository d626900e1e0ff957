#include "solver/span_system.hpp"

#include "solver/diagnostics.hpp"
#include "solver/step_grid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {
constexpr double kShortest = 1e-18;      // s
constexpr double kSameInstant = 1e-6;    // s: an opening is not located closer
constexpr std::uint64_t kMost = 2000000; // steps in a span

bool opens(const Wheel& wheel, const State& before, const State& after) {
  for (std::size_t c = 0; c < wheel.columns(); ++c) {
    if (wheel.nut_on(after, c) && !wheel.open(before, c) && wheel.open(after, c)) {
      return true;
    }
  }
  return false;
}
} // namespace

double SpanSystem::distance(const State& a, const State& b) const {
  double largest = 0;
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    largest = std::max(largest, std::abs(wheel_.clamp(a, c) - wheel_.clamp(b, c)));
  }
  return largest / (tolerance_ * wheel_.scale());
}

double SpanSystem::locate_opening(const State& before, double t, double h, State& after) {
  const double close = std::max(1e-9 * h, kSameInstant);
  double low = 0;
  double high = h;
  double done = h; // the length that `after` belongs to
  // When the clamps seen last before the opening come to nothing, of those that open.
  double seen = 0;
  double expected = h;
  std::vector<double> clamps;
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    clamps.push_back(wheel_.clamp(before, c));
  }
  bool halve = true; // where a clamp is expected to come to nothing, and the middle, by turns
  State trial;
  for (int i = 0; i < 60 && high - low > close; ++i) {
    double at = (low + high) / 2;
    if (!halve && expected > low && expected < high) {
      at = std::clamp(expected, low + close / 2, high - close / 2);
    }
    halve = !halve;
    const bool found = std::isfinite(wheel_.step(before, t, at, roads_, nodes_, tolerance_, trial));
    if (found && !opens(wheel_, before, trial)) {
      expected = high;
      for (std::size_t c = 0; c < wheel_.columns(); ++c) {
        const double clamp = wheel_.clamp(trial, c);
        if (wheel_.open(after, c) && !wheel_.open(before, c) && clamp < clamps[c]) {
          expected = std::min(expected, at + clamp * (at - seen) / (clamps[c] - clamp) + close / 4);
        }
        clamps[c] = clamp;
      }
      seen = low = at;
    } else {
      high = at;
      expected = std::min(expected, high) - close / 2;
      if (found) {
        after = trial; // the shortest step so far that opens
        done = at;
      }
    }
  }
  return done;
}

void SpanSystem::run(SettlingStepper& stepper, State& x, double from, double to, double& step,
                     const Observer& observer) {
  double t = from;
  std::uint64_t tries = 0;
  while (t < to) {
    const double left = to - t;
    const double wanted = step >= left * (1 - 1e-12) ? left : step;
    double h = wheel_.until_heat_turns(x, t, wanted, nodes_, tolerance_);
    const double tried = h;
    const bool last = wanted == left && tried == wanted;
    if (h < kShortest || ++tries > kMost) {
      const std::string why = h < kShortest ? fmt::format("a step of {:.3g} s is still too long", h)
                                            : fmt::format("{} steps were not enough, the last of {:.3g} s", kMost, h);
      throw NumericalError(Code::StepTooSmall,
                           fmt::format("losses at {:.9g} s of a span of {:.6g} s: {}, limited by {}; a larger "
                                       "solution.tolerance may help",
                                       t, to - from, why, wheel_.controlled_by()));
    }
    before_ = x;
    double now = t;
    if (stepper.try_step(std::ref(*this), x, now, h) != boost::numeric::odeint::success) {
      step = on_step_grid(h);
      continue;
    }
    double done = tried;
    bool cut = false;
    if (opens(wheel_, before_, x)) {
      done = locate_opening(before_, t, tried, x);
      cut = done < tried;
    }
    if (observer) {
      observer(before_, x, t, done);
    }
    t = last && !cut ? to : t + done;
    const bool shortened = !cut && (last || tried < wanted); // by the span or the heat, not by what it could bear
    step = shortened ? std::max(step, on_step_grid(h)) : on_step_grid(h);
  }
}

} // namespace clampfade

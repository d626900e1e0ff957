#include "solver/envelope.hpp"

#include <algorithm>

namespace clampfade {

namespace {
constexpr double kClampApart = 1e-4;     // of the largest first clamp
constexpr double kHeatApart = 2;         // K
constexpr double kClampAdded = 5e-4;     // of it, what the days between two looks may add up to
constexpr std::size_t kNextLook = 4;     // times the days since the wrench, from one look to the next
constexpr std::size_t kSeason = 91;      // days, the most from one look to the next
constexpr std::size_t kLongestWait = 28; // days
} // namespace

Envelope::Choice Envelope::choose(std::size_t day, bool worked, bool hot) const {
  if (resolution_ == Resolution::EveryStop) {
    return {Way::Spans, "every-stop"};
  }
  if (!worked) {
    return {Way::Spans, "envelope"}; // the same both ways
  }
  if (hot) {
    return {Way::Spans, "every-stop: hot day"};
  }
  if (!stretches_) {
    return {Way::Spans, "every-stop: no stops to draw together"};
  }
  if (day < stretches_from_) {
    return {Way::Spans, "every-stop: stretches failed on a day before"};
  }
  if (day < next_look_) {
    return {Way::Stretches, "envelope"};
  }
  return {Way::Checked, "envelope, checked"};
}

bool Envelope::stands(double clamp, double temperature) { return clamp <= kClampApart && temperature <= kHeatApart; }

void Envelope::act(std::size_t day) { untouched_from_ = next_look_ = day + 1; }

void Envelope::believe(std::size_t day, double apart) {
  waited_ = 0;
  if (untouched_from_ <= day) { // or the next look stands already, at what an act of this day has left
    const std::size_t days = std::min(kSeason, kNextLook * std::max<std::size_t>(1, day - untouched_from_));
    const double within = kClampAdded / std::max(apart, kClampAdded / kSeason); // days that may add up
    next_look_ = day + 1 + std::min(days, static_cast<std::size_t>(within));
  }
}

void Envelope::doubt(std::size_t day) {
  waited_ = std::clamp<std::size_t>(2 * waited_, 1, kLongestWait);
  stretches_from_ = next_look_ = day + 1 + waited_;
}

void Envelope::save(std::vector<std::int64_t>& out) const {
  for (const std::size_t day : {untouched_from_, next_look_, stretches_from_, waited_}) {
    out.push_back(static_cast<std::int64_t>(day));
  }
}

void Envelope::load(const std::int64_t*& in) {
  for (std::size_t* day : {&untouched_from_, &next_look_, &stretches_from_, &waited_}) {
    *day = static_cast<std::size_t>(*in++);
  }
}

} // namespace clampfade

#include "solver/recheck.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;

namespace {

constexpr double kDay = 86400;

/// Studs seen to one after another, ten seconds apart.
std::vector<StudEvent> visit(double start, std::initializer_list<std::size_t> studs,
                             std::optional<double> odometer = {}) {
  std::vector<StudEvent> out;
  for (const std::size_t stud : studs) {
    out.push_back({start + 10 * static_cast<double>(out.size()), stud, odometer});
  }
  return out;
}

} // namespace

TEST_CASE("recheck: only a visit to all studs counts, and it ends with its last stud") {
  std::vector<StudEvent> events = visit(0, {1, 2, 3, 4}, 5e6);
  for (const StudEvent& e : visit(kDay, {1, 2, 4}, 6e6)) {
    events.push_back(e); // one is left out
  }
  const auto last = last_whole_visit(events, 4, 3600);
  REQUIRE(last.has_value());
  CHECK(last->instant == 30);
  CHECK(last->odometer.value() == 5e6);
  CHECK_FALSE(last_whole_visit(visit(0, {1, 2, 2, 1}), 3, 3600).has_value());
  CHECK_FALSE(last_whole_visit(visit(0, {1, 2, 3}), 3, 5).has_value()); // ten seconds apart are three visits
  for (const StudEvent& e : visit(2 * kDay, {4, 3, 2, 1})) {
    events.push_back(e);
  }
  CHECK(last_whole_visit(events, 4, 3600)->instant == 2 * kDay + 30);
  CHECK_FALSE(last_whole_visit(events, 4, 3600)->odometer.has_value()); // not that of an earlier visit
}

TEST_CASE("recheck: a prediction brings the re-check forward and never puts it off") {
  const RecheckInterval week{7 * kDay, 80e3};
  const WholeVisit last{0, 1e6};
  const RecheckDue plain = next_recheck(last, week, {});
  CHECK(plain.instant.value() == 7 * kDay);
  CHECK(plain.odometer.value() == 1.08e6);
  CHECK_FALSE(plain.time_predicted);

  const std::vector<PredictedFall> soon = {{0, 1e6, 4 * kDay, 60e3}};
  const RecheckDue early = next_recheck(last, week, soon);
  CHECK(early.instant.value() == kRecheckShare * 4 * kDay);
  CHECK(early.time_predicted);
  CHECK(early.odometer.value() == 1e6 + kRecheckShare * 60e3);
  CHECK(early.distance_predicted);

  const std::vector<PredictedFall> late = {{0, 1e6, 400 * kDay, 20e6}};
  CHECK(next_recheck(last, week, late).instant.value() == 7 * kDay);
  CHECK(next_recheck(last, week, late).odometer.value() == 1.08e6);
  const std::vector<PredictedFall> never = {{0, 1e6, {}, {}}};
  CHECK(next_recheck(last, week, never).instant.value() == 7 * kDay);
  // Of several the earliest counts.
  CHECK(next_recheck(last, week, std::vector<PredictedFall>{late[0], soon[0], never[0]}).instant == early.instant);
}

TEST_CASE("recheck: a clamp that is too low as tightened is due at once, until the wheel has been seen to") {
  const RecheckInterval week{7 * kDay, 80e3};
  const std::vector<PredictedFall> fall = {{0, 1e6, 0.0, 0.0}};
  CHECK(next_recheck({0, 1e6}, week, fall).instant.value() == 0);
  CHECK(next_recheck({0, 1e6}, week, fall).odometer.value() == 1e6);
  CHECK(next_recheck({kDay, 1.01e6}, week, fall).instant.value() == 8 * kDay);
  CHECK(next_recheck({kDay, 1.01e6}, week, fall).odometer.value() == 1.09e6);
}

TEST_CASE("recheck: a check on the way leaves the fall itself, one after it leaves the interval") {
  const RecheckInterval week{7 * kDay, {}};
  const std::vector<PredictedFall> fall = {{0, {}, 4 * kDay, 60e3}};
  CHECK(next_recheck({kDay, {}}, week, fall).instant.value() == 2 * kDay);
  CHECK(next_recheck({2.5 * kDay, {}}, week, fall).instant.value() == 4 * kDay);
  CHECK(next_recheck({5 * kDay, {}}, week, fall).instant.value() == 12 * kDay);
  CHECK_FALSE(next_recheck({kDay, {}}, week, fall).odometer.has_value()); // the odometer then is not known
}

#include "solver/envelope.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

using namespace clampfade;
using Way = Envelope::Way;

namespace {

/// Ways of the days from `first` to before `end`, each check passed with clamps so far apart; "2" for stretches that
/// are checked, "1" for others.
std::string believing(Envelope& envelope, std::size_t first, std::size_t end, double apart = 0) {
  std::string ways;
  for (std::size_t day = first; day < end; ++day) {
    const Way way = envelope.choose(day, true, false).way;
    ways += way == Way::Checked ? '2' : way == Way::Stretches ? '1' : '.';
    if (way == Way::Checked) {
      envelope.believe(day, apart);
    }
  }
  return ways;
}

} // namespace

TEST_CASE("envelope: looks lie ever farther apart while stretches stand, and start over after the wrench") {
  Envelope envelope(Resolution::Envelope, true);
  CHECK(believing(envelope, 0, 30) == "211112111111111111111111112111");
  envelope.act(30);
  CHECK(believing(envelope, 31, 38) == "2111121");
}

TEST_CASE("envelope: what the days between two looks add up to is bounded, and no look is more than a season away") {
  for (const double apart : {1e-4, 3e-5, 0.0}) {
    CAPTURE(apart);
    Envelope envelope(Resolution::Envelope, true);
    const std::string ways = believing(envelope, 0, 728, apart);
    std::size_t between = 0;
    std::size_t longest = 0;
    for (const char way : ways) {
      between = way == '2' ? 0 : between + 1;
      longest = std::max(longest, between);
      CHECK(static_cast<double>(between) * apart <= 5e-4 * (1 + 1e-12));
    }
    CHECK(longest == (apart > 9e-5 ? 5 : apart > 2e-5 ? 16 : 91));
  }
}

TEST_CASE("envelope: a wrench on a day that is checked has the next day checked too") {
  Envelope envelope(Resolution::Envelope, true);
  envelope.act(0); // before the day is over
  envelope.believe(0, 0);
  CHECK(believing(envelope, 1, 8) == "2111121");
}

TEST_CASE("envelope: days by spans after a failure are twice as many each time, up to four weeks, until one stands") {
  Envelope envelope(Resolution::Envelope, true);
  std::size_t day = 0;
  for (const std::size_t wait : {1U, 2U, 4U, 8U, 16U, 28U, 28U}) {
    envelope.doubt(day);
    envelope.act(day); // which must not end the wait
    for (std::size_t k = 1; k <= wait; ++k) {
      CHECK(envelope.choose(day + k, true, false).resolution == "every-stop: stretches failed on a day before");
    }
    day += wait + 1;
    REQUIRE(envelope.choose(day, true, false).way == Way::Checked);
  }
  envelope.believe(day, 0);
  CHECK(envelope.choose(day + 1, true, false).way == Way::Stretches);
  envelope.doubt(day + 1);
  CHECK(envelope.choose(day + 2, true, false).way == Way::Spans);
  CHECK(envelope.choose(day + 3, true, false).way == Way::Checked);
}

TEST_CASE("envelope: days off, hot days, days without stops and runs by every stop are by spans, and it says why") {
  const Envelope envelope(Resolution::Envelope, true);
  CHECK(envelope.choose(0, false, false).way == Way::Spans);
  CHECK(envelope.choose(0, false, false).resolution == "envelope");
  CHECK(envelope.choose(0, true, true).way == Way::Spans);
  CHECK(envelope.choose(0, true, true).resolution == "every-stop: hot day");
  const Envelope straight(Resolution::Envelope, false);
  CHECK(straight.choose(0, true, false).way == Way::Spans);
  CHECK(straight.choose(0, true, false).resolution == "every-stop: no stops to draw together");
  const Envelope asked(Resolution::EveryStop, true);
  CHECK(asked.choose(0, true, false).way == Way::Spans);
  CHECK(asked.choose(0, true, false).resolution == "every-stop");
}

TEST_CASE("envelope: a checkpoint holds all that it goes by") {
  Envelope envelope(Resolution::Envelope, true);
  envelope.doubt(3);
  envelope.doubt(9);
  envelope.act(10);
  std::vector<std::int64_t> kept;
  envelope.save(kept);
  Envelope other(Resolution::Envelope, true);
  const std::int64_t* in = kept.data();
  other.load(in);
  CHECK(in == kept.data() + kept.size());
  for (std::size_t day = 10; day < 14; ++day) {
    CHECK(other.choose(day, true, false).way == envelope.choose(day, true, false).way);
  }
  envelope.doubt(13);
  other.doubt(13);
  CHECK(believing(other, 14, 60) == believing(envelope, 14, 60));
}

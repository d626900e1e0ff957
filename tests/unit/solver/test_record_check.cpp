#include "solver/record_check.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <random>

using namespace clampfade;
using test::close;

namespace {

const std::vector<std::size_t> kStar = star_order(10);

/// A wheel of ten studs as it should be: star order, 640 N m, angles about 1 rad, an act every ten seconds.
std::vector<TighteningRecord> good_wheel(double start = 0, const std::string& wheel = "left") {
  constexpr std::array<double, 10> kAngles = {1.00, 1.01, 0.99, 1.02, 1.00, 0.98, 1.01, 0.99, 1.00, 1.02};
  std::vector<TighteningRecord> out;
  for (std::size_t i = 0; i < 10; ++i) {
    TighteningRecord r;
    r.stud = kStar[i];
    r.torque = 640 + (i % 2 == 0 ? 3 : -3);
    r.angle = kAngles[i];
    r.instant = start + 10 * static_cast<double>(i);
    r.vehicle = "demo vehicle";
    r.axle = "drive 1";
    r.wheel = wheel;
    r.line = static_cast<int>(i) + 2;
    out.push_back(r);
  }
  return out;
}

RecordBands bands() {
  RecordBands b;
  b.torque = 640;
  b.studs = 10;
  return b;
}

std::vector<RecordFinding> findings(const std::vector<TighteningRecord>& records, const RecordBands& b = bands()) {
  const auto wheels = check_records(records, b);
  REQUIRE(wheels.size() == 1);
  return wheels[0].findings;
}

} // namespace

TEST_CASE("records: a wheel as it should be lies inside, its studs by number") {
  const auto wheels = check_records(good_wheel(), bands());
  REQUIRE(wheels.size() == 1);
  CHECK(wheels[0].inside());
  CHECK(wheels[0].last_pass == 1);
  REQUIRE(wheels[0].studs.size() == 10);
  CHECK(wheels[0].studs[5].stud == 5);
  CHECK(wheels[0].studs[5].torque == 637); // stud 6, second in the star
  CHECK(wheels[0].studs[5].record.value() == 1);
  CHECK(wheels[0].studs[5].set_torque == 640);
}

TEST_CASE("records: a torque outside its band is told with both ends of the band, one on its edge is inside") {
  for (const double torque : {607.0, 673.0}) {
    auto records = good_wheel();
    records[3].torque = torque;
    records[3].angle = torque / 640; // goes with it
    const auto found = findings(records);
    REQUIRE(found.size() == 1);
    CHECK(found[0].check == RecordCheck::Torque);
    CHECK(found[0].stud == 7);
    CHECK(found[0].line == 5);
    CHECK(found[0].found == torque);
    CHECK(found[0].wanted == 640);
    CHECK(found[0].band == close(32, 0, 1e-12));
  }
  auto edge = good_wheel();
  edge[3].torque = 608; // 5 % below
  edge[3].angle = 0.95;
  CHECK(findings(edge).empty());
}

TEST_CASE("records: the torque on the command line wins over the record's, that over the scenario's") {
  auto records = good_wheel();
  for (TighteningRecord& r : records) {
    r.set_torque = 700;
  }
  RecordBands b = bands();
  CHECK(findings(records, b).empty());
  b.torque.reset();
  CHECK(findings(records, b).size() == 10);
  b.usual_torque.assign(10, 640);
  CHECK(findings(records, b).size() == 10);
  for (TighteningRecord& r : records) {
    r.set_torque.reset();
  }
  CHECK(findings(records, b).empty());
}

TEST_CASE("records: a stud without an act is missing, and no stud beside it is blamed for the order") {
  auto records = good_wheel();
  records.erase(records.begin() + 7); // stud 7, between 2 and 4
  const auto wheels = check_records(records, bands());
  REQUIRE(wheels[0].findings.size() == 1);
  CHECK(wheels[0].findings[0].check == RecordCheck::MissingStud);
  CHECK(wheels[0].findings[0].stud == 6);
  CHECK(wheels[0].findings[0].line == 0);
  CHECK_FALSE(wheels[0].studs[6].record.has_value());
  CHECK_FALSE(wheels[0].studs[6].inside);
  CHECK(wheels[0].studs[5].inside);
}

TEST_CASE("records: passes are counted where they are not given, and a stud twice in one is told") {
  auto once = good_wheel();
  auto twice = once;
  for (TighteningRecord r : good_wheel(200)) {
    r.line += 10;
    twice.push_back(r);
  }
  const auto wheels = check_records(twice, bands());
  REQUIRE(wheels.size() == 1);
  CHECK(wheels[0].last_pass == 2);
  CHECK(wheels[0].inside());
  CHECK(wheels[0].studs[0].angle.value() == close(2, 0, 1e-12)); // both acts turned it

  auto again = once;
  again.insert(again.begin() + 5, again[4]); // before all have had their turn
  auto found = findings(again);
  found.erase(
      std::remove_if(found.begin(), found.end(), [](const RecordFinding& f) { return f.check == RecordCheck::Angle; }),
      found.end());
  REQUIRE(found.size() == 1);
  CHECK(found[0].check == RecordCheck::RepeatedAct);
  CHECK(found[0].stud == 4);

  for (std::size_t i = 0; i < twice.size(); ++i) {
    twice[i].pass = 1; // the record says that it was one pass
  }
  const auto repeated = findings(twice);
  CHECK(std::count_if(repeated.begin(), repeated.end(),
                      [](const RecordFinding& f) { return f.check == RecordCheck::RepeatedAct; }) == 10);
}

TEST_CASE("records: an early pass is held to the torque that it was set to, and to no other") {
  std::vector<TighteningRecord> records = good_wheel();
  for (TighteningRecord& r : records) {
    r.torque *= 0.5;
  }
  for (const TighteningRecord& r : good_wheel(200)) {
    records.push_back(r);
  }
  CHECK(findings(records).empty());
  records[2].set_torque = 500;
  const auto found = findings(records);
  REQUIRE(found.size() == 1);
  CHECK(found[0].check == RecordCheck::Torque);
  CHECK(found[0].pass == 1);
  CHECK(found[0].wanted == 500);
}

TEST_CASE("records: an angle that does not go with its torque is told, one that does is not") {
  auto records = good_wheel();
  records[6].angle = 1.3;
  const auto found = findings(records);
  REQUIRE(found.size() == 1);
  CHECK(found[0].check == RecordCheck::Angle);
  CHECK(found[0].stud == 1);
  CHECK(found[0].wanted == close(1.0, 0.01, 0));
  // More torque and more angle together: the torque is wrong, the two agree.
  auto strong = good_wheel();
  strong[6].torque *= 1.3;
  strong[6].angle = 1.3 * 1.01;
  const auto only_torque = findings(strong);
  REQUIRE(only_torque.size() == 1);
  CHECK(only_torque[0].check == RecordCheck::Torque);
  // What the wrench does not count belongs to neither.
  auto snug = good_wheel();
  for (TighteningRecord& r : snug) {
    r.angle = (r.torque - 100) / 540;
  }
  snug[6].torque = 612;
  snug[6].angle = (612.0 - 100) / 540;
  RecordBands b = bands();
  b.snug_torque = 100;
  b.angle_band = 1;
  CHECK(findings(snug, b).empty());
}

TEST_CASE("records: an outlier among ten is found, though it lies within three of its own deviations") {
  std::vector<double> values = {1.00, 1.01, 0.99, 1.02, 1.00, 0.98, 1.01, 0.99, 1.00, 5.0};
  auto found = outliers(values, 3);
  REQUIRE(found.size() == 1);
  CHECK(found[0].index == 9);
  CHECK(found[0].expected == close(1.0, 1e-3, 0));
  values[3] = 4.9; // two do not hide each other
  values[0] = 0.1;
  found = outliers(values, 3);
  REQUIRE(found.size() == 3);
  CHECK(found[0].index == 0);
  CHECK(found[1].index == 3);
  CHECK(found[2].index == 9);
  CHECK(outliers(std::vector<double>{1, 1, 1, 9}, 3).empty());             // four tell nothing
  CHECK(outliers(std::vector<double>(10, 1.0), 3).empty());                // nor do equal ones
  CHECK(outliers(std::vector<double>{1, 1, 1, 1, 1, 1, 1.01}, 3).empty()); // rounding is no spread
}

TEST_CASE("records: a normal wheel's angles are blamed about as seldom as the band says") {
  std::mt19937 draw(5);
  std::normal_distribution<double> normal(60, 2);
  const int wheels = 4000;
  int blamed = 0;
  for (int w = 0; w < wheels; ++w) {
    std::vector<double> angles;
    for (int i = 0; i < 10; ++i) {
      angles.push_back(normal(draw));
    }
    blamed += outliers(angles, 3).empty() ? 0 : 1;
  }
  // Ten studs at 1 in 370 each give 2.7 % of the wheels; three standard errors of 4000 wheels are 0.8 %.
  CHECK(static_cast<double>(blamed) / wheels == close(0.027, 0.009, 0));
}

TEST_CASE("records: star orders cross the wheel, going round does not") {
  for (std::size_t n = 4; n <= 24; ++n) {
    CAPTURE(n);
    CHECK(short_steps(star_order(n), n).empty());
    std::vector<std::size_t> round(n);
    for (std::size_t i = 0; i < n; ++i) {
      round[i] = i;
    }
    CHECK(short_steps(round, n).size() == n - 2);
  }
  const std::vector<std::size_t> across = {0, 5, 1, 6, 2, 7, 3, 8, 4, 9}; // of any two steps one crosses
  CHECK(short_steps(across, 10).empty());
  CHECK(short_steps(std::vector<std::size_t>{9, 0, 1}, 10) == std::vector<std::size_t>{2}); // 10 and 1 are neighbours
  CHECK(short_steps(std::vector<std::size_t>{0, 1, 2}, 3).empty());
}

TEST_CASE("records: an order that goes round is told once a pass, the scenario's own order never") {
  auto records = good_wheel();
  std::vector<std::size_t> round;
  for (std::size_t i = 0; i < 10; ++i) {
    records[i].stud = i;
    round.push_back(i);
  }
  const auto found = findings(records);
  REQUIRE(found.size() == 1);
  CHECK(found[0].check == RecordCheck::Order);
  CHECK(found[0].line == 4);
  CHECK(found[0].after == 1);
  CHECK(found[0].found == 8);
  RecordBands b = bands();
  b.order = round;
  CHECK(findings(records, b).empty());
  b = bands();
  b.crossing = false;
  CHECK(findings(records, b).empty());
}

TEST_CASE("records: a time before that of the act above is told") {
  auto records = good_wheel();
  records[4].instant = 25;
  const auto found = findings(records);
  REQUIRE(found.size() == 1);
  CHECK(found[0].check == RecordCheck::BackwardsTime);
  CHECK(found[0].line == 6);
  CHECK(found[0].found == 5);
}

TEST_CASE("records: wheels, and tightenings of one wheel far apart in time, are told apart however rows are mixed") {
  const auto a = good_wheel(0, "left");
  const auto b = good_wheel(5, "right");
  const auto later = good_wheel(86400, "left");
  std::vector<TighteningRecord> mixed;
  for (std::size_t i = 0; i < 10; ++i) {
    mixed.push_back(a[i]);
    mixed.push_back(later[i]);
    mixed.push_back(b[i]);
  }
  const auto wheels = check_records(mixed, bands());
  REQUIRE(wheels.size() == 3);
  for (const WheelRecord& w : wheels) {
    CHECK(w.inside());
    CHECK(w.records.size() == 10);
  }
  RecordBands wide = bands();
  wide.gap = 2 * 86400;
  CHECK(check_records(mixed, wide).size() == 2);
  // Without times a wheel's acts all belong together, and passes are counted.
  for (TighteningRecord& r : mixed) {
    r.instant.reset();
  }
  CHECK(check_records(mixed, bands()).size() == 2);
}

// Plans of retorques: which cases there are, what is kept of a run, and that the number of threads changes nothing.
#include "solver/plan.hpp"

#include "solver/io/ladder.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;
constexpr double kHour = 3600;

/// Paint that creeps fast, two drives a day; parks begin at 0 h, about 7 h and about 18 h.
ScenarioText painted() {
  ScenarioText s;
  s.ambient = "mean: 50 degC";
  s.friction = "thread: 0.12, bearing: 0.12, breakaway: 1.0"; // a retorque then moves every nut
  s.coating.replace(s.coating.find("80 degC"), 7, "45 degC");
  s.disc += ", head_side: {coating: paint, thickness: 80 um}, nut_side: {coating: paint, thickness: 80 um}";
  s.day = "{park: {until: 6 h}}, {drive: {distance: 60 km, speed: 60 km/h}}, {park: {until: 17 h}}, "
          "{drive: {distance: 60 km, speed: 60 km/h}}, {park: {until: 24 h}}";
  s.record = "every: 30 min";
  return s;
}

When days(double d) { return {When::Kind::Time, d * kDay}; }
When km(double d) { return {When::Kind::Distance, d * 1e3}; }

std::vector<std::vector<double>> asked_days(const Plan& plan) {
  std::vector<std::vector<double>> all;
  for (const PlanCase& c : plan.cases) {
    all.emplace_back();
    for (const PlanRetorque& r : c.retorques) {
      all.back().push_back(std::isnan(r.asked_time) ? -r.asked_distance / 1e3 : r.asked_time / kDay);
    }
  }
  return all;
}

std::size_t retorques(const Scenario& s) {
  return static_cast<std::size_t>(std::count_if(s.service.begin(), s.service.end(),
                                                [](const Service& v) { return v.kind == Service::Kind::Retorque; }));
}

bool told(const std::vector<std::string>& warnings, const std::string& part) {
  return std::any_of(warnings.begin(), warnings.end(),
                     [&](const std::string& w) { return w.find(part) != std::string::npos; });
}

/// Numbers that may be none at all.
bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

} // namespace

TEST_CASE("plan: the ladder goes from the first working day to three quarters of the run, in whole days") {
  const auto ladder = [](const char* weeks) {
    ScenarioText s = painted();
    s.calendar = std::string("working_days_per_week: 5, weeks: ") + weeks;
    std::vector<double> out;
    for (const When& w : default_ladder(s.scenario())) {
      CHECK(w.kind == When::Kind::Time);
      out.push_back(w.value / kDay);
    }
    return out;
  };
  // 1, 136^(1/5), ...: floor(0.75 182) = 136.
  CHECK(ladder("26") == std::vector<double>{1, 3, 7, 19, 51, 136});
  CHECK(ladder("1") == std::vector<double>{1, 2, 3, 4, 5});
}

TEST_CASE("plan: cases are without, one by time, two by the first and then by the second") {
  const Scenario s = painted().scenario();
  PlanRequest request;
  request.after = {days(4), km(100),
                   days(1)}; // 100 km: the second drive of the first day, before the first day is over
  const Plan plan = lay_out(s, request);
  CHECK(asked_days(plan) == std::vector<std::vector<double>>{{}, {-100}, {1}, {4}, {-100, 1}, {-100, 4}, {1, 4}});
  CHECK(plan.end_time == 7 * kDay);
  CHECK(plan.scenario_text == s.resolved_text);
  CHECK(plan.warnings.empty());

  request.retorques = 1;
  CHECK(asked_days(lay_out(s, request)) == std::vector<std::vector<double>>{{}, {-100}, {1}, {4}});
}

TEST_CASE("plan: the scenario's own retorques are taken out and told of, other services stay") {
  ScenarioText text = painted();
  text.service = "{retorque: {after: 2 d}}, {remove_nut: {stud: 3, after: 5 d}}, {retorque: {after: 3 d}}";
  const Scenario s = text.scenario();
  CHECK(retorques(s) == 2);
  CHECK(retorques(without_retorques(s)) == 0);
  CHECK(without_retorques(s).service.size() == 1);

  PlanRequest request;
  request.after = {days(1), days(4)};
  const Plan plan = lay_out(s, request);
  CHECK(told(plan.warnings, "own 2 retorques are left out"));
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    CAPTURE(i);
    const Scenario one = case_scenario(s, plan, plan.cases[i]);
    CHECK(retorques(one) == plan.cases[i].retorques.size());
    CHECK(one.service.size() == 1 + plan.cases[i].retorques.size());
  }
  const Scenario both = case_scenario(s, plan, plan.cases.back());
  CHECK(both.service[1].after.value == 1 * kDay);
  CHECK(both.service[2].after.value == 4 * kDay);
  CHECK_FALSE(both.service[1].torque.has_value());
}

TEST_CASE("plan: a torque that the scenario's own retorques name is used, and unlike ones are told of") {
  ScenarioText text = painted();
  text.service = "{retorque: {after: 2 d, torque: 600 N*m}}";
  Scenario s = text.scenario();
  PlanRequest request;
  request.after = {days(1)};
  Plan plan = lay_out(s, request);
  CHECK(case_scenario(s, plan, plan.cases[1]).service.at(0).torque == 600);
  CHECK_FALSE(told(plan.warnings, "unlike torques"));

  text.service += ", {retorque: {after: 3 d}}";
  s = text.scenario();
  plan = lay_out(s, request);
  CHECK(case_scenario(s, plan, plan.cases[1]).service.at(0).torque == 600);
  CHECK(told(plan.warnings, "unlike torques"));
}

TEST_CASE("plan: instants at one stop count once, and instants that the run never reaches are refused") {
  const Scenario s = painted().scenario();
  PlanRequest request;
  request.after = {{When::Kind::Time, 17.5 * kHour}, km(70), days(1)}; // the first two are on the second drive
  const Plan plan = lay_out(s, request);
  CHECK(plan.cases.size() == 4);
  CHECK(told(plan.warnings, "come at the same stop"));

  for (const std::vector<When>& bad :
       {std::vector<When>{days(7)}, {days(300)}, {km(841)}, {days(0)}, std::vector<When>(21, days(1))}) {
    CAPTURE(bad.front().value);
    request.after = bad;
    CHECK_THROWS_AS((void)lay_out(s, request), InputError);
  }
  request.after = {km(780)}; // driven on the last day, before its last park
  CHECK(lay_out(s, request).cases.size() == 2);
}

TEST_CASE("plan: a ladder is read as times and distances with their units") {
  const std::vector<When> ladder = read_ladder(" 1 d, 80 km,2 weeks , 50 mi", "--after");
  REQUIRE(ladder.size() == 4);
  CHECK(ladder[0].kind == When::Kind::Time);
  CHECK(ladder[0].value == kDay);
  CHECK(ladder[1].kind == When::Kind::Distance);
  CHECK(ladder[1].value == 80e3);
  CHECK(ladder[2].value == 14 * kDay);
  CHECK(ladder[3].value == close(80467.2, 0, 1e-12));
  for (const char* bad : {"", "1 d,", ", 1 d", "5", "3 kN", "1 d, 2 parsnips"}) {
    CAPTURE(bad);
    CHECK_THROWS_AS((void)read_ladder(bad, "--after"), InputError);
  }
  try {
    (void)read_ladder("1 d,,2 d", "--after");
    FAIL("was accepted");
  } catch (const InputError& e) {
    CHECK(e.diagnostics().at(0).found.find("nothing stands between two commas") == 0);
  }
  try {
    (void)read_ladder("5, 3 kN", "--after");
    FAIL("was accepted");
  } catch (const InputError& e) {
    CHECK(e.diagnostics().size() == 2);
    CHECK(e.diagnostics()[0].hint == "for example 5 km or 5 d");
    CHECK(e.diagnostics()[1].found == "'3 kN' is neither a time nor a distance");
  }
}

TEST_CASE("plan: what is kept of a run made by hand") {
  PlanCase asked;
  asked.retorques.resize(1);
  asked.retorques[0].asked_time = 2 * kDay;
  OutcomeSink sink(asked, {0, 1 * kDay, 2 * kDay, 3 * kDay});
  RunHeader header;
  header.studs = {"1", "2", "3"};
  header.joint = {{"required_clamp", "N", "", {80e3}, {}, {}},
                  {"torque/utilisation", "1", "", {0.9}, {}, {}},
                  {"torque/clamp", "N", "", {100e3}, {}, {}},
                  {"thread/proof_load", "N", "", {200e3}, {}, {}}};
  header.warnings = {"first"};
  sink.begin(header);
  const auto record = [&](double time, std::vector<double> cold, std::vector<double> check) {
    RecordRow row;
    row.time = time * kDay;
    row.distance = time * 100e3;
    row.clamp_cold = std::move(cold);
    row.clamp = {1, 1, 1};
    row.check_torque = std::move(check);
    sink.record(row);
  };
  sink.act({-5, 1, 0, 640, 1, 1, true}); // tightening is no retorque
  record(0, {100e3, 95e3, 105e3}, {600, 590, 610});
  record(1, {90e3, 85e3, 99e3}, {560, 550, 570});
  sink.event({1.5 * kDay, 150e3, 1, "below required clamp", ""});
  sink.event({1.6 * kDay, 160e3, 1, "gap", ""});
  record(2, {85e3, 75e3, 97e3}, {540, 500, 650});
  for (const std::size_t stud : {0U, 2U, 1U}) {
    sink.act({2 * kDay, 0, stud, 640.0 + static_cast<double>(stud), 1, 1, stud != 2});
  }
  sink.event({2 * kDay, 200e3, 1, "stud yield", "under the wrench"});
  sink.event({2 * kDay, 200e3, -1, "retorque", "2 of 3 nuts moved"});
  record(2, {101e3, 99e3, 97e3}, {640, 640, 650});
  sink.event({2.5 * kDay, 250e3, 1, "below required clamp", "again"});
  sink.event({2.7 * kDay, 270e3, 0, "nut removed", ""});
  record(3, {0, 93e3, 92e3}, {0, 600, 600}); // stud 1 has no nut: it is nobody's weakest
  sink.end(RunStatus::Complete, "", {"first", "second"});

  const PlanCase& c = sink.outcome();
  CHECK(c.status == RunStatus::Complete);
  CHECK(c.lowest_clamp == 75e3);
  CHECK(c.lowest_time == 2 * kDay);
  CHECK(c.lowest_distance == 200e3);
  CHECK(c.lowest_stud == 1);
  CHECK(c.below_time == 1.5 * kDay);
  CHECK(c.below_distance == 150e3);
  CHECK(c.end_clamp == 92e3);
  CHECK(c.end_clamp_mean == 92.5e3);
  CHECK(c.end_stud == 2);
  CHECK(c.loss_after == 105e3 - 92e3); // its nut never moved again
  CHECK(c.gap == 1);
  CHECK(c.stud_yield == 1);
  CHECK(c.open + c.nut_free + c.stud_fatigue == 0);
  CHECK(c.utilisation_tightening == 0.9);
  CHECK(c.proof_share == 0.5);
  CHECK_FALSE(c.overtightened());
  CHECK(c.clamp == std::vector<double>{95e3, 85e3, 97e3, 92e3}); // of two records at once the second
  const PlanRetorque& r = c.retorques.at(0);
  CHECK(r.asked_time == 2 * kDay);
  CHECK(std::isnan(r.asked_distance));
  CHECK(r.time == 2 * kDay);
  CHECK(r.distance == 200e3);
  CHECK(r.clamp_before == 75e3);
  CHECK(r.clamp_before_mean == close(257e3 / 3, 0, 1e-14));
  CHECK(r.clamp_after == 97e3);
  CHECK(r.clamp_after_mean == close(99e3, 0, 1e-14));
  CHECK(r.gain == close(40e3 / 3, 1e-9, 0));
  CHECK(r.torque_lowest == 640);
  CHECK(r.torque_highest == 642);
  CHECK(r.check_torque_lowest == 500);
  CHECK(r.check_torque_highest == 650);
  CHECK(r.nuts == 3);
  CHECK(r.moved == 2);
  CHECK(sink.required_clamp() == 80e3);
  CHECK(sink.first_clamp() == 95e3);
  CHECK(sink.first_clamp_mean() == 100e3);
  CHECK(sink.distance() == std::vector<double>{0, 100e3, 200e3, 300e3});
  CHECK(sink.warnings() == std::vector<std::string>{"first", "second"});
}

TEST_CASE("plan: a retorque may be too much for a stud, though the tightening was not") {
  const auto pulled_to = [](double clamp) {
    OutcomeSink sink(PlanCase(), {0});
    RunHeader header;
    header.studs = {"1"};
    header.joint = {{"torque/utilisation", "1", "", {0.9}, {}, {}},
                    {"torque/clamp", "N", "", {100e3}, {}, {}},
                    {"thread/proof_load", "N", "", {115e3}, {}, {}}};
    sink.begin(header);
    sink.act({-5, 1, 0, 640, 100e3, 100e3, true});
    sink.act({kDay, 0, 0, 800, clamp, clamp, true});
    sink.end(RunStatus::Complete, "", {});
    return sink.outcome();
  };
  CHECK(pulled_to(110e3).utilisation_tightening == close(0.99, 0, 1e-14)); // stress goes with clamp
  CHECK_FALSE(pulled_to(110e3).overtightened());
  CHECK(pulled_to(112e3).utilisation_tightening == close(1.008, 0, 1e-14));
  CHECK(pulled_to(112e3).overtightened());
  CHECK(pulled_to(112e3).proof_share == close(112.0 / 115, 0, 1e-14));
}

TEST_CASE("plan: a case is the very run of the scenario with these retorques") {
  const Scenario s = painted().scenario();
  PlanRequest request;
  request.after = {days(2)};
  Plan plan = lay_out(s, request);
  REQUIRE(run_plan(s, plan, 1));
  ScenarioText with = painted();
  with.service = "{retorque: {after: 2 d}}";
  with.record += ", layers: false";
  MemorySink sink;
  run(with.scenario(), sink);
  const PlanCase& c = plan.cases.at(1);
  const auto lowest = [](const std::vector<double>& v) { return *std::min_element(v.begin(), v.end()); };
  CHECK(c.end_clamp == lowest(sink.records.back().clamp_cold));
  CHECK(c.clamp.back() == c.end_clamp);
  double floor = std::numeric_limits<double>::infinity();
  for (const RecordRow& row : sink.records) {
    floor = std::min(floor, lowest(row.clamp_cold));
  }
  CHECK(c.lowest_clamp == floor);
  CHECK(c.retorques[0].time == close(2 * kDay, 1, 0));
  CHECK(c.retorques[0].clamp_after > c.retorques[0].clamp_before + 1e3);
  CHECK(c.end_clamp > plan.cases[0].end_clamp + 1e3);
  CHECK(plan.first_clamp == lowest(sink.records.front().clamp_cold));
  CHECK(plan.required_clamp == sink.figure("required_clamp").values.front());
  CHECK(plan.distance.back() == close(840e3, 1, 0));
  CHECK(plan.time.size() == plan.distance.size());
  CHECK(plan.time.at(1) == 1800); // the scenario's own records, none besides
  CHECK(plan.time.size() == 7 * 48 + 1);
}

TEST_CASE("plan: the number of threads changes nothing") {
  const Scenario s = painted().scenario();
  PlanRequest request;
  request.after = {days(1), days(2), days(4)};
  const TmpDir dir;
  std::vector<std::string> digests;
  for (const std::size_t jobs : {1U, 2U, 5U}) {
    Plan plan = lay_out(s, request);
    REQUIRE(run_plan(s, plan, jobs));
    REQUIRE(plan.cases.size() == 7);
    CHECK(asked_days(plan)[5] == std::vector<double>{1, 4});
    PlanWriter(dir / "p.h5", true).write(plan);
    digests.push_back(read_plan(dir / "p.h5").digest);
  }
  CHECK(digests[0].size() == 64);
  CHECK(digests[1] == digests[0]);
  CHECK(digests[2] == digests[0]);
}

TEST_CASE("plan: it stops when asked and tells of its progress") {
  const Scenario s = painted().scenario();
  PlanRequest request;
  request.after = {days(1), days(2), days(4)};
  Plan plan = lay_out(s, request);
  CHECK_FALSE(run_plan(s, plan, 2, [](std::size_t, double) { return false; }));

  plan = lay_out(s, request);
  double last = 0;
  std::size_t done = 0;
  CHECK(run_plan(s, plan, 2, [&](std::size_t cases, double share) {
    CHECK(share >= last);
    CHECK(cases >= done);
    last = share;
    done = cases;
    return true;
  }));
  CHECK(done == plan.cases.size());
  CHECK(last == close(1, 1e-9, 0));
}

TEST_CASE("plan: a run whose numerics fail says so, and the others go on") {
  Scenario s = painted().scenario();
  Service own;
  own.torque = std::numeric_limits<double>::infinity(); // no wrench has that, and no solver finds its balance
  s.service = {own};
  PlanRequest request;
  request.after = {days(1), days(2)};
  Plan plan = lay_out(s, request);
  REQUIRE(run_plan(s, plan, 2));
  CHECK(plan.cases[0].status == RunStatus::Complete);
  for (std::size_t i = 1; i < plan.cases.size(); ++i) {
    CHECK(plan.cases[i].status == RunStatus::Failed);
    CHECK_FALSE(plan.cases[i].status_text.empty());
  }
  CHECK(same(plan.cases[1].clamp.back(), kNotANumber));
  CHECK_FALSE(std::isnan(plan.cases[0].clamp.back()));
}

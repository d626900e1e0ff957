// Checks: a sample weighted by check readings: quantiles, weights, what is said of studs and of the wheel, warnings.
// Problem: wheels whose torque to move is in proportion to their clamp, spread evenly over a normal distribution, so
// that
//   Bayes' rule has a closed form.
// Reference: product of two normal distributions (Gelman and others, Bayesian Data Analysis, 3rd edition 2013, section
//   2.5, memory); Hyndman and Fan (1996), definition 5; Clopper and Pearson (1934), 3 of 20: 3.21 % to 37.89 %, memory,
//   common in tables.
// Tolerance: that of 4001 wheels in place of a distribution.
// Fails if: a reading's error is taken as a variance or the other way round, the breakaway ratio's error is averaged
// away
//   over the studs, studs are mixed up, or a reading that no wheel explains passes without a word.
#include "solver/correct.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/tmp_dir.hpp"

#include <boost/math/distributions/normal.hpp>
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <numeric>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;
constexpr double kArm = 5e-3; // torque to move over clamp [m]

double normal(double p) { return quantile(boost::math::normal_distribution<>(), p); }

/// Wheels of two studs, each with the same clamp; it falls below 100 kN on day 8 where it ends there.
struct Sample {
  Study study;
  std::vector<CheckedCase> cases;
  Sample(std::size_t count, double mean, double sd, const CorrectionRequest& request) {
    study.time = {0, kDay, 2 * kDay, 10 * kDay};
    for (std::size_t i = 0; i < count; ++i) {
      const double clamp = mean + sd * normal((static_cast<double>(i) + 0.5) / static_cast<double>(count));
      StudyCase c;
      c.status = CaseStatus::Complete;
      c.clamp_cold_lowest = {1.2 * clamp, 1.1 * clamp, clamp, 0.9 * clamp};
      c.required_clamp = 100e3;
      c.below_time = 0.9 * clamp < 100e3 ? 8 * kDay : StudyCase::kUnknown;
      study.cases.push_back(c);
      CheckedCase& checked = cases.emplace_back();
      for (std::size_t r = 0; r < request.readings.size(); ++r) {
        checked.torque.push_back(kArm * clamp);
        checked.clamp.push_back(clamp);
      }
    }
  }
};

struct Normal {
  double mean, sd;
};
Normal posterior(Normal prior, Normal read) {
  const double a = 1 / (prior.sd * prior.sd);
  const double b = 1 / (read.sd * read.sd);
  return {(a * prior.mean + b * read.mean) / (a + b), 1 / std::sqrt(a + b)};
}

void check(const Quantiles& found, Normal expected) {
  for (std::size_t k = 0; k < found.size(); ++k) {
    const double value = expected.mean + expected.sd * normal(kCorrectionShares[k]);
    CHECK(found[k] == close(value, 0.02 * expected.sd, 0));
  }
}

} // namespace

TEST_CASE("correct: quantiles of equal weights are those of definition 5, and a weight is so many equal ones") {
  const std::vector<double> values = {5, 1, 4, 2, 3};
  const std::vector<double> equal(5, 0.2);
  CHECK(weighted_quantile(values, equal, 0.5) == close(3, 1e-12, 0));
  CHECK(weighted_quantile(values, equal, 0.3) == close(2, 1e-12, 0));
  CHECK(weighted_quantile(values, equal, 0.4) == close(2.5, 1e-12, 0));
  CHECK(weighted_quantile(values, equal, 0.05) == close(1, 1e-12, 0));
  CHECK(weighted_quantile(values, equal, 0.95) == close(5, 1e-12, 0));
  CHECK(weighted_quantile({1, 2, 7}, {2, 1, 0}, 0.5) == close(4.0 / 3, 1e-12, 0));
  const double never = std::numeric_limits<double>::infinity();
  CHECK(weighted_quantile({1, never, never}, {1, 1, 1}, 0.5) == never);
  CHECK(weighted_quantile({1, never}, {3, 1}, 0.3) == 1);
}

TEST_CASE("correct: one reading moves the clamp as Bayes' rule says") {
  CorrectionRequest request;
  request.breakaway_deviation = 0;
  request.readings = {{2 * kDay, 0, 600, 30}};
  const Sample s(4001, 140e3, 10e3, request);
  const Correction c = correct(request, s.study, s.cases);
  const Normal after = posterior({140e3, 10e3}, {600 / kArm, 30 / kArm});
  CHECK(std::accumulate(c.weight.begin(), c.weight.end(), 0.0) == close(1, 1e-12, 0));
  REQUIRE(c.studs.size() == 1);
  check(c.studs[0].before, {140e3, 10e3});
  check(c.studs[0].expected, {kArm * 140e3, kArm * 10e3});
  check(c.studs[0].after, after);
  CHECK(c.now == 2 * kDay);
  check(c.lowest_now.before, {140e3, 10e3});
  check(c.lowest_now.after, after);
  check(c.lowest_end.after, {0.9 * after.mean, 0.9 * after.sd});
  // 0.9 clamp < 100 kN
  const boost::math::normal_distribution<> unit;
  CHECK(c.below_before == close(cdf(unit, (100e3 / 0.9 - 140e3) / 10e3), 2e-4, 0));
  CHECK(c.below_after == close(cdf(unit, (100e3 / 0.9 - after.mean) / after.sd), 2e-3, 0));
  CHECK(c.below_low < c.below_after);
  CHECK(c.below_high > c.below_after);
  CHECK(c.below_time.after[2] == std::numeric_limits<double>::infinity());
  CHECK(c.required_clamp == close(100e3, 1e-6, 0));
  CHECK(c.warnings.empty());
}

TEST_CASE("correct: the errors of readings average out over studs, that of the breakaway ratio does not") {
  CorrectionRequest request;
  request.breakaway_deviation = 0;
  request.readings = {{2 * kDay, 0, 640, 30}, {2 * kDay, 1, 620, 40}};
  const Sample s(4001, 140e3, 10e3, request);
  const double mean_error = std::hypot(30.0, 40.0) / 2;
  const Normal after = posterior({140e3, 10e3}, {630 / kArm, mean_error / kArm});
  const Correction c = correct(request, s.study, s.cases);
  check(c.lowest_now.after, after);
  // Each stud has its own reading.
  REQUIRE(c.studs.size() == 2);
  check(c.studs[0].after, posterior({140e3, 10e3}, {640 / kArm, 30 / kArm}));
  check(c.studs[1].after, posterior({140e3, 10e3}, {620 / kArm, 40 / kArm}));

  // Readings without an error of their own: all doubt is the ratio's, whatever the number of studs.
  CorrectionRequest ratio = request;
  ratio.breakaway_deviation = 0.05;
  for (TorqueReading& r : ratio.readings) {
    r.torque = 700;
    r.error = 1e-3;
  }
  const Correction one = correct({{ratio.readings[0]}, 0.05}, s.study, s.cases);
  const Correction both = correct(ratio, s.study, s.cases);
  for (std::size_t k = 0; k < kCorrectionShares.size(); ++k) {
    CHECK(both.lowest_now.after[k] == close(one.lowest_now.after[k], 1, 0));
  }
  const Normal wide = posterior({140e3, 10e3}, {140e3, 0.05 * 140e3});
  CHECK(both.lowest_now.after[2] - both.lowest_now.after[0] == close(2 * 1.6449 * wide.sd, 0.03 * wide.sd, 0));
}

TEST_CASE("correct: the lower the reading, the lower the clamp, however low it is") {
  double before = 1e9;
  for (const double torque : {700.0, 600.0, 400.0, 200.0, 100.0, 20.0, 5.0}) {
    CAPTURE(torque);
    CorrectionRequest request;
    request.readings = {{2 * kDay, 0, torque, 15}};
    const Sample s(2001, 140e3, 10e3, request);
    const double clamp = correct(request, s.study, s.cases).lowest_now.after[1];
    CHECK(clamp < before);
    before = clamp;
  }
  CHECK(before < 115e3); // of 140 kN that the sample has in the middle and 107 kN at its lower end
}

TEST_CASE("correct: an error of the ratio alone is a factor") {
  // ln F = ln(T/arm) with the deviation b, times what is known before: nearly normal in the logarithm.
  CorrectionRequest request;
  request.breakaway_deviation = 0.05;
  request.readings = {{2 * kDay, 0, 630, 1e-3}};
  const Sample s(4001, 140e3, 2e3, request);
  const Correction c = correct(request, s.study, s.cases);
  const Normal after = posterior({std::log(140e3), 2e3 / 140e3}, {std::log(630 / kArm), 0.05});
  CHECK(std::log(c.lowest_now.after[1]) == close(after.mean, 0.03 * after.sd, 0));
}

TEST_CASE("correct: two checks count both") {
  CorrectionRequest request;
  request.breakaway_deviation = 0;
  request.readings = {{kDay, 0, 600, 30}, {2 * kDay, 0, 650, 30}};
  const Sample s(4001, 140e3, 10e3, request);
  check(correct(request, s.study, s.cases).lowest_now.after,
        posterior({140e3, 10e3}, {625 / kArm, 30 / std::sqrt(2) / kArm}));
}

TEST_CASE("correct: wheels that failed are left out, and few wheels are said to be few") {
  CorrectionRequest request;
  request.breakaway_deviation = 0;
  request.readings = {{2 * kDay, 0, 700, 20}};
  Sample s(21, 140e3, 10e3, request);
  s.study.cases[3].status = CaseStatus::Failed;
  s.study.cases[3].clamp_cold_lowest.clear();
  s.cases[3] = {};
  const Correction c = correct(request, s.study, s.cases);
  CHECK(c.cases.size() == 20);
  CHECK(c.cases[3] == 4);
  CHECK(c.effective < 20);
  CHECK(c.effective > 3);
  CHECK(c.warnings.size() == 2); // of the stud and of the wheel
}

TEST_CASE("correct: equal weights give the exact band of a share") {
  CorrectionRequest request;
  request.readings = {{2 * kDay, 0, 700, 1e9}};
  Sample s(20, 140e3, 10e3, request);
  for (std::size_t i = 0; i < 20; ++i) {
    s.study.cases[i].below_time = i < 3 ? kDay : StudyCase::kUnknown;
  }
  const Correction c = correct(request, s.study, s.cases);
  CHECK(c.effective == close(20, 1e-6, 0));
  CHECK(c.below_after == close(0.15, 1e-9, 0));
  CHECK(c.below_low == close(0.0321, 5e-5, 0));
  CHECK(c.below_high == close(0.3789, 5e-5, 0));
}

TEST_CASE("correct: a reading that no wheel explains is said to be none of this wheel's") {
  CorrectionRequest request;
  request.breakaway_deviation = 0.02;
  request.readings = {{2 * kDay, 1, 150, 10}};
  const Sample s(201, 140e3, 10e3, request);
  const Correction c = correct(request, s.study, s.cases);
  REQUIRE(c.outside.size() == 1);
  CHECK(c.outside.front().find("Stud 2") == 0);
  CHECK(c.outside.front().find("below what any of the 201 wheels") != std::string::npos);
}

TEST_CASE("correct: refuses what it cannot weigh") {
  CorrectionRequest request;
  const Sample none(5, 140e3, 10e3, request);
  CHECK_THROWS_AS(correct(request, none.study, none.cases), InputError);
  request.readings = {{2 * kDay, 0, 600, 30}};
  Sample s(5, 140e3, 10e3, request);
  for (CheckedCase& c : s.cases) {
    c.torque[0] = std::nan("");
  }
  CHECK_THROWS_AS(correct(request, s.study, s.cases), InputError);
  for (StudyCase& c : s.study.cases) {
    c.status = CaseStatus::Failed;
  }
  CHECK_THROWS_AS(correct(request, s.study, s.cases), InputError);
}

TEST_CASE("correct: the program finds the wheel that the readings are of") {
  // Elastic wheels that differ in their torque alone: the torque to move tells the clamp, and it is the same for good.
  ScenarioText wheel;
  wheel.studs = 4;
  wheel.record = "every: 1 d";
  const TmpDir dir;
  const std::string yaml = dir / "wheel.yaml";
  write_text(yaml, wheel.text() + "scatter:\n- {path: tightening/torque, uniform: {low: 500 N*m, high: 700 N*m}}\n");
  const Scenario base = read_scenario(yaml);
  MemorySink sink;
  REQUIRE(run(base, sink) == RunStatus::Complete);
  const double torque = base.tightening.torque.front();
  const double to_move = sink.records.back().check_torque[2];
  const double clamp = sink.records.back().clamp_cold[2];
  const std::string csv = dir / "check.csv";
  const double wanted = 550;
  write_text(csv, fmt::format("time,time_unit,quantity,stud,value,unit,error\n3,d,check_torque,3,{:.6f},N*m,1\n",
                              to_move * wanted / torque));
  const std::string command = quote(CLAMPFADE_PROGRAM) + " correct " + quote(yaml) + " --data " + quote(csv) +
                              " --count 512 --breakaway-deviation '0 %' --quiet";
  const CliResult done = run_cli(command + " --json");
  REQUIRE_MESSAGE(done.exit == 0, done.err);
  const auto json = nlohmann::json::parse(done.out);
  CHECK(json["wheels"] == 512);
  REQUIRE(json["studs"].size() == 1);
  CHECK(json["studs"][0]["stud"] == 3);
  CHECK(json["studs"][0]["cold_clamp_before_N"][1].get<double>() == close(clamp * 600 / torque, 0, 2e-3));
  CHECK(json["studs"][0]["cold_clamp_after_N"][1].get<double>() == close(clamp * wanted / torque, 0, 1e-3));
  CHECK(json["lowest_cold_clamp_end_N"]["after"][1].get<double>() == close(clamp * wanted / torque, 0, 1e-3));
  // A standard deviation of 1 N m over 200 N m of torques spread evenly.
  CHECK(json["effective_wheels"].get<double>() == close(512.0 / 200 * 2 * std::sqrt(M_PI) * torque / to_move, 0, 0.1));
  CHECK(json["cautions"].size() >= 3);
  CHECK(run_cli(command + " --jobs 1 --json").out == done.out);
  const CliResult text = run_cli(command);
  CHECK(text.out.find("A check reading is no clamp") != std::string::npos);
  CHECK(text.out.find("never (never") == std::string::npos);

  write_text(csv, "time,time_unit,quantity,stud,value,unit\n3,d,clamp,3,100,kN\n");
  CHECK(run_cli(command).exit == 2);
  write_text(csv, "time,time_unit,quantity,stud,value,unit\n3,d,check_torque,,600,N*m\n");
  const CliResult mean = run_cli(command);
  CHECK(mean.exit == 2);
  CHECK(mean.err.find("without its stud") != std::string::npos);
  write_text(csv, "time,time_unit,quantity,stud,value,unit\n3,d,check_torque,5,600,N*m\n");
  CHECK(run_cli(command).err.find("check.csv:2") != std::string::npos);
}

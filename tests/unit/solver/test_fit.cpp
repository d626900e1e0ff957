// Checks: parameters from readings: coverage of the intervals, outliers, bounds, what readings cannot tell, failed
// runs. Reference: readings made by the program's own runs at known values, with normal noise of known size; the exact
// test of
//   a share of successes (binomial distribution).
// Tolerance: of 60 intervals of 95 % at least 52 hold the truth (fewer have a chance of 0.4 %), of CLAMPFADE_FITS of
// them,
//   which takes longer, what has a chance of 0.2 % on either side; the root mean square of the errors over their
//   standard errors lies between 0.75 and 1.3.
// Fails if: an interval is too narrow or too wide, an error found is biased, a robust loss does not hold, or a fault of
//   the question is not put into words.
#include "solver/diagnostics.hpp"
#include "solver/fit.hpp"
#include "solver/fit_minimise.hpp"
#include "solver/scatter.hpp"
#include "tests/support/close.hpp"
#include "tests/support/fit_example.hpp"

#include <boost/math/distributions/binomial.hpp>
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr double kHour = 3600;
constexpr const char* kCold = "catalogue/coatings/paint/compaction_cold";
constexpr const char* kHalf = "catalogue/coatings/paint/half_pressure";
constexpr const char* kEmbedding = "joint/interfaces/default/embedding";

/// A painted coupon of one stud on a bench for a week; 3 um of embedding at each interface.
ScenarioText coupon() {
  ScenarioText s;
  s.studs = 1;
  s.disc = "thickness: 12 mm, hole: 26 mm, pad: 75 mm, node: joint, head_side: {coating: paint, thickness: 80 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  return s;
}

const std::vector<double> kTimes = {0,          0.1 * kHour, 0.5 * kHour, 1 * kHour,  3 * kHour,   8 * kHour,
                                    24 * kHour, 48 * kHour,  72 * kHour,  96 * kHour, 120 * kHour, 160 * kHour};

/// Standard normal numbers, the same everywhere.
std::vector<double> noise(std::uint64_t seed, std::size_t count) {
  const Distribution normal({DistributionSpec::Kind::Normal, 0, 1});
  const Points points(StudySampling::Random, seed, 1);
  std::vector<double> out;
  for (std::size_t i = 0; i < count; ++i) {
    out.push_back(normal.quantile(points.point(i)[0]));
  }
  return out;
}

bool says(const FitResult& fit, const std::string& text) {
  return std::any_of(fit.warnings.begin(), fit.warnings.end(),
                     [&](const std::string& w) { return w.find(text) != std::string::npos; });
}

/// How many of so many fits to noisy readings hold the truth, and how their errors compare with what they say.
struct Coverage {
  int held[2] = {0, 0};
  double z2[2] = {0, 0};
};
Coverage coverage(bool errors_known, int fits) {
  const std::vector<double> truth = {0.05, 3e-6};
  constexpr double sd = 250; // N
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2", std::string(kEmbedding) + "=1 um..8 um"});
  const std::vector<double> exact = example.clamps(truth, kTimes);
  Coverage out;
  for (int seed = 1; seed <= fits; ++seed) {
    const std::vector<double> off = noise(static_cast<std::uint64_t>(seed), kTimes.size());
    example.request.readings.clear();
    for (std::size_t i = 0; i < kTimes.size(); ++i) {
      example.read(FitQuantity::Clamp, kTimes[i], exact[i] + sd * off[i], errors_known ? sd : kFitUnknown);
    }
    const FitResult result = fit(example.request);
    for (std::size_t k = 0; k < 2; ++k) {
      const FitValue& v = result.values[k];
      out.held[k] += v.low <= truth[k] && truth[k] <= v.high ? 1 : 0;
      const FitParameter& p = result.parameters[k];
      out.z2[k] += std::pow((p.scaled(v.value) - p.scaled(truth[k])) / v.scaled_error, 2) / fits;
    }
  }
  return out;
}

void check_coverage(bool errors_known) {
  const char* asked = std::getenv("CLAMPFADE_FITS");
  const int fits = asked == nullptr ? 60 : std::max(60, std::atoi(asked));
  const Coverage c = coverage(errors_known, fits);
  const boost::math::binomial share(fits, 0.95);
  for (int k = 0; k < 2; ++k) {
    CAPTURE(k);
    const double rms = std::sqrt(c.z2[k]);
    MESSAGE("held ", c.held[k], " of ", fits, ", rms of errors over standard errors ", rms);
    CHECK(boost::math::cdf(share, c.held[k]) > 0.002);
    CHECK((fits == 60 || boost::math::cdf(boost::math::complement(share, c.held[k] - 1)) > 0.002));
    CHECK(rms > 0.75);
    CHECK(rms < 1.3);
  }
}

} // namespace

TEST_CASE("fit: 95 % intervals hold the truth as often as they say, with errors found from the residuals") {
  check_coverage(false);
}

TEST_CASE("fit: 95 % intervals hold the truth as often as they say, with errors given") { check_coverage(true); }

TEST_CASE("fit: readings without noise give the values back, from wherever the search starts") {
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2", std::string(kEmbedding) + "=1 um..8 um"});
  const std::vector<double> truth = {0.05, 3e-6};
  const std::vector<double> exact = example.clamps(truth, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 100);
  }
  example.request.starts = 4;
  example.request.parameters[0].start = 0.15;
  const FitResult one = fit(example.request);
  CHECK(one.values[0].value == close(0.05, 0, 1e-3));
  CHECK(one.values[1].value == close(3e-6, 0, 1e-3));
  CHECK(one.chi_square < 1e-3);
  CHECK(one.widened == 1);
  REQUIRE(one.starts.size() == 4);
  for (const FitStart& s : one.starts) {
    CHECK(s.outcome == "converged");
    CHECK(s.to[0] == close(0.05, 0, 0.01));
  }
  // Threads decide nothing.
  example.request.jobs = 3;
  const FitResult three = fit(example.request);
  CHECK(three.values[0].value == one.values[0].value);
  CHECK(three.values[1].low == one.values[1].low);
  CHECK(three.correlation == one.correlation);
  CHECK(three.runs == one.runs);
  // Curves meet the readings.
  REQUIRE(one.curves.size() == 1);
  CHECK(one.curves[0].value.front() == close(exact.front(), 0, 1e-6));
  CHECK(one.curves[0].value.back() == close(exact.back(), 0, 1e-4));
}

TEST_CASE("fit: errors as given that are too small widen the intervals, and that is said") {
  const std::vector<double> truth = {0.05};
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2"});
  const std::vector<double> exact = example.clamps(truth, kTimes);
  const std::vector<double> off = noise(5, kTimes.size());
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i] + 300 * off[i], 100);
  }
  const FitResult narrow = fit(example.request);
  CHECK(narrow.widened == close(std::sqrt(narrow.chi_square / 11), 0, 1e-12));
  CHECK(narrow.widened > 2);
  CHECK(says(narrow, "widened"));
  for (FitReading& r : example.request.readings) {
    r.error = 300;
  }
  const FitResult fair = fit(example.request);
  CHECK(fair.widened == 1);
  CHECK_FALSE(says(fair, "widened"));
  CHECK(fair.values[0].value == close(narrow.values[0].value, 0, 1e-4));
}

TEST_CASE("fit: one reading far off does not move a robust fit") {
  const std::vector<double> truth = {0.05};
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2"});
  const std::vector<double> exact = example.clamps(truth, kTimes);
  const std::vector<double> off = noise(11, kTimes.size());
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i] + 200 * off[i] + (i == 9 ? -8000 : 0));
  }
  const FitResult plain = fit(example.request);
  for (const FitLoss loss : {FitLoss::Huber, FitLoss::Cauchy}) {
    CAPTURE(name(loss));
    example.request.loss = loss;
    const FitResult robust = fit(example.request);
    CHECK(std::abs(robust.values[0].value - 0.05) < std::abs(plain.values[0].value - 0.05) / 4);
    CHECK(robust.values[0].low < 0.05);
    CHECK(robust.values[0].high > 0.05);
    CHECK(robust.values[0].error < plain.values[0].error / 2);
    CHECK(robust.residuals[9].weight < 0.1);
    CHECK(robust.residuals[8].weight > 0.5);
    CHECK(says(robust, "1 of 12 readings count less than half"));
    CHECK(robust.found_error[0] == close(200, 0, 0.6));
  }
}

TEST_CASE("fit: all starts are shown by the errors found, and the same answer is no second one") {
  // The search sees errors guessed at first, twenty times too large: by them the outlier moves the ends.
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2", std::string(kEmbedding) + "=1 um..8 um"});
  const std::vector<double> exact = example.clamps({0.05, 3e-6}, kTimes);
  const std::vector<double> off = noise(11, kTimes.size());
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i] + 200 * off[i] + (i == 6 ? -18000 : 0));
  }
  example.request.starts = 4;
  for (const FitLoss loss : {FitLoss::None, FitLoss::Huber}) {
    CAPTURE(name(loss));
    example.request.loss = loss;
    const FitResult result = fit(example.request);
    double cost = 0;
    for (const FitResidual& r : result.residuals) {
      cost += loss_at(loss, r.standardised).cost / 2;
    }
    CHECK(result.starts[result.best].cost == close(cost, 0, 1e-6));
    for (const FitStart& s : result.starts) {
      CHECK(s.cost == close(cost, 0, 1e-3));
      for (std::size_t k = 0; k < 2; ++k) {
        const FitValue& v = result.values[k];
        // An interval that spans its bounds has no standard error.
        const FitParameter& p = example.request.parameters[k];
        CHECK(std::abs(s.to[k] - v.value) < 0.05 * (undetermined(p, v) ? p.high - p.low : v.error));
      }
    }
    CHECK_FALSE(says(result, "more than one answer"));
  }
}

TEST_CASE("fit: that a part of the coupon gets hotter than the values of its material reach is told once") {
  ScenarioText hot = coupon();
  hot.disc_material = "youngs: [[10 degC, 205 GPa], [30 degC, 200 GPa]], poisson: 0.3, expansion: 12e-6 1/K";
  hot.ambient = "mean: 40 degC";
  FitExample example(hot, {std::string(kCold) + "=0.005..0.2"});
  const std::vector<double> exact = example.clamps({0.05}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 100);
  }
  const FitResult result = fit(example.request);
  CHECK(std::count_if(result.warnings.begin(), result.warnings.end(),
                      [](const std::string& w) { return w.find(kOutsideCalibration) != std::string::npos; }) == 1);
}

TEST_CASE("fit: a pair that the readings do not tell apart is named") {
  // At one pressure far below p_half the film closes X p/(p + p_half): the ratio of the two is all there is.
  FitExample example(coupon(), {std::string(kCold) + "=0.02..0.9", std::string(kHalf) + "=1 GPa..30 GPa"});
  const std::vector<double> exact = example.clamps({0.2, 5e9}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 20);
  }
  example.request.parameters[0].high = 0.25; // up to the hot share
  const FitResult result = fit(example.request);
  CHECK(says(result, "paint compaction cold / paint half pressure, not each"));
  CHECK(std::abs(result.correlation[1]) > 0.99);
  CHECK(result.values[1].high / result.values[1].low > 20);
  // One of the two alone is well known.
  example.request.parameters.pop_back();
  example.request.sets[0].make = [&](const std::vector<double>& v) { return example.reader().free_case({v[0], 5e9}); };
  const FitResult alone = fit(example.request);
  CHECK(alone.values[0].value == close(0.2, 0, 1e-3));
  CHECK(alone.values[0].high / alone.values[0].low < 2);
  INFO((alone.warnings.empty() ? std::string() : alone.warnings.front()));
  CHECK(alone.warnings.empty());
}

TEST_CASE("fit: a value that wants to leave its bounds is told, and its interval ends there") {
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.03"});
  const std::vector<double> exact = example.clamps({0.05}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 100);
  }
  const FitResult result = fit(example.request);
  CHECK(result.values[0].at_high);
  CHECK_FALSE(result.values[0].at_low);
  CHECK(result.values[0].value == 0.03);
  CHECK(result.values[0].high == 0.03);
  CHECK(result.values[0].low < 0.03);
  CHECK(says(result, "is at its upper bound"));
}

TEST_CASE("fit: a value that the readings leave open is told so once, and not sent beyond its bounds") {
  FitExample example(coupon(), {std::string(kCold) + "=0.02..0.03"});
  const std::vector<double> exact = example.clamps({0.2}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 1e6); // an error above all clamps
  }
  const FitResult result = fit(example.request);
  CHECK(result.values[0].at_high);
  CHECK(undetermined(example.request.parameters[0], result.values[0]));
  CHECK(not_fixed(example.request.parameters[0], result.values[0]));
  CHECK(std::isnan(result.values[0].error));
  CHECK(says(result, "paint compaction cold is not determined: its interval spans its bounds."));
  CHECK_FALSE(says(result, "Give it more room"));
  CHECK_FALSE(says(result, "next to nothing"));
}

TEST_CASE("fit: values that no run can have are passed by") {
  // The film would give less when hot from 0.06 on: three of four starts are there, and the way to the truth begins
  // beside it.
  ScenarioText text = coupon();
  text.coating = "modulus: 3 GPa, glass_transition: 80 degC, transition_width: 8 K, compaction_cold: 0.05, "
                 "compaction_hot: 0.06, half_pressure: 30 MPa, relaxation: {shortest: 1e-2 s, longest: 1e14 s, "
                 "modes: 16}, activation_below: 180 kJ/mol, turns: 1e6, pigment: 0.35";
  FitExample example(text, {std::string(kCold) + "=0.02..0.5"});
  const std::vector<double> exact = example.clamps({0.0595}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i], 100);
  }
  example.request.starts = 6;
  const FitResult result = fit(example.request);
  CHECK(result.values[0].value == close(0.0595, 0, 1e-3));
  CHECK(result.failed_runs > 0);
  CHECK(
      std::any_of(result.starts.begin(), result.starts.end(), [](const FitStart& s) { return s.outcome == "no run"; }));
  // With no start that runs there is no answer.
  example.request.starts = 1;
  example.request.parameters[0].start = 0.4;
  CHECK_THROWS_AS(fit(example.request), NumericalError);
}

TEST_CASE("fit: too few readings for the values are refused, and a stop is heard") {
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2"});
  example.read(FitQuantity::Clamp, 3600, 175e3, 100);
  CHECK_THROWS_AS(fit(example.request), InputError);
  example.read(FitQuantity::Clamp, 7200, 175e3, 100);
  CHECK(fit(example.request, [](double, const std::string&) { return false; }).stopped);
}

TEST_CASE("fit: the profile of one value is the parabola of its standard error where the model is straight") {
  FitExample example(coupon(), {std::string(kCold) + "=0.005..0.2", std::string(kEmbedding) + "=1 um..8 um"});
  const std::vector<double> exact = example.clamps({0.05, 3e-6}, kTimes);
  const std::vector<double> off = noise(3, kTimes.size());
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    example.read(FitQuantity::Clamp, kTimes[i], exact[i] + 5 * off[i], 5);
  }
  example.request.profile = true;
  const FitResult result = fit(example.request);
  for (std::size_t k = 0; k < 2; ++k) {
    CAPTURE(k);
    const FitValue& v = result.values[k];
    // So small an error sees only the straight part of the model: the two intervals agree.
    CHECK(v.profile_low == close(v.low, 0.05 * (v.value - v.low), 0));
    CHECK(v.profile_high == close(v.high, 0.05 * (v.high - v.value), 0));
    CHECK(*std::min_element(v.profile_rise.begin(), v.profile_rise.end()) == 0);
    CHECK(v.profile_rise.front() >= result.t_quantile * result.t_quantile);
    CHECK(v.profile_rise.back() >= result.t_quantile * result.t_quantile);
  }
}

TEST_CASE("fit: each quantity is taken from the run as it is defined") {
  ScenarioText text = coupon();
  text.ambient = "mean: 60 degC";
  text.studs = 3;
  FitExample example(text, {std::string(kCold) + "=0.005..0.2"});
  const std::vector<RecordRow> rows = example.records({0.05}, {24 * kHour});
  const auto row = std::find_if(rows.begin(), rows.end(), [](const RecordRow& r) { return r.time == 24 * kHour; });
  REQUIRE(row != rows.end());
  const Scenario s = example.reader().free_case({0.05});
  const double youngs = 200e9;
  const Thread& thread = s.joint.studs.thread;
  // EQUATIONS.md (2.3), no shank: head and nut on the nominal section, the rest on the minor one.
  const double grip = 44e-3 + 80e-6;
  const double compliance = (0.9 * 22e-3 / thread.nominal_area() + (grip + 0.5 * 22e-3) / thread.minor_area()) / youngs;
  example.read(FitQuantity::Clamp, 24 * kHour, row->clamp[1], 100);
  example.read(FitQuantity::ClampCold, 24 * kHour, row->clamp_cold[1], 100);
  example.read(FitQuantity::Stretch, 24 * kHour, row->clamp[1] * compliance, 1e-7);
  example.read(FitQuantity::Thickness, 24 * kHour, row->layer_thickness[1], 1e-7);
  example.read(FitQuantity::Temperature, 24 * kHour, row->temperature[0], 0.1);
  example.read(FitQuantity::CheckTorque, 24 * kHour, row->check_torque[1], 5);
  for (FitReading& r : example.request.readings) {
    r.stud = r.quantity == FitQuantity::Temperature ? -1 : 1;
  }
  CHECK(std::abs(row->clamp[1] - row->clamp_cold[1]) > 10); // warm
  const FitResult result = fit(example.request);
  for (std::size_t i = 0; i < result.readings.size(); ++i) {
    CAPTURE(describe(result.readings[i].quantity).word);
    CHECK(result.residuals[i].model == close(result.readings[i].value, 0, 1e-5));
    CHECK(std::abs(result.residuals[i].standardised) < 0.05);
  }
  CHECK(result.values[0].value == close(0.05, 0, 1e-3));
  // A check torque stands for the clamp that it was made of, a tenth of the frictions' spread off.
  CHECK(result.residuals[5].clamp == close(row->clamp[1], 0, 1e-9));
  CHECK(result.residuals[5].clamp_deviation > 0.08 * row->clamp[1]);
  CHECK(result.residuals[5].clamp_deviation < 0.14 * row->clamp[1]);
  CHECK(says(result, "stay high where friction has risen"));
}

TEST_CASE("fit: a check torque is turned into clamp by the breakaway ratio of its age, after a retorque too") {
  ScenarioText text = coupon();
  text.friction = "thread: 0.12, bearing: 0.12, breakaway: [[0 h, 1.0], [24 h, 1.1], [96 h, 1.4]]";
  text.service = "{retorque: {after: 72 h, torque: 900 N*m}}";
  FitExample example(text, {std::string(kCold) + "=0.005..0.2"});
  const std::vector<double> times = {24 * kHour, 70 * kHour, 100 * kHour};
  const std::vector<RecordRow> rows = example.records({0.05}, times);
  std::vector<double> clamps;
  for (const double t : times) {
    const auto row = std::find_if(rows.begin(), rows.end(), [&](const RecordRow& r) { return r.time == t; });
    REQUIRE(row != rows.end());
    example.read(FitQuantity::CheckTorque, t, row->check_torque[0], 5);
    clamps.push_back(row->clamp[0]);
  }
  CHECK(clamps[2] > 1.2 * clamps[1]); // the nut was moved
  const FitResult result = fit(example.request);
  for (std::size_t i = 0; i < 3; ++i) {
    CAPTURE(i);
    CHECK(result.residuals[i].clamp == close(clamps[i], 0, 1e-5));
  }
}

TEST_CASE("fit: two scenarios share a value, and each keeps its own") {
  ScenarioText cold = coupon();
  ScenarioText warm = coupon();
  warm.ambient = "mean: 45 degC";
  FitExample a(cold, {std::string(kCold) + "=0.005..0.2"});
  FitExample b(warm, {std::string(kCold) + "=0.005..0.2"});
  FitRequest both = a.request;
  both.sets.push_back(b.request.sets[0]);
  const std::vector<double> in_cold = a.clamps({0.07}, kTimes);
  const std::vector<double> in_warm = b.clamps({0.07}, kTimes);
  for (std::size_t i = 0; i < kTimes.size(); ++i) {
    for (const std::size_t set : {0U, 1U}) {
      FitReading r;
      r.set = set;
      r.time = kTimes[i];
      r.value = set == 0 ? in_cold[i] : in_warm[i];
      r.error = 100;
      both.readings.push_back(r);
    }
  }
  const FitResult result = fit(both);
  CHECK(result.values[0].value == close(0.07, 0, 1e-3));
  CHECK(result.chi_square < 0.01);
  CHECK(result.curves.size() == 2);
  CHECK(in_cold.back() - in_warm.back() > 50);
}

TEST_CASE("fit: losses are what they are called") {
  CHECK(loss_at(FitLoss::None, 7).cost == 49);
  CHECK(loss_at(FitLoss::Huber, 1).cost == 1);
  for (const FitLoss loss : {FitLoss::Huber, FitLoss::Cauchy}) {
    for (const double r : {0.3, 1.2, 1.9, 6.0}) {
      // weight = psi/r with psi half the slope of the cost, and slope that of psi.
      constexpr double h = 1e-6;
      const auto psi = [&](double x) { return loss_at(loss, x).weight * x; };
      CHECK(psi(r) == close((loss_at(loss, r + h).cost - loss_at(loss, r - h).cost) / (4 * h), 1e-8, 1e-7));
      CHECK(loss_at(loss, r).slope == close((psi(r + h) - psi(r - h)) / (2 * h), 1e-8, 1e-7));
    }
    CHECK(loss_at(loss, -6).weight == loss_at(loss, 6).weight);
  }
}

// The statistics of a study against closed forms and published figures.
#include "post/statistics.hpp"

#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <stdexcept>
#include <vector>

using namespace clampfade::post;
using clampfade::test::close;

namespace {

/// Ishigami and Homma, "An importance quantification technique in uncertainty analysis for computer models", ISUMA
/// 1990, with the customary constants 7 and 0.1. Inputs evenly spread from -pi to pi.
constexpr double kA = 7, kB = 0.1;
double ishigami(const std::array<double, 3>& x) {
  return std::sin(x[0]) + kA * std::pow(std::sin(x[1]), 2) + kB * std::pow(x[2], 4) * std::sin(x[0]);
}
struct Known {
  std::array<double, 3> first{}, total{};
};
Known known() {
  const double pi4 = std::pow(std::numbers::pi, 4);
  const double v1 = 0.5 * std::pow(1 + kB * pi4 / 5, 2);
  const double v2 = kA * kA / 8;
  const double v13 = 8 * kB * kB * pi4 * pi4 / 225;
  const double v = v1 + v2 + v13;
  return {{v1 / v, v2 / v, 0}, {(v1 + v13) / v, v2 / v, v13 / v}};
}

std::array<double, 3> drawn(std::mt19937_64& random) {
  std::array<double, 3> x{};
  for (double& one : x) {
    one = std::numbers::pi * (2 * (static_cast<double>(random() >> 11U) * 0x1p-53) - 1);
  }
  return x;
}

std::vector<InputShares> of_ishigami(std::size_t n, unsigned seed) {
  std::mt19937_64 random(seed);
  std::vector<double> base, anew;
  std::vector<std::vector<double>> mixed(3);
  for (std::size_t i = 0; i < n; ++i) {
    const auto a = drawn(random);
    const auto b = drawn(random);
    // A large constant beside the function, as a clamp has.
    base.push_back(1e5 + ishigami(a));
    anew.push_back(1e5 + ishigami(b));
    for (std::size_t k = 0; k < 3; ++k) {
      auto m = a;
      m.at(k) = b.at(k);
      mixed[k].push_back(1e5 + ishigami(m));
    }
  }
  return shares_of_design(base, anew, mixed);
}

} // namespace

TEST_CASE("statistics: quantiles by definition 7, between values on the straight line") {
  const std::vector<double> five = {50, 10, 40, 20, 30};
  CHECK(quantile(five, 0) == 10);
  CHECK(quantile(five, 0.5) == 30);
  CHECK(quantile(five, 1) == 50);
  CHECK(quantile(five, 0.05) == close(12, 1e-12, 0));
  CHECK(quantile(five, 0.95) == close(48, 1e-12, 0));
  CHECK(quantile({1, 2, 3, 4}, 0.25) == close(1.75, 1e-12, 0));
  CHECK(quantile({7}, 0.9) == 7);
  const double never = std::numeric_limits<double>::infinity();
  CHECK(quantile({1, never, never}, 0.75) == never);
  CHECK(quantile({1, 2, never}, 0.5) == 2);
  CHECK(std::isnan(quantile({}, 0.5)));
}

TEST_CASE("statistics: the exact interval of a share") {
  // Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998), table I,
  // method 5; from memory.
  struct Row {
    std::size_t k, n;
    double low, high;
  };
  for (const Row& row : {Row{81, 263, 0.2527, 0.3676}, Row{15, 148, 0.0578, 0.1617}, Row{0, 20, 0, 0.1684},
                         Row{1, 29, 0.0009, 0.1776}}) {
    CAPTURE(row.k);
    const Interval i = share_interval(row.k, row.n);
    CHECK(i.low == close(row.low, 6e-5, 0));
    CHECK(i.high == close(row.high, 6e-5, 0));
    // What is true of some is false of the others.
    const Interval others = share_interval(row.n - row.k, row.n);
    CHECK(others.low == close(1 - i.high, 1e-12, 0));
    CHECK(others.high == close(1 - i.low, 1e-12, 0));
  }
  // None of n, in closed form.
  CHECK(share_interval(0, 50).high == close(1 - std::pow(0.025, 1.0 / 50), 1e-12, 0));
  CHECK(share_interval(50, 50).high == 1);
  CHECK(share_interval(0, 0).high == 1);
}

TEST_CASE("statistics: how many of n are within a risk, and how many cases that takes") {
  // 1 - 0.025^(1/n) <= 0.01 from n = ln 0.025 / ln 0.99 = 367.04 on.
  CHECK(fewest_for_risk(0.01) == 368);
  CHECK_FALSE(most_within_risk(367, 0.01));
  CHECK(most_within_risk(368, 0.01) == 0U);
  const auto k = most_within_risk(2000, 0.05);
  REQUIRE(k);
  CHECK(share_interval(*k, 2000).high <= 0.05);
  CHECK(share_interval(*k + 1, 2000).high > 0.05);
  CHECK(most_within_risk(10, 1) == 10U);
  CHECK_FALSE(most_within_risk(0, 1));
}

TEST_CASE("statistics: a design gives the indices of a function whose indices are known") {
  const Known truth = known();
  CHECK(truth.first[0] == close(0.3139, 5e-5, 0));
  CHECK(truth.total[0] == close(0.5576, 5e-5, 0));
  CHECK(truth.total[2] == close(0.2437, 5e-5, 0));
  const std::vector<InputShares> shares = of_ishigami(20000, 3);
  REQUIRE(shares.size() == 3);
  for (std::size_t k = 0; k < 3; ++k) {
    CAPTURE(k);
    CHECK(shares[k].first.value == close(truth.first.at(k), 0.02, 0));
    CHECK(shares[k].total->value == close(truth.total.at(k), 0.02, 0));
  }
}

TEST_CASE("statistics: intervals of a design hold the truth about as often as they say") {
  const Known truth = known();
  int inside = 0;
  constexpr int designs = 25;
  for (unsigned seed = 0; seed < designs; ++seed) {
    const std::vector<InputShares> shares = of_ishigami(300, 100 + seed);
    for (std::size_t k = 0; k < 3; ++k) {
      const Interval& f = shares[k].first.interval;
      const Interval& t = shares[k].total->interval;
      inside += f.low <= truth.first.at(k) && truth.first.at(k) <= f.high ? 1 : 0;
      inside += t.low <= truth.total.at(k) && truth.total.at(k) <= t.high ? 1 : 0;
    }
  }
  // 95 % of 150 are 142; of intervals twice too narrow some 100 would hold, of those twice too wide all.
  CHECK(inside >= 130);
  CHECK(inside < 150);
}

TEST_CASE("statistics: ranks give the first order from any sample") {
  const Known truth = known();
  std::mt19937_64 random(11);
  std::vector<std::vector<double>> inputs(3);
  std::vector<double> outcome;
  for (int i = 0; i < 8000; ++i) {
    const auto x = drawn(random);
    outcome.push_back(1e5 + ishigami(x));
    for (std::size_t k = 0; k < 3; ++k) {
      inputs[k].push_back(x.at(k));
    }
  }
  for (std::size_t k = 0; k < 3; ++k) {
    CAPTURE(k);
    const Index index = share_by_rank(inputs[k], outcome);
    CHECK(index.value == close(truth.first.at(k), 0.04, 0));
    CHECK(index.interval.low < truth.first.at(k));
    CHECK(index.interval.high > truth.first.at(k));
    CHECK(index.interval.high - index.interval.low < 0.15);
  }
}

TEST_CASE("statistics: what does not vary has no causes, and one cause has all") {
  const std::vector<double> same(50, 3e5);
  const std::vector<InputShares> none = shares_of_design(same, same, {same});
  CHECK(none[0].first.value == 0);
  CHECK(none[0].total->value == 0);
  std::vector<double> x;
  for (int i = 0; i < 500; ++i) {
    x.push_back(i);
  }
  CHECK(share_by_rank(x, std::vector<double>(500, 7)).value == 0);
  CHECK(share_by_rank(x, x).value > 0.97);
  CHECK_THROWS_AS((void)share_by_rank(x, same), std::invalid_argument);
  CHECK_THROWS_AS((void)shares_of_design(same, x, {}), std::invalid_argument);
}

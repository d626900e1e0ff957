// Checks: scattered values: distributions, what is cut off of them, points, and studs of one wheel that go together.
// Reference: closed forms of the moments; the standard normal distribution of Boost.Math; the Sobol engine of
//   Boost.Random; known answers of Philox4x32-10 from the test vectors of Random123 (memory).
// Tolerance: means and variances over 2^14 even points, 1e-4; single quantiles to round-off.
// Fails if: a parameter is mistaken, a cut changes the shape of what is left, a tail loses its digits, a point depends
//   on anything but the seed and its number, or the copula has another correlation than asked for.
#include "solver/scatter.hpp"
#include "tests/support/close.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/random/sobol.hpp>
#include <doctest/doctest.h>

#include <cmath>
#include <set>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::test;
using Kind = DistributionSpec::Kind;

namespace {

struct Moments {
  double mean = 0, variance = 0, lowest = INFINITY, highest = -INFINITY;
};

/// Of a distribution, by its quantiles at the middles of equal shares.
Moments moments(const Distribution& d) {
  constexpr int n = 1 << 14;
  Moments m;
  double square = 0;
  for (int k = 0; k < n; ++k) {
    const double x = d.quantile((k + 0.5) / n);
    m.mean += x / n;
    square += x * x / n;
    m.lowest = std::min(m.lowest, x);
    m.highest = std::max(m.highest, x);
  }
  m.variance = square - m.mean * m.mean;
  return m;
}

double density(double z) { return boost::math::pdf(boost::math::normal(), z); }
double share(double z) { return boost::math::cdf(boost::math::normal(), z); }

} // namespace

TEST_CASE("distributions have the moments of their closed forms") {
  const Moments normal = moments(Distribution({Kind::Normal, 5, 2}));
  CHECK(normal.mean == close(5, 1e-9, 0));
  CHECK(normal.variance == close(4, 0, 1e-3)); // the outermost shares end before the tails do
  const Moments lognormal = moments(Distribution({Kind::Lognormal, 3, 0.25}));
  CHECK(lognormal.mean == close(3 * std::exp(0.25 * 0.25 / 2), 0, 1e-4));
  CHECK(lognormal.variance == close(9 * std::exp(0.0625) * std::expm1(0.0625), 0, 2e-3));
  const Moments uniform = moments(Distribution({Kind::Uniform, -1, 3}));
  CHECK(uniform.mean == close(1, 1e-9, 0));
  CHECK(uniform.variance == close(16.0 / 12, 0, 1e-6));
  const Moments triangular = moments(Distribution({Kind::Triangular, 1, 7, 2}));
  CHECK(triangular.mean == close((1 + 2 + 7) / 3.0, 0, 1e-5));
  CHECK(triangular.variance == close((1 + 4 + 49 - 1 * 2 - 1 * 7 - 2 * 7) / 18.0, 0, 1e-5));
}

TEST_CASE("a distribution that is cut off keeps its shape between the ends") {
  DistributionSpec spec{Kind::Normal, 10, 2};
  spec.low = 9;
  spec.high = 15;
  const Moments m = moments(Distribution(spec));
  const double a = -0.5;
  const double b = 2.5;
  const double z = share(b) - share(a);
  const double shift = (density(a) - density(b)) / z;
  CHECK(m.mean == close(10 + 2 * shift, 0, 1e-6));
  CHECK(m.variance == close(4 * (1 + (a * density(a) - b * density(b)) / z - shift * shift), 0, 1e-4));
  CHECK(m.lowest >= 9);
  CHECK(m.highest <= 15);
  // Not by drawing again: the middle is that of the share between the ends.
  CHECK(Distribution(spec).quantile(0.5) ==
        close(10 + 2 * boost::math::quantile(boost::math::normal(), share(a) + z / 2), 0, 1e-12));
}

TEST_CASE("a cut in a far tail keeps its digits on both sides") {
  for (const double sign : {1.0, -1.0}) {
    DistributionSpec spec{Kind::Normal, 0, 1};
    spec.low = sign > 0 ? 6 : -7;
    spec.high = sign > 0 ? 7 : -6;
    // Half of what lies between 6 and 7 standard deviations lies beyond this.
    const double tail = (share(-6) + share(-7)) / 2;
    CHECK(Distribution(spec).quantile(0.5) ==
          close(-sign * boost::math::quantile(boost::math::normal(), tail), 0, 1e-10));
  }
  DistributionSpec nothing{Kind::Normal, 0, 1};
  nothing.low = 20;
  CHECK_THROWS_AS(Distribution{nothing}, std::invalid_argument);
  nothing.low = 1;
  nothing.high = 1;
  CHECK_THROWS_AS(Distribution{nothing}, std::invalid_argument);
}

TEST_CASE("measured values come with the same chance each") {
  DistributionSpec spec{Kind::Empirical};
  spec.values = {4, 1, 3, 2, 9};
  spec.high = 5;
  const Distribution d(spec);
  std::multiset<double> seen;
  for (int k = 0; k < 100; ++k) {
    seen.insert(d.quantile((k + 0.5) / 100));
  }
  for (const double v : {1.0, 2.0, 3.0, 4.0}) {
    CHECK(seen.count(v) == 25);
  }
  spec.low = 4.5;
  CHECK_THROWS_AS(Distribution{spec}, std::invalid_argument);
}

TEST_CASE("the counter-based generator gives its known answers") {
  const PhiloxBlock zero = philox({{0, 0, 0, 0}}, 0);
  CHECK(zero.word[0] == 0x6627e8d5);
  CHECK(zero.word[1] == 0xe169c58d);
  CHECK(zero.word[2] == 0xbc57ac4c);
  CHECK(zero.word[3] == 0x9b00dbd8);
  const PhiloxBlock pi = philox({{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}}, 0x299f31d0a4093822);
  CHECK(pi.word[0] == 0xd16cfe09);
  CHECK(pi.word[1] == 0x94fdcceb);
  CHECK(pi.word[2] == 0x5001e420);
  CHECK(pi.word[3] == 0x24126ea1);
}

TEST_CASE("Sobol points are the engine's, shifted digit by digit by the same bits in every point") {
  constexpr std::size_t n = 7;
  boost::random::sobol_engine<std::uint64_t, 64> engine(n);
  const Points points(StudySampling::Sobol, 42, n);
  std::vector<std::uint64_t> shift(n);
  for (std::size_t i = 0; i < 300; ++i) {
    const std::vector<double> u = points.point(i);
    for (std::size_t d = 0; d < n; ++d) {
      // A coordinate holds 52 of the bits.
      const auto bits = static_cast<std::uint64_t>(u[d] * 0x1p52) ^ (engine() >> 12U);
      if (i == 0) {
        shift[d] = bits;
      }
      CHECK(bits == shift[d]);
    }
  }
  CHECK(std::set<std::uint64_t>(shift.begin(), shift.end()).size() == n);
}

TEST_CASE("Sobol points fall one into each of equal shares, in every coordinate, whatever the seed") {
  for (const std::uint64_t seed : {1U, 99U}) {
    const Points points(StudySampling::Sobol, seed, 40);
    std::vector<std::set<int>> cells(40);
    for (std::uint64_t i = 255; i < 511; ++i) {
      const std::vector<double> u = points.point(i);
      for (std::size_t d = 0; d < u.size(); ++d) {
        cells[d].insert(static_cast<int>(u[d] * 256));
      }
    }
    for (const auto& c : cells) {
      CHECK(c.size() == 256);
    }
  }
}

TEST_CASE("a point depends on the seed and its number alone") {
  for (const StudySampling sampling : {StudySampling::Sobol, StudySampling::Random}) {
    const Points a(sampling, 5, 3);
    const Points b(sampling, 5, 3);
    const Points other(sampling, 6, 3);
    const std::vector<double> late = b.point(1000);
    (void)a.point(3);
    CHECK(a.point(1000) == late);
    CHECK(a.point(1000) != other.point(1000));
    CHECK(a.point(1000) != a.point(1001));
    for (const double u : late) {
      CHECK(u > 0);
      CHECK(u < 1);
    }
  }
  CHECK_THROWS_AS(Points(StudySampling::Sobol, 1, 0), std::invalid_argument);
  CHECK_THROWS_AS(Points(StudySampling::Sobol, 1, kMostDimensions + 1), std::invalid_argument);
}

TEST_CASE("studs of one wheel have the correlation asked for, and each its own even spread") {
  constexpr std::size_t studs = 5;
  for (const double r : {0.0, 0.3, 0.8, 1.0}) {
    CAPTURE(r);
    const Points points(StudySampling::Sobol, 3, copula_dimensions(studs, r));
    const boost::math::normal normal;
    double product = 0;
    double square = 0;
    double mean = 0;
    constexpr int n = 4096;
    for (int i = 0; i < n; ++i) {
      const std::vector<double> u = copula(points.point(static_cast<std::uint64_t>(i)).data(), studs, r);
      REQUIRE(u.size() == studs);
      const double a = boost::math::quantile(normal, u[1]);
      const double b = boost::math::quantile(normal, u[4]);
      product += a * b / n;
      square += a * a / n;
      mean += u[1] / n;
    }
    CHECK(product == close(r, 0.02, 0));
    CHECK(square == close(1, 0.02, 0));
    CHECK(mean == close(0.5, 0.005, 0));
  }
  CHECK(copula_dimensions(10, 0) == 10);
  CHECK(copula_dimensions(10, 0.5) == 11);
  CHECK(copula_dimensions(10, 1) == 1);
}

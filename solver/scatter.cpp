#include "solver/scatter.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/triangular.hpp>
#include <boost/random/sobol.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <utility>

namespace clampfade {

namespace {

using Kind = DistributionSpec::Kind;

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kLeastLeft = 1e-12; // of a distribution that is cut off

/// The middle of one of 2^52 equal cells, which a double holds exactly: never 0 and never 1.
double open_unit(std::uint64_t bits) { return (static_cast<double>(bits >> 12U) + 0.5) * 0x1p-52; }

double standard(double u) { return boost::math::quantile(boost::math::normal(), u); }
/// The same for 1 - u, without the digits that the difference loses.
double standard_upper(double rest) {
  return boost::math::quantile(boost::math::complement(boost::math::normal(), rest));
}
double share_below(double z) { return boost::math::cdf(boost::math::normal(), z); }
double share_above(double z) { return boost::math::cdf(boost::math::complement(boost::math::normal(), z)); }

} // namespace

Distribution::Distribution(DistributionSpec spec) : spec_(std::move(spec)) {
  if (!(spec_.low < spec_.high)) {
    throw std::invalid_argument("low is not below high");
  }
  if (spec_.kind == Kind::Empirical) {
    auto& values = spec_.values;
    values.erase(
        std::remove_if(values.begin(), values.end(), [&](double v) { return v < spec_.low || v > spec_.high; }),
        values.end());
    if (values.empty()) {
      throw std::invalid_argument("no value lies between low and high");
    }
    std::sort(values.begin(), values.end());
    return;
  }
  // Both tails are kept, because each is exact only where it is small.
  if (spec_.low > -kInfinity) {
    under_ = below(spec_.low);
    not_under_ = above(spec_.low);
  }
  if (spec_.high < kInfinity) {
    not_over_ = below(spec_.high);
    over_ = above(spec_.high);
  }
  if (!(std::max(not_over_ - under_, not_under_ - over_) > kLeastLeft)) {
    throw std::invalid_argument("nothing of the distribution lies between low and high");
  }
}

/// Of the distribution before it is cut off: the value with the share u below and the share `rest` above.
double Distribution::whole(double u, double rest) const {
  const auto z = [&] { return u <= rest ? standard(u) : standard_upper(rest); };
  const auto [a, b] = std::pair(spec_.a, spec_.b);
  switch (spec_.kind) {
  case Kind::Normal:
    return a + b * z();
  case Kind::Lognormal:
    return a * std::exp(b * z());
  case Kind::Uniform:
    return u <= rest ? a + (b - a) * u : b - (b - a) * rest;
  case Kind::Triangular: {
    const boost::math::triangular shape(a, spec_.mode, b);
    return u <= rest ? boost::math::quantile(shape, u) : boost::math::quantile(boost::math::complement(shape, rest));
  }
  case Kind::Empirical:
    break;
  }
  const auto count = static_cast<double>(spec_.values.size());
  return spec_.values[std::min(static_cast<std::size_t>(u * count), spec_.values.size() - 1)];
}

double Distribution::below(double x) const {
  const auto [a, b] = std::pair(spec_.a, spec_.b);
  switch (spec_.kind) {
  case Kind::Normal:
    return share_below((x - a) / b);
  case Kind::Lognormal:
    return x > 0 ? share_below(std::log(x / a) / b) : 0;
  case Kind::Uniform:
    return std::clamp((x - a) / (b - a), 0.0, 1.0);
  case Kind::Triangular:
    return boost::math::cdf(boost::math::triangular(a, spec_.mode, b), std::clamp(x, a, b));
  case Kind::Empirical:
    break;
  }
  return 0;
}

double Distribution::above(double x) const {
  const auto [a, b] = std::pair(spec_.a, spec_.b);
  switch (spec_.kind) {
  case Kind::Normal:
    return share_above((x - a) / b);
  case Kind::Lognormal:
    return x > 0 ? share_above(std::log(x / a) / b) : 1;
  case Kind::Uniform:
    return std::clamp((b - x) / (b - a), 0.0, 1.0);
  case Kind::Triangular:
    return boost::math::cdf(boost::math::complement(boost::math::triangular(a, spec_.mode, b), std::clamp(x, a, b)));
  case Kind::Empirical:
    break;
  }
  return 0;
}

double Distribution::quantile(double u) const {
  const double x = whole(under_ + u * (not_over_ - under_), over_ + (1 - u) * (not_under_ - over_));
  return std::clamp(x, spec_.low, spec_.high);
}

PhiloxBlock philox(PhiloxBlock c, std::uint64_t key) {
  constexpr std::uint64_t m0 = 0xD2511F53U;
  constexpr std::uint64_t m1 = 0xCD9E8D57U;
  auto k0 = static_cast<std::uint32_t>(key);
  auto k1 = static_cast<std::uint32_t>(key >> 32U);
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t p0 = m0 * c.word[0];
    const std::uint64_t p1 = m1 * c.word[2];
    c = {{static_cast<std::uint32_t>(p1 >> 32U) ^ c.word[1] ^ k0, static_cast<std::uint32_t>(p1),
          static_cast<std::uint32_t>(p0 >> 32U) ^ c.word[3] ^ k1, static_cast<std::uint32_t>(p0)}};
    k0 += 0x9E3779B9U;
    k1 += 0xBB67AE85U;
  }
  return c;
}

namespace {

/// 64 random bits of a seed, a point (0 for what belongs to all points) and a dimension.
std::uint64_t random_bits(std::uint64_t seed, std::uint64_t point, std::size_t dimension) {
  const PhiloxBlock block = philox({{static_cast<std::uint32_t>(point), static_cast<std::uint32_t>(point >> 32U),
                                     static_cast<std::uint32_t>(dimension), 0}},
                                   seed);
  return static_cast<std::uint64_t>(block.word[1]) << 32U | block.word[0];
}

} // namespace

Points::Points(StudySampling sampling, std::uint64_t seed, std::size_t dimensions)
    : sampling_(sampling), seed_(seed), dimensions_(dimensions) {
  if (dimensions < 1 || dimensions > kMostDimensions) {
    throw std::invalid_argument("points have 1 to 3667 dimensions");
  }
  if (sampling == StudySampling::Random) {
    return;
  }
  for (std::size_t d = 0; d < dimensions; ++d) {
    shift_.push_back(random_bits(seed, 0, d));
  }
  // A point is the sum, without carry, of the direction numbers at the set bits of its number's Gray code. What the
  // engine gives at 2^k - 1 draws, number 2^k, is those of bits k and k - 1: from that follow all of them.
  boost::random::sobol_engine<std::uint64_t, 64> engine(dimensions);
  std::vector<std::uint64_t> before(dimensions, 0);
  directions_.assign(dimensions * 64, 0);
  for (std::size_t bit = 0; bit < 64; ++bit) {
    engine.seed((std::uint64_t{1} << bit) - 1);
    for (std::size_t d = 0; d < dimensions; ++d) {
      before[d] ^= engine();
      directions_[d * 64 + bit] = before[d];
    }
  }
}

std::vector<double> Points::point(std::uint64_t number) const {
  std::vector<double> u(dimensions_);
  const std::uint64_t index = number + 1;
  const std::uint64_t gray = index ^ (index >> 1U);
  for (std::size_t d = 0; d < dimensions_; ++d) {
    if (sampling_ == StudySampling::Random) {
      u[d] = open_unit(random_bits(seed_, index, d));
      continue;
    }
    std::uint64_t x = shift_[d];
    for (std::size_t bit = 0; bit < 64 && gray >> bit != 0; ++bit) {
      x ^= (gray >> bit & 1U) != 0 ? directions_[d * 64 + bit] : 0;
    }
    u[d] = open_unit(x);
  }
  return u;
}

std::size_t copula_dimensions(std::size_t studs, double correlation) {
  return (correlation > 0 ? 1U : 0U) + (correlation < 1 ? studs : 0U);
}

std::vector<double> copula(const double* u, std::size_t studs, double correlation) {
  if (correlation <= 0) {
    return {u, u + studs};
  }
  if (correlation >= 1) {
    return std::vector<double>(studs, u[0]);
  }
  const double wheel = std::sqrt(correlation) * standard(u[0]);
  std::vector<double> out;
  for (std::size_t k = 0; k < studs; ++k) {
    const double z = wheel + std::sqrt(1 - correlation) * standard(u[1 + k]);
    out.push_back(std::clamp(share_below(z), 0x1p-54, 1 - 0x1p-53));
  }
  return out;
}

} // namespace clampfade

#include "post/statistics.hpp"

#include <boost/math/special_functions/beta.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>
#include <random>
#include <stdexcept>

namespace clampfade::post {

namespace {

constexpr std::size_t kDraws = 400;
constexpr std::size_t kHalves = 100;      // of which only the spread is wanted
constexpr std::uint64_t kSeed = 20240117; // any will do, but always the same one
constexpr double kTail = (1 - kConfidence) / 2;
// Of the variance over the square of the mean: less is round-off.
constexpr double kRoundOff = 1e-20;

/// A number from 0 to n - 1; the library's own distributions differ between libraries.
std::size_t below(std::mt19937_64& random, std::size_t n) {
  return static_cast<std::size_t>(static_cast<double>(random() >> 11U) * 0x1p-53 * static_cast<double>(n));
}

double mean(std::span<const double> values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// The two numerators and the variance, from the places named.
struct Sums {
  double first = 0, total = 0, variance = 0;
};
Sums sums(std::span<const double> base, std::span<const double> anew, std::span<const double> mixed,
          std::span<const std::size_t> places) {
  Sums s;
  double sum = 0;
  for (const std::size_t i : places) {
    sum += base[i] + anew[i];
  }
  const auto n = static_cast<double>(places.size());
  const double centre = sum / (2 * n); // taken off first: a large mean would drown the differences
  for (const std::size_t i : places) {
    const double a = base[i] - centre;
    const double b = anew[i] - centre;
    const double m = mixed[i] - centre;
    s.first += b * (m - a);
    s.total += (a - m) * (a - m) / 2;
    s.variance += (a * a + b * b) / 2;
  }
  const double least = kRoundOff * centre * centre * n;
  if (s.variance <= least) {
    return {};
  }
  return {s.first / s.variance, s.total / s.variance, s.variance / n};
}

Interval percentiles(const std::vector<double>& values) {
  return {quantile(values, kTail), quantile(values, 1 - kTail)};
}

/// By rank, of the places named; they are in any order.
double rank_share(std::span<const double> input, std::span<const double> outcome, std::vector<std::size_t> places) {
  std::stable_sort(places.begin(), places.end(), [&](std::size_t a, std::size_t b) { return input[a] < input[b]; });
  const std::size_t n = places.size();
  double centre = 0;
  for (const std::size_t i : places) {
    centre += outcome[i] / static_cast<double>(n);
  }
  double product = 0;
  double square = 0;
  for (std::size_t j = 0; j < n; ++j) {
    const double here = outcome[places[j]] - centre;
    product += here * (outcome[places[(j + 1) % n]] - centre);
    square += here * here;
  }
  return square <= kRoundOff * centre * centre * static_cast<double>(n) ? 0 : product / square;
}

} // namespace

double quantile(std::vector<double> values, double p) {
  if (values.empty()) {
    return std::numeric_limits<double>::quiet_NaN();
  }
  std::sort(values.begin(), values.end());
  const double place = std::clamp(p, 0.0, 1.0) * static_cast<double>(values.size() - 1);
  const auto below_it = static_cast<std::size_t>(place);
  const double low = values[below_it];
  const double share = place - static_cast<double>(below_it);
  return share == 0 || low == values[below_it + 1] ? low : low + share * (values[below_it + 1] - low);
}

Interval share_interval(std::size_t k, std::size_t n) {
  if (n == 0) {
    return {};
  }
  const auto in = static_cast<double>(k);
  const auto out = static_cast<double>(n - k);
  return {k == 0 ? 0 : boost::math::ibeta_inv(in, out + 1, kTail),
          k == n ? 1 : boost::math::ibeta_inv(in + 1, out, 1 - kTail)};
}

std::optional<std::size_t> most_within_risk(std::size_t n, double risk) {
  if (n == 0 || share_interval(0, n).high > risk) {
    return std::nullopt;
  }
  // The upper end rises with k.
  std::size_t within = 0;
  std::size_t beyond = n;
  if (share_interval(n, n).high <= risk) {
    return n;
  }
  while (beyond - within > 1) {
    const std::size_t k = within + (beyond - within) / 2;
    (share_interval(k, n).high <= risk ? within : beyond) = k;
  }
  return within;
}

std::size_t fewest_for_risk(double risk) {
  // With none of n the upper end is 1 - kTail^(1/n).
  auto n = static_cast<std::size_t>(std::max(1.0, std::floor(std::log(kTail) / std::log1p(-risk))));
  while (!most_within_risk(n, risk)) {
    ++n;
  }
  return n;
}

std::vector<InputShares> shares_of_design(std::span<const double> base, std::span<const double> anew,
                                          const std::vector<std::vector<double>>& mixed) {
  const std::size_t n = base.size();
  const bool alike = anew.size() == n && std::all_of(mixed.begin(), mixed.end(),
                                                     [n](const std::vector<double>& m) { return m.size() == n; });
  if (n < 2 || !alike) {
    throw std::invalid_argument("blocks of a design are of one length, 2 or more");
  }
  std::vector<std::size_t> places(n);
  std::iota(places.begin(), places.end(), 0);
  std::vector<InputShares> shares;
  for (const std::vector<double>& m : mixed) {
    const Sums all = sums(base, anew, m, places);
    shares.push_back({{all.first, {}}, Index{all.total, {}}});
  }
  std::mt19937_64 random(kSeed);
  std::vector<std::vector<double>> first(mixed.size());
  std::vector<std::vector<double>> total(mixed.size());
  for (std::size_t draw = 0; draw < kDraws; ++draw) {
    std::generate(places.begin(), places.end(), [&] { return below(random, n); });
    for (std::size_t k = 0; k < mixed.size(); ++k) {
      const Sums drawn = sums(base, anew, mixed[k], places);
      first[k].push_back(drawn.first);
      total[k].push_back(drawn.total);
    }
  }
  for (std::size_t k = 0; k < mixed.size(); ++k) {
    shares[k].first.interval = percentiles(first[k]);
    shares[k].total->interval = percentiles(total[k]);
  }
  return shares;
}

double share_by_rank_alone(std::span<const double> input, std::span<const double> outcome) {
  const std::size_t n = input.size();
  if (n < 4 || outcome.size() != n) {
    throw std::invalid_argument("input and outcome are of one length, 4 or more");
  }
  std::vector<std::size_t> places(n);
  std::iota(places.begin(), places.end(), 0);
  return rank_share(input, outcome, std::move(places));
}

Index share_by_rank(std::span<const double> input, std::span<const double> outcome) {
  Index index;
  index.value = share_by_rank_alone(input, outcome);
  const std::size_t n = input.size();
  std::vector<std::size_t> places(n);
  std::iota(places.begin(), places.end(), 0);
  std::mt19937_64 random(kSeed);
  const std::size_t half = n / 2;
  std::vector<double> of_halves;
  for (std::size_t draw = 0; draw < kHalves; ++draw) {
    for (std::size_t i = 0; i < half; ++i) {
      std::swap(places[i], places[i + below(random, n - i)]);
    }
    of_halves.push_back(
        rank_share(input, outcome, {places.begin(), places.begin() + static_cast<std::ptrdiff_t>(half)}));
  }
  const double centre = mean(of_halves);
  double square = 0;
  for (const double v : of_halves) {
    square += (v - centre) * (v - centre);
  }
  // With half of the values left out, the spread of the halves is that of the whole.
  const double left_out = static_cast<double>(n - half);
  const double spread = std::sqrt(static_cast<double>(half) / left_out * square / static_cast<double>(kHalves));
  constexpr double normal_quantile = 1.959964; // 97.5 %
  index.interval = {index.value - normal_quantile * spread, index.value + normal_quantile * spread};
  return index;
}

} // namespace clampfade::post

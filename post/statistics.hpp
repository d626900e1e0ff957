// What many cases say together: quantiles, shares with their doubt, and which input the spread comes from. Pure
// numbers, nothing of wheels.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace clampfade::post {

/// Confidence that all intervals here are for.
inline constexpr double kConfidence = 0.95;

/// The value below which the share `p` (0 to 1) of the values lies, between two values on the straight line: definition
/// 7 of Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996). Values need
/// no order; not a number if there are none. All must be finite or infinite, none not a number.
double quantile(std::vector<double> values, double p);

struct Interval {
  double low = 0, high = 1;
};

/// What share of all may have a property that `k` of `n` independent ones have (k <= n): exact, so at least as wide as
/// the confidence asks for. Clopper and Pearson, "The use of confidence or fiducial limits illustrated in the case of
/// the binomial", Biometrika 26 (1934). 0 to 1 for n = 0.
Interval share_interval(std::size_t k, std::size_t n);

/// The largest k for which the upper end of share_interval(k, n) is no more than `risk`; none if not even 0.
std::optional<std::size_t> most_within_risk(std::size_t n, double risk);
/// The fewest n for which most_within_risk has an answer; `risk` in (0, 1).
std::size_t fewest_for_risk(double risk);

/// A sensitivity index: the share of the outcome's variance that an input is behind. Estimates of a share near 0 may
/// come out a little below it.
struct Index {
  double value = 0;
  Interval interval; ///< for kConfidence
};

/// Of one input.
struct InputShares {
  Index first;                ///< alone
  std::optional<Index> total; ///< together with what it does by way of the others
};

/// From a design of blocks: `base` and `anew` drawn independently, `mixed[k]` as base but for input k, which is as in
/// anew; entries of one place belong together. First order by Saltelli et al., "Variance based sensitivity analysis of
/// model output", Computer Physics Communications 181 (2010), table 2 (b); total by Jansen, "Analysis of variance
/// designs for model output", Computer Physics Communications 117 (1999). Intervals by drawing places with replacement
/// (the bootstrap's percentiles), the same draws in every call. All zero where the outcome does not vary. Throws
/// std::invalid_argument if lengths differ or are less than 2.
std::vector<InputShares> shares_of_design(std::span<const double> base, std::span<const double> anew,
                                          const std::vector<std::vector<double>>& mixed);

/// From any sample: first order only, by the outcome of neighbours in the order of the input. Gamboa, Gremaud, Klein
/// and Lagnoux, "Global sensitivity analysis: a novel generation of mighty estimators based on rank statistics",
/// Bernoulli 28 (2022). The interval from halves drawn without replacement (Shao and Wu, "A general theory for
/// jackknife variance estimation", Annals of Statistics 17 (1989)), since drawing with replacement would make
/// neighbours of one and the same. Zero where the outcome does not vary. Throws std::invalid_argument if lengths differ
/// or are less than 4.
Index share_by_rank(std::span<const double> input, std::span<const double> outcome);
/// Its value alone, which is quicker.
double share_by_rank_alone(std::span<const double> input, std::span<const double> outcome);

} // namespace clampfade::post

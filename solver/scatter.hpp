// Scattered values: distributions by their inverse, even and random points, and studs of one wheel that go together.
#pragma once

#include "solver/study_result.hpp"
#include "solver/study_spec.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace clampfade {

/// A distribution by its inverse. What is cut off is cut off there too: nothing is drawn twice, so a point in (0, 1)
/// belongs to one value, and the shape between the ends stays.
class Distribution {
public:
  /// Throws std::invalid_argument where the ends leave nothing: of a continuous distribution less than 1e-12 of it, of
  /// an empirical one no value; and where low is not below high.
  explicit Distribution(DistributionSpec spec);

  /// The value that the share `u` of all lie below; u in (0, 1).
  [[nodiscard]] double quantile(double u) const;

private:
  [[nodiscard]] double whole(double u, double rest) const;
  [[nodiscard]] double below(double x) const;
  [[nodiscard]] double above(double x) const;

  DistributionSpec spec_;
  double under_ = 0, not_over_ = 1; ///< shares of the whole below the two ends
  double over_ = 0, not_under_ = 1; ///< and above them
};

/// Dimensions that points may have at most: the table of direction numbers ends there.
inline constexpr std::size_t kMostDimensions = 3667;

/// Points in the unit cube, each of which depends on the seed and its number alone: whoever computes it, in whatever
/// order, gets the same. Sobol points are those of Boost.Random, Bratley and Fox (1988), without the first, which is
/// zero; each dimension is shifted digit by digit by random bits that the seed gives, which keeps the evenness and
/// lets two seeds be compared. Random ones come from Philox4x32-10 (Salmon et al., SC11, 2011).
class Points {
public:
  /// @param dimensions 1 to kMostDimensions
  Points(StudySampling sampling, std::uint64_t seed, std::size_t dimensions);

  /// Point `number`, from 0; every coordinate in (0, 1), ends excluded.
  [[nodiscard]] std::vector<double> point(std::uint64_t number) const;

private:
  StudySampling sampling_;
  std::uint64_t seed_;
  std::size_t dimensions_;
  std::vector<std::uint64_t> directions_; ///< Sobol: [dimension][bit]
  std::vector<std::uint64_t> shift_;      ///< Sobol: one a dimension
};

/// Four random words of 32 bits from a counter and a key, Philox4x32-10. The same for the same input, always.
struct PhiloxBlock {
  std::uint32_t word[4];
};
PhiloxBlock philox(PhiloxBlock counter, std::uint64_t key);

/// Coordinates of a point that studs of one wheel need: one for all where correlation is 1, one each where it is 0,
/// else one for all and one each.
std::size_t copula_dimensions(std::size_t studs, double correlation);
/// Coordinates in (0, 1) of the studs from those of the point: a Gaussian copula, z = sqrt(r) z_wheel + sqrt(1 - r)
/// z_stud, in which two studs of a wheel have the correlation r of z, 0 to 1. `u` has copula_dimensions entries.
std::vector<double> copula(const double* u, std::size_t studs, double correlation);

} // namespace clampfade

// What a study scatters, as the user wrote it: plain data, SI.
#pragma once

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace clampfade {

/// A distribution of one value [SI], cut off at both ends.
struct DistributionSpec {
  enum class Kind { Normal, Lognormal, Uniform, Triangular, Empirical } kind = Kind::Normal;
  double a = 0; ///< normal: mean; lognormal: median, above 0; uniform and triangular: low
  double b = 1; ///< normal: standard deviation, above 0; lognormal: that of the natural logarithm; else high, above a
  double mode = 0;                                       ///< triangular: from a to b
  std::vector<double> values{};                          ///< empirical: each with the same chance; at least one
  double low = -std::numeric_limits<double>::infinity(); ///< below `high`
  double high = std::numeric_limits<double>::infinity();
};

/// One scattered value of the scenario.
struct ScatterSpec {
  std::string name;  ///< lower_snake, unique
  std::string label; ///< for people
  std::string path;  ///< as written
  std::string unit;  ///< SI
  std::string text;  ///< the distribution as written
  DistributionSpec distribution;
  bool per_stud = false;  ///< each stud draws its own
  double correlation = 0; ///< between studs of one wheel, 0 to 1
  /// What the drawn number is multiplied by to give the value, one for each stud; empty where it is the value itself.
  std::vector<double> base;
};

} // namespace clampfade

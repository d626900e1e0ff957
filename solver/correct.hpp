// A prediction corrected by what a check of the wheel has read: the wheels of a sample weighted by how well each
// explains the readings. Knows neither files nor formats. EQUATIONS.md 17.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/study.hpp"
#include "solver/study_result.hpp"

#include <array>
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace clampfade {

/// The torque that started a resting nut.
struct TorqueReading {
  double time = 0;      ///< since tightening [s], > 0
  std::size_t stud = 0; ///< from 0
  double torque = 0;    ///< [N m], > 0
  double error = 0;     ///< one standard deviation of the reading alone [N m], > 0
};

struct CorrectionRequest {
  std::vector<TorqueReading> readings; ///< at least one
  /// Relative standard deviation of the breakaway ratio, the same error for all nuts of one check: what the scenario
  /// says of it is one number, and resting nuts differ by age, dirt and rust. [-], >= 0
  double breakaway_deviation = 0.1;
};

/// What a wheel of the sample says that a check would read, and the clamp behind it.
struct CheckedCase {
  std::vector<double> torque; ///< that would start the nut of each reading, at its time [N m]
  std::vector<double> clamp;  ///< cold clamp of that stud then [N]
};

/// Shares of a weighted sample.
inline constexpr std::array kCorrectionShares = {0.05, 0.5, 0.95};
using Quantiles = std::array<double, kCorrectionShares.size()>;

/// A stud that was checked, at its last reading.
struct CorrectedStud {
  std::size_t stud = 0; ///< from 0
  double time = 0;      ///< [s]
  double torque = 0;    ///< read [N m]
  Quantiles expected{}; ///< torque that the sample expects [N m]
  Quantiles before{};   ///< cold clamp by the sample alone [N]
  Quantiles after{};    ///< cold clamp once weighted by this stud's own readings and those of the wheel [N]
  double effective = 0; ///< wheels that these weights leave [-]
};

/// A figure of the wheel before and after.
struct CorrectedOutcome {
  Quantiles before{}, after{};
};

struct Correction {
  std::vector<std::size_t> cases; ///< complete ones of the study, in order
  std::vector<double> weight;     ///< of each of them; sums to 1
  double effective = 0;           ///< 1/sum of the squares of the weights: how many wheels they are worth [-]
  std::vector<CorrectedStud> studs;
  CorrectedOutcome lowest_now; ///< weakest stud's cold clamp at the first instant at or after the last reading [N]
  double now = 0;              ///< that instant [s]
  CorrectedOutcome lowest_end; ///< at the end [N]
  CorrectedOutcome below_time; ///< first below the required clamp [s]; infinite: never
  double below_before = 0, below_after = 0; ///< chance that a stud falls below it by the end [-]
  /// 95 % band of below_after, by the binomial law with `effective` in place of the number of wheels.
  double below_low = 0, below_high = 1;
  double required_clamp = std::numeric_limits<double>::quiet_NaN(); ///< median of the cases' [N]
  /// Sentences on readings that no wheel of the sample explains: what is said of the wheel is then worth little, and
  /// they come first.
  std::vector<std::string> outside;
  std::vector<std::string> warnings; ///< in words: too few wheels left
};

/// Value below which the share p of the weight lies, on straight lines between the middles of the weights in order: for
/// equal weights definition 5 of Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician
/// 50 (1996). weight: not negative, one a value, sum above 0.
double weighted_quantile(const std::vector<double>& values, const std::vector<double>& weight, double p);

/// Weights of cases from the readings, by (17.1) of the mean over the studs read at each instant; they sum to 1.
/// Throws InputError where not one case has a torque for every reading.
std::vector<double> reading_weights(const CorrectionRequest& request, const std::vector<CheckedCase>& cases);

/// Puts it all together. `cases` has an entry for each case of the study; those of cases that are not complete are
/// not looked at. Throws InputError for no readings and no complete case.
Correction correct(const CorrectionRequest& request, const Study& study, const std::vector<CheckedCase>& cases);

} // namespace clampfade

#include "solver/correct.hpp"

#include "solver/diagnostics.hpp"

#include <boost/math/distributions/beta.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace clampfade {

namespace {

constexpr double kConfidence = 0.95;
constexpr double kFewWheels = 20; // that weights should leave

[[noreturn]] void refuse(std::string found, std::string allowed) {
  Diagnostic d;
  d.code = Code::Inconsistent;
  d.path = "readings";
  d.found = std::move(found);
  d.allowed = std::move(allowed);
  throw InputError({d});
}

double square(double v) { return v * v; }

/// Weights from logarithms of likelihoods; those that are not numbers get none.
std::vector<double> normalised(const std::vector<double>& likelihood) {
  double most = -std::numeric_limits<double>::infinity();
  for (const double l : likelihood) {
    most = std::fmax(most, l);
  }
  std::vector<double> weight;
  double sum = 0;
  for (const double l : likelihood) {
    weight.push_back(std::isfinite(l) ? std::exp(l - most) : 0);
    sum += weight.back();
  }
  for (double& w : weight) {
    w /= sum;
  }
  return weight;
}

double effective_number(const std::vector<double>& weight) {
  double squares = 0;
  for (const double w : weight) {
    squares += w * w;
  }
  return squares > 0 ? 1 / squares : 0;
}

/// Logarithm of the likelihood of a reading T = M exp(e) + n, where e has the standard deviation `ratio` and n `error`,
/// by Laplace's method at the most likely e. (17.1)
double log_likelihood(double read, double says, double error, double ratio) {
  double most = 0;
  if (ratio > 0 && read > 0 && says > 0) {
    const auto slope = [&](double e) {
      const double moved = says * std::exp(e);
      return (moved - read) * moved / square(error) + e / square(ratio);
    };
    // Between no error of the ratio and one that explains all.
    double low = std::min(0.0, std::log(read / says));
    double high = std::max(0.0, std::log(read / says));
    for (int i = 0; i < 100 && high - low > 1e-12; ++i) {
      const double middle = (low + high) / 2;
      (slope(middle) < 0 ? low : high) = middle;
    }
    most = (low + high) / 2;
  }
  const double moved = says * std::exp(most);
  const double by_ratio = ratio > 0 ? square(most / ratio) : 0;
  return -0.5 * (square((read - moved) / error) + by_ratio + std::log(square(error) + square(ratio * moved)));
}

/// Readings of one instant, by their places.
std::map<double, std::vector<std::size_t>> by_instant(const std::vector<TorqueReading>& readings) {
  std::map<double, std::vector<std::size_t>> out;
  for (std::size_t r = 0; r < readings.size(); ++r) {
    out[readings[r].time].push_back(r);
  }
  return out;
}

Quantiles quantiles(const std::vector<double>& values, const std::vector<double>& weight) {
  Quantiles out{};
  for (std::size_t k = 0; k < out.size(); ++k) {
    out[k] = weighted_quantile(values, weight, kCorrectionShares[k]);
  }
  return out;
}

} // namespace

double weighted_quantile(const std::vector<double>& values, const std::vector<double>& weight, double p) {
  std::vector<std::size_t> order;
  double whole = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (weight[i] > 0) {
      order.push_back(i);
      whole += weight[i];
    }
  }
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  double below = 0;       // weight of all before
  double last_middle = 0; // of the one before
  for (std::size_t k = 0; k < order.size(); ++k) {
    const double w = weight[order[k]] / whole;
    const double middle = below + w / 2;
    if (p <= middle) {
      const double high = values[order[k]];
      if (k == 0 || values[order[k - 1]] == high) { // also where both are infinite
        return high;
      }
      const double low = values[order[k - 1]];
      const double share = (p - last_middle) / (middle - last_middle);
      return std::isinf(high) ? (share > 0 ? high : low) : low + share * (high - low);
    }
    below += w;
    last_middle = middle;
  }
  return order.empty() ? std::numeric_limits<double>::quiet_NaN() : values[order.back()];
}

std::vector<double> reading_weights(const CorrectionRequest& request, const std::vector<CheckedCase>& cases) {
  const auto instants = by_instant(request.readings);
  std::vector<double> likelihood;
  bool any = false;
  for (const CheckedCase& c : cases) {
    double sum = 0;
    for (const auto& [time, places] : instants) {
      double read = 0;
      double says = 0;
      double variance = 0;
      for (const std::size_t r : places) {
        read += request.readings[r].torque;
        says += c.torque.at(r);
        variance += square(request.readings[r].error);
      }
      const auto n = static_cast<double>(places.size());
      sum += log_likelihood(read / n, says / n, std::sqrt(variance) / n, request.breakaway_deviation);
    }
    likelihood.push_back(sum);
    any = any || std::isfinite(sum);
  }
  if (!any) {
    refuse("no wheel of the sample has a nut on every stud that was read", "readings of studs that have a nut then");
  }
  return normalised(likelihood);
}

Correction correct(const CorrectionRequest& request, const Study& study, const std::vector<CheckedCase>& cases) {
  if (request.readings.empty()) {
    refuse("there is no reading", "at least one");
  }
  Correction out;
  std::vector<CheckedCase> whole;
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    if (study.cases[i].status == CaseStatus::Complete) {
      out.cases.push_back(i);
      whole.push_back(cases.at(i));
    }
  }
  if (whole.empty()) {
    refuse("no wheel of the sample ran to its end", "a sample that runs");
  }
  const std::vector<double> equal(whole.size(), 1 / static_cast<double>(whole.size()));
  out.weight = reading_weights(request, whole);
  out.effective = effective_number(out.weight);

  // A stud by its own readings: the wheel's weights hold the mean of all studs, from which its own has to be taken.
  std::map<std::size_t, std::vector<std::size_t>> of_stud;
  for (std::size_t r = 0; r < request.readings.size(); ++r) {
    of_stud[request.readings[r].stud].push_back(r);
  }
  for (const auto& [stud, places] : of_stud) {
    CorrectionRequest own = request;
    own.readings.clear();
    for (const std::size_t r : places) {
      own.readings.push_back(request.readings[r]);
    }
    std::vector<CheckedCase> by_own;
    for (const CheckedCase& c : whole) {
      CheckedCase& o = by_own.emplace_back();
      for (const std::size_t r : places) {
        o.torque.push_back(c.torque.at(r));
        o.clamp.push_back(c.clamp.at(r));
      }
    }
    const std::size_t last = static_cast<std::size_t>(
        std::max_element(own.readings.begin(), own.readings.end(),
                         [](const TorqueReading& a, const TorqueReading& b) { return a.time < b.time; }) -
        own.readings.begin());
    const TorqueReading& reading = own.readings[last];
    std::vector<double> torque;
    std::vector<double> clamp;
    for (const CheckedCase& c : by_own) {
      torque.push_back(c.torque[last]);
      clamp.push_back(c.clamp[last]);
    }
    CorrectedStud s;
    s.stud = stud;
    s.time = reading.time;
    s.torque = reading.torque;
    s.expected = quantiles(torque, equal);
    s.before = quantiles(clamp, equal);
    const std::vector<double> weight = reading_weights(own, by_own);
    s.after = quantiles(clamp, weight);
    s.effective = effective_number(weight);
    const auto [low, high] = std::minmax_element(torque.begin(), torque.end());
    const double doubt = 2 * std::hypot(reading.error, request.breakaway_deviation * reading.torque);
    if (reading.torque + doubt < *low || reading.torque - doubt > *high) {
      out.outside.push_back(
          fmt::format("Stud {}: a reading of {:.4g} N·m is {} what any of the {} wheels of the sample says, {:.4g} to "
                      "{:.4g} N·m; the scenario is not this wheel: look at the joint before going by the prediction.",
                      stud + 1, reading.torque, reading.torque < *low ? "below" : "above", whole.size(), *low, *high));
    } else if (s.effective < kFewWheels) {
      out.warnings.push_back(fmt::format("stud {}: its readings leave {:.1f} wheels of {} of weight; a larger --count "
                                         "makes its clamp more certain",
                                         stud + 1, s.effective, whole.size()));
    }
    out.studs.push_back(s);
  }

  double last = 0;
  for (const TorqueReading& r : request.readings) {
    last = std::max(last, r.time);
  }
  const auto at = std::lower_bound(study.time.begin(), study.time.end(), last - 1e-6);
  const std::size_t now =
      std::min<std::size_t>(static_cast<std::size_t>(at - study.time.begin()), study.time.size() - 1);
  out.now = study.time.at(now);
  std::vector<double> lowest_now;
  std::vector<double> lowest_end;
  std::vector<double> below;
  std::vector<double> required;
  for (std::size_t k = 0; k < out.cases.size(); ++k) {
    const StudyCase& c = study.cases[out.cases[k]];
    lowest_now.push_back(c.clamp_cold_lowest.at(now));
    lowest_end.push_back(c.clamp_cold_lowest.back());
    required.push_back(c.required_clamp);
    const bool falls = !std::isnan(c.below_time);
    below.push_back(falls ? c.below_time : std::numeric_limits<double>::infinity());
    out.below_before += falls ? equal[k] : 0;
    out.below_after += falls ? out.weight[k] : 0;
  }
  const auto outcome = [&](const std::vector<double>& values) {
    return CorrectedOutcome{quantiles(values, equal), quantiles(values, out.weight)};
  };
  out.lowest_now = outcome(lowest_now);
  out.lowest_end = outcome(lowest_end);
  out.below_time = outcome(below);
  out.required_clamp = weighted_quantile(required, equal, 0.5);
  out.below_after = std::clamp(out.below_after, 0.0, 1.0);
  const double k = out.below_after * out.effective;
  const double rest = out.effective - k;
  const double tail = (1 - kConfidence) / 2;
  out.below_low = k > 0 ? quantile(boost::math::beta_distribution<>(k, rest + 1), tail) : 0;
  out.below_high = rest > 0 ? quantile(complement(boost::math::beta_distribution<>(k + 1, rest), tail)) : 1;
  if (out.effective < kFewWheels) {
    out.warnings.push_back(fmt::format("the readings leave {:.1f} wheels of {} of weight: what is said of the wheel is "
                                       "rough; a larger --count makes it more certain",
                                       out.effective, whole.size()));
  }
  return out;
}

} // namespace clampfade

#include "post/study_summary.hpp"

#include "post/sentences.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace clampfade::post {

namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr std::size_t kFewestForCauses = 30; // fewer neighbours say nothing

double sum(const std::vector<double>& values) { return std::accumulate(values.begin(), values.end(), 0.0); }
double last(const std::vector<double>& values) { return values.empty() ? StudyCase::kUnknown : values.back(); }
double first(const std::vector<double>& values) { return values.empty() ? StudyCase::kUnknown : values.front(); }
double or_never(double v) {
  if (std::isnan(v)) {
    return kNever;
  }
  return v;
}

constexpr std::array kOutcomes = {
    Outcome{"clamp_cold_lowest_end", "weakest stud's cold clamp at the end", Kind::Force,
            [](const StudyCase& c) { return last(c.clamp_cold_lowest); }},
    Outcome{"below_distance", "distance at which a stud first falls below the required clamp", Kind::Distance,
            [](const StudyCase& c) { return or_never(c.below_distance); }},
    Outcome{"below_time", "time at which a stud first falls below the required clamp", Kind::Duration,
            [](const StudyCase& c) { return or_never(c.below_time); }},
    Outcome{"clamp_cold_lowest_first", "weakest stud's cold clamp as tightened", Kind::Force,
            [](const StudyCase& c) { return first(c.clamp_cold_lowest); }},
    Outcome{"clamp_cold_mean_end", "mean cold clamp at the end", Kind::Force,
            [](const StudyCase& c) { return last(c.clamp_cold_mean); }},
    Outcome{"loss_clamp_mean_end", "clamp lost by the end, mean of the studs", Kind::Force,
            [](const StudyCase& c) { return c.loss_clamp_end.empty() ? StudyCase::kUnknown : sum(c.loss_clamp_end); }},
    Outcome{"slip_margin_lowest", "lowest slip margin", Kind::Number,
            [](const StudyCase& c) { return c.slip_margin_lowest; }},
    Outcome{"utilisation_highest", "highest stress of a stud over its yield strength, the wrench off", Kind::Number,
            [](const StudyCase& c) { return c.utilisation_highest; }},
    Outcome{"nuts_loose", "studs that carried no clamp at some time", Kind::Number,
            [](const StudyCase& c) { return static_cast<double>(c.nuts_loose); }},
    Outcome{"studs_yielded", "studs that stretched for good after the tightening", Kind::Number,
            [](const StudyCase& c) { return static_cast<double>(c.studs_yielded); }},
    Outcome{"utilisation_tightening", "highest stress of a stud over its yield strength under the wrench", Kind::Number,
            [](const StudyCase& c) { return c.utilisation_tightening; }},
    Outcome{"proof_share", "highest clamp as tightened over the stud's proof load", Kind::Number,
            [](const StudyCase& c) { return c.proof_share; }},
};

/// Blocks 0 and 1 are drawn by chance; the others are made of them.
bool by_chance(const Study& study, std::size_t index) { return study.design.empty() || study.design[index] < 2; }

bool distance_known(const Study& study) {
  return !study.distance.empty() && std::isfinite(study.distance.back()) && study.distance.back() > 0;
}

/// Time at which so much was driven.
double time_at(const Study& study, double distance) {
  const auto after = std::lower_bound(study.distance.begin(), study.distance.end(), distance);
  if (after == study.distance.begin() || after == study.distance.end()) {
    return after == study.distance.end() ? study.time.back() : study.time.front();
  }
  const auto i = static_cast<std::size_t>(after - study.distance.begin());
  const double share = (distance - study.distance[i - 1]) / (study.distance[i] - study.distance[i - 1]);
  return study.time[i - 1] + share * (study.time[i] - study.time[i - 1]);
}

/// 1, 2, 5 times powers of ten up to the end, at most eight of them, and the end.
std::vector<double> instants(double end, double unit_size) {
  std::vector<double> all;
  const int last = static_cast<int>(std::floor(std::log10(end / unit_size)));
  for (int power = last - 2; power <= last; ++power) {
    const double decade = std::pow(10, power);
    for (const double digit : {1.0, 2.0, 5.0}) {
      if (digit * decade * unit_size < 0.95 * end) {
        all.push_back(digit * decade * unit_size);
      }
    }
  }
  constexpr std::size_t most = 7;
  if (all.size() > most) {
    all.erase(all.begin(), all.end() - most);
  }
  all.push_back(end);
  return all;
}

std::vector<Chance> chances(const Study& study, const StudySummary& s) {
  std::vector<Chance> all;
  if (study.time.empty() || s.counted.empty()) {
    return all;
  }
  const bool far = distance_known(study);
  for (const double at :
       far ? instants(study.distance.back(), units::kKilometre) : instants(study.time.back(), units::kDay)) {
    Chance c;
    // At the end everything counts, also what falls below while the wheel stands for the last time.
    const bool end = far ? at >= study.distance.back() : at >= study.time.back();
    c.distance = far ? at : StudyCase::kUnknown;
    c.time = end ? study.time.back() : far ? time_at(study, at) : at;
    c.of = s.counted.size();
    for (const std::size_t i : s.counted) {
      const StudyCase& one = study.cases[i];
      const double when = or_never(far ? one.below_distance : one.below_time);
      c.below += (end ? when < kNever : when <= at) ? 1U : 0U;
    }
    c.band = share_interval(c.below, c.of);
    all.push_back(c);
  }
  return all;
}

RiskLimit risk_limit(const Study& study, const StudySummary& s, double risk) {
  RiskLimit r;
  r.risk = risk;
  r.fewest = fewest_for_risk(risk);
  std::vector<double> times;
  std::vector<double> distances;
  for (const std::size_t i : s.counted) {
    times.push_back(or_never(study.cases[i].below_time));
    distances.push_back(or_never(study.cases[i].below_distance));
  }
  std::sort(times.begin(), times.end());
  std::sort(distances.begin(), distances.end());
  // So many may have fallen below; the next one is too many.
  const auto after = [](const std::vector<double>& all, std::size_t allowed) {
    if (allowed < all.size()) {
      return all[allowed];
    }
    return kNever;
  };
  const auto likely = static_cast<std::size_t>(risk * static_cast<double>(s.counted.size()));
  r.likely_time = after(times, likely);
  r.likely_distance = after(distances, likely);
  const std::optional<std::size_t> allowed = most_within_risk(s.counted.size(), risk);
  r.enough = allowed.has_value();
  r.time = allowed ? after(times, *allowed) : StudyCase::kUnknown;
  r.distance = allowed ? after(distances, *allowed) : StudyCase::kUnknown;
  return r;
}

std::array<double, kShares.size()> spread_of(std::vector<double> values) {
  values.erase(std::remove_if(values.begin(), values.end(), [](double v) { return std::isnan(v); }), values.end());
  std::array<double, kShares.size()> at{};
  for (std::size_t q = 0; q < kShares.size(); ++q) {
    at.at(q) = quantile(values, kShares.at(q));
  }
  return at;
}

/// Rows of a design whose cases are all complete; by block, then by row.
std::vector<std::vector<std::size_t>> whole_rows(const Study& study) {
  const auto blocks = static_cast<std::size_t>(*std::max_element(study.design.begin(), study.design.end())) + 1;
  std::vector<std::vector<std::size_t>> members(blocks);
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    members[static_cast<std::size_t>(std::max(study.design[i], 0))].push_back(i);
  }
  std::vector<std::vector<std::size_t>> kept(blocks);
  for (std::size_t row = 0; row < members[0].size(); ++row) {
    const bool whole = std::all_of(members.begin(), members.end(), [&](const std::vector<std::size_t>& block) {
      return row < block.size() && study.cases[block[row]].status == CaseStatus::Complete;
    });
    for (std::size_t b = 0; whole && b < blocks; ++b) {
      kept[b].push_back(members[b][row]);
    }
  }
  return kept;
}

void causes_of_design(const Study& study, StudySummary& s) {
  const std::vector<std::vector<std::size_t>> rows = whole_rows(study);
  if (rows.size() != study.inputs.size() + 2 || rows[0].size() < kFewestForCauses) {
    return;
  }
  std::vector<std::vector<double>> outcome;
  for (const std::vector<std::size_t>& block : rows) {
    outcome.emplace_back();
    for (const std::size_t i : block) {
      outcome.back().push_back(weakest_at_end().of(study.cases[i]));
    }
  }
  const std::vector<InputShares> shares =
      shares_of_design(outcome[0], outcome[1], {outcome.begin() + 2, outcome.end()});
  for (std::size_t k = 0; k < shares.size(); ++k) {
    s.causes.push_back({k, shares[k]});
  }
  s.way = CauseWay::Design;
}

void causes_by_rank(const Study& study, StudySummary& s) {
  if (s.counted.size() < kFewestForCauses) {
    return;
  }
  const std::size_t studs = study.studs.size();
  for (std::size_t k = 0; k < study.inputs.size(); ++k) {
    const StudyInput& input = study.inputs[k];
    if (input.values.empty()) {
      continue;
    }
    double value = 0;
    std::size_t seen = 0;
    Interval around;
    for (std::size_t stud = 0; stud < studs; ++stud) {
      std::vector<double> x;
      std::vector<double> y;
      for (const std::size_t i : s.counted) {
        const double in = input.values[input.per_stud ? i * studs + stud : i];
        const double out = study.cases[i].clamp_cold_end[stud];
        if (std::isfinite(in) && std::isfinite(out)) {
          x.push_back(in);
          y.push_back(out);
        }
      }
      if (x.size() < kFewestForCauses) {
        continue; // a stud whose nut was taken off
      }
      if (seen == 0) {
        // The doubt of one stud: that of the mean over all is less, unless they go together.
        const Index one = share_by_rank(x, y);
        around = {one.interval.low - one.value, one.interval.high - one.value};
      }
      value += share_by_rank_alone(x, y);
      ++seen;
    }
    if (seen > 0) {
      value /= static_cast<double>(seen);
      s.causes.push_back({k, {{value, {value + around.low, value + around.high}}, std::nullopt}});
    }
  }
  s.way = s.causes.empty() ? CauseWay::None : CauseWay::Rank;
}

void best_and_worst(const Study& study, StudySummary& s) {
  for (const std::size_t i : s.counted) {
    const auto end = [&](std::size_t k) { return weakest_at_end().of(study.cases[k]); };
    if (std::isnan(end(i))) {
      continue;
    }
    if (!study.cases[i].overtightened()) {
      s.best = !s.best || end(i) > end(*s.best) ? i : *s.best;
    }
    s.worst = !s.worst || end(i) < end(*s.worst) ? i : *s.worst;
  }
}

} // namespace

std::span<const Outcome> outcomes() { return kOutcomes; }
const Outcome& weakest_at_end() { return kOutcomes[0]; }
const Outcome& first_below_distance() { return kOutcomes[1]; }
const Outcome& first_below_time() { return kOutcomes[2]; }

StudySummary summarise(const Study& study, double risk) {
  StudySummary s;
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    switch (study.cases[i].status) {
    case CaseStatus::Complete:
      ++s.done;
      if (by_chance(study, i)) {
        s.counted.push_back(i);
        s.below += std::isnan(study.cases[i].below_time) ? 0U : 1U;
        s.overtightened += study.cases[i].overtightened() ? 1U : 0U;
        s.worst_tightening = std::fmax(s.worst_tightening, study.cases[i].utilisation_tightening);
      }
      break;
    case CaseStatus::Failed:
      ++s.failed;
      s.failures.push_back(i);
      s.failed_counted += by_chance(study, i) ? 1U : 0U;
      break;
    case CaseStatus::Pending:
      ++s.pending;
      break;
    }
  }
  for (const Outcome& o : kOutcomes) {
    std::vector<double> values;
    for (const std::size_t i : s.counted) {
      values.push_back(o.of(study.cases[i]));
    }
    s.spreads.push_back({&o, spread_of(std::move(values))});
  }
  for (std::size_t k = 0; k < study.inputs.size(); ++k) {
    const StudyInput& input = study.inputs[k];
    if (input.values.empty()) {
      continue;
    }
    std::vector<double> values;
    const std::size_t width = input.values.size() / study.cases.size();
    for (std::size_t i = 0; i < study.cases.size(); ++i) {
      for (std::size_t j = 0; j < width && by_chance(study, i); ++j) {
        values.push_back(input.values[i * width + j]);
      }
    }
    const ValueScale scale = scale_of(input.unit, values);
    s.inputs.push_back({k, scale, spread_of(std::move(values))});
  }
  best_and_worst(study, s);
  if (study.kind == StudyKind::Sample) {
    s.chances = chances(study, s);
    s.risk = risk_limit(study, s, risk);
    if (study.design.empty()) {
      causes_by_rank(study, s);
    } else {
      causes_of_design(study, s);
    }
    std::stable_sort(s.causes.begin(), s.causes.end(), [](const Cause& a, const Cause& b) {
      return a.shares.total.value_or(a.shares.first).value > b.shares.total.value_or(b.shares.first).value;
    });
  }
  return s;
}

std::vector<std::size_t> place_of(const Study& study, std::size_t index) {
  std::vector<std::size_t> place(study.axes.size());
  for (std::size_t k = study.axes.size(); k > 0; --k) {
    place[k - 1] = index % study.axes[k - 1].size();
    index /= study.axes[k - 1].size();
  }
  return place;
}

double input_mean(const Study& study, const StudyInput& input, std::size_t index) {
  const std::size_t width = input.values.size() / study.cases.size();
  double all = 0;
  for (std::size_t j = 0; j < width; ++j) {
    all += input.values[index * width + j];
  }
  return all / static_cast<double>(width);
}

} // namespace clampfade::post

#include "solver/record_check.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <tuple>

namespace clampfade {

namespace {

constexpr double kLeastSpread = 0.01;
constexpr std::size_t kLeastValues = 5;

struct Moments {
  double mean = 0;
  double deviation = 0; ///< at least kLeastSpread of the mean
};

Moments moments(const std::vector<double>& values) {
  const double n = static_cast<double>(values.size());
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  double square = 0;
  for (const double v : values) {
    square += (v - mean) * (v - mean);
  }
  return {mean, std::max(std::sqrt(square / (n - 1)), kLeastSpread * std::abs(mean))};
}

/// Distance from the mean of `others` values, over their deviation, that a normal value exceeds as seldom as it exceeds
/// `deviations` of the true one.
double allowed_distance(std::size_t others, double deviations) {
  const double chance = boost::math::cdf(boost::math::complement(boost::math::normal(), deviations));
  const double n = static_cast<double>(others);
  const boost::math::students_t t(n - 1);
  return boost::math::quantile(boost::math::complement(t, chance)) * std::sqrt(1 + 1 / n);
}

/// Works one wheel out.
class WheelCheck {
public:
  WheelCheck(std::span<const TighteningRecord> records, const RecordBands& bands, std::size_t studs, WheelRecord& wheel)
      : records_(records), bands_(bands), count_(studs), wheel_(wheel) {}

  void all() {
    find_passes();
    gather_studs();
    torques();
    angles();
    missing();
    order();
    times();
    std::stable_sort(wheel_.findings.begin(), wheel_.findings.end(),
                     [](const RecordFinding& a, const RecordFinding& b) {
                       return std::tuple(a.line == 0, a.line, a.stud) < std::tuple(b.line == 0, b.line, b.stud);
                     });
    for (const RecordFinding& f : wheel_.findings) {
      if (f.check != RecordCheck::Order && f.check != RecordCheck::BackwardsTime) {
        wheel_.studs[f.stud].inside = false;
      }
    }
  }

private:
  const TighteningRecord& act(std::size_t k) const { return records_[wheel_.records[k]]; }

  RecordFinding at(RecordCheck check, std::size_t k) const {
    RecordFinding f;
    f.check = check;
    f.line = act(k).line;
    f.stud = act(k).stud;
    f.pass = wheel_.passes[k];
    return f;
  }

  void find_passes() {
    std::map<std::size_t, std::set<std::size_t>> seen;
    std::size_t pass = 1;
    for (std::size_t k = 0; k < wheel_.records.size(); ++k) {
      const TighteningRecord& r = act(k);
      if (r.pass) {
        pass = *r.pass;
      } else if (seen[pass].count(r.stud) > 0 && seen[pass].size() == count_) {
        ++pass;
      }
      wheel_.passes.push_back(pass);
      wheel_.last_pass = std::max(wheel_.last_pass, pass);
      repeated_.push_back(!seen[pass].insert(r.stud).second);
      if (repeated_.back()) {
        wheel_.findings.push_back(at(RecordCheck::RepeatedAct, k));
      }
    }
    turns_ = std::move(seen);
  }

  void gather_studs() {
    wheel_.studs.resize(count_);
    for (std::size_t i = 0; i < count_; ++i) {
      wheel_.studs[i].stud = i;
    }
    std::vector<bool> known(count_, true);
    std::vector<double> angle(count_, 0);
    for (std::size_t k = 0; k < wheel_.records.size(); ++k) {
      const TighteningRecord& r = act(k);
      StudRecord& s = wheel_.studs[r.stud];
      known[r.stud] = known[r.stud] && r.angle.has_value();
      angle[r.stud] += r.angle.value_or(0);
      if (wheel_.passes[k] >= s.pass) { // the last act of the highest pass stands
        s.record = wheel_.records[k];
        s.pass = wheel_.passes[k];
        s.torque = r.torque;
        s.set_torque = set_torque(k);
      }
    }
    for (StudRecord& s : wheel_.studs) {
      if (s.record && known[s.stud]) {
        s.angle = angle[s.stud];
      }
    }
  }

  [[nodiscard]] double set_torque(std::size_t k) const {
    const TighteningRecord& r = act(k);
    const bool last = wheel_.passes[k] == wheel_.last_pass;
    if (last && bands_.torque) {
      return *bands_.torque;
    }
    if (r.set_torque) {
      return *r.set_torque;
    }
    return last && r.stud < bands_.usual_torque.size() ? bands_.usual_torque[r.stud]
                                                       : std::numeric_limits<double>::quiet_NaN();
  }

  void torques() {
    for (std::size_t k = 0; k < wheel_.records.size(); ++k) {
      const double wanted = set_torque(k);
      const double band = bands_.torque_band * wanted;
      // A hair of round-off is no torque outside its band. Silent where no set torque is known.
      if (std::abs(act(k).torque - wanted) > band * (1 + 1e-9)) {
        RecordFinding f = at(RecordCheck::Torque, k);
        f.found = act(k).torque;
        f.wanted = wanted;
        f.band = band;
        wheel_.findings.push_back(f);
      }
    }
  }

  /// An angle grows with the torque above snug; the wheel's studs should have that ratio in common.
  void angles() {
    std::vector<double> ratio;
    std::vector<std::size_t> whose;
    for (const StudRecord& s : wheel_.studs) {
      if (s.angle && s.pass == wheel_.last_pass && s.torque > bands_.snug_torque) {
        ratio.push_back(*s.angle / (s.torque - bands_.snug_torque));
        whose.push_back(s.stud);
      }
    }
    for (const Outlier& o : outliers(ratio, bands_.angle_band)) {
      const StudRecord& s = wheel_.studs[whose[o.index]];
      const double stretching = s.torque - bands_.snug_torque;
      RecordFinding f;
      f.check = RecordCheck::Angle;
      f.line = records_[*s.record].line;
      f.stud = s.stud;
      f.pass = s.pass;
      f.found = *s.angle;
      f.wanted = o.expected * stretching;
      f.band = o.band * stretching;
      wheel_.findings.push_back(f);
    }
  }

  void missing() {
    for (const auto& [pass, turns] : turns_) {
      for (std::size_t stud = 0; stud < count_; ++stud) {
        if (turns.count(stud) == 0) {
          RecordFinding f;
          f.check = RecordCheck::MissingStud;
          f.stud = stud;
          f.pass = pass;
          wheel_.findings.push_back(f);
        }
      }
    }
  }

  void order() {
    if (!bands_.crossing) {
      return;
    }
    std::vector<std::vector<std::size_t>> right = {bands_.order, star_order(count_)};
    struct Suspect {
      std::vector<std::size_t> studs, acts, places;
    };
    std::vector<Suspect> suspects;
    for (const auto& [pass, turns] : turns_) {
      Suspect s;
      for (std::size_t k = 0; k < wheel_.records.size(); ++k) {
        if (wheel_.passes[k] == pass && !repeated_[k]) {
          s.studs.push_back(act(k).stud);
          s.acts.push_back(k);
        }
      }
      s.places = short_steps(s.studs, count_);
      if (s.places.empty()) {
        right.push_back(std::move(s.studs));
      } else {
        suspects.push_back(std::move(s));
      }
    }
    for (const Suspect& s : suspects) {
      // A stud left out brings its neighbours in the order together; that it is missing is told already.
      if (std::any_of(right.begin(), right.end(), [&](const auto& whole) { return part_of(s.studs, whole); })) {
        continue;
      }
      RecordFinding f = at(RecordCheck::Order, s.acts[s.places.front()]);
      f.after = s.studs[s.places.front() - 1];
      f.found = static_cast<double>(s.places.size());
      wheel_.findings.push_back(f);
    }
  }

  /// Whether `some` is `whole` with some left out.
  static bool part_of(const std::vector<std::size_t>& some, const std::vector<std::size_t>& whole) {
    auto from = whole.begin();
    return std::all_of(some.begin(), some.end(), [&](std::size_t stud) {
      from = std::find(from, whole.end(), stud);
      return from != whole.end() && *from++ == stud;
    });
  }

  void times() {
    std::optional<double> before;
    for (std::size_t k = 0; k < wheel_.records.size(); ++k) {
      const std::optional<double>& now = act(k).instant;
      if (now && before && *now < *before) {
        RecordFinding f = at(RecordCheck::BackwardsTime, k);
        f.found = *before - *now;
        wheel_.findings.push_back(f);
      }
      before = now ? now : before;
    }
  }

  std::span<const TighteningRecord> records_;
  const RecordBands& bands_;
  std::size_t count_;
  WheelRecord& wheel_;
  std::vector<bool> repeated_;                         ///< by act
  std::map<std::size_t, std::set<std::size_t>> turns_; ///< studs of each pass
};

/// The tightenings of one wheel, found by time. Each is a span of time with its WheelRecord's index.
class Visits {
public:
  /// The tightening that an act at `instant` belongs to; none if it begins a new one, which `add` then gets.
  std::optional<std::size_t> find(const std::optional<double>& instant, double gap) {
    if (!instant || !last_ || untimed_) {
      if (instant && last_) {
        spans_.emplace(*instant, Span{*instant, *last_});
        untimed_ = false;
      }
      return last_;
    }
    auto span = spans_.upper_bound(*instant); // the first that begins later
    if (span != spans_.begin() && *instant <= std::prev(span)->second.to + gap) {
      --span;
      span->second.to = std::max(span->second.to, *instant);
    } else if (span != spans_.end() && *instant >= span->first - gap) {
      auto node = spans_.extract(span);
      node.key() = *instant;
      span = spans_.insert(std::move(node)).position;
    } else {
      return std::nullopt;
    }
    last_ = span->second.wheel;
    return last_;
  }

  void add(const std::optional<double>& instant, std::size_t wheel) {
    last_ = wheel;
    untimed_ = !instant;
    if (instant) {
      spans_.emplace(*instant, Span{*instant, wheel});
    }
  }

private:
  struct Span {
    double to;
    std::size_t wheel;
  };
  std::map<double, Span> spans_; ///< by their beginning
  std::optional<std::size_t> last_;
  bool untimed_ = false; ///< whether the last one has no time yet
};

} // namespace

std::string_view name(RecordCheck check) {
  constexpr std::array<std::string_view, 6> names = {"missing_stud", "repeated_act", "torque",
                                                     "angle",        "order",        "backwards_time"};
  return names.at(static_cast<std::size_t>(check));
}

std::vector<Outlier> outliers(std::span<const double> values, double deviations) {
  std::vector<std::size_t> kept(values.size());
  std::iota(kept.begin(), kept.end(), std::size_t{0});
  if (values.size() < kLeastValues) {
    return {};
  }
  const auto values_of = [&](const std::vector<std::size_t>& which) {
    std::vector<double> out;
    for (const std::size_t i : which) {
      out.push_back(values[i]);
    }
    return out;
  };
  std::vector<std::size_t> taken;
  std::size_t out = 0; // of those taken are outliers
  const std::size_t most = values.size() / 3;
  while (taken.size() < most && kept.size() >= kLeastValues) {
    const double mean = moments(values_of(kept)).mean;
    const auto farthest = std::max_element(kept.begin(), kept.end(), [&](std::size_t a, std::size_t b) {
      return std::abs(values[a] - mean) < std::abs(values[b] - mean);
    });
    const std::size_t i = *farthest;
    kept.erase(farthest);
    taken.push_back(i);
    const Moments rest = moments(values_of(kept));
    if (std::abs(values[i] - rest.mean) > allowed_distance(kept.size(), deviations) * rest.deviation) {
      out = taken.size();
    }
  }
  taken.resize(out);
  std::vector<double> rest;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (std::find(taken.begin(), taken.end(), i) == taken.end()) {
      rest.push_back(values[i]);
    }
  }
  std::sort(taken.begin(), taken.end());
  std::vector<Outlier> found;
  for (const std::size_t i : taken) {
    const Moments m = moments(rest);
    found.push_back({i, m.mean, allowed_distance(rest.size(), deviations) * m.deviation});
  }
  return found;
}

std::vector<std::size_t> short_steps(std::span<const std::size_t> order, std::size_t studs) {
  std::vector<std::size_t> places;
  if (studs <= 3) {
    return places;
  }
  bool before = false;
  for (std::size_t i = 1; i < order.size(); ++i) {
    const std::size_t way = (order[i] + studs - order[i - 1]) % studs;
    const bool is_short = 3 * std::min(way, studs - way) < studs;
    if (is_short && before) {
      places.push_back(i);
    }
    before = is_short;
  }
  return places;
}

std::vector<WheelRecord> check_records(std::span<const TighteningRecord> records, const RecordBands& bands) {
  std::size_t studs = bands.studs;
  if (studs == 0) {
    for (const TighteningRecord& r : records) {
      studs = std::max(studs, r.stud + 1);
    }
  }
  std::vector<WheelRecord> wheels;
  std::map<std::tuple<std::string, std::string, std::string>, Visits> known;
  for (std::size_t i = 0; i < records.size(); ++i) {
    const TighteningRecord& r = records[i];
    Visits& visits = known[{r.vehicle, r.axle, r.wheel}];
    auto wheel = visits.find(r.instant, bands.gap);
    if (!wheel) {
      wheel = wheels.size();
      visits.add(r.instant, *wheel);
      wheels.push_back({r.vehicle, r.axle, r.wheel, {}, {}, 0, {}, {}});
    }
    wheels[*wheel].records.push_back(i);
  }
  for (WheelRecord& wheel : wheels) {
    WheelCheck(records, bands, studs, wheel).all();
  }
  return wheels;
}

} // namespace clampfade

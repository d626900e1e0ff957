#include "solver/fit.hpp"

#include "models/joint.hpp"
#include "models/units.hpp"
#include "solver/diagnostics.hpp"
#include "solver/duty.hpp"
#include "solver/fit_minimise.hpp"
#include "solver/scatter.hpp"
#include "solver/simulation.hpp"

#include <Eigen/Dense>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <iterator>
#include <map>
#include <memory>
#include <mutex>
#include <numeric>
#include <optional>
#include <set>
#include <tuple>

namespace clampfade {

namespace {

constexpr double kSameInstant = 1e-6;  // s: closer times are one
constexpr double kResolution = 1e-6;   // of a quantity's size: what runs tell apart, and no error found is below
constexpr double kFirstGuess = 0.02;   // of a quantity's size: its unknown error before anything is known
constexpr double kTail = 0.975;        // of a two-sided 95 % interval
constexpr double kFarOff = 0.01;       // chance of a chi-square below which the errors as given are held for too small
constexpr double kAtBound = 1e-5;      // of the box
constexpr double kTold = 0.1;          // share of a direction's largest part from which a parameter belongs to it
constexpr double kStronglyTied = 0.95; // correlation that is worth a word
constexpr double kOutlier = 0.5;       // weight below which a robust loss holds a reading for an outlier
constexpr double kGross = 5;           // errors off the model from which a plain fit names a reading
constexpr int kSearch = 60;            // iterations
constexpr int kAgain = 20;             // rounds of errors and values
constexpr int kJudged = 3;             // rounds of judging the starts
constexpr double kBetter = 1e-4;       // relative: what a cost has to be lower by to be that of a better answer
constexpr double kSameEnd = 1e-3;      // of the box: ends this close are one
constexpr std::size_t kCurve = 160;    // instants of a curve

using Values = std::vector<double>;

// ---- One run, and what readings ask of it ----

/// Takes what readings are of from the records of a run.
class ReadingSink final : public Sink {
public:
  struct Wanted {
    FitQuantity quantity = FitQuantity::Clamp;
    int stud = -1;
    std::size_t index = 0;
    double time = 0;
  };
  /// wanted: in the order of time. `joint`: of the scenario, where a stretch is asked for.
  ReadingSink(const std::vector<Wanted>& wanted, const Joint* joint)
      : wanted_(wanted), joint_(joint), values_(wanted.size(), kFitUnknown) {}

  void begin(const RunHeader& header) override {
    removed_.assign(header.studs.size(), 0);
    layers_ = header.layers.size();
    known_ = header.warnings;
  }
  void act(const ActRow& /*row*/) override {}
  void event(const EventRow& row) override {
    if (row.kind == "nut removed") {
      removed_.at(static_cast<std::size_t>(std::max(row.stud, 0))) = 1;
    }
  }
  void record(const RecordRow& row) override {
    if (row.time > last_ + kSameInstant) {
      first_ = next_;
    }
    last_ = row.time;
    // Of two records of one instant, before and after a wrench, the second counts.
    for (next_ = first_; next_ < wanted_.size() && wanted_[next_].time <= row.time + kSameInstant; ++next_) {
      values_[next_] = value(row, wanted_[next_]);
    }
  }
  void steps(const StepsRow& /*row*/) override {}
  void checkpoint(const Checkpoint& /*checkpoint*/) override {}
  void end(RunStatus status, const std::string& reason, const std::vector<std::string>& warnings) override {
    if (status == RunStatus::Failed) {
      failure_ = reason;
    }
    // Those that were known before the run are of values that are only tried.
    std::copy_if(warnings.begin(), warnings.end(), std::inserter(outside_, outside_.end()), [&](const std::string& w) {
      return w.find(kOutsideCalibration) != std::string::npos &&
             std::find(known_.begin(), known_.end(), w) == known_.end();
    });
  }

  [[nodiscard]] bool complete() const { return next_ == wanted_.size(); }
  [[nodiscard]] Values take() { return std::move(values_); }
  [[nodiscard]] const std::string& failure() const { return failure_; }
  [[nodiscard]] std::set<std::string> take_outside() { return std::move(outside_); }

private:
  [[nodiscard]] double value(const RecordRow& row, const Wanted& w) {
    if (w.quantity == FitQuantity::Temperature) {
      return row.temperature.at(w.index);
    }
    if (w.stud >= 0) {
      return of_stud(row, w, static_cast<std::size_t>(w.stud));
    }
    double sum = 0;
    double count = 0;
    for (std::size_t k = 0; k < removed_.size(); ++k) {
      if (removed_[k] == 0) {
        sum += of_stud(row, w, k);
        count += 1;
      }
    }
    return sum / count;
  }
  [[nodiscard]] double of_stud(const RecordRow& row, const Wanted& w, std::size_t k) {
    switch (w.quantity) {
    case FitQuantity::Clamp:
      return row.clamp.at(k);
    case FitQuantity::ClampCold:
      return row.clamp_cold.at(k);
    case FitQuantity::Stretch:
      joint_->place_temperatures(row.temperature, places_);
      return row.clamp.at(k) * joint_->stud().compliance(places_[joint_->stud_place()]);
    case FitQuantity::Thickness:
      return row.layer_thickness.at(k * layers_ + w.index);
    case FitQuantity::CheckTorque:
      return row.check_torque.at(k);
    case FitQuantity::Temperature:
      break;
    }
    return kFitUnknown;
  }

  const std::vector<Wanted>& wanted_;
  const Joint* joint_;
  Values values_;
  std::vector<char> removed_;
  std::vector<double> places_;
  std::size_t layers_ = 0;
  std::size_t first_ = 0, next_ = 0;
  double last_ = -1;
  std::string failure_;
  std::vector<std::string> known_;
  std::set<std::string> outside_;
};

std::vector<std::string> node_names(const HeatNetwork& network) {
  std::vector<std::string> names;
  for (const HeatNode& n : network.nodes) {
    names.push_back(n.name);
  }
  return names;
}

/// What a run came to.
struct Outcome {
  std::optional<Values> values; ///< in the order of what was wanted; none: the run failed
  std::string why;
  std::set<std::string> outside; ///< warnings of parts that left what their material is given for
};

/// Runs a scenario up to the last instant that is wanted.
Outcome run_for(Scenario scenario, const std::vector<ReadingSink::Wanted>& wanted, HeatMemory& heat,
                const std::function<bool(double)>& report) {
  const double last = wanted.back().time;
  scenario.record = {};
  scenario.record.layers = false;
  bool stretch = false;
  for (const ReadingSink::Wanted& w : wanted) {
    scenario.record.at.push_back({When::Kind::Time, w.time});
    scenario.record.layers = scenario.record.layers || w.quantity == FitQuantity::Thickness;
    stretch = stretch || w.quantity == FitQuantity::Stretch;
  }
  scenario.tolerance = std::min(scenario.tolerance, kFitTolerance);
  // What comes after the last reading has no say in it.
  Calendar& calendar = scenario.duty.calendar;
  calendar.weeks =
      std::clamp<std::size_t>(static_cast<std::size_t>(std::ceil(last / (7 * units::kDay))), 1, calendar.weeks);
  std::optional<Joint> joint;
  if (stretch) {
    joint.emplace(scenario.joint, node_names(scenario.heat), scenario.tightening.temperature);
  }
  ReadingSink sink(wanted, joint ? &*joint : nullptr);
  RunOptions options;
  options.heat = &heat;
  options.checkpoint_every = 1e9; // nothing is ever continued
  bool asked = false;
  options.progress = [&](double now, double /*end*/) {
    asked = asked || !report(last > 0 ? std::min(1.0, now / last) : 1);
    return !asked && !sink.complete();
  };
  try {
    run(scenario, sink, options);
  } catch (const NumericalError& e) {
    return {std::nullopt, sink.failure().empty() ? e.what() : sink.failure(), {}};
  }
  if (!sink.complete()) {
    return {std::nullopt, "stopped", {}};
  }
  Values values = sink.take();
  for (const double v : values) {
    if (!std::isfinite(v)) {
      return {std::nullopt, "the run gives no value for a reading", {}};
    }
  }
  return {std::move(values), "", sink.take_outside()};
}

// ---- Many runs: the model at points of the box ----

class Model {
public:
  Model(const FitRequest& request, FitProgress progress) : request_(request), progress_(std::move(progress)) {
    wanted_.resize(request.sets.size());
    places_.resize(request.sets.size());
    for (std::size_t s = 0; s < request.sets.size(); ++s) {
      std::vector<std::size_t>& order = places_[s];
      for (std::size_t i = 0; i < request.readings.size(); ++i) {
        if (request.readings[i].set == s) {
          order.push_back(i);
        }
      }
      std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return request.readings[a].time < request.readings[b].time;
      });
      for (const std::size_t i : order) {
        const FitReading& r = request.readings[i];
        wanted_[s].push_back({r.quantity, r.stud, r.index, r.time});
      }
    }
  }

  [[nodiscard]] Values values_at(const Values& point) const {
    Values values;
    for (std::size_t k = 0; k < point.size(); ++k) {
      values.push_back(request_.parameters[k].unscaled(point[k]));
    }
    return values;
  }

  /// All readings at a point; none where a run fails. Derivatives in the box where `slopes` is given, readings x
  /// parameters.
  bool evaluate(const Values& point, Values& model, Values* slopes) {
    const std::size_t n = request_.readings.size();
    const std::size_t p = point.size();
    struct Task {
      std::size_t set;
      Values point;
      Values* into; ///< readings
    };
    std::vector<Task> tasks;
    const bool known = point == known_at_;
    if (known) {
      model = known_;
    } else {
      model.assign(n, kFitUnknown);
    }
    for (std::size_t s = 0; s < wanted_.size() && !known; ++s) {
      tasks.push_back({s, point, &model});
    }
    const auto own = static_cast<std::ptrdiff_t>(tasks.size()); // runs of the point itself
    std::vector<Values> above(p, Values(n, kFitUnknown));
    std::vector<Values> below(p, Values(n, kFitUnknown));
    Values up(p);
    Values down(p);
    for (std::size_t k = 0; slopes != nullptr && k < p; ++k) {
      up[k] = std::min(1.0, point[k] + kFitStep);
      down[k] = std::max(0.0, point[k] - kFitStep);
      for (std::size_t s = 0; s < wanted_.size(); ++s) {
        if (request_.sets[s].depends[k] == 0) {
          continue;
        }
        for (const auto& [u, into] : {std::pair{up[k], &above[k]}, std::pair{down[k], &below[k]}}) {
          if (u != point[k]) {
            Values moved = point;
            moved[k] = u;
            tasks.push_back({s, std::move(moved), into});
          }
        }
      }
    }
    std::vector<char> good(tasks.size(), 0);
    const bool finished = run_cases(
        tasks.size(), request_.jobs,
        [&](std::size_t t, const std::function<bool(double)>& report) {
          const Task& task = tasks[t];
          const Outcome outcome = run_set(task.set, task.point, wanted_[task.set], report);
          if (outcome.values) {
            for (std::size_t i = 0; i < places_[task.set].size(); ++i) {
              (*task.into)[places_[task.set][i]] = (*outcome.values)[i];
            }
            good[t] = 1;
          } else {
            const std::lock_guard lock(mutex_);
            ++reasons_[outcome.why];
          }
          return true;
        },
        [&](std::size_t /*done*/, double /*share*/) { return ask(); });
    runs_ += tasks.size();
    failed_ += static_cast<std::size_t>(std::count(good.begin(), good.end(), 0));
    if (!finished || std::count(good.begin(), good.begin() + own, 0) > 0) {
      return false;
    }
    known_at_ = point;
    known_ = model;
    if (slopes == nullptr) {
      return true;
    }
    slopes->assign(n * p, 0);
    for (std::size_t k = 0; k < p; ++k) {
      for (std::size_t i = 0; i < n; ++i) {
        if (request_.sets[request_.readings[i].set].depends[k] == 0) {
          continue;
        }
        // At a bound, and beside a point without a run, from one side.
        const bool high = std::isfinite(above[k][i]);
        const bool low = std::isfinite(below[k][i]);
        const double width = (high ? up[k] : point[k]) - (low ? down[k] : point[k]);
        if (!(width > 0)) {
          return false;
        }
        (*slopes)[i * p + k] = ((high ? above[k][i] : model[i]) - (low ? below[k][i] : model[i])) / width;
      }
    }
    return true;
  }

  /// One set's run at a point.
  Outcome run_set(std::size_t s, const Values& point, const std::vector<ReadingSink::Wanted>& wanted,
                  const std::function<bool(double)>& report) {
    std::unique_ptr<HeatMemory> heat;
    {
      const std::lock_guard lock(mutex_);
      if (idle_[s].empty()) {
        heat = std::make_unique<HeatMemory>();
      } else {
        heat = std::move(idle_[s].back());
        idle_[s].pop_back();
      }
    }
    Outcome outcome;
    try {
      outcome = run_for(request_.sets[s].make(values_at(point)), wanted, *heat, report);
    } catch (const InputError& e) {
      const Diagnostic& d = e.diagnostics().front();
      outcome.why = fmt::format("{}: {}", d.path, d.found);
    }
    const std::lock_guard lock(mutex_);
    idle_[s].push_back(std::move(heat));
    outside_.merge(outcome.outside);
    return outcome;
  }

  bool ask() {
    if (!stopped_ && progress_ && !progress_(share_, what_)) {
      stopped_ = true;
    }
    return !stopped_;
  }
  void tell(double share, std::string what) {
    share_ = share;
    what_ = std::move(what);
  }
  [[nodiscard]] bool stopped() const { return stopped_; }
  [[nodiscard]] std::size_t runs() const { return runs_; }
  [[nodiscard]] std::size_t failed() const { return failed_; }
  /// Why most of the runs failed that did.
  [[nodiscard]] std::string why() const {
    const auto most = std::max_element(reasons_.begin(), reasons_.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    return most == reasons_.end() || most->first.empty()
               ? "no run failed, but how the readings lie about the model is no number that a search can use"
               : most->first;
  }
  /// Which parts left what their material is given for, in any run.
  [[nodiscard]] const std::set<std::string>& outside() const { return outside_; }
  void count_run() { ++runs_; }

private:
  const FitRequest& request_;
  FitProgress progress_;
  std::vector<std::vector<ReadingSink::Wanted>> wanted_; ///< by set, in the order of time
  std::vector<std::vector<std::size_t>> places_;         ///< readings that these are
  std::mutex mutex_;                                     ///< of what follows
  std::map<std::size_t, std::vector<std::unique_ptr<HeatMemory>>> idle_;
  std::map<std::string, std::size_t> reasons_; ///< of failed runs, and how many had each
  std::set<std::string> outside_;
  std::size_t runs_ = 0, failed_ = 0;
  Values known_at_, known_; ///< the point run last, and the model there
  double share_ = 0;
  std::string what_;
  bool stopped_ = false;
};

// ---- The fit ----

Eigen::MatrixXd matrix(const Values& slopes, std::size_t rows, std::size_t columns) {
  return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
      slopes.data(), static_cast<Eigen::Index>(rows), static_cast<Eigen::Index>(columns));
}

double median(Values values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

class Fit {
public:
  Fit(const FitRequest& request, const FitProgress& progress)
      : request_(request), model_(request, progress), n_(request.readings.size()), p_(request.parameters.size()) {
    for (std::size_t i = 0; i < n_; ++i) {
      const FitReading& r = request.readings[i];
      auto& size = size_[static_cast<std::size_t>(r.quantity)];
      size = std::max(size, std::abs(r.value));
      error_.push_back(r.error);
      if (std::isnan(r.error)) {
        unknown_[static_cast<std::size_t>(r.quantity)].push_back(i);
      }
    }
    for (const auto& [quantity, members] : unknown_) {
      set_error(quantity, kFirstGuess * size_[quantity]);
    }
  }

  FitResult run() {
    result_.parameters = request_.parameters;
    result_.readings = request_.readings;
    result_.loss = request_.loss;
    result_.seed = request_.seed;
    result_.freedom = n_ - p_;
    search();
    if (!model_.stopped()) {
      settle_errors();
    }
    if (!model_.stopped() && !unknown_.empty()) {
      judge_starts();
    }
    if (!model_.stopped()) {
      intervals();
    }
    if (!model_.stopped() && request_.profile) {
      profiles();
    }
    if (!model_.stopped()) {
      curves();
      words();
    }
    result_.stopped = model_.stopped();
    result_.runs = model_.runs();
    result_.failed_runs = model_.failed();
    return std::move(result_);
  }

private:
  void set_error(std::size_t quantity, double error) {
    found_[quantity] = std::max(error, kResolution * size_[quantity]);
    for (const std::size_t i : unknown_[quantity]) {
      error_[i] = found_[quantity];
    }
  }

  /// The search over some of the parameters; the others stay as they are in `rest`.
  BoxProblem problem(const Values& rest, const std::vector<std::size_t>& free) {
    BoxProblem out;
    out.parameters = free.size();
    out.residuals = n_;
    out.loss = request_.loss;
    out.stop = [this] { return !model_.ask(); };
    out.evaluate = [this, rest, free](const Values& point, Values& residuals, Values* slopes) {
      Values whole = rest;
      for (std::size_t k = 0; k < free.size(); ++k) {
        whole[free[k]] = std::clamp(point[k], 0.0, 1.0);
      }
      Values model;
      Values all;
      if (!model_.evaluate(whole, model, slopes != nullptr ? &all : nullptr)) {
        return false;
      }
      residuals.resize(n_);
      if (slopes != nullptr) {
        slopes->resize(n_ * free.size());
      }
      for (std::size_t i = 0; i < n_; ++i) {
        residuals[i] = (model[i] - request_.readings[i].value) / error_[i];
        for (std::size_t k = 0; slopes != nullptr && k < free.size(); ++k) {
          (*slopes)[i * free.size() + k] = all[i * p_ + free[k]] / error_[i];
        }
      }
      return true;
    };
    return out;
  }
  [[nodiscard]] std::vector<std::size_t> all() const {
    std::vector<std::size_t> k(p_);
    std::iota(k.begin(), k.end(), std::size_t{0});
    return k;
  }

  void search() {
    const Points points(StudySampling::Sobol, request_.seed, p_);
    double least = std::numeric_limits<double>::infinity();
    std::string why;
    for (std::size_t s = 0; s < std::max<std::size_t>(request_.starts, 1); ++s) {
      Values from = s == 0 ? Values() : points.point(s - 1);
      for (std::size_t k = 0; s == 0 && k < p_; ++k) {
        from.push_back(std::clamp(request_.parameters[k].scaled(request_.parameters[k].start), 0.0, 1.0));
      }
      model_.tell(0.9 * static_cast<double>(s) / static_cast<double>(request_.starts),
                  fmt::format("start {} of {}", s + 1, request_.starts));
      const BoxMinimum minimum = minimise(problem(Values(p_, 0), all()), from, kSearch);
      if (model_.stopped()) {
        return;
      }
      FitStart start;
      start.from = model_.values_at(from);
      start.to = model_.values_at(minimum.point);
      start.cost = minimum.cost;
      start.outcome = std::isnan(minimum.cost) ? "no run" : minimum.converged ? "converged" : "not converged";
      if (std::isnan(minimum.cost) && why.empty()) {
        why = model_.why();
      }
      if (minimum.cost < least) {
        least = minimum.cost;
        point_ = minimum.point;
        result_.best = s;
      }
      result_.starts.push_back(std::move(start));
    }
    if (point_.empty()) {
      throw NumericalError(Code::NoEquilibrium, "no start of the fit has a run that comes to an end: " + why);
    }
  }

  /// The model and its slopes at the values found.
  void stand() {
    if (!model_.evaluate(point_, at_, &slopes_) && !model_.stopped()) {
      throw NumericalError(Code::NoEquilibrium, "the run with the values found comes to no end: " + model_.why());
    }
  }

  [[nodiscard]] double residual(std::size_t i) const { return (request_.readings[i].value - at_[i]) / error_[i]; }

  /// Slopes of the standardised residuals.
  [[nodiscard]] Eigen::MatrixXd weighted_slopes() const {
    Eigen::MatrixXd j = matrix(slopes_, n_, p_);
    for (std::size_t i = 0; i < n_; ++i) {
      j.row(static_cast<Eigen::Index>(i)) /= error_[i];
    }
    return j;
  }

  /// Unknown errors and values in turn, until neither moves. Alone and without a robust loss an unknown error does not
  /// move the values.
  void settle_errors() {
    const bool alone = request_.loss == FitLoss::None && unknown_.size() == 1 && unknown_.begin()->second.size() == n_;
    for (int round = 0; round < kAgain; ++round) {
      stand();
      if (model_.stopped() || unknown_.empty()) {
        return;
      }
      // Each quantity has given some of its freedom to the parameters: the sum of its leverages.
      const Eigen::MatrixXd j = weighted_slopes();
      const Eigen::MatrixXd q =
          Eigen::HouseholderQR<Eigen::MatrixXd>(j).householderQ() * Eigen::MatrixXd::Identity(j.rows(), j.cols());
      double moved = 0;
      for (const auto& [quantity, members] : unknown_) {
        double squares = 0;
        double given = 0;
        Values off;
        for (const std::size_t i : members) {
          const double r = request_.readings[i].value - at_[i];
          squares += r * r;
          off.push_back(std::abs(r));
          given += q.row(static_cast<Eigen::Index>(i)).squaredNorm();
        }
        const double left = std::max(static_cast<double>(members.size()) - given, 0.5);
        const double before = found_[quantity];
        // 1.4826: the median of |r| of normal errors is 0.6745 of their deviation.
        const double size = static_cast<double>(members.size());
        set_error(quantity, request_.loss == FitLoss::None ? std::sqrt(squares / left)
                                                           : 1.4826 * median(off) * std::sqrt(size / left));
        moved = std::max(moved, std::abs(std::log(found_[quantity] / before)));
      }
      if (alone || moved < 1e-4) {
        return;
      }
      const BoxMinimum minimum = minimise(problem(Values(p_, 0), all()), point_, kSearch);
      if (model_.stopped()) {
        return;
      }
      if (!std::isnan(minimum.cost)) {
        point_ = minimum.point;
      }
    }
    stand();
  }

  /// The ends of all starts by the errors found, so that they stand at the same stage as the values: those of the
  /// search itself were by errors guessed. An end that turns out better takes the place of the best.
  void judge_starts() {
    model_.tell(0.9, "the ends of the starts by the errors found");
    for (int round = 0; round < kJudged; ++round) {
      std::vector<std::pair<Values, BoxMinimum>> known; // where a search went from, and where it led
      BoxMinimum best;
      best.point = point_;
      best.converged = result_.starts[result_.best].outcome == "converged";
      best.cost = 0;
      for (std::size_t i = 0; i < n_; ++i) {
        best.cost += loss_at(request_.loss, residual(i)).cost / 2;
      }
      std::size_t better = result_.best;
      double least = best.cost * (1 - kBetter);
      for (std::size_t s = 0; s < result_.starts.size(); ++s) {
        FitStart& start = result_.starts[s];
        if (std::isnan(start.cost)) {
          continue;
        }
        BoxMinimum end = best;
        if (s != result_.best) {
          Values from;
          for (std::size_t k = 0; k < p_; ++k) {
            from.push_back(std::clamp(request_.parameters[k].scaled(start.to[k]), 0.0, 1.0));
          }
          const auto same = std::find_if(known.begin(), known.end(), [&](const std::pair<Values, BoxMinimum>& k) {
            return apart(k.first, from) < kSameEnd;
          });
          if (same == known.end()) {
            end = minimise(problem(Values(p_, 0), all()), from, kSearch);
            if (model_.stopped()) {
              return;
            }
            known.emplace_back(from, end);
          } else {
            end = same->second;
          }
        }
        if (std::isnan(end.cost)) {
          continue;
        }
        start.to = model_.values_at(end.point);
        start.cost = end.cost;
        start.outcome = end.converged ? "converged" : "not converged";
        if (end.cost < least) {
          least = end.cost;
          better = s;
          point_ = end.point;
        }
      }
      if (better == result_.best) {
        return;
      }
      result_.best = better;
      settle_errors();
      if (model_.stopped()) {
        return;
      }
    }
  }
  /// The longest way between two points of the box along one of its edges.
  [[nodiscard]] static double apart(const Values& a, const Values& b) {
    double most = 0;
    for (std::size_t k = 0; k < a.size(); ++k) {
      most = std::max(most, std::abs(a[k] - b[k]));
    }
    return most;
  }

  void intervals() {
    const Eigen::MatrixXd j = weighted_slopes();
    double chi = 0;
    double psi2 = 0;
    double slope = 0;
    result_.residuals.resize(n_);
    for (std::size_t i = 0; i < n_; ++i) {
      const double r = residual(i);
      const LossAt loss = loss_at(request_.loss, r);
      chi += r * r;
      psi2 += loss.weight * loss.weight * r * r;
      slope += loss.slope;
      FitResidual& out = result_.residuals[i];
      out.model = at_[i];
      out.error = error_[i];
      out.standardised = r;
      out.weight = loss.weight;
    }
    const auto freedom = static_cast<double>(result_.freedom);
    result_.chi_square = chi;
    std::fill(result_.found_error.begin(), result_.found_error.end(), kFitUnknown);
    for (const auto& [quantity, error] : found_) {
      result_.found_error[quantity] = error;
    }
    double scale = 1;
    bool estimated = !unknown_.empty();
    if (request_.loss != FitLoss::None) {
      // Huber 1981, 7.6: the covariance of a robust fit is that of least squares times E psi^2/(E psi')^2.
      counted_ = std::sqrt(psi2 / freedom);
      share_ = std::max(slope, 1.0) / static_cast<double>(n_);
      scale = counted_ / share_;
      estimated = true;
    } else if (unknown_.empty() &&
               boost::math::cdf(boost::math::complement(boost::math::chi_squared(freedom), chi)) < kFarOff) {
      scale = std::sqrt(chi / freedom);
      estimated = true;
    }
    result_.widened = unknown_.empty() ? std::max(1.0, scale) : 1;
    scale_ = unknown_.empty() ? std::max(1.0, scale) : scale;
    rise_ = scale_ * scale_ * slope / static_cast<double>(n_); // slope: 1 a reading but of outliers
    result_.t_quantile = estimated ? boost::math::quantile(boost::math::students_t(freedom), kTail)
                                   : boost::math::quantile(boost::math::normal(), kTail);

    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(j.transpose() * j / (scale_ * scale_));
    // A direction that nothing at all is known of is as long as the box many times over, not endless.
    constexpr double kNothing = 1e-8;
    eigenvalues_ = eigen.eigenvalues().cwiseMax(kNothing);
    eigenvectors_ = eigen.eigenvectors();
    const Eigen::MatrixXd covariance =
        eigenvectors_ * eigenvalues_.cwiseInverse().asDiagonal() * eigenvectors_.transpose();
    result_.correlation.assign(p_ * p_, 1);
    for (std::size_t k = 0; k < p_; ++k) {
      const auto row = static_cast<Eigen::Index>(k);
      const FitParameter& parameter = request_.parameters[k];
      FitValue v;
      const double u = point_[k];
      v.scaled_error = std::sqrt(covariance(row, row));
      v.value = parameter.unscaled(u);
      v.at_low = u < kAtBound;
      v.at_high = u > 1 - kAtBound;
      v.low = parameter.unscaled(u - result_.t_quantile * v.scaled_error);
      v.high = parameter.unscaled(u + result_.t_quantile * v.scaled_error);
      v.error = v.scaled_error *
                (parameter.log ? v.value * std::log(parameter.high / parameter.low) : parameter.high - parameter.low);
      result_.values.push_back(v);
      for (std::size_t m = 0; m < p_; ++m) {
        const auto column = static_cast<Eigen::Index>(m);
        result_.correlation[k * p_ + m] =
            covariance(row, column) / std::sqrt(covariance(row, row) * covariance(column, column));
      }
    }
    check_torques();
  }

  /// The clamps that check-torque readings stand for, by the frictions of the scenario with the values found. The
  /// breakaway ratio at the age of the last act is what the run itself had: it follows from its torque and its clamp.
  void check_torques() {
    const Values values = model_.values_at(point_);
    for (std::size_t s = 0; s < request_.sets.size(); ++s) {
      std::vector<std::size_t> members;
      for (std::size_t i = 0; i < n_; ++i) {
        if (request_.readings[i].set == s && request_.readings[i].quantity == FitQuantity::CheckTorque) {
          members.push_back(i);
        }
      }
      if (members.empty()) {
        continue;
      }
      std::stable_sort(members.begin(), members.end(), [&](std::size_t a, std::size_t b) {
        return request_.readings[a].time < request_.readings[b].time;
      });
      std::vector<ReadingSink::Wanted> wanted;
      for (const std::size_t i : members) {
        const FitReading& r = request_.readings[i];
        wanted.push_back({FitQuantity::Clamp, r.stud, 0, r.time});
      }
      const Outcome clamps = model_.run_set(s, point_, wanted, [](double) { return true; });
      model_.count_run();
      const Scenario scenario = request_.sets[s].make(values);
      const Joint joint(scenario.joint, node_names(scenario.heat), scenario.tightening.temperature);
      const NutThread& nut = joint.nut();
      const auto spread = [&](double v) { return Measured{v, request_.friction_deviation * v}; };
      for (std::size_t m = 0; clamps.values && m < members.size(); ++m) {
        const FitReading& r = request_.readings[members[m]];
        const auto of_stud = [&](const std::vector<double>& of) {
          return r.stud >= 0 ? of.at(static_cast<std::size_t>(r.stud))
                             : std::accumulate(of.begin(), of.end(), 0.0) / static_cast<double>(of.size());
        };
        const double in_thread = of_stud(scenario.tightening.thread_friction);
        const double under_nut = of_stud(scenario.tightening.bearing_friction);
        const double model = (*clamps.values)[m];
        if (!(model > 0)) {
          continue; // a nut without clamp turns by any torque, and tells nothing
        }
        const double arm = (at_[members[m]] - nut.prevailing_torque()) / model;
        const double breakaway = (arm - nut.arm(0, 0)) / (nut.thread_arm(in_thread) + nut.bearing_arm(under_nut));
        FitResidual& out = result_.residuals[members[m]];
        const Measured clamp =
            clamp_of_check_torque(nut, {r.value, out.error}, spread(in_thread), spread(under_nut), spread(breakaway));
        out.clamp = clamp.value;
        out.clamp_deviation = clamp.deviation;
      }
    }
  }

  // ---- Profiles ----

  /// Twice the cost over what it rises by within one standard error, with parameter k held at u and the others fitted
  /// from `near`.
  std::optional<double> held(std::size_t k, double u, Values& near) {
    Values rest = near;
    rest[k] = u;
    std::vector<std::size_t> others = all();
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(k));
    if (others.empty()) {
      Values residuals;
      if (!problem(rest, {0}).evaluate({u}, residuals, nullptr)) {
        return std::nullopt;
      }
      double sum = 0;
      for (const double r : residuals) {
        sum += loss_at(request_.loss, r).cost;
      }
      return sum / rise_;
    }
    Values start;
    for (const std::size_t m : others) {
      start.push_back(near[m]);
    }
    const BoxMinimum minimum = minimise(problem(rest, others), start, kSearch);
    if (std::isnan(minimum.cost) || model_.stopped()) {
      return std::nullopt;
    }
    for (std::size_t m = 0; m < others.size(); ++m) {
      rest[others[m]] = minimum.point[m];
    }
    near = rest;
    return 2 * minimum.cost / rise_;
  }

  /// From the least sum outwards, in steps of a quarter of the interval, until the rise is enough or the box ends.
  void profiles() {
    constexpr int kSteps = 16; // at most, on each side: four times the interval
    const double enough = result_.t_quantile * result_.t_quantile;
    for (std::size_t k = 0; k < p_; ++k) {
      model_.tell(0.9 + 0.1 * static_cast<double>(k) / static_cast<double>(p_),
                  fmt::format("profile {} of {}", k + 1, p_));
      FitValue& v = result_.values[k];
      Values home = point_;
      const std::optional<double> least = held(k, point_[k], home);
      std::vector<std::pair<double, double>> rises = {{point_[k], 0.0}};
      double ends[2] = {0, 1};
      for (const int side : {-1, 1}) {
        Values near = point_;
        std::pair<double, double> before = rises.front();
        before = {point_[k], 0.0};
        const double step = std::max(result_.t_quantile * v.scaled_error / 4, 1e-4);
        for (int s = 1; s <= kSteps && least; ++s) {
          const double u = std::clamp(point_[k] + side * s * step, 0.0, 1.0);
          const std::optional<double> sum = u == before.first ? std::nullopt : held(k, u, near);
          if (model_.stopped()) {
            return;
          }
          if (!sum) {
            break;
          }
          const double rise = std::max(0.0, *sum - *least);
          rises.emplace_back(u, rise);
          if (rise >= enough) {
            // The root of the rise is nearly straight.
            const double a = std::sqrt(before.second);
            const double b = std::sqrt(rise);
            ends[side < 0 ? 0 : 1] = before.first + (u - before.first) * (std::sqrt(enough) - a) / (b - a);
            break;
          }
          before = {u, rise};
        }
      }
      std::sort(rises.begin(), rises.end());
      for (const auto& [u, rise] : rises) {
        v.profile_value.push_back(request_.parameters[k].unscaled(u));
        v.profile_rise.push_back(rise);
      }
      v.profile_low = request_.parameters[k].unscaled(ends[0]);
      v.profile_high = request_.parameters[k].unscaled(ends[1]);
    }
  }

  // ---- For people ----

  void curves() {
    for (std::size_t s = 0; s < request_.sets.size(); ++s) {
      using Key = std::tuple<FitQuantity, int, std::size_t, std::string>;
      std::set<Key> kinds;
      double last = 0;
      for (const FitReading& r : request_.readings) {
        if (r.set == s) {
          kinds.emplace(r.quantity, r.stud, r.index, r.part);
          last = std::max(last, r.time);
        }
      }
      FitSetResult set;
      // Early hours in equal proportions, for most is lost then; the rest evenly.
      std::set<double> times = {0.0, last};
      const double first = std::min(60.0, last / 10);
      constexpr std::size_t kHalf = kCurve / 2;
      for (std::size_t k = 0; k < kHalf && last > 0; ++k) {
        const double share = static_cast<double>(k) / static_cast<double>(kHalf);
        times.insert(std::round(first * std::pow(last / first, share)));
        times.insert(std::round(last * share));
      }
      times.erase(times.upper_bound(last), times.end());
      set.time.assign(times.begin(), times.end());
      std::vector<ReadingSink::Wanted> wanted;
      for (const double t : set.time) {
        for (const auto& [quantity, stud, index, part] : kinds) {
          wanted.push_back({quantity, stud, index, t});
        }
      }
      const Outcome outcome = model_.run_set(s, point_, wanted, [](double) { return true; });
      model_.count_run();
      std::size_t c = 0;
      for (const auto& [quantity, stud, index, part] : kinds) {
        FitCurve curve{s, quantity, stud, part, {}};
        for (std::size_t t = 0; t < set.time.size(); ++t) {
          curve.value.push_back(outcome.values ? (*outcome.values)[t * kinds.size() + c] : kFitUnknown);
        }
        result_.curves.push_back(std::move(curve));
        ++c;
      }
      result_.sets.push_back(std::move(set));
    }
  }

  [[nodiscard]] std::string label(std::size_t k) const { return request_.parameters[k].label; }

  void words() {
    std::vector<std::string>& out = result_.warnings;
    for (std::size_t k = 0; k < p_; ++k) {
      FitValue& v = result_.values[k];
      if (clampfade::undetermined(request_.parameters[k], v)) {
        v.error = kFitUnknown;
        out.push_back(fmt::format("{} is not determined: its interval spans its bounds.", label(k)));
      } else if (v.at_low || v.at_high) {
        out.push_back(
            fmt::format("{} is at its {} bound: the readings ask for {} than it may be. Give it more room, or "
                        "ask whether the model has what the coupon did.",
                        label(k), v.at_low ? "lower" : "upper", v.at_low ? "less" : "more"));
      }
    }
    undetermined(out);
    if (model_.failed() > 0) {
      out.push_back(fmt::format("{} of {} runs came to no end, most often because: {}", model_.failed(), model_.runs(),
                                model_.why()));
    }
    if (result_.widened > 1 && request_.loss != FitLoss::None) {
      out.push_back(
          fmt::format("The residuals as the loss {} counts them are {:.3g} errors in the root mean square, and a share "
                      "of {:.3g} of the readings counts: the intervals are widened by their ratio, {:.2g}. The errors "
                      "are too small, or the model lacks something.",
                      name(request_.loss), counted_, share_, result_.widened));
    } else if (result_.widened > 1) {
      out.push_back(
          fmt::format("The readings lie {:.2g} times as far off the model as their errors say (chi-square {:.4g} "
                      "for {} degrees of freedom): the intervals are widened by that. The errors are too "
                      "small, or the model lacks something.",
                      result_.widened, result_.chi_square, result_.freedom));
    }
    for (const auto& [quantity, members] : unknown_) {
      const FitQuantityName& name = kFitQuantityNames.at(quantity);
      out.push_back(
          fmt::format("The readings of {} have no error: one for all of them was found from how they lie about "
                      "the model.",
                      name.word));
    }
    for (std::size_t i = 0; i < n_ && request_.loss == FitLoss::None; ++i) {
      if (std::abs(result_.residuals[i].standardised) > kGross) {
        out.push_back(fmt::format("The reading of {} at {:.6g} h lies {:.3g} errors off the model and draws the values "
                                  "to itself: find out what it is, or fit with --loss huber.",
                                  kFitQuantityNames.at(static_cast<std::size_t>(request_.readings[i].quantity)).word,
                                  request_.readings[i].time / units::kHour,
                                  std::abs(result_.residuals[i].standardised)));
      }
    }
    std::size_t outliers = 0;
    for (const FitResidual& r : result_.residuals) {
      outliers += r.weight < kOutlier ? 1U : 0U;
    }
    if (outliers > 0) {
      out.push_back(
          fmt::format("{} of {} readings count less than half, as outliers of the loss {}. Find out what they "
                      "are before trusting a fit without them.",
                      outliers, n_, name(request_.loss)));
    }
    other_minima(out);
    out.insert(out.end(), model_.outside().begin(), model_.outside().end());
    for (const FitSet& set : request_.sets) {
      const Scenario scenario = set.make(model_.values_at(point_));
      const auto rounds = [](const DayStep& step) {
        return std::holds_alternative<RoundStep>(step.what) || std::holds_alternative<TraceStep>(step.what);
      };
      if (scenario.resolution == Resolution::Envelope &&
          std::any_of(scenario.duty.day.begin(), scenario.duty.day.end(), rounds)) {
        out.emplace_back(
            "The stops of a round were integrated together where the day allowed it, which may differ from "
            "run to run by 0.02 % of the clamp: for values from such a duty set solution: {resolution: "
            "every-stop}.");
        break;
      }
    }
    if (std::any_of(request_.readings.begin(), request_.readings.end(),
                    [](const FitReading& r) { return r.quantity == FitQuantity::CheckTorque; })) {
      out.emplace_back(
          "Check-torque readings stay high where friction has risen, with the clamp long gone: values that "
          "rest on them are to be checked by clamp or stretch.");
    }
    if (result_.starts[result_.best].outcome != "converged") {
      out.emplace_back("The search ended before it had converged: the values are not the best there are.");
    }
  }

  [[nodiscard]] bool open(std::size_t k) const {
    return clampfade::undetermined(request_.parameters[k], result_.values[k]);
  }

  /// Directions in the box along which the interval is as long as the box, and pairs that are strongly tied.
  void undetermined(std::vector<std::string>& out) const {
    std::set<std::pair<std::size_t, std::size_t>> told;
    for (Eigen::Index e = 0; e < eigenvalues_.size(); ++e) {
      const Eigen::VectorXd direction = eigenvectors_.col(e);
      const double largest = direction.cwiseAbs().maxCoeff();
      if (2 * result_.t_quantile / std::sqrt(eigenvalues_[e]) * largest < 1) {
        continue;
      }
      std::vector<std::size_t> members;
      for (std::size_t k = 0; k < p_; ++k) {
        if (std::abs(direction[static_cast<Eigen::Index>(k)]) >= kTold * largest) {
          members.push_back(k);
        }
      }
      for (const std::size_t a : members) {
        for (const std::size_t b : members) {
          told.emplace(a, b);
        }
      }
      if (members.size() == 1) {
        if (open(members[0])) {
          continue; // said already
        }
        out.push_back(
            fmt::format("The readings say next to nothing about {}: its interval is as long as its bounds are "
                        "apart.",
                        label(members[0])));
        continue;
      }
      if (members.size() == 2) {
        const bool together =
            direction[static_cast<Eigen::Index>(members[0])] * direction[static_cast<Eigen::Index>(members[1])] > 0;
        const bool logs = request_.parameters[members[0]].log && request_.parameters[members[1]].log;
        const std::string what =
            logs ? fmt::format("{} {} {}", label(members[0]), together ? "/" : "x", label(members[1]))
                 : fmt::format("{} and {} together", label(members[0]), label(members[1]));
        out.push_back(
            fmt::format("The readings fix {}, not each: {} with {} gives the same readings. Hold one at a value "
                        "known otherwise, or add readings that tell them apart.",
                        what, fmt::format("more {}", label(members[0])),
                        fmt::format("{} {}", together ? "more" : "less", label(members[1]))));
        continue;
      }
      std::string list;
      for (const std::size_t k : members) {
        const bool more =
            direction[static_cast<Eigen::Index>(k)] * direction[static_cast<Eigen::Index>(members[0])] > 0;
        list += (list.empty()          ? ""
                 : k == members.back() ? " and "
                                       : ", ") +
                std::string(more ? "more " : "less ") + label(k);
      }
      out.push_back(
          fmt::format("The readings do not tell {} values apart: {} together give the same readings. Hold some "
                      "of them at values known otherwise, or add readings that tell them apart.",
                      members.size(), list));
    }
    for (std::size_t a = 0; a < p_; ++a) {
      for (std::size_t b = a + 1; b < p_; ++b) {
        const double r = result_.correlation[a * p_ + b];
        if (std::abs(r) > kStronglyTied && !open(a) && !open(b) && told.count({a, b}) == 0) {
          out.push_back(
              fmt::format("{} and {} go together (correlation {:.3f}): an error in one is made up by the other, "
                          "so use both of this fit or neither.",
                          label(a), label(b), r));
        }
      }
    }
  }

  /// Other ends of the search that are as good as the best and lie elsewhere.
  void other_minima(std::vector<std::string>& out) const {
    const double best = result_.starts[result_.best].cost;
    const double near = 0.5 * scale_ * scale_;
    for (std::size_t s = 0; s < result_.starts.size(); ++s) {
      const FitStart& start = result_.starts[s];
      if (std::isnan(start.cost) || start.cost - best > near) {
        continue;
      }
      for (std::size_t k = 0; k < p_; ++k) {
        // Against where the best search ended, not the result: that has moved since with the errors found.
        const FitParameter& of = request_.parameters[k];
        const double apart = std::abs(of.scaled(start.to[k]) - of.scaled(result_.starts[result_.best].to[k]));
        if (apart > std::max(result_.t_quantile * result_.values[k].scaled_error, 1e-3)) {
          out.push_back(
              fmt::format("Start {} led to other values that fit as well: there is more than one answer.", s + 1));
          return;
        }
      }
    }
  }

  const FitRequest& request_;
  Model model_;
  std::size_t n_, p_;
  std::array<double, kFitQuantities> size_{};               ///< largest reading of a quantity
  std::map<std::size_t, std::vector<std::size_t>> unknown_; ///< readings without an error, by quantity
  std::map<std::size_t, double> found_;                     ///< their errors
  Values error_;                                            ///< of each reading
  Values point_;                                            ///< in the box
  Values at_, slopes_;                                      ///< the model there
  double scale_ = 1;                                        ///< by how much the residuals are wider than 1
  double counted_ = 1, share_ = 1;                          ///< what that is the ratio of with a robust loss
  double rise_ = 1;                                         ///< of twice the cost within one standard error
  Eigen::VectorXd eigenvalues_;
  Eigen::MatrixXd eigenvectors_;
  FitResult result_;
};

} // namespace

FitResult fit(const FitRequest& request, const FitProgress& progress) {
  if (request.readings.size() <= request.parameters.size()) {
    Diagnostic d;
    d.code = Code::Inconsistent;
    d.path = "--free";
    d.found = fmt::format("{} values to be found from {} readings", request.parameters.size(), request.readings.size());
    d.allowed = "more readings than values";
    throw InputError({d});
  }
  return Fit(request, progress).run();
}

} // namespace clampfade

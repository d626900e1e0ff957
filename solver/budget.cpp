#include "solver/budget.hpp"

#include <cmath>

namespace clampfade {

namespace {
double size_of(const ByMechanism& costs) {
  double sum = 0;
  for (const double cost : costs) {
    sum += std::abs(cost);
  }
  return sum;
}
} // namespace

Budget::Budget(Wheel& wheel) : wheel_(wheel) {}

void Budget::start(const State& x) {
  const std::size_t n = wheel_.columns();
  cold_.assign(n, 0.0);
  gain_.assign(n, 0.0);
  cost_.assign(n, ByMechanism{});
  base_.assign(n, ByMechanism{});
  since_.assign(n, ByMechanism{});
  before_.resize(n);
  after_.resize(n);
  rest_ = {};
  wheel_.cold(x, rest_);
  for (std::size_t c = 0; c < n; ++c) {
    cold_[c] = rest_.forces[(c + 1) * wheel_.joint().segments() - 1];
    wheel_.losses(x, c, after_[c]);
    for (const ByMechanism& s : after_[c]) {
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        base_[c][m] += s[m];
      }
    }
  }
  start_telling(x);
  influence(x);
}

void Budget::influence(const State& x) {
  if (wheel_.joint().coupled()) {
    influence_ = wheel_.cold_influence(x, rest_);
    influence_at_ = cold_;
  }
}

void Budget::step(const State& x0, const State& x1) {
  const std::size_t n = wheel_.columns();
  const std::size_t segments = wheel_.joint().segments();
  const bool sticks = wheel_.joint().washers() && wheel_.joint().washers()->sticks();
  if (wheel_.joint().coupled()) {
    // Only the cold clamp is followed at every step; who took it is told where it is read and where the tangent moves.
    wheel_.total_losses(x1, totals_);
    bool stale = false;
    for (std::size_t c = 0; c < n; ++c) {
      double cost = 0;
      for (std::size_t i = 0; i < n * segments; ++i) {
        cost -= influence_(static_cast<Eigen::Index>(c), static_cast<Eigen::Index>(i)) * (totals_[i] - told_totals_[i]);
      }
      cold_[c] = told_cold_[c] - cost;
      stale = stale || std::abs(cold_[c] - influence_at_[c]) > 2e-3 * wheel_.scale();
    }
    if (stale || sticks) {
      settle(x1);
      influence(x1);
    }
    return;
  }
  before_.swap(after_);
  for (std::size_t c = 0; c < n; ++c) {
    wheel_.losses(x1, c, after_[c]);
  }
  const std::vector<double> old = cold_;
  std::vector<double> stuck(n);
  if (sticks) {
    // The new losses with the washers' friction as it was: what is missing afterwards is friction's share.
    const State held = wheel_.with_washers_of(x1, x0);
    wheel_.cold(held, rest_);
    for (std::size_t c = 0; c < n; ++c) {
      stuck[c] = rest_.forces[c];
    }
  }
  wheel_.cold(x1, rest_);
  for (std::size_t c = 0; c < n; ++c) {
    cold_[c] = rest_.forces[c];
    const double by_loss = old[c] - (sticks ? stuck[c] : cold_[c]);
    double total = 0;
    ByMechanism lost;
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      lost[m] = after_[c][0][m] - before_[c][0][m];
      total += lost[m];
    }
    if (total != 0) {
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        cost_[c][m] += by_loss * lost[m] / total;
      }
    }
    if (sticks) {
      cost_[c][index(Mechanism::WasherFriction)] += stuck[c] - cold_[c];
    }
  }
}

void Budget::tell(const State& x) {
  const std::size_t n = wheel_.columns();
  const std::size_t segments = wheel_.joint().segments();
  before_.swap(after_);
  for (std::size_t c = 0; c < n; ++c) {
    wheel_.losses(x, c, after_[c]);
  }
  for (std::size_t c = 0; c < n; ++c) {
    since_[c] = {};
    for (std::size_t j = 0; j < n; ++j) {
      for (std::size_t s = 0; s < segments; ++s) {
        const double slope = -influence_(static_cast<Eigen::Index>(c), static_cast<Eigen::Index>(j * segments + s));
        for (std::size_t m = 0; m < kMechanisms && slope != 0; ++m) {
          since_[c][m] += slope * (after_[j][s][m] - before_[j][s][m]);
        }
      }
    }
    cold_[c] = told_cold_[c];
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      cost_[c][m] += since_[c][m];
      cold_[c] -= since_[c][m];
    }
  }
}

void Budget::start_telling(const State& x) {
  wheel_.total_losses(x, told_totals_);
  told_cold_ = cold_;
}

void Budget::settle(const State& x) {
  if (!wheel_.joint().coupled()) {
    return;
  }
  tell(x);
  const bool sticks = wheel_.joint().washers() && wheel_.joint().washers()->sticks();
  wheel_.cold(x, rest_);
  // A stud that is open has no tangent; its neighbours' losses may close it again, and then what moved them is to name.
  ByMechanism all{};
  for (const ByMechanism& since : since_) {
    for (std::size_t m = 0; m < kMechanisms; ++m) {
      all[m] += std::abs(since[m]);
    }
  }
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    const double exact = rest_.forces[(c + 1) * wheel_.joint().segments() - 1];
    const double missed = cold_[c] - exact;
    if (sticks) {
      cost_[c][index(Mechanism::WasherFriction)] += missed;
    } else {
      const ByMechanism& at_work = size_of(since_[c]) > 0 ? since_[c] : all;
      const double sum = size_of(at_work);
      if (sum == 0) {
        continue; // nothing was lost: what differs is where the balance stopped, and nobody's cost
      }
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        cost_[c][m] += missed * std::abs(at_work[m]) / sum;
      }
    }
    cold_[c] = exact;
  }
  start_telling(x);
}

void Budget::act(const State& x) {
  wheel_.cold(x, rest_);
  for (std::size_t c = 0; c < wheel_.columns(); ++c) {
    const double exact = rest_.forces[(c + 1) * wheel_.joint().segments() - 1];
    gain_[c] += exact - cold_[c];
    cold_[c] = exact;
    wheel_.losses(x, c, after_[c]);
  }
  start_telling(x);
  influence(x);
}

double Budget::loss(const State& x, std::size_t c, std::size_t mechanism) const {
  std::vector<ByMechanism> now;
  wheel_.losses(x, c, now);
  double sum = -base_[c][mechanism];
  for (const ByMechanism& s : now) {
    sum += s[mechanism];
  }
  return sum;
}

template <class Budgets, class Each>
void Budget::members(Budgets& budget, const Each& each) {
  each(budget.cold_);
  each(budget.gain_);
  for (std::size_t c = 0; c < budget.cold_.size(); ++c) {
    each(budget.cost_[c]);
    each(budget.base_[c]);
    for (auto& segment : budget.after_[c]) {
      each(segment);
    }
  }
  each(budget.told_totals_);
  each(budget.told_cold_);
  each(budget.rest_.forces);
  each(budget.rest_.faces);
  each(budget.influence_at_);
  each(budget.influence_.reshaped());
}

void Budget::save(std::vector<double>& out) const {
  members(*this, [&out](const auto& list) { out.insert(out.end(), list.begin(), list.end()); });
}

void Budget::load(const double*& in) {
  members(*this, [&in](auto&& list) {
    for (double& value : list) {
      value = *in++;
    }
  });
}

} // namespace clampfade

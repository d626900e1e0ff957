#include "solver/equilibrium.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace clampfade {

namespace {
constexpr int kIterations = 200;
constexpr int kPlain = 30;     ///< iterations of plain Newton steps: those that take more jump over kinks to and fro
constexpr int kKeepFactor = 6; ///< iterations a kept factorisation may take before a new one pays
constexpr double kConverged = 1e-11;
constexpr double kRoundOff = 32 * std::numeric_limits<double>::epsilon();
constexpr double kGapsCount = 0.1;      ///< of the gap that a segment leaves over the give of its column, as a force
constexpr int kSoftAfter = 20;          ///< changes of the set of open faces before it is found by soft faces
constexpr int kOneByOne = 25;           ///< of them before faces change one at a time
constexpr double kSoftFirst = 1e-7;     ///< give of a soft face that is pulled, at first: that of soft springs [m/N]
constexpr double kSoftLast = 1e-2;      ///< and at last, far above that of all else [m/N]
constexpr double kSofter = 10;          ///< from one to the next
constexpr double kSoftConverged = 1e-9; ///< of the scale: by then it is known which faces pull
constexpr int kContactChanges = 90;     ///< of the set of open faces before they may only open
constexpr double kOverlap = 1e-15;      ///< of open faces that counts as none [m]
constexpr double kOverlapAtLast = 1e-9; ///< and for faces that kept changing sides [m]: about a newton of clamp

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

[[noreturn]] void give_up(std::size_t column, double force) {
  throw NumericalError(Code::NoEquilibrium,
                       fmt::format("no equilibrium of stud {}: last trial clamp {:.6g} N after {} iterations",
                                   column + 1, force, kIterations));
}
} // namespace

Equilibrium::Equilibrium(std::size_t columns, std::size_t segments, std::vector<char> bilateral, bool kinks)
    : network_(columns, segments), bilateral_(std::move(bilateral)), kinks_(kinks), factor_(network_),
      influence_(network_) {}

void Equilibrium::pin(std::span<const Held> held) {
  const std::size_t n = network_.columns() * network_.segments();
  held_.assign(n, 0);
  held_force_.assign(n, 0.0);
  pinned_.resize(n, 0);
  for (const Held& h : held) {
    const std::size_t i = h.column * network_.segments() + network_.segments() - 1;
    held_[i] = 1;
    held_force_[i] = h.force;
  }
}

void Equilibrium::solve(Rest& rest, const Shorten& shorten, std::span<const double> ring, std::span<const Held> held,
                        double scale) {
  pin(held);
  scale_ = scale;
  ++counts_.solves;
  if (network_.faces() == 0) {
    solve_columns(rest, shorten, scale);
  } else {
    solve_network(rest, shorten, ring, scale);
  }
}

void Equilibrium::solve_columns(Rest& rest, const Shorten& shorten, double scale) {
  const std::size_t n = network_.columns();
  std::vector<double> low(n, 0.0);
  std::vector<double> high(n, std::numeric_limits<double>::infinity());
  std::vector<char> done(n, 0);
  for (std::size_t c = 0; c < n; ++c) {
    if (held_[c]) {
      rest.forces[c] = held_force_[c];
      done[c] = 1;
    }
  }
  for (int iteration = 0; iteration < kIterations; ++iteration) {
    ++counts_.iterations;
    shorten(rest.forces, balance_);
    bool all = true;
    for (std::size_t c = 0; c < n; ++c) {
      if (done[c]) {
        continue;
      }
      const double f = rest.forces[c];
      const double d = balance_.closing[c]; // rises with the force: positive means too much force
      if (f <= 0 && d >= 0) {
        rest.forces[c] = 0; // open
        done[c] = 1;
        continue;
      }
      double next = f - d / balance_.slopes[c];
      if (std::abs(next - f) <= kConverged * scale) {
        rest.forces[c] = std::max(next, 0.0);
        done[c] = 1;
        continue;
      }
      all = false;
      (d > 0 ? high[c] : low[c]) = f;
      if (!(next > low[c] && next < high[c])) {
        // Outside what is known: the edge of opening first, else the middle.
        next = next <= 0 && low[c] == 0 ? 0
               : std::isinf(high[c])    ? 2 * std::max(f, 1e-3 * scale)
                                        : (low[c] + high[c]) / 2;
      }
      rest.forces[c] = next;
    }
    if (all) {
      return;
    }
  }
  const auto stuck = std::find(done.begin(), done.end(), 0);
  const auto c = static_cast<std::size_t>(stuck - done.begin());
  give_up(c, rest.forces[c]);
}

bool Equilibrium::update_contact(const Rest& rest, const Eigen::VectorXd& x, bool may_close, bool one) {
  bool changed = false;
  for_each_face([&](std::size_t c, std::size_t s, std::size_t i) {
    if (one && changed) {
      return;
    }
    if (!pinned_[i] && rest.forces[i] < (one ? -kConverged * scale_ : 0)) {
      pinned_[i] = 1;
      changed = true;
    } else if (pinned_[i] && may_close && network_.gap(x, balance_.closing, c, s) < -overlap_of(c)) {
      pinned_[i] = 0;
      changed = true;
    }
  });
  return changed;
}

bool Equilibrium::contact_holds(const Rest& rest, const Eigen::VectorXd& x, double overlap, double pull) const {
  bool holds = true;
  for_each_face([&](std::size_t c, std::size_t s, std::size_t i) {
    holds = holds && (pinned_[i] ? network_.gap(x, balance_.closing, c, s) >= -std::max(overlap, overlap_of(c))
                                 : rest.forces[i] >= -pull);
  });
  return holds;
}

bool Equilibrium::faces_rest(std::span<const double> ring, double scale) const {
  for (std::size_t c = 0; c < network_.columns(); ++c) {
    for (std::size_t k = 0; k < network_.faces(); ++k) {
      // A stiff ring knows its own forces no better than it knows where its faces are.
      const double known = kRoundOff * ring[k] * std::abs(unknowns_[at(network_.face_at(c, k))]);
      if (!(std::abs(network_.face_force(unknowns_, ring, c, k)) <= std::max(kConverged * scale, known))) {
        return false;
      }
    }
  }
  return true;
}

double Equilibrium::overlap_of(std::size_t column) const {
  const auto slopes = balance_.slopes.begin() + static_cast<std::ptrdiff_t>(column * network_.segments());
  return std::max(kOverlap,
                  kConverged * scale_ *
                      std::accumulate(slopes, slopes + static_cast<std::ptrdiff_t>(network_.segments()), 0.0));
}

void Equilibrium::evaluate(std::span<const double> forces, const Shorten& shorten) {
  ++counts_.iterations;
  shorten(forces, balance_);
  if (give_ > 0) {
    for_each_face([&](std::size_t, std::size_t, std::size_t i) {
      if (forces[i] < 0) {
        balance_.closing[i] += give_ * forces[i];
        balance_.slopes[i] += give_;
      }
    });
  }
}

double Equilibrium::share_of_step(const Rest& rest, const Shorten& shorten) {
  // With the faces eliminated, which are linear, rest is the least of a convex function of the forces: its gradient is
  // the gap that each segment leaves. Along a Newton step the gaps' work rises from below 0; where it has come far
  // above 0 the least lies before the step's end.
  const std::size_t segments = network_.segments();
  const auto work = [&](double share) {
    tried_ = unknowns_ - share * step_;
    tried_forces_.resize(rest.forces.size());
    for (std::size_t i = 0; i < tried_forces_.size(); ++i) {
      tried_forces_[i] = tried_[at(network_.force_at(i / segments, i % segments))];
    }
    evaluate(tried_forces_, shorten);
    double sum = 0;
    for (std::size_t i = 0; i < tried_forces_.size(); ++i) {
      if (!pinned_[i]) {
        sum -= network_.gap(tried_, balance_.closing, i / segments, i % segments) *
               step_[at(network_.force_at(i / segments, i % segments))];
      }
    }
    return sum;
  };
  constexpr int kTries = 20;
  constexpr double kNear = 0.1; // of the work at the start
  double low = 0;
  double high = 1;
  double at_low = work(0);
  double at_high = work(1);
  const double enough = kNear * std::abs(at_low);
  if (at_low >= 0 || at_high <= enough) {
    return 1;
  }
  double share = 1;
  for (int i = 0; i < kTries; ++i) {
    share = (low * at_high - high * at_low) / (at_high - at_low);
    const double there = work(share);
    if (std::abs(there) <= enough) {
      break;
    }
    // The Illinois rule: an end that stays counts for half, so that neither stays for ever.
    if (there < 0) {
      at_high /= low > 0 ? 2 : 1;
      low = share;
      at_low = there;
    } else {
      at_low /= high < 1 ? 2 : 1;
      high = share;
      at_high = there;
    }
  }
  return share;
}

void Equilibrium::factor(std::span<const double> ring) {
  ++counts_.factors;
  factor_.factor(balance_.slopes, pinned_, ring);
  factored_ = true;
  factored_pins_ = pinned_;
}

void Equilibrium::solve_network(Rest& rest, const Shorten& shorten, std::span<const double> ring, double scale) {
  const std::size_t segments = network_.segments();
  const std::size_t columns = network_.columns();
  Eigen::VectorXd& x = unknowns_;
  x.resize(at(network_.unknowns()));
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      const std::size_t i = c * segments + s;
      double& f = rest.forces[i];
      f = held_[i] ? held_force_[i] : f;
      x[at(network_.force_at(c, s))] = f;
      // A face that carried nothing starts open; the check of its gap closes it again.
      pinned_[i] = held_[i] || (!bilateral_[s] && f <= 0) ? 1 : 0;
    }
    for (std::size_t k = 0; k < network_.faces(); ++k) {
      x[at(network_.face_at(c, k))] = rest.faces[c * network_.faces() + k];
    }
  }
  Eigen::VectorXd& r = residual_;
  int since_factor = 0;
  int changes = 0;
  give_ = 0;
  bool softened = false;
  double step_before = std::numeric_limits<double>::infinity();
  bool anew = false; // whether what was not found is looked for with one face at a time
  int last = kIterations;
  for (int iteration = 0;; ++iteration) {
    if (iteration >= last) {
      if (anew) {
        break;
      }
      anew = true;
      give_ = 0;
      last += kIterations;
    }
    evaluate(rest.forces, shorten);
    network_.residual(x, balance_.closing, ring, r);
    // A closed face must not pull, an open one must not overlap. Where faces change sides again and again they are made
    // soft instead: that is one convex problem, and who pulls in it is open. Should they go on one changes at a time,
    // the first of those that have to (Murty's rule, which goes round in no circle); in the end they may only open, and
    // what is not found that way is looked for once more one at a time.
    const bool may_close = anew || changes < kContactChanges;
    const bool changed = give_ == 0 && update_contact(rest, x, may_close, may_close && changes >= kOneByOne);
    changes += changed ? 1 : 0;
    if (changes >= kSoftAfter && !softened) {
      softened = true;
      give_ = kSoftFirst;
      pinned_ = held_;
      continue;
    }
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const std::size_t i = c * segments + s;
        if (pinned_[i]) {
          r[at(network_.force_at(c, s))] = rest.forces[i] - (held_[i] ? held_force_[i] : 0);
        }
      }
    }
    if (!factored_ || factored_pins_ != pinned_ || since_factor >= kKeepFactor) {
      factor(ring);
      since_factor = 0;
    }
    ++since_factor;
    factor_.solve(r, step_);
    // A face that changed sides takes a whole step to its new place.
    x -= ((iteration < kPlain && give_ == 0) || changed ? 1 : share_of_step(rest, shorten)) * step_;
    double largest = 0;
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        rest.forces[c * segments + s] = x[at(network_.force_at(c, s))];
        largest = std::max(largest, std::abs(step_[at(network_.force_at(c, s))]));
      }
      // Between parts that bear nearly nothing a gap may be left though no force moves any more: it has to close too.
      const auto slopes = balance_.slopes.begin() + static_cast<std::ptrdiff_t>(c * segments);
      const double soft = std::accumulate(slopes, slopes + static_cast<std::ptrdiff_t>(segments), 0.0);
      for (std::size_t s = 0; s < segments; ++s) {
        if (!pinned_[c * segments + s]) {
          largest = std::max(largest, kGapsCount * std::abs(r[at(network_.force_at(c, s))]) / soft);
        }
      }
    }
    if (!std::isfinite(largest)) {
      throw NumericalError(Code::NonFinite, "a clamp is not a finite number");
    }
    // Where a kept slope is wrong (washers that begin to slide) the steps go to and fro instead of shrinking.
    if (largest > step_before / 2 || iteration >= kPlain || give_ > 0) {
      since_factor = kKeepFactor;
    }
    if (give_ > 0) {
      if (largest <= kSoftConverged * scale && (give_ *= kSofter) > kSoftLast) {
        give_ = 0;
        for_each_face([&](std::size_t c, std::size_t s, std::size_t i) {
          if (rest.forces[i] <= 0) {
            rest.forces[i] = x[at(network_.force_at(c, s))] = 0;
            pinned_[i] = 1;
          }
        });
      }
      continue;
    }
    // With a kept factorisation each step is a share of the one before: the next, not taken, is what is still missing.
    // A kink on the last step, seen only from beyond it, would belie that.
    const double missing = iteration > 0 && !kinks_ ? largest * std::min(1.0, 10 * largest / step_before) : largest;
    step_before = largest;
    const double overlap = anew || changes < kContactChanges ? kOverlap : kOverlapAtLast;
    if (missing <= kConverged * scale && faces_rest(ring, scale) &&
        contact_holds(rest, x, overlap, kConverged * scale)) {
      for_each_face([&](std::size_t, std::size_t, std::size_t i) { rest.forces[i] = std::max(rest.forces[i], 0.0); });
      for (std::size_t c = 0; c < columns; ++c) {
        for (std::size_t k = 0; k < network_.faces(); ++k) {
          rest.faces[c * network_.faces() + k] = x[at(network_.face_at(c, k))];
        }
      }
      return;
    }
  }
  std::size_t worst = 0;
  double most = 0;
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      const double miss = std::abs(r[at(network_.force_at(c, s))]);
      if (miss > most) {
        most = miss;
        worst = c;
      }
    }
  }
  give_up(worst, rest.forces[worst * segments + segments - 1]);
}

Eigen::MatrixXd Equilibrium::influence(std::span<const double> slopes, std::span<const double> ring, const Rest& rest,
                                       std::span<const Held> held) {
  const std::size_t segments = network_.segments();
  const std::size_t columns = network_.columns();
  pin(held);
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      const std::size_t i = c * segments + s;
      pinned_[i] = held_[i] || (!bilateral_[s] && rest.forces[i] <= 0) ? 1 : 0;
    }
  }
  ++counts_.factors;
  influence_.factor(slopes, pinned_, ring);
  Eigen::MatrixXd answer = Eigen::MatrixXd::Zero(at(columns), at(columns * segments));
  Eigen::VectorXd closed;
  for (std::size_t j = 0; j < columns; ++j) {
    for (std::size_t s = 0; s < segments; ++s) {
      if (pinned_[j * segments + s]) {
        continue;
      }
      residual_.setZero(at(network_.unknowns()));
      residual_[at(network_.force_at(j, s))] = 1;
      influence_.solve(residual_, closed);
      for (std::size_t c = 0; c < columns; ++c) {
        answer(at(c), at(j * segments + s)) = -closed[at(network_.force_at(c, segments - 1))];
      }
    }
  }
  return answer;
}

} // namespace clampfade

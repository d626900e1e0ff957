#include "solver/equilibrium.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace clampfade {

namespace {
constexpr int kIterations = 200;
constexpr int kKeepFactor = 6; ///< iterations a kept factorisation may take before a new one pays
constexpr double kConverged = 1e-11;

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }

[[noreturn]] void give_up(std::size_t column, double force) {
  throw NumericalError(Code::NoEquilibrium,
                       fmt::format("no equilibrium of stud {}: last trial clamp {:.6g} N after {} iterations",
                                   column + 1, force, kIterations));
}
} // namespace

Equilibrium::Equilibrium(std::size_t columns, std::size_t segments, std::vector<char> bilateral)
    : network_(columns, segments), bilateral_(std::move(bilateral)) {}

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

void Equilibrium::solve_network(Rest& rest, const Shorten& shorten, std::span<const double> ring, double scale) {
  const std::size_t segments = network_.segments();
  const std::size_t columns = network_.columns();
  Eigen::VectorXd x(at(network_.unknowns()));
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      double& f = rest.forces[c * segments + s];
      if (held_[c * segments + s]) {
        f = held_force_[c * segments + s];
      }
      x[at(network_.force_at(c, s))] = f;
      // A face that carried nothing starts open; the check of its gap closes it again.
      pinned_[c * segments + s] = held_[c * segments + s] || (!bilateral_[s] && f <= 0) ? 1 : 0;
    }
    for (std::size_t k = 0; k < network_.faces(); ++k) {
      x[at(network_.face_at(c, k))] = rest.faces[c * network_.faces() + k];
    }
  }
  Eigen::VectorXd r;
  int since_factor = 0;
  double step_before = std::numeric_limits<double>::infinity();
  int changes = 0;
  for (int iteration = 0; iteration < kIterations; ++iteration) {
    shorten(rest.forces, balance_);
    network_.residual(x, balance_.closing, ring, r);
    // Contact: a closed face must not pull, an open one must not overlap.
    bool changed = false;
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const std::size_t i = c * segments + s;
        if (held_[i] || bilateral_[s]) {
          continue;
        }
        if (!pinned_[i] && rest.forces[i] < 0) {
          pinned_[i] = 1;
          changed = true;
        } else if (pinned_[i] && changes < 60 && network_.gap(x, balance_.closing, c, s) < -1e-15) {
          pinned_[i] = 0;
          changed = true;
        }
      }
    }
    changes += changed ? 1 : 0;
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const std::size_t i = c * segments + s;
        if (pinned_[i]) {
          r[at(network_.force_at(c, s))] = rest.forces[i] - (held_[i] ? held_force_[i] : 0);
        }
      }
    }
    if (!factored_ || factored_pins_ != pinned_ || since_factor >= kKeepFactor) {
      network_.tangent(balance_.slopes, pinned_, ring, matrix_);
      if (!analysed_) {
        lu_.analyzePattern(matrix_);
        analysed_ = true;
      }
      lu_.factorize(matrix_);
      if (lu_.info() != Eigen::Success) {
        throw NumericalError(Code::NoEquilibrium, "the network of the wheel is singular: no stud holds it");
      }
      factored_ = true;
      factored_pins_ = pinned_;
      since_factor = 0;
    }
    ++since_factor;
    const Eigen::VectorXd step = lu_.solve(r);
    x -= step;
    double largest = 0;
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const std::size_t i = c * segments + s;
        rest.forces[i] = x[at(network_.force_at(c, s))];
        largest = std::max(largest, std::abs(step[at(network_.force_at(c, s))]));
      }
    }
    if (!std::isfinite(largest)) {
      throw NumericalError(Code::NonFinite, "a clamp is not a finite number");
    }
    // Where a kept slope is wrong (washers that begin to slide) the steps go to and fro instead of shrinking.
    if (largest > step_before / 2) {
      since_factor = kKeepFactor;
    }
    step_before = largest;
    if (largest <= kConverged * scale) {
      // Converged for this set of open faces; done if the set holds.
      bool holds = true;
      for (std::size_t c = 0; c < columns && holds; ++c) {
        for (std::size_t s = 0; s < segments && holds; ++s) {
          const std::size_t i = c * segments + s;
          if (!held_[i] && !bilateral_[s]) {
            holds = pinned_[i] ? network_.gap(x, balance_.closing, c, s) >= -1e-15 || changes >= 60
                               : rest.forces[i] >= -kConverged * scale;
          }
        }
      }
      if (holds) {
        for (std::size_t c = 0; c < columns; ++c) {
          for (std::size_t s = 0; s < segments; ++s) {
            const std::size_t i = c * segments + s;
            if (!bilateral_[s]) {
              rest.forces[i] = std::max(rest.forces[i], 0.0);
            }
          }
          for (std::size_t k = 0; k < network_.faces(); ++k) {
            rest.faces[c * network_.faces() + k] = x[at(network_.face_at(c, k))];
          }
        }
        return;
      }
    }
  }
  std::size_t worst = 0;
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      if (std::abs(r[at(network_.force_at(c, s))]) > std::abs(r[at(network_.force_at(worst, segments - 1))])) {
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
  // Rows of the inverse by solving with the transpose: one solve a stud instead of one a segment.
  network_.tangent(slopes, pinned_, ring, matrix_);
  const Eigen::SparseMatrix<double> transposed = matrix_.transpose();
  Eigen::SparseLU<Eigen::SparseMatrix<double>> lu;
  lu.compute(transposed);
  if (lu.info() != Eigen::Success) {
    throw NumericalError(Code::NoEquilibrium, "the network of the wheel is singular: no stud holds it");
  }
  Eigen::MatrixXd answer = Eigen::MatrixXd::Zero(at(columns), at(columns * segments));
  for (std::size_t c = 0; c < columns; ++c) {
    Eigen::VectorXd pick = Eigen::VectorXd::Zero(at(network_.unknowns()));
    pick[at(network_.force_at(c, segments - 1))] = 1;
    const Eigen::VectorXd row = lu.solve(pick);
    for (std::size_t j = 0; j < columns; ++j) {
      for (std::size_t s = 0; s < segments; ++s) {
        if (!pinned_[j * segments + s]) {
          answer(at(c), at(j * segments + s)) = -row[at(network_.force_at(j, s))];
        }
      }
    }
  }
  return answer;
}

} // namespace clampfade

#include "solver/network_factor.hpp"

#include "solver/diagnostics.hpp"

#include <utility>

namespace clampfade {

namespace {
// Forces are solved for in giganewtons, so that they are of the size of the displacements they make: what pivots are
// chosen by must not be a matter of units.
constexpr double kForce = 1e9; // N

Eigen::Index at(std::size_t i) { return static_cast<Eigen::Index>(i); }
} // namespace

NetworkFactor::NetworkFactor(const Network& network)
    : network_(network), size_(at(network.segments() + network.faces())), column_(size_, size_),
      inverse_(size_, size_ * at(network.columns())), column_lu_(size_) {}

void NetworkFactor::factor(std::span<const double> slopes, std::span<const char> pinned, std::span<const double> ring) {
  const std::size_t columns = network_.columns();
  const auto segments = at(network_.segments());
  const auto faces = at(network_.faces());
  tied_.clear();
  ring_.clear();
  for (std::size_t k = 0; k < network_.faces() && columns > 1; ++k) {
    if (ring[k] > 0) {
      tied_.push_back(segments + at(k));
      ring_.push_back(ring[k]);
    }
  }
  for (std::size_t c = 0; c < columns; ++c) {
    const std::span<const char> held = pinned.subspan(c * network_.segments(), network_.segments());
    column_.setZero();
    for (Eigen::Index s = 0; s < segments; ++s) {
      if (held[static_cast<std::size_t>(s)]) {
        column_(s, s) = 1;
        continue;
      }
      column_(s, s) = slopes[c * network_.segments() + static_cast<std::size_t>(s)] * kForce;
      if (s < faces) {
        column_(s, segments + s) = -1;
      }
      if (s > 0) {
        column_(s, segments + s - 1) = 1;
      }
    }
    for (Eigen::Index k = 0; k < faces; ++k) {
      column_(segments + k, k + 1) = 1;
      column_(segments + k, k) = -1;
      const double tie = columns > 1 ? 2 * ring[static_cast<std::size_t>(k)] : 0;
      column_(segments + k, segments + k) = -(Network::kGround + tie) / kForce;
    }
    column_lu_.compute(column_);
    auto inverse = inverse_.middleCols(at(c) * size_, size_);
    inverse = column_lu_.inverse();
    // Back to newtons.
    inverse.topRows(segments) *= kForce;
    inverse.rightCols(faces) /= kForce;
    for (Eigen::Index s = 0; s < segments; ++s) {
      if (held[static_cast<std::size_t>(s)]) {
        inverse.col(s) /= kForce;
      }
    }
  }
  const auto m = at(tied_.size());
  if (m > 0) {
    // What is left once each column knows the faces beside it: u + inverse ring (u_next + u_before) = inverse r.
    ties_.setIdentity(m * at(columns), m * at(columns));
    for (std::size_t c = 0; c < columns; ++c) {
      const auto inverse = inverse_.middleCols(at(c) * size_, size_);
      for (const std::size_t beside : {(c + 1) % columns, (c + columns - 1) % columns}) {
        for (Eigen::Index j = 0; j < m; ++j) {
          for (Eigen::Index i = 0; i < m; ++i) {
            const auto [to, from] = std::pair(tied_[static_cast<std::size_t>(i)], tied_[static_cast<std::size_t>(j)]);
            ties_(at(c) * m + i, at(beside) * m + j) += inverse(to, from) * ring_[static_cast<std::size_t>(j)];
          }
        }
      }
    }
    ties_lu_.compute(ties_);
  }
  if (!inverse_.allFinite() || (m > 0 && !ties_lu_.matrixLU().allFinite())) {
    throw NumericalError(Code::NoEquilibrium, "the network of the wheel is singular: no stud holds it");
  }
}

void NetworkFactor::solve(const Eigen::VectorXd& r, Eigen::VectorXd& x) {
  const std::size_t columns = network_.columns();
  x.resize(r.size());
  for (std::size_t c = 0; c < columns; ++c) {
    x.segment(at(c) * size_, size_).noalias() =
        inverse_.middleCols(at(c) * size_, size_).lazyProduct(r.segment(at(c) * size_, size_));
  }
  const std::size_t m = tied_.size();
  if (m == 0) {
    return;
  }
  faces_.resize(at(m * columns));
  for (std::size_t c = 0; c < columns; ++c) {
    for (std::size_t i = 0; i < m; ++i) {
      faces_[at(c * m + i)] = x[at(c) * size_ + tied_[i]];
    }
  }
  moved_ = ties_lu_.solve(faces_);
  for (std::size_t c = 0; c < columns; ++c) {
    const std::size_t next = (c + 1) % columns;
    const std::size_t before = (c + columns - 1) % columns;
    for (std::size_t i = 0; i < m; ++i) {
      const double pull = ring_[i] * (moved_[at(next * m + i)] + moved_[at(before * m + i)]);
      x.segment(at(c) * size_, size_) -= pull * inverse_.col(at(c) * size_ + tied_[i]);
    }
  }
}

} // namespace clampfade

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
  factor_ties();
  if (!inverse_.allFinite() || (!tied_.empty() && !inverse_tie_.back().allFinite())) {
    throw NumericalError(Code::NoEquilibrium, "the network of the wheel is singular: no stud holds it");
  }
}

void NetworkFactor::factor_ties() {
  // What is left once each column knows the faces beside it: u + T (u_next + u_before) = inverse r, T = inverse ring.
  // The ring holds each face twice as hard as it ties it to one beside, so no pivots are needed between blocks.
  if (tied_.empty()) {
    return;
  }
  const std::size_t n = network_.columns();
  const auto m = at(tied_.size());
  for (Blocks* blocks : {&tie_, &inverse_tie_, &lower_, &last_, &border_}) {
    blocks->resize(n);
    for (Eigen::MatrixXd& block : *blocks) {
      block.setZero(m, m);
    }
  }
  for (std::size_t c = 0; c < n; ++c) {
    const auto inverse = inverse_.middleCols(at(c) * size_, size_);
    for (Eigen::Index j = 0; j < m; ++j) {
      for (Eigen::Index i = 0; i < m; ++i) {
        const auto [to, from] = std::pair(tied_[static_cast<std::size_t>(i)], tied_[static_cast<std::size_t>(j)]);
        tie_[c](i, j) = inverse(to, from) * ring_[static_cast<std::size_t>(j)];
      }
    }
  }
  const std::size_t end = n - 1; // the block that borders the others
  border_[0] += tie_[0];
  border_[end - 1] += tie_[end - 1];
  last_[0] += tie_[end];
  last_[end - 1] += tie_[end];
  rest_.setIdentity(m, m);
  for (std::size_t c = 0; c < end; ++c) {
    block_.setIdentity(m, m);
    if (c > 0) {
      lower_[c].noalias() = tie_[c].lazyProduct(inverse_tie_[c - 1]);
      block_ -= lower_[c].lazyProduct(tie_[c - 1]);
      border_[c] -= lower_[c].lazyProduct(border_[c - 1]);
    }
    block_lu_.compute(block_);
    inverse_tie_[c] = block_lu_.inverse();
    block_.noalias() = last_[c].lazyProduct(inverse_tie_[c]);
    last_[c] = block_;
    rest_ -= last_[c].lazyProduct(border_[c]);
    if (c + 1 < end) {
      last_[c + 1] -= last_[c].lazyProduct(tie_[c]);
    }
  }
  block_lu_.compute(rest_);
  inverse_tie_[end] = block_lu_.inverse();
}

void NetworkFactor::solve_ties(Eigen::VectorXd& faces) {
  const std::size_t end = network_.columns() - 1;
  const auto m = at(tied_.size());
  const auto part = [&](std::size_t c) { return faces.segment(at(c) * m, m); };
  for (std::size_t c = 0; c < end; ++c) {
    if (c > 0) {
      part(c) -= lower_[c].lazyProduct(part(c - 1));
    }
    part(end) -= last_[c].lazyProduct(part(c));
  }
  const auto invert = [&](std::size_t c) {
    moved_.noalias() = inverse_tie_[c].lazyProduct(part(c));
    part(c) = moved_;
  };
  invert(end);
  for (std::size_t c = end; c-- > 0;) {
    part(c) -= border_[c].lazyProduct(part(end));
    if (c + 1 < end) {
      part(c) -= tie_[c].lazyProduct(part(c + 1));
    }
    invert(c);
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
  solve_ties(faces_);
  for (std::size_t c = 0; c < columns; ++c) {
    const std::size_t next = (c + 1) % columns;
    const std::size_t before = (c + columns - 1) % columns;
    for (std::size_t i = 0; i < m; ++i) {
      const double pull = ring_[i] * (faces_[at(next * m + i)] + faces_[at(before * m + i)]);
      x.segment(at(c) * size_, size_) -= pull * inverse_.col(at(c) * size_ + tied_[i]);
    }
  }
}

} // namespace clampfade

// The sparse network of a wheel: columns of segments in series, and discs that tie like faces of neighbours together.
// Mixed form: one force a segment, one displacement a face, so that a rigid segment needs no huge stiffness.
// EQUATIONS.md 5.
#pragma once

#include <Eigen/SparseCore>

#include <cstddef>
#include <span>
#include <vector>

namespace clampfade {

/// What the network does at trial forces: residuals of closure and of the faces' equilibrium.
///
/// Column c, segment s, face k (between segments k and k + 1), displacement u towards the head:
///   closure      D_cs(F_cs) - (u_cs - u_c,s-1) = 0, u = 0 at both ends of a column;
///   equilibrium  F_c,k+1 - F_ck - sum over neighbours of (k/2)(u_ck - u_neighbour,k) = 0.
class Network {
public:
  /// Nothing holds a face while its neighbours in the column are open; this stiffness to ground keeps the matrix
  /// regular, also where the ring has none, and its force is far below the round-off of any clamp [N/m].
  static constexpr double kGround = 1e-4;

  /// columns >= 1, segments >= 1. A single segment has no faces, so its columns know nothing of each other.
  Network(std::size_t columns, std::size_t segments);

  [[nodiscard]] std::size_t columns() const { return columns_; }
  [[nodiscard]] std::size_t segments() const { return segments_; }
  [[nodiscard]] std::size_t faces() const { return segments_ - 1; }
  [[nodiscard]] std::size_t unknowns() const { return columns_ * (segments_ + faces()); }
  /// Position of a segment's force and of a face's displacement in the vector of unknowns.
  [[nodiscard]] std::size_t force_at(std::size_t c, std::size_t s) const { return c * (segments_ + faces()) + s; }
  [[nodiscard]] std::size_t face_at(std::size_t c, std::size_t k) const {
    return c * (segments_ + faces()) + segments_ + k;
  }

  /// Residual at x for the shortenings `closing` (column-major by segment) and half ring stiffnesses `ring` (one a
  /// face).
  void residual(const Eigen::VectorXd& x, std::span<const double> closing, std::span<const double> ring,
                Eigen::VectorXd& out) const;
  /// What is left of the forces on face k of a column: zero where it is at rest [N].
  [[nodiscard]] double face_force(const Eigen::VectorXd& x, std::span<const double> ring, std::size_t c,
                                  std::size_t k) const;
  /// How far apart a segment's ends stand beyond its own shortening [m]: positive where an open face gapes.
  [[nodiscard]] double gap(const Eigen::VectorXd& x, std::span<const double> closing, std::size_t c,
                           std::size_t s) const;
  /// d residual/d x for slopes dD/dF; a segment with `pinned` set keeps its force (its row becomes dF). The pattern is
  /// the same at every call.
  void tangent(std::span<const double> slopes, std::span<const char> pinned, std::span<const double> ring,
               Eigen::SparseMatrix<double>& out) const;

private:
  std::size_t columns_, segments_;
};

} // namespace clampfade

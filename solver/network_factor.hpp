// The tangent of a wheel's network, factored by its structure: each column is a small matrix of its own, and discs tie
// no more than the faces of neighbours together. Allocates nothing after the first time.
#pragma once

#include "models/network.hpp"

#include <Eigen/Dense>

#include <cstddef>
#include <span>
#include <vector>

namespace clampfade {

class NetworkFactor {
public:
  explicit NetworkFactor(const Network& network);

  /// Factors the matrix that Network::tangent gives for the same slopes [m/N], pinned segments and half ring
  /// stiffnesses [N/m]. Throws NumericalError if it is singular.
  void factor(std::span<const double> slopes, std::span<const char> pinned, std::span<const double> ring);
  /// x with tangent x = r, both as Network orders them.
  void solve(const Eigen::VectorXd& r, Eigen::VectorXd& x);

private:
  /// Square matrices, one a column of the wheel, of the size of its tied faces.
  using Blocks = std::vector<Eigen::MatrixXd>;
  void factor_ties();
  void solve_ties(Eigen::VectorXd& faces);

  const Network network_;
  Eigen::Index size_;                ///< unknowns of a column
  std::vector<Eigen::Index> tied_;   ///< places in a column of the faces that a ring ties
  std::vector<double> ring_;         ///< their half stiffnesses [N/m]
  Eigen::MatrixXd column_, inverse_; ///< of a column by itself; of all of them, side by side
  Eigen::PartialPivLU<Eigen::MatrixXd> column_lu_, block_lu_;
  // The ring as a chain of blocks whose last one borders all others: what ties each to its neighbours, its inverse once
  // those before are gone, the factors by which they went, and the border.
  Blocks tie_, inverse_tie_, lower_, last_, border_;
  Eigen::MatrixXd block_, rest_;
  Eigen::VectorXd faces_, moved_;
};

} // namespace clampfade

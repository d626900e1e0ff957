#include "models/network.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <Eigen/Dense>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

/// A state without any symmetry.
Eigen::VectorXd uneven(std::size_t n) {
  Eigen::VectorXd x(static_cast<Eigen::Index>(n));
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    x[i] = std::sin(1.0 + 1.7 * static_cast<double>(i));
  }
  return x;
}

} // namespace

TEST_CASE("network: the tangent is the derivative of the residual, for rings of any size") {
  for (const std::size_t columns : {std::size_t{1}, std::size_t{2}, std::size_t{3}, std::size_t{10}}) {
    CAPTURE(columns);
    const std::size_t segments = 5;
    const Network net(columns, segments);
    CHECK(net.unknowns() == columns * 9);
    const std::vector<double> slopes(columns * segments, 0.3);
    const std::vector<double> ring{2, 3, 5, 7};
    const std::vector<char> free(columns * segments, 0);
    Eigen::SparseMatrix<double> tangent;
    net.tangent(slopes, free, ring, tangent);
    const auto residual = [&](const Eigen::VectorXd& x) {
      std::vector<double> closing(columns * segments);
      for (std::size_t c = 0; c < columns; ++c) {
        for (std::size_t s = 0; s < segments; ++s) {
          closing[c * segments + s] = 0.3 * x[static_cast<Eigen::Index>(net.force_at(c, s))];
        }
      }
      Eigen::VectorXd r;
      net.residual(x, closing, ring, r);
      return r;
    };
    // Linear: a difference over a whole unit is exact.
    const Eigen::VectorXd x = uneven(net.unknowns());
    const Eigen::MatrixXd dense(tangent);
    for (Eigen::Index j = 0; j < x.size(); ++j) {
      const Eigen::VectorXd column = residual(x + Eigen::VectorXd::Unit(x.size(), j)) - residual(x);
      CHECK((column - dense.col(j)).lpNorm<Eigen::Infinity>() < 1e-12);
    }
  }
}

TEST_CASE("network: a ring that moves as one carries nothing across") {
  const Network net(4, 3);
  Eigen::VectorXd x = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(net.unknowns()));
  for (std::size_t c = 0; c < 4; ++c) {
    for (std::size_t k = 0; k < 2; ++k) {
      x[static_cast<Eigen::Index>(net.face_at(c, k))] = 1e-3;
    }
    for (std::size_t s = 0; s < 3; ++s) {
      x[static_cast<Eigen::Index>(net.force_at(c, s))] = 1e5;
    }
  }
  Eigen::VectorXd r;
  net.residual(x, std::vector<double>(12, 0.0), std::vector<double>(2, 1e8), r);
  for (std::size_t c = 0; c < 4; ++c) {
    for (std::size_t k = 0; k < 2; ++k) {
      CHECK(r[static_cast<Eigen::Index>(net.face_at(c, k))] == close(0, 1e-6, 0));
    }
  }
  // Face 0 moves 1 mm towards the nut: the first segment is stretched by that, the middle one not, the last one
  // pressed.
  CHECK(net.gap(x, std::vector<double>(12, 0.0), 0, 0) == close(-1e-3, 0, 1e-12));
  CHECK(net.gap(x, std::vector<double>(12, 0.0), 0, 1) == close(0, 1e-18, 0));
  CHECK(net.gap(x, std::vector<double>(12, 0.0), 0, 2) == close(1e-3, 0, 1e-12));
}

TEST_CASE("network: what one column gives its neighbours receive") {
  const Network net(5, 3);
  Eigen::VectorXd x = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(net.unknowns()));
  x[static_cast<Eigen::Index>(net.face_at(2, 0))] = 1e-3;
  Eigen::VectorXd r;
  net.residual(x, std::vector<double>(15, 0.0), std::vector<double>(2, 1e8), r);
  const auto force = [&](std::size_t c) { return r[static_cast<Eigen::Index>(net.face_at(c, 0))]; };
  CHECK(force(2) == close(-2e5, 0, 1e-9));
  CHECK(force(1) == close(1e5, 0, 1e-9));
  CHECK(force(3) == close(1e5, 0, 1e-9));
  CHECK(force(0) == 0);
  CHECK(force(4) == 0);
}

TEST_CASE("network: a pinned segment keeps its force") {
  const Network net(3, 1);
  Eigen::SparseMatrix<double> tangent;
  net.tangent(std::vector<double>(3, 0.3), std::vector<char>{0, 1, 0}, {}, tangent);
  const Eigen::MatrixXd dense(tangent);
  CHECK(dense(0, 0) == 0.3);
  CHECK(dense(1, 1) == 1);
  CHECK(net.faces() == 0);
}

// Reference: Eigen's SparseLU on the tangent of the network.
#include "solver/diagnostics.hpp"
#include "solver/network_factor.hpp"

#include <doctest/doctest.h>

#include <Eigen/SparseLU>

#include <algorithm>

#include <cmath>
#include <vector>

using namespace clampfade;

TEST_CASE(
    "network factor: it solves what a general sparse solver solves, rigid and open segments and loose discs too") {
  for (const std::size_t columns : {std::size_t{1}, std::size_t{2}, std::size_t{3}, std::size_t{10}}) {
    for (const std::size_t segments : {std::size_t{1}, std::size_t{3}, std::size_t{5}}) {
      CAPTURE(columns);
      CAPTURE(segments);
      const Network net(columns, segments);
      std::vector<double> slopes, ring;
      std::vector<char> pinned;
      for (std::size_t i = 0; i < columns * segments; ++i) {
        // A millionfold apart, and some segments that give nothing.
        slopes.push_back(segments > 1 && i % 5 == 2 ? 0
                                                    : std::pow(10, -7 - std::fmod(1.7 * static_cast<double>(i), 6)));
        pinned.push_back(i % 7 == 3 ? 1 : 0);
      }
      for (std::size_t k = 0; k < net.faces(); ++k) {
        ring.push_back(k == 2 ? 0 : std::pow(10, 7 + static_cast<double>(k)));
      }
      Eigen::VectorXd r(static_cast<Eigen::Index>(net.unknowns()));
      for (std::size_t c = 0; c < columns; ++c) {
        for (std::size_t s = 0; s < segments; ++s) {
          const auto row = static_cast<Eigen::Index>(net.force_at(c, s));
          r[row] = std::sin(static_cast<double>(row)) * (pinned[c * segments + s] ? 1e4 : 1e-6);
        }
        for (std::size_t k = 0; k < net.faces(); ++k) {
          const auto row = static_cast<Eigen::Index>(net.face_at(c, k));
          r[row] = 1e3 * std::cos(static_cast<double>(row));
        }
      }
      Eigen::SparseMatrix<double> tangent;
      net.tangent(slopes, pinned, ring, tangent);
      Eigen::SparseLU<Eigen::SparseMatrix<double>> lu(tangent);
      REQUIRE(lu.info() == Eigen::Success);
      const Eigen::VectorXd expected = lu.solve(r);
      NetworkFactor factor(net);
      factor.factor(slopes, pinned, ring);
      Eigen::VectorXd x;
      factor.solve(r, x);
      double force = 0, face = 0, force_off = 0, face_off = 0;
      for (Eigen::Index i = 0; i < x.size(); ++i) {
        const bool is_force = static_cast<std::size_t>(i) % (2 * segments - 1) < segments;
        (is_force ? force : face) = std::max(is_force ? force : face, std::abs(expected[i]));
        (is_force ? force_off : face_off) = std::max(is_force ? force_off : face_off, std::abs(x[i] - expected[i]));
      }
      CHECK(force_off <= 1e-9 * force);
      CHECK(face_off <= 1e-9 * face);
    }
  }
}

TEST_CASE("network factor: a column that nothing holds is refused") {
  const Network net(1, 1);
  NetworkFactor factor(net);
  CHECK_THROWS_AS(factor.factor(std::vector<double>{0}, std::vector<char>{0}, {}), NumericalError);
}

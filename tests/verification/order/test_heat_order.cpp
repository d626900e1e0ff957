// Checks: the integration of the node temperatures and the values between its steps.
// Problem: two linked lumps cooling from a small difference, spans so short that each is one step.
// Reference: the eigen-solution.
// Tolerance: order above 4.5 (Dormand-Prince, local extrapolation: 5); cubic in between: order above 3.7.
// Fails if: a stage is evaluated at stale conditions, or the interpolation uses the wrong derivative.
#include "solver/temperature.hpp"
#include "tests/support/order.hpp"

#include <Eigen/Dense>
#include <doctest/doctest.h>

using namespace clampfade;

namespace {

const HeatNetwork kNetwork{"demo", {{"a", 20, 8, 0}, {"b", 15, 6, 0}}, {{0, 1, 5}}, {}, 0};

Eigen::Vector2d exact(double t) {
  Eigen::Matrix2d m;
  m << -13.0 / 20, 5.0 / 20, 5.0 / 15, -11.0 / 15;
  const Eigen::EigenSolver<Eigen::Matrix2d> eigen(m);
  const Eigen::Matrix2d v = eigen.eigenvectors().real();
  const Eigen::Vector2d lambda = eigen.eigenvalues().real();
  const Eigen::Vector2d share = v.inverse() * Eigen::Vector2d(1, -0.5);
  return v * (share.array() * (lambda.array() * t).exp()).matrix();
}

} // namespace

TEST_CASE("order: node temperatures err by the fifth power of the step") {
  std::vector<double> errors;
  for (const int steps : {4, 8, 16}) {
    HeatSolver solver(kNetwork);
    std::vector<double> t{301, 299.5};
    for (int i = 0; i < steps; ++i) {
      solver.run({2.0 / steps, 300, 0, 0}, t);
    }
    errors.push_back(std::abs(t[0] - 300 - exact(2)[0]) + std::abs(t[1] - 300 - exact(2)[1]));
  }
  CAPTURE(errors[0]);
  CAPTURE(errors[2]);
  CHECK(errors[2] > 1e-11); // above round-off of 300 K
  for (const double order : test::observed_orders(errors)) {
    CHECK(order > 4.5);
  }
}

TEST_CASE("order: temperatures between steps err by the fourth power of the step") {
  std::vector<double> errors;
  for (const double h : {0.5, 0.25, 0.125}) {
    HeatSolver solver(kNetwork);
    std::vector<double> t{301, 299.5};
    solver.run({h, 300, 0, 0}, t);
    std::vector<double> inside(2);
    double worst = 0;
    for (const double x : {0.2, 0.5, 0.7}) {
      solver.at(x * h, inside);
      worst = std::max(worst, std::abs(inside[0] - 300 - exact(x * h)[0]));
    }
    errors.push_back(worst);
  }
  for (const double order : test::observed_orders(errors)) {
    CHECK(order > 3.7);
  }
  CHECK(errors[0] > 1e-7);
}

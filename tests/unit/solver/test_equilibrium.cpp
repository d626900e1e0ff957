#include "solver/diagnostics.hpp"
#include "solver/equilibrium.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

/// closing = c F - advance, the same compliance in every segment.
Shorten linear(double compliance, std::vector<double> advance) {
  return [compliance, advance](std::span<const double> f, Balance& b) {
    b.closing.resize(f.size());
    b.slopes.assign(f.size(), compliance);
    for (std::size_t i = 0; i < f.size(); ++i) {
      b.closing[i] = compliance * f[i] - advance[i];
    }
  };
}

Rest guess(std::size_t columns, std::size_t segments, double force) {
  return {std::vector<double>(columns * segments, force), std::vector<double>(columns * (segments - 1), 0.0)};
}

} // namespace

TEST_CASE("equilibrium: single columns find their force, from any guess") {
  for (const double start : {0.0, 1.0, 1e5, 1e9}) {
    Equilibrium e(3, 1, {0});
    Rest rest = guess(3, 1, start);
    e.solve(rest, linear(2e-9, {2e-4, -1e-4, 3e-4}), {}, {}, 1e5);
    CHECK(rest.forces[0] == close(1e5, 0, 1e-11));
    CHECK(rest.forces[1] == 0); // open, no pull
    CHECK(rest.forces[2] == close(1.5e5, 0, 1e-11));
  }
}

TEST_CASE("equilibrium: a held force stays") {
  Equilibrium e(2, 1, {0});
  Rest rest = guess(2, 1, 1e4);
  const Held held[] = {{1, 7e4}};
  e.solve(rest, linear(2e-9, {2e-4, 2e-4}), {}, held, 1e5);
  CHECK(rest.forces[0] == close(1e5, 0, 1e-11));
  CHECK(rest.forces[1] == 7e4);
}

TEST_CASE("equilibrium: a column whose stiffness changes a hundredfold at a kink is found from either side") {
  const Shorten kinked = [](std::span<const double> f, Balance& b) {
    b.closing.resize(1);
    b.slopes.resize(1);
    const double past = f[0] - 5e4;
    b.slopes[0] = past > 0 ? 1e-7 : 1e-9;
    b.closing[0] = b.slopes[0] * past - 1e-5;
  };
  for (const double start : {1.0, 4.9e4, 5.1e4, 9e4}) {
    Equilibrium e(1, 1, {0});
    Rest rest = guess(1, 1, start);
    e.solve(rest, kinked, {}, {}, 1e5);
    CHECK(rest.forces[0] == close(5.01e4, 0, 1e-10));
  }
}

TEST_CASE("equilibrium: a ring of such kinks does not go to and fro") {
  const Shorten kinked = [](std::span<const double> f, Balance& b) {
    b.closing.resize(f.size());
    b.slopes.assign(f.size(), 1e-10);
    for (std::size_t i = 0; i < f.size(); ++i) {
      b.closing[i] = 1e-10 * f[i];
      if (i % 3 == 2) {
        const double past = f[i] - 5e4 - 10 * static_cast<double>(i);
        b.slopes[i] += past > 0 ? 3e-9 : 1e-9;
        b.closing[i] += (past > 0 ? 3e-9 : 1e-9) * past - 1.6e-5;
      }
    }
  };
  Equilibrium e(5, 3, {0, 1, 0});
  const std::vector<double> ring(2, 1e8);
  Rest rest = guess(5, 3, 4e4);
  e.solve(rest, kinked, ring, {}, 1e5);
  const std::vector<double> from_below = rest.forces;
  rest = guess(5, 3, 9e4);
  e.solve(rest, kinked, ring, {}, 1e5);
  for (std::size_t i = 0; i < 15; ++i) {
    CHECK(rest.forces[i] == close(from_below[i], 1e-5, 0));
  }
  CHECK(from_below[2] > 5e4);
}

TEST_CASE("equilibrium: neighbours of a slack column carry no tension and share through the ring") {
  const std::size_t n = 4;
  std::vector<double> advance(n * 3, 0.0);
  for (std::size_t c = 0; c < 3; ++c) {
    advance[c * 3 + 2] = 2e-4;
  }
  advance[3 * 3 + 2] = -1e-3; // its nut is far away
  Equilibrium e(n, 3, {0, 1, 0});
  const std::vector<double> ring(2, 2e8);
  Rest rest = guess(n, 3, 1e4);
  e.solve(rest, linear(6e-10, advance), ring, {}, 1e5);
  for (std::size_t c = 0; c < n; ++c) {
    CHECK(rest.forces[c * 3] >= 0);
    CHECK(rest.forces[c * 3 + 2] >= 0);
  }
  CHECK(rest.forces[3 * 3 + 2] == 0);
  CHECK(rest.forces[3 * 3] > 0);                           // pressed by its neighbours through the disc
  CHECK(rest.forces[2] == close(rest.forces[8], 0, 1e-9)); // mirror images
  CHECK(rest.forces[1 * 3 + 2] < rest.forces[2]);          // the far one settles less of its advance on the ring
  double head = 0;
  double nut = 0;
  for (std::size_t c = 0; c < n; ++c) {
    head += rest.forces[c * 3];
    nut += rest.forces[c * 3 + 2];
  }
  CHECK(head == close(nut, 0, 1e-9)); // the ring moves force about, it makes none
}

TEST_CASE("equilibrium: influence is the derivative of the clamps") {
  const std::size_t n = 5;
  std::vector<double> advance(n * 3, 0.0);
  for (std::size_t c = 0; c < n; ++c) {
    advance[c * 3 + 2] = 2e-4 + 1e-5 * static_cast<double>(c);
  }
  const std::vector<double> ring(2, 2e8);
  Equilibrium e(n, 3, {0, 1, 0});
  Rest rest = guess(n, 3, 1e5);
  e.solve(rest, linear(6e-10, advance), ring, {}, 1e5);
  const Eigen::MatrixXd influence = e.influence(std::vector<double>(n * 3, 6e-10), ring, rest, {});
  for (const std::size_t at : {std::size_t{0}, std::size_t{4}, std::size_t{8}}) {
    std::vector<double> moved = advance;
    moved[at] -= 1e-6; // a loss shortens, as an advance taken back
    Rest other = rest;
    e.solve(other, linear(6e-10, moved), ring, {}, 1e5);
    for (std::size_t c = 0; c < n; ++c) {
      const double slope = (other.forces[c * 3 + 2] - rest.forces[c * 3 + 2]) / 1e-6;
      CHECK(influence(static_cast<Eigen::Index>(c), static_cast<Eigen::Index>(at)) == close(slope, 10, 1e-7));
    }
  }
  CHECK(influence(0, 2) < 0);
}

TEST_CASE("equilibrium: what cannot be found names the stud") {
  const Shorten hopeless = [](std::span<const double> f, Balance& b) {
    b.closing.assign(2, 0.0);
    b.slopes.assign(2, 1e-9);
    b.closing[1] = f[1] > 5e4 ? 1.0 : -1.0; // jumps: no force balances it
    b.slopes[1] = 1e-15;
  };
  Equilibrium e(2, 1, {0});
  Rest rest = guess(2, 1, 1e4);
  try {
    e.solve(rest, hopeless, {}, {}, 1e5);
    FAIL("found a balance where there is none");
  } catch (const NumericalError& error) {
    CHECK(error.code() == Code::NoEquilibrium);
    CHECK(std::string(error.what()).find("stud 2") != std::string::npos);
  }
}

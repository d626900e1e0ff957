// Checks: columns tied together by the bending of their discs.
// Problem: N columns tightened in any order; N columns under a cosine of nut advances; columns that are all alike.
// Reference: on a ring every Fourier mode stands for itself: the discs add k(1 - cos(2 pi j/N)) to each face of mode j
//   (both faces k/2, two neighbours each), so that each mode is a chain of a few springs, solved densely here.
// Tolerance: 1e-9 of the clamp: forces are converged to 1e-11.
// Fails if: the network is assembled wrongly, neighbours are counted twice or once, or a face is tied to the wrong one.
#include "models/network.hpp"
#include "solver/equilibrium.hpp"
#include "solver/simulation.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"

#include <Eigen/Dense>
#include <doctest/doctest.h>

#include <complex>

using namespace clampfade;
using test::Bench;
using test::close;
using test::ScenarioText;

namespace {

/// Forces of the segments of one mode for a unit advance of the nut.
Eigen::VectorXd mode_forces(const Elastic& e, double half_angle_term) {
  // Unknowns F_0..F_S-1, u_0..u_S-2. c_s F_s - (u_s - u_s-1) = 1 in the last segment, 0 elsewhere;
  // F_k+1 - F_k = ring_k 2 (1 - cos) u_k, where ring is half a disc's k.
  const auto s = static_cast<Eigen::Index>(e.compliance.size());
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(2 * s - 1, 2 * s - 1);
  Eigen::VectorXd b = Eigen::VectorXd::Zero(2 * s - 1);
  for (Eigen::Index i = 0; i < s; ++i) {
    a(i, i) = e.compliance[static_cast<std::size_t>(i)];
    if (i < s - 1) {
      a(i, s + i) = -1;
    }
    if (i > 0) {
      a(i, s + i - 1) = 1;
    }
  }
  b[s - 1] = 1;
  for (Eigen::Index k = 0; k < s - 1; ++k) {
    a(s + k, k + 1) = 1;
    a(s + k, k) = -1;
    a(s + k, s + k) = -e.ring[static_cast<std::size_t>(k)] * 2 * half_angle_term;
  }
  return a.partialPivLu().solve(b).head(s);
}

std::complex<double> fourier(const std::vector<double>& values, std::size_t j) {
  std::complex<double> sum = 0;
  const double n = static_cast<double>(values.size());
  for (std::size_t c = 0; c < values.size(); ++c) {
    sum += values[c] * std::polar(1.0, -2 * kPi * static_cast<double>(j * c) / n);
  }
  return sum;
}

ScenarioText coupled(std::size_t studs, bool duals) {
  ScenarioText s;
  s.studs = studs;
  s.ring = "active: true, width: 70 mm, factor: 10";
  if (duals) {
    s.second_disc = "thickness: 14 mm, hole: 26 mm, pad: 75 mm, node: joint";
  }
  return s;
}

Elastic elastic_of(const Bench& b) {
  Elastic e;
  b.joint.elastic(std::vector<double>(b.joint.stud_place() + 1, 293.15), e);
  return e;
}

} // namespace

TEST_CASE("ring: after any tightening every Fourier mode of advance and clamp is that of its chain") {
  for (const bool duals : {false, true}) {
    for (const std::size_t n : {std::size_t{5}, std::size_t{10}}) {
      CAPTURE(duals);
      CAPTURE(n);
      Bench bench(coupled(n, duals));
      for (std::size_t act = 0; act < 3 * n; ++act) {
        bench.tighten(act * 3 % n, 100e3 + 7e3 * static_cast<double>(act * act % 11));
      }
      std::vector<double> advance;
      std::vector<double> clamp;
      for (std::size_t c = 0; c < n; ++c) {
        advance.push_back(bench.wheel.advance_of_nut(bench.x, c));
        clamp.push_back(bench.clamp(c));
      }
      const Elastic e = elastic_of(bench);
      for (std::size_t j = 0; j < n; ++j) {
        const double term = 1 - std::cos(2 * kPi * static_cast<double>(j) / static_cast<double>(n));
        const std::complex<double> expected =
            mode_forces(e, term)[static_cast<Eigen::Index>(e.compliance.size()) - 1] * fourier(advance, j);
        const std::complex<double> found = fourier(clamp, j);
        CAPTURE(j);
        const double tolerance = 1e-9 * 120e3 * static_cast<double>(n);
        CHECK(found.real() == close(expected.real(), tolerance, 0));
        CHECK(found.imag() == close(expected.imag(), tolerance, 0));
        CHECK(std::abs(found) > 1e3); // every mode is there
      }
    }
  }
}

TEST_CASE("ring: a cosine of advances gives a cosine of forces in every segment") {
  const std::size_t n = 10;
  Bench bench(coupled(n, true));
  const Elastic e = elastic_of(bench);
  const std::size_t segments = e.compliance.size();
  REQUIRE(segments == 5);
  for (const std::size_t j : {std::size_t{1}, std::size_t{2}, std::size_t{5}}) {
    std::vector<double> advance;
    for (std::size_t c = 0; c < n; ++c) {
      advance.push_back(2e-4 + 4e-5 * std::cos(2 * kPi * static_cast<double>(j * c) / static_cast<double>(n)));
    }
    const Shorten shorten = [&](std::span<const double> f, Balance& b) {
      b.closing.resize(n * segments);
      b.slopes.resize(n * segments);
      for (std::size_t i = 0; i < n * segments; ++i) {
        b.closing[i] = e.compliance[i % segments] * f[i] - (i % segments == segments - 1 ? advance[i / segments] : 0);
        b.slopes[i] = e.compliance[i % segments];
      }
    };
    Equilibrium equilibrium(n, segments, std::vector<char>(segments, 0));
    Rest rest{std::vector<double>(n * segments, 1e5), std::vector<double>(n * (segments - 1), 0.0)};
    equilibrium.solve(rest, shorten, e.ring, {}, 1.5e5);
    const Eigen::VectorXd mean = mode_forces(e, 0);
    const Eigen::VectorXd wave =
        mode_forces(e, 1 - std::cos(2 * kPi * static_cast<double>(j) / static_cast<double>(n)));
    for (std::size_t c = 0; c < n; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const auto i = static_cast<Eigen::Index>(s);
        const test::Close expected = close(2e-4 * mean[i] + (advance[c] - 2e-4) * wave[i], 1e-4, 1e-10);
        if (c == 0 && s + 1 == segments) {
          CAPTURE(j);
          test::check_closed_form("force of a stud under a wave of advances [N]", rest.forces[c * segments + s],
                                  expected);
        }
        CHECK(rest.forces[c * segments + s] == expected);
      }
    }
  }
}

TEST_CASE("ring: without stiffness every column is alone") {
  ScenarioText s = coupled(6, true);
  s.ring = "active: true, width: 70 mm, factor: 0";
  ScenarioText single = s;
  single.ring = "active: false";
  Bench tied(s);
  Bench alone(single);
  for (std::size_t c = 0; c < 6; ++c) {
    tied.tighten(c, 100e3 + 10e3 * static_cast<double>(c));
    alone.tighten(c, 100e3 + 10e3 * static_cast<double>(c));
  }
  for (std::size_t c = 0; c < 6; ++c) {
    CHECK(tied.clamp(c) == close(100e3 + 10e3 * static_cast<double>(c), 0, 1e-13));
    CHECK(tied.wheel.advance_of_nut(tied.x, c) == close(alone.wheel.advance_of_nut(alone.x, c), 0, 1e-12));
  }
}

TEST_CASE("ring: columns that are all alike do not feel the ring, losses and heat included") {
  ScenarioText s = coupled(8, true);
  s.disc += ", head_side: {coating: paint, thickness: 80 um}, nut_side: {coating: paint, thickness: 60 um}";
  s.interface_default = "embedding: 3 um, friction: 0.15, tangential_compliance: 1e-10 m/N, wear: 0 1/Pa";
  s.disc_material = "youngs: 200 GPa, poisson: 0.3, expansion: 14e-6 1/K";
  ScenarioText single = s;
  single.ring = "active: false";
  Bench tied(s);
  Bench alone(single);
  for (int round = 0; round < 60; ++round) {
    tied.tighten_all(150e3); // each nut robs its neighbours of less and less
  }
  alone.tighten_all(150e3);
  const auto ramp = [](double t) { return 293.15 + 80 * std::sin(kPi * t / 7200); };
  tied.hold(7200, ramp);
  alone.hold(7200, ramp);
  for (std::size_t c = 0; c < 8; ++c) {
    CHECK(tied.clamp(c) == close(alone.clamp(c), 0, 1e-9));
  }
  CHECK(alone.clamp() < 140e3);
}

TEST_CASE("ring: turning the order of tightening turns the result") {
  ScenarioText s = coupled(10, true);
  s.passes = "0.5, 1.0";
  s.pause = "5 s";
  s.thread_contact = "embedding: 3 um";
  const std::size_t order[] = {1, 6, 3, 8, 5, 10, 2, 7, 4, 9};
  const auto result = [&](std::size_t turned) {
    std::string list;
    for (const std::size_t k : order) {
      list += (list.empty() ? "[" : ", ") + std::to_string((k - 1 + turned) % 10 + 1);
    }
    ScenarioText own = s;
    own.order = list + "]";
    test::MemorySink sink;
    REQUIRE(run(own.scenario(), sink) == RunStatus::Complete);
    return sink.records.back().clamp;
  };
  const std::vector<double> plain = result(0);
  for (const std::size_t turned : {std::size_t{1}, std::size_t{4}}) {
    const std::vector<double> other = result(turned);
    for (std::size_t k = 0; k < 10; ++k) {
      CHECK(other[(k + turned) % 10] == close(plain[k], 0, 1e-9));
    }
  }
  CHECK(*std::max_element(plain.begin(), plain.end()) > 1.005 * *std::min_element(plain.begin(), plain.end()));
}

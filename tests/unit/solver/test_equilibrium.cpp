#include "solver/diagnostics.hpp"
#include "solver/equilibrium.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

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

namespace {

/// A spring under a nut that is stiff but for some way in between, like washers that stick, slide and lie flat.
struct Sliding {
  double from;    ///< force at which it begins to slide [N]
  double way;     ///< that it slides [m]
  double pressed; ///< by the nut [m]
};

/// Columns of three segments, the last with such a spring.
Shorten sliding(std::vector<Sliding> springs) {
  return [springs](std::span<const double> f, Balance& b) {
    b.closing.resize(f.size());
    b.slopes.assign(f.size(), 1e-9);
    for (std::size_t i = 0; i < f.size(); ++i) {
      b.closing[i] = 1e-9 * f[i];
      if (i % 3 == 2) {
        const Sliding& spring = springs[i / 3];
        const double width = 100; // N, over which it slides
        const double past = f[i] - spring.from;
        b.closing[i] += spring.way * std::clamp(past / width, 0.0, 1.0) - spring.pressed;
        b.slopes[i] += past > 0 && past < width ? spring.way / width : 0;
      }
    }
  };
}

/// The wheel is at rest: closure, the faces' equilibrium and open faces written out.
void check_rest(const Rest& rest, const Shorten& shorten, double ring, bool opens) {
  Balance b;
  shorten(rest.forces, b);
  const std::size_t n = rest.forces.size() / 3;
  const auto face = [&](std::size_t c, std::size_t k) { return rest.faces[c % n * 2 + k]; };
  for (std::size_t c = 0; c < n; ++c) {
    for (std::size_t s = 0; s < 3; ++s) {
      const double gap = b.closing[c * 3 + s] - (s < 2 ? face(c, s) : 0) + (s > 0 ? face(c, s - 1) : 0);
      const double f = rest.forces[c * 3 + s];
      if (opens && s != 1 && f == 0) {
        CHECK(gap > -2e-9);
      } else {
        CHECK(gap == close(0, 1e-12, 0));
        CHECK((f > 0 || !opens || s == 1));
      }
    }
    for (std::size_t k = 0; k < 2; ++k) {
      const double bend = ring * (2 * face(c, k) - face(c + 1, k) - face(c + n - 1, k));
      CHECK(rest.forces[c * 3 + k + 1] - rest.forces[c * 3 + k] == close(bend, 1e-5, 0));
    }
  }
}

} // namespace

TEST_CASE("equilibrium: a spring that slides between stuck and flat is found, though a step jumps over it") {
  // From either stiff side a Newton step leads far into the other.
  const Shorten springs = sliding({{5e4, 1e-3, 5e-4}, {5e4, 1e-3, 6e-4}, {4e4, 1e-3, 5e-4}});
  for (const double start : {4e4, 9e4}) {
    Equilibrium e(3, 3, {1, 1, 1}, true); // every face may pull: no contact helps out
    Rest rest = guess(3, 3, start);
    e.solve(rest, springs, std::vector<double>(2, 1e6), {}, 1e5);
    check_rest(rest, springs, 1e6, false);
  }
}

TEST_CASE("equilibrium: faces that each step opens and the next one closes come to rest") {
  struct Row {
    double ring;
    std::vector<Sliding> springs;
  };
  for (const Row& row :
       {Row{2.352e7, {{2533, 8.722e-4, 8.468e-4}, {1871, 4.459e-4, 6.524e-5}, {170.1, 3.454e-4, 1.439e-4}}},
        Row{9.744e8, {{2798, 2.153e-4, 2.581e-4}, {708.3, 4.569e-4, 1.288e-4}, {2009, 9.42e-4, 9.132e-4}}},
        Row{5.5e5, {{2795, 9.53e-4, 4.07e-4}, {961.6, 2.39e-4, 1.788e-4}, {359.9, 5.367e-4, 3.483e-4}}},
        Row{1.119e8, {{947.2, 7.879e-4, -1.034e-4}, {1666, 8.971e-4, 8.726e-4}, {908.2, 3.724e-4, 1.231e-4}}}}) {
    CAPTURE(row.ring);
    Equilibrium e(3, 3, {0, 1, 0}, true);
    Rest rest = guess(3, 3, 1e3);
    e.solve(rest, sliding(row.springs), std::vector<double>(2, row.ring), {}, 1e5);
    check_rest(rest, sliding(row.springs), row.ring, true);
  }
}

TEST_CASE("equilibrium: where slopes jump, a small last step does not pass for rest") {
  // From 90 kN the first step lands a hair below a kink, where the spring is a hundred times stiffer than the slope
  // that the next one still uses: rest is a hundred times as far away as that step is long.
  const double kink = 5e4;
  const Shorten jumps = [kink](std::span<const double> f, Balance& b) {
    b.closing.assign(f.size(), 0.0);
    b.slopes.assign(f.size(), 1e-12);
    b.slopes[1] = f[1] > kink ? 1e-7 : 1e-9;
    b.closing[1] = 1e-12 + b.slopes[1] * (f[1] - kink);
  };
  Equilibrium e(1, 2, {1, 1}, true);
  Rest rest = guess(1, 2, 9e4);
  e.solve(rest, jumps, std::vector<double>(1, 0.0), {}, 1e5);
  CHECK(rest.forces[1] == close(kink - 1e-3, 1e-5, 0));
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

TEST_CASE("equilibrium: faces that bear nearly nothing come to rest where their gaps close") {
  // The last stud has no clamp: its parts hang in soft rings and touch at a rough face that gives by what it bears.
  const std::size_t n = 4;
  const double soft = 6e-10;
  const std::vector<double> advance{3.92e-5, 4.503e-6, 1.647e-5, -1e-3};
  const Shorten rough = [&](std::span<const double> f, Balance& b) {
    const double depth = 4.599e-7;
    const double bears = 12.34;
    b.closing.resize(f.size());
    b.slopes.assign(f.size(), soft);
    for (std::size_t i = 0; i < f.size(); ++i) {
      b.closing[i] = soft * f[i] - (i % 3 == 2 ? advance[i / 3] : 0);
      if (i % 3 == 0) {
        const double open = std::exp(-std::max(f[i], 0.0) / bears);
        b.closing[i] += f[i] > 0 ? depth * (1 - open) : depth / bears * f[i];
        b.slopes[i] += depth / bears * open;
      }
    }
  };
  Equilibrium e(n, 3, {0, 1, 0});
  Rest rest = guess(n, 3, 1e4);
  e.solve(rest, rough, std::vector<double>(2, 1.289e4), {}, 1e4);
  Balance b;
  rough(rest.forces, b);
  CHECK(rest.forces[9] > 0.1); // pressed by its neighbours
  CHECK(rest.forces[9] < 10);
  CHECK(b.closing[9] == close(rest.faces[6], 1e-10 * 1e4 * 3 * soft, 0)); // as a force, 1e-10 of the clamp
}

TEST_CASE("equilibrium: which faces of stiff wavy discs bear is found, though forces are not exact") {
  // Two discs of stiff rings, one of them wavy: to and fro about faces that bear no more than the last digits of the
  // others' forces.
  const std::size_t n = 4;
  const std::size_t segments = 5;
  const std::vector<double> soft{9.0547845809018857e-11, 1.9316305310945167e-09, 1.0571572181137679e-10,
                                 6.9057858089051296e-10, 1.0168919357390793e-09};
  const std::vector<double> last{2.716235628634473e-06, 1.779202214872959e-06, 1.5049871234756757e-06,
                                 2.0053947672341437e-06};
  const double wave = 2.0574410474179082e-4;
  const Shorten wavy = [&](std::span<const double> f, Balance& b) {
    b.closing.resize(f.size());
    b.slopes.resize(f.size());
    for (std::size_t i = 0; i < f.size(); ++i) {
      const std::size_t c = i / segments;
      const std::size_t s = i % segments;
      const double gap = s == 0 ? (c % 2 == 1 ? wave : 0) : s == 4 ? last[c] : s == 2 && c % 2 == 1 ? 1e-6 : 0;
      b.slopes[i] = soft[s];
      b.closing[i] = soft[s] * f[i] + gap;
    }
  };
  const double stiff = 243043510395.27286;
  const double scale = 4 * stiff * wave;
  Equilibrium e(n, segments, {0, 1, 0, 1, 0});
  Rest rest = guess(n, segments, 1e3);
  e.solve(rest, wavy, std::vector<double>{stiff, stiff, 2352704103076.8438, 2352704103076.8438}, {}, scale);
  Balance b;
  wavy(rest.forces, b);
  const double nothing = 1e-10 * scale * std::accumulate(soft.begin(), soft.end(), 0.0);
  for (std::size_t c = 0; c < n; ++c) {
    for (std::size_t s = 0; s < segments; ++s) {
      const std::size_t i = c * segments + s;
      const double above = s + 1 < segments ? rest.faces[c * 4 + s] : 0;
      const double below = s > 0 ? rest.faces[c * 4 + s - 1] : 0;
      const double gap = b.closing[i] - (above - below);
      CAPTURE(i);
      CHECK(gap > -nothing);
      CHECK((rest.forces[i] == 0 || std::abs(gap) < nothing));
    }
  }
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

// Checks: the guide values of embedding as the program settles them, halving on painted faces, loss of clamp.
// Problem: EmbeddingLaw at the clamp of the set torque for 1e9 s, and sums of guide values over a joint's faces.
// Reference: VDI 2230-1:2003/2015 guide table (memory): micrometres in the thread, for each face under head or nut, for
//   each inner face; axial and transverse loading, three classes of roughness.
// Tolerance: 1e-9 (the slowest mode has 1000 time constants). Sum and loss: half of the last digit.
// Fails if: the modes' weights do not sum to one, the pressure's root is wrong, or painted faces are counted twice.
//
// The program takes guide values from the scenario and holds no table of its own, so this checks that they arrive.
#include "models/embedding.hpp"
#include "tests/support/law_step.hpp"
#include "tests/verification/published/printed.hpp"

#include <doctest/doctest.h>

#include <array>
#include <string_view>
#include <vector>

using namespace clampfade;
using clampfade::test::check;
using clampfade::test::close;
using clampfade::test::Seen;
using clampfade::test::take_step;

namespace {

constexpr double kMicro = 1e-6;
constexpr std::string_view kGuide = "VDI 2230-1, guide values of embedding";

/// What a law has settled after `time` at a constant drive [m].
double settled(const EmbeddingLaw& law, double ratio, double time) {
  std::vector<double> z(law.states()), next(law.states());
  law.start(z);
  LawStep step;
  step.duration = time;
  step.temperature_start = step.temperature_middle = step.temperature_end = 293.15;
  take_step(law, step, z, ratio, ratio, next);
  return law.loss(next);
}

struct Row {
  std::string_view roughness; // Rz in um
  std::string_view loading;
  double thread, seat, inner; // um
};

constexpr std::array<Row, 6> kRows = {{{"below 10", "axial", 3, 2.5, 1.5},
                                       {"10 to 40", "axial", 3, 3, 2},
                                       {"40 to 160", "axial", 3, 4, 3},
                                       {"below 10", "transverse", 3, 3, 2},
                                       {"10 to 40", "transverse", 3, 4.5, 2.5},
                                       {"40 to 160", "transverse", 3, 6.5, 3.5}}};

} // namespace

TEST_CASE("published: guide values settle in full at the clamp of the set torque") {
  for (const Row& row : kRows) {
    CAPTURE(row.roughness);
    CAPTURE(row.loading);
    struct Place {
      std::string_view name;
      double guide;
    };
    for (const Place& place : {Place{"thread", row.thread}, Place{"seat", row.seat}, Place{"inner face", row.inner}}) {
      CAPTURE(place.name);
      const double guide = place.guide;
      check("settled [um]", {guide, 0, kGuide, Seen::Memory}, settled(EmbeddingLaw(guide * kMicro), 1, 1e9) / kMicro,
            1e-9);
      CHECK(embedding_amount(guide * kMicro, 0) == close(guide * kMicro, 0, 1e-15));
      CHECK(embedding_amount(guide * kMicro, 1) == close(guide * kMicro / 2, 0, 1e-15));
      CHECK(embedding_amount(guide * kMicro, 2) == close(0, 1e-15, 0));
    }
  }
}

TEST_CASE("published: rougher and sideways loaded faces embed more") {
  for (std::size_t k = 0; k < 3; ++k) {
    const auto whole = [](const Row& r) {
      return settled(EmbeddingLaw((r.thread + 2 * r.seat + 4 * r.inner) * kMicro), 1, 1e9);
    };
    CHECK(whole(kRows[k + 3]) > whole(kRows[k]));
    if (k > 0) {
      CHECK(whole(kRows[k]) > whole(kRows[k - 1]));
    }
  }
}

TEST_CASE("published: loss of the M22x1.5 joint by embedding") {
  // Transverse, Rz 10 to 40, two seats, four inner faces; compliance 1.22369 um/kN of test_cone.cpp.
  const Row& r = kRows[4];
  const double amount = settled(EmbeddingLaw((r.thread + 2 * r.seat + 4 * r.inner) * kMicro), 1, 1e9);
  check("embedding [um]", {22, 1, kGuide, Seen::Derived}, amount / kMicro, 0);
  check("loss [kN]", {17.98, 0.01, kGuide, Seen::Derived}, amount / 1.22369e-9 / 1e3, 0);
  check("of 200 kN [%]", {9.0, 0.1, kGuide, Seen::Derived}, amount / 1.22369e-9 / 200e3 * 100, 0);
}

TEST_CASE("published: embedding under other clamps") {
  // Not published: the contract's own root of the pressure ratio, no more than one and a half times the guide value.
  const EmbeddingLaw law(3 * kMicro);
  CHECK(settled(law, 0.25, 1e9) == close(1.5 * kMicro, 0, 1e-9));
  CHECK(settled(law, 2.25, 1e9) == close(4.5 * kMicro, 0, 1e-9));
  CHECK(settled(law, 9, 1e9) == close(4.5 * kMicro, 0, 1e-9));
}

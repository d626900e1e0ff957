#include "models/embedding.hpp"
#include "tests/support/law_check.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::close;

TEST_CASE("embedding: the amount grows with the root of the load up to one and a half") {
  const EmbeddingLaw law(4e-6);
  CHECK(law.drive() == Drive::LoadRatio);
  const auto settled = [&](double ratio) {
    return test::step_law(law, {1e12, 293, 293, 293, 0, 1e9}, test::started(law), ratio, ratio).loss.loss;
  };
  CHECK(settled(1) == close(4e-6, 0, 1e-5));
  CHECK(settled(0.25) == close(2e-6, 0, 1e-5));
  CHECK(settled(4) == close(6e-6, 0, 1e-5));
  CHECK(settled(0) == 0);
  test::check_law(law, {100, 293, 293, 293, 0, 1e9}, test::started(law), 1, 0.99);
  test::check_law(law, {100, 293, 293, 293, 10, 1e9}, test::started(law), 0.5, 0.6);
}

TEST_CASE("embedding: nine tenths of three weeks' loss come on the first day") {
  const EmbeddingLaw law(1);
  const auto after = [&](double t) {
    return test::step_law(law, {t, 293, 293, 293, 0, 1e9}, test::started(law), 1, 1).loss.loss;
  };
  CHECK(after(86400) / after(21 * 86400.0) == close(0.9, 0.03, 0));
  // Modes of 60, 1e4 and 1e6 s.
  CHECK(after(60) == close(0.45 * (1 - std::exp(-1.0)) + 0.45 * 0.006 + 0.10 * 6e-5, 2e-5, 0));
}

TEST_CASE("embedding: load cycles speed the modes up") {
  const EmbeddingLaw law(1);
  // 1/tau + nu/N: at 10 cycles a second the first mode has the rate 1/60 + 0.01.
  CHECK(law.fastest(293, 10) == close(1 / 60.0 + 0.01, 0, 1e-14));
  CHECK(law.fastest(293, 0) == close(1 / 60.0, 0, 1e-14));
}

TEST_CASE("embedding: the guide table, rougher and across the stud means more") {
  const GuideEmbedding smooth = guide_embedding(Roughness::UpTo10um, LoadDirection::Axial);
  CHECK(smooth.thread == 3e-6);
  CHECK(smooth.bearing == 2.5e-6);
  CHECK(smooth.inner == 1.5e-6);
  const GuideEmbedding rough = guide_embedding(Roughness::From40To160um, LoadDirection::Shear);
  CHECK(rough.thread == 3e-6);
  CHECK(rough.bearing == 6.5e-6);
  CHECK(rough.inner == 3.5e-6);
  for (const LoadDirection load : {LoadDirection::Axial, LoadDirection::Shear}) {
    double before = 0;
    for (const Roughness r : {Roughness::UpTo10um, Roughness::From10To40um, Roughness::From40To160um}) {
      CHECK(guide_embedding(r, load).inner > before);
      CHECK(guide_embedding(r, load).bearing > guide_embedding(r, load).inner);
      CHECK(guide_embedding(r, LoadDirection::Axial).inner < guide_embedding(r, LoadDirection::Shear).inner);
      before = guide_embedding(r, load).inner;
    }
  }
}

TEST_CASE("embedding: paint on one face halves the guide value, on both it takes it over") {
  CHECK(embedding_amount(3e-6, 0) == 3e-6);
  CHECK(embedding_amount(3e-6, 1) == 1.5e-6);
  CHECK(embedding_amount(3e-6, 2) == 0);
}

TEST_CASE("embedding: an unseated gap closes whatever the force") {
  const UnseatedLaw law(100e-6);
  const auto after = [&](double t, double cycles) {
    return test::step_law(law, {t, 293, 293, 293, cycles, 1e9}, test::started(law), 1e5, 2e4).loss.loss;
  };
  CHECK(after(1e5, 0) == close(100e-6 * (1 - std::exp(-1.0)), 0, 1e-12));
  CHECK(after(1e5, 0.1) == close(100e-6 * (1 - std::exp(-2.0)), 0, 1e-12));
}

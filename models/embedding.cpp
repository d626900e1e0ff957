#include "models/embedding.hpp"

#include <array>
#include <cmath>
#include <cstddef>

namespace clampfade {

EmbeddingLaw::EmbeddingLaw(double amount)
    : SettlingLaw(Mechanism::Embedding, {{0.45, 1 / 60.0, 1e-3}, {0.45, 1e-4, 1e-5}, {0.10, 1e-6, 1e-7}}),
      amount_(amount) {}

SettlingLaw::Target EmbeddingLaw::target(double ratio, double) const {
  if (ratio <= 0) {
    return {0, 0};
  }
  if (ratio >= 2.25) {
    return {1.5 * amount_, 0};
  }
  const double root = std::sqrt(ratio);
  return {amount_ * root, amount_ / (2 * root)};
}

GuideEmbedding guide_embedding(Roughness roughness, LoadDirection direction) {
  // VDI 2230-1, memory: thread, bearing face, inner interface, by roughness. [m]
  static constexpr std::array<GuideEmbedding, 3> axial = {
      {{3e-6, 2.5e-6, 1.5e-6}, {3e-6, 3e-6, 2e-6}, {3e-6, 4e-6, 3e-6}}};
  static constexpr std::array<GuideEmbedding, 3> shear = {
      {{3e-6, 3e-6, 2e-6}, {3e-6, 4.5e-6, 2.5e-6}, {3e-6, 6.5e-6, 3.5e-6}}};
  return (direction == LoadDirection::Axial ? axial : shear)[static_cast<std::size_t>(roughness)];
}

double embedding_amount(double guide, int coated) { return coated == 0 ? guide : coated == 1 ? guide / 2 : 0; }

UnseatedLaw::UnseatedLaw(double gap) : SettlingLaw(Mechanism::Unseated, {{1, 1e-5, 1e-4}}), gap_(gap) {}

SettlingLaw::Target UnseatedLaw::target(double, double) const { return {gap_, 0}; }

} // namespace clampfade

// Asperities that flatten at an interface or in the thread. EQUATIONS.md 6; amounts from VDI 2230-1.
#pragma once

#include "models/settling_law.hpp"

namespace clampfade {

/// Total target f_Z min(1.5, sqrt(p/p_ref)); modes of weight 0.45, 0.45, 0.10 with 60, 1e4, 1e6 s and 1e3, 1e5, 1e7
/// cycles. The drive is the clamp over the clamp of the set torque, which is p/p_ref.
class EmbeddingLaw final : public SettlingLaw {
public:
  explicit EmbeddingLaw(double amount); ///< f_Z [m] >= 0, coated faces already allowed for
  [[nodiscard]] Drive drive() const override { return Drive::LoadRatio; }

private:
  [[nodiscard]] Target target(double ratio, double property) const override;
  double amount_;
};

/// Mean roughness depth Rz of the touching faces.
enum class Roughness { UpTo10um, From10To40um, From40To160um };
/// How the joint is loaded: along the stud, or across it.
enum class LoadDirection { Axial, Shear };

/// f_Z of each place of a joint [m].
struct GuideEmbedding {
  double thread = 0;  ///< all engaged threads together
  double bearing = 0; ///< the face under the head, or under the nut
  double inner = 0;   ///< an interface between two parts
};

/// Guide values of embedding for bare machined steel faces: VDI 2230-1, guide table of embedding (memory).
GuideEmbedding guide_embedding(Roughness roughness, LoadDirection direction);

/// f_Z of an interface with `coated` (0, 1 or 2) painted faces: halved for one, none for two [m].
double embedding_amount(double guide, int coated);

/// A gap left by a drum or wheel that was not pulled home: one mode, 1e5 s and 1e4 cycles (demo).
class UnseatedLaw final : public SettlingLaw {
public:
  explicit UnseatedLaw(double gap); ///< u [m]

private:
  [[nodiscard]] Target target(double force, double property) const override;
  double gap_;
};

} // namespace clampfade

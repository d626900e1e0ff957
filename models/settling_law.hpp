// Settling modes: dy_m/dt = r_m max(0, y*_m - y_m). They settle and never recover. EQUATIONS.md 6.
#pragma once

#include "models/law.hpp"

#include <vector>

namespace clampfade {

/// One mode over a step of scaled length z (rate times time) whose target runs linearly from a to b: the exact end
/// value, ratchet included. `decay` = exp(-z), `mean` = (1 - decay)/z. `slope` is d y/d b.
struct ModeEnd {
  double value = 0;
  double slope = 0;
};
ModeEnd settle(double y, double a, double b, double z, double decay, double mean);

/// Modes that share one target: y*_m = weight_m target(drive, property), r_m = rate_m speed + cycle_rate per_cycle_m.
class SettlingLaw : public LossLaw {
public:
  struct Mode {
    double weight = 0;    ///< share of the target [-]
    double rate = 0;      ///< 1/tau_m at speed 1 [1/s]
    double per_cycle = 0; ///< 1/N_m [-]
  };

  [[nodiscard]] std::size_t states() const final { return modes_.size(); }
  [[nodiscard]] std::size_t shared() const final { return kSharedHead + 3 * modes_.size(); }
  [[nodiscard]] std::size_t scratch() const final { return kHead + modes_.size(); }
  void start(std::span<double> z) const final;
  [[nodiscard]] double fastest(double temperature, double cycle_rate) const final;
  void rate(std::span<const double> z, double x, double temperature, double cycle_rate,
            std::span<double> dz) const final;
  void share(const LawStep& step, std::span<double> shared) const final;
  void prepare(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double x0,
               std::span<double> work) const final;
  [[nodiscard]] LawLoss trial(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                              double x0, double x1, std::span<const double> work) const final;
  LawLoss finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double x0, double x1,
                 std::span<const double> work, std::span<double> z1) const final;
  void add_losses(std::span<const double> z, ByMechanism& losses) const final;
  [[nodiscard]] double loss(std::span<const double> z) const final;

protected:
  SettlingLaw(Mechanism mechanism, std::vector<Mode> modes);
  /// What temperature does to the target, computed once a step (X(T) of a coating, q(T) of washers).
  [[nodiscard]] virtual double property(double /*temperature*/) const { return 1; }
  /// What temperature does to the rates, 1/a_T [-].
  [[nodiscard]] virtual double speed(double /*temperature*/) const { return 1; }
  struct Target {
    double value = 0; ///< [m]
    double slope = 0; ///< by drive
  };
  [[nodiscard]] virtual Target target(double drive, double property) const = 0;

private:
  /// What a mode does over a step whose end target is not known yet.
  static constexpr double kAsleep = 0, kFollows = 1, kUnsure = 2;
  // Shared: property at the start, end and middle, doubt of the mean speed; then of all modes the scaled lengths, the
  // decays and the mean decays. Scratch: target at the start, the range of end targets for which the rest holds, loss
  // of modes that sleep or follow with the end target at zero, its slope, how many are unsure; then what each mode
  // does.
  static constexpr std::size_t kSharedHead = 4, kHead = 6;
  [[nodiscard]] static constexpr std::size_t lengths() { return kSharedHead; }
  [[nodiscard]] std::size_t decays() const { return kSharedHead + modes_.size(); }
  [[nodiscard]] std::size_t means() const { return kSharedHead + 2 * modes_.size(); }
  [[nodiscard]] ModeEnd end_of(std::size_t m, double y, double a, double b, std::span<const double> shared) const;
  Mechanism mechanism_;
  std::vector<Mode> modes_;
};

} // namespace clampfade

// Paint that is squeezed out or burnt out of an interface. EQUATIONS.md 7.
#pragma once

#include "models/coating.hpp"

#include <utility>
#include <vector>

namespace clampfade {

/// Flow and breakdown of the one or two films of an interface. Films that flow do so as one Newtonian film of height H
/// in a ring of radial width w: dH/dt = -H^3 p/(eta w^2) (Stefan's squeeze film between long parallel edges), in closed
/// form for known pressure; each gives its share of the starting height. Breakdown db/dt = k(T)(1 - b) in closed form.
class CoatingFilmLaw final : public LossLaw {
public:
  struct Film {
    Coating coating;
    double thickness = 0; ///< h0 [m]
  };
  /// area of contact [m^2], radial width w [m].
  CoatingFilmLaw(std::vector<Film> films, double area, double width);

  [[nodiscard]] std::size_t states() const override { return 1 + kPerFilm * films_.size(); }
  [[nodiscard]] std::size_t shared() const override { return 4 + films_.size(); }
  [[nodiscard]] std::size_t scratch() const override { return 1; }
  void start(std::span<double> z) const override;
  void rate(std::span<const double> z, double force, double temperature, double cycle_rate,
            std::span<double> dz) const override;
  void share(const LawStep& step, std::span<double> shared) const override;
  void prepare(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double force0,
               std::span<double> work) const override;
  [[nodiscard]] LawLoss trial(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                              double force0, double force1, std::span<const double> work) const override;
  LawLoss finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0, double force0,
                 double force1, std::span<const double> work, std::span<double> z1) const override;
  void add_losses(std::span<const double> z, ByMechanism& losses) const override;
  [[nodiscard]] double loss(std::span<const double> z) const override;
  [[nodiscard]] double layer_loss(std::span<const double> z, std::size_t k) const override;

private:
  // State: H, then for each film the share broken down, the thickness lost to flow and that lost to breakdown.
  static constexpr std::size_t kPerFilm = 3;
  /// 1/(eta w^2 area) [1/(N s m^2)]; times F H^3 it is -dH/dt.
  [[nodiscard]] double fluidity(double temperature) const;
  /// Height of the films that flow at the end of a step, and its slope by the force there.
  [[nodiscard]] std::pair<double, double> height_after(std::span<const double> shared, double height, double known,
                                                       double force1) const;
  struct FilmAfter {
    double broken = 0;    ///< share broken down
    double flowed = 0;    ///< thickness lost to flow [m]
    double burnt = 0;     ///< and to breakdown [m]
    double by_height = 0; ///< d loss/d height
  };
  /// Film k at the end of a step that brings the height of those that flow to h1.
  [[nodiscard]] FilmAfter film_after(std::span<const double> shared, std::span<const double> z0, std::size_t k,
                                     double h1) const;
  [[nodiscard]] double flowing(std::span<const double> z, std::size_t k) const; ///< h_f of film k [m]
  std::vector<Film> films_;
  std::vector<double> start_;  ///< h_f at the start [m]
  std::vector<double> shares_; ///< of H; 0 for films that do not flow
  double height_ = 0;          ///< H at the start [m]
  double area_, width_;
};

} // namespace clampfade

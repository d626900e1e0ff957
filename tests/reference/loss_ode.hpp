// The losses of a whole wheel as plain ordinary differential equations dz/dt = f(t, z), for integrators of other
// libraries. Built from the definitions alone: LossLaw::rate, the closed forms of slip, wear and loosening, and a
// force balance of its own, dense. It shares no step, no Newton loop and no sparse matrix with the program.
#pragma once

#include "models/joint.hpp"
#include "solver/scenario.hpp"
#include "solver/wheel.hpp"

#include <Eigen/Dense>

#include <vector>

namespace clampfade::test {

/// Variables y: lengths in um, shares of breakdown as they are. For each column: its laws' internal variables, wear of
/// every interface, rotation of the nut. Every nut is on, no face opens and no stud yields in service: forces() throws
/// std::runtime_error where that does not hold. Washers without friction between them.
class LossOde {
public:
  /// advance: of every stud's nut [m]; clamp: about what the studs carry, where the force balance starts [N].
  LossOde(const Scenario& scenario, const Joint& joint, std::vector<double> advance, double clamp);

  [[nodiscard]] Eigen::Index size() const { return columns_ * width_; }
  [[nodiscard]] Eigen::VectorXd start() const;
  /// Road and node temperatures of the span that follows; the time of rate() counts from its start.
  void span(const RoadLoad& road, NodeTemperatures nodes);

  void rate(double t, const Eigen::VectorXd& y, Eigen::VectorXd& dy) const;
  /// d rate/d y. Laws by differences of their own few variables, forces by the inverse of the balance.
  void jacobian(double t, const Eigen::VectorXd& y, Eigen::MatrixXd& out) const;
  /// Clamp of every stud [N].
  [[nodiscard]] std::vector<double> clamp(double t, const Eigen::VectorXd& y) const;
  /// Loss of a mechanism over all segments of a column [m].
  [[nodiscard]] double loss(const Eigen::VectorXd& y, std::size_t column, Mechanism m) const;

private:
  struct Forces {
    Eigen::VectorXd force;            ///< columns then segments [N]
    std::vector<double> deflection;   ///< of each column's washers [m]
    Eigen::MatrixXd tangent;          ///< d residual/d unknowns at the balance
    std::vector<double> washer_slope; ///< d deflection/d force [m/N]
    std::vector<double> places;       ///< temperatures [K]
    [[nodiscard]] double at(Eigen::Index i) const { return force[i]; }
  };
  [[nodiscard]] Forces forces(double t, const Eigen::VectorXd& y) const;
  [[nodiscard]] std::vector<double> lengths(const Eigen::VectorXd& y, std::size_t column) const;
  /// Loss of every segment of a column [m].
  void add_losses(const std::vector<double>& z, double* segments) const;
  [[nodiscard]] double drive(const PlacedLaw& p, std::size_t column, const Forces& f) const;
  /// Wear and rotation of all columns [m/s].
  [[nodiscard]] std::vector<double> drag(const Eigen::VectorXd& force) const;

  const Scenario& scenario_;
  const Joint& joint_;
  std::vector<PlacedLaw> laws_;
  std::vector<double> advance_, set_clamp_;
  std::vector<double> scale_; ///< of a column's variables
  Eigen::Index columns_, segments_, width_, wear_, faces_;
  double guess_;
  RoadLoad road_;
  NodeTemperatures nodes_;
};

} // namespace clampfade::test

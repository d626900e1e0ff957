// An integrator that shares nothing with the program's own: RODAS4(3), L-stable, stiffly accurate, on plain equations
// dz/dt = f(t, z) with Jacobian by differences. Coefficients and formulas: E. Hairer and G. Wanner, Solving Ordinary
// Differential Equations II, section IV.7 (published; RODAS).
#pragma once

#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <stdexcept>

namespace clampfade::test {

using Rhs = std::function<void(double t, const Eigen::VectorXd& z, Eigen::VectorXd& dz)>;

/// Integrates from t0 to t1 with a local error below `tolerance` times `scale` in every component.
inline Eigen::VectorXd rodas(const Rhs& f, Eigen::VectorXd z, double t0, double t1, double first_step, double tolerance,
                             const Eigen::VectorXd& scale) {
  constexpr double kGamma = 0.25;
  constexpr std::array<double, 4> d{0.25, -0.1043, 0.1035, -0.0362};
  constexpr std::array<double, 5> time{0, 0.386, 0.21, 0.63, 1};
  constexpr double a[5][4] = {{0, 0, 0, 0},
                              {1.544, 0, 0, 0},
                              {0.9466785280815826, 0.2557011698983284, 0, 0},
                              {3.314825187068521, 2.896124015972201, 0.9986419139977817, 0},
                              {1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950}};
  constexpr double c[6][5] = {
      {0, 0, 0, 0, 0},
      {-5.6688, 0, 0, 0, 0},
      {-2.430093356833875, -0.2063599157091915, 0, 0, 0},
      {-0.1073529058151375, -9.594562251023355, -20.47028614809616, 0, 0},
      {7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160, 0},
      {8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054}};
  const Eigen::Index n = z.size();
  Eigen::VectorXd f0(n);
  Eigen::VectorXd ft(n);
  Eigen::VectorXd fy(n);
  Eigen::MatrixXd jacobian(n, n);
  double h = first_step;
  double t = t0;
  for (int tries = 0; t < t1; ++tries) {
    if (tries > 200000 || h < 1e-14) {
      throw std::runtime_error("rodas: no progress");
    }
    h = std::min(h, t1 - t);
    f(t, z, f0);
    for (Eigen::Index j = 0; j < n; ++j) {
      const double e = 1e-6 * scale[j];
      Eigen::VectorXd moved = z;
      moved[j] -= e; // downwards: a mode just below its target must not be moved past it, where it sleeps
      f(t, moved, fy);
      jacobian.col(j) = (f0 - fy) / e;
    }
    const double dt = 1e-4 * h;
    f(t + dt, z, fy);
    ft = (fy - f0) / dt;
    Eigen::MatrixXd w = -jacobian;
    w.diagonal().array() += 1 / (kGamma * h);
    const Eigen::PartialPivLU<Eigen::MatrixXd> lu(w);
    std::array<Eigen::VectorXd, 6> k;
    Eigen::VectorXd y = z;
    for (std::size_t stage = 0; stage < 6; ++stage) {
      if (stage == 0) {
        fy = f0;
      } else if (stage < 5) {
        y = z;
        for (std::size_t i = 0; i < stage; ++i) {
          y += a[stage][i] * k[i];
        }
        f(t + time[stage] * h, y, fy);
      } else {
        y += k[4];
        f(t + h, y, fy);
      }
      if (stage < 4) {
        fy += h * d[stage] * ft;
      }
      for (std::size_t i = 0; i < stage; ++i) {
        fy += c[stage][i] / h * k[i];
      }
      k[stage] = lu.solve(fy);
    }
    const double error = (k[5].array() / scale.array()).abs().maxCoeff() / tolerance;
    if (!std::isfinite(error)) {
      h /= 10;
      continue;
    }
    if (error <= 1) {
      t = t1 - t <= h ? t1 : t + h;
      z = y + k[5];
    }
    h *= std::clamp(0.9 * std::pow(std::max(error, 1e-10), -0.25), 0.2, 5.0);
  }
  return z;
}

} // namespace clampfade::test

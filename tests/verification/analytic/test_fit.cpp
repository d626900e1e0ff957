// Checks: values, standard errors, intervals and correlation of a fit whose model is straight in its values.
// Problem: one lump warmed by a drag for six hours and then cooling; ten readings of its temperature with errors that
//   are not told; the air's temperature and the drag's power are to be found.
// Reference: T = Ta + (T0 - Ta) e^(-t/tau) + P/G g(t), g = 1 - e^(-t/tau) while it drags and that of its end times
//   e^(-(t - 6 h)/tau) after; ordinary least squares in closed form, s^2 = RSS/(n - 2), and Student's t for 8 degrees
//   of freedom, 2.306004 (tables).
// Tolerance: temperatures to 1e-7 of 300 K; slopes by differences of a straight model have no other error: 1e-4.
// Fails if: a weight, the number of degrees of freedom, the quantile, the scale of the box or the inverse is wrong.
#include "tests/support/checks.hpp"
#include "tests/support/close.hpp"
#include "tests/support/fit_example.hpp"

#include <Eigen/Dense>
#include <doctest/doctest.h>

#include <array>
#include <cmath>

using namespace clampfade;
using test::check_closed_form;
using test::close;
using test::FitExample;
using test::ScenarioText;

TEST_CASE("fit: a straight model gives ordinary least squares, intervals and correlation included") {
  constexpr double conductance = 20; // W/K
  constexpr double tau = 200e3 / conductance;
  constexpr double start = 293.15;
  constexpr double dragged = 6 * 3600.0;
  ScenarioText text;
  text.studs = 1;
  text.nodes = "joint: {capacity: 200 kJ/K, still: 20 W/K}";
  text.day = "{drag: {power: 1 kW, speed: 20 km/h, duration: 6 h}}, {park: {until: 24 h}}";
  FitExample example(text, {"duty/ambient/mean=0 degC..40 degC", "duty/day/drag/power=500 W..3 kW"});

  constexpr std::array<double, 10> hours = {0.5, 1, 2, 4, 6, 7, 9, 11, 14, 20};
  constexpr std::array<double, 10> off = {0.31, -0.42, 0.18, 0.55, -0.63, 0.07, -0.24, 0.48, -0.11, -0.29}; // K
  Eigen::Matrix<double, 10, 2> x;
  Eigen::Matrix<double, 10, 1> y;
  for (Eigen::Index i = 0; i < 10; ++i) {
    const double t = 3600 * hours[static_cast<std::size_t>(i)];
    const double cooled = std::exp(-t / tau);
    x(i, 0) = 1 - cooled;
    x(i, 1) = (t <= dragged ? 1 - cooled : -std::expm1(-dragged / tau) * std::exp(-(t - dragged) / tau)) / conductance;
    const double reading = x(i, 0) * 297.15 + x(i, 1) * 1200 + start * cooled + off[static_cast<std::size_t>(i)];
    y(i) = reading - start * cooled;
    example.read(FitQuantity::Temperature, t, reading);
  }
  const Eigen::Matrix2d inverse = (x.transpose() * x).inverse();
  const Eigen::Vector2d best = inverse * x.transpose() * y;
  const double rss = (y - x * best).squaredNorm();
  const double s = std::sqrt(rss / 8);
  constexpr double student = 2.306004;

  const FitResult fit = clampfade::fit(example.request);
  check_closed_form("fitted temperature of the air [K]", fit.values[0].value, close(best[0], 0, 1e-6));
  check_closed_form("fitted power of a drag [W]", fit.values[1].value, close(best[1], 0, 1e-4));
  check_closed_form("standard error of that temperature [K]", fit.values[0].error,
                    close(s * std::sqrt(inverse(0, 0)), 0, 1e-4));
  check_closed_form("standard error of that power [W]", fit.values[1].error,
                    close(s * std::sqrt(inverse(1, 1)), 0, 1e-4));
  check_closed_form("lower end of its 95 % interval [W]", fit.values[1].low,
                    close(best[1] - student * s * std::sqrt(inverse(1, 1)), 0, 1e-4));
  check_closed_form("upper end of its 95 % interval [W]", fit.values[1].high,
                    close(best[1] + student * s * std::sqrt(inverse(1, 1)), 0, 1e-4));
  check_closed_form("correlation of the two [-]", fit.correlation[1],
                    close(inverse(0, 1) / std::sqrt(inverse(0, 0) * inverse(1, 1)), 0, 1e-4));
  check_closed_form("standard deviation of the readings [K]",
                    fit.found_error[static_cast<std::size_t>(FitQuantity::Temperature)], close(s, 0, 1e-4));
  CHECK(fit.t_quantile == close(student, 5e-7, 0));
  CHECK(fit.freedom == 8);
  CHECK(fit.chi_square == close(8, 0, 1e-3)); // by the error found from these residuals

  // The same readings with their error told: the normal quantile, and weights that are not all one.
  for (std::size_t i = 0; i < 10; ++i) {
    example.request.readings[i].error = i < 5 ? 0.3 : 0.6;
  }
  Eigen::Matrix<double, 10, 1> weight;
  weight << Eigen::Matrix<double, 5, 1>::Constant(1 / 0.09), Eigen::Matrix<double, 5, 1>::Constant(1 / 0.36);
  const Eigen::Matrix2d covariance = (x.transpose() * weight.asDiagonal() * x).inverse();
  const Eigen::Vector2d weighted = covariance * x.transpose() * weight.asDiagonal() * y;
  const FitResult told = clampfade::fit(example.request);
  check_closed_form("power fitted with errors given [W]", told.values[1].value, close(weighted[1], 0, 1e-4));
  check_closed_form("its standard error [W]", told.values[1].error, close(std::sqrt(covariance(1, 1)), 0, 1e-4));
  CHECK(told.values[1].high - told.values[1].value ==
        close(1.959964 * std::sqrt(covariance(1, 1)), 0, 2e-4)); // normal quantile (tables)
  const Eigen::Matrix<double, 10, 1> left = y - x * weighted;
  CHECK(told.chi_square == close(left.cwiseProduct(weight).dot(left), 0, 1e-3)); // 3e-5 K of 0.3 K, twice
}

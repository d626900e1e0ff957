// Checks: the program's numerics against the GNU Scientific Library and Boost.Math.
// Problem: (1) one stud with every mechanism at work, an hour of rising and falling heat while rolling; (2) the turning
//   share's elliptic integrals, next to x = 1 too; (3) the ring's sparse solve; (4) a settling mode with a ramping
//   target.
// Reference: (1) GSL's variable-coefficient BDF on LossOde; (2) Carlson's forms and the definition's quadrature in GSL,
//   the same forms in Boost.Math; (3) GSL's dense LU of a matrix assembled here; (4) GSL's Runge-Kutta 8(9).
// Tolerance: (1) 1e-5 of the first clamp; the program at 1e-8 a step, GSL at 1e-10, since at 1e-8 its error estimate
//   misses a mode that stops at the turn of its target (4.6e-4, seen); (2) 3e-12: next to x = 1 the modulus keeps half
//   the digits of 1 - x; (3) 1e-10 of the largest force: forces are converged to 1e-11; (4) 1e-9 of the target's range,
//   the kink at the target included.
// Fails if: any law's exact step, the force balance, an elliptic integral or a place in the sparse matrix is wrong.
#include "models/loosening.hpp"
#include "models/settling_law.hpp"
#include "tests/reference/course.hpp"
#include "tests/support/checks.hpp"

#include <boost/math/special_functions/ellint_rd.hpp>
#include <boost/math/special_functions/ellint_rf.hpp>
#include <doctest/doctest.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_odeiv2.h>
#include <gsl/gsl_sf_ellint.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <random>

using namespace clampfade;
using test::Bench;
using test::check_library;
using test::close;
using test::LossOde;
using test::ScenarioText;

namespace {

/// GSL calls through C, which no exception may cross.
template <class F>
int guarded(F&& f) {
  try {
    f();
    return GSL_SUCCESS;
  } catch (const std::exception&) {
    return GSL_EBADFUNC;
  }
}

/// LossOde as GSL sees it.
class GslOde {
public:
  explicit GslOde(const LossOde& ode) : ode_(ode), system_{rate, jacobian, static_cast<std::size_t>(ode.size()), this} {
    gsl_set_error_handler_off();
  }
  /// Moves y from t0 to t1; absolute and relative tolerance in y.
  void run(Eigen::VectorXd& y, double t0, double t1, double tolerance) {
    const std::unique_ptr<gsl_odeiv2_driver, decltype(&gsl_odeiv2_driver_free)> driver(
        gsl_odeiv2_driver_alloc_y_new(&system_, gsl_odeiv2_step_msbdf, 1e-6, tolerance, tolerance),
        gsl_odeiv2_driver_free);
    double t = t0;
    REQUIRE(gsl_odeiv2_driver_apply(driver.get(), &t, t1, y.data()) == GSL_SUCCESS);
  }

private:
  static Eigen::VectorXd vector(const GslOde* self, const double* y) {
    return Eigen::Map<const Eigen::VectorXd>(y, self->ode_.size());
  }
  static int rate(double t, const double* y, double* f, void* p) {
    const auto* self = static_cast<const GslOde*>(p);
    return guarded([&] {
      Eigen::VectorXd dy;
      self->ode_.rate(t, vector(self, y), dy);
      std::copy_n(dy.data(), dy.size(), f);
    });
  }
  static int jacobian(double t, const double* y, double* dfdy, double* dfdt, void* p) {
    const auto* self = static_cast<const GslOde*>(p);
    return guarded([&] {
      const Eigen::Index n = self->ode_.size();
      Eigen::MatrixXd j;
      self->ode_.jacobian(t, vector(self, y), j);
      Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(dfdy, n, n) = j;
      Eigen::VectorXd now;
      Eigen::VectorXd later;
      self->ode_.rate(t, vector(self, y), now);
      self->ode_.rate(t + 1e-4, vector(self, y), later);
      Eigen::Map<Eigen::VectorXd>(dfdt, n) = (later - now) / 1e-4;
    });
  }
  const LossOde& ode_;
  gsl_odeiv2_system system_;
};

/// The turning share from Carlson's integrals, which keep their digits next to modulus 1: K = R_F(0, k'^2, 1),
/// K - E = k^2/3 R_D(0, k'^2, 1).
template <class Rf, class Rd>
double carlson_share(double x, Rf rf, Rd rd) {
  const double complement = (1 - x) / (1 + x) * ((1 - x) / (1 + x));
  const double first = rf(complement);
  const double gap = 4 * x / ((1 + x) * (1 + x)) / 3 * rd(complement);
  return 2 / kPi * (first - gap - (1 - x) / (2 * x) * gap);
}

double integrand(double angle, void* p) {
  const double x = *static_cast<double*>(p);
  return (x + std::cos(angle)) / std::sqrt(1 + x * x + 2 * x * std::cos(angle)) / kPi;
}

struct Ramp {
  double rate, from, slope;
};
int follow(double t, const double* y, double* f, void* p) {
  const auto* r = static_cast<const Ramp*>(p);
  f[0] = r->rate * std::max(0.0, r->from + r->slope * t - y[0]);
  return GSL_SUCCESS;
}

} // namespace

TEST_CASE("gsl: the Jacobian of the plain equations is their derivative") {
  const ScenarioText s = test::every_mechanism();
  Bench bench(s);
  bench.tighten_all(120e3);
  LossOde ode(bench.scenario, bench.joint, test::advances(bench), 120e3);
  const RoadLoad road{{5.85e3, 5e3, 0, 0}, 1, 2.4};
  ode.span(road, [](double, std::vector<double>& out) { out = {325.15}; });
  Eigen::VectorXd y = ode.start();
  Eigen::VectorXd dy;
  ode.rate(0, y, dy);
  y += dy; // every variable off its start
  Eigen::MatrixXd exact;
  ode.jacobian(0, y, exact);
  Eigen::MatrixXd other(exact.rows(), exact.cols());
  for (Eigen::Index j = 0; j < y.size(); ++j) {
    Eigen::VectorXd a = y;
    Eigen::VectorXd b = y;
    Eigen::VectorXd fa;
    Eigen::VectorXd fb;
    a[j] += 1e-5;
    b[j] -= 1e-5;
    ode.rate(0, a, fa);
    ode.rate(0, b, fb);
    other.col(j) = (fa - fb) / 2e-5;
  }
  for (Eigen::Index i = 0; i < y.size(); ++i) {
    CAPTURE(i);
    const double size = exact.row(i).cwiseAbs().maxCoeff();
    CHECK((exact.row(i) - other.row(i)).cwiseAbs().maxCoeff() < 1e-4 * size + 1e-12);
  }
  CHECK(exact.cwiseAbs().maxCoeff() > 1e-3);
}

TEST_CASE("gsl: an hour of one stud with every mechanism by an implicit multistep method") {
  const ScenarioText s = test::every_mechanism();
  Bench bench(s, 1e-8);
  bench.tighten_all(120e3);
  const double start = bench.clamp();
  LossOde ode(bench.scenario, bench.joint, test::advances(bench), start);
  const auto heat = [](double t) {
    return 293.15 + 85 * (1 - std::cos(2 * kPi * t / 3600)) / 2 + 5 * std::sin(2 * kPi * t / 600);
  };
  // Quarters of an hour: standing, cruising, braking all along, cruising.
  const std::vector<RoadLoad> roads = {
      {}, {{5.85e3, 0, 0, 0}, 2, 2.6}, {{5.85e3, 5e3, 0, 0}, 1, 2.4}, {{5.85e3, 0, 0, 0}, 2, 2.6}};
  GslOde gsl(ode);
  Eigen::VectorXd y = ode.start();
  for (std::size_t quarter = 0; quarter < roads.size(); ++quarter) {
    const auto local = [&](double t) { return heat(900 * static_cast<double>(quarter) + t); };
    ode.span(roads[quarter], [&](double t, std::vector<double>& out) { out = {local(t)}; });
    if (quarter == 0) {
      CHECK(ode.clamp(0, y)[0] == close(start, 1e-9 * start, 0));
    }
    for (int part = 0; part < 3; ++part) {
      gsl.run(y, 300 * part, 300 * (part + 1), 1e-10);
      bench.hold(
          300, [&](double t) { return local(300 * part + t); }, roads[quarter]);
      const int minutes = 15 * static_cast<int>(quarter) + 5 * (part + 1);
      CAPTURE(minutes);
      check_library("clamp [N]", "GSL 2.7.1, BDF at 1e-10", bench.clamp(),
                    close(ode.clamp(300 * (part + 1), y)[0], 1e-5 * start, 0));
    }
  }
  for (const Mechanism m : test::mechanisms_at_work()) {
    const std::string mechanism(kMechanismNames[index(m)]);
    CAPTURE(mechanism);
    CHECK(bench.loss(m) > 1e-9);
    check_library("thickness lost in the hour [um]", "GSL 2.7.1, BDF at 1e-10", bench.loss(m) * 1e6,
                  close(ode.loss(y, 0, m) * 1e6, 1e-4, 1e-3));
  }
}

TEST_CASE("gsl: turning share by Carlson's integrals in GSL and Boost, and by quadrature of its definition") {
  const auto gsl_rf = [](double c) { return gsl_sf_ellint_RF(0, c, 1, GSL_PREC_DOUBLE); };
  const auto gsl_rd = [](double c) { return gsl_sf_ellint_RD(0, c, 1, GSL_PREC_DOUBLE); };
  const auto boost_rf = [](double c) { return boost::math::ellint_rf(0.0, c, 1.0); };
  const auto boost_rd = [](double c) { return boost::math::ellint_rd(0.0, c, 1.0); };
  std::vector<double> xs;
  for (double x = 1e-2; x < 1e3; x *= 1.1) {
    xs.push_back(x);
  }
  for (double d = 1e-12; d < 0.1; d *= 10) { // where the modulus rounds to one
    xs.push_back(1 - d);
    xs.push_back(1 + d);
  }
  for (const double x : xs) {
    CAPTURE(x);
    // E and K - E nearly cancel for small x. A few of the many stand in the table.
    const double lost = 1e-15 / x;
    CHECK(turning_share(x) == close(carlson_share(x, gsl_rf, gsl_rd), lost, 3e-12));
    CHECK(turning_share(x) == close(carlson_share(x, boost_rf, boost_rd), lost, 3e-12));
  }
  for (const double x : {0.1, 0.9, 1 - 1e-9, 1 + 1e-9, 1.5, 20.0}) {
    const double x_minus_one = x - 1;
    CAPTURE(x_minus_one);
    check_library("turning share [1]", "GSL 2.7.1, Carlson's integrals", turning_share(x),
                  close(carlson_share(x, gsl_rf, gsl_rd), 1e-14, 3e-12));
    check_library("turning share [1]", "Boost.Math 1.74, Carlson's integrals", turning_share(x),
                  close(carlson_share(x, boost_rf, boost_rd), 1e-14, 3e-12));
  }
  const std::unique_ptr<gsl_integration_workspace, decltype(&gsl_integration_workspace_free)> space(
      gsl_integration_workspace_alloc(2000), gsl_integration_workspace_free);
  for (double x : {1e-6, 1e-4, 9.99e-4, 1.001e-3, 0.1, 0.7, 0.99, 1.01, 2.0, 50.0}) {
    CAPTURE(x);
    gsl_function f{integrand, &x};
    double value = 0;
    double error = 0;
    REQUIRE(gsl_integration_qag(&f, 0, kPi, 1e-14, 1e-11, 2000, GSL_INTEG_GAUSS61, space.get(), &value, &error) ==
            GSL_SUCCESS);
    check_library("turning share by its definition [1]", "GSL 2.7.1, adaptive Gauss-Kronrod", turning_share(x),
                  close(value, 2e-13, 2e-10));
  }
}

TEST_CASE("gsl: the ring's sparse solve equals a dense factorisation") {
  std::mt19937 random(7); // a fixed sequence
  std::uniform_real_distribution<double> unit(0.2, 1.0);
  for (const std::size_t columns : {std::size_t{3}, std::size_t{8}, std::size_t{10}}) {
    const std::size_t segments = 5;
    std::vector<double> compliance;
    std::vector<double> ring;
    std::vector<double> advance;
    for (std::size_t i = 0; i < columns * segments; ++i) {
      compliance.push_back(1e-9 * unit(random)); // every column its own
    }
    for (std::size_t k = 0; k + 1 < segments; ++k) {
      ring.push_back(3e8 * unit(random));
    }
    for (std::size_t c = 0; c < columns; ++c) {
      advance.push_back(3e-4 + 3e-5 * unit(random));
    }
    const Shorten shorten = [&](std::span<const double> f, Balance& b) {
      b.closing.resize(f.size());
      b.slopes = compliance;
      for (std::size_t i = 0; i < f.size(); ++i) {
        b.closing[i] = compliance[i] * f[i] - (i % segments == segments - 1 ? advance[i / segments] : 0);
      }
    };
    Equilibrium equilibrium(columns, segments, std::vector<char>(segments, 0));
    Rest rest{std::vector<double>(columns * segments, 1e5), std::vector<double>(columns * (segments - 1), 0.0)};
    equilibrium.solve(rest, shorten, ring, {}, 1e5);

    const std::size_t forces = columns * segments;
    const std::size_t faces = segments - 1;
    const std::size_t n = forces + columns * faces;
    const std::unique_ptr<gsl_matrix, decltype(&gsl_matrix_free)> a(gsl_matrix_calloc(n, n), gsl_matrix_free);
    const std::unique_ptr<gsl_vector, decltype(&gsl_vector_free)> b(gsl_vector_calloc(n), gsl_vector_free);
    const std::unique_ptr<gsl_vector, decltype(&gsl_vector_free)> x(gsl_vector_calloc(n), gsl_vector_free);
    const auto add = [&](std::size_t i, std::size_t j, double v) {
      gsl_matrix_set(a.get(), i, j, gsl_matrix_get(a.get(), i, j) + v);
    };
    for (std::size_t c = 0; c < columns; ++c) {
      for (std::size_t s = 0; s < segments; ++s) {
        const std::size_t row = c * segments + s;
        add(row, row, compliance[row]);
        if (s < faces) {
          add(row, forces + c * faces + s, -1);
        }
        if (s > 0) {
          add(row, forces + c * faces + s - 1, 1);
        }
      }
      gsl_vector_set(b.get(), c * segments + faces, advance[c]);
      for (std::size_t k = 0; k < faces; ++k) {
        const std::size_t row = forces + c * faces + k;
        add(row, c * segments + k + 1, 1);
        add(row, c * segments + k, -1);
        for (const std::size_t next : {(c + 1) % columns, (c + columns - 1) % columns}) {
          add(row, row, -ring[k]);
          add(row, forces + next * faces + k, ring[k]);
        }
      }
    }
    const std::unique_ptr<gsl_permutation, decltype(&gsl_permutation_free)> order(gsl_permutation_alloc(n),
                                                                                  gsl_permutation_free);
    int sign = 0;
    REQUIRE(gsl_linalg_LU_decomp(a.get(), order.get(), &sign) == GSL_SUCCESS);
    REQUIRE(gsl_linalg_LU_solve(a.get(), order.get(), b.get(), x.get()) == GSL_SUCCESS);
    const auto at =
        static_cast<std::size_t>(std::max_element(rest.forces.begin(), rest.forces.end()) - rest.forces.begin());
    const double largest = rest.forces[at];
    const double smallest = *std::min_element(rest.forces.begin(), rest.forces.end());
    CHECK(smallest > 0); // no face opens: both solve the same equations
    CHECK(largest > 1.01 * smallest);
    CAPTURE(columns);
    check_library("largest force of the ring [N]", "GSL 2.7.1, dense LU", rest.forces[at],
                  close(gsl_vector_get(x.get(), at), 1e-10 * largest, 0));
    for (std::size_t i = 0; i < forces; ++i) {
      CHECK(rest.forces[i] == close(gsl_vector_get(x.get(), i), 1e-10 * largest, 0));
    }
  }
}

TEST_CASE("gsl: a settling mode with a ramping target is exact") {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  int met = 0;
  for (int i = 0; i < 200; ++i) {
    const double a = unit(random);
    const double b = unit(random);
    const double start = unit(random);
    const double z = std::pow(10, -3 + 5 * unit(random)); // rate times the step of 1 s
    Ramp ramp{z, a, b - a};
    gsl_odeiv2_system system{follow, nullptr, 1, &ramp};
    double y = start;
    double t = 0;
    const std::unique_ptr<gsl_odeiv2_driver, decltype(&gsl_odeiv2_driver_free)> driver(
        gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1e-6, 1e-13, 0), gsl_odeiv2_driver_free);
    REQUIRE(gsl_odeiv2_driver_apply(driver.get(), &t, 1.0, &y) == GSL_SUCCESS);
    const double decay = std::exp(-z);
    const ModeEnd own = settle(start, a, b, z, decay, (1 - decay) / z);
    CAPTURE(a);
    CAPTURE(b);
    CAPTURE(start);
    CAPTURE(z);
    CHECK(own.value == close(y, 1e-9, 0));
    met += (start < a) != (own.value < b) ? 1 : 0;
  }
  CHECK(met > 20); // the target is passed under way in many of them
}

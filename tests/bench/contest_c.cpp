// The contest's problem behind plain C functions, so that SciPy integrates the same compiled right-hand side.
#include "tests/bench/contest.hpp"

#include <exception>
#include <limits>

using clampfade::test::Contest;
using clampfade::test::Leg;

namespace {
Eigen::VectorXd vector(Contest* p, const double* y) { return Eigen::Map<const Eigen::VectorXd>(y, p->ode().size()); }
} // namespace

extern "C" {

/// Null where there is no such problem.
Contest* contest_new(const char* problem, int stops) {
  try {
    return new Contest(problem, stops);
  } catch (const std::exception&) {
    return nullptr;
  }
}
void contest_delete(Contest* p) { delete p; }
long contest_size(Contest* p) { return static_cast<long>(p->ode().size()); }
long contest_studs(Contest* p) { return static_cast<long>(p->bench.wheel.columns()); }
void contest_start(Contest* p, double* y) { Eigen::Map<Eigen::VectorXd>(y, p->ode().size()) = p->ode().start(); }

/// Length of the next span [s]; negative when the day is over.
double contest_next(Contest* p) {
  const Leg* leg = p->next();
  return leg != nullptr ? leg->duration : -1;
}

/// Not a number where the equations do not hold: the integrator then tries a shorter step.
void contest_rate(Contest* p, double t, const double* y, double* dy) {
  Eigen::Map<Eigen::VectorXd> out(dy, p->ode().size());
  try {
    Eigen::VectorXd rates;
    p->ode().rate(t, vector(p, y), rates);
    out = rates;
  } catch (const std::exception&) {
    out.setConstant(std::numeric_limits<double>::quiet_NaN());
  }
}

/// Row by row.
void contest_jacobian(Contest* p, double t, const double* y, double* out) {
  using Rows = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  Eigen::Map<Rows> j(out, p->ode().size(), p->ode().size());
  try {
    Eigen::MatrixXd own;
    p->ode().jacobian(t, vector(p, y), own);
    j = own;
  } catch (const std::exception&) {
    j.setConstant(std::numeric_limits<double>::quiet_NaN());
  }
}

void contest_clamp(Contest* p, double t, const double* y, double* out) {
  const std::vector<double> clamps = p->ode().clamp(t, vector(p, y));
  std::copy(clamps.begin(), clamps.end(), out);
}

} // extern "C"

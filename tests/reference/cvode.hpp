// SUNDIALS' CVODE over the independent equations of loss_ode.hpp, for the checks and for the benchmarks.
#pragma once

#include "tests/reference/loss_ode.hpp"

#include <cvode/cvode.h>
#include <cvode/cvode_bandpre.h>
#include <cvode/cvode_diag.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <stdexcept>
#include <string>
#include <time.h>

namespace clampfade::test {

/// Processor time of this process [s]: others on the machine hardly disturb it.
inline double processor_time() {
  timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

/// LossOde under CVODE's BDF.
class Cvode {
public:
  /// spec: the linear solver, dense|band:K|diagonal|gmres|gmres-band:K, where band:K knows K diagonals to either side,
  /// diagonal one by differences, gmres-band:K preconditions with such a matrix; @N behind it keeps BDF to order N.
  /// split: whether to time the right-hand side and its Jacobian, which costs something itself. Throws
  /// std::runtime_error for a solver that is none of those.
  Cvode(const LossOde& ode, const std::string& spec, double tolerance, bool split = false) : ode_(ode), split_(split) {
    need(SUNContext_Create(nullptr, &context_) == 0);
    y_ = N_VNew_Serial(ode.size(), context_);
    memory_ = CVodeCreate(CV_BDF, context_);
    const Eigen::VectorXd y = ode.start();
    std::copy_n(y.data(), y.size(), N_VGetArrayPointer(y_));
    need(CVodeInit(memory_, rate, 0, y_) == 0);
    need(CVodeSStolerances(memory_, tolerance, tolerance) == 0);
    need(CVodeSetUserData(memory_, this) == 0);
    const std::size_t sign = spec.find('@');
    if (sign != std::string::npos) {
      need(CVodeSetMaxOrd(memory_, std::stoi(spec.substr(sign + 1))) == 0);
    }
    const std::string linear = spec.substr(0, sign);
    const std::size_t colon = linear.find(':');
    const std::string kind = linear.substr(0, colon);
    const auto band = colon == std::string::npos
                          ? sunindextype{0}
                          : std::min<sunindextype>(std::stol(linear.substr(colon + 1)), ode.size() - 1);
    if (kind == "dense") {
      matrix_ = SUNDenseMatrix(ode.size(), ode.size(), context_);
      solver_ = SUNLinSol_Dense(y_, matrix_, context_);
    } else if (kind == "band") {
      matrix_ = SUNBandMatrix(ode.size(), band, band, context_);
      solver_ = SUNLinSol_Band(y_, matrix_, context_);
      band_ = band;
    } else if (kind == "diagonal") {
      need(CVDiag(memory_) == 0);
    } else if (kind == "gmres" || kind == "gmres-band") {
      solver_ = SUNLinSol_SPGMR(y_, kind == "gmres" ? SUN_PREC_NONE : SUN_PREC_LEFT, 0, context_);
    } else {
      throw std::runtime_error("no linear solver " + linear);
    }
    if (solver_ != nullptr) {
      need(CVodeSetLinearSolver(memory_, solver_, matrix_) == 0);
    }
    if (matrix_ != nullptr) {
      need(CVodeSetJacFn(memory_, jacobian) == 0);
    } else if (kind == "gmres-band") {
      need(CVBandPrecInit(memory_, ode.size(), band, band) == 0);
    }
    need(CVodeSetMaxNumSteps(memory_, 10000000) == 0);
  }
  Cvode(const Cvode&) = delete;
  Cvode& operator=(const Cvode&) = delete;
  ~Cvode() {
    CVodeFree(&memory_);
    if (solver_ != nullptr) {
      SUNLinSolFree(solver_);
    }
    if (matrix_ != nullptr) {
      SUNMatDestroy(matrix_);
    }
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  /// One span from its start; returns the variables at its end.
  Eigen::VectorXd run(double duration) {
    need(CVodeReInit(memory_, 0, y_) == 0);
    need(CVodeSetStopTime(memory_, duration) == 0);
    double t = 0;
    need(CVode(memory_, duration, y_, &t, CV_NORMAL) >= 0);
    long int count = 0;
    need(CVodeGetNumSteps(memory_, &count) == 0);
    steps += count;
    return Eigen::Map<const Eigen::VectorXd>(N_VGetArrayPointer(y_), ode_.size());
  }
  long int steps = 0, rates = 0, jacobians = 0;
  double rate_seconds = 0, jacobian_seconds = 0;

private:
  static void need(bool done) {
    if (!done) {
      throw std::runtime_error("CVODE failed");
    }
  }
  static Eigen::VectorXd vector(const Cvode* self, N_Vector y) {
    return Eigen::Map<const Eigen::VectorXd>(N_VGetArrayPointer(y), self->ode_.size());
  }
  // Called through C, which no exception may cross; a positive answer asks for a shorter step.
  static int rate(double t, N_Vector y, N_Vector out, void* p) {
    try {
      auto* self = static_cast<Cvode*>(p);
      const double start = self->split_ ? processor_time() : 0;
      Eigen::VectorXd dy;
      self->ode_.rate(t, vector(self, y), dy);
      std::copy_n(dy.data(), dy.size(), N_VGetArrayPointer(out));
      self->rate_seconds += self->split_ ? processor_time() - start : 0;
      ++self->rates;
      return 0;
    } catch (const std::exception&) {
      return 1;
    }
  }
  static int jacobian(double t, N_Vector y, N_Vector, SUNMatrix out, void* p, N_Vector, N_Vector, N_Vector) {
    try {
      auto* self = static_cast<Cvode*>(p);
      const double start = self->split_ ? processor_time() : 0;
      Eigen::MatrixXd j;
      self->ode_.jacobian(t, vector(self, y), j);
      if (SUNMatGetID(out) == SUNMATRIX_DENSE) {
        std::copy_n(j.data(), j.size(), SUNDenseMatrix_Data(out)); // both column by column
      } else {
        for (Eigen::Index c = 0; c < j.cols(); ++c) {
          for (Eigen::Index r = std::max<Eigen::Index>(0, c - self->band_);
               r <= std::min<Eigen::Index>(j.rows() - 1, c + self->band_); ++r) {
            SM_ELEMENT_B(out, r, c) = j(r, c);
          }
        }
      }
      self->jacobian_seconds += self->split_ ? processor_time() - start : 0;
      ++self->jacobians;
      return 0;
    } catch (const std::exception&) {
      return 1;
    }
  }
  const LossOde& ode_;
  bool split_;
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
  void* memory_ = nullptr;
  sunindextype band_ = 0;
};

} // namespace clampfade::test

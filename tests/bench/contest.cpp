// One integrator over the contest's day, timed from inside.
//   bench_contest PROBLEM STOPS own TOLERANCE
//   bench_contest PROBLEM STOPS dense|band:K|diagonal|gmres|gmres-band:K TOLERANCE     CVODE's BDF with that linear
//   solver
// Prints JSON: processor seconds of the integration alone, with the word "split" at the end also those of them spent in
// the right-hand side and its Jacobian (looking at the clock that often costs something itself), steps,
// and the clamp of every stud at the end of every span. band:K knows K diagonals to either side, which ignores what
// lies beyond them; gmres-band:K preconditions with such a matrix, diagonal knows one diagonal, by differences. @N
// after any of them keeps BDF to order N.
#include "tests/bench/contest.hpp"

#include <cvode/cvode.h>
#include <cvode/cvode_bandpre.h>
#include <cvode/cvode_diag.h>
#include <nlohmann/json.hpp>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <iostream>
#include <stdexcept>
#include <time.h>

using namespace clampfade;
using nlohmann::json;
using test::Contest;
using test::Leg;
using test::LossOde;

namespace {

constexpr double kLongestOfAStop = 600; // s; a longer span is a park

/// Processor time of this process [s]: others on the machine hardly disturb it.
double now() {
  timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

/// LossOde under CVODE's BDF.
class Cvode {
public:
  Cvode(const LossOde& ode, const std::string& spec, double tolerance, bool split) : ode_(ode), split_(split) {
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
      const double start = self->split_ ? now() : 0;
      Eigen::VectorXd dy;
      self->ode_.rate(t, vector(self, y), dy);
      std::copy_n(dy.data(), dy.size(), N_VGetArrayPointer(out));
      self->rate_seconds += self->split_ ? now() - start : 0;
      ++self->rates;
      return 0;
    } catch (const std::exception&) {
      return 1;
    }
  }
  static int jacobian(double t, N_Vector y, N_Vector, SUNMatrix out, void* p, N_Vector, N_Vector, N_Vector) {
    try {
      auto* self = static_cast<Cvode*>(p);
      const double start = self->split_ ? now() : 0;
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
      self->jacobian_seconds += self->split_ ? now() - start : 0;
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

json own(const std::string& problem, int stops, double tolerance) {
  Contest contest(problem, stops, tolerance);
  test::Bench& bench = contest.bench;
  SettlingStepper stepper;
  double step = first_step(bench.wheel, bench.cold(), 0);
  double seconds = 0;
  double in_stops = 0;
  std::vector<double> clamps;
  while (const Leg* leg = contest.next()) {
    const double start = now();
    SpanSystem system(bench.wheel, leg->road, contest.nodes(), tolerance);
    system.run(stepper, bench.x, 0, leg->duration, step);
    const double took = now() - start;
    seconds += took;
    in_stops += leg->duration < kLongestOfAStop ? took : 0;
    for (std::size_t c = 0; c < bench.wheel.columns(); ++c) {
      clamps.push_back(bench.clamp(c));
    }
  }
  return {{"seconds", seconds}, {"stop_seconds", in_stops}, {"steps", stepper.counts().accepted},
          {"clamps", clamps},   {"spans", contest.spans()}, {"variables", contest.ode().size()},
          {"rate_seconds", 0},  {"jacobian_seconds", 0},    {"rates", 0},
          {"jacobians", 0}};
}

json cvode(const std::string& problem, int stops, const std::string& linear, double tolerance, bool split) {
  Contest contest(problem, stops);
  Cvode cvode(contest.ode(), linear, tolerance, split);
  double seconds = 0;
  double in_stops = 0;
  std::vector<double> clamps;
  while (const Leg* leg = contest.next()) {
    const double start = now();
    const Eigen::VectorXd y = cvode.run(leg->duration);
    const double took = now() - start;
    seconds += took;
    in_stops += leg->duration < kLongestOfAStop ? took : 0;
    for (const double clamp : contest.ode().clamp(leg->duration, y)) {
      clamps.push_back(clamp);
    }
  }
  return {{"seconds", seconds},
          {"stop_seconds", in_stops},
          {"steps", cvode.steps},
          {"clamps", clamps},
          {"spans", contest.spans()},
          {"variables", contest.ode().size()},
          {"rate_seconds", cvode.rate_seconds},
          {"jacobian_seconds", cvode.jacobian_seconds},
          {"rates", cvode.rates},
          {"jacobians", cvode.jacobians}};
}

} // namespace

int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  if (words.size() != 4 && (words.size() != 5 || words[4] != "split")) {
    std::cerr << "usage: bench_contest PROBLEM STOPS own|dense|band:K|diagonal|gmres|gmres-band:K TOLERANCE [split]\n";
    return 2;
  }
  try {
    const int stops = std::stoi(words[1]);
    const double tolerance = std::stod(words[3]);
    std::cout << (words[2] == "own" ? own(words[0], stops, tolerance)
                                    : cvode(words[0], stops, words[2], tolerance, words.size() == 5))
                     .dump()
              << '\n';
    return 0;
  } catch (const std::exception& e) {
    std::cerr << "bench_contest: " << e.what() << '\n';
    return 1;
  }
}

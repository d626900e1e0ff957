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
#include "tests/reference/cvode.hpp"

#include <nlohmann/json.hpp>

#include <iostream>
#include <stdexcept>

using namespace clampfade;
using nlohmann::json;
using test::Contest;
using test::Cvode;
using test::Leg;
using test::processor_time;

namespace {

constexpr double kLongestOfAStop = 600; // s; a longer span is a park

json own(const std::string& problem, int stops, double tolerance) {
  Contest contest(problem, stops, tolerance);
  test::Bench& bench = contest.bench;
  SettlingStepper stepper;
  double step = first_step(bench.wheel, bench.cold(), 0);
  double seconds = 0;
  double in_stops = 0;
  std::vector<double> clamps;
  while (const Leg* leg = contest.next()) {
    const double start = processor_time();
    SpanSystem system(bench.wheel, leg->road, contest.nodes(), tolerance);
    system.run(stepper, bench.x, 0, leg->duration, step);
    const double took = processor_time() - start;
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
    const double start = processor_time();
    const Eigen::VectorXd y = cvode.run(leg->duration);
    const double took = processor_time() - start;
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

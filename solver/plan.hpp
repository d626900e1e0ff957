// When to retorque: a scenario is run without any retorque, with one and with two at instants of a ladder, and what
// each run came to is kept. Knows neither files nor formats.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/plan_result.hpp"
#include "solver/scenario.hpp"
#include "solver/wrench_stress.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace clampfade {

/// Instants a plan may have at most: their pairs grow with the square.
inline constexpr std::size_t kMostInstants = 20;

struct PlanRequest {
  std::vector<When> after;   ///< the ladder; empty: default_ladder
  std::size_t retorques = 2; ///< at most so many in a case, 1 or 2
};

/// About six instants spread geometrically over the run, in whole days: from the end of the first working day to three
/// quarters of the run. Sorted, each once.
std::vector<When> default_ladder(const Scenario& scenario);

/// The scenario with its own retorques taken out and all other services kept.
Scenario without_retorques(const Scenario& scenario);

/// A plan that is still to be run: its cases in their order, with the instants asked for and no outcome yet. Instants
/// at which the wrench would come at the same stop count once; what is left out is told in `warnings`. Throws
/// InputError for an instant at which the run never has a stop, for none, and for more than kMostInstants.
Plan lay_out(const Scenario& scenario, const PlanRequest& request);

/// The scenario of one case: the case's retorques in the place of its own. They use the torque of the scenario's own
/// first retorque where that names one, else the torque of tightening. Records fall on the plan's common axis and
/// wherever the scenario asks for them.
Scenario case_scenario(const Scenario& scenario, const Plan& plan, const PlanCase& which);

/// Keeps of a run what a plan says about it.
class OutcomeSink final : public Sink {
public:
  /// `asked` has the retorques asked for; `axis` the instants of the curve [s], rising.
  OutcomeSink(PlanCase asked, const std::vector<double>& axis);

  void begin(const RunHeader& header) override;
  void act(const ActRow& row) override;
  void event(const EventRow& row) override;
  void record(const RecordRow& row) override;
  void steps(const StepsRow& row) override;
  void checkpoint(const Checkpoint& checkpoint) override;
  void end(RunStatus status, const std::string& text, const std::vector<std::string>& warnings) override;

  /// The case with its outcome; complete after `end`.
  [[nodiscard]] const PlanCase& outcome() const { return case_; }
  [[nodiscard]] const std::vector<double>& distance() const { return distance_; } ///< along the axis [m]
  [[nodiscard]] double required_clamp() const { return required_; }               ///< [N]
  [[nodiscard]] double first_clamp() const { return first_; }                     ///< weakest, as tightened [N]
  [[nodiscard]] double first_clamp_mean() const { return first_mean_; }           ///< [N]
  [[nodiscard]] const std::vector<std::string>& warnings() const { return warnings_; }

private:
  struct Clamps {
    double lowest = kNotANumber, mean = kNotANumber;
    std::size_t stud = 0;
  };
  [[nodiscard]] Clamps clamps(const RecordRow& row) const;

  PlanCase case_;
  std::vector<double> axis_, distance_;
  std::vector<char> removed_;  ///< nut off, for each stud
  std::vector<ActRow> acts_;   ///< of the retorque that is going on
  RecordRow last_;             ///< record before
  std::vector<double> anchor_; ///< cold clamp of each stud right after the wrench last turned its nut [N]
  WrenchStress wrench_;
  std::size_t done_ = 0;   ///< retorques done
  bool retorqued_ = false; ///< the next record stands just after a retorque
  bool started_ = false;   ///< a record was seen
  std::size_t next_ = 0;   ///< on the axis
  double required_ = 0, first_ = kNotANumber, first_mean_ = kNotANumber;
  std::vector<std::string> warnings_;
};

/// Runs all cases on `jobs` threads (at least 1) and puts the outcomes into the laid-out plan; their order and values
/// do not depend on the number of threads. A case whose numerics fail says so in its status. False if it was asked to
/// stop; the plan is then of no use. Throws what a case throws besides NumericalError.
bool run_plan(const Scenario& scenario, Plan& plan, std::size_t jobs, const CaseProgress& progress = {});

} // namespace clampfade

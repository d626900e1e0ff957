// Studies: many cases of one scenario, laid out and run. Knows neither files nor formats.
#pragma once

#include "solver/case_runner.hpp"
#include "solver/scenario.hpp"
#include "solver/sink.hpp"
#include "solver/study_result.hpp"
#include "solver/study_spec.hpp"
#include "solver/temperature.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

namespace clampfade {

/// Cases that a study may have at most: the outcomes of all of them are held in memory, some 4 kB each.
inline constexpr std::size_t kMostCases = 100000;
/// Instants of a curve at most.
inline constexpr std::size_t kMostStudyInstants = 200;

struct SampleRequest {
  std::size_t count = 0; ///< wheels, at least 1; of a sensitivity design base wheels
  std::uint64_t seed = 1;
  StudySampling sampling = StudySampling::Sobol;
  bool sensitivity = false; ///< see lay_out_sample
};

/// A study that is still to be run: what all cases share, without cases. The time axis has whole days, or for a run of
/// less than two weeks whole hours, and ends at the end of the base scenario; /distance is known where the duty is the
/// same in all cases.
Study lay_out(const Scenario& base, std::string scenario_text);

/// Gives the study the cases of a sweep over its axes: a grid in C order, or, as a list, one case for each position
/// that all axes share. Throws InputError for no axis, too many cases, and a list of axes of unlike lengths.
void lay_out_sweep(Study& study, std::vector<StudyAxis> axes, bool list);

/// Gives the study the cases of a sample. The numbers of case i depend on the seed and on i alone. A sensitivity design
/// (Saltelli 2010) has for each base point j two points A and B and the cases j (d + 2) + b: b = 0 is A, b = 1 is B,
/// and b = 2 + k is A with entry k of `scatter`, all its studs together, taken from B. Throws InputError for nothing to
/// scatter, too many cases or dimensions, and a distribution of which the ends leave nothing.
void lay_out_sample(Study& study, const std::vector<ScatterSpec>& scatter, const SampleRequest& request);

/// Positions on the axes of a case of a sweep.
std::vector<std::size_t> positions(const Study& study, const std::vector<StudyAxis>& axes, std::size_t index);
/// Scattered values of a case of a sample, by input: one, or one for each stud.
std::vector<std::vector<double>> sample_values(const Study& study, std::size_t index);

/// The scenario of a case with the records of a study, which take the place of its own: the instants of the axis, no
/// layers. `time` is Study::time.
Scenario with_study_records(Scenario scenario, const std::vector<double>& time);

/// Runs one case and gives what became of it; numerical failure is an outcome. Status Pending: it was asked to stop.
/// `scenario` is that of with_study_records; `heat` as in RunOptions; `record`, where there is one, is told of each
/// record.
StudyCase run_study_case(const Scenario& scenario, const std::vector<double>& time,
                         const std::function<bool(double share)>& report, HeatMemory* heat = nullptr,
                         const std::function<void(const RecordRow& row)>& record = {});

/// Makes the scenario of a case, without the records of a study. Called from many threads; an InputError fails the
/// case.
using MakeCase = std::function<Scenario(std::size_t index)>;

struct StudyRunOptions {
  std::size_t jobs = 1;
  CaseProgress progress;                     ///< of the cases that this run has to do
  double publish_every = 15;                 ///< wall seconds between calls of `publish`
  std::function<void(const Study&)> publish; ///< given the study as far as it is; from the calling thread
  /// Instants that every case records besides those of the study [s], and who is told of all records of a case; called
  /// from many threads, for one case from one.
  std::vector<double> also_at;
  std::function<void(std::size_t index, const RecordRow& row)> record;
};

/// Runs the cases of the study's part that are pending, and sets its status: Complete, or Stopped where it was asked to
/// stop; the outcomes so far are then kept. What a case comes to does not depend on the number of threads, on parts, or
/// on what was run before it.
void run_study(Study& study, const MakeCase& make, const StudyRunOptions& options);

} // namespace clampfade

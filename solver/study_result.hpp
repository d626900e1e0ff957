// What a study comes to: many cases of one scenario, what each was given and what became of it. Data only, so that a
// file of it can be read without the solver.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

enum class StudyKind {
  Sweep, ///< values are varied over axes
  Sample ///< values are scattered by distributions
};
enum class StudySampling { Sobol, Random };
enum class StudyStatus { Running, Complete, Stopped };
enum class CaseStatus { Pending = 0, Complete = 1, Failed = 2 };

constexpr std::string_view name(StudyKind kind) { return kind == StudyKind::Sweep ? "sweep" : "sample"; }
constexpr std::string_view name(StudySampling sampling) {
  return sampling == StudySampling::Sobol ? "sobol" : "random";
}
constexpr std::string_view name(StudyStatus status) {
  return status == StudyStatus::Running ? "running" : status == StudyStatus::Complete ? "complete" : "stopped";
}

/// Names that no axis and no input of a study may have, because the file has something else under them.
inline constexpr auto kStudyNames = std::to_array<std::string_view>({"case",
                                                                     "status",
                                                                     "message",
                                                                     "time",
                                                                     "distance",
                                                                     "stud",
                                                                     "mechanism",
                                                                     "scenario",
                                                                     "single",
                                                                     "input",
                                                                     "design",
                                                                     "required_clamp",
                                                                     "clamp_cold_lowest",
                                                                     "clamp_cold_mean",
                                                                     "clamp_cold_first",
                                                                     "clamp_cold_end",
                                                                     "loss_clamp_end",
                                                                     "retorque_gain_end",
                                                                     "below_time",
                                                                     "below_distance",
                                                                     "below_stud",
                                                                     "slip_margin_lowest",
                                                                     "utilisation_highest",
                                                                     "utilisation_tightening",
                                                                     "proof_share",
                                                                     "nuts_loose",
                                                                     "parts_outside",
                                                                     "studs_yielded"});
constexpr bool is_study_name(std::string_view name) {
  return std::find(kStudyNames.begin(), kStudyNames.end(), name) != kStudyNames.end();
}

/// One dimension of the grid of a sweep: values, or the names of entries. Exactly one of the two is used.
struct StudyAxis {
  std::string name;  ///< lower_snake, unique, none of kStudyNames
  std::string label; ///< for people
  std::string path;  ///< in the scenario, as written
  std::string unit;  ///< SI, "1" for pure numbers and for names
  std::vector<double> values;
  std::vector<std::string> texts;
  [[nodiscard]] std::size_t size() const { return texts.empty() ? values.size() : texts.size(); }
};

/// What each case was given, where that is no axis of a grid: a scattered value, or a value of a list.
struct StudyInput {
  std::string name; ///< as of an axis
  std::string label;
  std::string path;
  std::string unit;
  std::string distribution;       ///< as written; empty in a list
  bool per_stud = false;          ///< each stud has a value of its own
  std::vector<double> values;     ///< cases, or cases x studs with the stud fastest; not a number where not known
  std::vector<std::string> texts; ///< names of entries, by case, in place of values
};

/// What became of one case. Clamp loads are cold, of the studs that have a nut. Lengths of lists are those of the
/// study's axes, or 0 while the case is not done: then nothing is known.
struct StudyCase {
  static constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();
  CaseStatus status = CaseStatus::Pending;
  std::string message;                   ///< why it failed
  std::vector<double> clamp_cold_lowest; ///< weakest stud, along Study::time [N]
  std::vector<double> clamp_cold_mean;   ///< along Study::time [N]
  std::vector<double> clamp_cold_first;  ///< as tightened, by stud [N]
  std::vector<double> clamp_cold_end;    ///< by stud [N]
  std::vector<double> loss_clamp_end;    ///< by mechanism, mean over the studs [N]
  double retorque_gain_end = kUnknown;   ///< mean over the studs [N]
  double required_clamp = kUnknown;      ///< of each stud [N]
  double below_time = kUnknown;          ///< first instant at which a stud is below it [s]; not a number if never
  double below_distance = kUnknown;      ///< driven by then [m]
  std::size_t below_stud = 0;            ///< that stud, from 1; 0 if never
  double slip_margin_lowest = kUnknown;  ///< friction over load, lowest of the run; infinite without load
  double utilisation_highest = kUnknown; ///< reduced stress over yield strength, highest of the run without the wrench
  /// Reduced stress over yield strength under the wrench, of the stud pulled hardest [-].
  double utilisation_tightening = kUnknown;
  double proof_share = kUnknown; ///< highest clamp load that the wrench made, over the proof load [-]
  std::size_t nuts_loose = 0;    ///< studs that carried no clamp at some time
  std::size_t studs_yielded = 0; ///< studs that stretched for good after the tightening
  std::size_t parts_outside = 0; ///< parts that got hotter than the values of their material reach, the studs as one

  /// Whether the wrench stretched a stud for good, or pulled it above its proof load.
  [[nodiscard]] bool overtightened() const { return utilisation_tightening > 1 || proof_share > 1; }
};

struct Study {
  std::string title;
  std::string scenario_text; ///< the scenario that is varied, as resolved; `vary` and `scatter` still in it
  StudyKind kind = StudyKind::Sweep;
  StudySampling sampling = StudySampling::Sobol; ///< of a sample
  std::uint64_t seed = 0;                        ///< of a sample
  StudyStatus status = StudyStatus::Running;
  std::size_t part = 1;      ///< of the cases, from 1; case i belongs to part i % parts + 1
  std::size_t parts = 1;     ///< 1: the whole
  std::string design_sha256; ///< tells which cases there are and what each is given; the same in all parts
  std::vector<std::string> warnings;
  std::vector<StudyAxis> axes;    ///< of a grid, in order; empty of a list and of a sample
  std::vector<StudyInput> inputs; ///< of a list and of a sample
  /// Of a sample to find sensitivities from, else empty: 0 for a base case, 1 for one with all inputs drawn anew, 2 + k
  /// for the base case with input k alone taken from there. Cases of the same place in their blocks belong together.
  std::vector<int> design;
  std::vector<double> time;            ///< common axis of the curves, from 0 to the end [s]
  std::vector<double> distance;        ///< driven by then [m]; not a number where cases differ in it
  std::vector<std::string> studs;      ///< names
  std::vector<std::string> mechanisms; ///< names
  std::vector<StudyCase> cases;        ///< of a grid in C order: the last axis fastest

  /// Lengths of the dimensions that count cases.
  [[nodiscard]] std::vector<std::size_t> shape() const {
    if (axes.empty()) {
      return {cases.size()};
    }
    std::vector<std::size_t> lengths;
    for (const StudyAxis& axis : axes) {
      lengths.push_back(axis.size());
    }
    return lengths;
  }
  /// Whether the case is this part's to do.
  [[nodiscard]] bool mine(std::size_t index) const { return index % parts + 1 == part; }
};

} // namespace clampfade

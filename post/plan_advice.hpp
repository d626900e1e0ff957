// What a plan of retorques says, worked out once for text, data and page. Judges only what the plan holds, and never
// that a re-check may be left out.
#pragma once

#include "post/units.hpp"

#include "solver/io/plan_file.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

enum class Situation {
  Kept,     ///< the required clamp is kept without a retorque; the re-check stands all the same
  One,      ///< one retorque keeps it, none does not
  Two,      ///< two keep it, one does not
  NoneHolds ///< no case tried keeps it: the joint must change, not the interval
};
/// "kept", "one", "two", "none holds".
std::string name(Situation situation);

struct PlanAdvice {
  Situation situation = Situation::NoneHolds;
  std::vector<char> holds; ///< for each case, see holds()
  std::optional<std::size_t>
      latest; ///< of the cases with as many retorques as the situation names (one, if none falls
              ///< below), the one that holds and comes last: by its first retorque, then its second
  std::optional<std::size_t> earliest; ///< the first of them
  std::optional<std::size_t> widest;   ///< of them the one whose lowest clamp is highest
  std::optional<std::size_t> too_late; ///< the next case of that kind after `latest`, which does not hold
  std::size_t failed = 0;              ///< runs that say nothing
  bool pairs_tried = false;
  /// No case holds, and without a retorque the clamp is too low before the first retorque that was tried.
  bool tried_too_late = false;
  bool overtightened = false; ///< in every run that ended the wrench is too much for a stud: no instant mends that
};

/// Whether a case ended, kept the required clamp all along, and did no harm: no open joint, gap, loose nut, stud that
/// was stretched by the wrench or in service, or overstressed.
bool holds(const PlanCase& c);

PlanAdvice advise(const Plan& plan);

/// "without", "7 d", "80 km + 4 weeks": the instants asked for.
std::string case_name(const PlanCase& c, System system);
std::string instant_name(const PlanRetorque& r, System system);
/// What the joint suffered besides too little clamp, in words; empty if nothing.
std::string troubles(const PlanCase& c);
/// Of a plan whose every case is overtightened, loudly.
std::string overtightened_sentence(const Plan& plan);
/// Number of the stud as people count.
std::string stud_name(std::size_t stud);

/// The recommendation with its reasons, sentence by sentence, the finding first.
std::vector<std::string> recommendation(const Plan& plan, const PlanAdvice& advice, System system);
/// What a check-torque reading just before retorque `k` of the case would have said, and what had happened to the clamp
/// by then.
std::string reading_sentence(const Plan& plan, const PlanCase& c, std::size_t k, System system);

/// Where a chart line of a case goes through: the curve, with the jumps of its retorques where they were done.
struct Curve {
  std::vector<double> time, distance, clamp; ///< [s], [m], [N]
};
Curve curve(const Plan& plan, const PlanCase& c);

} // namespace clampfade::post

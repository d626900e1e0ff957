// Pages of a plan of retorques: when to retorque, and why retorques matter.
#pragma once

#include "post/plan_advice.hpp"
#include "post/units.hpp"

#include <cstddef>
#include <optional>
#include <string>

namespace clampfade::post {

/// The recommendation first, then every case. In both systems of units, of which the page opens with one.
std::string plan_page(const PlanFile& file, System opens_with);

/// For teaching: the same wheel never retorqued, retorqued once, and retorqued late, side by side.
std::string lesson_page(const PlanFile& file, System opens_with);

/// Cases of the lesson: without; with one retorque, that whose lowest clamp is highest; with one, the last tried. Of
/// those with one retorque only runs that ended count; none if there are fewer than two.
struct Lesson {
  std::size_t never = 0;
  std::optional<std::size_t> once, late;
};
Lesson choose_lesson(const Plan& plan);

/// What the weakest stud lost from tightening to the case's first retorque, and in as long after it; cold [N]. None if
/// the run ends before.
struct SecondLoss {
  double first = 0, again = 0;
};
std::optional<SecondLoss> second_loss(const Plan& plan, const PlanCase& c);

} // namespace clampfade::post

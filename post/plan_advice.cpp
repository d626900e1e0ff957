#include "post/plan_advice.hpp"

#include "post/sentences.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace clampfade::post {

namespace {

/// Whether `a` comes after `b`: by the first retorque, then by the second.
bool later(const PlanCase& a, const PlanCase& b) {
  for (std::size_t k = 0; k < std::min(a.retorques.size(), b.retorques.size()); ++k) {
    if (a.retorques[k].time != b.retorques[k].time) {
      return a.retorques[k].time > b.retorques[k].time;
    }
  }
  return false;
}

std::string force(double v, System system) { return show(v, Kind::Force, system); }

/// "after 51.0 days and 2549 km".
std::string done(const PlanRetorque& r, System system) {
  return fmt::format("after {} and {}", duration(r.time), show(r.distance, Kind::Distance, system, 3));
}

std::string done(const PlanCase& c, System system) {
  std::string text;
  for (const PlanRetorque& r : c.retorques) {
    text += (text.empty() ? "" : " and again ") + done(r, system);
  }
  return text;
}

/// "after 51.0 days or 2549 km, whichever comes first".
std::string due(const PlanCase& c, System system) {
  std::string text;
  for (const PlanRetorque& r : c.retorques) {
    text += fmt::format("{}after {} or {}", text.empty() ? "" : " and again ", duration(r.time),
                        show(r.distance, Kind::Distance, system, 3));
  }
  return text + ", whichever comes first";
}

/// Why a case that ended does not hold.
std::string failing(const Plan& plan, const PlanCase& c, System system) {
  std::string harm = troubles(c);
  if (std::isnan(c.below_time)) {
    return harm;
  }
  const std::string below =
      c.below_time <= 0
          ? "the clamp is below the required clamp of " + force(plan.required_clamp, system) + " from the start"
          : fmt::format("the weakest stud falls below the required clamp of {} after {} and {}",
                        force(plan.required_clamp, system), duration(c.below_time),
                        show(c.below_distance, Kind::Distance, system, 3));
  return harm.empty() ? below : below + "; " + harm;
}

/// Nuts that an earlier retorque has tightened may not move at the one recommended. Empty if no pair tried shows it.
std::string after_an_earlier_one(const Plan& plan, const PlanCase& single, System system) {
  const PlanCase* worst = nullptr;
  for (const PlanCase& c : plan.cases) {
    const bool ends_with_it = c.retorques.size() == 2 && c.retorques[1].time == single.retorques.front().time;
    if (ends_with_it && c.status == RunStatus::Complete && !holds(c) &&
        (worst == nullptr || c.lowest_clamp < worst->lowest_clamp)) {
      worst = &c;
    }
  }
  if (worst == nullptr) {
    return "";
  }
  const PlanRetorque& second = worst->retorques[1];
  return fmt::format(
      "That is for a wheel on which no retorque was done before. With an earlier one it can come too soon to "
      "move the nuts: in the case {} it moves {} of {}, and {}. So after every retorque look at the table "
      "of pairs, or plan anew from there.",
      case_name(*worst, system), second.moved, second.nuts, failing(plan, *worst, system));
}

/// The pair that keeps the highest floor, where it is higher than with one. Empty if none is.
std::string widest_pair(const Plan& plan, const PlanAdvice& advice, System system) {
  const PlanCase* best = &plan.cases[*advice.widest];
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    const PlanCase& c = plan.cases[i];
    if (c.retorques.size() == 2 && advice.holds[i] != 0 && c.lowest_clamp > best->lowest_clamp) {
      best = &c;
    }
  }
  return best->retorques.size() < 2
             ? ""
             : fmt::format("Two retorques keep more: with those {} the clamp never falls below {}.",
                           done(*best, system), force(best->lowest_clamp, system));
}

} // namespace

std::string name(Situation situation) {
  switch (situation) {
  case Situation::Kept:
    return "kept";
  case Situation::One:
    return "one";
  case Situation::Two:
    return "two";
  case Situation::NoneHolds:
    break;
  }
  return "none holds";
}

bool holds(const PlanCase& c) {
  return c.status == RunStatus::Complete && std::isnan(c.below_time) && troubles(c).empty();
}

PlanAdvice advise(const Plan& plan) {
  PlanAdvice advice;
  for (const PlanCase& c : plan.cases) {
    advice.holds.push_back(holds(c) ? 1 : 0);
    advice.failed += c.status == RunStatus::Complete ? 0U : 1U;
    advice.pairs_tried = advice.pairs_tried || c.retorques.size() == 2;
  }
  const auto any = [&](std::size_t retorques) {
    for (std::size_t i = 0; i < plan.cases.size(); ++i) {
      if (plan.cases[i].retorques.size() == retorques && advice.holds[i] != 0) {
        return true;
      }
    }
    return false;
  };
  advice.situation = any(0)   ? Situation::Kept
                     : any(1) ? Situation::One
                     : any(2) ? Situation::Two
                              : Situation::NoneHolds;
  const std::size_t kind = advice.situation == Situation::Two ? 2 : 1;
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    const PlanCase& c = plan.cases[i];
    if (c.retorques.size() != kind || advice.holds[i] == 0) {
      continue;
    }
    if (!advice.latest || later(c, plan.cases[*advice.latest])) {
      advice.latest = i;
    }
    if (!advice.earliest || later(plan.cases[*advice.earliest], c)) {
      advice.earliest = i;
    }
    if (!advice.widest || c.lowest_clamp > plan.cases[*advice.widest].lowest_clamp) {
      advice.widest = i;
    }
  }
  for (std::size_t i = 0; i < plan.cases.size() && advice.latest; ++i) {
    const PlanCase& c = plan.cases[i];
    if (c.retorques.size() == kind && later(c, plan.cases[*advice.latest]) &&
        (!advice.too_late || later(plan.cases[*advice.too_late], c))) {
      advice.too_late = i;
    }
  }
  advice.overtightened =
      !plan.cases.empty() &&
      std::all_of(plan.cases.begin(), plan.cases.end(),
                  [](const PlanCase& c) { return c.status != RunStatus::Complete || c.overtightened(); }) &&
      advice.failed < plan.cases.size();
  if (advice.situation == Situation::NoneHolds) {
    double first = kNotANumber;
    double below = kNotANumber;
    for (const PlanCase& c : plan.cases) {
      if (c.retorques.empty()) {
        below = c.below_time;
      } else {
        first = std::fmin(first, c.retorques.front().time);
      }
    }
    advice.tried_too_late = below > 0 && below <= first;
  }
  return advice;
}

std::string instant_name(const PlanRetorque& r, System system) {
  if (!std::isnan(r.asked_distance)) {
    return fmt::format("{:.4g} {}", convert(r.asked_distance, Kind::Distance, system), unit(Kind::Distance, system));
  }
  if (r.asked_time < 2 * units::kDay && std::fmod(r.asked_time, units::kDay) != 0) {
    return fmt::format("{:.4g} h", r.asked_time / units::kHour);
  }
  return fmt::format("{:.4g} d", r.asked_time / units::kDay);
}

std::string case_name(const PlanCase& c, System system) {
  std::string text;
  for (const PlanRetorque& r : c.retorques) {
    text += (text.empty() ? "" : " + ") + instant_name(r, system);
  }
  return text.empty() ? "without" : text;
}

std::string stud_name(std::size_t stud) { return "stud " + std::to_string(stud + 1); }

std::string troubles(const PlanCase& c) {
  std::string text;
  const auto add = [&](std::size_t events, const char* what) {
    if (events > 0) {
      text += (text.empty() ? "" : ", ") + std::string(what);
    }
  };
  if (c.utilisation_tightening > 1) {
    text = "the wrench stretches a stud for good";
  } else if (c.proof_share > 1) {
    text = "the wrench pulls a stud above its proof load";
  }
  add(c.nut_free, "a nut comes free");
  add(c.open, "the joint opens");
  add(c.gap, "the joint gapes in each turn");
  add(c.stud_fatigue, "a stud is stressed above its endurance limit");
  add(c.stud_yield, "a stud stretches for good");
  return text;
}

std::string overtightened_sentence(const Plan& plan) {
  double stress = kNotANumber;
  double proof = kNotANumber;
  for (const PlanCase& c : plan.cases) {
    stress = std::fmax(stress, c.utilisation_tightening);
    proof = std::fmax(proof, c.proof_share);
  }
  return stress > 1 ? fmt::format("STUDS ARE STRETCHED FOR GOOD BY THE WRENCH in every case (stress {} of yield): no "
                                  "case is good, whatever clamp it keeps.",
                                  number(stress, 3))
                    : fmt::format("THE WRENCH PULLS STUDS ABOVE THEIR PROOF LOAD in every case ({} of it): no case is "
                                  "good, whatever clamp it keeps.",
                                  number(proof, 3));
}

std::string reading_sentence(const Plan& plan, const PlanCase& c, std::size_t k, System system) {
  const PlanRetorque& r = c.retorques.at(k);
  const auto range = [&](double low, double high) {
    return low == high ? show(low, Kind::Torque, system)
                       : plain(low, Kind::Torque, system) + " to " + show(high, Kind::Torque, system);
  };
  const double gone = 1 - r.clamp_before / (k == 0 ? plan.first_clamp : c.retorques[k - 1].clamp_after);
  std::string text = fmt::format(
      "By then {} of the weakest stud's clamp is gone since the wrench was last on it. It takes {} to start "
      "the nuts turning, against {} set: ",
      percent(std::max(gone, 0.0)), range(r.check_torque_lowest, r.check_torque_highest),
      range(r.torque_lowest, r.torque_highest));
  if (r.moved == 0) {
    text += "a wrench at the set torque clicks on every nut without moving it and says nothing about that loss.";
  } else if (r.moved < r.nuts) {
    text += fmt::format("a wrench at the set torque moves {} of {} nuts and clicks on the others without moving them.",
                        r.moved, r.nuts);
  } else {
    text += "a wrench at the set torque moves every nut.";
  }
  return text;
}

std::vector<std::string> recommendation(const Plan& plan, const PlanAdvice& advice, System system) {
  std::vector<std::string> said;
  const PlanCase& without = plan.cases.front();
  const auto above = [&](double clamp) {
    return plan.required_clamp > 0
               ? fmt::format("{} above the required clamp of {}", percent(clamp / plan.required_clamp - 1),
                             force(plan.required_clamp, system))
               : std::string("with no clamp required");
  };
  const std::string run = "the " + duration(plan.end_time) + " simulated";

  if (advice.situation == Situation::Kept) {
    said.push_back(fmt::format("Without a retorque the lowest clamp over {} is {} ({}), {}.", run,
                               force(without.lowest_clamp, system), stud_name(without.lowest_stud),
                               above(without.lowest_clamp)));
    if (advice.latest) {
      const PlanCase& latest = plan.cases[*advice.latest];
      const PlanCase& widest = plan.cases[*advice.widest];
      said.push_back(
          fmt::format("With one retorque the highest floor is that of the one {}: never below {}. The latest "
                      "one tried, {}, finds {} at the weakest stud and leaves {}; {} of that go by the end.",
                      done(widest, system), force(widest.lowest_clamp, system), done(latest, system),
                      force(latest.retorques.front().clamp_before, system),
                      force(latest.retorques.front().clamp_after, system), force(latest.loss_after, system)));
      said.push_back(reading_sentence(plan, latest, 0, system));
    }
    said.emplace_back(
        "Recommendation: re-check and retorque at the interval of the makers' instructions. That this run "
        "stays above the required clamp changes nothing about it: the run knows neither the scatter of "
        "torque and friction nor the history of any one wheel.");
  } else if (advice.overtightened) {
    said.push_back(overtightened_sentence(plan));
    if (without.status == RunStatus::Complete && !std::isnan(without.below_time)) {
      said.push_back(capital(fmt::format("without a retorque {}.", failing(plan, without, system))));
    }
    said.emplace_back(
        "Recommendation: do not tighten to this torque, and replace studs that were tightened so. Plan "
        "anew at a torque that the studs bear (clampfade limit with --path tightening/torque finds it); no "
        "interval of this plan counts.");
  } else if (advice.situation == Situation::NoneHolds) {
    if (without.status == RunStatus::Complete) {
      said.push_back(capital(fmt::format("without a retorque {}.", failing(plan, without, system))));
    }
    said.push_back(
        fmt::format("No case tried keeps the joint sound over {}. So the joint must change, not the interval: "
                    "its torque and friction, the coatings and the number of its faces, or the heat that "
                    "reaches it.",
                    run));
    if (advice.tried_too_late) {
      said.emplace_back("The clamp is too low before the first retorque that was tried. Earlier ones can be tried "
                        "(option --after of the plan); if those do not hold either, no interval will do.");
    }
    if (!advice.pairs_tried) {
      said.emplace_back("Two retorques were not tried (option --retorques of the plan).");
    }
    said.emplace_back("Recommendation: take this joint as one that does not keep its clamp. Until it is changed, the "
                      "makers' instructions decide whether and how it may run; no interval of this plan does.");
  } else {
    const bool two = advice.situation == Situation::Two;
    const PlanCase& latest = plan.cases[*advice.latest];
    const PlanCase& widest = plan.cases[*advice.widest];
    if (without.status == RunStatus::Complete) {
      said.push_back(capital(fmt::format("without a retorque {}.", failing(plan, without, system))));
    }
    if (two) {
      said.emplace_back("No single retorque of those tried keeps the joint sound to the end.");
    }
    std::string limit = fmt::format("The latest {} tried with which the required clamp is kept all along is done {}.",
                                    two ? "pair" : "single retorque", done(latest, system));
    if (advice.too_late) {
      const PlanCase& next = plan.cases[*advice.too_late];
      limit += next.status == RunStatus::Complete
                   ? fmt::format(" With the next one tried, {}, it is not.", case_name(next, system))
                   : fmt::format(" The run of the next one, {}, failed.", case_name(next, system));
    }
    said.push_back(limit);
    for (std::size_t k = 0; k < latest.retorques.size(); ++k) {
      const PlanRetorque& r = latest.retorques[k];
      const bool last = k + 1 == latest.retorques.size();
      said.push_back(
          fmt::format("{} the weakest stud has {}, just after it {}{}.",
                      two ? (last ? "Just before the second" : "Just before the first") : "Just before it",
                      force(r.clamp_before, system), force(r.clamp_after, system),
                      last ? fmt::format("; from then to the end of the run it loses another {} and is left with {}",
                                         force(latest.loss_after, system), force(latest.end_clamp, system))
                           : ""));
      said.push_back(reading_sentence(plan, latest, k, system));
    }
    const PlanCase& earliest = plan.cases[*advice.earliest];
    for (std::size_t i = 0; i < plan.cases.size() && !two; ++i) {
      const PlanCase& c = plan.cases[i];
      if (c.retorques.size() == 1 && c.status == RunStatus::Complete && later(earliest, c)) {
        said.push_back(
            fmt::format("Too early does not do alone: with the one {} {}.", done(c, system), failing(plan, c, system)));
        break;
      }
    }
    said.push_back(fmt::format(
        "Recommendation: retorque {}, where the lowest clamp stays highest ({}, {}); at the very "
        "latest {}: that is a limit and no date to aim for.",
        due(widest, system), force(widest.lowest_clamp, system), above(widest.lowest_clamp), due(latest, system)));
    if (!two) {
      said.push_back(after_an_earlier_one(plan, widest, system));
      said.push_back(widest_pair(plan, advice, system));
    }
    said.emplace_back("Where the makers' instructions or the rules of the fleet name another interval, the shorter one "
                      "holds, and every re-check that they ask for comes on top of this.");
  }
  if (advice.failed > 0) {
    said.push_back(fmt::format("{} of {} runs failed and say nothing.", advice.failed, plan.cases.size()));
  }
  said.push_back(
      fmt::format("Nothing here says what comes after {}, nor between the instants tried.", duration(plan.end_time)));
  return said;
}

Curve curve(const Plan& plan, const PlanCase& c) {
  Curve out;
  const auto put = [&](double time, double distance, double clamp) {
    out.time.push_back(time);
    out.distance.push_back(distance);
    out.clamp.push_back(clamp);
  };
  std::size_t next = 0;
  for (std::size_t i = 0; i < plan.time.size(); ++i) {
    // Just before and just after, at the same instant; an instant of the axis that is the same one is the latter.
    while (next < c.retorques.size() && c.retorques[next].time <= plan.time[i]) {
      const PlanRetorque& r = c.retorques[next++];
      put(r.time, r.distance, r.clamp_before);
      put(r.time, r.distance, r.clamp_after);
    }
    if (!std::isnan(c.clamp[i])) {
      put(plan.time[i], plan.distance[i], c.clamp[i]);
    }
  }
  return out;
}

} // namespace clampfade::post

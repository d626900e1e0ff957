#include "post/page_plan.hpp"

#include "post/alarms.hpp"
#include "post/markup.hpp"
#include "post/page.hpp"
#include "post/sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

using namespace markup;

namespace {

// Of the style sheet's series.
constexpr std::size_t kTold = 1;
constexpr std::size_t kBehind = 10;

/// A table column of torques that may be one or a range.
std::string torques(double low, double high, Units units) { return range_bare(low, high, Kind::Torque, units, 3); }

ChartLine case_line(const Plan& plan, std::size_t i, ChartVariant& variant) {
  Curve points = curve(plan, plan.cases[i]);
  ChartLine line;
  line.name = case_name(plan.cases[i], System::Si);
  line.y = std::move(points.clamp);
  line.axis = variant.axes.size();
  variant.axes.push_back({std::move(points.time), std::move(points.distance)});
  return line;
}

Chart empty_chart(const Plan& plan, std::string id, std::string title, std::string note) {
  Chart chart;
  chart.id = std::move(id);
  chart.title = std::move(title);
  chart.note = std::move(note);
  chart.y_name = "Clamp load";
  chart.y_kind = Kind::Force;
  if (plan.required_clamp > 0) {
    chart.levels.push_back({"required clamp", plan.required_clamp});
  }
  return chart;
}

/// The cases that the advice speaks of, and the one without; the others faint behind them.
Chart plan_chart(const Plan& plan, const PlanAdvice& advice) {
  Chart chart = empty_chart(plan, "clamp", "Cold clamp of the weakest stud",
                            "Each line is a case; a step up is a retorque. Faint: the other cases that were run.");
  ChartVariant variant;
  std::vector<ChartLine> told;
  const auto tell = [&](std::size_t i, const char* label, std::size_t colour, std::size_t dash) {
    ChartLine line = case_line(plan, i, variant);
    line.name = i == 0 ? label : std::string(label) + ": " + line.name;
    line.label = label;
    line.colour = colour;
    line.dash = dash;
    told.push_back(std::move(line));
  };
  for (std::size_t i = 1; i < plan.cases.size(); ++i) {
    if (plan.cases[i].status == RunStatus::Complete && advice.latest != i && advice.widest != i) {
      ChartLine line = case_line(plan, i, variant);
      line.colour = kBehind;
      line.faint = true;
      variant.lines.push_back(std::move(line));
    }
  }
  tell(0, "without", 2, 1);
  if (advice.latest && *advice.latest != 0) {
    tell(*advice.latest, advice.latest == advice.widest ? "latest and best" : "latest", 1, 0);
  }
  if (advice.widest && advice.widest != advice.latest && *advice.widest != 0) {
    tell(*advice.widest, "best", 3, 2);
  }
  variant.lines.insert(variant.lines.end(), told.begin(), told.end());
  chart.variants.push_back(std::move(variant));
  return chart;
}

std::string finding(const Plan& plan, const PlanAdvice& advice, Units units) {
  const std::size_t sentences = recommendation(plan, advice, System::Si).size();
  std::string out;
  for (std::size_t i = 0; i < sentences; ++i) {
    const std::string text = said([&](System s) { return recommendation(plan, advice, s).at(i); }, units);
    const bool advised = recommendation(plan, advice, System::Si)[i].rfind("Recommendation", 0) == 0;
    out += paragraph(advised ? element("strong", {}, text) : text,
                     i == 0 && advice.situation != Situation::Kept ? "alarm" : "");
  }
  return out + paragraph(escape(scatter_sentence("these runs")), "note") + cautions_box();
}

std::string cases_markup(const Plan& plan, const PlanAdvice& advice, Units units) {
  const auto in_force = [&](const char* what) { return heading_unit(what, Kind::Force, units); };
  std::vector<std::vector<std::string>> rows;
  std::string notes;
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    const PlanCase& c = plan.cases[i];
    const std::string name = said([&](System s) { return case_name(c, s); }, units);
    if (c.status != RunStatus::Complete) {
      rows.push_back({name, "–", "–", "–", "–", "–", "–", "failed"});
      notes += paragraph(name + ": " + escape(c.status_text), "note");
      continue;
    }
    const auto f = [&](double v) { return bare(v, Kind::Force, units); };
    rows.push_back({name, f(c.lowest_clamp), escape(duration(c.lowest_time)),
                    std::isnan(c.below_time) ? "never"
                    : c.below_time <= 0      ? "from the start"
                                             : escape(duration(c.below_time)),
                    f(c.end_clamp), f(c.end_clamp_mean), f(c.loss_after),
                    advice.holds[i] != 0 ? "yes" : element("strong", {}, "no")});
    if (!troubles(c).empty()) {
      notes += paragraph(name + ": " + escape(troubles(c)) + ".", "note");
    }
  }
  return table("Every case",
               {"retorques", in_force("lowest"), "at", "first below", in_force("left, weakest"), in_force("left, mean"),
                in_force("lost since"), "kept"},
               rows) +
         paragraph("Clamps are cold. Lost since: by the stud that is weakest at the end, since the wrench last turned "
                   "its nut. Kept: never below the required clamp, no joint open, no nut loose, no stud stretched by "
                   "the wrench or in service, or overstressed.",
                   "note") +
         notes;
}

std::string acts_markup(const Plan& plan, Units units) {
  const auto in = [&](const char* what, Kind kind) { return heading_unit(what, kind, units); };
  std::vector<std::vector<std::string>> rows;
  for (const PlanCase& c : plan.cases) {
    if (c.retorques.empty() || std::isnan(c.retorques.back().time)) {
      continue;
    }
    const PlanRetorque& r = c.retorques.back();
    rows.push_back({said([&](System s) { return case_name(c, s); }, units), escape(duration(r.time)),
                    bare(r.distance, Kind::Distance, units, 3), bare(r.clamp_before, Kind::Force, units),
                    bare(r.clamp_after, Kind::Force, units),
                    torques(r.check_torque_lowest, r.check_torque_highest, units),
                    torques(r.torque_lowest, r.torque_highest, units), fmt::format("{} of {}", r.moved, r.nuts)});
  }
  return table("The last retorque of each case",
               {"retorques", "done", in("driven", Kind::Distance), in("before", Kind::Force), in("after", Kind::Force),
                in("check torque", Kind::Torque), in("set torque", Kind::Torque), "nuts moved"},
               rows) +
         paragraph(
             "Before and after: cold clamp of the weakest stud. Check torque: what would start the nuts turning "
             "in the tightening direction, lowest and highest. Where it is above the set torque the wrench clicks "
             "and the nut stays.",
             "note");
}

/// Singles of the plan that ended, in the order of their time.
std::vector<const PlanCase*> singles(const Plan& plan) {
  std::vector<const PlanCase*> found;
  for (const PlanCase& c : plan.cases) {
    if (c.retorques.size() == 1 && c.status == RunStatus::Complete && !std::isnan(c.retorques.front().time)) {
      found.push_back(&c);
    }
  }
  std::stable_sort(found.begin(), found.end(), [](const PlanCase* a, const PlanCase* b) {
    return a->retorques.front().time < b->retorques.front().time;
  });
  return found;
}

/// What a class is asked before it looks at the charts; the answers unfold. `lesson` has all three cases.
std::string questions(const Plan& plan, const Lesson& lesson, Units units) {
  const PlanCase& never = plan.cases[lesson.never];
  const PlanCase& once = plan.cases[*lesson.once];
  const PlanCase& late = plan.cases[*lesson.late];
  const auto f = [&](double v) { return force(v, units); };
  const auto at = [](const PlanCase& c) { return escape(duration(c.retorques.front().time)); };
  const auto below = [&](const PlanCase& c) {
    return std::isnan(c.below_time) ? "It is never below the required clamp of " + f(plan.required_clamp) + "."
           : c.below_time <= 0      ? "It is below the required clamp of " + f(plan.required_clamp) + " from the start."
                                    : "It is below the required clamp of " + f(plan.required_clamp) + " after " +
                                     escape(duration(c.below_time)) + ".";
  };
  std::string out = paragraph("Have each one write down an answer, then unfold it.", "note");
  out += details("1. Nobody ever comes with a wrench. How much of its clamp has the weakest stud left after " +
                     escape(duration(plan.end_time)) + "?",
                 paragraph(f(never.end_clamp) + " of " + f(plan.first_clamp) +
                           fmt::format(", or {:.0f} %. ", 100 * never.end_clamp / plan.first_clamp) + below(never)));
  const double won = once.retorques.front().clamp_after - once.retorques.front().clamp_before;
  std::string second = "The wrench won back " + f(won) + ". ";
  if (const std::optional<SecondLoss> loss = second_loss(plan, once)) {
    second +=
        "In the first " + at(once) + " the stud had lost " + f(loss->first) + "; in as long after it, " +
        f(loss->again) + ". " +
        (loss->again < loss->first ? "What has settled once does not settle again, but what flows, slips or wears "
                                     "goes on."
                                   : "Here the faces give as much again: one retorque is not the end.");
  } else {
    second += "From then to the end it lost " + f(once.loss_after) + ": it goes on.";
  }
  out += details("2. The nuts are retorqued after " + at(once) +
                     ". Does the wheel lose as much again as it did before, or less, or nothing?",
                 paragraph(second));
  const PlanCase& earliest = *singles(plan).front();
  std::string better =
      "No. Of the instants tried, a retorque after " + at(once) + " keeps the lowest clamp highest, at " +
      f(once.lowest_clamp) + "; one after " + at(late) + " lets it fall to " + f(late.lowest_clamp) +
      (late.below_time < late.retorques.front().time ? ", below the required clamp, before the wrench comes" : "") +
      ". A late one wins back more in one turn because the wheel has run with less until then.";
  if (&earliest != &once) {
    better += " The earliest is not the best either, where it is the only one: what goes on being lost after " +
              at(earliest) + " nobody wins back, and the lowest is " + f(earliest.lowest_clamp) +
              ". Hence re-checks come in a row, the first one early.";
  }
  out += details("3. A retorque wins back all that was lost before it. So is later better?",
                 paragraph(better) +
                     paragraph("All this is of one wheel as described. An early check also finds what no calculation "
                               "knows: the forgotten nut, the burr under it, the one that was never tight. The makers' "
                               "interval holds.",
                               "note"));
  return out;
}

std::string made_by(const PlanFile& file) {
  return paragraph(
      escape(fmt::format("{} runs. Written by program {} ({}) on {}; scenario {:.12}.", file.plan.cases.size(),
                         file.program_version, file.git_sha, file.created_utc, file.scenario_sha256)),
      "note");
}

} // namespace

std::optional<SecondLoss> second_loss(const Plan& plan, const PlanCase& c) {
  const double span = c.retorques.front().time;
  const auto after = std::lower_bound(plan.time.begin(), plan.time.end(), 2 * span);
  if (after == plan.time.end()) {
    return std::nullopt;
  }
  // Clamps between two instants of the axis change little: the first one from then on will do.
  const double left = c.clamp.at(static_cast<std::size_t>(after - plan.time.begin()));
  return SecondLoss{plan.first_clamp - c.retorques.front().clamp_before, c.retorques.front().clamp_after - left};
}

Lesson choose_lesson(const Plan& plan) {
  Lesson lesson;
  std::size_t singles = 0;
  for (std::size_t i = 1; i < plan.cases.size(); ++i) {
    const PlanCase& c = plan.cases[i];
    if (c.retorques.size() != 1 || c.status != RunStatus::Complete || std::isnan(c.retorques.front().time)) {
      continue;
    }
    ++singles;
    lesson.late = i;
    if (!lesson.once || c.lowest_clamp > plan.cases[*lesson.once].lowest_clamp) {
      lesson.once = i;
    }
  }
  if (singles < 2 || lesson.once == lesson.late) {
    lesson.once.reset();
    lesson.late.reset();
  }
  return lesson;
}

std::string plan_page(const PlanFile& file, System opens_with) {
  const Units units{opens_with, true};
  const Plan& plan = file.plan;
  const PlanAdvice advice = advise(plan);
  PageBuilder page(plan.title, units);
  page.basis(plan.warnings);
  page.header(title_block("Clamp load of a wheel joint: plan of retorques", plan.title,
                          {duration(plan.end_time) + " simulated", fmt::format("{} cases", plan.cases.size())}));
  page.section("finding", "Finding", "When should the nuts be retorqued?", finding(plan, advice, units));
  page.section("clamp-over-time", "Clamp", "What does a retorque win, and for how long?",
               page.figure(plan_chart(plan, advice)));
  page.section("cases", "Cases", "What was tried?", cases_markup(plan, advice, units));
  page.section("readings", "Readings", "What would a check-torque reading have said?", acts_markup(plan, units));
  const std::string warnings = warnings_list(plan.warnings, units);
  if (!warnings.empty()) {
    page.section("warnings", "Warnings", "Warnings", warnings);
  }
  page.section("computed", "Computation", "How was it computed?", made_by(file));
  return page.html();
}

std::string lesson_page(const PlanFile& file, System opens_with) {
  const Units units{opens_with, true};
  const Plan& plan = file.plan;
  const Lesson lesson = choose_lesson(plan);
  PageBuilder page("Why retorques matter: " + plan.title, units);
  page.basis(plan.warnings);
  page.header(title_block("Clamp load of a wheel joint: with and without a retorque", plan.title,
                          {duration(plan.end_time) + " simulated"}));
  if (!lesson.once || !lesson.late) {
    page.section("finding", "Finding", "Nothing to compare",
                 paragraph("This plan has no two runs with one retorque that ended unlike. Plan with a longer ladder "
                           "(option --after).") +
                     cautions_box());
    return page.html();
  }
  page.section("finding", "Finding", "What does one retorque change?",
               (advise(plan).overtightened ? paragraph(escape(overtightened_sentence(plan)), "alarm") : "") +
                   paragraph("The same wheel three times: never retorqued, retorqued once, and retorqued late. The "
                             "three charts have the same axes.") +
                   paragraph(escape(scatter_sentence("these runs")), "note") + cautions_box());
  page.section("questions", "Questions", "What do you expect?", questions(plan, lesson, units));
  const auto panel = [&](std::size_t i, const char* id, const char* heading) {
    const PlanCase& c = plan.cases[i];
    Chart chart =
        empty_chart(plan, std::string(id) + "-clamp", heading,
                    "The weakest stud. A step up is the retorque. Faint: the other two, so that all three have "
                    "the same axes.");
    ChartVariant variant;
    for (const std::size_t k : {lesson.never, *lesson.once, *lesson.late}) {
      ChartLine line = case_line(plan, k, variant);
      line.faint = k != i;
      // No label at the line's end: in a third of the page's width it would take a third of the chart.
      line.colour = k == i ? kTold : kBehind;
      variant.lines.push_back(std::move(line));
    }
    chart.variants.push_back(std::move(variant));
    std::string text = page.figure(chart);
    text += paragraph(std::isnan(c.below_time)
                          ? "Never below the required clamp in this run; lowest " + force(c.lowest_clamp, units) + "."
                          : "Below the required clamp of " + force(plan.required_clamp, units) +
                                (c.below_time <= 0 ? " from the start" : escape(" after " + duration(c.below_time))) +
                                "; lowest " + force(c.lowest_clamp, units) + ".");
    text += paragraph("Left at the end: " + force(c.end_clamp, units) + " at the weakest stud, " +
                      force(c.end_clamp_mean, units) + " on the mean.");
    return text;
  };
  const auto reading = [&](std::size_t i) {
    return said([&](System s) { return reading_sentence(plan, plan.cases[i], 0, s); }, units);
  };
  const PlanCase& once = plan.cases[*lesson.once];
  const PlanCase& late = plan.cases[*lesson.late];
  const auto at = [](const PlanCase& c) { return escape(duration(c.retorques.front().time)); };
  const auto card = [&](const char* id, const char* heading, const std::string& markup, const char* teaches) {
    page.section(id, heading, heading, markup + paragraph(element("strong", {}, escape(teaches))),
                 PageBuilder::Width::Third);
  };
  card("never", "Never retorqued",
       panel(lesson.never, "never", "Never retorqued") +
           paragraph("A check after " + at(late) + " would have found this. " + reading(*lesson.late)),
       "What a joint loses is gone for good: nothing gives it back but a wrench.");
  std::string again;
  bool less = false;
  if (const std::optional<SecondLoss> loss = second_loss(plan, once)) {
    less = loss->again < loss->first;
    again = paragraph("In the first " + at(once) + " the weakest stud lost " + force(loss->first, units, 3) +
                      ", in as long after the retorque " + force(loss->again, units, 3) + ".");
  }
  card("once", "Retorqued once",
       panel(*lesson.once, "once", "Retorqued once") +
           paragraph("A check after " + at(once) + ". " + reading(*lesson.once)) + again,
       less ? "A retorque wins back what the faces have given, and they give less the second time."
            : "A retorque wins back what the faces have given; here they give as much again, so one is not the end.");
  const bool ran_below = late.below_time < late.retorques.front().time;
  card("late", "Retorqued late",
       panel(*lesson.late, "late", "Retorqued late") +
           (ran_below
                ? paragraph("It ran " + escape(duration(late.retorques.front().time - std::max(late.below_time, 0.0))) +
                            " below the required clamp before the wrench came.")
                : "") +
           paragraph("A check after " + at(late) + ". " + reading(*lesson.late)),
       ran_below ? "The wrench wins the clamp back, but not the time in which the wheel ran with too little."
                 : "The wrench wins the clamp back; until then the wheel ran on what the first tightening had left.");
  page.section("computed", "Computation", "How was it computed?", made_by(file));
  return page.html();
}

} // namespace clampfade::post

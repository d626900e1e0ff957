#include "post/plan_text.hpp"

#include "post/alarms.hpp"
#include "post/sentences.hpp"
#include "post/table.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <utility>

namespace clampfade::post {

namespace {

constexpr std::size_t kPage = 100;

/// One line a case: the floor of its clamp, when it fell below, what is left.
Table case_table(const Plan& plan, const PlanAdvice& advice, System system) {
  const std::string force = unit(Kind::Force, system);
  Table table({"retorques", "lowest, " + force, "at", "first below", "end low", "end mean", "lost since", "kept"});
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    const PlanCase& c = plan.cases[i];
    if (c.status != RunStatus::Complete) {
      table.add({case_name(c, system), "-", "-", "-", "-", "-", "-", "failed"});
      continue;
    }
    const auto f = [&](double v) { return plain(v, Kind::Force, system); };
    table.add({case_name(c, system), f(c.lowest_clamp), duration(c.lowest_time),
               std::isnan(c.below_time) ? "never"
               : c.below_time <= 0      ? "start"
                                        : duration(c.below_time),
               f(c.end_clamp), f(c.end_clamp_mean), f(c.loss_after), advice.holds[i] != 0 ? "yes" : "NO"});
  }
  return table;
}

std::string range(double low, double high, Kind kind, System system, int digits) {
  const std::string a = plain(low, kind, system, digits);
  const std::string b = plain(high, kind, system, digits);
  return a == b ? a : a + "-" + b;
}

/// What the wrench met. The first retorque of a pair is that of the single case, so only the second is shown.
Table act_table(const Plan& plan, System system) {
  const std::string force = unit(Kind::Force, system);
  const std::string torque = unit(Kind::Torque, system);
  Table table({"retorque", "done", unit(Kind::Distance, system), "before, " + force, "mean", "after", "gain",
               "check, " + torque, "set", "moved"});
  for (const PlanCase& c : plan.cases) {
    if (c.retorques.empty() || std::isnan(c.retorques.back().time)) {
      continue;
    }
    const PlanRetorque& r = c.retorques.back();
    const auto f = [&](double v) { return plain(v, Kind::Force, system); };
    table.add(
        {c.retorques.size() == 1
             ? instant_name(r, system)
             : fmt::format("{} after {}", instant_name(r, system), instant_name(c.retorques.front(), system)),
         duration(r.time), plain(r.distance, Kind::Distance, system, 3), f(r.clamp_before), f(r.clamp_before_mean),
         f(r.clamp_after), f(r.gain), range(r.check_torque_lowest, r.check_torque_highest, Kind::Torque, system, 3),
         range(r.torque_lowest, r.torque_highest, Kind::Torque, system, 3), fmt::format("{}/{}", r.moved, r.nuts)});
  }
  return table;
}

std::string list_item(const std::string& text) {
  std::string item = wrap(text, 4, kPage);
  item[2] = '-';
  return item;
}

} // namespace

std::string to_text(const PlanFile& file, System system, bool colour) {
  const Plan& plan = file.plan;
  const PlanAdvice advice = advise(plan);
  std::string out;
  const auto line = [&](const std::string& text) { out += wrap(text, 0, kPage); };
  const auto note = [&](const std::string& text) { out += wrap(text, 2, kPage); };
  const auto heading = [&](const std::string& text) { out += "\n" + marked("1", text, colour) + "\n"; };
  out += basis_line(plan.warnings, colour);
  line(fmt::format("Plan of retorques: {} runs of {}.", plan.cases.size(), duration(plan.end_time)));
  line(plan.title);
  out += '\n';
  const std::vector<std::string> said = recommendation(plan, advice, system);
  out += marked(advice.situation == Situation::Kept ? "1" : "1;31", wrap(said.front(), 0, kPage), colour);
  for (std::size_t i = 1; i < said.size(); ++i) {
    const bool advised = said[i].rfind("Recommendation", 0) == 0;
    out += advised ? "\n" + marked("1", wrap(said[i], 0, kPage), colour) : wrap(said[i], 0, kPage);
  }
  out += '\n';
  line(scatter_sentence("these runs"));

  heading("Every case (required clamp " + show(plan.required_clamp, Kind::Force, system) + ")");
  out += case_table(plan, advice, system).text(kPage);
  note("Clamps are cold. Lowest, end low: of the weakest stud. Lost since: by the stud that is weakest at the end, "
       "since "
       "the wrench last turned its nut. Kept: never below the required clamp, no joint open, no nut loose, no stud "
       "stretched by the wrench or in service, or overstressed.");
  for (const PlanCase& c : plan.cases) {
    if (c.status != RunStatus::Complete) {
      note(fmt::format("{}: {}", case_name(c, system), c.status_text));
    } else if (!troubles(c).empty()) {
      note(fmt::format("{}: {}.", case_name(c, system), troubles(c)));
    }
  }

  const Table acts = act_table(plan, system);
  if (!acts.empty()) {
    heading("Just before and after each retorque, and what a check-torque reading would have said");
    out += acts.text(kPage);
    note("Before and after: the weakest stud, cold; mean: of all studs before. Check: what would start the nuts "
         "turning in "
         "the tightening direction, lowest and highest; where it is above the set torque the wrench clicks and the nut "
         "stays. Moved: nuts that turned. A retorque is done at the first park, or dwell of 10 min, from the instant "
         "asked for. Of two retorques the second is shown; the first is that of the single case.");
  }
  heading("Cautions");
  for (const std::string_view caution : cautions()) {
    out += list_item(std::string(caution));
  }
  if (!plan.warnings.empty()) {
    heading("Warnings");
    for (const std::string& warning : plan.warnings) {
      out += list_item(translated(warning, system));
    }
  }
  out += '\n';
  line(fmt::format("Written by program {} ({}) on {}; scenario {:.12}.", file.program_version, file.git_sha,
                   file.created_utc, file.scenario_sha256));
  return out;
}

namespace {

using Json = nlohmann::ordered_json;

Json value(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }

Json values(const std::vector<double>& all) {
  Json j = Json::array();
  for (const double v : all) {
    j.push_back(value(v));
  }
  return j;
}

Json retorque(const PlanRetorque& r) {
  return {{"asked_time", value(r.asked_time)},
          {"asked_distance", value(r.asked_distance)},
          {"time", value(r.time)},
          {"distance", value(r.distance)},
          {"clamp_before", value(r.clamp_before)},
          {"clamp_before_mean", value(r.clamp_before_mean)},
          {"clamp_after", value(r.clamp_after)},
          {"clamp_after_mean", value(r.clamp_after_mean)},
          {"gain", value(r.gain)},
          {"torque_lowest", value(r.torque_lowest)},
          {"torque_highest", value(r.torque_highest)},
          {"check_torque_lowest", value(r.check_torque_lowest)},
          {"check_torque_highest", value(r.check_torque_highest)},
          {"nuts", r.nuts},
          {"moved", r.moved}};
}

Json one_case(const PlanCase& c, bool kept) {
  Json acts = Json::array();
  for (const PlanRetorque& r : c.retorques) {
    acts.push_back(retorque(r));
  }
  return {{"name", case_name(c, System::Si)},
          {"retorques", acts},
          {"status", name(c.status)},
          {"status_text", c.status_text},
          {"kept", kept},
          {"lowest_clamp", value(c.lowest_clamp)},
          {"lowest_time", value(c.lowest_time)},
          {"lowest_distance", value(c.lowest_distance)},
          {"lowest_stud", c.lowest_stud + 1},
          {"below_time", value(c.below_time)},
          {"below_distance", value(c.below_distance)},
          {"end_clamp", value(c.end_clamp)},
          {"end_clamp_mean", value(c.end_clamp_mean)},
          {"end_stud", c.end_stud + 1},
          {"loss_after", value(c.loss_after)},
          {"utilisation_tightening", value(c.utilisation_tightening)},
          {"proof_share", value(c.proof_share)},
          {"stud_yield", c.stud_yield},
          {"stud_fatigue", c.stud_fatigue},
          {"open", c.open},
          {"gap", c.gap},
          {"nut_free", c.nut_free},
          {"clamp", values(c.clamp)}};
}

} // namespace

std::string to_json(const PlanFile& file) {
  const Plan& plan = file.plan;
  const PlanAdvice advice = advise(plan);
  const auto which = [&](const std::optional<std::size_t>& i) {
    return i ? Json(case_name(plan.cases[*i], System::Si)) : Json(nullptr);
  };
  Json units = Json::object();
  for (const auto& [key, unit_name] : {std::pair<const char*, const char*>{"time", "s"},
                                       {"asked_time", "s"},
                                       {"lowest_time", "s"},
                                       {"below_time", "s"},
                                       {"end_time", "s"},
                                       {"distance", "m"},
                                       {"asked_distance", "m"},
                                       {"lowest_distance", "m"},
                                       {"below_distance", "m"},
                                       {"required_clamp", "N"},
                                       {"first_clamp", "N"},
                                       {"first_clamp_mean", "N"},
                                       {"clamp", "N"},
                                       {"clamp_before", "N"},
                                       {"clamp_before_mean", "N"},
                                       {"clamp_after", "N"},
                                       {"clamp_after_mean", "N"},
                                       {"gain", "N"},
                                       {"lowest_clamp", "N"},
                                       {"end_clamp", "N"},
                                       {"end_clamp_mean", "N"},
                                       {"loss_after", "N"},
                                       {"torque_lowest", "N m"},
                                       {"torque_highest", "N m"},
                                       {"check_torque_lowest", "N m"},
                                       {"check_torque_highest", "N m"}}) {
    units[key] = unit_name;
  }
  Json cases = Json::array();
  for (std::size_t i = 0; i < plan.cases.size(); ++i) {
    cases.push_back(one_case(plan.cases[i], advice.holds[i] != 0));
  }
  const Json j = {{"title", plan.title},
                  {"program_version", file.program_version},
                  {"git_sha", file.git_sha},
                  {"created_utc", file.created_utc},
                  {"scenario_sha256", file.scenario_sha256},
                  {"digest", file.digest},
                  {"units", units},
                  {"end_time", plan.end_time},
                  {"required_clamp", value(plan.required_clamp)},
                  {"first_clamp", value(plan.first_clamp)},
                  {"first_clamp_mean", value(plan.first_clamp_mean)},
                  {"advice",
                   {{"situation", name(advice.situation)},
                    {"latest", which(advice.latest)},
                    {"earliest", which(advice.earliest)},
                    {"widest", which(advice.widest)},
                    {"overtightened", advice.overtightened},
                    {"failed_runs", advice.failed},
                    {"sentences", recommendation(plan, advice, System::Si)}}},
                  {"time", values(plan.time)},
                  {"distance", values(plan.distance)},
                  {"cases", cases},
                  {"warnings", plan.warnings},
                  {"cautions", std::vector<std::string>(cautions().begin(), cautions().end())}};
  return j.dump(2) + "\n";
}

} // namespace clampfade::post

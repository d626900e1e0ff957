#include "post/summary_data.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cmath>

namespace clampfade::post {

namespace {

using Json = nlohmann::ordered_json;

/// JSON knows neither infinity nor not-a-number.
Json value(double v) { return std::isfinite(v) ? Json(v) : Json(nullptr); }
Json value(const std::optional<double>& v) { return v ? value(*v) : Json(nullptr); }

Json spread(const Summary& s, const Spread& x, const std::string& quantity) {
  return {{"weakest_stud", std::isfinite(x.lowest) ? Json(s.studs.at(x.weakest)) : Json(nullptr)},
          {"lowest_" + quantity, value(x.lowest)},
          {"mean_" + quantity, value(x.mean)},
          {"highest_" + quantity, value(x.highest)}};
}

Json moment(const Summary& s, const Moment& m) {
  return {{"stud", s.studs.at(m.stud)}, {"time", m.time}, {"distance", m.distance}};
}

Json peak(const Summary& s, const std::optional<Peak>& p, const std::string& quantity, bool of_a_stud = true) {
  if (!p) {
    return nullptr;
  }
  Json j = {{quantity, p->value}, {quantity + "_limit", value(p->limit)}};
  j.update(moment(s, p->when));
  if (!of_a_stud) {
    j.erase("stud");
  }
  return j;
}

Json budget_sum(const BudgetSum& sum) {
  return {
      {"first_clamp", sum.first},  {"lost_clamp", sum.lost},
      {"retorque_gain", sum.gain}, {"end_clamp", sum.end},
      {"closure", sum.closure()},  {"closure_share", sum.first > 0 ? value(sum.closure() / sum.first) : Json(nullptr)}};
}

Json finding(const Summary& s) {
  const Finding& f = s.finding;
  Json j = {{"required_clamp", value(f.required_clamp)},
            {"lowest_clamp_cold", value(f.lowest_clamp_cold)},
            {"lowest", moment(s, f.lowest)},
            {"below_required_clamp", f.first_below.has_value()},
            {"below_from_start", f.below_from_start},
            {"first_below", f.first_below ? moment(s, *f.first_below) : Json(nullptr)},
            {"first_below_located", f.first_below_located},
            {"latest_retorque_time", nullptr},
            {"latest_retorque_distance", nullptr},
            {"torque", Json::array()},
            {"check_torque_then", value(f.check_torque_then)}};
  j["torque"] = f.torque;
  if (f.latest_retorque) {
    j["latest_retorque_time"] = f.latest_retorque->time;
    j["latest_retorque_distance"] = f.latest_retorque->distance;
  }
  return j;
}

Json results(const Summary& s) {
  Json j;
  j["finding"] = finding(s);
  for (const Milestone& m : s.milestones) {
    Json row = {{"name", m.name}, {"reached", m.reached}, {"late", m.late}, {"recorded", m.recorded}};
    if (m.reached && m.recorded) {
      row["time"] = m.time;
      row["distance"] = m.distance;
      row["as_is"] = spread(s, m.clamp, "clamp");
      row["cold"] = spread(s, m.clamp_cold, "clamp");
    }
    j["milestones"].push_back(std::move(row));
  }
  j["budget"] = {{"weakest_stud", s.studs.at(s.budget.weakest_stud)},
                 {"mean", budget_sum(s.budget.mean)},
                 {"weakest", budget_sum(s.budget.weakest)},
                 {"mechanisms", Json::array()}};
  for (const BudgetLine& l : s.budget.lines) {
    j["budget"]["mechanisms"].push_back({{"mechanism", l.mechanism},
                                         {"mean_loss", l.loss_mean},
                                         {"mean_loss_clamp", l.clamp_mean},
                                         {"weakest_loss", l.loss_weakest},
                                         {"weakest_loss_clamp", l.clamp_weakest}});
  }
  j["lowest_slip_margin"] = peak(s, s.slip_margin, "slip_margin", false);
  j["highest_utilisation"] = peak(s, s.utilisation, "utilisation");
  j["highest_fatigue_amplitude"] = peak(s, s.fatigue_amplitude, "fatigue_amplitude");
  j["highest_seat_pressure"] = peak(s, s.seat_pressure, "seat_pressure");
  j["check_torque_now"] = s.check_torque ? spread(s, *s.check_torque, "check_torque") : Json(nullptr);
  for (const StudLine& l : s.stud_lines) {
    j["studs"].push_back({{"stud", l.name},
                          {"nut_removed", l.removed},
                          {"first_clamp", l.first_clamp_cold},
                          {"end_clamp_as_is", l.end_clamp},
                          {"end_clamp", l.end_clamp_cold},
                          {"lowest_clamp_cold", l.lowest_clamp_cold},
                          {"check_torque", l.check_torque}});
  }
  for (const NodeLine& n : s.nodes) {
    j["nodes"].push_back({{"node", n.name}, {"highest_temperature", n.highest}, {"time", n.time}});
  }
  return j;
}

/// The SI unit of every key that carries a number with a dimension.
Json unit_names() {
  Json j = Json::object();
  for (const char* key : {"time", "latest_retorque_time", "end_time"}) {
    j[key] = "s";
  }
  for (const char* key : {"distance", "latest_retorque_distance", "mean_loss", "weakest_loss"}) {
    j[key] = "m";
  }
  for (const char* key :
       {"required_clamp", "lowest_clamp_cold", "lowest_clamp", "mean_clamp", "highest_clamp", "first_clamp",
        "lost_clamp", "retorque_gain", "end_clamp", "end_clamp_as_is", "closure", "mean_loss_clamp",
        "weakest_loss_clamp", "lowest_clamp_end", "highest_clamp_end", "clamp_for_slip", "clamp_for_gap"}) {
    j[key] = "N";
  }
  for (const char* key : {"torque", "check_torque_then", "check_torque", "lowest_check_torque", "mean_check_torque",
                          "highest_check_torque", "lowest_torque", "highest_torque"}) {
    j[key] = "N m";
  }
  for (const char* key : {"fatigue_amplitude", "fatigue_amplitude_limit", "seat_pressure", "seat_pressure_limit"}) {
    j[key] = "Pa";
  }
  for (const char* key : {"slip_margin", "slip_margin_limit", "utilisation", "utilisation_limit",
                          "utilisation_tightening", "closure_share"}) {
    j[key] = "1";
  }
  j["highest_temperature"] = "K";
  j["angle"] = "rad";
  return j;
}

std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) {
    return text;
  }
  std::string out = "\"";
  for (const char c : text) {
    out += c == '"' ? "\"\"" : std::string(1, c);
  }
  return out + "\"";
}

} // namespace

std::string to_json(const Summary& s) {
  constexpr const char* digest_words[] = {"absent", "right", "wrong"};
  Json j = {{"file", s.path},
            {"title", s.title},
            {"status", std::string(name(s.status))},
            {"status_text", s.status_text},
            {"digest", digest_words[static_cast<std::size_t>(s.digest)]},
            {"program_version", s.program_version},
            {"git_sha", s.git_sha},
            {"created_utc", s.created_utc},
            {"scenario_sha256", s.scenario_sha256},
            {"end_time", s.end_time},
            {"records", s.records},
            {"caution", "an estimate, not a release to service; a re-check is never skipped on a prediction alone"}};
  j["alarms"] = Json::array();
  for (const Alarm& a : s.alarms) {
    Json alarm = {{"kind", a.kind}, {"studs", Json::array()}, {"time", nullptr}, {"distance", nullptr}};
    for (const std::size_t stud : a.studs) {
      alarm["studs"].push_back(s.studs.at(stud));
    }
    if (a.first) {
      alarm["time"] = a.first->time;
      alarm["distance"] = a.first->distance;
    }
    j["alarms"].push_back(std::move(alarm));
  }
  if (s.records > 0) {
    j.update(results(s));
  }
  j["deciding_design_case"] = s.deciding_design_case;
  j["design_cases"] = Json::array();
  for (const DesignCase& c : s.design_cases) {
    j["design_cases"].push_back({{"name", c.name},
                                 {"clamp_for_slip", value(c.clamp_for_slip)},
                                 {"clamp_for_gap", value(c.clamp_for_gap)},
                                 {"required_clamp", value(c.required)}});
  }
  j["utilisation_tightening"] = value(s.utilisation_tightening);
  j["tightening"] = Json::array();
  for (const PassLine& p : s.passes) {
    j["tightening"].push_back({{"pass", p.pass},
                               {"time", p.time},
                               {"lowest_torque", p.torque_lowest},
                               {"highest_torque", p.torque_highest},
                               {"nuts", p.nuts},
                               {"nuts_moved", p.moved},
                               {"lowest_clamp", p.clamp_lowest},
                               {"highest_clamp", p.clamp_highest},
                               {"lowest_clamp_end", p.clamp_end_lowest},
                               {"highest_clamp_end", p.clamp_end_highest}});
  }
  j["events"] = Json::array();
  for (const EventRow& e : s.events) {
    const bool one = e.stud >= 0 && static_cast<std::size_t>(e.stud) < s.studs.size();
    j["events"].push_back({{"time", e.time},
                           {"distance", e.distance},
                           {"stud", one ? Json(s.studs[static_cast<std::size_t>(e.stud)]) : Json(nullptr)},
                           {"kind", e.kind},
                           {"text", e.text}});
  }
  j["provenance"] = Json::object();
  for (const auto& [kind, count] : s.provenance) {
    j["provenance"][kind] = count;
  }
  j["as_tightened"] = Json::array();
  for (const RunHeader::IdentityRow& row : s.identity) {
    j["as_tightened"].push_back({{"stud", row.stud},
                                 {"torque", value(row.torque)},
                                 {"angle", value(row.angle)},
                                 {"time", row.time},
                                 {"tool", row.tool},
                                 {"operator", row.operator_name},
                                 {"vehicle", row.vehicle},
                                 {"axle", row.axle},
                                 {"wheel", row.wheel}});
  }
  j["warnings"] = s.warnings;
  j["units"] = unit_names();
  // Bytes that are no UTF-8 must not cost the user the whole report.
  return j.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string to_csv(const Summary& s, System system) {
  std::string out = "table,item,subject,quantity,value,unit\n";
  const auto add = [&](const char* table, const std::string& item, const std::string& subject, const char* quantity,
                       double si, Kind kind) {
    const std::string unit_name = kind == Kind::Duration ? "d" : unit(kind, system);
    // What there is none of, such as the clamp of a wheel whose nuts are all off, is an empty cell.
    const std::string cell = std::isfinite(si) ? fmt::format("{}", convert(si, kind, system)) : "";
    out += fmt::format("{},{},{},{},{},{}\n", table, quoted(item), quoted(subject), quantity, cell, unit_name);
  };
  for (const Milestone& m : s.milestones) {
    if (!m.reached || !m.recorded) {
      continue;
    }
    const std::string name = milestone_name(m.name, system);
    add("milestones", name, "record", "time", m.time, Kind::Duration);
    add("milestones", name, "record", "distance", m.distance, Kind::Distance);
    for (const auto& [quantity, x] :
         {std::pair<const char*, const Spread&>{"clamp", m.clamp}, {"clamp_cold", m.clamp_cold}}) {
      add("milestones", name, "weakest", quantity, x.lowest, Kind::Force);
      add("milestones", name, "mean", quantity, x.mean, Kind::Force);
      add("milestones", name, "strongest", quantity, x.highest, Kind::Force);
    }
  }
  if (s.records == 0) {
    return out;
  }
  const std::string weakest = "stud " + s.studs.at(s.budget.weakest_stud);
  for (const BudgetLine& l : s.budget.lines) {
    add("budget", l.mechanism, "mean", "loss", l.loss_mean, Kind::Thickness);
    add("budget", l.mechanism, "mean", "loss_clamp", l.clamp_mean, Kind::Force);
    add("budget", l.mechanism, weakest, "loss", l.loss_weakest, Kind::Thickness);
    add("budget", l.mechanism, weakest, "loss_clamp", l.clamp_weakest, Kind::Force);
  }
  for (const auto& [subject, sum] :
       {std::pair<std::string, const BudgetSum&>{"mean", s.budget.mean}, {weakest, s.budget.weakest}}) {
    add("budget", "first clamp", subject, "clamp_cold", sum.first, Kind::Force);
    add("budget", "retorque gain", subject, "retorque_gain", sum.gain, Kind::Force);
    add("budget", "cold clamp now", subject, "clamp_cold", sum.end, Kind::Force);
    add("budget", "not accounted for", subject, "closure", sum.closure(), Kind::Force);
  }
  return out;
}

} // namespace clampfade::post

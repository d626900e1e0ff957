#include "post/alarms.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <regex>

namespace clampfade::post {

namespace {

/// Kinds of events, gravest first.
constexpr std::array<std::string_view, 9> kGravity = {"nut free",     "open",       "gap",
                                                      "stud fatigue", "stud yield", "below required clamp",
                                                      "nut removed",  "retorque",   "hot day"};

std::size_t gravity(std::string_view kind) {
  return static_cast<std::size_t>(std::find(kGravity.begin(), kGravity.end(), kind) - kGravity.begin());
}

const Figure* find_figure(const Summary& s, std::string_view name) {
  const auto found = std::find_if(s.joint.begin(), s.joint.end(),
                                  [&](const Figure& f) { return f.name == name && !f.values.empty(); });
  return found == s.joint.end() ? nullptr : &*found;
}

std::optional<double> highest(const Summary& s, std::string_view name) {
  const Figure* f = find_figure(s, name);
  return f == nullptr ? std::nullopt : std::optional(*std::max_element(f->values.begin(), f->values.end()));
}

std::vector<std::size_t> without(const std::vector<std::size_t>& studs, const std::vector<std::size_t>& others) {
  std::vector<std::size_t> left;
  std::set_difference(studs.begin(), studs.end(), others.begin(), others.end(), std::back_inserter(left));
  return left;
}

/// What the wrench did to the studs, from the figures of the joint and the acts.
void wrench_alarms(const Summary& s, std::vector<Alarm>& all) {
  const std::optional<double> planned = highest(s, "torque/clamp");
  double clamp = planned.value_or(0);
  std::optional<double> utilisation = s.utilisation_tightening;
  for (const PassLine& p : s.passes) {
    clamp = std::max(clamp, p.clamp_highest);
    // A retorque may go beyond the tightening: at the same friction stress goes with clamp.
    if (utilisation && planned && *planned > 0 && p.pass == 0) {
      utilisation = std::max(*utilisation, *s.utilisation_tightening * p.clamp_highest / *planned);
    }
  }
  constexpr double rounding = 1e-9; // of a stretch [m]
  if (utilisation.value_or(0) > 1 || highest(s, "torque/yield_stretch").value_or(0) > rounding) {
    const bool beyond_yield = clamp > highest(s, "thread/yield_load").value_or(clamp);
    all.push_back({beyond_yield ? "torn by the wrench" : "stretched by the wrench", {}, {}, utilisation, 1.0});
  }
  const std::optional<double> proof = highest(s, "thread/proof_load");
  if (s.clamp) {
    clamp = std::max(clamp, s.clamp->value);
  }
  if (proof && clamp > *proof) {
    all.push_back({"above proof load", {}, {}, clamp, proof});
  }
}

void low_at_start(const Summary& s, std::vector<Alarm>& all) {
  std::vector<double> clamps;
  for (const StudLine& l : s.stud_lines) {
    clamps.push_back(l.first_clamp_cold);
  }
  if (clamps.size() < 3) {
    return;
  }
  std::nth_element(clamps.begin(), clamps.begin() + static_cast<std::ptrdiff_t>(clamps.size() / 2), clamps.end());
  const double usual = clamps[clamps.size() / 2];
  constexpr double far_below = 0.8; // of the median; what a careful sequence leaves behind lies well above it
  Alarm low{"low at start", {}, {}, {}, usual};
  for (std::size_t stud = 0; stud < s.stud_lines.size(); ++stud) {
    const double clamp = s.stud_lines[stud].first_clamp_cold;
    if (clamp < far_below * usual) {
      low.studs.push_back(stud);
      low.value = std::min(low.value.value_or(clamp), clamp);
    }
  }
  if (!low.studs.empty()) {
    all.push_back(std::move(low));
  }
}

} // namespace

std::string stud_list(const std::vector<std::size_t>& studs, const std::vector<std::string>& names) {
  if (studs.empty()) {
    return "the wheel";
  }
  if (studs.size() == 1) {
    return "stud " + names.at(studs.front());
  }
  std::string out = "studs ";
  for (std::size_t i = 0; i < studs.size();) {
    std::size_t end = i;
    while (end + 1 < studs.size() && studs[end + 1] == studs[end] + 1) {
      ++end;
    }
    out += (i == 0 ? "" : ", ") + names.at(studs[i]);
    if (end > i) {
      out += (end == i + 1 ? ", " : "-") + names.at(studs[end]);
    }
    i = end + 1;
  }
  return out;
}

std::string translated(const std::string& text, System system) {
  if (system == System::Si) {
    return text;
  }
  struct Unit {
    const char* name;
    Kind kind;
    double factor, offset; ///< to SI
  };
  static const std::array<Unit, 16> known = {{{"kN", Kind::Force, units::kKilonewton, 0},
                                              {"N", Kind::Force, 1, 0},
                                              {"MPa", Kind::Stress, units::kMegapascal, 0},
                                              {"GPa", Kind::Stress, 1e3 * units::kMegapascal, 0},
                                              {"N·m", Kind::Torque, 1, 0},
                                              {"N*m", Kind::Torque, 1, 0},
                                              {"N m", Kind::Torque, 1, 0},
                                              {"km", Kind::Distance, units::kKilometre, 0},
                                              {"mm", Kind::Length, units::kMillimetre, 0},
                                              {"µm", Kind::Thickness, units::kMicrometre, 0},
                                              {"um", Kind::Thickness, units::kMicrometre, 0},
                                              {"°C", Kind::Temperature, 1, units::kZeroCelsius},
                                              {"degC", Kind::Temperature, 1, units::kZeroCelsius},
                                              {"K", Kind::Temperature, 1, 0},
                                              {"kW", Kind::Power, 1e3, 0},
                                              {"W", Kind::Power, 1, 0}}};
  // Longer names first, and no letter after them: "N m" is no "N", "4 Nuts" no force, "km/h" no distance.
  static const std::regex quantity(
      "(-?[0-9]+(?:\\.[0-9]+)?(?:e[-+]?[0-9]+)?) (kN|MPa|GPa|N·m|N\\*m|N m|N|km|mm|µm|um|°C|degC|K|kW|W)"
      "(?![A-Za-z0-9/^*·])");
  std::string out;
  std::size_t done = 0;
  for (std::sregex_iterator it(text.begin(), text.end(), quantity), end; it != end; ++it) {
    const std::smatch& match = *it;
    const auto unit_found = std::find_if(known.begin(), known.end(), [&](const Unit& u) { return match[2] == u.name; });
    const auto start = static_cast<std::size_t>(match.position(0));
    out += text.substr(done, start - done);
    out += show(std::strtod(match.str(1).c_str(), nullptr) * unit_found->factor + unit_found->offset, unit_found->kind,
                system);
    done = start + static_cast<std::size_t>(match.length(0));
  }
  return out + text.substr(done);
}

std::vector<EventGroup> grouped_events(const Summary& s) {
  std::vector<EventGroup> all;
  for (const EventRow& event : s.events) {
    auto group = std::find_if(all.begin(), all.end(), [&](const EventGroup& g) { return g.kind == event.kind; });
    if (group == all.end()) {
      all.push_back({event.kind, {}, 0, event, event});
      group = std::prev(all.end());
    }
    ++group->count;
    if (event.time < group->first.time) {
      group->first = event;
    }
    if (event.time >= group->last.time) {
      group->last = event;
    }
    if (event.stud >= 0 && static_cast<std::size_t>(event.stud) < s.studs.size()) {
      const auto stud = static_cast<std::size_t>(event.stud);
      group->studs.push_back(stud);
      // Of studs that are alike in everything a run tells only one.
      for (std::size_t other = 0; other < s.same_as.size(); ++other) {
        if (s.same_as[other] == s.same_as[stud]) {
          group->studs.push_back(other);
        }
      }
    }
  }
  for (EventGroup& group : all) {
    std::sort(group.studs.begin(), group.studs.end());
    group.studs.erase(std::unique(group.studs.begin(), group.studs.end()), group.studs.end());
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const EventGroup& a, const EventGroup& b) { return gravity(a.kind) < gravity(b.kind); });
  return all;
}

std::vector<Alarm> find_alarms(const Summary& s) {
  std::vector<Alarm> all;
  const std::vector<EventGroup> groups = grouped_events(s);
  const auto event_alarm = [&](std::string_view kind, const std::vector<std::size_t>& told) {
    std::vector<std::size_t> studs;
    for (const EventGroup& group : groups) {
      if (group.kind == kind) {
        studs = without(group.studs, told);
        if (!studs.empty() || group.studs.empty()) {
          // The first of those that no graver alarm names.
          Moment first{group.first.time, group.first.distance, 0};
          for (const EventRow& e : s.events) {
            if (e.kind == kind && e.stud >= 0 &&
                std::binary_search(studs.begin(), studs.end(), static_cast<std::size_t>(e.stud))) {
              first = {e.time, e.distance, static_cast<std::size_t>(e.stud)};
              break;
            }
          }
          all.push_back({std::string(kind), studs, first, {}, {}});
        }
      }
    }
    return studs;
  };
  std::vector<std::size_t> told;
  for (const char* kind : {"nut free", "open", "gap"}) {
    const std::vector<std::size_t> more = event_alarm(kind, told);
    told.insert(told.end(), more.begin(), more.end());
    std::sort(told.begin(), told.end());
  }
  wrench_alarms(s, all);
  const std::size_t before_fatigue = all.size();
  event_alarm("stud fatigue", {});
  const std::optional<Peak>& tired = s.fatigue_amplitude;
  const bool too_much = tired && tired->limit && tired->value > *tired->limit;
  if (all.size() == before_fatigue && too_much) {
    all.push_back({"stud fatigue", {tired->when.stud}, tired->when, {}, {}});
  }
  if (all.size() > before_fatigue && tired) {
    all.back().value = tired->value;
    all.back().limit = tired->limit;
  }
  event_alarm("stud yield", {});
  if (s.slip_margin && s.slip_margin->value < 1) {
    all.push_back({"slip", {}, s.first_slip, s.slip_margin->value, 1.0});
  }
  event_alarm("nut removed", {});
  low_at_start(s, all);
  const std::optional<double> limit = highest(s, "seat_pressure_limit");
  const double pressure =
      std::max(highest(s, "seat_pressure").value_or(0), s.seat_pressure ? s.seat_pressure->value : 0);
  if (limit && *limit > 0 && pressure > *limit) {
    all.push_back({"seat pressure", {}, {}, pressure, limit});
  }
  return all;
}

std::string sentence(const Alarm& a, const Summary& s, System system) {
  const std::string who = stud_list(a.studs, s.studs);
  const std::string when = !a.first ? ""
                                    : (a.studs.size() > 1 ? "the first " : "") +
                                          (a.first->time <= 0 ? std::string("right after tightening")
                                                              : "after " + duration(a.first->time) + " and " +
                                                                    show(a.first->distance, Kind::Distance, system, 3));
  const auto figure = [&](const std::optional<double>& v, Kind kind, int digits = 4) {
    return v ? show(*v, kind, system, digits) : std::string("unknown");
  };
  if (a.kind == "nut free") {
    return fmt::format("THE WHEEL COMES LOOSE: nuts turn free at {}, {}. It must not be driven; results after that "
                       "instant mean nothing.",
                       who, when);
  }
  if (a.kind == "open") {
    return fmt::format("THE WHEEL COMES LOOSE: nothing clamps any more at {}, {}. Do not drive.", who, when);
  }
  if (a.kind == "gap") {
    return fmt::format("THE WHEEL COMES LOOSE: the joint gaps under load at {}, {}. Do not drive.", who, when);
  }
  if (a.kind == "stretched by the wrench" || a.kind == "torn by the wrench") {
    return fmt::format("STUDS WERE STRETCHED FOR GOOD BY THE WRENCH{}{}: replace them, and tighten less.",
                       a.kind == "torn by the wrench" ? " AND MAY BREAK" : "",
                       a.value ? fmt::format(" (stress {} of yield)", number(*a.value, 3)) : "");
  }
  if (a.kind == "above proof load") {
    return fmt::format("THE CLAMP IS ABOVE THE STUD'S PROOF LOAD: {} against {}. Tighten less.",
                       figure(a.value, Kind::Force), figure(a.limit, Kind::Force));
  }
  if (a.kind == "stud fatigue") {
    return fmt::format("STUD FATIGUE: the stress amplitude exceeds the endurance limit at {}, {}{}. Replace the studs.",
                       who, when,
                       a.value && a.limit ? fmt::format(" (up to {} against {})", figure(a.value, Kind::Stress, 3),
                                                        figure(a.limit, Kind::Stress, 3))
                                          : "");
  }
  if (a.kind == "stud yield") {
    return fmt::format("STUDS YIELD IN SERVICE: {}, {}. Replace the studs; the torque or the heat is too high.", who,
                       when);
  }
  if (a.kind == "slip") {
    return fmt::format(
        "THE WHEEL SLIPS: the slip margin is below 1, first shown {}, at the least {}. Sliding works nuts loose.", when,
        number(*a.value, 3));
  }
  if (a.kind == "nut removed") {
    return fmt::format("A NUT IS OFF: {}, {}. Do not drive with a missing nut.", who, when);
  }
  if (a.kind == "low at start") {
    return fmt::format("TIGHTENED FAR BELOW THE OTHERS: {} ({}, the others about {}). Tighten it like its neighbours "
                       "and find out why it was low.",
                       who, figure(a.value, Kind::Force), figure(a.limit, Kind::Force));
  }
  if (a.kind == "seat pressure") {
    return fmt::format("THE PRESSURE UNDER THE NUT IS ABOVE WHAT THE PART BEARS: {} against {}. The seat is crushed, "
                       "and clamp goes with it beyond this estimate.",
                       figure(a.value, Kind::Stress, 3), figure(a.limit, Kind::Stress, 3));
  }
  return a.kind + ": " + who;
}

std::string words(const EventGroup& g, const Summary& s, System system) {
  const auto limit = [&](const std::optional<double>& v, Kind kind) {
    return v ? " of " + show(*v, kind, system) : std::string();
  };
  if (g.kind == "nut free") {
    return "the nut has turned until nothing holds it";
  }
  if (g.kind == "open") {
    return "no clamp is left";
  }
  if (g.kind == "gap") {
    return "the joint opens once in each turn of the wheel";
  }
  if (g.kind == "stud fatigue") {
    return "stress amplitude above the endurance limit" +
           limit(s.fatigue_amplitude ? s.fatigue_amplitude->limit : std::nullopt, Kind::Stress);
  }
  if (g.kind == "stud yield") {
    return "stretched for good in service";
  }
  if (g.kind == "below required clamp") {
    return "cold clamp below the required one" + limit(s.finding.required_clamp, Kind::Force);
  }
  if (g.kind == "nut removed") {
    return "the other studs carry the wheel";
  }
  return g.kind == "retorque" && g.count > 1 ? "see the acts of the wrench" : translated(g.first.text, system);
}

} // namespace clampfade::post

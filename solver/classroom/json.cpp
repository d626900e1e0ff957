#include "solver/classroom/json.hpp"

#include "models/law.hpp"
#include "solver/diagnostics.hpp"

#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <utility>

namespace clampfade {

namespace {

using nlohmann::json;

/// On one line and in ASCII, whatever stands in it.
std::string shown(const json& value) { return value.dump(-1, ' ', true); }

[[noreturn]] void refuse(Code code, const std::string& path, const std::string& found, const std::string& allowed) {
  Diagnostic d;
  d.code = code;
  const std::string quoted = shown(path);
  d.path = quoted.substr(1, quoted.size() - 2);
  d.found = found;
  d.allowed = allowed;
  throw InputError({d});
}

double number(const json& value, const std::string& path) {
  if (!value.is_number()) {
    refuse(Code::WrongType, path, shown(value), "a number");
  }
  return value.get<double>();
}

std::size_t count(const json& value, const std::string& path) {
  const double v = number(value, path);
  if (!(v >= 0 && v <= 1e9) || v != std::floor(v)) {
    refuse(Code::OutOfRange, path, shown(value), "a whole number, 0 or more");
  }
  return static_cast<std::size_t>(v);
}

bool flag(const json& value, const std::string& path) {
  if (!value.is_boolean()) {
    refuse(Code::WrongType, path, shown(value), "true or false");
  }
  return value.get<bool>();
}

template <class T, std::size_t N>
T word(const json& value, const std::string& path, const std::array<std::pair<const char*, T>, N>& words) {
  std::string allowed;
  for (const auto& [known, meant] : words) {
    if (value.is_string() && value.get<std::string>() == known) {
      return meant;
    }
    allowed += (allowed.empty() ? "" : ", ") + std::string(known);
  }
  refuse(Code::UnknownEntry, path, shown(value), allowed);
}

ClassroomAct act(const json& value) {
  if (!value.is_object()) {
    refuse(Code::WrongType, "acts", shown(value), "an object");
  }
  static constexpr std::array<std::pair<const char*, ClassroomAct::Kind>, 2> kKinds = {
      {{"retorque", ClassroomAct::Kind::Retorque}, {"remove_nut", ClassroomAct::Kind::RemoveNut}}};
  ClassroomAct a;
  for (const auto& [key, v] : value.items()) {
    const std::string path = "acts/" + key;
    if (key == "kind") {
      a.kind = word(v, path, kKinds);
    } else if (key == "time") {
      a.time = number(v, path);
    } else if (key == "stud") {
      const std::size_t stud = count(v, path);
      if (stud == 0) {
        refuse(Code::OutOfRange, path, shown(v), "from 1");
      }
      a.stud = stud - 1;
    } else {
      refuse(Code::UnknownKey, path, shown(key), "kind, time, stud");
    }
  }
  return a;
}

void set(ClassroomSettings& s, const std::string& key, const json& v) {
  static constexpr std::array<std::pair<const char*, ClassroomPaint>, 4> kPaints = {
      {{"bare", ClassroomPaint::Bare},
       {"primer", ClassroomPaint::Primer},
       {"thermoplastic", ClassroomPaint::Thermoplastic},
       {"cross-linked", ClassroomPaint::CrossLinked}}};
  static constexpr std::array<std::pair<const char*, ClassroomWheel>, 2> kWheels = {
      {{"steel", ClassroomWheel::Steel}, {"aluminium", ClassroomWheel::Aluminium}}};
  static constexpr std::array<std::pair<const char*, ClassroomRoute>, 3> kRoutes = {
      {{"round", ClassroomRoute::Round}, {"highway", ClassroomRoute::Highway}, {"parked", ClassroomRoute::Parked}}};
  static constexpr std::array<std::pair<const char*, double ClassroomSettings::*>, 9> kNumbers = {
      {{"torque", &ClassroomSettings::torque},
       {"thread_friction", &ClassroomSettings::thread_friction},
       {"bearing_friction", &ClassroomSettings::bearing_friction},
       {"paint_thickness", &ClassroomSettings::paint_thickness},
       {"disc_thickness", &ClassroomSettings::disc_thickness},
       {"spacer", &ClassroomSettings::spacer},
       {"pilot_clearance", &ClassroomSettings::pilot_clearance},
       {"full_mass", &ClassroomSettings::full_mass},
       {"end", &ClassroomSettings::end}}};
  static constexpr std::array<std::pair<const char*, std::size_t ClassroomSettings::*>, 3> kCounts = {
      {{"stops", &ClassroomSettings::stops},
       {"working_days", &ClassroomSettings::working_days},
       {"start_day", &ClassroomSettings::start_day}}};
  static constexpr std::array<std::pair<const char*, bool ClassroomSettings::*>, 3> kFlags = {
      {{"spring_washers", &ClassroomSettings::spring_washers},
       {"sleeve", &ClassroomSettings::sleeve},
       {"coupled", &ClassroomSettings::coupled}}};
  for (const auto& [name, member] : kNumbers) {
    if (key == name) {
      s.*member = number(v, key);
      return;
    }
  }
  for (const auto& [name, member] : kCounts) {
    if (key == name) {
      s.*member = count(v, key);
      return;
    }
  }
  for (const auto& [name, member] : kFlags) {
    if (key == name) {
      s.*member = flag(v, key);
      return;
    }
  }
  if (key == "paint") {
    s.paint = word(v, key, kPaints);
  } else if (key == "wheel") {
    s.wheel = word(v, key, kWheels);
  } else if (key == "route") {
    s.route = word(v, key, kRoutes);
  } else if (key == "acts" && v.is_array()) {
    for (const json& one : v) {
      s.acts.push_back(act(one));
    }
  } else if (key == "acts") {
    refuse(Code::WrongType, key, shown(v), "a list");
  } else {
    refuse(Code::UnknownKey, key, shown(key), "a setting of the classroom");
  }
}

/// Numbers as rows of `width`. A slip margin may be infinite, which JSON has no word for: null.
json rows(const std::vector<double>& values, std::size_t width) {
  json all = json::array();
  for (std::size_t i = 0; width > 0 && i + width <= values.size(); i += width) {
    json row = json::array();
    for (std::size_t k = 0; k < width; ++k) {
      row.push_back(values[i + k]);
    }
    all.push_back(std::move(row));
  }
  return all;
}

} // namespace

ClassroomSettings classroom_settings(const std::string& text) {
  const json root = json::parse(text, nullptr, false);
  if (!root.is_object()) {
    refuse(Code::Syntax, "settings", "no JSON object", "an object of settings");
  }
  ClassroomSettings s;
  for (const auto& [key, value] : root.items()) {
    set(s, key, value);
  }
  check(s);
  return s;
}

std::string classroom_text(const ClassroomResult& r) {
  json j;
  j["studs"] = r.studs;
  j["nodes"] = r.nodes;
  j["layers"] = r.layers;
  j["required_clamp"] = r.required_clamp;
  j["required_with"] = r.required_with;
  j["required_margin"] = r.required_margin;
  j["cases"] = json::array();
  for (const CaseClamp& c : r.cases) {
    j["cases"].push_back({{"name", c.name}, {"for_slip", c.for_slip}, {"for_gap", c.for_gap}});
  }
  j["softening"] = r.softening;
  j["grip_length"] = r.grip_length;
  j["clamp_per_thickness"] = r.clamp_per_thickness;
  j["stud_resilience"] = r.stud_resilience;
  j["total_resilience"] = r.total_resilience;
  j["yield_load"] = r.yield_load;
  j["slip_threshold"] = r.slip_threshold;
  j["clearance"] = r.clearance;
  j["time"] = r.time;
  j["distance"] = r.distance;
  j["clamp"] = rows(r.clamp, r.studs);
  j["cold"] = rows(r.cold, r.studs);
  j["gain"] = rows(r.gain, r.studs);
  j["temperature"] = rows(r.temperature, r.nodes.size());
  j["slip_margin"] = r.slip_margin;
  j["films"] = rows(r.films, r.studs * r.layers.size());
  // Most mechanisms do nothing on most wheels.
  std::vector<std::size_t> used;
  for (std::size_t m = 0; m < kMechanisms; ++m) {
    bool any = false;
    for (std::size_t i = m; i < r.cost.size(); i += kMechanisms) {
      any = any || r.cost[i] != 0;
    }
    if (any) {
      used.push_back(m);
    }
  }
  const auto by_mechanism = [&](const std::vector<double>& values) {
    json all = json::array();
    for (const std::size_t m : used) {
      std::vector<double> one;
      for (std::size_t i = m; i < values.size(); i += kMechanisms) {
        one.push_back(values[i]);
      }
      all.push_back(rows(one, r.studs));
    }
    return all;
  };
  j["mechanisms"] = json::array();
  for (const std::size_t m : used) {
    j["mechanisms"].push_back(std::string(kMechanismNames[m]));
  }
  j["cost"] = by_mechanism(r.cost);
  j["loss"] = by_mechanism(r.loss);
  j["acts"] = json::array();
  for (const ActRow& a : r.acts) {
    j["acts"].push_back({{"time", a.time},
                         {"pass", a.pass},
                         {"stud", a.stud + 1},
                         {"clamp", a.clamp},
                         {"clamp_end", a.clamp_end},
                         {"moved", a.moved}});
  }
  j["events"] = json::array();
  for (const EventRow& e : r.events) {
    j["events"].push_back(
        {{"time", e.time}, {"distance", e.distance}, {"stud", e.stud + 1}, {"kind", e.kind}, {"text", e.text}});
  }
  j["warnings"] = r.warnings;
  return j.dump();
}

} // namespace clampfade

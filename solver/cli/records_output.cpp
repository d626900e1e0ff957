#include "solver/cli/records_output.hpp"

#include "models/units.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/document.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

using nlohmann::ordered_json;

/// Values of one kind in the unit that people read.
class Shown {
public:
  Shown(std::string_view si_unit, UnitSystem system, double size)
      : unit_(shown_unit(si_unit, size, system)), name_(typeset(unit_.name)) {}
  [[nodiscard]] std::string number(double si) const { return significant(unit_(si)); }
  [[nodiscard]] std::string text(double si) const { return number(si) + ' ' + name_; }
  [[nodiscard]] const std::string& name() const { return name_; }

private:
  ShownUnit unit_;
  std::string name_;
};

constexpr double kUsualTorque = 600; // [N m], for the choice of a unit
constexpr double kUsualClamp = 2e5;  // [N]

std::string degrees(double rad) { return fmt::format("{:.1f}", rad / units::kDegree); }

std::string percent(double share) { return fmt::format("{:.3g} %", 100 * share); }

/// Distinct texts of a wheel's records, in their order.
std::string of_all(const CheckedRecords& checked, const WheelRecord& wheel, std::string TighteningRecord::*member) {
  std::vector<std::string> seen;
  for (const std::size_t i : wheel.records) {
    const std::string& text = checked.records[i].*member;
    if (!text.empty() && std::find(seen.begin(), seen.end(), text) == seen.end()) {
      seen.push_back(text);
    }
  }
  std::string out;
  for (const std::string& text : seen) {
    out += (out.empty() ? "" : ", ") + text;
  }
  return out;
}

std::string wheel_name(const WheelRecord& wheel) {
  std::string out;
  for (const std::string* part : {&wheel.vehicle, &wheel.axle, &wheel.wheel}) {
    if (!part->empty()) {
      out += (out.empty() ? "" : ", ") + *part;
    }
  }
  return out.empty() ? "Wheel without a name" : out;
}

std::string where(const RecordFinding& f) {
  return f.line > 0 ? fmt::format("stud {}, line {}", f.stud + 1, f.line) : fmt::format("stud {}", f.stud + 1);
}

void print_wheel(const CheckedRecords& checked, std::size_t w, UnitSystem system) {
  const WheelRecord& wheel = checked.wheels[w];
  fmt::print("\n{}: {}\n", wheel_name(wheel), wheel.inside() ? "inside its bands" : "OUTSIDE ITS BANDS");
  const std::string first = first_time(checked, wheel);
  const std::string last = last_time(checked, wheel);
  std::string about;
  const auto add = [&](const std::string& what) { about += (about.empty() ? "" : "; ") + what; };
  if (!first.empty()) {
    add(first == last ? first : first + " to " + last);
  }
  add(fmt::format("{} act{} in {} pass{}", wheel.records.size(), wheel.records.size() == 1 ? "" : "s", wheel.last_pass,
                  wheel.last_pass == 1 ? "" : "es"));
  if (const std::string tools = of_all(checked, wheel, &TighteningRecord::tool); !tools.empty()) {
    add("tool " + tools);
  }
  if (const std::string people = of_all(checked, wheel, &TighteningRecord::operator_name);
      checked.people && !people.empty()) {
    add("operator " + people);
  }
  fmt::print("{}\n", wrapped(about, 0, kPage));

  const Shown torque("N m", system, kUsualTorque);
  const Shown clamp("N", system, kUsualClamp);
  const bool estimated = !checked.clamps.empty();
  const bool angles =
      std::any_of(wheel.studs.begin(), wheel.studs.end(), [](const StudRecord& s) { return s.angle.has_value(); });
  std::vector<std::string> head = {"stud", "torque " + torque.name(), "set"};
  if (angles) {
    head.emplace_back("angle deg");
  }
  if (estimated) {
    head.push_back("clamp " + clamp.name());
    head.emplace_back("sd");
    if (angles) {
      head.emplace_back("by torque");
      head.emplace_back("by angle");
    }
  }
  head.emplace_back("");
  std::vector<std::vector<std::string>> rows = {head};
  for (const StudRecord& s : wheel.studs) {
    std::vector<std::string> row = {std::to_string(s.stud + 1), s.record ? torque.number(s.torque) : "-",
                                    std::isnan(s.set_torque) ? "-" : torque.number(s.set_torque)};
    if (angles) {
      row.push_back(s.angle ? degrees(*s.angle) : "-");
    }
    if (estimated) {
      const StudClamp& c = checked.clamps[w][s.stud];
      const auto best = c.best();
      row.push_back(best ? clamp.number(best->clamp) : "-");
      row.push_back(best ? clamp.number(best->deviation) : "-");
      if (angles) {
        row.push_back(c.torque ? clamp.number(c.torque->clamp) : "-");
        row.push_back(c.angle ? clamp.number(c.angle->estimate.clamp) : "-");
      }
    }
    row.emplace_back(s.inside ? "" : "<<");
    rows.push_back(std::move(row));
  }
  print_rows(rows);
  for (const RecordFinding& f : wheel.findings) {
    fmt::print("  - {}\n", wrapped(where(f) + ": " + reason(f, system), 4, kPage));
  }
  for (std::size_t k = 0; estimated && k < wheel.studs.size(); ++k) {
    const StudClamp& c = checked.clamps[w][k];
    if (c.both && c.both->disagreement > kDisagreement) {
      fmt::print(
          "  - {}\n",
          wrapped(fmt::format("stud {}: torque tells {} and angle {}, {:.1f} standard deviations apart: friction, "
                              "stiffness or the record is not what is assumed",
                              k + 1, clamp.text(c.torque->clamp), clamp.text(c.angle->estimate.clamp),
                              c.both->disagreement),
                  4, kPage));
    }
    if (const auto best = c.best(); best && checked.required_clamp && best->clamp < *checked.required_clamp) {
      fmt::print("  - {}\n", wrapped(fmt::format("stud {}: its clamp of {} is probably below the required {}", k + 1,
                                                 clamp.text(best->clamp), clamp.text(*checked.required_clamp)),
                                     4, kPage));
    }
  }
}

ordered_json number(double v) { return std::isfinite(v) ? ordered_json(v) : ordered_json(); }

ordered_json estimate_json(const ClampEstimate& e) { return {{"clamp_N", e.clamp}, {"deviation_N", e.deviation}}; }

ordered_json wheel_json(const CheckedRecords& checked, std::size_t w) {
  const WheelRecord& wheel = checked.wheels[w];
  ordered_json out;
  out["vehicle"] = wheel.vehicle;
  out["axle"] = wheel.axle;
  out["wheel"] = wheel.wheel;
  out["first_time"] = first_time(checked, wheel);
  out["last_time"] = last_time(checked, wheel);
  out["tool"] = of_all(checked, wheel, &TighteningRecord::tool);
  if (checked.people) {
    out["operator"] = of_all(checked, wheel, &TighteningRecord::operator_name);
  }
  out["acts"] = wheel.records.size();
  out["passes"] = wheel.last_pass;
  out["inside"] = wheel.inside();
  out["findings"] = ordered_json::array();
  for (const RecordFinding& f : wheel.findings) {
    out["findings"].push_back({{"check", name(f.check)},
                               {"stud", f.stud + 1},
                               {"pass", f.pass},
                               {"line", f.line > 0 ? ordered_json(f.line) : ordered_json()},
                               {"found", number(f.found)},
                               {"wanted", number(f.wanted)},
                               {"band", number(f.band)},
                               {"text", reason(f, UnitSystem::Si)}});
  }
  out["studs"] = ordered_json::array();
  for (const StudRecord& s : wheel.studs) {
    ordered_json row = {{"stud", s.stud + 1},
                        {"line", s.record ? ordered_json(checked.records[*s.record].line) : ordered_json()},
                        {"torque_N_m", number(s.torque)},
                        {"set_torque_N_m", number(s.set_torque)},
                        {"angle_rad", s.angle ? number(*s.angle) : ordered_json()},
                        {"inside", s.inside}};
    if (!checked.clamps.empty()) {
      const StudClamp& c = checked.clamps[w][s.stud];
      const auto best = c.best();
      row["estimate"] = best ? estimate_json(*best) : ordered_json();
      row["by_torque"] = c.torque ? estimate_json(*c.torque) : ordered_json();
      row["by_angle"] = c.angle ? estimate_json(c.angle->estimate) : ordered_json();
      row["disagreement"] = c.both ? number(c.both->disagreement) : ordered_json();
    }
    out["studs"].push_back(std::move(row));
  }
  return out;
}

} // namespace

bool CheckedRecords::inside() const {
  return std::all_of(wheels.begin(), wheels.end(), [](const WheelRecord& w) { return w.inside(); });
}

std::string reason(const RecordFinding& f, UnitSystem system) {
  const Shown torque("N m", system, kUsualTorque);
  switch (f.check) {
  case RecordCheck::MissingStud:
    return fmt::format("no act in pass {}", f.pass);
  case RecordCheck::RepeatedAct:
    return fmt::format("a second act in pass {}", f.pass);
  case RecordCheck::Torque:
    return fmt::format("torque {}, {} {} the set {} (band {})", torque.text(f.found),
                       percent(std::abs(f.found / f.wanted - 1)), f.found < f.wanted ? "below" : "above",
                       torque.text(f.wanted), percent(f.band / f.wanted));
  case RecordCheck::Angle:
    return fmt::format("angle {} deg does not go with its torque: the other studs tell {} deg, give or take {}",
                       degrees(f.found), degrees(f.wanted), degrees(f.band));
  case RecordCheck::Order:
    return fmt::format("follows stud {} in pass {}, the second step in a row of less than a third of the circle{}: the "
                       "order does not cross the wheel",
                       f.after + 1, f.pass,
                       f.found > 1 ? fmt::format(", and {:.0f} more such in this pass", f.found - 1) : "");
  case RecordCheck::BackwardsTime:
    return fmt::format("its time is {} s before that of the act above it", significant(f.found));
  }
  return {};
}

std::string stud_reasons(const WheelRecord& wheel, std::size_t stud) {
  std::string out;
  for (const RecordFinding& f : wheel.findings) {
    if (f.stud == stud) {
      out += (out.empty() ? "" : "; ") + reason(f, UnitSystem::Si);
    }
  }
  return out;
}

std::string first_time(const CheckedRecords& checked, const WheelRecord& wheel) {
  return checked.records[wheel.records.front()].time;
}

std::string last_time(const CheckedRecords& checked, const WheelRecord& wheel) {
  return checked.records[wheel.records.back()].time;
}

void print_records(const CheckedRecords& checked, UnitSystem system, bool only_outside) {
  const auto outside = static_cast<std::size_t>(
      std::count_if(checked.wheels.begin(), checked.wheels.end(), [](const WheelRecord& w) { return !w.inside(); }));
  fmt::print("{}: {} act{} on {} wheel{}, {} inside {} bands, {} outside\n", checked.file, checked.records.size(),
             checked.records.size() == 1 ? "" : "s", checked.wheels.size(), checked.wheels.size() == 1 ? "" : "s",
             checked.wheels.size() - outside, checked.wheels.size() - outside == 1 ? "its" : "their", outside);
  for (std::size_t w = 0; w < checked.wheels.size(); ++w) {
    if (!only_outside || !checked.wheels[w].inside()) {
      print_wheel(checked, w, system);
    }
  }
  if (!checked.assumed.empty()) {
    fmt::print("\nWhat the estimates take for granted\n");
    for (const std::string& sentence : checked.assumed) {
      fmt::print("  - {}\n", wrapped(sentence, 4, kText));
    }
  }
  print_cautions(checked.warnings);
}

void print_records_json(const CheckedRecords& checked, bool only_outside) {
  ordered_json head;
  head["file"] = checked.file;
  head["acts"] = checked.records.size();
  head["inside"] = checked.inside();
  head["bands"] = {{"torque_N_m", checked.bands.torque ? ordered_json(*checked.bands.torque) : ordered_json()},
                   {"torque_band", checked.bands.torque_band},
                   {"angle_band", checked.bands.angle_band},
                   {"studs", checked.bands.studs}};
  head["required_clamp_N"] = checked.required_clamp ? ordered_json(*checked.required_clamp) : ordered_json();
  head["assumed"] = checked.assumed;
  head["warnings"] = checked.warnings;
  head["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  // Wheel by wheel, because the whole of a large fleet as one object would take gigabytes.
  std::string text = head.dump(2);
  text.resize(text.rfind('\n'));
  fmt::print("{},\n  \"wheels\": [", text);
  bool first = true;
  for (std::size_t w = 0; w < checked.wheels.size(); ++w) {
    if (!only_outside || !checked.wheels[w].inside()) {
      fmt::print("{}\n{}", first ? "" : ",", wheel_json(checked, w).dump(2));
      first = false;
    }
  }
  fmt::print("\n  ]\n}}\n");
}

std::string records_csv(const CheckedRecords& checked) {
  std::string out = "vehicle,axle,wheel,first_time,last_time,stud,time,line,pass,torque_N_m,set_torque_N_m,angle_rad,"
                    "clamp_N,clamp_deviation_N,inside,reasons,wheel_inside,tool";
  out += checked.people ? ",operator\n" : "\n";
  const auto value = [](double v) { return std::isfinite(v) ? fmt::format("{}", v) : std::string(); };
  for (std::size_t w = 0; w < checked.wheels.size(); ++w) {
    const WheelRecord& wheel = checked.wheels[w];
    const std::string common =
        fmt::format("{},{},{},{},{}", csv_cell(wheel.vehicle), csv_cell(wheel.axle), csv_cell(wheel.wheel),
                    csv_cell(first_time(checked, wheel)), csv_cell(last_time(checked, wheel)));
    for (const StudRecord& s : wheel.studs) {
      const TighteningRecord* act = s.record ? &checked.records[*s.record] : nullptr;
      const auto best = checked.clamps.empty() ? std::nullopt : checked.clamps[w][s.stud].best();
      out += fmt::format(
          "{},{},{},{},{},{},{},{},{},{},{},{},{},{}", common, s.stud + 1, act != nullptr ? csv_cell(act->time) : "",
          act != nullptr ? std::to_string(act->line) : "", act != nullptr ? std::to_string(s.pass) : "",
          value(s.torque), value(s.set_torque), s.angle ? value(*s.angle) : "", best ? value(best->clamp) : "",
          best ? value(best->deviation) : "", s.inside ? "yes" : "no", csv_cell(stud_reasons(wheel, s.stud)),
          wheel.inside() ? "yes" : "no", act != nullptr ? csv_cell(act->tool) : "");
      if (checked.people) {
        out += ',' + (act != nullptr ? csv_cell(act->operator_name) : "");
      }
      out += '\n';
    }
  }
  return out;
}

} // namespace clampfade

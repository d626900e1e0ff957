#include "solver/cli/records.hpp"

#include "models/units.hpp"
#include "solver/cli/options.hpp"
#include "solver/cli/records_output.hpp"
#include "solver/cli/store_additions.hpp"
#include "solver/cli/streams.hpp"
#include "solver/io/fleet_store.hpp"
#include "solver/io/records_reader.hpp"
#include "solver/io/replaced_file.hpp"
#include "solver/io/scenario.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

constexpr double kUsualDeviation = 0.125; // of the clamp at one torque: +-25 % as two of them (practice, no source)
constexpr double kUsualAngle = 2;         // [deg], our choice, no source
constexpr double kUsualResilience = 0.1;  // finite elements find joints 7 to 12 % less stiff (EQUATIONS.md 3)
constexpr double kUsualSnug = 0.1;        // of the set torque, where nothing is said
constexpr double kUnknownSnug = 0.5;      // relative deviation of what is only taken for granted

struct RecordsOptions {
  std::string file, scenario, torque, torque_band, angle_band, gap, snug_torque, tool, torque_deviation,
      friction_deviation, angle_deviation, resilience_deviation, order = "crossing", export_to, store, units = "si";
  std::size_t studs = 0;
  bool json = false, force = false, people = false, no_people = false, only_outside = false;
};

ParamSpec torque_spec(std::string_view key, double least) {
  return {key, "N m", Quantity::Dimensional, {least, 1e5}, {}, "torque", "N*m"};
}
ParamSpec share_spec(std::string_view key, double most) { return {key, "1", Quantity::Number, {0, most}, {}, "share"}; }

RecordBands bands_of(const RecordsOptions& o, const std::optional<Scenario>& scenario) {
  RecordBands bands;
  if (!o.torque.empty()) {
    bands.torque = option_value(o.torque, torque_spec("--torque", 1e-3));
  }
  if (!o.torque_band.empty()) {
    bands.torque_band = option_value(o.torque_band, share_spec("--torque-band", 1));
  }
  if (!o.angle_band.empty()) {
    bands.angle_band = option_value(o.angle_band, {"--angle-band", "1", Quantity::Number, {0.5, 6}, {}, "deviations"});
  }
  if (!o.gap.empty()) {
    bands.gap = option_value(o.gap, {"--gap", "s", Quantity::Dimensional, {1, units::kWeek}, {}, "time", "h"});
  }
  bands.crossing = o.order == "crossing";
  bands.studs = o.studs;
  if (scenario) {
    const std::size_t count = scenario->joint.studs.count;
    if (o.studs != 0 && o.studs != count) {
      refuse_option(Code::Inconsistent, "--studs", fmt::format("{} studs, but the scenario has {}", o.studs, count),
                    "leave it out beside --scenario");
    }
    bands.studs = count;
    bands.usual_torque = scenario->tightening.torque;
    bands.order = scenario->tightening.order;
  }
  return bands;
}

/// Spreads of the estimates; says in `checked` what they take for granted.
RecordScatter scatter_of(const RecordsOptions& o, const Scenario& scenario, CheckedRecords& checked) {
  RecordScatter s;
  const bool parts = !o.torque_deviation.empty() || !o.friction_deviation.empty();
  if (!o.tool.empty() && parts) {
    refuse_option(Code::Inconsistent, "--tool", "beside --torque-deviation or --friction-deviation",
                  "the tool, whose scatter holds that of friction, or the two apart");
  }
  if (!o.tool.empty()) {
    s.torque.clamp = read_tool(o.tool, "--tool").relative_deviation();
    checked.assumed.push_back(fmt::format("At one torque the clamp scatters by a standard deviation of {} %, that of "
                                          "the tool \"{}\", ordinary scatter of friction included.",
                                          significant(100 * s.torque.clamp), o.tool));
  } else if (parts) {
    s.torque.torque =
        o.torque_deviation.empty() ? 0 : option_value(o.torque_deviation, share_spec("--torque-deviation", 1));
    s.torque.friction =
        o.friction_deviation.empty() ? 0 : option_value(o.friction_deviation, share_spec("--friction-deviation", 1));
    checked.assumed.push_back(fmt::format("Standard deviations: {} % of the torque, {} % of each of the two "
                                          "coefficients of friction.",
                                          significant(100 * s.torque.torque), significant(100 * s.torque.friction)));
  } else {
    s.torque.clamp = kUsualDeviation;
    checked.assumed.push_back(fmt::format("At one torque the clamp scatters by a standard deviation of {} % (plus or "
                                          "minus 25 % as two of them; common practice, no source). --tool or "
                                          "--friction-deviation say it better.",
                                          significant(100 * kUsualDeviation)));
  }
  s.angle.angle = o.angle_deviation.empty()
                      ? kUsualAngle * units::kDegree
                      : option_value(o.angle_deviation,
                                     {"--angle-deviation", "rad", Quantity::Dimensional, {0, 6}, {}, "angle", "deg"});
  s.angle.resilience = o.resilience_deviation.empty()
                           ? kUsualResilience
                           : option_value(o.resilience_deviation, share_spec("--resilience-deviation", 1));
  const bool angles = std::any_of(checked.records.begin(), checked.records.end(),
                                  [](const TighteningRecord& r) { return r.angle.has_value(); });
  if (!o.snug_torque.empty()) {
    s.snug_torque = option_value(o.snug_torque, torque_spec("--snug-torque", 0));
  } else {
    s.snug_torque = kUsualSnug * checked.bands.torque.value_or(scenario.tightening.torque.front());
    s.angle.snug = kUnknownSnug;
  }
  if (angles) {
    checked.assumed.push_back(fmt::format(
        "Angles count from {} {} on, with all faces closed by then and nothing settling while the nut turns; a stud's "
        "acts add up. Standard deviations: {} deg of the angle, {} % of the joint's resilience.",
        significant(s.snug_torque),
        o.snug_torque.empty() ? "N·m (a tenth of the torque; --snug-torque says it better)" : "N·m",
        significant(s.angle.angle / units::kDegree), significant(100 * s.angle.resilience)));
  }
  checked.assumed.push_back(
      "Studs, friction, stiffness and required clamp are those of the scenario: the wheels of the "
      "file must be built like it. A clamp is that of the moment of tightening, before anything "
      "has settled.");
  return s;
}

void require_torques(const CheckedRecords& checked) {
  if (checked.bands.torque || !checked.bands.usual_torque.empty()) {
    return;
  }
  for (const TighteningRecord& r : checked.records) {
    if (!r.set_torque) {
      refuse_option(Code::MissingKey, "--torque",
                    fmt::format("no torque to hold the records to: line {} of {} names none", r.line, checked.file),
                    "--torque \"475 lbf*ft\", --scenario with a tightening torque, or a column set_torque");
    }
  }
}

/// Throws InputError with every record that does not say of what vehicle it is, and when: a store is of use only so.
void require_identity(const CheckedRecords& checked) {
  std::vector<Diagnostic> faults;
  for (const TighteningRecord& r : checked.records) {
    for (const auto& [key, missing] : {std::pair("vehicle", r.vehicle.empty()), std::pair("time", !r.instant)}) {
      if (missing && faults.size() < 20) {
        Diagnostic d;
        d.code = Code::MissingKey;
        d.place = {checked.file, r.line, 0};
        d.path = key;
        d.found = "this record has none";
        d.allowed = "what goes into a store says of what vehicle it is, and when it was done";
        faults.push_back(std::move(d));
      }
    }
  }
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
}

/// Every act with what was found of it.
std::vector<StoredAct> stored_acts(const CheckedRecords& checked) {
  std::vector<StoredAct> out;
  for (std::size_t w = 0; w < checked.wheels.size(); ++w) {
    const WheelRecord& wheel = checked.wheels[w];
    for (std::size_t k = 0; k < wheel.records.size(); ++k) {
      const TighteningRecord& r = checked.records[wheel.records[k]];
      StoredAct& a = out.emplace_back();
      a.wheel = {r.vehicle, r.axle, r.wheel};
      a.studs = wheel.studs.size();
      a.stud = r.stud + 1;
      a.pass = wheel.passes[k];
      a.pass_given = r.pass.has_value();
      a.time = r.time;
      a.instant = r.instant.value();
      a.torque = r.torque;
      a.angle = r.angle;
      a.odometer = r.odometer;
      a.tool = r.tool;
      a.operator_name = checked.people ? r.operator_name : "";
      const StudRecord& stud = wheel.studs[r.stud];
      for (const RecordFinding& f : wheel.findings) {
        // What has no record of its own goes with the stud's last act, or with the wheel's where it has none.
        const bool lost = f.line == 0 && (wheel.studs[f.stud].record ? wheel.studs[f.stud].record == wheel.records[k]
                                                                     : k + 1 == wheel.records.size());
        if (lost || f.line == r.line) {
          a.inside = false;
          a.reasons +=
              (a.reasons.empty() ? "" : "; ") + fmt::format("stud {}: ", f.stud + 1) + reason(f, UnitSystem::Si);
        }
      }
      a.set_torque = r.set_torque;
      if (stud.record == wheel.records[k]) {
        a.set_torque = std::isnan(stud.set_torque) ? a.set_torque : std::optional(stud.set_torque);
        if (!checked.clamps.empty()) {
          const auto best = checked.clamps[w][r.stud].best();
          a.clamp = best ? std::optional(best->clamp) : std::nullopt;
          a.clamp_deviation = best ? std::optional(best->deviation) : std::nullopt;
        }
      }
    }
  }
  return out;
}

void keep(const RecordsOptions& o, CheckedRecords& checked, const std::string& digest) {
  FleetStore store(o.store, StoreUse::Add);
  tell_note(store);
  std::vector<NewRow> rows;
  for (const TighteningRecord& r : checked.records) {
    rows.push_back({{r.vehicle, r.axle, r.wheel}, r.stud + 1, r.time, r.instant.value(), r.odometer, r.line});
  }
  std::vector<std::string> warnings = doubts(store, o.file, rows, clock_now());
  const std::vector<std::string> wheels = new_wheels(store, rows);
  const StoreAddition added =
      store.add({std::filesystem::path(o.file).filename().string(), digest}, stored_acts(checked));
  // Not a result but what was done with it: JSON on stdout stays JSON.
  if (added.file_known) {
    tell(fmt::format("{}: this file is already there, nothing added\n", o.store));
    return;
  }
  tell(fmt::format("{}: {} {} added{}\n", o.store, added.added, added.added == 1 ? "act" : "acts",
                   added.known > 0 ? fmt::format(", {} already there", added.known) : ""));
  for (const std::string& line : wheels) {
    tell(fmt::format("{}: {}\n", o.store, line));
  }
  checked.warnings.insert(checked.warnings.end(), warnings.begin(), warnings.end());
}

int records_command(const RecordsOptions& o) {
  std::optional<Scenario> scenario;
  if (!o.scenario.empty()) {
    scenario = read_scenario(o.scenario);
  }
  CheckedRecords checked;
  checked.bands = bands_of(o, scenario);
  RecordsFile file = read_records(o.file, checked.bands.studs == 0 ? std::nullopt : std::optional(checked.bands.studs));
  std::error_code ignored;
  if (!o.export_to.empty() && std::filesystem::equivalent(o.file, o.export_to, ignored)) {
    throw FileError(Code::FileWrite, o.export_to + ": these are the records themselves; give the export another name");
  }
  checked.file = file.path;
  checked.records = std::move(file.records);
  checked.warnings = std::move(file.warnings);
  checked.people = o.people;
  require_torques(checked);
  if (checked.bands.studs == 0) {
    for (const TighteningRecord& r : checked.records) {
      checked.bands.studs = std::max(checked.bands.studs, r.stud + 1);
    }
    checked.warnings.push_back(fmt::format("the wheels are taken to have {} studs, the highest number in the file; "
                                           "--studs says it for sure",
                                           checked.bands.studs));
  }
  if (!o.snug_torque.empty()) {
    checked.bands.snug_torque = option_value(o.snug_torque, torque_spec("--snug-torque", 0));
  }
  checked.wheels = check_records(checked.records, checked.bands);
  if (scenario) {
    const RecordClamp clamp(*scenario, scatter_of(o, *scenario, checked));
    checked.required_clamp = clamp.required();
    for (const WheelRecord& wheel : checked.wheels) {
      checked.clamps.push_back(clamp(wheel));
    }
    checked.warnings.insert(checked.warnings.end(), scenario->warnings.begin(), scenario->warnings.end());
  }
  if (!o.export_to.empty()) {
    require_free(o.export_to, o.force); // before the store is touched
  }
  if (!o.store.empty()) {
    require_identity(checked);
    keep(o, checked, file.sha256);
  }
  if (!o.export_to.empty()) {
    write_text_file(o.export_to, records_csv(checked), o.force);
  }
  if (o.json) {
    print_records_json(checked, o.only_outside);
  } else {
    print_records(checked, o.units == "us" ? UnitSystem::Us : UnitSystem::Si, o.only_outside);
  }
  return static_cast<int>(checked.inside() ? Exit::Ok : Exit::Outside);
}

} // namespace

void add_records(CLI::App& app, int& code) {
  const auto o = std::make_shared<RecordsOptions>();
  CLI::App* command =
      app.add_subcommand("records", "Check what a wrench wrote down of many wheels, and estimate their clamp");
  command->add_option("FILE", o->file, "records, CSV: stud, torque, torque_unit, and more")->required();
  CLI::Option* scenario = command->add_option(
      "--scenario", o->scenario,
      "a wheel built like those of the file, YAML: its torque, studs and order, and from its joint an "
      "estimate of each stud's clamp");
  command->add_option("--torque", o->torque,
                      "torque of the last pass, with a unit; default: the file's set_torque, else the scenario's");
  command->add_option("--torque-band", o->torque_band, "allowed distance from it, default 5%");
  command->add_option("--angle-band", o->angle_band,
                      "deviations that an angle may stand out by among the wheel's own, default 3");
  command->add_option("--studs", o->studs, "studs of each wheel; default: the scenario's, else the highest number")
      ->check(CLI::Range(1, 64))
      ->option_text("N");
  command->add_option("--order", o->order, "crossing (default): an order must cross the wheel, or any")
      ->check(CLI::IsMember({"crossing", "any"}))
      ->option_text("crossing|any");
  command->add_option("--gap", o->gap, "acts on a wheel further apart are two tightenings, default 1 h");
  command->add_option("--snug-torque", o->snug_torque, "torque from which the wrench counts angles, with a unit");
  command->add_option("--tool", o->tool, "tool of the catalogue, whose scatter the clamp has")->needs(scenario);
  command->add_option("--torque-deviation", o->torque_deviation, "in its place: relative standard deviation of torque")
      ->needs(scenario);
  command->add_option("--friction-deviation", o->friction_deviation, "and of each coefficient of friction")
      ->needs(scenario);
  command->add_option("--angle-deviation", o->angle_deviation, "standard deviation of an angle, default 2 deg")
      ->needs(scenario);
  command
      ->add_option("--resilience-deviation", o->resilience_deviation,
                   "relative standard deviation of the joint's resilience, default 10%")
      ->needs(scenario);
  CLI::Option* json = command->add_flag("--json", o->json, "print JSON in SI units");
  command->add_option("--units", o->units, "units of the tables: si (default) or us")
      ->check(CLI::IsMember({"si", "us"}))
      ->option_text("si|us")
      ->excludes(json);
  command->add_flag("--only-outside", o->only_outside, "tell of wheels outside their bands alone");
  command->add_option("--export", o->export_to, "write a table with one row a stud to this file, CSV in SI units");
  command->add_option("--store", o->store, "keep the records in this store of a fleet (clampfade fleet)");
  command->add_flag("--force", o->force, "overwrite that file if it is there");
  CLI::Option* people = command->add_flag("--with-people", o->people, "tell who did it, in everything written");
  command->add_flag("--without-people", o->no_people, "leave out who did it; the default")->excludes(people);
  command->footer(
      "Columns: stud, torque, torque_unit; if there is more: vehicle, axle, wheel, time, pass, set_torque,\n"
      "angle_deg or angle_rad, tool, operator, odometer, odometer_unit. Times are of ISO 8601; one without\n"
      "an offset is read as its clock shows it. Exit code 0: all wheels inside their bands, 1: some outside.\n"
      "\n"
      "Examples:\n"
      "  clampfade records wheels.csv --torque \"475 lbf*ft\" --torque-band 5% --studs 10\n"
      "  clampfade records wheels.csv --scenario wheel.yaml --tool \"click wrench\" --export studs.csv");
  command->callback([o, &code] { code = records_command(*o); });
}

} // namespace clampfade

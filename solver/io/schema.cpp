#include "solver/io/schema.hpp"

#include "models/tool.hpp"
#include "models/units.hpp"
#include "solver/io/quantity.hpp"
#include "solver/scenario.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

namespace clampfade {

namespace {

using Keys = std::vector<Key>;

/// Keys of a law, from its own declaration.
template <class T>
Keys declared() {
  Keys keys;
  for (const Field<T>& f : T::fields()) {
    const bool table = std::holds_alternative<Table T::*>(f.member);
    keys.push_back({f.spec, f.fallback, table ? "one value, or a table [[temperature, value], ...]" : "", ""});
  }
  return keys;
}

/// A key that is no single value.
Key part(std::string_view key, std::string form, std::string_view meaning, std::string otherwise = "") {
  return {{key, "", Quantity::Number, {}, {}, meaning}, std::nullopt, std::move(form), std::move(otherwise)};
}

Key number(ParamSpec spec, std::optional<double> fallback = std::nullopt, std::string form = "",
           std::string otherwise = "") {
  return {spec, fallback, std::move(form), std::move(otherwise)};
}

Key length(std::string_view key, Range allowed, std::string_view meaning, std::optional<double> fallback = std::nullopt,
           std::string otherwise = "") {
  return number({key, "m", Quantity::Dimensional, allowed, {}, meaning}, fallback, "", std::move(otherwise));
}

Keys operator+(Keys a, const Keys& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

Keys step_load() {
  return {
      number(
          {"mass", "kg", Quantity::Dimensional, {1, 1e7}, {}, "mass during this step, two values for a change over it"},
          std::nullopt, "one value, or [at the start, at the end]", "vehicle/mass"),
      number({"lateral_share", "1", Quantity::Number, {0, 2}, {0, 0.5}, "side force as a share of the load"},
             std::nullopt, "", "vehicle/lateral_share")};
}

Keys entry() {
  return {part("source", "text", "where the values come from"),
          part("provenance", "published, memory, practice, demo, fitted or given", "what kind of source that is")};
}

/// The design cases of a scenario that lists none.
std::string design_cases_text() {
  std::string out;
  for (const DesignCase& c : default_design_cases()) {
    std::string loads;
    const auto say = [&](std::string_view key, const std::optional<double>& value, std::string_view unit) {
      if (value) {
        loads += fmt::format("{}{} {}{}", loads.empty() ? "" : ", ", key, *value, unit);
      }
    };
    say("deceleration", c.deceleration, " m/s^2");
    say("lateral_share", c.lateral_share, "");
    say("dynamic_factor", c.dynamic_factor, "");
    out += fmt::format("{}{} ({})", out.empty() ? "" : ", ", c.name, loads);
  }
  return out;
}

/// Below this a nut of a wheel stud is not tightened, only screwed on [N m]; common practice, no source.
constexpr double kLeastTorque = 10;

/// When a service acts; `meaning` says what "after" means for it.
Key after(std::string_view meaning = "since the wheel was tightened; it acts when the first park, or dwell of 10 min, "
                                     "from then on begins") {
  return part("after", "a time or a distance", meaning);
}

std::vector<Section> make_schema() {
  constexpr std::string_view per_stud = "one value, or a list with one for each stud";
  constexpr std::string_view name_or_map = "a name from the catalogue, or a map of its keys";
  const ParamSpec schema_version{"schema", "1", Quantity::Count, {1, 1}, {}, "version of this schema"};
  std::vector<Section> list;
  const auto add = [&](std::string path, std::string meaning, Keys keys) {
    list.push_back({std::move(path), std::move(meaning), std::move(keys)});
  };
  add("", "the whole file",
      {number(schema_version), part("title", "text", "what the run is about", "the file's name"),
       part("catalogue", "a map", "entries of the user's own, which win over the catalogue that comes with the program",
            "none"),
       part("joint", "a map", "the wheel joint"), part("tightening", "a map", "how the nuts were tightened"),
       part("vehicle", "a map", "the vehicle"), part("heat", "a map", "the heat network"),
       part("duty", "a map", "what the wheel is put through"),
       part("loosening", "a map", "how the joint is moved", "motion: rotating"),
       part("service", "a list", "what is done to the wheel later, each `retorque`, `remove_nut` or `hot_day`", "none"),
       part("solution", "a map", "how it is computed", "see there"),
       part("record", "a map", "what is written down", "see there"),
       part("vary", "a list of axes", "what `clampfade sweep` varies; other commands take the values of the sections",
            "none"),
       part("scatter", "a list of values",
            "what `clampfade sample` scatters; other commands take the values of the sections", "none")});
  add("joint", "studs, nuts and everything they clamp",
      {part("studs", "a map", "the studs, all alike"), part("head", "a map", "the stud's head behind the hub"),
       part("nut", "a map", "the nut and what is under it"),
       part("pilot", "a map", "how the hub centres the wheel", "the hub does not centre it"),
       part("stack", "a list of parts", "the clamped parts from the head to the nut, at least one of them a wheel"),
       part("interfaces", "a map",
            "every touching pair by name, \"head | hub flange\", merged over `default` key by key",
            "all as the defaults of an entry"),
       part("thread_contact", "a map", "the engaged threads", "embedding: 3 um"),
       part("ring_coupling", "a map", "how the wheel discs tie neighbouring studs", "not active"),
       number({"cone",
               "rad",
               Quantity::Dimensional,
               {0.01, 1.4},
               {},
               "half-angle of the pressure cone, or the proportions of VDI 2230-1"},
              std::nullopt, "`proportions`, or an angle", "proportions"),
       number({"load_introduction", "1", Quantity::Number, {0, 1}, {}, "load introduction factor n of VDI 2230-1"},
              0.5),
       number({"required_clamp", "N", Quantity::Dimensional, {0, 1e7}, {}, "clamp each stud must keep"}, std::nullopt,
              "", "from the design cases and the slip margin"),
       number({"required_slip_margin",
               "1",
               Quantity::Number,
               {0.1, 10},
               {1, 3},
               "slip margin that the required clamp must give"},
              1.2),
       part("design_cases", "a list", "loads that the required clamp must stand", design_cases_text())});
  add("joint/studs", "the studs",
      {number({"count", "1", Quantity::Count, {1, 64}, {}, "number N of studs on the bolt circle"}),
       length("bolt_circle", {0.1, 0.6},
              "diameter of the bolt circle; heavy-vehicle wheels have 200 to 335 mm (common practice, no source)"),
       part("thread", std::string(name_or_map), "thread"),
       part("property_class", std::string(name_or_map), "strength of the studs"),
       part("material", std::string(name_or_map), "material of the studs"),
       length("shank", {0, 2}, "unthreaded length inside the grip", 0.0),
       part("node", "a name or a list of names", "nodes of the heat network whose mean the stud takes",
            "the first part's and the outermost wheel disc's")});
  add("joint/head", "the head of the stud", {length("bearing_diameter", {1e-3, 1}, "diameter of its bearing face")});
  add("joint/nut", "the nut",
      {part("bearing", "a map", "the ring on which it slides when turned"),
       part("seat", "a map", "the ring that presses the wheel", "the bearing"),
       number({"prevailing_torque", "N m", Quantity::Dimensional, {0, 1e4}, {}, "torque that turns the loose nut"},
              0.0),
       part("sleeve", "a map", "a sleeve that fills the wheel's hole", "none"),
       part("spring_washers", "a map", "conical spring washers under the nut", "a solid nut")});
  for (const auto* ring : {"bearing", "seat"}) {
    add(std::string("joint/nut/") + ring, "a ring",
        {length("outer", {1e-3, 1}, "outer diameter"), length("inner", {1e-3, 1}, "inner diameter")});
  }
  add("joint/nut/sleeve", "the sleeve", {length("outer", {1e-3, 1}, "outer diameter")});
  add("joint/nut/spring_washers", "conical spring washers",
      declared<WasherSpec>() + Keys{part("material", std::string(name_or_map), "material of the washers")});
  add("joint/pilot", "the hub's spigot", {length("clearance", {0, 0.1}, "diametral clearance of the wheel on it")});
  add("joint/stack/*", "a clamped part",
      Keys{part("part", "text", "name, unlike every other part's"),
           part("wheel", "true or false", "whether it is a wheel disc", "false"),
           part("material", std::string(name_or_map), "material")} +
          declared<PartSpec>() +
          Keys{part("node", "text", "node of the heat network whose temperature it takes",
                    "the only node, if there is but one"),
               part("flatness", "a map", "a wheel disc's wave before it is clamped", "flat"),
               part("head_side", "a map", "coating of the face towards the head", "bare"),
               part("nut_side", "a map", "coating of the face towards the nut", "bare")});
  add("joint/stack/*/flatness", "a wavy disc", declared<Flatness>());
  for (const auto* side : {"head_side", "nut_side"}) {
    add(std::string("joint/stack/*/") + side, "a coated face",
        {part("coating", std::string(name_or_map), "coating"),
         number({"thickness", "m", Quantity::Dimensional, {0, 0.01}, {}, "dry film, 0 for a bare face", "um"})});
  }
  add("joint/interfaces/*", "two touching faces",
      declared<InterfaceSpec>() + Keys{part("carries", "a map", "shares of the wheel end's loads that cross it",
                                            "1 from behind the first part up to the innermost wheel disc, 0.5 between "
                                            "two wheel discs, 0 at head and nut")});
  for (Key& k : list.back().keys) {
    if (k.spec.key == "embedding") {
      k.form = "an amount, or a map {roughness, load}";
    }
  }
  constexpr std::string_view by_rule = "by the rule above";
  Keys carries = declared<Carries>();
  for (Key& k : carries) {
    k.otherwise = by_rule;
  }
  add("joint/interfaces/*/carries", "loads that cross the interface", carries);
  add("joint/interfaces/*/embedding", "the guide table of VDI 2230-1 (memory) instead of an amount",
      {part("roughness", "0-10 um, 10-40 um or 40-160 um", "mean roughness depth Rz"),
       part("load", "axial or shear", "how the joint is loaded")});
  add("joint/thread_contact", "the engaged threads",
      {number({"embedding", "m", Quantity::Dimensional, {0, 1e-3}, {0, 10e-6}, "embedding f_Z of the threads", "um"},
              3e-6, "an amount, or a map {roughness, load}")});
  add("joint/ring_coupling", "bending and shear of the wheel discs between studs",
      {part("active", "true or false", "whether it counts", "true where this map is given"),
       length("width", {1e-3, 1}, "width of the ring", std::nullopt, "the disc's pad"),
       number({"factor", "1", Quantity::Number, {0, 1e6}, {1, 30}, "how much stiffer a disc is than a free beam"},
              10.0)});
  add("joint/design_cases/*", "a load case; what it leaves out is the vehicle's",
      {part("name", "text", "name"),
       number({"deceleration", "m/s^2", Quantity::Dimensional, {0, 20}, {}, "all on the service brakes"}, std::nullopt,
              "", "no braking"),
       number({"lateral_share", "1", Quantity::Number, {0, 2}, {0, 0.8}, "side force as a share of the load"},
              std::nullopt, "", "vehicle/lateral_share"),
       number({"dynamic_factor", "1", Quantity::Number, {0.1, 20}, {1, 5}, "factor on the static load"}, std::nullopt,
              "", "vehicle/dynamic_factor")});
  add("tightening", "the act of tightening",
      {number({"torque", "N m", Quantity::Dimensional, {kLeastTorque, 1e5}, {}, "torque on the nut"}, std::nullopt,
              std::string(per_stud)),
       part("friction", "a map", "friction while the nut turns"),
       number({"passes", "1", Quantity::Number, {0.01, 1.5}, {}, "passes over all studs as fractions of the torque"},
              std::nullopt, "a list", "[1.0]"),
       part("order", "star, or a list of stud numbers from 1", "order of the studs in a pass", "star"),
       number({"pause", "s", Quantity::Dimensional, {0, units::kDay}, {}, "from one act to the next"}, 5.0),
       number({"temperature",
               "K",
               Quantity::Point,
               {150, 1000},
               {250, 320},
               "temperature T_0 of the whole wheel while tightened"},
              293.15),
       part("records", "a CSV file, or a map {file, rows, vehicle, axle, wheel, date}",
            "as-tightened values by stud, which replace the torque: columns stud, torque, torque_unit, and optionally "
            "angle_deg or angle_rad, time, tool, operator, vehicle, axle, wheel, pass, set_torque, odometer, "
            "odometer_unit",
            "none")});
  add("tightening/friction", "friction of the turning nut",
      {number({"thread", "1", Quantity::Number, {1e-3, 2}, {0.04, 0.35}, "coefficient mu_t in the threads"},
              std::nullopt, std::string(per_stud)),
       number({"bearing", "1", Quantity::Number, {1e-3, 2}, {0.04, 0.35}, "coefficient mu_b under the nut"},
              std::nullopt, std::string(per_stud)),
       number({"breakaway",
               "1",
               Quantity::Number,
               {0.5, 5},
               {1, 1.5},
               "friction of a resting nut over that of a turning one"},
              1.10, "one value, or a table [[age, value], ...] over the time since the nut last moved")});
  add("tightening/records", "an as-tightened record",
      {part("file", "text", "CSV file, relative to the scenario", "none, if rows are given"),
       part("rows", "text", "the CSV text itself", "read from the file"),
       part("vehicle", "text", "of records of several wheels, those of this vehicle", "all"),
       part("axle", "text", "of this axle", "all"), part("wheel", "text", "of this wheel", "all"),
       part("date", "YYYY-MM-DD", "of a wheel tightened on several days, the day whose records count", "all")});
  add("vehicle", "the vehicle", declared<VehicleSpec>());
  add("heat", "the heat network: `network`, or the keys of one",
      {part("network", "a name from the catalogue", "heat network", "the keys below"),
       part("nodes", "a map of nodes", "lumps of heat", "from `network`"),
       part("links", "a list of [node, node, conductance]", "conduction", "none"),
       part("radiation", "a list", "radiation", "none"),
       part("brake", "text", "the node that takes the brake's heat", "from `network`"),
       part("source", "text", "where the values come from", "the scenario"),
       part("provenance", "as in the catalogue", "what kind of source that is", "given")});
  add("duty", "what the wheel is put through",
      {part("ambient", "a map", "the air", "the defaults of its keys"),
       part(
           "day", "a list of steps",
           "the working day from midnight on: `park`, `drive`, `round`, `drag`, `trace`; what is left of it is parked"),
       part("calendar", "a map", "days and weeks", "the defaults of its keys")});
  add("duty/ambient", "the air", declared<AmbientSpec>());
  add("duty/day/*", "one step of the day, one of these",
      {part("park", "a map", "standing", "another step"),
       part("drive", "a map", "driving at constant speed", "another step"),
       part("round", "a map", "stop after stop", "another step"),
       part("drag", "a map", "driving with a dragging brake", "another step"),
       part("trace", "a map", "driving after a speed trace", "another step")});
  add("duty/day/*/park", "standing", declared<ParkStep>() + step_load());
  add("duty/day/*/drive", "driving at constant speed", declared<DriveStep>() + step_load());
  add("duty/day/*/round", "stop after stop", declared<RoundStep>() + step_load());
  add("duty/day/*/drag", "driving with a dragging brake", declared<DragStep>() + step_load());
  add("duty/day/*/trace", "driving after a speed trace",
      Keys{part("file", "text",
                "CSV file, relative to the scenario, columns `time [s]`, `speed [m/s]` and optionally `grade [-]`; the "
                "units in the header are needed, others such as `speed [km/h]` are read",
                "none, if points are given"),
           part("points", "text", "the CSV text itself", "read from the file")} +
          step_load());
  add("duty/calendar", "days and weeks", declared<Calendar>());
  add("loosening", "how the joint is moved",
      {part("motion", "rotating or reciprocating", "a rolling wheel, or a test rig", "rotating")});
  add("service/*", "one act, one of these",
      {part("retorque", "a map", "the wrench is put on every nut again", "another act"),
       part("remove_nut", "a map", "a nut is taken off", "another act"),
       part("hot_day", "a map", "a day with more brake heat", "another act")});
  add("service/*/retorque", "tightening again",
      {after(), number({"torque", "N m", Quantity::Dimensional, {kLeastTorque, 1e5}, {}, "torque on every nut"},
                       std::nullopt, "", "each stud's tightening torque")});
  add("service/*/remove_nut", "a nut taken off",
      {after(), number({"stud", "1", Quantity::Count, {1, 64}, {}, "number of the stud, from 1"})});
  add("service/*/hot_day", "a day with more brake heat",
      {after("since the wheel was tightened; the heat comes on the day that holds it"),
       number({"extra_power", "W", Quantity::Dimensional, {0, 1e7}, {0, 50e3}, "heat added while moving", "kW"})});
  add("solution", "how it is computed",
      {part("resolution", "envelope or every-stop",
            "whether many stops are integrated together where the day allows it", "envelope"),
       number({"tolerance", "1", Quantity::Number, {1e-12, 1e-2}, {}, "error of clamp in a step over the first clamp"},
              1e-6)});
  add("record", "what is written down; the first and the last instant always are",
      {number({"every", "s", Quantity::Dimensional, {1, 1e10}, {}, "time between records", "h"}, std::nullopt, "",
              "none between"),
       part("at", "a list of times or distances", "more records", "none"),
       part("layers", "true or false", "whether the thickness of every coating is recorded", "true")});
  constexpr std::string_view place =
      "steps from the top with / between them: keys, entries of lists by name (a part's, a step's of the day) or by "
      "number from 1; `*` stands for any characters of one step and takes every entry that has what follows";
  constexpr std::string_view short_name = "name of its values in the results, in lower_snake";
  constexpr std::string_view own_unit = "a value such as stands at the path";
  add("vary/*", "an axis of a sweep: `values`, `from` and `to`, or `entries`",
      {part("path", "text", place), part("values", "a list", "values such as stand at the path", "another form"),
       part("from", std::string(own_unit), "first value", "another form"),
       part("to", std::string(own_unit), "last value", "another form"),
       number({"steps", "1", Quantity::Count, {2, 100000}, {}, "values, both ends counted"}, std::nullopt, "",
              "another form"),
       part("spacing", "linear or log", "whether the values are equally far apart or in equal proportions", "linear"),
       part("entries", "a map",
            "whole items by name, each of which takes the place of the one at the path; an empty one "
            "leaves it out",
            "another form"),
       part("name", "text", short_name, "from the last steps of the path")});
  add("scatter/*", "a scattered value: one of `normal`, `lognormal`, `uniform`, `triangular`, `empirical` and `tool`",
      {part("path", "text", place), part("normal", "a map", "normal distribution", "another form"),
       part("lognormal", "a map", "lognormal distribution", "another form"),
       part("uniform", "a map", "equal chance from low to high", "another form"),
       part("triangular", "a map", "triangular distribution", "another form"),
       part("empirical", "a map", "measured values, each with the same chance", "another form"),
       part("tool", std::string(name_or_map),
            "normal distribution round the scenario's own torque with the scatter of a tightening tool, cut off 3 "
            "standard deviations away unless low and high say otherwise",
            "another form"),
       part("low", std::string(own_unit), "the distribution is cut off below; what is left keeps its shape", "not cut"),
       part("high", std::string(own_unit), "the distribution is cut off above", "not cut"),
       part("each", "wheel or stud", "whether all studs of a wheel take the same value", "wheel"),
       number(
           {"correlation",
            "1",
            Quantity::Number,
            {0, 1},
            {},
            "of the studs of one wheel, with each: stud: of the normal numbers behind their values (Gaussian copula)"},
           0.0),
       part("name", "text", short_name, "from the last steps of the path")});
  add("scatter/*/normal", "a normal distribution",
      {part("mean", std::string(own_unit), "mean"),
       part("sd", "a difference of two such values, or a share of the mean in %", "standard deviation")});
  add("scatter/*/lognormal", "a lognormal distribution: `log_sd` or `factor`",
      {part("median", std::string(own_unit), "median"),
       number({"log_sd", "1", Quantity::Number, {1e-9, 5}, {}, "standard deviation of the natural logarithm"},
              std::nullopt, "", "from `factor`"),
       number({"factor",
               "1",
               Quantity::Number,
               {1 + 1e-9, 100},
               {},
               "geometric standard deviation: 84 % of the values lie below the median times it"},
              std::nullopt, "", "from `log_sd`")});
  add("scatter/*/uniform", "equal chance between two ends",
      {part("low", std::string(own_unit), "lowest"), part("high", std::string(own_unit), "highest")});
  add("scatter/*/triangular", "a triangular distribution",
      {part("low", std::string(own_unit), "lowest"), part("mode", std::string(own_unit), "most frequent"),
       part("high", std::string(own_unit), "highest")});
  add("scatter/*/empirical", "measured values",
      {part("file", "text", "CSV file, relative to the scenario"),
       part("column", "text", "a column of it, whose header carries the unit: `torque [N*m]`")});
  add("catalogue", "entries of the user's own, by kind and name",
      {part("threads", "a map", "threads", "none"), part("property_classes", "a map", "strengths of studs", "none"),
       part("materials", "a map", "elastic materials", "none"), part("coatings", "a map", "coatings", "none"),
       part("heat_networks", "a map", "heat networks", "none"),
       part("tools", "a map", "tightening tools, for `scatter`", "none")});
  add("catalogue/threads/*", "a 60 degree thread", declared<Thread>() + entry());
  add("catalogue/property_classes/*", "strength of a stud", declared<PropertyClass>() + entry());
  add("catalogue/materials/*", "an elastic material",
      declared<Material>() + Keys{part("creep", "a map", "power-law creep", "none")} + entry());
  add("catalogue/materials/*/creep", "power-law creep", declared<MetalCreep>());
  add("catalogue/coatings/*", "a coating; pigment and compaction_hot together are at most 1",
      declared<Coating>() +
          Keys{part("relaxation", "a map", "relaxation times of the compaction"),
               part("flow", "a map", "flow of a film that melts", "a cross-linked film"),
               part("breakdown", "a map", "binder burnt or flaked off", "none"),
               part("film", "a map", "dry films for which these values are meant; others are a warning", "any")} +
          entry());
  add("catalogue/coatings/*/relaxation", "relaxation times", declared<CoatingRelaxation>());
  add("catalogue/coatings/*/flow", "flow", declared<CoatingFlow>());
  add("catalogue/coatings/*/breakdown", "breakdown of the binder", declared<CoatingBreakdown>());
  add("catalogue/coatings/*/film", "dry films for which the entry is meant", declared<CoatingFilm>());
  add("catalogue/tools/*", "a tightening tool", declared<Tool>() + entry());
  add("catalogue/heat_networks/*", "a heat network",
      Keys{part("nodes", "a map of nodes", "lumps of heat; the name `ambient` is the air"),
           part("links", "a list of [node, node, conductance]", "conduction", "none"),
           part("radiation", "a list", "radiation", "none"),
           part("brake", "text", "the node that takes the brake's heat")} +
          entry());
  add("catalogue/heat_networks/*/nodes/*", "a lump of heat", declared<HeatNode>());
  add("catalogue/heat_networks/*/links/*", "the third entry of a link",
      {number({"conductance", "W/K", Quantity::Dimensional, {0, 1e6}, {0, 1e4}, "conductance"})});
  add("catalogue/heat_networks/*/radiation/*", "radiation between two nodes",
      {part("from", "text", "node"), part("to", "text", "node, or `ambient`"),
       number({"emissivity_area", "m^2", Quantity::Dimensional, {0, 100}, {0, 10}, "emissivity times area"})});
  return list;
}

std::string cell(std::string text) {
  for (std::size_t at = text.find('|'); at != std::string::npos; at = text.find('|', at + 2)) {
    text.replace(at, 1, "\\|");
  }
  return text;
}

} // namespace

const Key* Section::find(std::string_view key) const {
  const auto found = std::find_if(keys.begin(), keys.end(), [&](const Key& k) { return k.spec.key == key; });
  return found == keys.end() ? nullptr : &*found;
}

const std::vector<Section>& schema() {
  static const std::vector<Section> list = make_schema();
  return list;
}

const Section& section(std::string_view path) {
  for (const Section& s : schema()) {
    if (s.path == path) {
      return s;
    }
  }
  throw std::logic_error(fmt::format("no section '{}' in the schema", path));
}

std::string schema_page() {
  std::string out = R"(# The scenario file, key by key

Printed by `clampfade schema` from the declarations in the program; do not edit it by hand.

A scenario is one YAML file (schema 1). A quantity with a dimension is text with a number and a unit, such as
`475 lbf*ft`, `80 um` or `120 degC`; a bare number there is an error, and so is a unit of another dimension. A key that
is not on this page is an error. A value outside the allowed range is an error; outside the calibrated range it is a
warning that the report repeats.

)";
  for (const Section& s : schema()) {
    out += fmt::format("## {}\n\n{}{}\n\n", s.path.empty() ? "The file" : "`" + s.path + "`",
                       static_cast<char>(std::toupper(static_cast<unsigned char>(s.meaning.front()))),
                       s.meaning.substr(1) + ".");
    out += "| key | what to write | allowed | calibrated | if left out | meaning |\n|---|---|---|---|---|---|\n";
    for (const Key& k : s.keys) {
      const bool value = !k.spec.unit.empty();
      std::string form = k.form;
      if (value && form.empty()) {
        form = wanted(k.spec);
      } else if (value && k.spec.unit != "1" && form.find('`') == std::string::npos) {
        form += "; " + wanted(k.spec);
      }
      std::string otherwise = !k.otherwise.empty() ? k.otherwise
                              : k.fallback         ? friendly(*k.fallback, k.spec)
                                                   : "must be given";
      out += fmt::format("| `{}` | {} | {} | {} | {} | {} |\n", k.spec.key, cell(form),
                         value ? range_text(k.spec.allowed, k.spec) : "",
                         value ? range_text(k.spec.calibrated, k.spec) : "", cell(otherwise),
                         cell(std::string(k.spec.meaning)));
    }
    out += '\n';
  }
  out += "## Units\n\nThese words, with `*`, `.`, `-` or a space for a product, `/`, and powers such as `^2`:\n\n";
  std::string line;
  for (const std::string& unit : known_units()) {
    line += (line.empty() ? "`" : ", `") + unit + "`";
  }
  out += line + ".\n\nA pound times a foot or an inch is a torque, so `ft-lb`, `lb-ft` and `in-lb` are pounds of "
                "force. `mil` and "
                "`thou` are a thousandth of\nan inch, `mph` miles an hour, `t` is 1000 kg, `gn` standard gravity. "
                "`ton`, `year`, `month` and "
                "`hp` mean more than one\nthing and are refused. Typographic signs (\xC2\xB5, \xC2\xB0"
                "C, \xC2\xB7, \xC2\xB2) are read too.\n\n";
  out += "## Messages\n\nEach begins with `file:line:column`, then its code.\n\n| code | exit code | meaning "
         "|\n|---|---|---|\n";
  for (const Code code : all_codes()) {
    out += fmt::format("| `{}` | {} | {} |\n", name(code), static_cast<int>(exit_code(code)), describe(code));
  }
  return out;
}

} // namespace clampfade

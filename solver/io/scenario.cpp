#include "solver/io/scenario.hpp"

#include "solver/io/catalogue.hpp"
#include "solver/io/duty_reader.hpp"
#include "solver/io/joint_reader.hpp"
#include "solver/io/map_reader.hpp"
#include "solver/io/reader_state.hpp"
#include "solver/io/resolved.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/scenario_yaml.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/io/tightening_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

namespace clampfade {

namespace {

namespace fs = std::filesystem;

void read_heat(ReaderState& r, const Item& item) {
  Map map(r.context, item, "heat", section("heat"));
  if (!map.is_map()) {
    return;
  }
  if (const Item* network = map.find("network")) {
    for (const Item::Name& n : item.names) {
      if (n.text != "network" && section("heat").find(n.text) != nullptr) {
        r.context.faults.add(Code::Inconsistent, item.source, n.line, n.column, map.at(n.text),
                             "given beside `network`", "either `network` or the keys of one");
      }
    }
    if (network->map()) {
      r.context.faults.add(Code::WrongType, *network, map.at("network"), "a map where a name is due",
                           "a name from the catalogue", "write the keys of the network in `heat` itself");
      return;
    }
    r.scenario.heat = r.catalogue.heat_network(*network, map.at("network"));
    return;
  }
  r.scenario.heat = r.catalogue.heat_network(item, "heat");
}

void read_solution(ReaderState& r, const Item& item) {
  Map m(r.context, item, "solution", section("solution"));
  const std::string resolution = m.text_or("resolution", "envelope");
  if (resolution == "every-stop") {
    r.scenario.resolution = Resolution::EveryStop;
  } else if (resolution != "envelope" && !resolution.empty()) {
    const std::string near = nearest(resolution, {"envelope", "every-stop"});
    r.context.faults.add(Code::UnknownEntry, m.place("resolution"), m.at("resolution"),
                         fmt::format("'{}' is not known", resolution), "envelope, every-stop",
                         near.empty() ? "" : fmt::format("did you mean {}?", near));
  }
  r.scenario.tolerance = m.value("tolerance");
}

void count_demo_values(ReaderState& r) {
  const auto demo = std::count_if(r.scenario.provenance.begin(), r.scenario.provenance.end(),
                                  [](const Provenance& p) { return p.provenance == "demo"; });
  if (demo > 0) {
    r.context.faults.warn(fmt::format(
        "{} of the {} catalogue values used are invented {}: measure or fit your own before trusting a figure", demo,
        r.scenario.provenance.size(), kInventedValues));
  }
}

void read_all(ReaderState& r, const Item& root) {
  Map map(r.context, root, "", section(""));
  if (!map.is_map()) {
    return;
  }
  map.value("schema");
  r.scenario.title = map.text_or("title", fs::path(r.context.name).stem().string());
  if (const Item* own = map.find("catalogue")) {
    r.catalogue.own(*own);
  }
  if (const Item* heat = map.need("heat")) {
    read_heat(r, *heat);
  }
  if (const Item* joint = map.need("joint")) {
    read_joint(r, *joint);
  }
  if (const Item* vehicle = map.need("vehicle")) {
    Map v(r.context, *vehicle, "vehicle", section("vehicle"));
    fill(v, r.scenario.vehicle);
    if (r.scenario.vehicle.driven_ends > r.scenario.vehicle.wheel_ends && r.scenario.vehicle.wheel_ends > 0) {
      inconsistent(r.context, v.place("driven_ends"), v.at("driven_ends"), "more driven ends than wheel ends",
                   "at most wheel_ends");
    }
  }
  if (const Item* tightening = map.need("tightening")) {
    read_tightening(r, *tightening);
  }
  if (const Item* duty = map.need("duty")) {
    read_duty(r, *duty);
  }
  if (const Item* loosening = map.find("loosening")) {
    Map m(r.context, *loosening, "loosening", section("loosening"));
    r.scenario.loosening = m.choice("motion", {"rotating", "reciprocating"}, "rotating") == "rotating"
                               ? Motion::Rotating
                               : Motion::Reciprocating;
  }
  read_service(r, map);
  if (const Item* solution = map.find("solution")) {
    read_solution(r, *solution);
  }
  if (const Item* record = map.find("record")) {
    read_record(r, *record);
  }
  r.catalogue.check_own();
  r.scenario.provenance = r.catalogue.provenance();
  count_demo_values(r);
  r.scenario.warnings = r.context.faults.warnings();
}

} // namespace

void throw_faults(const Faults& faults) {
  if (faults.any()) {
    throw InputError(faults.errors());
  }
}

ReadOptions resolved_options() {
  ReadOptions options;
  options.max_bytes = 1U << 28U;
  options.max_nodes = 10'000'000;
  return options;
}

Scenario read_items(Context& context, const Item& root, Catalogue& catalogue) {
  Scenario scenario;
  ReaderState state{context, catalogue, scenario};
  scenario.source_path = context.name;
  read_all(state, root);
  return scenario;
}

Scenario read_scenario_text(const std::string& text, const std::string& name, const ReadOptions& options) {
  return StudyReader(text, name, options).base();
}

std::string scenario_file_text(const std::string& path, const ReadOptions& options) {
  std::string reason;
  auto text = file_text(path, options.max_bytes, reason);
  if (!text) {
    throw FileError(Code::FileMissing, path + ": " + reason);
  }
  return *std::move(text);
}

Scenario read_scenario(const std::string& path, const ReadOptions& options) {
  return read_scenario_text(scenario_file_text(path, options), path, options);
}

std::string catalogue_page(const std::string& folder) {
  Context context;
  context.name = folder;
  context.options.catalogue = folder;
  std::string page = Catalogue(context).page();
  throw_faults(context.faults);
  return page;
}

void check_catalogue(const std::string& folder) {
  Context context;
  context.name = folder;
  context.options.catalogue = folder;
  Catalogue catalogue(context);
  catalogue.check_library();
  throw_faults(context.faults);
}

} // namespace clampfade

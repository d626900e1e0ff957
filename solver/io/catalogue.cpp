#include "solver/io/catalogue.hpp"

#include "solver/io/scenario_yaml.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <filesystem>
#include <set>

namespace clampfade {

namespace {

namespace fs = std::filesystem;

constexpr std::array<std::string_view, 6> kKinds = {"threads",  "property_classes", "materials",
                                                    "coatings", "heat_networks",    "tools"};

/// The folder a program goes by that was told none. Throws FileError, naming where it has looked, if there is none.
std::string default_catalogue() {
  if (const char* set = std::getenv("CLAMPFADE_CATALOGUE"); set != nullptr && *set != '\0') {
    return set;
  }
  std::error_code ignored;
  // An installed program goes by its own, wherever it was moved to. A program that was only linked with the libraries
  // lies anywhere, on another machine than they were built on: for it the folders where packages put data.
  const fs::path beside = fs::read_symlink("/proc/self/exe", ignored).parent_path() / "../share/clampfade/catalogue";
  std::vector<std::string> looked;
  for (const fs::path& folder :
       {beside, fs::path(CLAMPFADE_CATALOGUE_BUILD), fs::path(CLAMPFADE_CATALOGUE_INSTALL),
        fs::path("/usr/local/share/clampfade/catalogue"), fs::path("/usr/share/clampfade/catalogue")}) {
    if (fs::is_directory(folder, ignored)) {
      return folder.lexically_normal().string();
    }
    const std::string name = folder.lexically_normal().string();
    if (!name.empty() && std::find(looked.begin(), looked.end(), name) == looked.end()) {
      looked.push_back(name);
    }
  }
  throw FileError(Code::FileMissing,
                  fmt::format("no catalogue of materials: there is none of {}; set CLAMPFADE_CATALOGUE to its folder",
                              fmt::join(looked, ", ")));
}

void read_entry(Map& m, Thread& t) {
  fill(m, t);
  if (t.minor_diameter() <= t.diameter / 2) {
    inconsistent(m.context(), m.place("pitch"), m.at("pitch"), "the pitch is too large for the diameter",
                 "well below half the diameter");
  }
}

void read_entry(Map& m, PropertyClass& p) {
  fill(m, p);
  if (p.proof > p.tensile) {
    inconsistent(m.context(), m.place("proof"), m.at("proof"), "the proof stress is above the tensile strength",
                 "proof below tensile");
  }
  for (const auto& [temperature, yield] : p.yield.points()) {
    if (yield > p.tensile) {
      inconsistent(m.context(), m.place("yield"), m.at("yield"), "the yield strength is above the tensile strength",
                   "yield below tensile");
      break;
    }
  }
}

void read_entry(Map& m, Material& material) {
  fill(m, material);
  if (const Item* creep = m.find("creep")) {
    Map sub(m.context(), *creep, m.at("creep"), section("catalogue/materials/*/creep"));
    material.creep.emplace();
    fill(sub, *material.creep);
  }
}

void read_entry(Map& m, Coating& k) {
  fill(m, k);
  if (const Item* relaxation = m.need("relaxation")) {
    Map sub(m.context(), *relaxation, m.at("relaxation"), section("catalogue/coatings/*/relaxation"));
    fill(sub, k.relaxation);
    if (k.relaxation.shortest > k.relaxation.longest) {
      inconsistent(m.context(), sub.place("shortest"), sub.at("shortest"), "the shortest time is above the longest",
                   "shortest up to longest");
    }
  }
  if (const Item* flow = m.find("flow")) {
    Map sub(m.context(), *flow, m.at("flow"), section("catalogue/coatings/*/flow"));
    k.flow.emplace();
    fill(sub, *k.flow);
  }
  if (const Item* breakdown = m.find("breakdown")) {
    Map sub(m.context(), *breakdown, m.at("breakdown"), section("catalogue/coatings/*/breakdown"));
    k.breakdown.emplace();
    fill(sub, *k.breakdown);
  }
  if (const Item* film = m.find("film")) {
    Map sub(m.context(), *film, m.at("film"), section("catalogue/coatings/*/film"));
    k.film.emplace();
    fill(sub, *k.film);
    if (k.film->thinnest > k.film->thickest) {
      inconsistent(m.context(), sub.place("thinnest"), sub.at("thinnest"), "the thinnest film is above the thickest",
                   "thinnest up to thickest");
    }
  }
  if (k.compaction_cold > k.compaction_hot) {
    inconsistent(m.context(), m.place("compaction_cold"), m.at("compaction_cold"), "the film would give less when hot",
                 "compaction_cold up to compaction_hot");
  }
  // A hair for the round-off of a sum that is 1 on paper.
  if (k.pigment + k.compaction_hot > 1 + 1e-12) {
    inconsistent(
        m.context(), m.place("pigment"), m.at("pigment"),
        fmt::format("pigment and compaction_hot are {:.4g} of the film together", k.pigment + k.compaction_hot),
        "together at most 1");
  }
}

void read_entry(Map& m, Tool& tool) { fill(m, tool); }

void read_entry(Map& m, HeatNetwork& network) {
  const std::string base = "catalogue/heat_networks/*/";
  std::vector<std::string> names;
  if (const Item* nodes = m.need("nodes")) {
    if (!nodes->map() || nodes->items.empty()) {
      m.context().faults.add(Code::WrongType, *nodes, m.at("nodes"),
                             what_it_is(*nodes) + " where a map of nodes is due", "name: {capacity, still, moving}");
    }
    for (std::size_t i = 0; nodes->map() && i < nodes->items.size(); ++i) {
      Map node(m.context(), nodes->items[i], m.at("nodes") + '/' + nodes->names[i].text, section(base + "nodes/*"));
      HeatNode n;
      fill(node, n);
      n.name = nodes->names[i].text;
      if (n.name == "ambient") {
        m.context().faults.add(Code::DuplicateKey, nodes->source, nodes->names[i].line, nodes->names[i].column,
                               node.path(), "'ambient' is the air around", "another name");
      }
      names.push_back(n.name);
      network.nodes.push_back(std::move(n));
    }
  }
  const auto node_index = [&](const Item& item, const std::string& path) -> std::size_t {
    const auto found = std::find(names.begin(), names.end(), item.text);
    if (!item.scalar() || found == names.end()) {
      unknown_node(m.context(), item, path, names);
      return 0;
    }
    return static_cast<std::size_t>(found - names.begin());
  };
  for (const auto& [item, path] : m.list("links")) {
    if (!item->list() || item->items.size() != 3) {
      m.context().faults.add(Code::WrongType, *item, path, what_it_is(*item) + " where a link is due",
                             "[node, node, conductance]");
      continue;
    }
    HeatLink link;
    link.from = node_index(item->items[0], path);
    link.to = node_index(item->items[1], path);
    link.conductance = read_value(m.context(), item->items[2], section(base + "links/*").keys.front().spec, path);
    if (item->items[0].scalar() && item->items[0].text == item->items[1].text) {
      inconsistent(m.context(), *item, path, "a node linked to itself", "two nodes");
    }
    network.links.push_back(link);
  }
  for (const auto& [item, path] : m.list("radiation")) {
    Map r(m.context(), *item, path, section(base + "radiation/*"));
    HeatRadiation radiation;
    if (const Item* from = r.need("from")) {
      radiation.from = node_index(*from, r.at("from"));
    }
    if (const Item* to = r.need("to")) {
      radiation.to = to->scalar() && to->text == "ambient" ? HeatRadiation::kAmbient : node_index(*to, r.at("to"));
    }
    radiation.emissivity_area = r.value("emissivity_area");
    network.radiation.push_back(radiation);
  }
  if (const Item* brake = m.need("brake")) {
    network.brake = node_index(*brake, m.at("brake"));
  }
}

/// The value under a key for people: the first value of a table, with its temperature; empty if there is none.
std::string shown(const Item& entry, std::string_view key) {
  const Item* value = entry.find(key);
  if (value != nullptr && value->list() && !value->items.empty() && value->items.front().items.size() == 2) {
    const Item& point = value->items.front();
    return point.items[1].text + " at " + point.items[0].text;
  }
  return value != nullptr ? value->text : "";
}

/// What the schema page says of the entries of a kind, beside their names.
struct Kind {
  std::string_view name;
  std::string_view column;
  std::string (*figures)(const Item& entry);
};

constexpr std::array<Kind, 6> kDescribed = {
    {{"threads", "diameter, pitch",
      [](const Item& entry) { return shown(entry, "diameter") + ", " + shown(entry, "pitch"); }},
     {"property_classes", "proof stress, tensile strength",
      [](const Item& entry) { return shown(entry, "proof") + ", " + shown(entry, "tensile"); }},
     {"materials", "Young's modulus, expansion",
      [](const Item& entry) {
        return shown(entry, "youngs") + ", " + shown(entry, "expansion") +
               (entry.find("creep") != nullptr ? ", creeps" : "");
      }},
     {"coatings", "glass transition, dry film",
      [](const Item& entry) {
        const Item* film = entry.find("film");
        return shown(entry, "glass_transition") +
               (film != nullptr ? ", " + shown(*film, "thinnest") + " to " + shown(*film, "thickest") : "") +
               (entry.find("flow") != nullptr ? ", melts" : ", does not melt");
      }},
     {"heat_networks", "nodes, the braked one first",
      [](const Item& entry) {
        const std::string brake = shown(entry, "brake");
        std::string out = brake;
        if (const Item* nodes = entry.find("nodes")) {
          for (const Item::Name& n : nodes->names) {
            out += n.text == brake ? "" : ", " + n.text;
          }
        }
        return out;
      }},
     {"tools", "tightening factor", [](const Item& entry) { return shown(entry, "tightening_factor"); }}}};

} // namespace

void unknown_node(Context& c, const Item& item, const std::string& path, const std::vector<std::string>& names) {
  const std::string near = item.scalar() ? nearest(item.text, names) : "";
  c.faults.add(Code::UnknownNode, item, path, what_it_is(item) + " is not a node of the heat network", joined(names),
               near.empty() ? "" : "did you mean " + near + "?");
}

void Catalogue::own(const Item& block) {
  own_ = &block;
  check_kinds(block);
}

Thread Catalogue::thread(const Item& ref, const std::string& path) { return resolve(threads_, ref, "threads", path); }

PropertyClass Catalogue::property_class(const Item& ref, const std::string& path) {
  return resolve(classes_, ref, "property_classes", path);
}

Material Catalogue::material(const Item& ref, const std::string& path) {
  return resolve(materials_, ref, "materials", path);
}

Coating Catalogue::coating(const Item& ref, const std::string& path) {
  return resolve(coatings_, ref, "coatings", path);
}

HeatNetwork Catalogue::heat_network(const Item& ref, const std::string& path) {
  return resolve(networks_, ref, "heat_networks", path);
}

Tool Catalogue::tool(const Item& ref, const std::string& path) { return resolve(tools_, ref, "tools", path); }

void Catalogue::check_own() {
  if (own_ != nullptr) {
    check_entries(*own_);
  }
}

void Catalogue::check_library() {
  for (const Block& file : library()) {
    check_entries(file.item);
  }
}

std::string Catalogue::page() {
  const std::vector<Block>& files = library();
  std::string out =
      "## Names in the catalogue\n\nWhere a key takes a name from the catalogue, it is one of these or one "
      "of the scenario's own `catalogue`.\nThe entries themselves, with the source of every value, are in "
      "`models/catalogue/` of the source and `/usr/share/clampfade/catalogue/` of a package.\nThe words of the guide "
      "table of embedding stand under `joint/interfaces/*/embedding`.\n";
  for (const Kind& kind : kDescribed) {
    out += fmt::format("\n### `catalogue/{}`\n\n| name | {} | provenance |\n|---|---|---|\n", kind.name, kind.column);
    for (const Block& file : files) {
      const Item* group = file.item.find(kind.name);
      for (std::size_t i = 0; group != nullptr && i < group->items.size(); ++i) {
        const Item* provenance = group->items[i].find("provenance");
        out += fmt::format("| `{}` | {} | {} |\n", group->names[i].text, kind.figures(group->items[i]),
                           provenance != nullptr ? provenance->text : "");
      }
    }
  }
  return out;
}

const Item* Catalogue::find(std::string_view kind, const std::string& name) {
  const auto in = [&](const Item& block) {
    const Item* group = block.find(kind);
    return group == nullptr ? nullptr : group->find(name);
  };
  if (const Item* entry = own_ == nullptr ? nullptr : in(*own_)) {
    return entry;
  }
  for (const Block& file : library()) {
    if (const Item* entry = in(file.item)) {
      return entry;
    }
  }
  return nullptr;
}

std::vector<std::string> Catalogue::names(std::string_view kind) {
  std::set<std::string> out;
  const auto collect = [&](const Item& block) {
    if (const Item* group = block.find(kind)) {
      for (const Item::Name& n : group->names) {
        out.insert(n.text);
      }
    }
  };
  if (own_ != nullptr) {
    collect(*own_);
  }
  for (const Block& file : library()) {
    collect(file.item);
  }
  return {out.begin(), out.end()};
}

void Catalogue::check_kinds(const Item& block) {
  const Map kinds(context_, block, "catalogue", section("catalogue"));
  for (const std::string_view kind : kKinds) {
    if (const Item* group = block.find(kind); group != nullptr && !group->map()) {
      context_.faults.add(Code::WrongType, *group, "catalogue/" + std::string(kind),
                          what_it_is(*group) + " where a map of entries is due", "name: {...}");
    }
  }
}

const std::vector<Catalogue::Block>& Catalogue::library() {
  const std::lock_guard lock(context_.files->mutex);
  if (!context_.files->read) {
    context_.files->read = true;
    read_library(context_.files->catalogue);
  }
  return context_.files->catalogue;
}

void Catalogue::read_library(std::vector<Block>& into) {
  const std::string folder = context_.options.catalogue.empty() ? default_catalogue() : context_.options.catalogue;
  std::error_code error;
  std::vector<fs::path> files;
  for (fs::directory_iterator it(folder, error); !error && it != fs::directory_iterator(); it.increment(error)) {
    if (it->path().extension() == ".yaml") {
      files.push_back(it->path());
    }
  }
  if (error) {
    throw FileError(Code::FileMissing,
                    fmt::format("{}: the catalogue folder can't be read: {}; set CLAMPFADE_CATALOGUE to it", folder,
                                error.message()));
  }
  std::sort(files.begin(), files.end());
  into.reserve(files.size());
  for (const fs::path& file : files) {
    std::string reason;
    const auto written = file_text(file.string(), context_.options.max_bytes, reason);
    if (!written) {
      throw FileError(Code::FileMissing, file.string() + ": " + reason);
    }
    const std::string text = plain_line_ends(*written);
    Block block{make_source(file.string(), text), {}};
    if (auto root = load_yaml(*block.source, text, context_.options, context_.faults)) {
      const Item* inner = root->find("catalogue");
      if (inner == nullptr || root->items.size() != 1) {
        context_.faults.add(Code::WrongType, *root, "", "a catalogue file is one map", "catalogue: {...}");
        continue;
      }
      block.item = *inner;
      check_kinds(block.item);
      for (const Block& other : into) {
        report_twins(other, block);
      }
      into.push_back(std::move(block));
    }
  }
}

void Catalogue::report_twins(const Block& first, const Block& second) {
  for (const std::string_view kind : kKinds) {
    const Item* a = first.item.find(kind);
    const Item* b = second.item.find(kind);
    if (a == nullptr || b == nullptr) {
      continue;
    }
    for (const Item::Name& n : b->names) {
      if (const Item* twin = a->find(n.text)) {
        context_.faults.add(
            Code::DuplicateKey, b->source, n.line, n.column, fmt::format("catalogue/{}/{}", kind, n.text),
            fmt::format("this entry is also in {}, line {}", first.source->file, twin->line), "each entry once");
      }
    }
  }
}

template <class T>
T Catalogue::entry(const Item& item, const std::string& kind, const std::string& path, bool inline_entry,
                   UsedEntry& used) {
  const Section& keys = section(path == "heat" ? "heat" : "catalogue/" + kind + "/*");
  Map map(context_, item, path, keys);
  T made;
  if (map.is_map()) {
    read_entry(map, made);
    used.source = inline_entry ? map.text_or("source", "given in the scenario") : map.text("source");
    static const std::vector<std::string> kinds = {"given", "published", "memory", "practice", "demo", "fitted"};
    if (!inline_entry) {
      map.need("provenance");
    }
    used.provenance = map.choice("provenance", kinds, "given");
  }
  return made;
}

template <class T>
T Catalogue::resolve(Pool<T>& pool, const Item& ref, const std::string& kind, const std::string& path) {
  const bool inline_entry = ref.map();
  if (!inline_entry && !(ref.scalar() && !ref.text.empty())) {
    context_.faults.add(Code::WrongType, ref, path, what_it_is(ref) + " where an entry is due",
                        "a name from the catalogue, or a map of its keys");
    return {};
  }
  const std::string name = inline_entry ? path : ref.text;
  if (const auto known = pool.find(name); known != pool.end()) {
    return known->second;
  }
  const Item* item = inline_entry ? &ref : find(kind, name);
  if (item == nullptr) {
    const std::vector<std::string> known = names(kind);
    context_.faults.add(Code::UnknownEntry, ref, path, fmt::format("'{}' is not in the catalogue's {}", name, kind),
                        joined(known), did_you_mean(name, known));
    return {};
  }
  UsedEntry used{kind, name, item, "", ""};
  const std::string entry_path = inline_entry ? path : "catalogue/" + kind + "/" + name;
  T made = entry<T>(*item, kind, entry_path, inline_entry, used);
  made.name = name;
  pool.emplace(name, made);
  note_values(*item, kind + '/' + name, "", used);
  used_.push_back(std::move(used));
  return made;
}

void Catalogue::note_values(const Item& item, const std::string& entry_name, const std::string& key,
                            const UsedEntry& used) {
  if (!item.map()) {
    provenance_.push_back({entry_name, key, plain_text(item), used.source, used.provenance});
    return;
  }
  for (std::size_t i = 0; i < item.items.size(); ++i) {
    const std::string& k = item.names[i].text;
    if (!(key.empty() && (k == "source" || k == "provenance"))) {
      note_values(item.items[i], entry_name, key.empty() ? k : key + '/' + k, used);
    }
  }
}

template <class T>
void Catalogue::check_unused(const Item& block, const char* kind, const Pool<T>& pool) {
  const Item* group = block.find(kind);
  if (group == nullptr || !group->map()) {
    return;
  }
  for (std::size_t i = 0; i < group->items.size(); ++i) {
    const std::string& name = group->names[i].text;
    if (pool.count(name) == 0) {
      UsedEntry ignored;
      entry<T>(group->items[i], kind, fmt::format("catalogue/{}/{}", kind, name), false, ignored);
    }
  }
}

void Catalogue::check_entries(const Item& block) {
  context_.quiet = true;
  check_unused(block, "threads", threads_);
  check_unused(block, "property_classes", classes_);
  check_unused(block, "materials", materials_);
  check_unused(block, "coatings", coatings_);
  check_unused(block, "heat_networks", networks_);
  check_unused(block, "tools", tools_);
  context_.quiet = false;
}

} // namespace clampfade

#include "solver/io/joint_reader.hpp"

#include "models/conical_washer.hpp"
#include "models/embedding.hpp"
#include "models/ring_coupling.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <initializer_list>
#include <map>
#include <set>

namespace clampfade {

namespace {

/// Words of the guide table of embedding.
constexpr std::array<std::pair<std::string_view, Roughness>, 3> kRoughness = {
    {{"0-10 um", Roughness::UpTo10um}, {"10-40 um", Roughness::From10To40um}, {"40-160 um", Roughness::From40To160um}}};
constexpr std::array<std::pair<std::string_view, LoadDirection>, 2> kLoadDirection = {
    {{"axial", LoadDirection::Axial}, {"shear", LoadDirection::Shear}}};

/// Embedding of a thread, a bearing face and an inner interface: one amount for all, or a row of the guide table.
GuideEmbedding same_everywhere(double amount) { return {amount, amount, amount}; }

/// What an entry of `interfaces` says; the rest comes from `default`.
struct PartialInterface {
  std::map<std::string_view, double> values;
  std::optional<GuideEmbedding> embedding;
  std::array<std::optional<double>, 3> carries;
};

Material material(ReaderState& r, Map& m) {
  const Item* ref = m.need("material");
  return ref == nullptr ? Material{} : r.catalogue.material(*ref, m.at("material"));
}

std::vector<std::string> node_names(const ReaderState& r) {
  std::vector<std::string> names;
  for (const HeatNode& n : r.scenario.heat.nodes) {
    names.push_back(n.name);
  }
  return names;
}

std::string node_name(ReaderState& r, const Item& item, const std::string& path) {
  const std::vector<std::string> names = node_names(r);
  // Without a network its own fault has been said already.
  if (!names.empty() && (!item.scalar() || std::find(names.begin(), names.end(), item.text) == names.end())) {
    unknown_node(r.context, item, path, names);
  }
  return item.text;
}

void read_studs(ReaderState& r, const Item& item) {
  Map m(r.context, item, "joint/studs", section("joint/studs"));
  StudSpec& studs = r.scenario.joint.studs;
  studs.count = m.count("count");
  studs.bolt_circle = m.value("bolt_circle");
  if (const Item* ref = m.need("thread")) {
    studs.thread = r.catalogue.thread(*ref, m.at("thread"));
  }
  if (const Item* ref = m.need("property_class")) {
    studs.property_class = r.catalogue.property_class(*ref, m.at("property_class"));
  }
  studs.material = material(r, m);
  studs.shank = m.value("shank");
}

/// After the stack, whose nodes are the default.
void read_stud_nodes(ReaderState& r, const Item& item) {
  StudSpec& studs = r.scenario.joint.studs;
  const Item* node = item.map() ? item.find("node") : nullptr;
  if (node == nullptr) {
    const auto& stack = r.scenario.joint.stack;
    const auto disc = std::find_if(stack.rbegin(), stack.rend(), [](const PartSpec& p) { return p.wheel; });
    if (!stack.empty()) {
      studs.nodes = {stack.front().node};
    }
    if (disc != stack.rend() && disc->node != stack.front().node) {
      studs.nodes.push_back(disc->node);
    }
  } else if (node->list() && !node->items.empty()) {
    for (const Item& one : node->items) {
      studs.nodes.push_back(node_name(r, one, "joint/studs/node"));
    }
  } else {
    studs.nodes = {node_name(r, *node, "joint/studs/node")};
  }
}

void read_ring(ReaderState& r, Map& map, std::string_view key, double& outer, double& inner) {
  const Item* item = map.find(key);
  if (item == nullptr) {
    return;
  }
  Map m(r.context, *item, map.at(key), section(map.at(key)));
  outer = m.value("outer");
  inner = m.value("inner");
  if (inner >= outer) {
    inconsistent(r.context, m.place("inner"), m.at("inner"), "the inner diameter is not below the outer",
                 "inner below outer");
  }
}

void read_washers(ReaderState& r, const Item& item, double stud) {
  Map m(r.context, item, "joint/nut/spring_washers", section("joint/nut/spring_washers"));
  if (!m.is_map()) {
    return;
  }
  WasherSpec& w = r.scenario.joint.nut.spring_washers.emplace();
  fill(m, w);
  w.material = material(r, m);
  if (m.find("set") == nullptr) {
    w.set = Table();
  }
  if (w.inner >= w.outer) {
    inconsistent(r.context, m.place("inner"), m.at("inner"), "the inner diameter is not below the outer",
                 "inner below outer");
  }
  if (w.inner < stud) {
    inconsistent(r.context, m.place("inner"), m.at("inner"),
                 fmt::format("the stud of {} does not pass", length_text(stud)), "at least the thread's diameter");
  }
  if (w.reduced_thickness > w.thickness) {
    inconsistent(r.context, m.place("reduced_thickness"), m.at("reduced_thickness"), "thicker than the washer",
                 "at most thickness");
  }
  // Past its peak the washer's force would fall while the nut goes on turning: no clamp belongs to a torque there.
  const double height = largest_rising_height(w.thickness, w.reduced_thickness);
  if (w.reduced_thickness <= w.thickness && w.cone_height >= height) {
    inconsistent(r.context, m.place("cone_height"), m.at("cone_height"), "the washer's force falls before it is flat",
                 height > 0 ? "below " + length_text(height) + ", where the force rises all the way to flat"
                            : "a larger reduced_thickness, so that the force rises all the way to flat");
  }
  if (w.friction * (static_cast<double>(w.parallel) - 1) >= 1) {
    inconsistent(r.context, m.place("friction"), m.at("friction"), "nested cones with this friction lock",
                 "friction below 1/(parallel - 1)");
  }
  if (w.outer < 16 * w.thickness) {
    r.context.faults.warn(fmt::format(
        "joint/nut/spring_washers: outer over thickness is {:.3g}; the spring formula is for thin discs, from 16 up",
        w.outer / w.thickness));
  }
  for (const auto& [temperature, q] : w.set.points()) {
    if (q >= 1) {
      inconsistent(r.context, m.place("set"), m.at("set"), "washers that lose all their deflection", "well below 1");
      break;
    }
  }
}

void read_nut(ReaderState& r, const Item& item) {
  Map m(r.context, item, "joint/nut", section("joint/nut"));
  if (!m.is_map()) {
    return;
  }
  NutSpec& nut = r.scenario.joint.nut;
  m.need("bearing");
  read_ring(r, m, "bearing", nut.bearing_outer, nut.bearing_inner);
  nut.seat_outer = nut.bearing_outer;
  nut.seat_inner = nut.bearing_inner;
  read_ring(r, m, "seat", nut.seat_outer, nut.seat_inner);
  nut.prevailing_torque = m.value("prevailing_torque");
  const double stud = r.scenario.joint.studs.thread.diameter;
  for (const auto& [key, inner] : {std::pair{"bearing", nut.bearing_inner}, std::pair{"seat", nut.seat_inner}}) {
    if (inner < stud && m.find(key) != nullptr) {
      const Item& ring = *m.find(key);
      inconsistent(r.context, ring.map() && ring.find("inner") != nullptr ? *ring.find("inner") : ring,
                   m.at(key) + "/inner", fmt::format("the stud of {} does not pass", length_text(stud)),
                   "at least the thread's diameter");
    }
  }
  if (const Item* sleeve = m.find("sleeve")) {
    Map sub(r.context, *sleeve, m.at("sleeve"), section("joint/nut/sleeve"));
    nut.sleeve = sub.value("outer");
    if (*nut.sleeve < stud) {
      inconsistent(r.context, sub.place("outer"), sub.at("outer"),
                   fmt::format("the stud of {} does not fit into the sleeve", length_text(stud)),
                   "more than the thread's diameter");
    }
  }
  if (const Item* washers = m.find("spring_washers")) {
    read_washers(r, *washers, stud);
  }
}

std::optional<FaceCoating> read_face(ReaderState& r, Map& part, std::string_view side) {
  const Item* item = part.find(side);
  if (item == nullptr) {
    return std::nullopt;
  }
  Map m(r.context, *item, part.at(side), section("joint/stack/*/" + std::string(side)));
  if (!m.is_map()) {
    return std::nullopt;
  }
  FaceCoating face;
  if (const Item* ref = m.need("coating")) {
    face.coating = r.catalogue.coating(*ref, m.at("coating"));
  }
  face.thickness = m.value("thickness");
  if (const auto& film = face.coating.film;
      film && face.thickness > 0 && (face.thickness < film->thinnest || face.thickness > film->thickest)) {
    r.context.faults.warn(fmt::format("{} = {} is outside {} to {}, for which '{}' is described", m.at("thickness"),
                                      length_text(face.thickness), length_text(film->thinnest),
                                      length_text(film->thickest), face.coating.name));
  }
  return face.thickness == 0 ? std::nullopt : std::optional(std::move(face));
}

void read_stack(ReaderState& r, Map& map) {
  std::set<std::string> names;
  const std::vector<std::string> nodes = node_names(r);
  std::vector<std::pair<const Item*, std::string>> wavy; // flatness of parts that are no wheel discs
  for (const auto& [item, numbered] : map.list("stack", true)) {
    const Item* named = item->map() ? item->find("part") : nullptr;
    const std::string path = named != nullptr && named->scalar() ? "joint/stack/" + named->text : numbered;
    Map m(r.context, *item, path, section("joint/stack/*"));
    if (!m.is_map()) {
      continue;
    }
    PartSpec part;
    part.name = m.text("part");
    if (part.name == "head" || part.name == "nut" || part.name == "default" ||
        part.name.find('|') != std::string::npos) {
      inconsistent(r.context, m.place("part"), m.at("part"), fmt::format("'{}' can't be the name of a part", part.name),
                   "another name, without |", "head, nut and default name other things in `interfaces`");
    } else if (!part.name.empty() && !names.insert(part.name).second) {
      r.context.faults.add(Code::DuplicateKey, m.place("part"), m.at("part"),
                           fmt::format("two parts are called '{}'", part.name), "each name once");
    }
    part.wheel = m.flag("wheel", false);
    part.material = material(r, m);
    fill(m, part);
    if (const Item* node = m.find("node")) {
      part.node = node_name(r, *node, m.at("node"));
    } else if (nodes.size() == 1) {
      part.node = nodes.front();
    } else if (!nodes.empty()) {
      r.context.faults.add(Code::MissingKey, *item, m.at("node"), "this key is missing", joined(nodes));
    }
    if (const Item* flatness = m.find("flatness")) {
      Map sub(r.context, *flatness, m.at("flatness"), section("joint/stack/*/flatness"));
      part.flatness.emplace();
      fill(sub, *part.flatness);
      if (!part.wheel) {
        wavy.emplace_back(flatness, m.at("flatness"));
      }
    }
    part.head_side = read_face(r, m, "head_side");
    part.nut_side = read_face(r, m, "nut_side");
    if (part.hole >= part.pad) {
      inconsistent(
          r.context, m.place("hole"), m.at("hole"),
          fmt::format("the hole of {} takes the whole pad of {}", length_text(part.hole), length_text(part.pad)),
          "hole below pad");
    }
    if (part.hole < r.scenario.joint.studs.thread.diameter) {
      inconsistent(
          r.context, m.place("hole"), m.at("hole"),
          fmt::format("the stud of {} does not pass the hole", length_text(r.scenario.joint.studs.thread.diameter)),
          "at least the thread's diameter");
    }
    if (part.wheel && r.scenario.joint.nut.sleeve && *r.scenario.joint.nut.sleeve > part.hole) {
      inconsistent(r.context, m.place("hole"), m.at("hole"),
                   fmt::format("the sleeve of {} does not enter the hole", length_text(*r.scenario.joint.nut.sleeve)),
                   "at least joint/nut/sleeve/outer");
    }
    r.scenario.joint.stack.push_back(std::move(part));
  }
  const Item* stack = map.find("stack");
  if (stack != nullptr && stack->list()) {
    // What `wheel` says may be a fault of its own; then this is not told too.
    const auto may_be_wheel = [](const Item& part) {
      const Item* wheel = part.map() ? part.find("wheel") : nullptr;
      return !part.map() || (wheel != nullptr && wheel->text != "false");
    };
    if (stack->items.empty()) {
      inconsistent(r.context, *stack, "joint/stack", "the list is empty", "at least one part");
    } else if (std::none_of(stack->items.begin(), stack->items.end(), may_be_wheel)) {
      inconsistent(r.context, *stack, "joint/stack", "no part is a wheel disc", "wheel: true for at least one part");
      wavy.clear(); // the same fault seen from the part
    }
    for (const auto& [flatness, path] : wavy) {
      inconsistent(r.context, *flatness, path, "this part is no wheel disc", "flatness for parts with wheel: true");
    }
  }
}

/// The value of a word in the guide table.
template <class T, std::size_t N>
std::optional<T> guide_row(ReaderState& r, Map& m, std::string_view key,
                           const std::array<std::pair<std::string_view, T>, N>& rows) {
  const std::string word = m.text(key);
  std::vector<std::string> words;
  for (const auto& [known, value] : rows) {
    if (known == word) {
      return value;
    }
    words.emplace_back(known);
  }
  if (!word.empty()) {
    r.context.faults.add(Code::UnknownEntry, m.place(key), m.at(key),
                         fmt::format("'{}' is not in the guide table", word), joined(words));
  }
  return std::nullopt;
}

GuideEmbedding read_embedding(ReaderState& r, const Item& item, const std::string& path, const ParamSpec& spec) {
  if (!item.map()) {
    return same_everywhere(read_value(r.context, item, spec, path));
  }
  Map m(r.context, item, path, section("joint/interfaces/*/embedding"));
  const auto roughness = guide_row(r, m, "roughness", kRoughness);
  const auto load = guide_row(r, m, "load", kLoadDirection);
  return roughness && load ? guide_embedding(*roughness, *load) : same_everywhere(kNone);
}

PartialInterface read_partial(ReaderState& r, const Item& item, const std::string& path) {
  PartialInterface partial;
  Map m(r.context, item, path, section("joint/interfaces/*"));
  if (!m.is_map()) {
    return partial;
  }
  for (const Field<InterfaceSpec>& f : InterfaceSpec::fields()) {
    if (f.spec.key == "embedding") {
      if (const Item* amount = m.find("embedding")) {
        partial.embedding = read_embedding(r, *amount, m.at("embedding"), f.spec);
      }
    } else if (const auto v = m.maybe(f.spec.key)) {
      partial.values[f.spec.key] = *v;
    }
  }
  if (const Item* carries = m.find("carries")) {
    Map sub(r.context, *carries, m.at("carries"), section("joint/interfaces/*/carries"));
    partial.carries = {sub.maybe("radial"), sub.maybe("brake"), sub.maybe("traction")};
  }
  return partial;
}

/// What a pair of names that the stack does not have may have meant.
std::string interface_hint(const std::string& written, const std::vector<std::string>& names) {
  const auto trimmed = [](std::string s) {
    s.erase(0, std::min(s.find_first_not_of(' '), s.size()));
    s.erase(s.find_last_not_of(' ') + 1);
    return s;
  };
  if (const std::size_t bar = written.find('|'); bar != std::string::npos) {
    const std::string a = trimmed(written.substr(0, bar));
    const std::string b = trimmed(written.substr(bar + 1));
    if (std::find(names.begin(), names.end(), a + " | " + b) != names.end()) {
      return "write \"" + a + " | " + b + "\", with a space on both sides of the bar";
    }
    if (std::find(names.begin(), names.end(), b + " | " + a) != names.end()) {
      return "write \"" + b + " | " + a + "\": the names run from the head to the nut";
    }
  }
  const std::string near = nearest(written, names);
  return near.empty() ? "" : "did you mean " + near + "?";
}

void read_interfaces(ReaderState& r, Map& map) {
  const auto& stack = r.scenario.joint.stack;
  std::vector<std::string> names;
  // A part that is missing or has no name has been told already; its neighbours' names are then not to be blamed.
  const Item* listed = map.find("stack");
  const bool whole = listed != nullptr && listed->items.size() == stack.size() &&
                     std::none_of(stack.begin(), stack.end(), [](const PartSpec& p) { return p.name.empty(); });
  for (std::size_t i = 0; i <= stack.size(); ++i) {
    names.push_back((i == 0 ? "head" : stack[i - 1].name) + " | " + (i == stack.size() ? "nut" : stack[i].name));
  }
  const Item* item = map.find("interfaces");
  PartialInterface common;
  std::map<std::string, PartialInterface> named;
  if (item != nullptr && !item->map()) {
    r.context.faults.add(Code::WrongType, *item, "joint/interfaces", what_it_is(*item) + " where a map is due",
                         "default: {...}, and names of touching pairs");
  }
  for (std::size_t i = 0; item != nullptr && item->map() && i < item->items.size(); ++i) {
    const Item::Name& n = item->names[i];
    const std::string path = "joint/interfaces/" + n.text;
    if (n.text == "default") {
      common = read_partial(r, item->items[i], path);
    } else if (std::find(names.begin(), names.end(), n.text) != names.end()) {
      named[n.text] = read_partial(r, item->items[i], path);
    } else if (whole) {
      r.context.faults.add(Code::UnknownEntry, item->source, n.line, n.column, path,
                           "no two neighbours of the stack have these names", joined(names),
                           interface_hint(n.text, names));
    }
  }
  for (std::size_t i = 0; i < names.size(); ++i) {
    const PartialInterface& own = named[names[i]];
    InterfaceSpec face;
    face.name = names[i];
    for (const Field<InterfaceSpec>& f : InterfaceSpec::fields()) {
      const auto here = own.values.find(f.spec.key);
      const auto everywhere = common.values.find(f.spec.key);
      face.*std::get<double InterfaceSpec::*>(f.member) = here != own.values.end()            ? here->second
                                                          : everywhere != common.values.end() ? everywhere->second
                                                                                              : f.fallback.value();
    }
    if (const auto e = own.embedding ? own.embedding : common.embedding) {
      const bool outer = i == 0 || i + 1 == names.size();
      face.embedding = outer ? e->bearing : e->inner;
    }
    const auto share = [&](std::size_t k) { return own.carries[k] ? own.carries[k] : common.carries[k]; };
    face.carries_radial = share(0);
    face.carries_brake = share(1);
    face.carries_traction = share(2);
    r.scenario.joint.interfaces.push_back(std::move(face));
  }
}

void read_design_cases(ReaderState& r, Map& map) {
  if (map.find("design_cases") == nullptr) {
    r.scenario.design_cases = default_design_cases();
    return;
  }
  std::set<std::string> names;
  for (const auto& [item, path] : map.list("design_cases")) {
    Map m(r.context, *item, path, section("joint/design_cases/*"));
    if (!m.is_map()) {
      continue;
    }
    DesignCase load;
    load.name = m.text("name");
    load.deceleration = m.maybe("deceleration");
    load.lateral_share = m.maybe("lateral_share");
    load.dynamic_factor = m.maybe("dynamic_factor");
    if (!load.deceleration && !load.lateral_share && !load.dynamic_factor) {
      inconsistent(r.context, *item, path, "the case has no load of its own",
                   "at least one of deceleration, lateral_share, dynamic_factor");
    }
    if (!load.name.empty() && !names.insert(load.name).second) {
      r.context.faults.add(Code::DuplicateKey, m.place("name"), m.at("name"),
                           fmt::format("two cases are called '{}'", load.name), "each name once");
    }
    r.scenario.design_cases.push_back(std::move(load));
  }
  const Item& cases = map.place("design_cases");
  if (cases.list() && cases.items.empty() && !r.scenario.required_clamp) {
    inconsistent(r.context, cases, "joint/design_cases", "no case, and no required_clamp either", "one of the two");
  }
}

/// What only the whole joint shows.
void check_joint(ReaderState& r, Map& map) {
  const JointSpec& j = r.scenario.joint;
  if (j.stack.empty()) {
    return;
  }
  const auto place = [&](std::initializer_list<std::string_view> keys) -> const Item& {
    const Item* at = &map.item();
    for (const std::string_view key : keys) {
      const Item* next = at->map() ? at->find(key) : nullptr;
      if (next == nullptr) {
        break;
      }
      at = next;
    }
    return *at;
  };
  if (j.head_bearing <= j.stack.front().hole) {
    inconsistent(r.context, place({"head", "bearing_diameter"}), "joint/head/bearing_diameter",
                 fmt::format("the head falls through the hole of {}", length_text(j.stack.front().hole)),
                 "more than the first part's hole");
  }
  const double hole = j.stack.back().hole;
  if (j.nut.spring_washers) {
    if (j.nut.spring_washers->outer <= hole) {
      inconsistent(r.context, place({"nut", "spring_washers", "outer"}), "joint/nut/spring_washers/outer",
                   fmt::format("the washers fall through the hole of {}", length_text(hole)),
                   "more than the last part's hole");
    }
  } else if (j.nut.seat_outer <= hole) {
    const Item* nut = map.find("nut");
    const std::string ring = nut != nullptr && nut->find("seat") != nullptr ? "seat" : "bearing";
    inconsistent(r.context, place({"nut", ring, "outer"}), "joint/nut/" + ring + "/outer",
                 fmt::format("the nut falls through the hole of {}", length_text(hole)),
                 "more than the last part's hole");
  }
  if (j.studs.count > 1) {
    // The widest thing on a stud that its neighbour's must clear.
    const double nut = std::max(j.nut.bearing_outer, j.nut.seat_outer);
    const double pitch = stud_pitch(j.studs.bolt_circle, j.studs.count);
    const auto [widest, width] = nut >= j.head_bearing ? std::pair{"nuts", nut} : std::pair{"heads", j.head_bearing};
    if (pitch < width) {
      inconsistent(r.context, place({"studs", "bolt_circle"}), "joint/studs/bolt_circle",
                   fmt::format("{} studs stand {} apart, and their {} are {} wide", j.studs.count, length_text(pitch),
                               widest, length_text(width)),
                   "a bolt circle on which they clear each other");
    }
  }
  const double grip = grip_length(j);
  // The stud yields in its free thread, and one as short as round-off is none.
  if (j.studs.shank > grip * (1 - 1e-9)) {
    inconsistent(r.context, place({"studs", "shank"}), "joint/studs/shank",
                 fmt::format("the shank leaves no free thread in the grip of {}", length_text(grip)),
                 "below the grip length");
  }
  for (const PartSpec& p : j.stack) {
    if (p.flatness && !j.ring.active) {
      r.context.faults.warn(fmt::format("joint/stack/{}/flatness has no effect without joint/ring_coupling", p.name));
    }
  }
}

} // namespace

void read_joint(ReaderState& r, const Item& item) {
  Map map(r.context, item, "joint", section("joint"));
  if (!map.is_map()) {
    return;
  }
  JointSpec& j = r.scenario.joint;
  // What is left out has its fault told here; as NaN it brings no others.
  j.studs.bolt_circle = kNone;
  const Item* studs = map.need("studs");
  if (studs != nullptr) {
    read_studs(r, *studs);
  }
  j.head_bearing = kNone;
  if (const Item* head = map.need("head")) {
    Map m(r.context, *head, "joint/head", section("joint/head"));
    j.head_bearing = m.value("bearing_diameter");
  }
  j.nut.bearing_outer = j.nut.bearing_inner = j.nut.seat_outer = j.nut.seat_inner = kNone;
  if (const Item* nut = map.need("nut")) {
    read_nut(r, *nut);
  }
  if (const Item* pilot = map.find("pilot")) {
    Map m(r.context, *pilot, "joint/pilot", section("joint/pilot"));
    j.pilot_clearance = m.value("clearance");
  }
  read_stack(r, map);
  if (studs != nullptr) {
    read_stud_nodes(r, *studs);
  }
  read_interfaces(r, map);
  j.thread_embedding = *section("joint/thread_contact").find("embedding")->fallback;
  if (const Item* thread = map.find("thread_contact")) {
    Map m(r.context, *thread, "joint/thread_contact", section("joint/thread_contact"));
    const Item* amount = m.find("embedding");
    const Key& key = m.declared("embedding");
    j.thread_embedding =
        amount == nullptr ? *key.fallback : read_embedding(r, *amount, m.at("embedding"), key.spec).thread;
  }
  if (const Item* ring = map.find("ring_coupling")) {
    Map m(r.context, *ring, "joint/ring_coupling", section("joint/ring_coupling"));
    j.ring.active = m.flag("active", true);
    j.ring.width = m.maybe("width");
    j.ring.factor = m.value("factor");
    if (j.ring.active && j.studs.count > 0 && j.studs.count < 3) {
      inconsistent(r.context, *ring, "joint/ring_coupling", "a ring needs at least three studs",
                   "active: false, or three studs and more");
    }
  }
  if (const Item* cone = map.find("cone"); cone != nullptr && !(cone->scalar() && cone->text == "proportions")) {
    if (cone->scalar() && !cone->text.empty() && std::isalpha(static_cast<unsigned char>(cone->text.front())) != 0) {
      r.context.faults.add(Code::UnknownEntry, *cone, "joint/cone", fmt::format("'{}' is not known", cone->text),
                           "proportions, or an angle such as 30 deg");
    } else {
      j.cone_angle = map.value("cone");
    }
  }
  j.load_introduction = map.value("load_introduction");
  r.scenario.required_clamp = map.maybe("required_clamp");
  r.scenario.required_slip_margin = map.value("required_slip_margin");
  read_design_cases(r, map);
  check_joint(r, map);
}

} // namespace clampfade

// Writes, as JSON in SI units, what the checks in Python hold the program against.
//   reference_export cone             pressure cones of three stacks and their compliance
//   reference_export column FILE      laws, areas and compliances of a scenario's stud, and the spans of its day
#include "models/pressure_cone.hpp"
#include "solver/io/scenario.hpp"
#include "tests/reference/course.hpp"

#include <nlohmann/json.hpp>

#include <iostream>
#include <string>

using namespace clampfade;
using nlohmann::json;

namespace {

struct Slice {
  double thickness, youngs, poisson;
};

json cone(const std::string& name, const std::vector<Slice>& stack) {
  constexpr double kHole = 0.024, kPad = 0.075, kHead = 0.038, kNut = 0.046;
  std::vector<ConeSlice> slices;
  double length = 0;
  json parts = json::array();
  for (const Slice& s : stack) {
    slices.push_back({s.thickness, kHole, kPad});
    length += s.thickness;
    parts.push_back({{"thickness", s.thickness}, {"youngs", s.youngs}, {"poisson", s.poisson}});
  }
  const PressureCone c(slices, kHead, kNut, cone_tangent(length, (kHead + kNut) / 2, kPad));
  double compliance = 0;
  for (std::size_t m = 0; m < stack.size(); ++m) {
    compliance += c.length_over_area(m) / stack[m].youngs;
  }
  return {{"name", name},
          {"hole", kHole},
          {"pad", kPad},
          {"head", kHead},
          {"nut", kNut},
          {"parts", parts},
          {"tangent", c.tangent()},
          {"compliance", compliance}};
}

json column(const std::string& file) {
  const Scenario s = read_scenario(file);
  const Joint joint(s.joint, test::node_names(s), s.tightening.temperature);
  json out;
  out["clamp"] =
      joint.nut().clamp(s.tightening.torque[0], s.tightening.thread_friction[0], s.tightening.bearing_friction[0]);
  out["tightening_temperature"] = s.tightening.temperature;
  const Stud& stud = joint.stud();
  out["stud"] = {{"compliance", stud.compliance(s.tightening.temperature)},
                 {"grip", joint.grip()},
                 {"expansion", stud.material().expansion}};
  for (std::size_t m = 0; m < joint.parts().size(); ++m) {
    const PartSpec& p = s.joint.stack[m];
    json part = {{"shape", joint.parts()[m].shape},
                 {"area", joint.parts()[m].area},
                 {"thickness", p.thickness},
                 {"youngs", p.material.youngs(s.tightening.temperature)},
                 {"expansion", p.material.expansion}};
    if (p.material.creep) {
      part["creep"] = {{"coefficient", p.material.creep->coefficient},
                       {"exponent", p.material.creep->exponent},
                       {"activation", p.material.creep->activation}};
    }
    out["parts"].push_back(part);
  }
  for (const Interface& f : joint.interfaces()) {
    json face = {{"name", f.name}, {"area", f.area}, {"width", f.width}, {"embedding", f.embedding}};
    for (const std::size_t k : f.layers) {
      const FaceCoating& film = joint.layers()[k].film;
      const Coating& c = film.coating;
      face["films"].push_back({{"thickness", film.thickness},
                               {"modulus", c.modulus},
                               {"glass_transition", c.glass_transition},
                               {"transition_width", c.transition_width},
                               {"compaction_cold", c.compaction_cold},
                               {"compaction_hot", c.compaction_hot},
                               {"half_pressure", c.half_pressure},
                               {"activation_below", c.activation_below},
                               {"turns", c.turns},
                               {"pigment", c.pigment},
                               {"shortest", c.relaxation.shortest},
                               {"longest", c.relaxation.longest},
                               {"modes", c.relaxation.modes},
                               {"viscosity", c.flow->viscosity},
                               {"viscosity_at", c.flow->at},
                               {"breakdown_rate", c.breakdown->rate},
                               {"breakdown_at", c.breakdown->at},
                               {"breakdown_activation", c.breakdown->activation}});
    }
    out["interfaces"].push_back(face);
  }
  out["thread_embedding"] = s.joint.thread_embedding;
  const HeatNode& node = s.heat.nodes.at(0);
  out["heat"] = {{"capacity", node.capacity}, {"still", node.still}, {"moving", node.moving}};
  for (const test::Leg& leg : test::legs(s, 86400)) {
    out["spans"].push_back({{"duration", leg.duration},
                            {"cycle_rate", leg.road.cycle_rate},
                            {"ambient", {leg.heat.ambient.middle, leg.heat.ambient.rise, leg.heat.ambient.bend}},
                            {"air", leg.heat.air.middle},
                            {"brake_heat", leg.heat.brake_heat.middle}});
  }
  return out;
}

} // namespace

int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  if (words.size() == 1 && words[0] == "cone") {
    const Slice steel{0.012, 205e9, 0.3};
    std::cout << json{cone("steel 36 mm", {steel, steel, steel}), cone("aluminium 48 mm", {{0.048, 69e9, 0.33}}),
                      cone("iron 20 and 12 mm, steel 12 and 12 mm",
                           {{0.020, 170e9, 0.28}, {0.012, 110e9, 0.26}, steel, steel}),
                      cone("iron 20 and 12 mm, aluminium 22 and 22 mm",
                           {{0.020, 170e9, 0.28}, {0.012, 110e9, 0.26}, {0.022, 69e9, 0.33}, {0.022, 69e9, 0.33}})}
                     .dump(1)
              << '\n';
    return 0;
  }
  if (words.size() == 2 && words[0] == "column") {
    std::cout << column(words[1]).dump(1) << '\n';
    return 0;
  }
  std::cerr << "usage: reference_export cone | reference_export column FILE\n";
  return 2;
}

#include "solver/classroom/values.hpp"

#include "models/units.hpp"

#include <initializer_list>
#include <utility>

namespace clampfade::classroom_values {

namespace {

constexpr double kGiga = 1e9;

double celsius(double t) { return t + units::kZeroCelsius; }

/// A table against temperature in degC.
Table against_celsius(std::initializer_list<std::pair<double, double>> points, double unit) {
  std::vector<std::pair<double, double>> si;
  for (const auto& [t, y] : points) {
    si.emplace_back(celsius(t), y * unit);
  }
  return Table(std::move(si));
}

Material material(const char* name, Table youngs, double poisson, double expansion, double limit) {
  Material m;
  m.name = name;
  m.youngs = std::move(youngs);
  m.poisson = poisson;
  m.expansion = expansion;
  m.pressure_limit = limit * units::kMegapascal;
  return m;
}

/// What all three topcoats and primers of the catalogue have in common.
Coating coating(const char* name, double glass, double width, double cold, double hot, double pigment) {
  Coating c;
  c.name = name;
  c.modulus = 3 * kGiga;
  c.glass_transition = celsius(glass);
  c.transition_width = width;
  c.compaction_cold = cold;
  c.compaction_hot = hot;
  c.half_pressure = 30 * units::kMegapascal;
  c.activation_below = 180e3;
  c.turns = 1e6;
  c.pigment = pigment;
  c.relaxation = {1e-2, 1e14, 16};
  return c;
}

CoatingBreakdown breakdown(double per_hour, double activation) {
  return {per_hour / units::kHour, celsius(180), activation};
}

HeatNetwork duals(const char* name, HeatNode inner, HeatNode outer, HeatNode rim, double to_rim, double drum_to_rim,
                  double seen) {
  enum : std::size_t { Drum, Hub, Inner, Outer, Rim };
  inner.name = "inner disc";
  outer.name = "outer disc";
  rim.name = "rim";
  HeatNetwork h;
  h.name = name;
  h.nodes = {{"drum", 23.0e3, 2.5, 0.9}, {"hub", 18.4e3, 2.5, 0.5}, inner, outer, rim};
  h.links = {{Drum, Hub, 7},       {Hub, Inner, 120},    {Inner, Outer, 100},
             {Inner, Rim, to_rim}, {Outer, Rim, to_rim}, {Drum, Rim, drum_to_rim}};
  h.radiation = {{Drum, Rim, seen}, {Drum, HeatRadiation::kAmbient, 0.08}};
  h.brake = Drum;
  return h;
}

} // namespace

Thread thread() { return {"M22x1.5", 22e-3, 1.5e-3}; }

PropertyClass property_class() {
  PropertyClass p;
  p.name = "10.9";
  p.proof = 830e6;
  p.yield = against_celsius({{20, 940}, {100, 875}, {200, 790}, {250, 745}, {300, 705}}, units::kMegapascal);
  p.tensile = 1040e6;
  return p;
}

Material alloy_steel() {
  return material("alloy steel", against_celsius({{20, 205}, {100, 201}, {200, 195}, {300, 188}}, kGiga), 0.3, 11.5e-6,
                  870);
}

Material wheel_steel() {
  return material("wheel steel", against_celsius({{20, 205}, {100, 201}, {200, 195}, {300, 188}}, kGiga), 0.3, 12e-6,
                  500);
}

Material spring_steel() {
  return material("spring steel", against_celsius({{20, 206}, {100, 202}, {200, 196}, {300, 189}}, kGiga), 0.3, 11.5e-6,
                  870);
}

Material ductile_iron() { return material("ductile iron", 169 * kGiga, 0.275, 11.2e-6, 750); }

Material grey_iron() { return material("grey iron", 110 * kGiga, 0.26, 11.7e-6, 850); }

Material forged_aluminium() {
  Material m = material("forged aluminium",
                        against_celsius({{20, 69}, {100, 66.9}, {150, 64.2}, {200, 59.3}, {250, 53.8}}, kGiga), 0.33,
                        23.5e-6, 350);
  m.creep = MetalCreep{5e-6, 6, 140e3};
  return m;
}

Coating primer() {
  Coating c = coating("electrodeposition primer", 90, 10, 0.02, 0.10, 0.30);
  c.breakdown = breakdown(0.002, 160e3);
  c.film = CoatingFilm{15e-6, 35e-6};
  return c;
}

Coating thermoplastic() {
  Coating c = coating("thermoplastic topcoat", 65, 8, 0.05, 0.15, 0.35);
  c.flow = CoatingFlow{1e9, celsius(120)};
  c.breakdown = breakdown(0.01, 120e3);
  c.film = CoatingFilm{40e-6, 120e-6};
  return c;
}

Coating cross_linked() {
  Coating c = coating("cross-linked topcoat", 80, 8, 0.05, 0.25, 0.35);
  c.breakdown = breakdown(0.005, 140e3);
  c.film = CoatingFilm{40e-6, 120e-6};
  return c;
}

WasherSpec washers() {
  WasherSpec w;
  w.outer = 50e-3;
  w.inner = 25e-3;
  w.thickness = 6e-3;
  w.cone_height = 0.60e-3;
  w.material = spring_steel();
  w.parallel = 4;
  w.series = 1;
  w.friction = 0;
  w.set = against_celsius({{20, 0}, {100, 0.02}, {200, 0.06}}, 1);
  return w;
}

HeatNetwork steel_duals() {
  return duals("steel duals with drum brake", {"", 6.7e3, 0.6, 0.15}, {"", 6.7e3, 0.8, 0.25}, {"", 33.6e3, 9, 3.0}, 5,
               2.5, 0.20);
}

HeatNetwork aluminium_duals() {
  return duals("aluminium duals with drum brake", {"", 10.8e3, 1.0, 0.3}, {"", 10.8e3, 1.4, 0.5}, {"", 32.4e3, 10, 3},
               30, 2, 0.10);
}

} // namespace clampfade::classroom_values

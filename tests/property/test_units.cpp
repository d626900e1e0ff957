// Checks: that a figure means the same however its unit is spelled.
// Problem: drawn figures of every dimension in every spelling; one whole scenario with drawn figures, written once in
// SI
//   and once in drawn units.
// Reference: the definitions of the units, written out here: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, standard gravity
//   9.80665 m/s^2, degC and degF by theirs; all exact.
// Tolerance: 1e-12, relative.
// Fails if: a spelling is taken for another unit, a factor is wrong in any digit, or a key reads its unit otherwise.
#include "solver/io/quantity.hpp"
#include "tests/property/generators.hpp"
#include "tests/property/property.hpp"

#include <string>
#include <utility>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr double kInch = 0.0254;
constexpr double kFoot = 0.3048;
constexpr double kPound = 0.45359237;
constexpr double kLbf = kPound * 9.80665;

/// A spelling and how many SI units it holds; `offset` of the temperature scales.
struct Unit {
  const char* text;
  double factor = 1;
  double offset = 0;
};

/// Spellings of one dimension, SI first, with a range of figures that makes sense [SI].
struct Family {
  const char* si;
  Quantity quantity;
  double low, high;
  std::vector<Unit> units;
};

const std::vector<Family>& families() {
  static const std::vector<Family> list = {
      {"m",
       Quantity::Dimensional,
       1e-6,
       1e5,
       {{"m"},
        {"mm", 1e-3},
        {"um", 1e-6},
        {"\xC2\xB5m", 1e-6},
        {"micron", 1e-6},
        {"cm", 1e-2},
        {"km", 1e3},
        {"in", kInch},
        {"inches", kInch},
        {"mil", kInch / 1000},
        {"thou", kInch / 1000},
        {"ft", kFoot},
        {"yd", 3 * kFoot},
        {"mile", 5280 * kFoot}}},
      {"N m",
       Quantity::Dimensional,
       1,
       5e3,
       {{"N*m"},
        {"Nm"},
        {"N\xC2\xB7m"},
        {"N m"},
        {"kN*m", 1e3},
        {"lbf*ft", kLbf * kFoot},
        {"lbf ft", kLbf * kFoot},
        {"ft-lb", kLbf * kFoot},
        {"ft-lbs", kLbf * kFoot},
        {"lb-ft", kLbf * kFoot},
        {"ftlb", kLbf * kFoot},
        {"in-lb", kLbf * kInch},
        {"lbf*in", kLbf * kInch},
        {"kgf*m", 9.80665}}},
      {"N",
       Quantity::Dimensional,
       1,
       1e6,
       {{"N"}, {"kN", 1e3}, {"daN", 10}, {"lbf", kLbf}, {"kip", 1e3 * kLbf}, {"kgf", 9.80665}}},
      {"Pa",
       Quantity::Dimensional,
       1e5,
       3e11,
       {{"Pa"},
        {"kPa", 1e3},
        {"MPa", 1e6},
        {"GPa", 1e9},
        {"N/mm^2", 1e6},
        {"N/mm\xC2\xB2", 1e6},
        {"bar", 1e5},
        {"psi", kLbf / (kInch * kInch)},
        {"lbf/in^2", kLbf / (kInch * kInch)},
        {"ksi", 1e3 * kLbf / (kInch * kInch)}}},
      {"s",
       Quantity::Dimensional,
       1e-3,
       1e8,
       {{"s"}, {"ms", 1e-3}, {"min", 60}, {"h", 3600}, {"hours", 3600}, {"d", 86400}, {"weeks", 7 * 86400.0}}},
      {"kg", Quantity::Dimensional, 1, 6e4, {{"kg"}, {"g", 1e-3}, {"t", 1e3}, {"lb", kPound}, {"lbs", kPound}}},
      {"m/s",
       Quantity::Dimensional,
       0.1,
       40,
       {{"m/s"}, {"km/h", 1 / 3.6}, {"kph", 1 / 3.6}, {"mph", 5280 * kFoot / 3600}, {"ft/s", kFoot}}},
      {"m/s^2",
       Quantity::Dimensional,
       0.1,
       10,
       {{"m/s^2"}, {"m/s\xC2\xB2"}, {"m s-2"}, {"ft/s^2", kFoot}, {"gn", 9.80665}}},
      {"W", Quantity::Dimensional, 1, 1e5, {{"W"}, {"kW", 1e3}, {"J/s"}, {"Btu/h", 1055.05585262 / 3600}}},
      {"J/K", Quantity::Dimensional, 1e2, 1e6, {{"J/K"}, {"kJ/K", 1e3}, {"J/degC"}, {"Btu/degF", 1055.05585262 * 1.8}}},
      {"W/K", Quantity::Dimensional, 0.1, 1e3, {{"W/K"}, {"kW/K", 1e3}, {"W/degC"}, {"W/degF", 1.8}}},
      {"m^2",
       Quantity::Dimensional,
       1e-4,
       1,
       {{"m^2"}, {"cm^2", 1e-4}, {"mm^2", 1e-6}, {"in^2", kInch * kInch}, {"ft^2", kFoot * kFoot}}},
      {"1/K",
       Quantity::Dimensional,
       1e-6,
       1e-4,
       {{"1/K"}, {"ppm/K", 1e-6}, {"1/degC"}, {"1/degF", 1.8}, {"um/m/K", 1e-6}}},
      {"J/mol", Quantity::Dimensional, 1e3, 4e5, {{"J/mol"}, {"kJ/mol", 1e3}, {"J/kmol", 1e-3}}},
      {"Pa s", Quantity::Dimensional, 1e3, 1e12, {{"Pa*s"}, {"Pa s"}, {"kPa*s", 1e3}, {"MPa*h", 3600e6}}},
      {"1/s",
       Quantity::Dimensional,
       1e-9,
       1e2,
       {{"1/s"}, {"1/min", 1 / 60.0}, {"1/h", 1 / 3600.0}, {"Hz"}, {"1/d", 1 / 86400.0}}},
      {"m/N",
       Quantity::Dimensional,
       1e-12,
       1e-8,
       {{"m/N"},
        {"um/kN", 1e-9},
        {"mm/N", 1e-3},
        {"mm/kN", 1e-6},
        {"in/lbf", kInch / kLbf},
        {"mil/kip", kInch / kLbf / 1e6}}},
      {"1/Pa",
       Quantity::Dimensional,
       1e-18,
       1e-12,
       {{"1/Pa"}, {"1/MPa", 1e-6}, {"mm^2/N", 1e-6}, {"1/psi", kInch * kInch / kLbf}}},
      {"rad", Quantity::Dimensional, 0.1, 1.5, {{"rad"}, {"mrad", 1e-3}, {"deg", kPi / 180}, {"\xC2\xB0", kPi / 180}}},
      {"K",
       Quantity::Point,
       240,
       700,
       {{"K"},
        {"degC", 1, 273.15},
        {"\xC2\xB0"
         "C",
         1, 273.15},
        {"degF", 5.0 / 9, 459.67 * 5 / 9}}},
      {"K", Quantity::Difference, 1, 40, {{"K"}, {"degC"}, {"degF", 5.0 / 9}}},
      {"1", Quantity::Number, 1e-3, 1, {{""}, {"%", 0.01}}},
  };
  return list;
}

std::string written(double si, const Unit& unit) {
  const std::string number = fmt::format("{:.17g}", (si - unit.offset) / unit.factor);
  return *unit.text == '\0' ? number : number + " " + unit.text;
}

const Family& family(const std::string& si, Quantity quantity) {
  for (const Family& f : families()) {
    if (f.si == si && f.quantity == quantity) {
      return f;
    }
  }
  throw std::out_of_range(si);
}

/// Writes figures: always in SI, or each in a unit that was drawn for it.
class Writer {
public:
  explicit Writer(std::vector<int> drawn = {}) : drawn_(std::move(drawn)) {}
  std::string operator()(double si, const std::string& dimension, Quantity quantity = Quantity::Dimensional) {
    const auto& units = family(dimension, quantity).units;
    const std::size_t unit =
        drawn_.empty() ? 0 : static_cast<std::size_t>(drawn_[next_++ % drawn_.size()]) % units.size();
    return written(si, units[unit]);
  }
  std::string point(double kelvin) { return (*this)(kelvin, "K", Quantity::Point); }
  std::string step(double kelvin) { return (*this)(kelvin, "K", Quantity::Difference); }
  std::string number(double x) { return (*this)(x, "1", Quantity::Number); }

private:
  std::vector<int> drawn_;
  std::size_t next_ = 0;
};

/// A whole scenario whose figures all go through the writer; `f` draws between 0 and 1, in order.
ScenarioText text_of(const std::vector<double>& shares, Writer write) {
  std::size_t next = 0;
  const auto f = [&](double low, double high) { return low + (high - low) * shares[next++ % shares.size()]; };
  const auto metal = [&](double youngs, bool creeps) {
    return fmt::format("youngs: [[{}, {}], [{}, {}]], poisson: {}, expansion: {}{}", write.point(f(280, 300)),
                       write(youngs, "Pa"), write.point(f(450, 480)), write(youngs * f(0.8, 1), "Pa"),
                       write.number(f(0.25, 0.35)), write(f(1e-5, 2.4e-5), "1/K"),
                       creeps ? fmt::format(", creep: {{coefficient: {}, exponent: 5, activation: {}}}",
                                            write(f(1e-7, 1e-5), "1/s"), write(f(9e4, 1.5e5), "J/mol"))
                              : "");
  };
  ScenarioText s;
  s.stud_material = metal(2.05e11, false);
  s.hub_material = metal(1.7e11, false);
  s.disc_material = metal(7e10, true);
  s.property_class = fmt::format("proof: {}, yield: {}, tensile: {}", write(8.3e8, "Pa"), write(f(9e8, 9.4e8), "Pa"),
                                 write(1.04e9, "Pa"));
  s.coating = fmt::format(
      "modulus: {}, glass_transition: {}, transition_width: {}, compaction_cold: {}, compaction_hot: {}, "
      "half_pressure: {}, relaxation: {{shortest: {}, longest: {}, modes: 8}}, activation_below: {}, turns: 1e6, "
      "pigment: {}, flow: {{viscosity: {}, at: {}}}, breakdown: {{rate: {}, at: {}, activation: {}}}",
      write(f(1e9, 5e9), "Pa"), write.point(f(320, 390)), write.step(f(4, 15)), write.number(f(0.02, 0.08)),
      write.number(f(0.1, 0.3)), write(f(1e7, 6e7), "Pa"), write(f(1e-2, 1), "s"), write(f(1e8, 1e10), "s"),
      write(f(8e4, 2.5e5), "J/mol"), write.number(f(0.2, 0.4)), write(f(1e8, 1e10), "Pa s"), write.point(f(380, 400)),
      write(f(1e-7, 1e-5), "1/s"), write.point(f(400, 430)), write(f(8e4, 1.4e5), "J/mol"));
  s.nodes = fmt::format("joint: {{capacity: {}, still: {}, moving: {}}}, rim: {{capacity: {}, still: {}}}",
                        write(f(1e4, 4e4), "J/K"), write(f(2, 20), "W/K"), write(f(0.5, 3), "W/K"),
                        write(f(1e4, 4e4), "J/K"), write(f(2, 20), "W/K"));
  s.links = fmt::format("[joint, rim, {}]", write(f(5, 100), "W/K"));
  s.radiation = fmt::format("{{from: joint, to: ambient, emissivity_area: {}}}", write(f(0.01, 0.2), "m^2"));
  const auto length = [&](double low, double high) { return write(f(low, high), "m"); };
  s.nut = fmt::format("bearing: {{outer: {}, inner: {}}}, seat: {{outer: {}, inner: {}}}, prevailing_torque: {}, "
                      "spring_washers: {{outer: {}, inner: {}, thickness: {}, cone_height: {}, material: stud steel, "
                      "parallel: 2, friction: {}, set: [[{}, 0], [{}, {}]]}}",
                      write(0.036, "m"), write(0.024, "m"), write(0.047, "m"), write(0.025, "m"),
                      write(f(1, 20), "N m"), write(0.047, "m"), write(0.0235, "m"), length(5e-3, 7e-3),
                      length(3e-4, 8e-4), write.number(f(0.01, 0.03)), write.point(293.15), write.point(f(360, 390)),
                      write.number(f(0.01, 0.05)));
  s.hub = fmt::format("thickness: {}, hole: {}, pad: {}, node: joint", length(0.02, 0.05), length(0.0235, 0.025),
                      length(0.06, 0.08));
  s.disc = fmt::format("thickness: {}, hole: {}, pad: {}, node: rim, flatness: {{amplitude: {}, lobes: 2}}, head_side: "
                       "{{coating: paint, thickness: {}}}",
                       length(0.01, 0.02), length(0.025, 0.027), length(0.06, 0.08), length(1e-5, 2e-4),
                       length(2e-5, 1.5e-4));
  s.interface_default = fmt::format(
      "embedding: {}, friction: {}, tangential_compliance: {}, wear: {}, contact_compliance: {}, unseated: {}",
      length(0, 6e-6), write.number(f(0.1, 0.2)), write(f(1e-11, 1e-9), "m/N"), write(f(1e-17, 1e-15), "1/Pa"),
      write(f(1e-12, 1e-10), "m/N"), length(0, 3e-5));
  s.thread_contact = "embedding: " + length(0, 4e-6);
  s.pilot = "clearance: " + length(2e-4, 1e-3);
  s.ring = fmt::format("active: true, width: {}", length(0.05, 0.08));
  s.torque = write(f(400, 700), "N m");
  s.friction =
      fmt::format("thread: {}, bearing: {}, breakaway: 1.1", write.number(f(0.1, 0.15)), write.number(f(0.1, 0.15)));
  s.pause = write(f(1, 60), "s");
  s.temperature = write.point(f(280, 300));
  s.vehicle = fmt::format("mass: {}, wheel_ends: 6, driven_ends: 4, load: {}, rolling_radius: {}, load_offset: {}, "
                          "dynamic_factor: 1.3, brake_share: {}, lateral_share: {}",
                          write(f(2e4, 3e4), "kg"), write(f(3e4, 6e4), "N"), length(0.4, 0.6), length(0.01, 0.1),
                          write.number(f(0.8, 1)), write.number(f(0.01, 0.1)));
  s.ambient = fmt::format("mean: {}, daily_swing: {}, yearly_swing: {}", write.point(f(270, 300)), write.step(f(1, 10)),
                          write.step(f(1, 15)));
  s.day = fmt::format("{{park: {{until: {}}}}}, {{drive: {{distance: {}, speed: {}, grade: {}, held_by_brakes: {}, "
                      "mass: {}}}}}, {{round: {{stops: 4, spacing: {}, top_speed: {}, acceleration: {}, deceleration: "
                      "{}, dwell: {}}}}}, {{drag: {{power: {}, speed: {}, duration: {}}}}}",
                      write(f(3600, 2e4), "s"), length(1e3, 3e4), write(f(10, 25), "m/s"), write.number(f(0.01, 0.05)),
                      write.number(f(0.1, 0.9)), write(f(1e4, 3e4), "kg"), length(100, 800), write(f(5, 12), "m/s"),
                      write(f(0.5, 1), "m/s^2"), write(f(0.8, 2), "m/s^2"), write(f(1, 60), "s"),
                      write(f(500, 5e3), "W"), write(f(3, 10), "m/s"), write(f(600, 4e3), "s"));
  s.service =
      fmt::format("{{retorque: {{after: {}, torque: {}}}}}, {{hot_day: {{after: {}, extra_power: {}}}}}",
                  write(f(1e5, 3e5), "s"), write(f(400, 700), "N m"), length(1e4, 5e4), write(f(100, 2e3), "W"));
  s.record = fmt::format("every: {}, at: [{}, {}]", write(f(3e3, 1e5), "s"), write(f(1e3, 1e5), "s"), length(1e3, 1e4));
  return s;
}

/// Every figure of a scenario with its name, by the declarations that the reader itself goes by.
class Figures {
public:
  void add(const std::string& name, double value) { all.emplace_back(name, value); }
  void add(const std::string& name, const Table& table) {
    for (const auto& [x, y] : table.points()) {
      add(name + " at", x);
      add(name, y);
    }
  }
  template <class T>
  void add_fields(const std::string& name, const T& of) {
    for (const Field<T>& field : T::fields()) {
      const std::string full = name + "." + std::string(field.spec.key);
      std::visit(
          [&](auto member) {
            if constexpr (std::is_same_v<decltype(member), std::size_t T::*>) {
              add(full, static_cast<double>(of.*member));
            } else {
              add(full, of.*member);
            }
          },
          field.member);
    }
  }
  void add_material(const std::string& name, const Material& m) {
    add_fields(name, m);
    if (m.creep) {
      add_fields(name + ".creep", *m.creep);
    }
  }
  void add_paint(const std::string& name, const std::optional<FaceCoating>& film) {
    if (film) {
      add(name + ".thickness", film->thickness);
      add_fields(name, film->coating);
      add_fields(name + ".relaxation", film->coating.relaxation);
      if (film->coating.flow) {
        add_fields(name + ".flow", *film->coating.flow);
      }
      if (film->coating.breakdown) {
        add_fields(name + ".breakdown", *film->coating.breakdown);
      }
    }
  }
  std::vector<std::pair<std::string, double>> all;
};

Figures figures_of(const Scenario& s) {
  Figures f;
  const JointSpec& j = s.joint;
  f.add("bolt_circle", j.studs.bolt_circle);
  f.add_fields("thread", j.studs.thread);
  f.add_fields("class", j.studs.property_class);
  f.add_material("stud", j.studs.material);
  for (const double v : {j.studs.shank, j.head_bearing, j.nut.bearing_outer, j.nut.bearing_inner, j.nut.seat_outer,
                         j.nut.seat_inner, j.nut.prevailing_torque, j.pilot_clearance.value_or(0), j.thread_embedding,
                         j.ring.width.value_or(0), j.ring.factor, s.tightening.pause, s.tightening.temperature}) {
    f.add("joint and tightening", v);
  }
  for (const PartSpec& p : j.stack) {
    f.add_fields(p.name, p);
    f.add_material(p.name, p.material);
    f.add_paint(p.name + " head side", p.head_side);
    f.add_paint(p.name + " nut side", p.nut_side);
    if (p.flatness) {
      f.add_fields(p.name + " flatness", *p.flatness);
    }
  }
  for (const InterfaceSpec& i : j.interfaces) {
    f.add_fields(i.name, i);
  }
  if (const auto& w = j.nut.spring_washers) {
    f.add_fields("washers", *w);
  }
  for (std::size_t k = 0; k < j.studs.count; ++k) {
    f.add("torque", s.tightening.torque[k]);
    f.add("thread friction", s.tightening.thread_friction[k]);
    f.add("bearing friction", s.tightening.bearing_friction[k]);
  }
  f.add_fields("vehicle", s.vehicle);
  f.add_fields("ambient", s.duty.ambient);
  for (const HeatNode& n : s.heat.nodes) {
    f.add_fields("node " + n.name, n);
  }
  for (const HeatLink& l : s.heat.links) {
    f.add("link", l.conductance);
  }
  for (const HeatRadiation& r : s.heat.radiation) {
    f.add("radiation", r.emissivity_area);
  }
  for (const DayStep& d : s.duty.day) {
    std::visit(
        [&](const auto& step) {
          if constexpr (!std::is_same_v<std::decay_t<decltype(step)>, TraceStep>) {
            f.add_fields("step", step);
          }
        },
        d.what);
    f.add("mass", d.load.mass_start.value_or(0));
    f.add("mass", d.load.mass_end.value_or(0));
  }
  for (const Service& v : s.service) {
    f.add("service after", v.after.value);
    f.add("service torque", v.torque.value_or(0));
    f.add("service power", v.extra_power);
  }
  f.add("record every", s.record.every.value_or(0));
  for (const When& w : s.record.at) {
    f.add(w.kind == When::Kind::Time ? "record time" : "record distance", w.value);
  }
  return f;
}

} // namespace

TEST_CASE("property: a figure means the same in every spelling of its unit") {
  check_property("spellings of one figure agree", [] {
    const std::size_t which = *count(0, families().size() - 1);
    const Family& f = families()[which];
    const double si = *spread(f.low, f.high);
    const ParamSpec spec{"key", f.si, f.quantity, {}, {}, ""};
    for (const Unit& unit : f.units) {
      const std::string text = written(si, unit);
      const QuantityResult read = read_quantity(text, spec);
      RC_LOG() << text << '\n';
      RC_ASSERT(read.value.has_value());
      expect(text, *read.value, close(si, 0, 1e-12));
    }
  });
}

TEST_CASE("property: a scenario in other units is the same scenario") {
  check_property("scenarios in drawn units agree with SI", [] {
    const auto shares = *rc::gen::container<std::vector<double>>(120, between(0, 1));
    const auto units =
        *rc::gen::container<std::vector<int>>(120, rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, 840)));
    const Figures si = figures_of(text_of(shares, Writer()).scenario());
    const Figures other = figures_of(text_of(shares, Writer(units)).scenario());
    RC_ASSERT(si.all.size() == other.all.size());
    RC_ASSERT(si.all.size() > 150U);
    for (std::size_t i = 0; i < si.all.size(); ++i) {
      RC_ASSERT(si.all[i].first == other.all[i].first);
      expect(si.all[i].first, other.all[i].second, close(si.all[i].second, 0, 1e-12));
    }
  });
}

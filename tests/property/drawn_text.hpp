// Random joints and short duties as the text of a scenario: what a user could write, to the edges of what the reader
// takes. The wheels of generators.hpp are the sensible ones; these are soft and stiff, loose and overtightened, thickly
// painted, red hot and badly greased. Every value is a demo value.
#pragma once

#include "models/units.hpp"
#include "tests/property/generators.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

namespace clampfade::test {

/// A scenario as text, with the names of what is special about it.
struct DrawnText {
  std::string text;
  std::vector<std::string> features;
  void note(bool has, const char* feature) {
    if (has) {
      features.emplace_back(feature);
    }
  }
};

namespace drawn {

struct NamedThread {
  const char* name;
  double diameter, pitch; ///< [mm]
};
inline constexpr std::array kThreads = {
    NamedThread{"M12x1.75", 12, 1.75}, NamedThread{"M14x1.5", 14, 1.5}, NamedThread{"M16x2", 16, 2},
    NamedThread{"M18x1.5", 18, 1.5},   NamedThread{"M20x2.5", 20, 2.5}, NamedThread{"M22x1.5", 22, 1.5},
    NamedThread{"M24x3", 24, 3},       NamedThread{"M27x3", 27, 3},     NamedThread{"M30x3.5", 30, 3.5},
};

/// A film that the catalogue knows, and for how thick a film it is meant [um].
struct NamedPaint {
  const char* name;
  double thin, thick;
};
inline constexpr std::array kPaints = {
    NamedPaint{"electrodeposition primer", 15, 35},      NamedPaint{"zinc-rich primer", 40, 90},
    NamedPaint{"two-pack epoxy primer", 30, 60},         NamedPaint{"polyester powder coat", 60, 120},
    NamedPaint{"cross-linked topcoat", 40, 120},         NamedPaint{"alkyd topcoat", 30, 90},
    NamedPaint{"two-pack polyurethane topcoat", 40, 90}, NamedPaint{"thermoplastic topcoat", 40, 120},
};

inline constexpr std::array kMetals = {"wheel steel", "carbon steel",     "ductile iron",
                                       "grey iron",   "forged aluminium", "cast aluminium"};

/// Lumps of heat: the first is braked.
struct NamedHeat {
  std::string text; ///< of the section `heat`
  std::vector<std::string> nodes;
  double capacity = 0; ///< of the braked one [kJ/K]
};

inline NamedHeat draw_heat() {
  switch (*count(0, 4)) {
  case 0:
    return {"{network: steel duals with drum brake}", {"drum", "hub", "inner disc", "outer disc", "rim"}, 23};
  case 1:
    return {"{network: aluminium duals with drum brake}", {"drum", "hub", "inner disc", "outer disc", "rim"}, 23};
  case 2:
    return {"{network: steel single with disc brake}", {"brake disc", "hub", "wheel disc", "rim"}, 12.5};
  case 3: {
    const double small = *spread(2, 40);
    return {fmt::format("{{nodes: {{joint: {{capacity: {:.6g} kJ/K, still: {:.6g} W/K, moving: {:.6g} W/K}}}}, brake: "
                        "joint}}",
                        small, *spread(1, 30), *between(0, 5)),
            {"joint"},
            small};
  }
  default: {
    const double drum = *spread(5, 40);
    return {fmt::format("{{nodes: {{drum: {{capacity: {:.6g} kJ/K, still: {:.6g} W/K, moving: {:.6g} W/K}}, disc: "
                        "{{capacity: {:.6g} kJ/K, still: {:.6g} W/K}}}}, links: [[drum, disc, {:.6g} W/K]], radiation: "
                        "[{{from: drum, to: ambient, emissivity_area: {:.6g} m^2}}], brake: drum}}",
                        drum, *spread(1, 10), *between(0, 3), *spread(1, 30), *between(0, 10), *spread(1, 300),
                        *between(0, 0.2)),
            {"drum", "disc"},
            drum};
  }
  }
}

/// "{a, b, c}" as a list with one value for each stud, or one for all of them.
template <class One>
std::string each_stud(std::size_t n, bool apart, const One& one) {
  if (!apart) {
    return one();
  }
  std::vector<std::string> all;
  for (std::size_t k = 0; k < n; ++k) {
    all.push_back(one());
  }
  return fmt::format("[{}]", fmt::join(all, ", "));
}

/// The steps of a day that stay within it.
class Day {
public:
  explicit Day(double brake_capacity) : capacity_(brake_capacity) {}

  void draw(DrawnText& out) {
    park(*between(0, 8));
    for (std::size_t k = *count(1, 4); k > 0; --k) {
      switch (*count(0, 9)) {
      case 0:
      case 1:
      case 2:
        drive();
        break;
      case 3:
      case 4:
      case 5:
        round();
        break;
      case 6:
      case 7:
        drag(out);
        break;
      case 8:
        trace();
        break;
      default:
        park(clock_ + *between(0.2, 4));
      }
      if (*chance(0.3)) {
        park(clock_ + *between(0.2, 2));
      }
    }
  }
  [[nodiscard]] std::string text() const { return fmt::format("[{}]", fmt::join(steps_, ", ")); }

private:
  /// Adds a step of so many hours if the day still has them.
  void add(double hours, const std::string& text) {
    if (clock_ + hours < 23.5) {
      clock_ += hours;
      steps_.push_back("{" + text + "}");
    }
  }
  void park(double until) {
    if (until > clock_ && until < 23.5) {
      clock_ = until;
      steps_.push_back(fmt::format("{{park: {{until: {:.12g} h}}}}", until));
    }
  }
  void drive() {
    const double distance = *spread(0.5, 80);
    const double speed = *between(15, 110);
    add(distance / speed, fmt::format("drive: {{distance: {:.6g} km, speed: {:.6g} km/h, grade: {:.4g}, "
                                      "held_by_brakes: {:.4g}{}}}",
                                      distance, speed, *chance(0.4) ? *between(-0.1, 0.1) : 0, *between(0, 1), load()));
  }
  void round() {
    const double stops = std::floor(*spread(1, 80));
    const double spacing = *spread(30, 2000);
    const double top = *between(3, 20);
    const double acceleration = *between(0.4, 2);
    const double deceleration = *spread(0.6, 6);
    const double dwell = *chance(0.1) ? *between(600, 1500) : *between(0, 40);
    add(stops * (spacing / top + top / 2 / acceleration + top / 2 / deceleration + dwell) / 3600,
        fmt::format("round: {{stops: {}, spacing: {:.6g} m, top_speed: {:.6g} m/s, acceleration: {:.6g} m/s^2, "
                    "deceleration: {:.6g} m/s^2, dwell: {:.6g} s{}}}",
                    stops, spacing, top, acceleration, deceleration, dwell, load()));
  }
  void drag(DrawnText& out) {
    // Heats what is braked by so much, were none of it to leave.
    const double hours = *spread(0.1, 2);
    const double rise = *between(50, 700);
    out.note(rise > 350, "hot brake");
    add(hours, fmt::format("drag: {{power: {:.6g} W, speed: {:.6g} km/h, duration: {:.6g} min{}}}",
                           rise * capacity_ * 1e3 / (hours * 3600), *between(0, 80), hours * 60, load()));
  }
  void trace() {
    std::string points = "time [s],speed [m/s],grade [-]\\n0,0,0\\n";
    double time = 0;
    for (std::size_t k = *count(2, 8); k > 0; --k) {
      time += *between(5, 200);
      points += fmt::format("{:.6g},{:.6g},{:.3g}\\n", time, *chance(0.3) ? 0 : *between(0, 22), *between(-0.05, 0.05));
    }
    add(time / 3600, fmt::format("trace: {{points: \"{}\"{}}}", points, load()));
  }
  static std::string load() {
    std::string text;
    if (*chance(0.3)) {
      text += *chance(0.5) ? fmt::format(", mass: [{:.6g} t, {:.6g} t]", *between(5, 30), *between(5, 40))
                           : fmt::format(", mass: {:.6g} t", *between(5, 40));
    }
    if (*chance(0.2)) {
      text += fmt::format(", lateral_share: {:.4g}", *between(0, 0.5));
    }
    return text;
  }

  double capacity_;  ///< [kJ/K]
  double clock_ = 0; ///< [h]
  std::vector<std::string> steps_;
};

inline std::string draw_paint_text(DrawnText& out) {
  const NamedPaint& paint = kPaints[*count(0, kPaints.size() - 1)];
  const std::size_t kind = *count(0, 3);
  out.note(kind == 0, "thin film");
  out.note(kind == 1, "thick film");
  const double film = kind == 0   ? *spread(1, paint.thin)
                      : kind == 1 ? *spread(paint.thick, 1500)
                                  : *between(paint.thin, paint.thick);
  return fmt::format("{{coating: {}, thickness: {:.6g} um}}", paint.name, film);
}

inline std::string after() {
  return *chance(0.5) ? fmt::format("{:.6g} km", *between(0, 150)) : fmt::format("{:.6g} h", *between(0, 72));
}

inline DrawnText draw_text() {
  DrawnText out;
  // How the joint is made.
  const std::size_t kind = *count(0, 9);
  const bool soft = kind < 2;
  const bool stiff = kind == 2 || kind == 3;
  const bool stacked = kind == 4; // many coats
  out.note(soft, "soft");
  out.note(stiff, "stiff");
  const NamedThread& thread = kThreads[soft ? *count(0, 2) : stiff ? *count(6, 8) : *count(2, kThreads.size() - 1)];
  const double d = thread.diameter;
  std::size_t n = *chance(0.1) ? *count(1, 4) : *count(3, 20);
  const double hole = d * *between(1.02, 1.25);
  const double bearing_outer = d * *between(1.5, 1.8);
  const double bearing_inner = d * *between(1.01, 1.1);
  const double head = std::max(d * *between(1.5, 2), 1.1 * hole);
  const double pad = d * *between(1.9, 4);
  const bool seat = *chance(0.3);
  double widest = std::max(bearing_outer, head);
  std::string nut = fmt::format("bearing: {{outer: {:.6g} mm, inner: {:.6g} mm}}", bearing_outer, bearing_inner);
  if (seat) {
    const double outer = d * *between(1.7, 2.3);
    widest = std::max(widest, outer);
    nut += fmt::format(", seat: {{outer: {:.6g} mm, inner: {:.6g} mm}}", outer, d * *between(1.02, 1.2));
  }
  if (*chance(0.1)) {
    out.note(true, "prevailing torque");
    nut += fmt::format(", prevailing_torque: {:.6g} N*m", *spread(1, 9));
  }
  if (*chance(0.15)) {
    out.note(true, "sleeve");
    nut += fmt::format(", sleeve: {{outer: {:.6g} mm}}", d + (hole - d) * *between(0.5, 1));
  }
  if (*chance(soft ? 0.7 : 0.3)) {
    out.note(true, "spring washers");
    const double outer = std::max(d * *between(1.8, 2.4), 1.1 * hole);
    const double thickness = outer * *spread(0.03, 0.2);
    const std::size_t parallel = *count(1, 4);
    widest = std::max(widest, outer);
    nut += fmt::format(", spring_washers: {{outer: {:.6g} mm, inner: {:.6g} mm, thickness: {:.6g} mm, cone_height: "
                       "{:.6g} mm, parallel: {}, series: {}, friction: {:.4g}, material: spring steel{}}}",
                       outer, d * *between(1.02, 1.15), thickness, thickness * *spread(0.02, 1.3), parallel,
                       *count(1, soft ? 10 : 3), *chance(0.5) ? *between(0, 0.3) : 0,
                       *chance(0.4) ? fmt::format(", set: [[20 degC, 0], [150 degC, {:.4g}]]", *between(0, 0.2)) : "");
  }
  n = std::min(n, static_cast<std::size_t>(kPi / std::asin(1.1 * widest / 600)));
  const double circle =
      n > 1 ? std::max(*between(180, 350), 1.05 * widest / std::sin(kPi / static_cast<double>(n))) : 200;
  out.note(n == 1, "one stud");
  out.note(n > 12, "13 to 20 studs");

  const NamedHeat heat = draw_heat();
  const bool hot = *chance(0.3); // parts that share the brake's lump
  const auto node = [&] { return heat.nodes[heat.nodes.size() == 1 ? 0 : *count(hot ? 0 : 1, heat.nodes.size() - 1)]; };

  const std::size_t parts = stacked ? *count(6, 10) : stiff ? *count(1, 3) : *count(1, 5);
  const double painted = stacked ? 0.9 : *chance(0.3) ? 0 : 0.4;
  const bool coupled = n >= 3 && *chance(0.5);
  std::string stack;
  std::vector<std::string> names = {"head"};
  double grip = 0;
  std::size_t layers = 0;
  bool creeps = false;
  bool wavy = false;
  const std::size_t wheel = parts == 1 ? 0 : *count(0, parts - 1); // every part from here is a disc, or one
  const bool duals = *chance(0.5);
  for (std::size_t k = 0; k < parts; ++k) {
    const bool disc = k == wheel || (duals && k == wheel + 1);
    const std::string metal = kMetals[*count(0, kMetals.size() - 1)];
    creeps = creeps || metal.find("alum") != std::string::npos;
    const double thickness = soft ? *between(20, 100) : stiff ? *spread(1, 8) : *between(5, 35);
    grip += thickness;
    names.push_back(fmt::format("p{}", k));
    stack += fmt::format("  - {{part: p{}, wheel: {}, material: {}, thickness: {:.6g} mm, hole: {:.6g} mm, pad: {:.6g} "
                         "mm, node: {}",
                         k, disc, metal, thickness, hole, pad * *between(0.9, 1.2), node());
    if (disc && *chance(0.3)) {
      wavy = true;
      stack += fmt::format(", flatness: {{amplitude: {:.6g} um, lobes: {}}}", *spread(1, 500), *count(1, 4));
    }
    for (const char* side : {"head_side", "nut_side"}) {
      if (*chance(painted)) {
        ++layers;
        stack += fmt::format(", {}: {}", side, draw_paint_text(out));
      }
    }
    stack += "}\n";
  }
  names.emplace_back("nut");
  out.note(layers == 0, "bare");
  out.note(layers >= 10, "10 to 20 coats");
  out.note(coupled, "coupled");
  out.note(coupled && wavy, "wavy discs");
  out.note(creeps, "metal that creeps");

  const double face_friction = *chance(0.15) ? *spread(0.005, 0.05) : *between(0.08, 0.5);
  std::string interfaces =
      fmt::format("default: {{embedding: {:.6g} um, friction: {:.4g}, tangential_compliance: {:.6g} m/N, wear: {:.6g} "
                  "1/Pa, contact_compliance: {:.6g} m/N}}",
                  *between(0, 10), face_friction, *spread(1e-11, 1e-9), *chance(0.7) ? *spread(1e-18, 1e-14) : 0,
                  *chance(0.4) ? *spread(1e-12, 1e-9) : 0);
  if (*chance(0.2)) {
    out.note(true, "unseated part");
    const std::size_t k = *count(0, parts);
    interfaces += fmt::format(", \"{} | {}\": {{unseated: {:.6g} um}}", names[k], names[k + 1], *spread(1, 400));
  }

  // How it is tightened: by a share of the proof stress, were all friction 0.12.
  const std::size_t wrench = *count(0, 9);
  const double share = wrench == 0 ? *spread(0.005, 0.15) : wrench == 1 ? *between(0.95, 1.5) : *between(0.3, 0.85);
  out.note(wrench == 0, "hardly tightened");
  out.note(wrench == 1, "overtightened");
  const bool strong = *chance(0.6);
  const double area = kPi / 4 * std::pow(d - 0.9382 * thread.pitch, 2);
  const double clamp = share * (strong ? 830 : 600) * area; // N
  const bool greased = *chance(0.2);
  out.note(greased, "bad friction");
  const auto friction = [&] { return greased ? *spread(0.02, 0.6) : *between(0.09, 0.16); };
  const bool uneven = *chance(0.5);
  const auto torque = [&] {
    const double base = clamp * 1e-3 * (0.159 * thread.pitch + 0.12 * (0.577 * 0.95 * d + 0.65 * d));
    return fmt::format("{:.6g} N*m", std::max(10.0, base * *between(uneven ? 0.5 : 1, 1)));
  };

  const double rolling = *between(0.3, 0.6);
  const bool reciprocating = *chance(0.15);
  out.note(reciprocating, "reciprocating");
  std::string& t = out.text;
  t = fmt::format("schema: 1\ntitle: A drawn joint\njoint:\n  studs: {{count: {}, bolt_circle: {:.6g} mm, thread: {}, "
                  "property_class: \"{}\", material: alloy steel, shank: {:.6g} mm}}\n",
                  n, circle, thread.name, strong ? "10.9" : "8.8", *chance(0.3) ? grip * *between(0, 0.9) : 0);
  t += fmt::format("  head: {{bearing_diameter: {:.6g} mm}}\n  nut: {{{}}}\n", head, nut);
  if (*chance(0.7)) {
    t += fmt::format("  pilot: {{clearance: {:.6g} mm}}\n", *spread(0.05, 3));
  }
  t += "  stack:\n" + stack;
  t += fmt::format("  interfaces: {{{}}}\n  thread_contact: {{embedding: {:.6g} um}}\n", interfaces, *between(0, 8));
  if (coupled) {
    t += fmt::format("  ring_coupling: {{active: true, factor: {:.6g}}}\n", *spread(0.1, 100));
  }
  if (*chance(0.3)) {
    t += fmt::format("  cone: {:.6g} deg\n", *between(15, 40));
  }
  const std::string torques = each_stud(n, uneven, torque);
  const std::string thread_friction =
      each_stud(n, greased || *chance(0.3), [&] { return fmt::format("{:.4g}", friction()); });
  const std::string bearing_friction =
      each_stud(n, greased || *chance(0.3), [&] { return fmt::format("{:.4g}", friction()); });
  t += fmt::format("tightening: {{torque: {}, friction: {{thread: {}, bearing: {}, breakaway: {:.4g}}}, passes: {}, "
                   "pause: {:.4g} s, temperature: {:.4g} degC}}\n",
                   torques, thread_friction, bearing_friction, *between(1, 1.4),
                   *chance(0.5) ? "[1.0]" : "[0.3, 0.7, 1.0]", *chance(0.4) ? *spread(1, 600) : 0,
                   *chance(0.6) ? 20 : *between(-20, 45));
  t += fmt::format("vehicle: {{mass: {:.6g} t, wheel_ends: 6, driven_ends: {}, load: {:.6g} kN, rolling_radius: {:.4g} "
                   "m, load_offset: {:.4g} mm, dynamic_factor: {:.4g}, brake_share: {:.4g}, lateral_share: {:.4g}}}\n",
                   *between(5, 40), *chance(0.5) ? 4 : 0, *spread(8, 90), rolling, *between(-150, 150),
                   *between(1, 2.5), *between(0.3, 1), *chance(0.5) ? *between(0, 0.4) : 0);
  t += "heat: " + heat.text + "\n";
  Day day(heat.capacity);
  day.draw(out);
  t += fmt::format("duty:\n  ambient: {{mean: {:.4g} degC, daily_swing: {:.4g} K, yearly_swing: {:.4g} K}}\n  day: {}\n"
                   "  calendar: {{working_days_per_week: {}, weeks: 1, start_day: {}}}\n",
                   *between(-25, 35), *between(0, 10), *between(0, 15), day.text(), *count(0, 3), *count(1, 366));
  t += fmt::format("loosening: {{motion: {}}}\n", reciprocating ? "reciprocating" : "rotating");
  std::vector<std::string> acts;
  if (*chance(0.25)) {
    out.note(true, "retorque");
    for (std::size_t k = *count(1, 2); k > 0; --k) {
      acts.push_back(
          fmt::format("{{retorque: {{after: {}{}}}}}", after(), *chance(0.3) ? ", torque: " + torque() : ""));
    }
  }
  if (*chance(0.2)) {
    out.note(true, "nuts taken off");
    for (std::size_t k = *count(1, 3); k > 0; --k) {
      acts.push_back(fmt::format("{{remove_nut: {{after: {}, stud: {}}}}}", after(), *count(1, n)));
    }
  }
  if (*chance(0.1)) {
    out.note(true, "hot day");
    acts.push_back(fmt::format("{{hot_day: {{after: {}, extra_power: {:.4g} W}}}}", after(), *spread(100, 5000)));
  }
  if (!acts.empty()) {
    t += fmt::format("service: [{}]\n", fmt::join(acts, ", "));
  }
  const double tolerance = *spread(1e-6, 1e-3);
  const bool every = *chance(0.2);
  out.note(every, "every-stop");
  out.note(tolerance > 1e-4, "loose tolerance");
  t += fmt::format("solution: {{resolution: {}, tolerance: {:.6g}}}\n", every ? "every-stop" : "envelope", tolerance);
  t += fmt::format("record: {{every: {:.6g} h{}}}\n", *spread(0.5, 30), *chance(0.3) ? ", at: [7 min, 11 km]" : "");
  return out;
}

} // namespace drawn

/// Joints and duties to the edge of what is legal.
inline rc::Gen<DrawnText> texts() { return rc::gen::exec(drawn::draw_text); }

} // namespace clampfade::test

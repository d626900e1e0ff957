#include "solver/io/resolved.hpp"

#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace clampfade {

namespace {

std::string digits(double v) {
  std::string s = fmt::format("{:.17g}", v);
  return s;
}

/// A value in its SI unit; pure numbers without one.
std::string si(double v, std::string_view unit) {
  return unit == "1" || unit.empty() ? digits(v) : digits(v) + ' ' + std::string(unit);
}

class Writer {
public:
  /// key: value, at the present indentation.
  void line(std::string_view key, const std::string& value) {
    out_ += indent() + std::string(key) + ": " + value + '\n';
  }
  void value(std::string_view key, double v, std::string_view unit) { line(key, si(v, unit)); }
  void value(std::string_view key, const std::optional<double>& v, std::string_view unit) {
    if (v) {
      value(key, *v, unit);
    }
  }
  void text(std::string_view key, std::string_view t) { line(key, yaml_text(t)); }
  /// Opens a map under `key`; the next lines are its keys.
  void open(std::string_view key) {
    out_ += indent() + std::string(key) + ":\n";
    ++depth_;
  }
  /// Opens an entry of a list; its first line carries the dash.
  void dash() {
    dash_ = true;
    ++depth_;
  }
  void close() { --depth_; }
  /// A text of several lines.
  void block(std::string_view key, const std::string& lines) {
    out_ += indent() + std::string(key) + ": |\n";
    ++depth_;
    std::string_view rest = lines;
    while (!rest.empty()) {
      const std::size_t end = rest.find('\n');
      out_ += indent() + std::string(rest.substr(0, end)) + '\n';
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    }
    --depth_;
  }
  template <class T>
  void fields(const T& source) {
    for (const Field<T>& f : T::fields()) {
      if (const auto* number = std::get_if<double T::*>(&f.member)) {
        value(f.spec.key, source.*(*number), f.spec.unit);
      } else if (const auto* count = std::get_if<std::size_t T::*>(&f.member)) {
        line(f.spec.key, std::to_string(source.*(*count)));
      } else if (const Table& t = source.*std::get<Table T::*>(f.member); !t.empty()) {
        table(f.spec.key, t, "K", f.spec.unit);
      }
    }
  }
  void table(std::string_view key, const Table& t, std::string_view x_unit, std::string_view unit) {
    if (t.constant() && t.points().front().first == 0) {
      value(key, t.points().front().second, unit);
      return;
    }
    std::string row;
    for (const auto& [x, y] : t.points()) {
      row += (row.empty() ? "[" : ", [") + si(x, x_unit) + ", " + si(y, unit) + ']';
    }
    line(key, '[' + row + ']');
  }
  /// One value where all are the same, else a list.
  void list(std::string_view key, const std::vector<double>& values, std::string_view unit) {
    if (!values.empty() && std::all_of(values.begin(), values.end(), [&](double v) { return v == values.front(); })) {
      value(key, values.front(), unit);
      return;
    }
    items(key, values, unit);
  }
  void items(std::string_view key, const std::vector<double>& values, std::string_view unit) {
    std::string row;
    for (double v : values) {
      row += (row.empty() ? "" : ", ") + si(v, unit);
    }
    line(key, '[' + row + ']');
  }
  [[nodiscard]] const std::string& result() const { return out_; }

private:
  std::string out_;
  int depth_ = 0;
  bool dash_ = false;

  std::string indent() {
    std::string spaces(static_cast<std::size_t>(2 * depth_), ' ');
    if (dash_) {
      spaces.replace(spaces.size() - 2, 2, "- ");
      dash_ = false;
    }
    return spaces;
  }
};

void write_catalogue(Writer& w, const std::vector<UsedEntry>& entries) {
  w.open("catalogue");
  for (const std::string_view kind :
       {"threads", "property_classes", "materials", "coatings", "heat_networks", "tools"}) {
    bool opened = false;
    for (const UsedEntry& e : entries) {
      if (e.kind != kind) {
        continue;
      }
      if (!opened) {
        w.open(kind);
        opened = true;
      }
      std::string body = flow_text(*e.item);
      body.pop_back();
      if (e.item->find("source") == nullptr) {
        body += ", source: " + yaml_text(e.source);
      }
      if (e.item->find("provenance") == nullptr) {
        body += ", provenance: " + yaml_text(e.provenance);
      }
      w.line(yaml_text(e.name), body + '}');
    }
    if (opened) {
      w.close();
    }
  }
  w.close();
}

void write_face(Writer& w, std::string_view side, const std::optional<FaceCoating>& face) {
  if (face) {
    w.open(side);
    w.text("coating", face->coating.name);
    w.value("thickness", face->thickness, "m");
    w.close();
  }
}

void write_joint(Writer& w, const Scenario& s) {
  const JointSpec& j = s.joint;
  w.open("joint");
  w.open("studs");
  w.line("count", std::to_string(j.studs.count));
  w.value("bolt_circle", j.studs.bolt_circle, "m");
  w.text("thread", j.studs.thread.name);
  w.text("property_class", j.studs.property_class.name);
  w.text("material", j.studs.material.name);
  w.value("shank", j.studs.shank, "m");
  std::string nodes;
  for (const std::string& n : j.studs.nodes) {
    nodes += (nodes.empty() ? "" : ", ") + yaml_text(n);
  }
  w.line("node", '[' + nodes + ']');
  w.close();
  w.open("head");
  w.value("bearing_diameter", j.head_bearing, "m");
  w.close();
  w.open("nut");
  const auto ring = [&](std::string_view key, double outer, double inner) {
    w.open(key);
    w.value("outer", outer, "m");
    w.value("inner", inner, "m");
    w.close();
  };
  ring("bearing", j.nut.bearing_outer, j.nut.bearing_inner);
  ring("seat", j.nut.seat_outer, j.nut.seat_inner);
  w.value("prevailing_torque", j.nut.prevailing_torque, "N m");
  if (j.nut.sleeve) {
    w.open("sleeve");
    w.value("outer", *j.nut.sleeve, "m");
    w.close();
  }
  if (j.nut.spring_washers) {
    w.open("spring_washers");
    w.fields(*j.nut.spring_washers);
    w.text("material", j.nut.spring_washers->material.name);
    w.close();
  }
  w.close();
  if (j.pilot_clearance) {
    w.open("pilot");
    w.value("clearance", *j.pilot_clearance, "m");
    w.close();
  }
  w.open("stack");
  for (const PartSpec& p : j.stack) {
    w.dash();
    w.text("part", p.name);
    w.line("wheel", p.wheel ? "true" : "false");
    w.text("material", p.material.name);
    w.fields(p);
    w.text("node", p.node);
    if (p.flatness) {
      w.open("flatness");
      w.fields(*p.flatness);
      w.close();
    }
    write_face(w, "head_side", p.head_side);
    write_face(w, "nut_side", p.nut_side);
    w.close();
  }
  w.close();
  w.open("interfaces");
  for (const InterfaceSpec& i : j.interfaces) {
    w.open(yaml_text(i.name));
    w.fields(i);
    if (i.carries_radial || i.carries_brake || i.carries_traction) {
      w.open("carries");
      w.value("radial", i.carries_radial, "1");
      w.value("brake", i.carries_brake, "1");
      w.value("traction", i.carries_traction, "1");
      w.close();
    }
    w.close();
  }
  w.close();
  w.open("thread_contact");
  w.value("embedding", j.thread_embedding, "m");
  w.close();
  w.open("ring_coupling");
  w.line("active", j.ring.active ? "true" : "false");
  w.value("width", j.ring.width, "m");
  w.value("factor", j.ring.factor, "1");
  w.close();
  w.line("cone", j.cone_angle ? si(*j.cone_angle, "rad") : "proportions");
  w.value("load_introduction", j.load_introduction, "1");
  w.value("required_clamp", s.required_clamp, "N");
  w.value("required_slip_margin", s.required_slip_margin, "1");
  if (s.design_cases.empty()) {
    w.line("design_cases", "[]");
  } else {
    w.open("design_cases");
    for (const DesignCase& d : s.design_cases) {
      w.dash();
      w.text("name", d.name);
      w.value("deceleration", d.deceleration, "m/s^2");
      w.value("lateral_share", d.lateral_share, "1");
      w.value("dynamic_factor", d.dynamic_factor, "1");
      w.close();
    }
    w.close();
  }
  w.close();
}

void write_tightening(Writer& w, const Scenario& s) {
  const TighteningSpec& t = s.tightening;
  w.open("tightening");
  w.list("torque", t.torque, "N m");
  w.open("friction");
  w.list("thread", t.thread_friction, "1");
  w.list("bearing", t.bearing_friction, "1");
  w.table("breakaway", t.breakaway, "s", "1");
  w.close();
  w.items("passes", t.passes, "1");
  std::string order;
  for (const std::size_t stud : t.order) {
    order += (order.empty() ? "" : ", ") + std::to_string(stud + 1);
  }
  w.line("order", '[' + order + ']');
  w.value("pause", t.pause, "s");
  w.value("temperature", t.temperature, "K");
  if (!s.records.empty()) {
    std::string rows = "stud,torque,torque_unit,angle_rad,time,tool,operator,vehicle,axle,wheel\n";
    for (const TighteningRecord& r : s.records) {
      rows += fmt::format("{},{},N m,{}", r.stud + 1, digits(r.torque), r.angle ? digits(*r.angle) : "");
      for (const std::string* cell : {&r.time, &r.tool, &r.operator_name, &r.vehicle, &r.axle, &r.wheel}) {
        rows += ',' + csv_cell(*cell);
      }
      rows += '\n';
    }
    w.open("records");
    w.block("rows", rows);
    w.close();
  }
  w.close();
}

void write_trace(Writer& w, const TraceStep& t) {
  if (!t.file.empty()) {
    w.text("file", t.file);
  }
  std::string rows = "time [s],speed [m/s],grade [-]\n";
  for (std::size_t i = 0; i < t.time.size(); ++i) {
    rows += digits(t.time[i]) + ',' + digits(t.speed[i]) + ',' + digits(t.grade[i]) + '\n';
  }
  w.block("points", rows);
}

void write_duty(Writer& w, const DutySpec& duty) {
  w.open("duty");
  w.open("ambient");
  w.fields(duty.ambient);
  w.close();
  w.open("day");
  for (const DayStep& step : duty.day) {
    constexpr std::array<std::string_view, 5> names = {"park", "drive", "round", "drag", "trace"};
    w.dash();
    w.open(names[step.what.index()]);
    std::visit(
        [&](const auto& what) {
          if constexpr (std::is_same_v<std::decay_t<decltype(what)>, TraceStep>) {
            write_trace(w, what);
          } else {
            w.fields(what);
          }
        },
        step.what);
    if (step.load.mass_start && step.load.mass_end) {
      w.items("mass", {*step.load.mass_start, *step.load.mass_end}, "kg");
    }
    w.value("lateral_share", step.load.lateral_share, "1");
    w.close();
    w.close();
  }
  w.close();
  w.open("calendar");
  w.fields(duty.calendar);
  w.close();
  w.close();
}

std::string when_text(const When& when) { return si(when.value, when.kind == When::Kind::Time ? "s" : "m"); }

void write_service(Writer& w, const std::vector<Service>& list) {
  if (list.empty()) {
    return;
  }
  w.open("service");
  for (const Service& s : list) {
    w.dash();
    w.open(s.kind == Service::Kind::Retorque    ? "retorque"
           : s.kind == Service::Kind::RemoveNut ? "remove_nut"
                                                : "hot_day");
    w.line("after", when_text(s.after));
    if (s.kind == Service::Kind::Retorque) {
      w.value("torque", s.torque, "N m");
    } else if (s.kind == Service::Kind::RemoveNut) {
      w.line("stud", std::to_string(s.stud + 1));
    } else {
      w.value("extra_power", s.extra_power, "W");
    }
    w.close();
    w.close();
  }
  w.close();
}

} // namespace

std::string resolved_text(const Scenario& s, const std::vector<UsedEntry>& entries) {
  Writer w;
  w.line("schema", "1");
  w.text("title", s.title);
  write_catalogue(w, entries);
  write_joint(w, s);
  write_tightening(w, s);
  w.open("vehicle");
  w.fields(s.vehicle);
  w.close();
  w.open("heat");
  w.text("network", s.heat.name);
  w.close();
  write_duty(w, s.duty);
  w.open("loosening");
  w.line("motion", s.loosening == Motion::Rotating ? "rotating" : "reciprocating");
  w.close();
  write_service(w, s.service);
  w.open("solution");
  w.line("resolution", s.resolution == Resolution::EveryStop ? "every-stop" : "envelope");
  w.value("tolerance", s.tolerance, "1");
  w.close();
  w.open("record");
  w.value("every", s.record.every, "s");
  std::string at;
  for (const When& when : s.record.at) {
    at += (at.empty() ? "" : ", ") + when_text(when);
  }
  w.line("at", '[' + at + ']');
  w.line("layers", s.record.layers ? "true" : "false");
  w.close();
  return w.result();
}

} // namespace clampfade

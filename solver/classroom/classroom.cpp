#include "solver/classroom/classroom.hpp"

#include "models/units.hpp"
#include "solver/classroom/values.hpp"
#include "solver/design.hpp"
#include "solver/diagnostics.hpp"
#include "solver/simulation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace clampfade {

namespace {

namespace values = classroom_values;

constexpr double kSameInstant = 1e-6; // s
constexpr std::size_t kStuds = 10;
constexpr double kLongest = 52 * units::kWeek;

/// Instants that show how the first day begins, beside those at even distance [s].
constexpr double kFirst[] = {1, 10, 60, 300};

/// Records stand closely at first and further apart later: finer than a chart shows only costs time. That they stand
/// where they do whatever the end is, makes the hottest of them never cooler for driving on. [until, interval] in s
constexpr double kIntervals[][2] = {
    {units::kDay, 1800}, {2 * units::kDay, 3600}, {units::kWeek, 2 * 3600.0}, {4 * units::kWeek, 12 * 3600.0}};

/// After that noon and midnight in turn: the wheel warm and cold [s].
constexpr double kLater = 36 * 3600.0;

RecordSpec records(double end) {
  RecordSpec r;
  const auto at = [&](double t) { r.at.push_back({When::Kind::Time, t}); };
  for (const double t : kFirst) {
    at(t);
  }
  double t = 0;
  for (const auto& [until, interval] : kIntervals) {
    for (; t < until && t < end; t += interval) {
      at(t);
    }
  }
  r.every = kLater;
  return r;
}

double last_moment(const ClassroomSettings& s) {
  double last = s.end;
  for (const ClassroomAct& a : s.acts) {
    last = std::max(last, a.time);
  }
  return last;
}

JointSpec joint(const ClassroomSettings& s) {
  JointSpec j;
  j.studs.count = kStuds;
  j.studs.bolt_circle = 285.75e-3;
  j.studs.thread = values::thread();
  j.studs.property_class = values::property_class();
  j.studs.material = values::alloy_steel();
  j.studs.shank = 0;
  j.studs.nodes = {"hub", "outer disc"};
  j.head_bearing = 38e-3;
  j.nut.bearing_outer = 36e-3;
  j.nut.bearing_inner = 24e-3;
  j.nut.seat_outer = 46e-3;
  j.nut.seat_inner = 25e-3;
  if (s.spring_washers) {
    // The washers take the place of the nut's flange.
    j.nut.seat_outer = j.nut.bearing_outer;
    j.nut.seat_inner = j.nut.bearing_inner;
    j.nut.spring_washers = values::washers();
  }
  if (s.sleeve) {
    j.nut.sleeve = 25.94e-3; // scenarios/sleeve-self-loosening.yaml
  }
  j.pilot_clearance = s.pilot_clearance;

  j.stack.resize(4);
  j.stack[0] = {"hub flange", false, values::ductile_iron(), 20e-3, 24e-3, 75e-3, "hub", {}, {}, {}};
  j.stack[1] = {"drum flange", false, values::grey_iron(), 12e-3, 24e-3, 75e-3, "hub", {}, {}, {}};
  const bool steel = s.wheel == ClassroomWheel::Steel;
  const Material disc = steel ? values::wheel_steel() : values::forged_aluminium();
  std::optional<FaceCoating> face;
  if (s.paint != ClassroomPaint::Bare && s.paint_thickness > 0) {
    face = FaceCoating{s.paint == ClassroomPaint::Primer          ? values::primer()
                       : s.paint == ClassroomPaint::Thermoplastic ? values::thermoplastic()
                                                                  : values::cross_linked(),
                       s.paint_thickness};
  }
  j.stack[2] = {"inner disc", true, disc, s.disc_thickness, 26e-3, 75e-3, "inner disc", {}, face, face};
  j.stack[3] = {"outer disc", true, disc, s.disc_thickness, 26e-3, 75e-3, "outer disc", {}, face, face};
  if (steel && s.coupled) {
    j.stack[2].flatness = Flatness{0.1e-3, 2}; // a slight saddle, to be pulled flat by the studs
  }
  if (s.spacer > 0) {
    // scenarios/aluminium-solid-spacer.yaml: a ring of the washers' width.
    j.stack.push_back({"spacer", false, values::alloy_steel(), s.spacer, 25e-3, 50e-3, "outer disc", {}, {}, {}});
  }

  for (std::size_t i = 0; i <= j.stack.size(); ++i) {
    InterfaceSpec face_pair;
    face_pair.name = (i == 0 ? "head" : j.stack[i - 1].name) + " | " + (i == j.stack.size() ? "nut" : j.stack[i].name);
    // The spacer's extra pair of faces is left out, so that only the length of the stud differs.
    const bool still = i == 0 || (s.spacer > 0 && i == j.stack.size());
    face_pair.embedding = still ? 0 : 3e-6;
    face_pair.friction = 0.15;
    face_pair.tangential_compliance = 1e-10;
    face_pair.wear = 1e-16;
    if (i == 1) {
      // The drum is braked, so brake torque reaches the wheel from the drum and does not cross the hub's face.
      face_pair.carries_radial = 1;
      face_pair.carries_brake = 0;
      face_pair.carries_traction = 1;
    }
    j.interfaces.push_back(std::move(face_pair));
  }
  j.thread_embedding = 3e-6;
  j.ring.active = s.coupled;
  j.ring.width = 75e-3;
  j.ring.factor = 10;
  return j;
}

DayStep park(double until) { return {ParkStep{until}, {}}; }

std::vector<DayStep> day(const ClassroomSettings& s) {
  constexpr double kEmpty = 17000; // kg
  constexpr double kRoad = 60 / 3.6;
  std::vector<DayStep> steps;
  if (s.route == ClassroomRoute::Parked) {
    steps.push_back(park(units::kDay));
    return steps;
  }
  steps.push_back(park(5 * units::kHour));
  if (s.route == ClassroomRoute::Highway) {
    // Far and fast with a long hill in the middle, braked half by the service brakes. Invented.
    steps.push_back({DriveStep{200e3, 80 / 3.6, 0, 0}, {s.full_mass, s.full_mass, {}}});
    steps.push_back({DriveStep{8e3, kRoad, -0.04, 0.5}, {s.full_mass, s.full_mass, {}}});
    steps.push_back({DriveStep{200e3, 80 / 3.6, 0, 0}, {s.full_mass, s.full_mass, {}}});
  } else {
    steps.push_back({DriveStep{14e3, kRoad, 0, 0}, {kEmpty, kEmpty, {}}});
    if (s.stops > 0) {
      steps.push_back({RoundStep{s.stops, 45, 24 / 3.6, 0.8, 1.2, 19}, {kEmpty, s.full_mass, {}}});
    }
    steps.push_back({DriveStep{14e3, kRoad, -0.03, 0.4}, {}});
    steps.back().load.mass_start = steps.back().load.mass_end = s.full_mass;
  }
  steps.push_back(park(units::kDay));
  return steps;
}

double figure(const RunHeader& header, const std::string& name) {
  for (const Figure& f : header.joint) {
    if (f.name == name && f.values.size() == 1) {
      return f.values.front();
    }
  }
  return 0;
}

} // namespace

void check(const ClassroomSettings& s) {
  std::vector<Diagnostic> faults;
  const auto fault = [&](const char* path, std::string found, std::string allowed) {
    Diagnostic d;
    d.code = Code::OutOfRange;
    d.path = path;
    d.found = std::move(found);
    d.allowed = std::move(allowed);
    faults.push_back(std::move(d));
  };
  const auto within = [&](const char* path, double value, double low, double high) {
    if (!(value >= low && value <= high)) {
      fault(path, fmt::format("{:.6g}", value), fmt::format("{:.6g} to {:.6g}, SI units", low, high));
    }
  };
  within("torque", s.torque, 50, 1000);
  within("thread_friction", s.thread_friction, 0.05, 0.3);
  within("bearing_friction", s.bearing_friction, 0.05, 0.3);
  within("paint_thickness", s.paint_thickness, 0, 200e-6);
  within("disc_thickness", s.disc_thickness, 8e-3, 30e-3);
  if (s.spacer != 0) {
    within("spacer", s.spacer, 5e-3, 60e-3);
  }
  within("pilot_clearance", s.pilot_clearance, 0.1e-3, 2e-3);
  within("stops", static_cast<double>(s.stops), 0, 1200);
  within("full_mass", s.full_mass, 17000, 32000);
  within("working_days", static_cast<double>(s.working_days), 1, 7);
  within("start_day", static_cast<double>(s.start_day), 1, 366);
  within("end", s.end, 60, kLongest);
  for (const ClassroomAct& a : s.acts) {
    within("acts/time", a.time, 0, s.end);
    within("acts/stud", static_cast<double>(a.stud), 0, kStuds - 1);
  }
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
}

Scenario classroom_scenario(const ClassroomSettings& s) {
  check(s);
  Scenario c;
  c.title = "Classroom wheel";
  c.joint = joint(s);
  c.design_cases = default_design_cases();
  c.tightening.torque.assign(kStuds, s.torque);
  c.tightening.thread_friction.assign(kStuds, s.thread_friction);
  c.tightening.bearing_friction.assign(kStuds, s.bearing_friction);
  c.tightening.breakaway = Table(1.10);
  c.tightening.passes = {0.4, 0.7, 1.0};
  c.tightening.order = star_order(kStuds);
  c.tightening.pause = s.coupled ? 5 : 0; // alike studs are solved once where nothing tells them apart
  c.tightening.temperature = 293.15;
  c.vehicle.mass = 26e3;
  c.vehicle.wheel_ends = 6;
  c.vehicle.driven_ends = 4;
  c.vehicle.load = 45e3;
  c.vehicle.rolling_radius = 0.50;
  c.vehicle.dynamic_factor = 1.3;
  c.vehicle.brake_share = 0.95;
  c.vehicle.lateral_share = 0.05;
  c.heat = s.wheel == ClassroomWheel::Steel ? values::steel_duals() : values::aluminium_duals();
  c.duty.ambient = {288.15, 8, 10};
  c.duty.day = day(s);
  // A day more than is asked for: an act may have to wait for the next midnight.
  const double last = last_moment(s);
  c.duty.calendar.weeks = static_cast<std::size_t>((last + units::kDay) / units::kWeek) + 1;
  c.duty.calendar.working_days_per_week = s.working_days;
  c.duty.calendar.start_day = s.start_day;
  for (const ClassroomAct& a : s.acts) {
    Service act;
    act.kind = a.kind == ClassroomAct::Kind::Retorque ? Service::Kind::Retorque : Service::Kind::RemoveNut;
    act.after = {When::Kind::Time, a.time};
    act.stud = a.stud;
    c.service.push_back(act);
  }
  c.record = records(last);
  c.record.at.push_back({When::Kind::Time, s.end});
  if (s.spring_washers) {
    c.warnings.emplace_back(
        "spring washers as thick as these press somewhat unlike the formula, which is made for thinner "
        "ones: take what they win as a rough figure");
  }
  return c;
}

/// Keeps the rows, and forgets those that a run goes over again from its checkpoint.
class ClassroomRun::Rows final : public Sink {
public:
  void begin(const RunHeader& h) override { header = h; }
  void act(const ActRow& row) override { acts.push_back(row); }
  void event(const EventRow& row) override { events.push_back(row); }
  void record(const RecordRow& row) override { records.push_back(row); }
  void steps(const StepsRow& /*row*/) override {}
  void checkpoint(const Checkpoint& c) override {
    last = c;
    kept_ = {acts.size(), events.size(), records.size()};
  }
  void end(RunStatus /*status*/, const std::string& /*text*/, const std::vector<std::string>& all) override {
    warnings = all;
  }
  void rewind() {
    acts.resize(kept_[0]);
    events.resize(kept_[1]);
    records.resize(kept_[2]);
  }
  /// When the last of the services asked for was done [s]; 0 before any.
  [[nodiscard]] std::pair<std::size_t, double> served() const {
    std::pair<std::size_t, double> done{0, 0.0};
    for (const EventRow& e : events) {
      if (e.kind == "retorque" || e.kind == "nut removed") {
        done = {done.first + 1, e.time};
      }
    }
    return done;
  }

  RunHeader header;
  std::vector<ActRow> acts;
  std::vector<EventRow> events;
  std::vector<RecordRow> records;
  std::vector<std::string> warnings;
  std::optional<Checkpoint> last;

private:
  std::vector<std::size_t> kept_;
};

ClassroomRun::ClassroomRun(const ClassroomSettings& settings, HeatMemory* memory)
    : settings_(settings), scenario_(classroom_scenario(settings)), memory_(memory), rows_(std::make_unique<Rows>()) {}

ClassroomRun::~ClassroomRun() = default;

bool ClassroomRun::advance(const std::function<bool()>& enough) {
  const double last = last_moment(settings_);
  bool done = false;
  double asked = 0;
  RunOptions options;
  options.checkpoint_every = 3600; // only where a piece ends
  options.heat = memory_;
  options.progress = [&](double time, double) {
    // Asked in the middle of a day too, where stopping would lose it.
    if (time <= lost_ || time != std::floor(time / units::kDay) * units::kDay) {
      return true;
    }
    asked = time;
    done = time >= last - kSameInstant && rows_->served().first == settings_.acts.size();
    return !done && !enough();
  };
  RunStatus status = RunStatus::Running;
  if (!rows_->last) {
    status = run(scenario_, *rows_, options);
  } else {
    rows_->rewind();
    status = resume(scenario_, *rows_->last, *rows_, options);
  }
  if (status == RunStatus::Stopped && rows_->last->time < asked) {
    // The last step of the day asked, and its day is lost: next time it must not stop there.
    lost_ = asked;
    return false;
  }
  return done || status == RunStatus::Complete;
}

ClassroomResult ClassroomRun::result() const {
  const Rows& rows = *rows_;
  ClassroomResult r;
  r.studs = kStuds;
  r.nodes = rows.header.nodes;
  r.layers = rows.header.layers;
  r.required_clamp = figure(rows.header, "required_clamp");
  const Joint joint(scenario_.joint, node_names(scenario_.heat), scenario_.tightening.temperature);
  Requirement need = requirement(scenario_, joint);
  r.cases = std::move(need.cases);
  r.required_margin = scenario_.required_slip_margin;
  // Slip and gap alike go with the share of the load that a stud carries.
  for (std::size_t n = 1; n <= kStuds; ++n) {
    r.required_with.push_back(need.clamp * static_cast<double>(kStuds) / static_cast<double>(n));
  }
  if (scenario_.joint.stack[2].head_side) {
    r.softening = scenario_.joint.stack[2].head_side->coating.glass_transition;
  }
  r.grip_length = figure(rows.header, "grip_length");
  r.clamp_per_thickness = figure(rows.header, "stiffness/clamp_per_thickness");
  r.stud_resilience = figure(rows.header, "stiffness/stud_resilience");
  r.total_resilience = figure(rows.header, "stiffness/total_resilience");
  r.yield_load = figure(rows.header, "thread/yield_load");
  r.slip_threshold = figure(rows.header, "slip/threshold");
  r.clearance = figure(rows.header, "clearance");
  const double shown = std::max(settings_.end, rows.served().second) + kSameInstant;
  const auto append = [](std::vector<double>& to, const std::vector<double>& from) {
    to.insert(to.end(), from.begin(), from.end());
  };
  for (const RecordRow& row : rows.records) {
    if (row.time > shown) {
      break;
    }
    r.time.push_back(row.time);
    r.distance.push_back(row.distance);
    append(r.clamp, row.clamp);
    append(r.cold, row.clamp_cold);
    append(r.cost, row.loss_clamp);
    append(r.loss, row.loss);
    append(r.gain, row.retorque_gain);
    append(r.temperature, row.temperature);
    r.slip_margin.push_back(row.slip_margin);
    append(r.films, row.layer_thickness);
  }
  std::copy_if(rows.acts.begin(), rows.acts.end(), std::back_inserter(r.acts),
               [&](const ActRow& a) { return a.time <= shown; });
  std::copy_if(rows.events.begin(), rows.events.end(), std::back_inserter(r.events),
               [&](const EventRow& e) { return e.time <= shown; });
  r.warnings = concerns(scenario_);
  r.warnings.insert(r.warnings.end(), scenario_.warnings.begin(), scenario_.warnings.end());
  return r;
}

ClassroomResult run_classroom(const ClassroomSettings& settings, HeatMemory* memory) {
  ClassroomRun whole(settings, memory);
  while (!whole.advance([] { return false; })) {
  }
  return whole.result();
}

} // namespace clampfade

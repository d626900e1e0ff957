// The wheel of the classroom page: the same as the scenarios it stands for, and every control turns the right way.
#include "models/elliptic.hpp"
#include "solver/classroom/classroom.hpp"
#include "solver/classroom/json.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/scenario.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/memory_sink.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

using namespace clampfade;
using test::close;

namespace {

constexpr double kDay = units::kDay;

/// Two days and two hours of the default wheel, alike studs solved once: quick, and all mechanisms at work.
ClassroomSettings quick() {
  ClassroomSettings s;
  s.end = 2 * kDay;
  s.coupled = false;
  return s;
}

/// Cold clamp of a stud at the last record [N].
double last_cold(const ClassroomResult& r, std::size_t stud = 0) { return r.cold[r.cold.size() - r.studs + stud]; }

/// Share of its first cold clamp that a stud has left [-].
double left(const ClassroomSettings& s) {
  const ClassroomResult r = run_classroom(s);
  return last_cold(r) / r.cold.front();
}

bool has_event(const ClassroomResult& r, const std::string& kind) {
  return std::any_of(r.events.begin(), r.events.end(), [&](const EventRow& e) { return e.kind == kind; });
}

/// Records that two runs of the same instants have in common must be equal.
void compare(const std::string& file, ClassroomSettings settings) {
  CAPTURE(file);
  settings.end = 3 * kDay;
  Scenario yaml = read_scenario(std::string(CLAMPFADE_SOURCE) + "/scenarios/" + file);
  const Scenario own = classroom_scenario(settings);
  yaml.duty.calendar.weeks = own.duty.calendar.weeks;
  yaml.record = own.record;
  test::MemorySink a;
  test::MemorySink b;
  run(yaml, a);
  run(own, b);
  REQUIRE(a.records.size() == b.records.size());
  REQUIRE(a.records.size() > 50);
  double apart = 0;
  double heat = 0;
  for (std::size_t i = 0; i < a.records.size(); ++i) {
    REQUIRE(a.records[i].time == close(b.records[i].time, 1e-6, 0));
    for (std::size_t k = 0; k < 10; ++k) {
      apart = std::max(apart, std::abs(a.records[i].clamp[k] - b.records[i].clamp[k]));
      apart = std::max(apart, std::abs(a.records[i].clamp_cold[k] - b.records[i].clamp_cold[k]));
    }
    for (std::size_t n = 0; n < a.records[i].temperature.size(); ++n) {
      heat = std::max(heat, std::abs(a.records[i].temperature[n] - b.records[i].temperature[n]));
    }
  }
  CHECK(apart <= 1e-12 * a.records.front().clamp_cold.front());
  CHECK(heat <= 1e-9);
  CHECK(a.figure("required_clamp").values.front() == close(b.figure("required_clamp").values.front(), 0, 1e-12));
}

} // namespace

TEST_CASE("classroom: the wheel is that of the shipped scenarios with the same values") {
  const double torque = 475 * units::kPoundForceFoot;
  ClassroomSettings s;
  s.torque = torque;
  compare("painted-steel-duals.yaml", s);
  s.paint = ClassroomPaint::CrossLinked;
  compare("painted-steel-duals-cross-linked.yaml", s);
  s.paint = ClassroomPaint::Bare;
  compare("bare-steel-duals.yaml", s);
  s.wheel = ClassroomWheel::Aluminium;
  s.disc_thickness = 22e-3;
  compare("aluminium-solid-nut.yaml", s);
  s.spring_washers = true;
  compare("aluminium-spring-washers.yaml", s);
  s.spring_washers = false;
  s.spacer = 24.6e-3;
  compare("aluminium-solid-spacer.yaml", s);
}

TEST_CASE("classroom: the primer is that of the catalogue") {
  // No shipped scenario wears it: the painted one with its coating taken from the catalogue.
  ClassroomSettings s = quick();
  s.paint = ClassroomPaint::Primer;
  s.paint_thickness = 25e-6;
  const Coating own = classroom_scenario(s).joint.stack[2].head_side->coating;
  std::string text = scenario_file_text(std::string(CLAMPFADE_SOURCE) + "/scenarios/painted-steel-duals.yaml", {});
  for (std::size_t at = 0; (at = text.find("thermoplastic topcoat", at)) != std::string::npos;) {
    text.replace(at, std::string("thermoplastic topcoat").size(), "electrodeposition primer");
  }
  const Coating other = read_scenario_text(text, "primer.yaml").joint.stack[2].head_side->coating;
  CHECK(own.name == other.name);
  CHECK_FALSE(own.flow.has_value());
  REQUIRE(other.breakdown.has_value());
  for (const double t : {250.0, 300.0, 360.0, 420.0, 500.0}) {
    CHECK(own.log10_shift(t) == close(other.log10_shift(t), 0, 1e-12));
    CHECK(own.compactable(t) == close(other.compactable(t), 0, 1e-12));
    CHECK(own.breakdown_rate(t) == close(other.breakdown_rate(t), 0, 1e-12));
  }
  CHECK(own.pigment == close(other.pigment, 0, 1e-15));
  CHECK(own.modulus == close(other.modulus, 0, 1e-15));
}

TEST_CASE("classroom: every control turns the right way") {
  const ClassroomSettings base = quick();
  const double usual = left(base);
  CHECK(usual < 0.95);

  SUBCASE("more torque, more clamp, and more friction, less") {
    ClassroomSettings s = base;
    const double first = run_classroom(base).cold.front();
    s.torque *= 1.2;
    CHECK(run_classroom(s).cold.front() == close(1.2 * first, 0, 1e-3));
    s = base;
    s.thread_friction = 0.16;
    CHECK(run_classroom(s).cold.front() < 0.95 * first);
    s = base;
    s.bearing_friction = 0.16;
    CHECK(run_classroom(s).cold.front() < 0.95 * first);
  }
  SUBCASE("more paint loses more, none loses least, cross-linked paint stops") {
    ClassroomSettings s = base;
    s.paint_thickness = 120e-6;
    CHECK(left(s) < usual - 0.01);
    s.paint_thickness = 0;
    CHECK(left(s) > usual + 0.05);
    const double bare = left(s);
    s = base;
    s.paint = ClassroomPaint::Primer;
    s.paint_thickness = 25e-6;
    CHECK(left(s) < bare);
    CHECK(left(s) > usual);
  }
  SUBCASE("a longer grip keeps a larger share") {
    ClassroomSettings s = base;
    s.spacer = 40e-3;
    CHECK(left(s) > usual + 0.01);
    s.spacer = 0;
    s.disc_thickness = 20e-3;
    CHECK(left(s) > usual);
  }
  SUBCASE("spring washers keep a larger share") {
    ClassroomSettings s = base;
    s.spring_washers = true;
    CHECK(left(s) > usual + 0.01);
  }
  SUBCASE("hotter brakes lose more, and a parked wheel loses least") {
    ClassroomSettings s = base;
    s.stops = 1000;
    CHECK(left(s) < usual - 0.005);
    s = base;
    s.full_mass = 32000;
    CHECK(left(s) < usual - 0.001);
    s = base;
    s.route = ClassroomRoute::Highway;
    const double highway = left(s);
    CHECK(highway > usual);
    s.route = ClassroomRoute::Parked;
    CHECK(left(s) > highway);
  }
  SUBCASE("it goes on") {
    ClassroomSettings s = base;
    s.end = 14 * kDay;
    CHECK(left(s) < usual - 0.02);
  }
  SUBCASE("a weekend is no working day") {
    ClassroomSettings s = base;
    s.end = 7 * kDay;
    const double five = run_classroom(s).distance.back();
    s.working_days = 7;
    CHECK(run_classroom(s).distance.back() == close(1.4 * five, 0, 1e-9));
  }
}

TEST_CASE("classroom: a retorque gives back what was lost, and the second loss is smaller") {
  ClassroomSettings s = quick();
  s.end = 9 * kDay;
  const ClassroomResult never = run_classroom(s);
  s.acts = {{ClassroomAct::Kind::Retorque, 2 * kDay, 0}};
  const ClassroomResult once = run_classroom(s);
  CHECK(last_cold(once) > last_cold(never) + 10e3);
  CHECK(once.gain.back() > 10e3);
  CHECK(has_event(once, "retorque"));
  // The week after the retorque against the same length of time after tightening.
  const double first = never.cold.front();
  double after = 0;
  double week = 0;
  for (std::size_t i = 0; i < once.time.size(); ++i) {
    after = once.time[i] <= 2 * kDay + 1 ? once.cold[i * 10] : after;
  }
  for (std::size_t i = 0; i < never.time.size(); ++i) {
    week = never.time[i] <= 7 * kDay + 1 ? never.cold[i * 10] : week;
  }
  CHECK(after == close(first, 0, 0.1));
  CHECK(after - last_cold(once) < 0.9 * (first - week));
  CHECK(after - last_cold(once) > 0); // it is not over
}

TEST_CASE("classroom: an act at the very end is waited for") {
  ClassroomSettings s = quick();
  s.end = 10 * units::kHour; // on the round
  s.acts = {{ClassroomAct::Kind::Retorque, s.end, 0}};
  const ClassroomResult r = run_classroom(s);
  REQUIRE(has_event(r, "retorque"));
  CHECK(r.time.back() > s.end);
  CHECK(r.time.back() <= kDay);
  s.acts.clear();
  CHECK(run_classroom(s).time.back() == close(s.end, 1e-6, 0));
}

TEST_CASE("classroom: a nut taken off loads its neighbours and leaves the others") {
  ClassroomSettings s;
  s.paint = ClassroomPaint::Bare;
  s.route = ClassroomRoute::Parked;
  s.end = 1 * kDay;
  s.acts = {{ClassroomAct::Kind::RemoveNut, 12 * units::kHour, 2}};
  const ClassroomResult r = run_classroom(s);
  REQUIRE(has_event(r, "nut removed"));
  const auto at = static_cast<std::size_t>(
      std::find_if(r.events.begin(), r.events.end(), [](const EventRow& e) { return e.kind == "nut removed"; }) -
      r.events.begin());
  CHECK(r.events[at].stud == 2);
  std::size_t before = 0;
  while (r.time[before + 1] < r.events[at].time) {
    ++before;
  }
  const std::size_t after = before + 2; // one record right before the act, one right after
  CHECK(last_cold(r, 2) == 0);
  const auto change = [&](std::size_t stud) { return last_cold(r, stud) - r.cold[before * 10 + stud]; };
  CHECK(change(1) > 100);
  CHECK(change(3) > 100);
  CHECK(std::abs(change(7)) < 0.1 * change(1));
  CHECK(r.time.size() > after);
}

TEST_CASE("classroom: a loose wheel slips and runs its nuts off, a sleeve holds them") {
  ClassroomSettings s = quick();
  s.paint = ClassroomPaint::Bare;
  s.torque = 156; // that of scenarios/self-loosening.yaml
  s.pilot_clearance = 1e-3;
  s.end = kDay;
  const ClassroomResult loose = run_classroom(s);
  CHECK(has_event(loose, "nut free"));
  CHECK(last_cold(loose) == 0);
  s.sleeve = true;
  const ClassroomResult held = run_classroom(s);
  CHECK_FALSE(has_event(held, "nut free"));
  CHECK(last_cold(held) > 0.5 * held.cold.front());
  s.sleeve = false;
  s.torque = 644;
  CHECK_FALSE(has_event(run_classroom(s), "nut free"));
}

TEST_CASE("classroom: pieces and the memory of heat change nothing") {
  ClassroomSettings s;
  s.end = 4 * kDay;
  s.acts = {{ClassroomAct::Kind::Retorque, 1.5 * kDay, 0}};
  const std::string whole = classroom_text(run_classroom(s));
  HeatMemory memory;
  ClassroomRun run(s, &memory);
  int pieces = 1;
  while (!run.advance([] { return true; })) {
    ++pieces;
  }
  CHECK(pieces >= 4);
  CHECK(classroom_text(run.result()) == whole);
  CHECK(classroom_text(run_classroom(s, &memory)) == whole);
  // Ten weeks, each day a piece.
  s.coupled = false;
  s.end = 70 * kDay;
  ClassroomRun longer(s, &memory);
  while (!longer.advance([] { return true; })) {
  }
  CHECK(classroom_text(longer.result()) == classroom_text(run_classroom(s, &memory)));
}

TEST_CASE("classroom: costs, gains and first clamp add up to what is left") {
  ClassroomSettings s;
  s.end = 3 * kDay;
  s.acts = {{ClassroomAct::Kind::Retorque, kDay, 0}};
  const ClassroomResult r = run_classroom(s);
  REQUIRE(r.cost.size() == r.time.size() * 10 * kMechanisms);
  for (std::size_t i = 0; i < r.time.size(); ++i) {
    for (std::size_t k = 0; k < 10; ++k) {
      double sum = r.cold[k] + r.gain[i * 10 + k];
      for (std::size_t m = 0; m < kMechanisms; ++m) {
        sum -= r.cost[(i * 10 + k) * kMechanisms + m];
      }
      CHECK(sum == close(r.cold[i * 10 + k], 1e-4 * r.cold[k], 0));
    }
  }
}

TEST_CASE("classroom: settings are read, and wrong ones are named") {
  const ClassroomSettings s = classroom_settings(
      R"({"torque": 500, "paint": "cross-linked", "wheel": "aluminium", "route": "highway", "sleeve": true, "stops": 12,
          "acts": [{"kind": "remove_nut", "time": 3600, "stud": 10}, {"kind": "retorque", "time": 7200}]})");
  CHECK(s.torque == 500);
  CHECK(s.paint == ClassroomPaint::CrossLinked);
  CHECK(s.wheel == ClassroomWheel::Aluminium);
  CHECK(s.route == ClassroomRoute::Highway);
  CHECK(s.sleeve);
  CHECK(s.stops == 12);
  REQUIRE(s.acts.size() == 2);
  CHECK(s.acts[0].stud == 9);
  CHECK(s.acts[1].kind == ClassroomAct::Kind::Retorque);
  const auto refused = [](const std::string& text, const std::string& path) {
    CAPTURE(text);
    try {
      classroom_settings(text);
      FAIL_CHECK("not refused");
    } catch (const InputError& e) {
      REQUIRE(e.diagnostics().size() == 1);
      CHECK(e.diagnostics().front().path == path);
      CHECK_FALSE(bad_character(e.what()));
    }
  };
  refused("[]", "settings");
  refused("{", "settings");
  refused(R"({"torqe": 1})", "torqe");
  refused("{\"tor\u007fque\u0085\": 1}",
          "tor\\u007fque\\u0085"); // a terminal would obey the one, no page shows the other
  refused(R"({"torque": "much"})", "torque");
  refused(R"({"torque": 20})", "torque");
  refused(R"({"spacer": 0.001})", "spacer");
  refused(R"({"stops": 1.5})", "stops");
  refused(R"({"paint": "green"})", "paint");
  refused(R"({"sleeve": 1})", "sleeve");
  refused(R"({"acts": [{"kind": "retorque", "time": 1e9}]})", "acts/time");
  refused(R"({"acts": [{"kind": "remove_nut", "time": 0, "stud": 11}]})", "acts/stud");
  refused(R"({"acts": [{"kind": "remove_nut", "time": 0, "stud": 0}]})", "acts/stud");
}

TEST_CASE("classroom: the text of a result holds its arrays") {
  const ClassroomResult r = run_classroom(quick());
  const nlohmann::json j = nlohmann::json::parse(classroom_text(r));
  REQUIRE(j["time"].size() == r.time.size());
  CHECK(j["cold"].back().back().get<double>() == r.cold.back());
  CHECK(j["films"].back().size() == 40);
  bool flow = false;
  for (std::size_t m = 0; m < j["mechanisms"].size(); ++m) {
    const std::string name = j["mechanisms"][m];
    CHECK(name != "washer_set");
    if (name == "coating_flow") {
      flow = true;
      const std::size_t at = r.cost.size() - kMechanisms + index(Mechanism::CoatingFlow);
      CHECK(j["cost"][m].back().back().get<double>() == r.cost[at]);
    }
  }
  CHECK(flow);
}

TEST_CASE("classroom: fewer nuts share the load of all, and what each needs is made of its cases") {
  ClassroomSettings s = quick();
  s.end = 60;
  const ClassroomResult r = run_classroom(s);
  REQUIRE(r.required_with.size() == 10);
  CHECK(r.required_with[9] == close(r.required_clamp, 0, 1e-12));
  double most = 0;
  for (const CaseClamp& c : r.cases) {
    most = std::max(most, c.required());
    // What must be held in all does not depend on how many hold it.
    for (std::size_t n = 1; n <= 10; ++n) {
      CHECK(r.required_with[n - 1] * static_cast<double>(n) >= c.for_slip * 10 * (1 - 1e-12));
    }
  }
  CHECK(most == close(r.required_clamp, 0, 1e-12));
  CHECK(r.required_with[8] == close(r.required_clamp * 10 / 9, 0, 1e-12));
  CHECK(r.required_margin == close(1.2, 0, 1e-12));
  CHECK(r.softening ==
        close(65 + 273.15, 0, 1e-9)); // of the topcoat that never cross-links, models/catalogue/coatings.yaml
  s.paint = ClassroomPaint::Bare;
  CHECK(run_classroom(s).softening == 0);
}

TEST_CASE("classroom: records stand where they do however far the wheel drives") {
  ClassroomSettings s = quick();
  s.end = kDay;
  std::vector<double> before = run_classroom(s).time;
  for (const double end : {1.5 * kDay, 3 * kDay, 10 * kDay, 40 * kDay}) {
    s.end = end;
    const std::vector<double> now = run_classroom(s).time;
    for (const double t : before) {
      CHECK(std::any_of(now.begin(), now.end(), [&](double u) { return std::abs(u - t) < 1e-3; }));
    }
    before = now;
  }
}

#if defined(__STDCPP_MATH_SPEC_FUNCS__)
TEST_CASE("classroom: elliptic integrals for browsers are those of the standard library") {
  // libstdc++ computes them by Carlson's forms, which is independent of the mean used here.
  for (double k = 0; k < 1; k += 0.0371) {
    CHECK(complete_elliptic(k).first == close(std::comp_ellint_1(k), 0, 1e-13));
    CHECK(complete_elliptic(k).second == close(std::comp_ellint_2(k), 0, 1e-13));
  }
  CHECK(complete_elliptic(0.999999).first == close(std::comp_ellint_1(0.999999), 0, 1e-11));
}
#endif

// Checks: clamp from torque, torque from clamp, stress of a stud under the wrench, self-locking.
// Problem: NutThread alone. The table of assembly preloads asks for the clamp F at which the equivalent stress is 0.9
// of
//   Rp0.2 (ISO 898-1 least values: 660, 940, 1100 MPa above M16, 640 for 8.8 up to M16), then for the torque that gives
//   that clamp. Bearing ring: dw of ISO 4014 heads and medium holes of ISO 273, which is what the table was made for.
// Reference: VDI 2230:2001 fine-thread table (seen in a reprint) and table A1 (memory); trade-press figures (seen in
//   text) for a flanged wheel nut; textbook example 8-3 for an inch thread.
// Tolerance: half of the last printed digit plus 0.25 % (FM) and 0.3 % (MA). Our formula is the table's own, but its
//   inputs were rounded to three or four digits; worst measured, half a digit included, 0.35 % (FM, M22) and 0.9 % (MA,
//   M10, whose 63 N m stands for 0.8 %). MA takes 0.16 P for P/2pi (+0.5 % of a term that is 7 % of the torque) and
//   0.58 d2 for d2/(2 cos 30 deg) (+0.5 % of a term that is 40 %), together 0.24 % above us: 0.3 %. The elastic torsion
//   section (16 instead of 12) lands 4 to 9 % low, which every row must show.
//   Torques of one point by the short form, the exact power screw and ISO 16047's long form spread by 0.24 %: 0.3 %.
// Fails if: a friction term has the wrong radius, the flank angle is left out, or the torsion section is the elastic
// one.
#include "models/loosening.hpp"
#include "models/slip.hpp"
#include "models/torque.hpp"
#include "models/units.hpp"
#include "tests/verification/published/printed.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <string_view>

using namespace clampfade;
using clampfade::test::check;
using clampfade::test::close;
using clampfade::test::not_modelled;
using clampfade::test::Printed;
using clampfade::test::Seen;

namespace {

constexpr double kMm = 1e-3;
constexpr double kMpa = 1e6;
constexpr double kKn = 1e3;
constexpr std::string_view kFine = "VDI 2230:2001 fine-thread table, reprint";
constexpr std::string_view kA1 = "VDI 2230 table A1";

struct Preload {
  std::string_view name;
  double d, pitch;   // mm
  double head, hole; // mm, dw of ISO 4014 and ISO 273 medium
  double yield;      // MPa
  double friction;
  double clamp, clamp_digit; // kN
  double torque;             // N m, printed to one
  std::string_view source;
  Seen seen;
};

constexpr Preload kPreloads[] = {
    {"M12x1.25", 12, 1.25, 16.63, 13.5, 940, 0.10, 72.1, 0.1, 116, kFine, Seen::Text},
    {"M12x1.25", 12, 1.25, 16.63, 13.5, 940, 0.12, 70.5, 0.1, 133, kFine, Seen::Text},
    {"M12x1.25", 12, 1.25, 16.63, 13.5, 940, 0.14, 68.7, 0.1, 149, kFine, Seen::Text},
    {"M14x1.5", 14, 1.5, 19.64, 15.5, 940, 0.10, 97.5, 0.1, 182, kFine, Seen::Text},
    {"M14x1.5", 14, 1.5, 19.64, 15.5, 940, 0.12, 95.2, 0.1, 209, kFine, Seen::Text},
    {"M14x1.5", 14, 1.5, 19.64, 15.5, 940, 0.14, 92.9, 0.1, 234, kFine, Seen::Text},
    {"M16x1.5", 16, 1.5, 22.49, 17.5, 940, 0.10, 131.6, 0.1, 278, kFine, Seen::Text},
    {"M16x1.5", 16, 1.5, 22.49, 17.5, 940, 0.12, 128.7, 0.1, 320, kFine, Seen::Text},
    {"M16x1.5", 16, 1.5, 22.49, 17.5, 940, 0.14, 125.5, 0.1, 359, kFine, Seen::Text},
    {"M22x1.5", 22, 1.5, 31.71, 24, 940, 0.10, 264, 1, 754, kFine, Seen::Text},
    {"M22x1.5", 22, 1.5, 31.71, 24, 940, 0.12, 259, 1, 873, kFine, Seen::Text},
    {"M22x1.5", 22, 1.5, 31.71, 24, 940, 0.14, 253, 1, 985, kFine, Seen::Text},
    {"M22x1.5, 8.8", 22, 1.5, 31.71, 24, 660, 0.12, 182, 1, 613, kFine, Seen::Text},
    {"M22x1.5, 12.9", 22, 1.5, 31.71, 24, 1100, 0.12, 303, 1, 1022, kFine, Seen::Text},
    {"M10", 10, 1.5, 14.63, 11, 940, 0.10, 44.5, 0.1, 63, kA1, Seen::Memory},
    {"M10", 10, 1.5, 14.63, 11, 940, 0.12, 43.4, 0.1, 71, kA1, Seen::Memory},
    {"M10", 10, 1.5, 14.63, 11, 940, 0.14, 42.2, 0.1, 79, kA1, Seen::Memory},
    {"M12", 12, 1.75, 16.63, 13.5, 940, 0.10, 64.8, 0.1, 108, kA1, Seen::Memory},
    {"M12", 12, 1.75, 16.63, 13.5, 940, 0.12, 63.2, 0.1, 123, kA1, Seen::Memory},
    {"M12", 12, 1.75, 16.63, 13.5, 940, 0.14, 61.5, 0.1, 137, kA1, Seen::Memory},
    {"M16", 16, 2, 22.49, 17.5, 940, 0.10, 121.7, 0.1, 264, kA1, Seen::Memory},
    {"M16", 16, 2, 22.49, 17.5, 940, 0.12, 118.8, 0.1, 302, kA1, Seen::Memory},
    {"M16", 16, 2, 22.49, 17.5, 940, 0.14, 115.7, 0.1, 338, kA1, Seen::Memory},
    {"M20", 20, 2.5, 28.19, 22, 940, 0.10, 190, 1, 517, kA1, Seen::Memory},
    {"M20", 20, 2.5, 28.19, 22, 940, 0.12, 186, 1, 592, kA1, Seen::Memory},
    {"M20", 20, 2.5, 28.19, 22, 940, 0.14, 181, 1, 661, kA1, Seen::Memory},
    {"M22", 22, 2.5, 31.71, 24, 940, 0.10, 237, 1, 704, kA1, Seen::Memory},
    {"M22", 22, 2.5, 31.71, 24, 940, 0.12, 231, 1, 807, kA1, Seen::Memory},
    {"M22", 22, 2.5, 31.71, 24, 940, 0.14, 225, 1, 904, kA1, Seen::Memory},
    {"M24", 24, 3, 33.61, 26, 940, 0.10, 274, 1, 890, kA1, Seen::Memory},
    {"M24", 24, 3, 33.61, 26, 940, 0.12, 267, 1, 1017, kA1, Seen::Memory},
    {"M24", 24, 3, 33.61, 26, 940, 0.14, 260, 1, 1136, kA1, Seen::Memory},
};

NutThread nut(double d, double pitch, double bearing) { return {{"", d * kMm, pitch * kMm}, bearing * kMm, 0}; }
NutThread m22(double bearing) { return nut(22, 1.5, bearing); }

/// Clamp [N] at which the equivalent stress under the wrench is 0.9 of the yield strength [MPa].
double assembly_preload(const NutThread& n, double friction, double yield) {
  return 0.9 * yield * kMpa / n.stress(1, friction, friction).equivalent(1);
}

/// The same with the elastic torsion section, 16/(pi d0^3), that the program must not use.
double elastic_preload(const NutThread& n, double friction, double yield) {
  StudStress s = n.stress(1, friction, friction);
  s.torsion *= 16.0 / 12.0;
  return 0.9 * yield * kMpa / s.equivalent(1);
}

} // namespace

TEST_CASE("published: assembly preloads and torques of VDI 2230") {
  for (const Preload& row : kPreloads) {
    CAPTURE(row.name);
    CAPTURE(row.friction);
    const NutThread n = nut(row.d, row.pitch, (row.head + row.hole) / 2);
    const double clamp = assembly_preload(n, row.friction, row.yield);
    check("FM [kN]", {row.clamp, row.clamp_digit, row.source, row.seen}, clamp / kKn, 2.5e-3);
    check("MA [N m]", {row.torque, 1, row.source, row.seen}, n.split(clamp, row.friction, row.friction).total(), 3e-3);
    // The clamp that this torque gives is the clamp that asked for it.
    const double torque = n.split(clamp, row.friction, row.friction).total();
    CHECK(n.clamp(torque, row.friction, row.friction) == close(clamp, 0, 1e-12));
    // The elastic torsion section is seen by every row.
    const double elastic = elastic_preload(n, row.friction, row.yield) / kKn;
    CHECK(elastic < row.clamp * 0.96);
    CHECK(elastic > row.clamp * 0.91);
  }
  // A second source for one point: M12 8.8.
  const NutThread n = nut(12, 1.75, (16.63 + 13.5) / 2);
  check("M12 8.8, friction 0.14 [kN]", {41.9, 0.1, "trade table of assembly preloads", Seen::Text},
        assembly_preload(n, 0.14, 640) / kKn, 2.5e-3);
}

TEST_CASE("published: the elastic torsion section misses by 6 per cent") {
  const NutThread n = m22((31.71 + 24) / 2);
  const double plastic = assembly_preload(n, 0.12, 940) / 0.9;
  const double elastic = elastic_preload(n, 0.12, 940) / 0.9;
  check("plastic, all of Rp0.2 [kN]", {287.8, 0.1, "formula of VDI 2230:2001", Seen::Derived}, plastic / kKn, 0);
  check("elastic, all of Rp0.2 [kN]", {271.9, 0.1, "formula of JIS B 1083", Seen::Derived}, elastic / kKn, 5e-4);
  CHECK(1 - elastic / plastic == close(0.055, 0.005, 0));
}

TEST_CASE("published: three forms of one torque, M22x1.5 at 200 kN and friction 0.12") {
  const NutThread n = m22(27.855);
  const TorqueSplit s = n.split(200e3, 0.12, 0.12);
  check("Motosh [N m]", {673.3, 0.1, "form of Motosh (1976)", Seen::Derived}, s.total(), 0);
  check("short form [N m]", {674.9, 0.1, "VDI 2230 / ISO 16047 short form", Seen::Derived}, s.total(), 3e-3);
  check("long form [N m]", {674.2, 0.1, "ISO 16047 long form", Seen::Derived}, s.total(), 3e-3);
  check("torque coefficient", {0.1534, 1e-4, "K of ISO 16047, short form", Seen::Derived}, s.total() / (200e3 * 0.022),
        3e-3);
  check("share that stretches", {0.071, 1e-3, "P/2pi of the total", Seen::Derived}, s.pitch / s.total(), 0);
  // Loosening: the pitch pushes the other way.
  check("loosening [N m]", {578.9, 0.1, "VDI 2230 short form", Seen::Derived}, s.thread + s.bearing - s.pitch, 3e-3);
  check("driving [N m]", {47.75, 0.01, "F P/2pi", Seen::Derived}, s.pitch, 0);
  check("thread friction [N m]", {292.7, 0.1, "0.58 d2 mu F", Seen::Derived}, s.thread, 5e-3);
  check("bearing friction [N m]", {334.3, 0.1, "mu F DK/2", Seen::Derived}, s.bearing, 0);
  check("driving over resisting", {0.076, 1e-3, "ratio of the above", Seen::Derived}, s.pitch / (s.thread + s.bearing),
        0);
}

TEST_CASE("published: a thread holds itself above a friction of 0.0197") {
  // tan(lead) cos 30 deg; no bearing friction at all, so that the thread is alone.
  const NutThread n = m22(30);
  const auto margin = [&](double friction) {
    const TorqueSplit s = n.split(1, friction, 0);
    return s.thread / s.pitch;
  };
  check("limit", {0.0197, 1e-4, "tan(lead) cos 30 deg", Seen::Derived}, 0.01 / margin(0.01), 0);
  const double lead = std::atan(n.thread().pitch / (kPi * n.thread().pitch_diameter())) / units::kDegree;
  check("lead [deg]", {1.301, 1e-3, "geometry", Seen::Derived}, lead, 0);
  // The law that turns a sliding nut knows the same limit: below it a nut spins as far as it slides.
  CHECK(turn_per_slide(n, 200e3, 0.0195, 0) > 1e5);
  CHECK(turn_per_slide(n, 200e3, 0.0200, 0) < 1e5);
  CHECK(turn_per_slide(n, 200e3, 0.0200, 0) > 0);
}

TEST_CASE("published: what a turn of the nut costs, M22x1.5 regression point") {
  constexpr double kCompliance = 1.22369e-9; // stud and plates of test_cone.cpp [m/N]
  const double pitch = m22(30).thread().pitch;
  check("a degree of back-off [kN]", {3.405, 1e-3, "P/360 over the compliance", Seen::Derived},
        pitch / 360 / kCompliance / kKn, 0);
  check("turn that takes 20 % of 200 kN [deg]", {11.75, 0.01, "same", Seen::Derived},
        0.2 * 200e3 * kCompliance / pitch * 360, 0);
  // DIN 25201-4: 80 % must be left (seen in text) after 2000 cycles (memory).
  check("turn a cycle [deg]", {0.00587, 1e-5, "same over 2000 cycles", Seen::Derived},
        0.2 * 200e3 * kCompliance / pitch * 360 / 2000, 0);
  // Slip that bending takes before the nut slides, guided ends.
  const double d3 = m22(30).thread().minor_diameter();
  const double second_moment = kPi * d3 * d3 * d3 * d3 / 64;
  struct Threshold {
    double grip, slip; // mm
  };
  for (const Threshold t : {Threshold{30, 0.032}, Threshold{45, 0.110}, Threshold{60, 0.260}}) {
    CAPTURE(t.grip);
    check("critical slip [mm]", {t.slip, 1e-3, "guided-guided beam", Seen::Derived},
          nut_slip_threshold(0.12, 200e3, t.grip * kMm, 205e9, second_moment) / kMm, 0);
  }
}

TEST_CASE("published: torque on a flanged wheel nut, M22x1.5") {
  // A mean bearing diameter of 35 mm is assumed, so these are our own figures; 450 and 500 lbf ft are the range that
  // maintenance manuals print (seen in text).
  struct Row {
    double friction, low, high; // -, kN at 610 N m, kN at 678 N m
  };
  for (const Row& row :
       {Row{0.10, 190.1, 211.2}, Row{0.12, 160.4, 178.3}, Row{0.15, 129.9, 144.4}, Row{0.20, 98.7, 109.7}}) {
    CAPTURE(row.friction);
    // Worked with the short form, which gives 0.24 % less clamp at a torque than ours.
    check("at 450 lbf ft [kN]", {row.low, 0.1, "torque formula", Seen::Derived},
          m22(35).clamp(450 * units::kPoundForceFoot, row.friction, row.friction) / kKn, 3e-3);
    check("at 500 lbf ft [kN]", {row.high, 0.1, "torque formula", Seen::Derived},
          m22(35).clamp(500 * units::kPoundForceFoot, row.friction, row.friction) / kKn, 3e-3);
  }
}

TEST_CASE("published: trade-press clamp of a wheel nut") {
  // 475 to 500 lbf ft "gives" more than 60 000 lbf clean and oiled and as little as 20 000 lbf with too much friction.
  // The frictions that this needs at 500 lbf ft are our own arithmetic, on a 35 mm flange and on a plain hexagon; they
  // must lie inside the range of lubricated to dry steel, and the program must give the printed clamp at them.
  constexpr std::string_view kPress = "trade press, wheel torque articles";
  struct Row {
    double bearing, friction; // mm, -
    Printed clamp;            // lbf
  };
  const Row rows[] = {{35, 0.077, {60000, 0, kPress, Seen::Text}},
                      {27.86, 0.088, {60000, 0, kPress, Seen::Text}},
                      {35, 0.25, {20000, 0, kPress, Seen::Text}},
                      {27.86, 0.28, {20000, 0, kPress, Seen::Text}}};
  for (const Row& row : rows) {
    CAPTURE(row.bearing);
    CAPTURE(row.friction);
    // Frictions of two digits: a last digit is worth 1.2 % near 0.08.
    check("clamp [lbf]", row.clamp,
          m22(row.bearing).clamp(500 * units::kPoundForceFoot, row.friction, row.friction) / units::kPoundForce, 0.015);
  }
}

TEST_CASE("published: inch thread of textbook example 8-3") {
  // 3/4-16, 25 kip, friction 0.15, collar of mean diameter 1.25 d. The textbook's exact power screw keeps a term
  // 1/(1 - mu tan(lead)/cos 30), +0.5 % of the thread's share.
  const double inch = 25.4 * kMm;
  const NutThread n({"3/4-16", 0.75 * inch, inch / 16}, 1.25 * 0.75 * inch, 0);
  const double clamp = 25000 * units::kPoundForce;
  constexpr std::string_view kExample = "Shigley, example 8-3";
  check("torque [lbf in]", {3551, 1, kExample, Seen::Memory},
        n.split(clamp, 0.15, 0.15).total() / (units::kPoundForceFoot / 12), 3e-3);
  not_modelled("scatter of preload by tool", "VDI 2230-1", Seen::Memory, NAN,
               "a run takes friction as given; the tools of the catalogue are held against its classes");
  // Stress: the program's area of inch threads is 0.66 % larger than ASME's, see test_thread.cpp.
  check("bolt stress [ksi]", {67.02, 0.01, kExample, Seen::Memory}, n.stress(clamp, 0.15, 0.15).axial / units::kKsi,
        7e-3);
}

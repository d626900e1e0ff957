#include "post/sheet.hpp"

#include "post/drawing/bolt_circle.hpp"
#include "solver/diagnostics.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/synthetic.hpp"

#include <doctest/doctest.h>

#include <regex>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }
std::size_t count(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) {
    ++n;
  }
  return n;
}

/// An invented wheel of three studs, tightened alike in two passes; what a test wants otherwise it says.
struct Wheel {
  std::string title = "Invented wheel";
  double required = 80e3;
  std::vector<double> torque = {640, 640, 640};
  std::vector<std::size_t> order = {1, 2, 0}; ///< as done
  bool tells_order = true;                    ///< as a figure too
  std::size_t rows = 12;
  bool gaps = false;   ///< an alarm
  double retorque = 0; ///< at record 5, to this torque; 0 for none [N m]
  RunStatus status = RunStatus::Complete;

  [[nodiscard]] std::string sheet(System system = System::Si) const {
    const TmpDir dir;
    write(dir / "a.h5");
    return post::sheet(History(dir / "a.h5"), system);
  }
  void write(const std::string& path) const {
    RunHeader h = synthetic_header();
    h.title = title;
    h.joint[0].values = {required};
    h.joint.pop_back(); // the synthetic torques differ
    h.records.clear();
    const std::vector<std::string> parts = {"hub", "disc"};
    const std::vector<std::string> layer = {"hub | disc: disc head_side"};
    h.joint.push_back({"geometry/part_thickness", "m", "thickness", {0.03, 0.012}, parts, {}});
    h.joint.push_back({"geometry/layer_thickness", "m", "film", {80e-6}, layer, {}});
    h.joint.push_back({"geometry/layer_part", "1", "part", {}, layer, {"disc"}});
    h.joint.push_back({"geometry/layer_side", "1", "side", {}, layer, {"head_side"}});
    h.joint.push_back({"geometry/layer_coating", "1", "kind", {}, layer, {"topcoat"}});
    h.joint.push_back({"geometry/thread", "1", "thread", {}, {}, {"M22x1.5"}});
    h.joint.push_back({"geometry/property_class", "1", "class", {}, {}, {"10.9"}});
    h.joint.push_back({"geometry/bolt_circle", "m", "bolt circle", {0.28575}, {}, {}});
    h.joint.push_back({"tightening/friction_thread", "1", "friction", {0.12}, {}, {}});
    h.joint.push_back({"tightening/friction_bearing", "1", "friction", {0.14}, {}, {}});
    if (tells_order) {
      Figure f{"tightening/order", "1", "order", {}, {"1", "2", "3"}, {}};
      for (const std::size_t stud : order) {
        f.values.push_back(static_cast<double>(stud + 1));
      }
      h.joint.push_back(f);
    }
    HistoryWriter writer(path);
    writer.begin(h);
    for (std::size_t i = 0; i < 6; ++i) {
      const std::size_t stud = order[i % 3];
      writer.act(
          {-25 + 5.0 * static_cast<double>(i), 1 + i / 3, stud, torque[stud] * (i < 3 ? 0.5 : 1), 180e3, 179e3, true});
    }
    for (std::size_t row = 0; row < rows; ++row) {
      if (row == 5 && retorque > 0) {
        for (const std::size_t stud : order) {
          writer.act({synthetic_record(row).time, 0, stud, retorque, 180e3, 179e3, true});
        }
        writer.event({synthetic_record(row).time, 5000, -1, "retorque", "3 of 3 nuts moved"});
      }
      writer.record(synthetic_record(row));
    }
    if (gaps) {
      writer.event({3600, 1000, 1, "gap", "the joint gapes"});
    }
    writer.end(status, "", {});
  }
};

} // namespace

TEST_CASE("sheet: passes are given in both systems of units, the chosen one first") {
  const std::string si = Wheel().sheet();
  CHECK(has(si, "<th>N\u00B7m</th><th>lbf\u00B7ft</th>"));
  CHECK(has(si, "<td>1 of 2</td><td>320</td><td>236</td>"));
  CHECK(has(si, "<td>2 of 2</td><td>640</td><td>472</td>"));
  const std::string us = Wheel().sheet(System::Us);
  CHECK(has(us, "<th>lbf\u00B7ft</th><th>N\u00B7m</th>"));
  CHECK(has(us, "<td>2 of 2</td><td>472</td><td>640</td>"));
  CHECK(has(us, "the required clamp of 17985 lbf"));
  CHECK(has(si, "on a bolt circle of 285.8 mm (11.25 in)"));
}

TEST_CASE("sheet: all cautions stand at the top and at the bottom") {
  const std::string html = Wheel().sheet();
  for (const std::string_view caution : cautions()) {
    CHECK(count(html, std::string(caution)) == 2);
  }
  CHECK(html.find(std::string(cautions()[0])) < html.find("<h1>"));
  CHECK(html.rfind(std::string(cautions()[0])) > html.find("Readings found"));
}

TEST_CASE("sheet: the order is that of the scenario, or else the one in which it was done") {
  CHECK(has(Wheel().sheet(), "Tightening order: 2 3 1."));
  Wheel silent;
  silent.tells_order = false;
  CHECK(has(silent.sheet(), "Tightening order: 2 3 1."));
}

TEST_CASE("sheet: painted and bare faces and the friction of the run are told") {
  const std::string html = Wheel().sheet();
  CHECK(has(html, "<td>hub</td><td>bare</td><td>bare</td>"));
  CHECK(has(html, "<td>disc</td><td>painted: topcoat, 80.0 \u00B5m</td><td>bare</td>"));
  CHECK(has(html, "Friction 0.12 in the thread and 0.14 under the nut."));
}

TEST_CASE("sheet: when to check again defers to the makers in every case") {
  const std::string makers = "At the interval that the vehicle&#39;s and the wheel&#39;s maker give.";
  const std::string never = Wheel().sheet();
  CHECK(has(never, makers));
  CHECK(has(never, "finds no stud below the required clamp of 80.00 kN. It lengthens no interval."));

  Wheel falling;
  falling.required = 179e3 - 2.1; // stud 1 falls below it between records 6 and 7
  const std::string later = falling.sheet();
  CHECK(has(later, makers));
  CHECK(has(later, "a retorque after 6.00 h and 6.00 km comes too late: stud 1 is then at the required clamp"));
  CHECK(has(later, "if it is later, the maker&#39;s interval holds"));

  Wheel low;
  low.required = 200e3;
  const std::string from_start = low.sheet();
  CHECK(has(from_start, "must not go into service tightened like this"));
  CHECK_FALSE(has(from_start, "lengthens no interval"));
  CHECK(has(from_start, "its torques are here to be talked about, not to be used"));

  Wheel empty;
  empty.rows = 0;
  const std::string none = empty.sheet();
  CHECK(has(none, makers));
  CHECK(has(none, "no record yet"));
  CHECK_FALSE(has(none, "Check torque to expect"));
}

TEST_CASE("sheet: an estimate with a retorque says that it takes it for granted, and to what torque") {
  Wheel wheel;
  wheel.retorque = 600;
  const std::string html = wheel.sheet();
  CHECK(has(html, "This estimate takes for granted that the nuts are retorqued: </b>after 5.00 h and 5.00 km to 600 "
                  "N·m (443 lbf·ft). Without that it does not hold, and the check torques below that come later hold "
                  "only after it."));
  CHECK(html.find("When to check again") < html.find("takes for granted"));
  CHECK(html.find("takes for granted") < html.find("Check torque to expect"));
  CHECK_FALSE(has(Wheel().sheet(), "takes for granted"));
  CHECK(has(Wheel().sheet(), "Real scatter of both"));
}

TEST_CASE("sheet: check torques to expect are those of the history for each stud") {
  Wheel falling;
  falling.required = 179e3 - 2.1;
  const std::string html = falling.sheet();
  // 640, 643 and 646 N m at first, 640 - 6/11 and so on after six records.
  CHECK(has(html, "<td>when tightened</td><td>640/472</td><td>643/474</td><td>646/476</td>"));
  CHECK(has(html, "<td>after 6.00 h</td><td>639/472</td><td>642/474</td><td>645/476</td>"));
  CHECK(has(html, "<td>after 11.0 h</td><td>639/471</td><td>642/474</td><td>645/476</td>"));
  CHECK(has(html, "not torques to tighten to")); // they are above the set torque
}

TEST_CASE("sheet: unlike torques and unfinished runs are told in red") {
  Wheel unlike;
  unlike.torque = {640, 50, 640};
  const std::string html = unlike.sheet();
  CHECK(has(html, "<td>50.0 to 640</td>"));
  CHECK(has(html, "did not all get the same torque"));
  CHECK_FALSE(has(Wheel().sheet(), "did not all get the same torque"));
  Wheel going;
  going.status = RunStatus::Stopped;
  CHECK(has(going.sheet(), "<p class=\"alarm\">RUN STOPPED before its end"));
}

TEST_CASE("sheet: nothing in a scenario can become markup, and the page asks for nothing from outside") {
  Wheel hostile;
  hostile.title = "<script>alert(1)</script> & \"duals\"";
  const std::string html = hostile.sheet();
  CHECK_FALSE(has(html, "<script"));
  CHECK(has(html, "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;duals&quot;"));
  for (const char* outside : {"src=", "href=", "url(", "@import", "http-equiv"}) {
    CHECK_FALSE(has(html, outside));
  }
}

TEST_CASE("sheet: a run with an alarm says so first, and its torques are not to be used") {
  Wheel wheel;
  wheel.gaps = true;
  const std::string html = wheel.sheet();
  CHECK(has(html, "In this run: THE WHEEL COMES LOOSE: the joint gaps under load at stud 2"));
  CHECK(html.find("THE WHEEL COMES LOOSE") < html.find("Passes and torques"));
  CHECK(has(html, "its torques are here to be talked about, not to be used"));
  CHECK_FALSE(has(Wheel().sheet(), "not to be used"));
}

TEST_CASE("sheet: readings have a column for each stud") {
  const std::string html = Wheel().sheet();
  CHECK(has(html, "<th>initials</th><th>1</th><th>2</th><th>3</th></tr>"));
  const std::size_t table = html.find("class=\"readings\"");
  REQUIRE(table != std::string::npos);
  CHECK(count(html.substr(table), "<td></td>") == 6 * (4 + 3));
}

TEST_CASE("bolt circle: every stud, every turn, an arrow between each two") {
  const std::string svg = bolt_circle({"1", "2", "3", "4", "5"}, {0, 2, 4, 1, 3});
  CHECK(count(svg, "class=\"nut\"") == 5);
  CHECK(count(svg, "class=\"head\"") == 4);
  CHECK(count(svg, "<circle class=\"turn\"") == 5);
  CHECK(has(svg, "Tightening order: 1 3 5 2 4."));
  // Stud 1 at the top, stud 2 clockwise: to the right of it.
  const std::regex stud("class=\"stud\" x=\"([0-9.]+)\" y=\"([0-9.]+)\"[^>]*>([0-9]+)<");
  std::vector<std::pair<double, double>> at(6);
  for (std::sregex_iterator it(svg.begin(), svg.end(), stud), end; it != end; ++it) {
    at[static_cast<std::size_t>(std::stoi((*it)[3]))] = {std::stod((*it)[1]), std::stod((*it)[2])};
  }
  CHECK(at[1].first == 200);
  CHECK(at[1].second < 100);
  CHECK(at[2].first > 300);
  CHECK(at[5].first < 100);
  CHECK(at[3].second > 300);
}

TEST_CASE("bolt circle: without an order there are no arrows, a wrong one is refused") {
  const std::string svg = bolt_circle({"1", "2", "3"}, {});
  CHECK(count(svg, "class=\"nut\"") == 3);
  CHECK_FALSE(has(svg, "class=\"head\""));
  CHECK_THROWS_AS(bolt_circle({"1", "2", "3"}, {0, 1}), std::invalid_argument);
  CHECK_THROWS_AS(bolt_circle({"1", "2", "3"}, {0, 1, 1}), std::invalid_argument);
  CHECK_THROWS_AS(bolt_circle({"1", "2", "3"}, {0, 1, 3}), std::invalid_argument);
  CHECK(count(bolt_circle({"1"}, {0}), "class=\"nut\"") == 1);
}

TEST_CASE("sheet: the program writes it, and never over something unasked") {
  const TmpDir dir;
  Wheel().write(dir / "a.h5");
  const std::string command = quote(CLAMPFADE_REPORT) + " sheet " + quote(dir / "a.h5") + " -o ";
  CHECK(run_cli(command + quote(dir / "s.html")).exit == 0);
  CHECK(read_text(dir / "s.html") == post::sheet(History(dir / "a.h5"), System::Si));
  CHECK(run_cli(command + quote(dir / "s.html")).exit == 4);
  CHECK(run_cli(command + quote(dir / "s.html") + " --force --units us").exit == 0);
  CHECK(read_text(dir / "s.html") == post::sheet(History(dir / "a.h5"), System::Us));
  CHECK(run_cli(command + quote(dir / "a.h5") + " --force").exit == 4);
  CHECK(run_cli(quote(CLAMPFADE_REPORT) + " sheet " + quote(dir / "a.h5")).exit == 2);
  CHECK(run_cli(quote(CLAMPFADE_REPORT) + " sheet " + quote(dir / "no.h5") + " -o " + quote(dir / "t.html")).exit == 4);
}

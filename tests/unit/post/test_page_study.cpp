// The page of a study: well-formed, true to its cases, readable in both units, never without cautions.
#include "post/page_study.hpp"
#include "post/study_charts.hpp"

#include "solver/diagnostics.hpp"

#include "tests/support/close.hpp"
#include "tests/support/markup.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

Markup page_of(const Study& s, System system = System::Si) {
  StudyFile file;
  file.study = s;
  return Markup(study_page(file, summarise(s, 0.3), system));
}

std::string all_text(const Markup& page) {
  std::string all;
  for (const MarkupElement& e : page.all("body")) {
    all += e.text;
  }
  return flat(all);
}

Study cube_example() {
  Study s = grid_example();
  s.axes.insert(s.axes.begin(), {"speed", "top speed", "duty/speed", "m/s", {20, 10}, {}});
  const std::vector<StudyCase> once = s.cases;
  s.cases.clear();
  for (int i = 0; i < 2; ++i) {
    s.cases.insert(s.cases.end(), once.begin(), once.end());
  }
  return s;
}

} // namespace

TEST_CASE("page of a study: every kind is well-formed, in both units, with cautions and harmless titles") {
  Study one = grid_example();
  one.axes.pop_back();
  one.cases.resize(3);
  Study list = study_frame();
  list.inputs = {{"load", "load", "duty/load", "kg", "", false, {1, 2}, {}}};
  list.cases = {study_case(130e3), study_case(100e3)};
  Study empty = sample_example();
  empty.time = empty.distance = {};
  empty.cases.assign(8, StudyCase{});
  Study unlike = sample_example(); // cases that drive different distances
  unlike.distance.assign(3, StudyCase::kUnknown);
  Study failed = grid_example();
  for (StudyCase& c : failed.cases) {
    c = StudyCase{};
    c.status = CaseStatus::Failed;
    c.message = "<no> \"equilibrium\"";
  }
  for (Study s : {one, list, grid_example(), cube_example(), sample_example(), empty, unlike, failed}) {
    s.title = "<b>Bare</b> & \"bold\"";
    for (const System system : {System::Si, System::Us}) {
      const Markup page = page_of(s, system);
      CHECK(page.all("b").empty());
      const std::string text = all_text(page);
      for (const std::string_view caution : cautions()) {
        CHECK(has(text, std::string(caution)));
      }
      for (const char* wrong : {"nan", "inf", "NaN"}) {
        for (const MarkupElement& e : page.all("td")) {
          CHECK(e.text != wrong);
        }
      }
      CHECK(page.all("svg").empty() == (summarise(s, 0.3).done == 0));
    }
  }
}

TEST_CASE("page of a study: a map has each case at its place and tells good from bad") {
  const std::vector<StudyMap> maps = end_maps(grid_example());
  REQUIRE(maps.size() == 1);
  const HeatMap& map = maps[0].map;
  // Rows are the paint from the thickest down, columns the nuts.
  REQUIRE(map.fields.size() == 6);
  CHECK(map.rows.texts[0].si == "120");
  CHECK(map.rows.name.si == "paint: thickness, µm");
  CHECK(map.columns.texts[1].si == "sprung nut");
  CHECK(map.fields[0].text.si == "90.00");
  CHECK(map.fields[5].text.si == "160.0");
  CHECK(map.fields[0].bad);
  CHECK_FALSE(map.fields[2].bad); // just what is required
  CHECK(map.fields[2].tone == 0);
  CHECK(map.fields[5].tone == close(1, 1e-12, 0));
  CHECK(map.fields[0].tone == close(-0.75, 1e-12, 0));
  CHECK(map.values.si == "Weakest stud's cold clamp at the end, kN");
  CHECK(draw(map, {System::Us, false}).find("Weakest stud&#39;s cold clamp at the end, lbf</text>") !=
        std::string::npos);
  const Markup drawn(draw(map, {System::Si, true}));
  CHECK(drawn.all("text", "bad").size() == 2);
  CHECK(drawn.all("g", "heat-cell").size() == 6);

  const std::vector<StudyMap> first = below_maps(grid_example());
  CHECK(first[0].map.fields[5].text.si == "never");
  CHECK(first[0].map.fields[0].text.si == "3333");
  // The sooner the deeper.
  CHECK(first[0].map.fields[0].tone < first[0].map.fields[1].tone);
  CHECK(first[0].map.fields[1].tone < 0);
  CHECK(first[0].map.fields[5].tone > 0);
}

TEST_CASE("page of a study: three axes make a map for each value of the first, with the same grounds") {
  Study cube = cube_example();
  cube.cases[6 + 4] = study_case(60e3);
  const std::vector<StudyMap> maps = end_maps(cube);
  REQUIRE(maps.size() == 2);
  CHECK(maps[0].others.si == "top speed = 20 m/s");
  CHECK(maps[0].map.fields[0].tone == close(-0.5, 1e-12, 0));
  CHECK(maps[1].map.fields[0].tone == close(-1, 1e-12, 0));
  CHECK(maps[0].map.legend.front().tone == maps[1].map.legend.front().tone);
}

TEST_CASE("page of a study: along one axis values ascend, never stands at the edge, losses add up") {
  Study s = grid_example();
  s.axes.pop_back();
  s.axes[0].values = {120e-6, 0, 60e-6};
  s.cases = {study_case(90e3), study_case(150e3), study_case(120e3)};
  const ValueChart end = end_chart(s);
  CHECK(end.x.texts[0].si == "0");
  CHECK(end.series.back().name == "weakest stud");
  CHECK(end.series.back().y == std::vector<double>{150e3, 120e3, 90e3});
  CHECK(end.required == std::vector<double>(3, 120e3));
  const Markup drawn(draw(below_chart(s), {System::Si, true}));
  CHECK(drawn.all("path", "dot").size() == 2); // triangles
  CHECK(drawn.all("circle", "dot").size() == 1);
  const ValueChart losses = loss_chart(s);
  REQUIRE(losses.series.size() == 2);
  CHECK(losses.series[0].y[2] + losses.series[1].y[2] == close(90e3, 1e-6, 0));
  // Heights of bars are as the losses.
  std::vector<double> heights(2);
  const Markup bars(draw(losses, {System::Si, false}));
  for (const MarkupElement& bar : bars.all("rect", "stack")) {
    if (bar.number("width") > 20) {
      heights[bar.is("s1") ? 0 : 1] = bar.number("height"); // the last of each colour: the thickest paint
    }
  }
  CHECK(heights[1] / heights[0] == close(3, 0.05, 0));
  // By factors: far apart as the factors are.
  s.axes[0].values = {100, 1, 10};
  const ValueAxis factors = end_chart(s).x;
  CHECK(factors.at[1] - factors.at[0] == close(factors.at[2] - factors.at[1], 1e-12, 0));
}

TEST_CASE("page of a study: stacked bars stand on each other, what is less than nothing hangs below") {
  ValueChart chart;
  chart.id = "x";
  chart.stacked = true;
  chart.x = {{"", ""}, {0, 1}, {{"a", "a"}, {"b", "b"}}, false};
  chart.series = {{"one", {10, 1}, 1, 0}, {"two", {20, 1}, 2, 0}, {"won", {-5, 0}, 3, 0}, {"three", {30, 1}, 4, 0}};
  const Markup drawn(draw(chart, {System::Si, false}));
  std::vector<MarkupElement> bars; // those of the first place, from left to right within a series
  for (const MarkupElement& bar : drawn.all("rect", "stack")) {
    if (bar.number("width") > 20 && bars.size() < 4) {
      bars.push_back(bar);
    }
  }
  REQUIRE(bars.size() == 4);
  const auto foot = [&](std::size_t i) { return bars[i].number("y") + bars[i].number("height"); };
  CHECK(foot(1) == close(bars[0].number("y"), 0.15, 0));
  CHECK(foot(3) == close(bars[1].number("y"), 0.15, 0));
  CHECK(bars[2].number("y") == close(foot(0), 0.15, 0));
}

TEST_CASE("page of a study: the fan and the chance are those of the cases") {
  const Study s = sample_example();
  const StudySummary summary = summarise(s, 0.3);
  const Chart fan = fan_chart(s, summary);
  REQUIRE(fan.variants.size() == 1);
  REQUIRE(fan.variants[0].lines.size() == 5);
  CHECK(fan.variants[0].lines[2].label == "median");
  CHECK(fan.variants[0].lines[2].y[0] == 180e3);
  CHECK(fan.variants[0].lines[2].y[2] == close(135e3, 1e-6, 0));
  CHECK(fan.variants[0].lines[4].y[2] == close(103.5e3, 1e-6, 0));
  REQUIRE(fan.levels.size() == 1);
  CHECK(fan.levels[0].y == 120e3);

  const Chart chance = chance_chart(s, summary);
  const ChartLine& share = chance.variants.at(0).lines.at(2);
  CHECK(share.y == std::vector<double>{0, 0, 12.5, 12.5, 25, 25});
  const ChartAxis& axis = chance.variants[0].axes[0];
  CHECK(axis.distance[1] == 3750e3);
  CHECK(axis.distance[2] == 3750e3); // a step up
  CHECK(axis.time.back() == 100 * kStudyDay);
  CHECK(chance.variants[0].lines[0].y.back() == close(100 * share_interval(2, 8).high, 1e-9, 0));
}

TEST_CASE("page of a study: bars of causes are as long as the shares") {
  const std::vector<ShareBar> bars = {{"torque", {{0.6, {0.5, 0.7}}, Index{0.8, {0.7, 0.9}}}},
                                      {"paint & <rust>", {{-0.01, {-0.05, 0.03}}, Index{0.2, {0.1, 0.3}}}}};
  const Markup drawn(share_bars("x", "title", "note", bars));
  std::vector<double> widths;
  for (const MarkupElement& e : drawn.all("rect", "bar")) {
    if (e.number("width") != 18) {
      widths.push_back(e.number("width"));
    }
  }
  REQUIRE(widths.size() == 4);
  CHECK(widths[1] / widths[0] == close(0.8 / 0.6, 0.01, 0));
  CHECK(widths[2] == 0.5); // less than nothing is nothing
  CHECK(drawn.all("path", "whisker").size() == 4);
}

TEST_CASE("figure of a study: what there is by its kind, and a refusal that says so") {
  Study one = grid_example();
  one.axes.pop_back();
  one.cases.resize(3);
  for (const Study& s : {one, grid_example(), sample_example()}) {
    const StudySummary summary = summarise(s, 0.3);
    const std::vector<std::string> names = study_figures(s);
    CHECK(names.size() >= 2);
    for (const std::string& name : names) {
      for (const Along along : {Along::Time, Along::Distance}) {
        const Markup drawn(study_figure(s, summary, name, along, System::Us));
        CHECK(drawn.elements.at(0).name == "svg");
        CHECK(drawn.all("tspan", "si").empty()); // one system of units
      }
    }
    CHECK_THROWS_AS((void)study_figure(s, summary, "clamp", Along::Time, System::Si), std::invalid_argument);
  }
  CHECK(study_figures(cube_example()).empty());
}

TEST_CASE("page of a study: cases that the wrench is too much for are told first and marked in the table") {
  Study s = grid_example();
  for (StudyCase& c : s.cases) {
    c.below_time = c.below_distance = StudyCase::kUnknown;
  }
  CHECK_FALSE(has(all_text(page_of(s)), "STRETCH"));
  s.cases[1].utilisation_tightening = 1.12;
  const Markup page = page_of(s);
  REQUIRE(page.all("p", "alarm").size() == 1);
  CHECK(has(page.all("p", "alarm").front().text, "IN 1 OF 6 CASES THE WRENCH STRETCHES A STUD FOR GOOD"));
  std::size_t marked = 0;
  for (const MarkupElement& e : page.all("td")) {
    marked += has(e.text, "1.12 STRETCHED") ? 1U : 0U;
  }
  CHECK(marked == 1);

  Study wheels = sample_example();
  wheels.cases[3].utilisation_tightening = 1.05;
  CHECK(has(all_text(page_of(wheels)), "Wheels overtightened"));
  CHECK_FALSE(has(all_text(page_of(sample_example())), "Wheels overtightened"));
}

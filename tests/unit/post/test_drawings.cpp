// Waterfall, stud strip, section, tightening: what is drawn is in proportion to the figures.
#include "post/charts.hpp"
#include "post/drawing/section.hpp"
#include "post/drawing/stud_strip.hpp"
#include "post/drawing/tightening.hpp"
#include "post/drawing/waterfall.hpp"

#include "tests/support/close.hpp"
#include "tests/support/drawn_wheel.hpp"
#include "tests/support/markup.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

Run run_of(const DrawnWheel& wheel) {
  const TmpDir dir;
  write_drawn(dir / "wheel.h5", wheel);
  return read_run(History(dir / "wheel.h5"));
}

/// Of bars and their like: attributes are rounded to a tenth.
constexpr double kPixel = 0.11;

} // namespace

TEST_CASE("waterfall: bars add up from the tightened clamp to what is left, at every record") {
  DrawnWheel wheel;
  wheel.retorque = 10;
  const Run run = run_of(wheel);
  const BudgetLayout layout = budget_layout(run);
  CHECK(layout.gain);
  CHECK_FALSE(layout.rest);
  REQUIRE(layout.shown.size() == 2);
  for (const std::size_t row : {std::size_t{0}, std::size_t{100}, run.rows() - 1}) {
    for (const bool weakest : {true, false}) {
      const std::vector<WaterfallBar> bars = waterfall_bars(budget_at(run, row, weakest), layout);
      REQUIRE(bars.size() == 5);
      double level = bars[0].to;
      for (std::size_t i = 1; i + 1 < bars.size(); ++i) {
        CHECK(bars[i].from == close(level, 1e-6, 0));
        level = bars[i].to;
      }
      CHECK(level == close(bars.back().to, 1e-6, 0));
    }
  }
}

TEST_CASE("waterfall: the last record's budget is the summary's") {
  DrawnWheel wheel;
  wheel.removed = 20; // a nut taken off is in no mean
  const Run run = run_of(wheel);
  for (const bool weakest : {true, false}) {
    const BudgetState state = budget_at(run, run.rows() - 1, weakest);
    const BudgetSum& sum = weakest ? run.summary.budget.weakest : run.summary.budget.mean;
    CHECK(state.first == close(sum.first, 0, 1e-12));
    CHECK(state.left == close(sum.end, 0, 1e-12));
    for (std::size_t m = 0; m < state.steps.size(); ++m) {
      const BudgetLine& line = run.summary.budget.lines[m];
      CHECK(state.steps[m].clamp == close(weakest ? line.clamp_weakest : line.clamp_mean, 1e-9, 1e-12));
      CHECK(state.steps[m].loss == close(weakest ? line.loss_weakest : line.loss_mean, 1e-18, 1e-12));
    }
  }
}

TEST_CASE("waterfall: small mechanisms go together into one bar when they come to something") {
  Run run = run_of({});
  // Three that take 20 N each are nothing alone and more than a digit together.
  for (std::size_t i = 0; i < run.loss_clamp.size() / kMechanisms; ++i) {
    for (const Mechanism m : {Mechanism::Wear, Mechanism::StudYield, Mechanism::MetalCreep}) {
      run.loss_clamp[i * kMechanisms + index(m)] = 20;
    }
  }
  const BudgetLayout layout = budget_layout(run);
  CHECK(layout.shown.size() == 2);
  CHECK(layout.rest);
  const std::vector<WaterfallBar> bars = waterfall_bars(budget_at(run, 5, true), layout);
  REQUIRE(bars.size() == 5);
  CHECK(bars[3].name == "all others");
  CHECK(bars[3].from - bars[3].to == close(60, 1e-6, 0));
}

TEST_CASE("waterfall: bars are as wide as their clamps and carry the summary's numbers") {
  const Run run = run_of({});
  const Markup m(waterfall("w", run, {System::Si, true}));
  const MarkupElement svg = m.elements.at(0);
  const double scale = svg.number("data-scale");
  const Budget& b = run.summary.budget;
  std::vector<double> shown;
  for (const MarkupElement& q : m.all("tspan", "q")) {
    shown.push_back(q.number("data-si"));
  }
  const auto carries = [&](double v) {
    return std::any_of(shown.begin(), shown.end(), [&](double s) { return s == close(v, 1e-9, 1e-12); });
  };
  CHECK(carries(b.weakest.first));
  CHECK(carries(b.weakest.end));
  CHECK(carries(-b.lines[index(Mechanism::CoatingCreep)].clamp_weakest));
  CHECK(carries(b.lines[index(Mechanism::CoatingCreep)].loss_weakest));
  CHECK(carries(*run.summary.finding.required_clamp));
  const auto width = [&](const std::string& role) { return m.all("rect", role).at(0).number("width"); };
  CHECK(width("first") == close(b.weakest.first * scale, kPixel, 0));
  CHECK(width("left") == close(b.weakest.end * scale, kPixel, 0));
  const double required = m.all("line", "level").at(0).number("x1") - svg.number("data-x0");
  CHECK(required / width("first") == close(*run.summary.finding.required_clamp / b.weakest.first, 0.002, 0));
}

TEST_CASE("stud strip: bars are as high as the clamps at the start and now") {
  DrawnWheel wheel;
  wheel.required = 163.7e3;
  const Run run = run_of(wheel);
  const std::size_t row = 300;
  const Markup m(stud_strip("s", run, row, {System::Si, true}));
  const double scale = m.elements.at(0).number("data-scale");
  const auto outlines = m.all("rect", "start");
  const auto fills = m.all("rect", "now");
  REQUIRE(outlines.size() == 10);
  REQUIRE(fills.size() == 10);
  bool some_below = false;
  bool some_above = false;
  for (std::size_t stud = 0; stud < 10; ++stud) {
    const double now = run.clamp_cold[row * 10 + stud];
    CHECK(outlines[stud].number("height") == close(run.clamp_cold[stud] * scale, kPixel, 0));
    CHECK(fills[stud].number("height") == close(now * scale, kPixel, 0));
    CHECK(fills[stud].number("y") + fills[stud].number("height") ==
          close(m.elements.at(0).number("data-y0"), 2 * kPixel, 0));
    CHECK(fills[stud].is("below") == (now < 163.7e3));
    some_below = some_below || now < 163.7e3;
    some_above = some_above || now >= 163.7e3;
  }
  CHECK(some_below);
  CHECK(some_above);
  CHECK(m.all("circle", "weakest").size() == 1);
}

TEST_CASE("stud strip: a nut that was taken off is said to be off") {
  DrawnWheel wheel;
  wheel.removed = 10;
  const Run run = run_of(wheel);
  const auto off = [&](std::size_t row) {
    const Markup m(stud_strip("s", run, row, {System::Si, true}));
    const auto texts = m.all("text", "value");
    return std::count_if(texts.begin(), texts.end(), [](const MarkupElement& t) { return t.text == "off"; });
  };
  CHECK(off(0) == 0);
  CHECK(off(run.rows() - 1) == 1);
}

TEST_CASE("section: parts are drawn in the proportion of their figures, along and across") {
  const Run run = run_of({});
  const auto g = section_geometry(run.summary);
  REQUIRE(g.has_value());
  const Markup m(section("x", *g, run, run.rows() - 1, {System::Si, true}));
  const double scale = section_scale(*g);
  CHECK(m.elements.at(0).number("data-scale") == close(scale, 0, 1e-12));
  const auto bodies = m.all("rect", "body"); // above and below the axis, part by part
  REQUIRE(bodies.size() == 4);
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    const SectionPart& part = g->parts[i / 2];
    CHECK(bodies[i].number("width") == close(part.thickness * scale, kPixel, 0));
    CHECK(bodies[i].number("height") == close((part.pad - part.hole) / 2 * scale, kPixel, 0));
  }
  CHECK(bodies[0].number("width") / bodies[2].number("width") == close(2, 0.01, 0));
  // Upper and lower half lie as far from the axis.
  const double axis = m.all("line", "centre").at(0).number("y1");
  CHECK(axis - (bodies[0].number("y") + bodies[0].number("height")) == close(bodies[1].number("y") - axis, 0.3, 0));
  CHECK(axis - bodies[0].number("y") == close(0.040 * scale, 0.2, 0));
  const auto studs = m.all("rect", "stud-body");
  CHECK(studs.at(0).number("height") == close(0.038 * scale, kPixel, 0));
  CHECK(studs.at(1).number("height") == close(0.022 * scale, kPixel, 0));
}

TEST_CASE("section: coatings are drawn thicker by the factor that is named, and thin with time") {
  const Run run = run_of({});
  const auto g = section_geometry(run.summary);
  REQUIRE(g.has_value());
  const double factor = coating_factor(*g);
  CHECK(factor >= 5);
  const auto drawn = [&](std::size_t row) {
    const Markup m(section("x", *g, run, row, {System::Si, true}));
    return m.all("rect", "film").at(2).number("width"); // of the second layer
  };
  const auto recorded = [&](std::size_t row) {
    return run.layer_thickness[(row * 10 + run.summary.budget.weakest_stud) * 2 + 1];
  };
  for (const std::size_t row : {std::size_t{0}, run.rows() - 1}) {
    CHECK(drawn(row) == close(recorded(row) * factor * section_scale(*g), kPixel, 0));
  }
  CHECK(drawn(run.rows() - 1) < drawn(0));
  // In their part, against the face that they are on.
  const Markup m(section("x", *g, run, 0, {System::Si, true}));
  const MarkupElement disc = m.all("rect", "body").at(2);
  const MarkupElement head_side = m.all("rect", "film").at(0);
  const MarkupElement nut_side = m.all("rect", "film").at(2);
  CHECK(head_side.number("x") == close(disc.number("x"), kPixel, 0));
  CHECK(nut_side.number("x") + nut_side.number("width") ==
        close(disc.number("x") + disc.number("width"), 2 * kPixel, 0));
}

TEST_CASE("section: the cone opens from both ends until the two meet or the material ends") {
  const Run run = run_of({});
  auto g = section_geometry(run.summary);
  REQUIRE(g.has_value());
  auto outline = cone_outline(*g);
  REQUIRE(outline.size() == 3);
  CHECK(outline[0].second == close(0.019, 1e-12, 0));
  CHECK(outline[2].second == close(0.023, 1e-12, 0));
  const auto [z, r] = outline[1];
  CHECK(r == close(0.019 + 0.4 * z, 1e-12, 0));
  CHECK(r == close(0.023 + 0.4 * (0.030 - z), 1e-12, 0));
  g->parts[1].pad = 0.050;
  outline = cone_outline(*g);
  REQUIRE(outline.size() == 4);
  CHECK(outline[1].second == close(0.025, 1e-12, 0));
  CHECK(outline[2].second == close(0.025, 1e-12, 0));
  CHECK(outline[1].first == close(0.006 / 0.4, 1e-12, 0));
}

TEST_CASE("section: spring washers have their size, and tints follow the temperatures") {
  DrawnWheel wheel;
  wheel.washers = true;
  const Run run = run_of(wheel);
  const auto g = section_geometry(run.summary);
  REQUIRE(g.has_value());
  CHECK(g->washers() == close(2 * 0.006 + 0.0006, 1e-12, 0));
  const auto hottest = static_cast<std::size_t>(std::max_element(run.temperature.begin(), run.temperature.end()) -
                                                run.temperature.begin());
  const Markup hot(section("x", *g, run, hottest / 3, {System::Si, true}));
  const Markup cold(section("x", *g, run, 0, {System::Si, true}));
  CHECK(hot.all("path", "washer").size() == 4); // two nested, above and below the axis
  const auto tint = [](const Markup& m) { return std::stod(m.all("g", "heat").at(0).get("style").substr(8)); };
  CHECK(tint(cold) == close(0, 1e-9, 0));
  CHECK(tint(hot) == close((60 + 40) / (2.0 * (60 + 40)), 0.006, 0)); // the hub is half as hot as the drum
}

TEST_CASE("section: a history without the figures has no section") {
  DrawnWheel wheel;
  wheel.geometry = false;
  CHECK_FALSE(section_geometry(run_of(wheel).summary).has_value());
}

TEST_CASE("section: sizes that give no scale are not drawn, and washers are not counted for ever") {
  DrawnWheel wheel;
  wheel.washers = true;
  const Run sound = run_of(wheel);
  const auto with = [&](const char* name, double value) {
    Summary summary = sound.summary;
    for (Figure& f : summary.joint) {
      if (f.name == name) {
        f.values.assign(f.values.size(), value);
      }
    }
    return section_geometry(summary);
  };
  using limits = std::numeric_limits<double>;
  CHECK_FALSE(with("geometry/stud_diameter", 0).has_value());
  CHECK_FALSE(with("geometry/part_thickness", 1e-308).has_value());
  CHECK_FALSE(with("cone/tangent", limits::infinity()).has_value());
  for (const char* name :
       {"geometry/stud_diameter", "geometry/stud_shank", "geometry/part_hole", "geometry/washer_outer",
        "geometry/layer_thickness", "cone/diameter", "thread/d3", "grip_length"}) {
    CAPTURE(name);
    for (const double value : {limits::quiet_NaN(), limits::infinity(), -0.02, 1e300}) {
      CHECK_FALSE(with(name, value).has_value());
    }
    CHECK(with(name, 0.02).has_value());
  }
  for (const double value : {-1.0, limits::quiet_NaN(), 1e300}) {
    CAPTURE(value);
    const auto g = with("geometry/washer_series", value);
    REQUIRE(g.has_value());
    CHECK(g->washer_series <= 100);
  }
}

TEST_CASE("tightening: every act is a dot, and each stud's loss to later acts has its number") {
  const Run run = run_of({});
  const Markup m(tightening_sequence("t", run, {System::Si, true}));
  CHECK(m.all("circle", "act").size() == 20 + 1); // and one in the legend
  const auto taken = m.all("rect", "taken");
  REQUIRE(taken.size() == 10);
  std::vector<double> told;
  for (const MarkupElement& q : m.all("tspan", "q")) {
    if (q.get("data-kind") == "force" && q.get("data-bare") == "1") {
      told.push_back(q.number("data-si"));
    }
  }
  REQUIRE(told.size() == 10);
  CHECK(told[0] == close(180e3 - 182e3, 1e-6, 0));
  CHECK(told[9] == close(180.9e3 - 182e3, 1e-6, 0));
  CHECK(taken[9].number("height") / taken[0].number("height") == close(1100.0 / 2000, 0.01, 0));
}

TEST_CASE("tightening: without acts there is nothing to draw") {
  Run run = run_of({});
  run.acts.clear();
  CHECK(tightening_sequence("t", run, {}).empty());
}

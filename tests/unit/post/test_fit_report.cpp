// The report of a fit: text, tables and page are true to the file, readable in both units, never without cautions.
#include "post/drawing/xy_chart.hpp"
#include "post/fit_text.hpp"
#include "post/page_fit.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/fit_file.hpp"

#include "tests/support/close.hpp"
#include "tests/support/fit_file_example.hpp"
#include "tests/support/markup.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <filesystem>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

FitFile example() {
  FitFile file;
  file.path = "fit.h5";
  file.fit = fit_file_example();
  return file;
}

const Cell& at(const LongTable& table, const std::string& column, std::size_t row) {
  for (const Column& c : table.columns) {
    if (c.name == column) {
      return c.cells.at(row);
    }
  }
  throw std::out_of_range(column);
}
double real(const LongTable& table, const std::string& column, std::size_t row) {
  return std::get<double>(at(table, column, row));
}

} // namespace

TEST_CASE("report of a fit: the text tells values, intervals, bounds, the farthest readings and the block") {
  const std::string text = to_text(example(), System::Si, false);
  const std::string words = flat(text);
  CHECK(has(words, "Paint compaction cold is 0.0695, with 95 % confidence 0.0545 to 0.089.")); // by the profile
  CHECK(has(words, "Default embedding is 8 µm, with 95 % confidence 5 to 8 µm; it stands at its bound"));
  CHECK(has(words, "5 readings, 3 values: chi-square 97.2 for 2 degrees of freedom"));
  CHECK(has(words, "errors that were found from the residuals"));
  CHECK(has(words, "57.9 °C"));
  CHECK(has(words, "3.6 K"));
  CHECK(has(text, "provenance"));
  CHECK(has(text, "compaction_cold: 0.0695\n"));
  CHECK(has(words, "an invented warning"));
  CHECK(has(words, "no run"));
  for (const std::string_view caution : cautions()) {
    CHECK(has(words, std::string(caution)));
  }
  // The reading that is farthest off leads its table.
  const std::size_t table = text.find("farthest off");
  REQUIRE(table != std::string::npos);
  CHECK(text.find("-9.67", table) < text.find("-1.25", table));
  CHECK(farthest(fit_file_example()).front() == 1);
  CHECK(has(flat(to_text(example(), System::Us, false)), "136.2 °F"));
  FitFile open = example();
  open.fit.parameters[2].low = open.fit.values[2].low; // at its upper bound, but its interval reaches the other too
  open.fit.values[2].error = kFitUnknown;
  const std::string of_open = flat(to_text(open, System::Si, false));
  CHECK(has(of_open,
            "Default embedding is 8 µm, with 95 % confidence 5 to 8 µm; that spans its bounds, so the readings "
            "do not fix it."));
  CHECK_FALSE(has(of_open, "ask for more room"));
  CHECK(has(of_open, "default embedding 8 µm 5 to 8 µm - "));
  FitFile given = example();
  given.fit.found_error.fill(kFitUnknown);
  CHECK(has(flat(to_text(given, System::Si, false)), "more than the errors given allow"));
  given.fit.widened = 1;
  CHECK(has(flat(to_text(given, System::Si, false)), "as the errors given let one expect"));
}

TEST_CASE("report of a fit: tables keep the numbers, and convert a deviation as a difference") {
  const FitResult fit = fit_file_example();
  const LongTable readings = fit_table(fit, {}, std::nullopt);
  CHECK(readings.rows() == 5);
  CHECK(real(readings, "value", 3) == 342);
  CHECK(real(readings, "error", 3) == close(0.8, 1e-10, 0));
  CHECK(std::get<std::string>(at(readings, "unit", 3)) == "K");
  CHECK(std::holds_alternative<std::monostate>(at(readings, "stud", 0)));
  CHECK(real(readings, "stud", 2) == 2); // from 1, for people
  CHECK(real(readings, "clamp", 2) == 161e3);
  CHECK(std::get<std::string>(at(readings, "note", 1)) == "after the wrench slipped");
  const LongTable us = fit_table(fit, {"readings"}, System::Us);
  CHECK(real(us, "value", 3) == close(342 * 1.8 - 459.67, 1e-9, 0));
  CHECK(real(us, "error", 3) == close(1.44, 1e-9, 0));
  CHECK(real(us, "standardised", 3) == -1.25);
  CHECK(real(us, "clamp", 2) == close(161e3 / 4.4482216152605, 0, 1e-12));
  const LongTable values = fit_table(fit, {"values"}, System::Si);
  CHECK(std::get<std::string>(at(values, "unit", 2)) == "µm");
  CHECK(real(values, "high", 2) == close(8, 0, 1e-12));
  CHECK(real(values, "at_bound", 2) == 1);
  CHECK(real(values, "standard_error", 1) == close(3.6, 1e-9, 0));
  const LongTable curves = fit_table(fit, {"curves"}, std::nullopt);
  CHECK(curves.rows() == 3 + 3 + 2 + 2);
  CHECK(real(curves, "value", 2) == 177e3);
  CHECK(real(curves, "time", 2) == 86400);
  CHECK(fit_table(fit, {"starts"}, std::nullopt).rows() == 6);
  CHECK(fit_table(fit, {"profiles"}, std::nullopt).rows() == 5);
  CHECK_THROWS_AS(fit_table(fit, {"reading"}, std::nullopt), std::invalid_argument);
  CHECK_THROWS_AS(fit_table(fit, {"readings", "values"}, std::nullopt), std::invalid_argument);
  const auto document = nlohmann::json::parse(to_json(example()));
  CHECK(document["values"][2]["at_bound"] == true);
  CHECK(document["values"][2]["profile_low"].is_null());
  CHECK(document["readings"][1]["weight"] == 0.14);
  CHECK(document["correlation"][0][1] == 0.65);
}

TEST_CASE("page of a fit: one data set is one") {
  FitFile file = example();
  CHECK(has(fit_page(file, System::Si), "2 data sets"));
  file.fit.sets.pop_back();
  for (FitReading& r : file.fit.readings) {
    r.set = 0;
  }
  for (FitCurve& c : file.fit.curves) {
    c.set = 0;
    c.value.resize(3, 1);
  }
  const std::string page = fit_page(file, System::Si);
  CHECK(has(page, "1 data set"));
  CHECK_FALSE(has(page, "1 data sets"));
}

TEST_CASE("page of a fit: well-formed, in both units, with every section, every reading and the cautions") {
  for (const System system : {System::Si, System::Us}) {
    FitFile file = example();
    file.fit.sets[0].title = "<b>Bare</b> & \"bold\"";
    const Markup page(fit_page(file, system));
    CHECK(page.all("b").empty());
    std::string text;
    for (const MarkupElement& e : page.all("body")) {
      text += flat(e.text);
    }
    for (const std::string_view caution : cautions()) {
      CHECK(has(text, std::string(caution)));
    }
    for (const char* section :
         {"finding", "warnings", "values", "model", "profiles", "block", "readings", "starts", "computed"}) {
      CAPTURE(section);
      bool there = false;
      for (const MarkupElement& e : page.elements) {
        there = there || e.get("id") == section;
      }
      CHECK(there);
    }
    CHECK(has(text, "source: \"x <y>\""));
    CHECK(has(text, std::string(12, 'a')));
    for (const char* wrong : {"nan", "inf"}) {
      for (const MarkupElement& e : page.elements) {
        if (e.name == "td" || e.name == "text" || e.name == "dd") {
          CHECK_FALSE(has(e.text, wrong));
        }
      }
    }
  }
  // One bar of errors for each reading in the charts of readings; the outlier is hollow there and among the residuals.
  const Markup page(fit_page(example(), System::Si));
  CHECK(page.all("line", "error").size() == 5);
  CHECK(page.all("circle", "ring").size() == 2);
  // A fit without profiles and with one value has neither section nor correlations.
  FitFile one = example();
  one.fit.parameters.resize(1);
  one.fit.values.resize(1);
  one.fit.values[0].profile_value = one.fit.values[0].profile_rise = {};
  one.fit.values[0].profile_low = one.fit.values[0].profile_high = kFitUnknown;
  one.fit.correlation = {1};
  one.fit.warnings.clear();
  const std::string short_page = fit_page(one, System::Si);
  CHECK_FALSE(has(short_page, "Correlations of the values"));
  CHECK_FALSE(has(short_page, "id=\"profiles\""));
}

TEST_CASE("xy chart: points, bars and levels stand where their numbers say") {
  XyChart chart;
  chart.id = "c";
  chart.y_name = "Clamp";
  chart.y_kind = Kind::Force;
  XySeries s;
  s.x = {0, 1, 3};
  s.y = {100e3, 140e3, NAN};
  s.error = {10e3, NAN, 5e3};
  chart.series = {s};
  chart.levels = {{"limit", 120e3}};
  const Markup svg(draw(chart, Units{}));
  const auto dots = svg.all("circle", "dot");
  REQUIRE(dots.size() == 2); // no name, so no sign in the legend
  const double scale = (dots[0].number("cy") - dots[1].number("cy")) / 40e3;
  CHECK(scale > 0);
  const auto bars = svg.all("line", "error");
  REQUIRE(bars.size() == 1);
  CHECK(bars[0].number("y1") - bars[0].number("y2") == close(20e3 * scale, 0.15, 0));
  CHECK(bars[0].number("x1") == close(dots[0].number("cx"), 0.01, 0));
  const auto levels = svg.all("line", "mark");
  REQUIRE(levels.size() == 1);
  CHECK(levels[0].number("y1") == close((dots[0].number("cy") + dots[1].number("cy")) / 2, 0.11, 0));
  chart.series.front().y = {NAN, NAN, NAN};
  CHECK(has(draw(chart, Units{}), "nothing to draw"));
  chart.series.front().y = {5, NAN, NAN}; // one point alone
  CHECK(Markup(draw(chart, Units{})).all("circle", "dot").size() == 1);
}

TEST_CASE("fit page: a file with a reading at no time is refused as damaged, and its summary is still there") {
  const TmpDir dir;
  FitResult fit = fit_file_example();
  fit.readings[1].time = NAN;
  FitWriter(dir / "f.h5").write(fit);
  const auto report = [](const std::string& arguments) { return run_cli(quote(CLAMPFADE_REPORT) + " " + arguments); };
  const CliResult page = report("page " + quote(dir / "f.h5") + " -o " + quote(dir / "f.html"));
  CHECK(page.exit == 4);
  CHECK(has(page.err, "the file holds what cannot be drawn"));
  CHECK_FALSE(std::filesystem::exists(dir / "f.html"));
  CHECK(report("summary " + quote(dir / "f.h5")).exit == 0);
}

TEST_CASE("early time: grows, gives hours their room, and its ticks keep apart") {
  const EarlyTime scale(1800, 21 * 86400);
  CHECK(scale(0) == 0);
  CHECK(scale(3600) > 0.1 * scale(21 * 86400));
  const std::vector<XyTick> ticks = scale.ticks();
  REQUIRE(ticks.size() > 4);
  CHECK(ticks.front().text.si == "0");
  for (std::size_t i = 1; i < ticks.size(); ++i) {
    CHECK(ticks[i].at - ticks[i - 1].at >= 0.07 * scale(21 * 86400));
    CHECK(ticks[i].at <= scale(21 * 86400));
  }
}

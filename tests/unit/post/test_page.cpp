// The page as a whole: well-formed, self-contained, true to the summary, small.
#include "post/alarms.hpp"
#include "post/charts.hpp"
#include "post/figure.hpp"
#include "post/page.hpp"
#include "post/page_data.hpp"
#include "post/sentences.hpp"
#include "post/web.hpp"

#include "solver/diagnostics.hpp"

#include "tests/support/close.hpp"
#include "tests/support/drawn_wheel.hpp"
#include "tests/support/markup.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <sstream>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;
using nlohmann::json;

namespace {

Run run_of(const DrawnWheel& wheel) {
  const TmpDir dir;
  write_drawn(dir / "wheel.h5", wheel);
  return read_run(History(dir / "wheel.h5"));
}

json data_of(const Markup& page) {
  for (const MarkupElement& script : page.all("script")) {
    if (script.get("id") == "data") {
      return json::parse(script.text);
    }
  }
  FAIL("no data");
  return {};
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
    ++n;
  }
  return n;
}

Kind kind_of_name(const std::string& name) {
  for (const Kind kind : {Kind::Force, Kind::Torque, Kind::Temperature, Kind::Distance, Kind::Thickness, Kind::Length,
                          Kind::Stress, Kind::Resilience, Kind::Power, Kind::Duration}) {
    if (kind_name(kind) == name) {
      return kind;
    }
  }
  return Kind::Number;
}

} // namespace

TEST_CASE("page: it is well-formed in both systems, with every section and no number that is none") {
  DrawnWheel wheel;
  wheel.retorque = 10;
  wheel.removed = 20;
  const Run run = run_of(wheel);
  for (const System system : {System::Si, System::Us}) {
    const std::string html = page(run, system);
    const Markup m(html);
    const std::size_t body = html.find("<body>");
    const std::string visible = html.substr(body, html.find("<script", body) - body);
    CHECK(visible.find(">nan") == std::string::npos);
    CHECK(visible.find("\"nan") == std::string::npos);
    CHECK(visible.find("inf\"") == std::string::npos);
    // What the numerics were asked for.
    const auto rows = m.all("tr");
    CHECK(
        std::any_of(rows.begin(), rows.end(), [](const MarkupElement& e) { return e.text == "resolutionevery-stop"; }));
    CHECK(m.all("html").at(0).get("data-units") == (system == System::Si ? "si" : "us"));
    CHECK(m.all("main").size() == 1);
    CHECK(m.all("h1").size() == 1);
    CHECK(m.all("section").size() == m.all("h2").size() - 1); // the footer has one too
    CHECK(m.all("section").size() >= 11);
    for (const MarkupElement& svg : m.all("svg")) {
      CHECK(svg.get("role") == "img");
    }
    // Whatever points to an id finds it.
    std::set<std::string> ids;
    for (const MarkupElement& e : m.elements) {
      ids.insert(e.get("id"));
    }
    for (const MarkupElement& a : m.all("a")) {
      CHECK(ids.count(a.get("href").substr(1)) == 1);
    }
    for (const MarkupElement& e : m.elements) {
      const std::string by = e.get("aria-labelledby");
      CHECK((by.empty() || ids.count(by.substr(0, by.find(' '))) == 1));
    }
  }
}

TEST_CASE("page: no title, source or warning becomes markup or script") {
  DrawnWheel wheel;
  wheel.title = "</title></script><script>alert(\"1\")</script> & 'more'";
  wheel.node = "</script><script>alert(2)</script><!--";
  const std::string html = page(run_of(wheel), System::Si);
  const Markup m(html);
  CHECK(count(html, "<script>alert") == 0);
  CHECK(m.all("script").size() == 3);
  CHECK(m.all("h1").at(0).text.find("</title></script><script>alert(\"1\")</script> & 'more'") == 0);
  CHECK(m.all("b").empty());
  // The data survive it.
  const json data = data_of(m);
  CHECK(data["charts"].size() == 4);
  CHECK(data["charts"]["temperature"]["variants"][0]["lines"][0]["name"] == wheel.node);
}

TEST_CASE("page: it asks for nothing from elsewhere") {
  const std::string html = page(run_of({}), System::Si);
  const Markup m(html);
  for (const MarkupElement& e : m.elements) {
    for (const char* name : {"src", "srcset", "action", "data", "poster"}) {
      CHECK(e.attributes.count(name) == 0);
    }
    CHECK((e.get("href").empty() || e.get("href")[0] == '#'));
    CHECK(e.name != "link");
    CHECK(e.name != "iframe");
  }
  CHECK(count(html, "sourceMappingURL") == 0);
  CHECK(count(html, "@import") == 0);
  CHECK(count(html, "url(http") == 0);
  bool policy = false;
  for (const MarkupElement& meta : m.all("meta")) {
    policy = policy || (meta.get("http-equiv") == "Content-Security-Policy" &&
                        meta.get("content").find("default-src 'none'") == 0);
  }
  CHECK(policy);
  // Before anything that it is to guard.
  CHECK(html.find("Content-Security-Policy") < html.find("<style"));
  CHECK(html.find("MIT") != std::string::npos); // the chart library's licence stays with it
}

TEST_CASE("page: the cautions stand under the finding and at the end") {
  const std::string html = page(run_of({}), System::Si);
  for (const std::string_view caution : cautions()) {
    CHECK(count(html, escape(caution)) == 2);
  }
  CHECK(html.find("class=\"cautions\"") < html.find("id=\"clamp-over-time\""));
}

TEST_CASE("page: the finding carries the summary's numbers") {
  DrawnWheel wheel;
  wheel.required = 150e3;
  const Run run = run_of(wheel);
  REQUIRE(run.summary.finding.first_below.has_value());
  const Markup m(page(run, System::Us));
  std::vector<double> values;
  for (const MarkupElement& q : m.all("span", "q")) {
    if (m.parent(q).name == "dd" && m.parent(q).is("value")) {
      values.push_back(q.number("data-si"));
    }
  }
  REQUIRE(values.size() == 2);
  CHECK(values[0] == run.summary.finding.lowest_clamp_cold);
  CHECK(values[1] == *run.summary.finding.required_clamp);
  CHECK(m.all("dd", "value").at(2).text == duration(run.summary.finding.first_below->time));
  const MarkupElement gauge = m.all("div", "gauge").at(0);
  CHECK(gauge.is("below"));
  const double fill = std::stod(m.all("span", "fill").at(0).get("style").substr(6));
  const double need = std::stod(m.all("span", "need").at(0).get("style").substr(5));
  CHECK(fill / need == close(values[0] / values[1], 0.001, 0));
}

TEST_CASE("page: every number with a unit is its SI value in the units that the page opens with") {
  DrawnWheel wheel;
  wheel.retorque = 10;
  wheel.washers = true;
  const Run run = run_of(wheel);
  for (const System system : {System::Si, System::Us}) {
    const Markup m(page(run, system));
    std::size_t checked = 0;
    for (const MarkupElement& q : m.elements) {
      if (!q.is("q")) {
        continue;
      }
      const Kind kind = kind_of_name(q.get("data-kind"));
      const double si = q.number("data-si");
      const bool bare = q.get("data-bare") == "1";
      std::string expected;
      if (q.get("data-fixed") == "1") {
        expected = Markup(fixed_quantity(si, kind, system, "i", bare)).elements[0].text;
      } else {
        const int digits = std::stoi(q.get("data-digits"));
        expected = bare ? plain(si, kind, system, digits) : show(si, kind, system, digits);
      }
      CHECK(q.text == expected);
      ++checked;
    }
    CHECK(checked > 150);
    // Columns without units beside their numbers name them in their heading.
    for (const MarkupElement& u : m.all("span", "u")) {
      CHECK(u.text == unit(kind_of_name(u.get("data-kind")), system));
    }
  }
}

TEST_CASE("page: the script's factors make the numbers that the program writes") {
  const json units_data = json::parse(units_json());
  for (const Kind kind : {Kind::Force, Kind::Torque, Kind::Temperature, Kind::Distance, Kind::Thickness, Kind::Length,
                          Kind::Stress, Kind::Resilience, Kind::Power, Kind::Duration, Kind::Number}) {
    for (const System system : {System::Si, System::Us}) {
      const json& u = units_data[std::string(kind_name(kind))][system == System::Si ? "si" : "us"];
      for (const double si : {0.0, 3.7, 91234.5}) {
        CHECK(si * u["scale"].get<double>() + u["offset"].get<double>() ==
              close(convert(si, kind, system), 1e-9, 1e-9));
      }
      CHECK(u["unit"] == unit(kind, system));
    }
  }
}

TEST_CASE("page: data hold every stud, node, coating and the ends and extremes of what they leave out") {
  DrawnWheel wheel;
  wheel.days = 200;
  wheel.retorque = 50;
  const Run run = run_of(wheel);
  REQUIRE(run.rows() > 4000);
  const json data = data_of(Markup(page(run, System::Si)));
  const json& clamp = data["charts"]["clamp"]["variants"][0];
  const std::size_t n = clamp["axes"][0]["t"].size();
  CHECK(n <= 2000);
  CHECK(n > 500);
  CHECK(clamp["axes"][0]["d"].size() == n);
  REQUIRE(clamp["lines"].size() == 10 + 1); // and the weakest as it is
  for (std::size_t stud = 0; stud < 10; ++stud) {
    const auto y = clamp["lines"][stud]["y"].get<std::vector<double>>();
    REQUIRE(y.size() == n);
    double low = 1e9;
    double high = 0;
    for (std::size_t row = 0; row < run.rows(); ++row) {
      low = std::min(low, run.clamp_cold[row * 10 + stud]);
      high = std::max(high, run.clamp_cold[row * 10 + stud]);
    }
    CHECK(*std::min_element(y.begin(), y.end()) == close(low, 0, 6e-5));
    CHECK(*std::max_element(y.begin(), y.end()) == close(high, 0, 6e-5));
    CHECK(y.back() == close(run.clamp_cold[(run.rows() - 1) * 10 + stud], 0, 6e-5));
  }
  // Both records of the retorque are there.
  const auto t = clamp["axes"][0]["t"].get<std::vector<double>>();
  CHECK(std::count(t.begin(), t.end(), 50 * kDrawnDay) == 2);
  CHECK(t.front() == 0);
  CHECK(t.back() == 200 * kDrawnDay);
  CHECK(std::is_sorted(t.begin(), t.end()));
  CHECK(data["charts"]["coating"]["variants"][0]["lines"].size() == 2);
  const json& days = data["charts"]["temperature"]["variants"];
  CHECK(days.size() <= 14);
  CHECK(days.size() >= 10);
  CHECK(days[0]["name"] == "day 6 (hottest)");
  CHECK(days[0]["lines"].size() == 3);
  CHECK(days[0]["axes"][0]["t"].size() == 25); // midnight to midnight
  CHECK(days[0]["axes"][0]["t"][24] == 86400);
  const json& moments = data["moments"]["moment"];
  const std::size_t k = moments["t"].size();
  CHECK(k <= 210);
  CHECK(k >= 100);
  CHECK(moments["clamp"].size() == 10);
  CHECK(moments["temperature"].size() == 3);
  CHECK(moments["layer"].size() == 2);
  // Films are those of the weakest stud, here and in their chart.
  const std::size_t weakest = run.summary.budget.weakest_stud;
  REQUIRE(weakest == 9);
  const double film = run.layer_thickness[((run.rows() - 1) * 10 + weakest) * 2 + 1];
  CHECK(moments["layer"][1].back().get<double>() == close(film, 0, 1e-4));
  CHECK(data["charts"]["coating"]["variants"][0]["lines"][1]["y"].back().get<double>() == close(film, 0, 1e-4));
  CHECK(moments["weakest"]["left"].back().get<double>() == close(run.summary.budget.weakest.end, 1, 0));
  CHECK(moments["mean"]["left"].back().get<double>() == close(run.summary.budget.mean.end, 1, 0));
  for (const char* whose : {"weakest", "mean"}) {
    const json& b = moments[whose];
    for (std::size_t i = 0; i < k; ++i) {
      double left = b["first"].get<double>() + b["gain"][i].get<double>();
      for (const json& force : b["force"]) {
        left -= force[i].get<double>();
      }
      CHECK(left == close(b["left"][i].get<double>(), 8, 0)); // numbers of five digits
    }
  }
}

TEST_CASE("page: a year of hourly records stays below two megabytes") {
  DrawnWheel wheel;
  wheel.days = 365;
  wheel.retorque = 10;
  const Run run = run_of(wheel);
  REQUIRE(run.rows() > 8760);
  const std::string html = page(run, System::Si);
  MESSAGE("bytes: ", html.size());
  CHECK(html.size() < 2000000);
}

TEST_CASE("page: rows chosen keep the extremes of every guide, also single records") {
  Run run;
  for (std::size_t row = 0; row < 10000; ++row) {
    run.time.push_back(static_cast<double>(row));
    run.distance.push_back(0);
    run.clamp.push_back(row == 4321 ? -5 : row == 2222 ? 5 : std::sin(static_cast<double>(row) / 50));
    run.slip_margin.push_back(row == 7777 ? 9 : std::numeric_limits<double>::infinity());
  }
  const std::vector<std::size_t> rows = choose_rows(run, {&run.clamp, &run.slip_margin}, 500);
  CHECK(rows.size() <= 500);
  CHECK(rows.size() > 250);
  for (const std::size_t row :
       {std::size_t{0}, std::size_t{2222}, std::size_t{4321}, std::size_t{7777}, std::size_t{9999}}) {
    CHECK(std::binary_search(rows.begin(), rows.end(), row));
  }
  CHECK(choose_rows(run, {&run.clamp}, 20000).size() == 10000);
}

TEST_CASE("page: both records of one time are chosen even where nothing else tells them apart") {
  Run run;
  for (std::size_t row = 0; row < 3000; ++row) {
    run.time.push_back(static_cast<double>(row == 1234 ? 1233 : row));
    run.distance.push_back(0);
    run.clamp.push_back(1);
  }
  const std::vector<std::size_t> rows = choose_rows(run, {&run.clamp}, 10);
  CHECK(rows.size() <= 10);
  CHECK(std::binary_search(rows.begin(), rows.end(), std::size_t{1233}));
  CHECK(std::binary_search(rows.begin(), rows.end(), std::size_t{1234}));
}

TEST_CASE("page: studs that are alike share a line with all their numbers") {
  DrawnWheel wheel;
  wheel.studs = 3;
  Run run = run_of(wheel);
  for (std::size_t row = 0; row < run.rows(); ++row) {
    run.clamp[row * 3 + 2] = run.clamp[row * 3];
    run.clamp_cold[row * 3 + 2] = run.clamp_cold[row * 3];
  }
  run.summary.same_as = {0, 1, 0};
  const Chart chart = clamp_chart(run);
  REQUIRE(chart.variants[0].lines.size() == 3);
  CHECK(chart.variants[0].lines[0].name == "studs 1, 3");
  CHECK(chart.variants[0].lines[0].label == "1, 3");
  CHECK(chart.variants[0].lines[1].name == "stud 2");
}

TEST_CASE("page: without geometry, coatings, a required clamp or records it says what is missing") {
  DrawnWheel wheel;
  wheel.geometry = false;
  wheel.layers = false;
  wheel.required = 0;
  const Run run = run_of(wheel);
  const std::string html = page(run, System::Si);
  const Markup m(html);
  CHECK(m.all("svg", "section").empty());
  CHECK(html.find("does not hold the joint's dimensions") != std::string::npos);
  CHECK(html.find("id=\"coatings\"") == std::string::npos);
  CHECK(m.all("div", "gauge").empty());
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "empty.h5");
    RunHeader h;
    h.title = "Nothing yet";
    h.scenario_text = "schema: 1\n";
    h.studs = {"1"};
    h.nodes = {"hub"};
    writer.begin(h);
    writer.end(RunStatus::Stopped, "on request", {});
  }
  const std::string empty = page(read_run(History(dir / "empty.h5")), System::Si);
  const Markup e(empty);
  CHECK(e.all("svg").empty());
  CHECK(empty.find("no record yet") != std::string::npos);
  CHECK(empty.find("RUN STOPPED") != std::string::npos);
  CHECK(count(empty, std::string(cautions()[0])) == 2);
}

TEST_CASE("page: alarms and a changed file stand before the finding") {
  DrawnWheel wheel;
  wheel.removed = 10;
  Run run = run_of(wheel);
  REQUIRE_FALSE(run.summary.alarms.empty());
  const auto alarms_of = [](const Run& r) {
    std::string all;
    for (const MarkupElement& p : Markup(page(r, System::Si)).all("p", "alarm")) {
      all += p.text + "\n";
    }
    return all;
  };
  const std::string alarms = alarms_of(run);
  for (const Alarm& alarm : run.summary.alarms) {
    CHECK(count(alarms, sentence(alarm, run.summary, System::Si)) == 1);
  }
  CHECK(count(alarms, "THE FILE WAS CHANGED") == 0);
  run.summary.digest = Digest::Wrong;
  CHECK(count(alarms_of(run), "THE FILE WAS CHANGED") == 1);
  const std::string html = page(run, System::Si);
  CHECK(html.find("THE FILE WAS CHANGED") < html.find("Lowest cold clamp"));
}

TEST_CASE("page: every stud's row has what it lost") {
  const Run run = run_of({});
  const Markup m(page(run, System::Si));
  std::size_t rows = 0;
  for (const MarkupElement& row : m.all("tr")) {
    const bool of_studs = m.parent(m.parent(row)).get("aria-label") == "Stud by stud at the last record";
    if (!of_studs || m.parent(row).name != "tbody") {
      continue;
    }
    const StudLine& line = run.summary.stud_lines.at(rows++);
    const std::string lost = number(100 * (1 - line.end_clamp_cold / line.first_clamp_cold), 3);
    std::size_t cells = 0;
    for (const MarkupElement& cell : m.all("td")) {
      cells += cell.text == lost && m.parent(cell).text == row.text ? 1U : 0U;
    }
    CAPTURE(line.name);
    CHECK(cells == 1);
  }
  CHECK(rows == 10);
}

TEST_CASE("page: a sentence is there in both systems of units") {
  const Run run = run_of({});
  const std::string html = page(run, System::Si);
  for (const System system : {System::Si, System::Us}) {
    CHECK(count(html, escape(finding_sentence(run.summary, system))) == 1);
  }
}

TEST_CASE("page: values at the ends of what a double holds are written into a chart's data") {
  Chart chart;
  chart.id = "ends";
  const std::vector<double> values = {0, std::numeric_limits<double>::denorm_min(), 1e-308,
                                      std::numeric_limits<double>::max(), std::numeric_limits<double>::infinity()};
  chart.variants = {{"", {{{0, 1, 2, 3, 4}, {0, 1, 2, 3, 4}}}, {{"line", "", values}}}};
  const std::string data = chart_json(chart);
  // To five digits; what is rounded beyond the largest double is told like what is no number.
  CHECK(data.find("[0.0,5e-324,1e-308,null,null]") != std::string::npos);
}

TEST_CASE("charts: a record at midnight belongs to the day that ends with it") {
  DrawnWheel wheel;
  wheel.days = 9;
  Run run = run_of(wheel);
  for (std::size_t row = 0; row < run.rows(); ++row) {
    // The lowest of every day stands at its very end, lower from day to day.
    run.slip_margin[row] = row % 24 == 0 ? 2 - 0.01 * static_cast<double>(row / 24) : 3;
  }
  const Chart chart = slip_margin_chart(run);
  REQUIRE(chart.variants.at(0).lines.size() == 2);
  const std::vector<double>& lowest = chart.variants[0].lines[1].y;
  REQUIRE(lowest.size() == 9);
  for (std::size_t day = 0; day < 9; ++day) {
    CHECK(lowest[day] == close(2 - 0.01 * static_cast<double>(day + 1), 1e-12, 0));
  }
}

TEST_CASE("page: several runs stand in one page without crossing ids") {
  const Run a = run_of({});
  DrawnWheel wheel;
  wheel.retorque = 5;
  const Run b = run_of(wheel);
  PageBuilder builder("Two runs", {System::Si, true});
  add_run(builder, a, "a-");
  add_run(builder, b, "b-");
  const Markup m(builder.html()); // throws for an id used twice
  const json data = data_of(m);
  CHECK(data["charts"].size() == 8);
  CHECK(data["moments"].size() == 2);
}

TEST_CASE("page: a moment is told in days and hours") {
  CHECK(moment_text(0, 0, System::Si) == "right after tightening, 0 km");
  CHECK(moment_text(1.58, 26.4, System::Si) == "1.58 s after tightening, 0.02640 km");
  CHECK(moment_text(1800, 0, System::Si) == "0:30 h after tightening, 0 km");
  CHECK(moment_text(86400 + 13 * 3600, 62e3, System::Si) == "1 day and 13:00 h after tightening, 62.00 km");
  CHECK(moment_text(56.5 * 86400, 2549e3, System::Us) == "56 days and 12:00 h after tightening, 1584 mi");
}

TEST_CASE("figure: every chart is a document of its own, without colours left open") {
  const Run run = run_of({});
  for (const std::string& name : figure_names()) {
    for (const System system : {System::Si, System::Us}) {
      FigureOptions options;
      options.chart = name;
      options.system = system;
      options.along = Along::Distance;
      options.width = 640;
      CAPTURE(name);
      const std::string svg = figure_svg(run, options);
      const Markup m(svg);
      CHECK(svg.rfind("<?xml", 0) == 0);
      CHECK(svg.find("var(") == std::string::npos);
      CHECK(m.elements[0].name == "svg");
      CHECK(m.elements[0].get("width") == "640");
      CHECK(m.elements[0].number("height") > 100);
      // White to every edge, also where whole pixels stretch the box by a part of one.
      const MarkupElement paper = m.all("rect").at(0);
      CHECK(paper.get("fill") == "#ffffff");
      CHECK(paper.number("x") < 0);
      CHECK(paper.number("y") < 0);
      std::istringstream box(m.elements[0].get("viewBox"));
      double left = 0;
      double top = 0;
      double width = 0;
      double height = 0;
      box >> left >> top >> width >> height;
      REQUIRE_FALSE(box.fail());
      CHECK(paper.number("x") + paper.number("width") > width);
      CHECK(paper.number("y") + paper.number("height") > height);
      CHECK(m.elements[0].number("height") == close(640 * height / width, 0.51, 0)); // the picture keeps its shape
      CHECK(m.all("style").size() == 1);
      CHECK(svg.find(system == System::Si ? "lbf" : "kN") == std::string::npos);
    }
  }
  FigureOptions unknown;
  unknown.chart = "no such";
  CHECK_THROWS_AS(static_cast<void>(figure_svg(run, unknown)), std::invalid_argument);
}

TEST_CASE("figure: colours are those of light paper") {
  CHECK(resolved("a { fill: var(--ink); stroke: var(--series-10) }", web::colours_css()) ==
        "a { fill: #1b2430; stroke: #6b7683 }");
}

TEST_CASE("figure: PNG has the size asked for, or is refused in words") {
  FigureOptions options;
  options.width = 500;
  const std::string svg = figure_svg(run_of({}), options);
  if (!can_write_png()) {
    CHECK_THROWS_WITH_AS(static_cast<void>(png(svg, 500)), doctest::Contains("librsvg"), FileError);
    return;
  }
  const std::string bytes = png(svg, 500);
  CHECK(bytes.substr(0, 8) == "\x89PNG\r\n\x1a\n");
  const auto size = [&](std::size_t at) {
    return static_cast<unsigned char>(bytes[at + 2]) * 256 + static_cast<unsigned char>(bytes[at + 3]);
  };
  CHECK(size(16) == 500);
  CHECK(size(20) == 250);
  CHECK_THROWS_AS(static_cast<void>(png("no picture", 500)), FileError);
}

TEST_CASE("page and figure: the commands write files, do not overwrite them, and name what is wrong") {
  const TmpDir dir;
  DrawnWheel wheel;
  wheel.days = 3;
  write_drawn(dir / "wheel.h5", wheel);
  const std::string program = quote(CLAMPFADE_REPORT);
  const std::string history = quote(dir / "wheel.h5");
  const auto run = [&](const std::string& arguments) { return run_cli(program + " " + arguments); };
  CliResult r = run("page " + history + " -o " + quote(dir / "a.html") + " --units us");
  CHECK(r.exit == 0);
  CHECK(r.out.empty());
  const std::string written = read_text(dir / "a.html");
  CHECK(written.find("data-units=\"us\"") != std::string::npos);
  r = run("page " + history + " -o " + quote(dir / "a.html"));
  CHECK(r.exit == 4);
  CHECK(r.err.find("--force") != std::string::npos);
  CHECK(read_text(dir / "a.html") == written);
  CHECK(run("page " + history + " -o " + quote(dir / "a.html") + " --force").exit == 0);
  CHECK(read_text(dir / "a.html") != written);
  CHECK(run("page " + history + " -o " + quote(dir / "wheel.h5") + " --force").exit == 4); // not over the history
  CHECK(run("page " + history + " -o " + quote(dir / "b.html") + " --units metric").exit == 2);
  CHECK(run("page " + quote(dir / "none.h5") + " -o " + quote(dir / "b.html")).exit == 4);
  CHECK(run("figure " + history + " --chart clamp --by distance -o " + quote(dir / "c.svg")).exit == 0);
  CHECK(read_text(dir / "c.svg").find("distance driven, km") != std::string::npos);
  CHECK(run("figure " + history + " --chart clamp -o " + quote(dir / "c.gif")).exit == 2);
  CHECK(run("figure " + history + " --chart curve -o " + quote(dir / "d.svg")).exit == 2);
  CHECK(run("figure " + history + " --chart clamp --width 5 -o " + quote(dir / "d.svg")).exit == 2);
}

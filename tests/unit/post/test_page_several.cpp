// Pages of several runs, of a plan and for teaching: well-formed, true to what they show, never without cautions.
#include "post/page_compare.hpp"
#include "post/page_plan.hpp"

#include "solver/diagnostics.hpp"

#include "tests/support/close.hpp"
#include "tests/support/drawn_wheel.hpp"
#include "tests/support/markup.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;
using nlohmann::json;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::string without_and_late(const std::vector<double>& lowest_of_singles) {
  Plan plan = plan_example();
  for (std::size_t i = 0; i < lowest_of_singles.size(); ++i) {
    plan.cases.at(i + 1).lowest_clamp = lowest_of_singles[i];
  }
  PlanFile file;
  file.plan = plan;
  return lesson_page(file, System::Si);
}

json charts_of(const Markup& page) {
  for (const MarkupElement& script : page.all("script")) {
    if (script.get("id") == "data") {
      return json::parse(script.text).at("charts");
    }
  }
  FAIL("no data");
  return {};
}

void check_cautions(const Markup& page) {
  std::string all;
  for (const MarkupElement& e : page.all("li")) {
    all += e.text + "\n";
  }
  for (const std::string_view caution : cautions()) {
    CHECK(has(all, std::string(caution)));
  }
}

} // namespace

TEST_CASE("page of several runs: a line, a column and a budget for each, their titles made harmless") {
  const TmpDir dir;
  DrawnWheel first;
  first.title = "<b>Bare</b> & \"bold\"";
  DrawnWheel second;
  second.days = 20;
  second.retorque = 10;
  write_drawn(dir / "a.h5", first);
  write_drawn(dir / "b.h5", second);
  std::vector<History> histories;
  std::vector<Run> runs;
  for (const char* name : {"a.h5", "b.h5"}) {
    histories.emplace_back(dir / name);
    runs.push_back(read_run(histories.back()));
  }
  const Comparison comparison = compare(histories);
  for (const System system : {System::Si, System::Us}) {
    const Markup page(compare_page(comparison, runs, system));
    CHECK(page.all("b").empty());
    check_cautions(page);
    const json charts = charts_of(page);
    const json lines = charts.at("clamp").at("variants").at(0).at("lines");
    REQUIRE(lines.size() == 2);
    CHECK(lines.at(0).at("name") == "A: <b>Bare</b> & \"bold\"");
    // Three tables have a column for each run.
    std::size_t tables = 0;
    for (const MarkupElement& row : page.all("tr")) {
      tables += has(row.text, "AB") ? 1U : 0U;
    }
    CHECK(tables >= 2);
    bool unlike = false;
    for (const MarkupElement& p : page.all("p", "alarm")) {
      unlike = unlike || has(p.text, "unlike length");
    }
    CHECK(unlike);
  }
  // The budget's last row is what is left of each run's weakest stud.
  const Markup page(compare_page(comparison, runs, System::Si));
  const auto rows = page.all("tr");
  const auto row = std::find_if(rows.begin(), rows.end(),
                                [](const MarkupElement& e) { return has(e.text, "cold clamp at the end"); });
  REQUIRE(row != rows.end());
  std::vector<double> left;
  for (const MarkupElement& e : page.elements) {
    std::size_t up = e.parent;
    while (up != page.elements[up].parent && page.elements[up].name != "tr") {
      up = page.elements[up].parent;
    }
    if (!e.get("data-si").empty() && page.elements[up].text == row->text) {
      left.push_back(e.number("data-si"));
    }
  }
  REQUIRE(left.size() == 2);
  CHECK(left[0] == close(comparison.all[0].summary.budget.weakest.end, 0.1, 1e-6));
  CHECK(left[1] == close(comparison.all[1].summary.budget.weakest.end, 0.1, 1e-6));
}

TEST_CASE("page of several runs: an alarm stands in the finding of its run, before the clamp that it keeps") {
  const TmpDir dir;
  DrawnWheel torn;
  torn.stress = 1.2;
  write_drawn(dir / "a.h5", {});
  write_drawn(dir / "b.h5", torn);
  std::vector<History> histories;
  std::vector<Run> runs;
  for (const char* name : {"a.h5", "b.h5"}) {
    histories.emplace_back(dir / name);
    runs.push_back(read_run(histories.back()));
  }
  const std::string html = compare_page(compare(histories), runs, System::Si);
  const Markup page(html);
  std::string alarms;
  for (const MarkupElement& p : page.all("p", "alarm")) {
    alarms += p.text + "\n";
  }
  CHECK(has(alarms, "B: STUDS WERE STRETCHED FOR GOOD BY THE WRENCH"));
  CHECK_FALSE(has(alarms, "A: STUDS"));
  const std::vector<MarkupElement> all = page.all("p");
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (has(all[i].text, "STUDS WERE")) {
      CHECK((i + 1 < all.size() && all[i + 1].text.rfind("B: ", 0) == 0));
      CHECK((i + 1 < all.size() && has(all[i + 1].text, "lowest cold clamp")));
    }
  }
  CHECK(has(html, "Real scatter of both"));
}

TEST_CASE("page of a plan and lesson: where the wrench stretches the studs the alarm is the first sentence") {
  PlanFile file;
  file.plan = plan_example();
  for (PlanCase& c : file.plan.cases) {
    c = plan_case({}, 150e3);
    c.utilisation_tightening = 1.1;
  }
  const Markup page(plan_page(file, System::Si));
  REQUIRE_FALSE(page.all("p", "alarm").empty());
  CHECK(has(page.all("p", "alarm").front().text, "STUDS ARE STRETCHED FOR GOOD BY THE WRENCH in every case"));
  for (const MarkupElement& cell : page.all("td")) {
    CHECK(cell.text != "yes");
  }
  file.plan = plan_example();
  file.plan.cases[1].lowest_clamp = 117e3; // better than the later one, so that there is a lesson
  CHECK_FALSE(has(lesson_page(file, System::Si), "STRETCHED FOR GOOD"));
  for (PlanCase& c : file.plan.cases) {
    c.utilisation_tightening = 1.1;
  }
  CHECK(has(lesson_page(file, System::Si), "STRETCHED FOR GOOD"));
}

TEST_CASE("page of several runs: what is no clamp is not drawn, and every required clamp names its runs") {
  const TmpDir dir;
  DrawnWheel first;
  first.removed = 10;
  DrawnWheel second;
  second.required = 150e3;
  write_drawn(dir / "a.h5", first);
  write_drawn(dir / "b.h5", second);
  std::vector<History> histories;
  std::vector<Run> runs;
  for (const char* name : {"a.h5", "b.h5"}) {
    histories.emplace_back(dir / name);
    runs.push_back(read_run(histories.back()));
  }
  const Comparison comparison = compare(histories);
  const json chart = charts_of(Markup(compare_page(comparison, runs, System::Si))).at("clamp");
  const json lines = chart.at("variants").at(0).at("lines");
  for (std::size_t i = 0; i < 2; ++i) {
    const double lowest = comparison.all[i].summary.finding.lowest_clamp_cold;
    CHECK(lowest > 100e3);
    CHECK(lines.at(i).at("y").back().get<double>() == close(lowest, 0, 1e-4));
  }
  const json levels = chart.at("levels");
  REQUIRE(levels.size() == 2);
  CHECK(levels.at(0).at("name") == "required clamp of A");
  CHECK(levels.at(0).at("y") == 120e3);
  CHECK(levels.at(1).at("name") == "required clamp of B");
  CHECK(levels.at(1).at("y") == 150e3);
}

TEST_CASE("page of a plan: the recommendation first, every case in the table and in the chart") {
  PlanFile file;
  file.plan = plan_example();
  file.plan.title = "</script><script>alert(1)</script>";
  const Markup page(plan_page(file, System::Si));
  check_cautions(page);
  CHECK(page.all("script").size() == 3);
  const std::vector<std::string> said = recommendation(file.plan, advise(file.plan), System::Si);
  const std::vector<MarkupElement> paragraphs = page.all("p");
  for (const std::string& sentence : said) {
    CHECK(std::any_of(paragraphs.begin(), paragraphs.end(),
                      [&](const MarkupElement& p) { return has(p.text, sentence); }));
  }
  CHECK(charts_of(page).at("clamp").at("variants").at(0).at("lines").size() == file.plan.cases.size());
  std::size_t cases = 0;
  for (const MarkupElement& row : page.all("tr")) {
    cases += row.text.size() > 2 && row.text.substr(row.text.size() - 2) == "no" ? 1U : 0U;
  }
  CHECK(cases == file.plan.cases.size()); // none of them keeps it
  bool range = false;
  for (const MarkupElement& cell : page.all("td")) {
    range = range || cell.text == "520 to 540"; // the check torques after 40 days
  }
  CHECK(range);
}

TEST_CASE("lesson: never, the retorque that keeps most, and the latest") {
  const Plan plan = plan_example();
  Lesson lesson = choose_lesson(plan);
  // The later of the two also keeps more here: nothing to compare.
  CHECK_FALSE(lesson.once);
  Plan better = plan;
  better.cases.at(1).lowest_clamp = 130e3;
  lesson = choose_lesson(better);
  CHECK(lesson.never == 0);
  CHECK(lesson.once == std::size_t{1});
  CHECK(lesson.late == std::size_t{2});
  better.cases.at(2).status = RunStatus::Failed;
  CHECK_FALSE(choose_lesson(better).late);
}

TEST_CASE("lesson: the loss after the retorque is that of as long a time") {
  Plan plan = plan_example();
  PlanCase& c = plan.cases.at(2);
  c.retorques.front().time = 25 * kPlanDay; // twice that is the second instant of the axis
  c.clamp = {180e3, 171e3, 160e3};
  const auto loss = second_loss(plan, c);
  REQUIRE(loss);
  CHECK(loss->first == close(180e3 - c.retorques.front().clamp_before, 1e-6, 0));
  CHECK(loss->again == close(c.retorques.front().clamp_after - 171e3, 1e-6, 0));
  c.retorques.front().time = 51 * kPlanDay;
  CHECK_FALSE(second_loss(plan, c));
}

TEST_CASE("lesson: three charts of one range, the readings, and what each teaches of its own case") {
  const Markup page(without_and_late({130e3, 115e3}));
  check_cautions(page);
  const json charts = charts_of(page);
  REQUIRE(charts.size() == 3);
  std::size_t own = 0;
  for (const char* id : {"never-clamp", "once-clamp", "late-clamp"}) {
    const json lines = charts.at(id).at("variants").at(0).at("lines");
    REQUIRE(lines.size() == 3); // all three cases, so that the axes are alike
    for (std::size_t k = 0; k < lines.size(); ++k) {
      CHECK(lines.at(k).at("faint").get<bool>() == (k != own)); // its own stands out
    }
    ++own;
  }
  std::string all;
  for (const MarkupElement& p : page.all("p")) {
    all += p.text + "\n";
  }
  CHECK(has(all, "It takes 520.0 to 540.0")); // the late one, also where nobody came
  CHECK(has(all, "It takes 555.0 to 575.0"));
  // The late case fell below after 95 days, long after its retorque: it did not run with too little until then.
  CHECK_FALSE(has(all, "ran with too little"));
  CHECK_FALSE(has(all, "below the required clamp before the wrench came"));
  Plan too_late = plan_example();
  too_late.cases.at(1).lowest_clamp = 130e3;
  too_late.cases.at(2).below_time = 20 * kPlanDay; // its retorque is done after 40.5 days
  PlanFile file;
  file.plan = too_late;
  CHECK(has(lesson_page(file, System::Si), "It ran 20.5 days below the required clamp before the wrench came."));
  CHECK(has(without_and_late({115e3, 110e3}), "Nothing to compare") == false);
  CHECK(has(without_and_late({100e3, 110e3}), "Nothing to compare"));
}

TEST_CASE("lesson: three questions whose answers unfold, by the plan's own numbers") {
  PlanFile file;
  file.plan = plan_example();
  Plan& plan = file.plan;
  plan.cases.at(1).lowest_clamp = 130e3;
  plan.cases.at(2).lowest_clamp = 112.5e3;
  const auto answers = [&] {
    std::vector<std::string> all;
    for (const MarkupElement& d : Markup(lesson_page(file, System::Si)).all("details")) {
      if (d.text.find("?") != std::string::npos) {
        all.push_back(d.text);
      }
    }
    return all;
  };
  std::vector<std::string> told = answers();
  REQUIRE(told.size() == 3);
  CHECK(has(told[0], fmt::format("{:.1f}", plan.cases.at(0).end_clamp / 1e3)));
  CHECK(has(told[0], fmt::format("{:.0f} %", 100 * plan.cases.at(0).end_clamp / plan.first_clamp)));
  const PlanRetorque& r = plan.cases.at(1).retorques.front();
  CHECK(has(told[1], fmt::format("won back {:.2f}", (r.clamp_after - r.clamp_before) / 1e3)));
  CHECK(has(told[2], "So is later better?"));
  CHECK(has(told[2], "No. Of the instants tried"));
  CHECK(has(told[2], "130.0"));
  CHECK(has(told[2], "112.5"));
  CHECK_FALSE(has(told[2], "earliest is not the best"));
  CHECK_FALSE(has(told[2], "before the wrench comes"));
  // An earlier one that keeps less, and a late one that comes too late.
  PlanCase early = plan.cases.at(1);
  early.retorques.front().time /= 4;
  early.lowest_clamp = 121.3e3;
  plan.cases.insert(plan.cases.begin() + 1, early);
  plan.cases.at(3).below_time = plan.cases.at(3).retorques.front().time / 2;
  told = answers();
  REQUIRE(told.size() == 3);
  CHECK(has(told[2], "earliest is not the best"));
  CHECK(has(told[2], "121.3"));
  CHECK(has(told[2], "before the wrench comes"));
}

TEST_CASE("page and lesson: the commands know a plan from a history and spare every input") {
  const TmpDir dir;
  DrawnWheel wheel;
  wheel.days = 3;
  write_drawn(dir / "a.h5", wheel);
  write_drawn(dir / "b.h5", wheel);
  Plan plan = plan_example();
  plan.cases.at(1).lowest_clamp = 130e3;
  PlanWriter(dir / "plan.h5").write(plan);
  const std::string program = quote(CLAMPFADE_REPORT);
  const auto run = [&](const std::string& arguments) { return run_cli(program + " " + arguments); };
  const std::string both = quote(dir / "a.h5") + " " + quote(dir / "b.h5");
  CHECK(run("page " + both + " -o " + quote(dir / "c.html")).exit == 0);
  CHECK(has(read_text(dir / "c.html"), "2 runs compared"));
  CHECK(run("page " + quote(dir / "plan.h5") + " -o " + quote(dir / "p.html")).exit == 0);
  CHECK(has(read_text(dir / "p.html"), "plan of retorques"));
  CHECK(run("lesson " + quote(dir / "plan.h5") + " -o " + quote(dir / "l.html")).exit == 0);
  CHECK(run("lesson " + quote(dir / "plan.h5") + " -o " + quote(dir / "l.html")).exit == 4);
  CHECK(run("lesson " + quote(dir / "a.h5") + " -o " + quote(dir / "m.html")).exit == 4); // no plan
  const std::string before = read_text(dir / "b.h5");
  CHECK(run("page " + both + " -o " + quote(dir / "b.h5") + " --force").exit == 4);
  CHECK(read_text(dir / "b.h5") == before);
}

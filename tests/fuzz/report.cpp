#include "post/compare.hpp"
#include "post/dataset_table.hpp"
#include "post/figure.hpp"
#include "post/fit_text.hpp"
#include "post/page.hpp"
#include "post/page_fit.hpp"
#include "post/page_plan.hpp"
#include "post/page_study.hpp"
#include "post/plan_text.hpp"
#include "post/run.hpp"
#include "post/sheet.hpp"
#include "post/study_charts.hpp"
#include "post/study_summary.hpp"
#include "post/study_text.hpp"
#include "post/summary.hpp"
#include "post/summary_data.hpp"
#include "post/summary_text.hpp"
#include "post/svg.hpp"
#include "solver/io/prediction_reader.hpp"
#include "tests/fuzz/edited_file.hpp"

#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

namespace clampfade::fuzz {

namespace {

/// Text for a terminal, a file or a browser; `made` may refuse it as damaged.
void text(std::string_view what, const std::string& made) {
  must_be_text(what, made);
  if (made.empty()) {
    finding(std::string(what) + " is empty");
  }
}
void page(std::string_view what, const std::string& made) {
  text(what, made);
  if (made.find("<x-evil") != std::string::npos) {
    finding(std::string(what) + " holds markup from the file");
  }
}

/// One of the things that are made of a file; all of them at once would take seconds an input.
void of_history(const std::string& path, post::System system, unsigned which) {
  const History history(path);
  switch (which % 6) {
  case 0: {
    const post::Summary summary = post::summarise(history);
    text("summary", post::to_text(summary, system));
    text("summary as JSON", post::to_json(summary));
    text("summary as CSV", post::to_csv(summary, system));
    return;
  }
  case 1: {
    text("list of datasets", post::dataset_list(history));
    text("list of datasets as JSON", post::dataset_list_json(history));
    const std::vector<Dataset> all = history.datasets();
    if (all.empty()) {
      return;
    }
    try {
      const post::LongTable table = post::long_table(history, {all[which / 6 % all.size()].path}, system);
      text("table", post::to_csv(table));
      text("table as JSON", post::to_json(table, history));
    } catch (const std::invalid_argument&) { // a dataset that is no table
    }
    return;
  }
  case 2:
    return page("sheet", post::sheet(history, system));
  case 3:
    return page("page", post::page(post::read_run(history), system));
  case 4: {
    const post::Run run = post::read_run(history);
    for (const std::string& chart : post::figure_names()) {
      try {
        page("figure", post::figure_svg(run, {chart, post::Along::Time, system, 900}));
      } catch (const std::invalid_argument&) { // nothing to draw
      }
    }
    return;
  }
  default: {
    std::vector<History> two;
    two.emplace_back(path);
    two.emplace_back(path);
    const post::Comparison comparison = post::compare(two);
    text("comparison", post::to_text(comparison, system));
    text("comparison as JSON", post::to_json(comparison));
  }
  }
}

void of_plan(const std::string& path, post::System system, unsigned which) {
  const PlanFile file = read_plan(path);
  switch (which % 4) {
  case 0:
    return text("plan", post::to_text(file, system));
  case 1:
    return text("plan as JSON", post::to_json(file));
  case 2:
    return page("page of a plan", post::plan_page(file, system));
  default:
    return page("lesson", post::lesson_page(file, system));
  }
}

void of_study(const std::string& path, post::System system, unsigned which) {
  const StudyFile file = read_study(path);
  const post::StudySummary summary = post::summarise(file.study, 0.01);
  switch (which % 5) {
  case 0:
    return text("study", post::to_text(file, summary, system));
  case 1:
    return text("study as JSON", post::to_json(file, summary));
  case 2:
    text("cases", post::to_csv(post::study_table(file.study, {}, system)));
    for (const std::string& name : post::study_datasets(file.study)) {
      try {
        (void)post::to_csv(post::study_table(file.study, {name}, system));
      } catch (const std::invalid_argument&) { // not along the cases
      }
    }
    return;
  case 3:
    return page("page of a study", post::study_page(file, summary, system));
  default:
    for (const std::string& name : post::study_figures(file.study)) {
      page("figure of a study", post::study_figure(file.study, summary, name, post::Along::Time, system));
    }
  }
}

void of_fit(const std::string& path, post::System system, unsigned which) {
  const FitFile file = read_fit(path);
  switch (which % 4) {
  case 0:
    return text("fit", post::to_text(file, system, false));
  case 1:
    return text("fit as JSON", post::to_json(file));
  case 2:
    return page("page of a fit", post::fit_page(file, system));
  default:
    for (const std::string& name : post::fit_tables(file.fit)) {
      text("table of a fit", post::to_csv(post::fit_table(file.fit, {name}, system)));
    }
  }
}

/// The programs look at what a file says it is, whatever its kind was meant to be.
void of_file(const std::string& path, post::System system, unsigned which) {
  if (is_study(path)) {
    of_study(path, system, which);
  } else if (is_fit(path)) {
    of_fit(path, system, which);
  } else if (is_plan(path)) {
    of_plan(path, system, which);
  } else {
    of_history(path, system, which);
  }
}

void read(Bytes bytes) {
  Input input(bytes);
  const unsigned first = input.byte();
  const post::System system = first / kFileKinds % 2 == 0 ? post::System::Si : post::System::Us;
  const unsigned which = input.byte();
  const std::string path = edited_file(static_cast<FileKind>(first % kFileKinds), input);
  try {
    of_file(path, system, which);
  } catch (const post::Undrawable&) { // told as damage
  }
  std::vector<std::string> warnings;
  (void)read_prediction(path, warnings);
}

} // namespace

void report(Bytes input) { guarded(read, input); }

} // namespace clampfade::fuzz

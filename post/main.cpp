// clampfade-report: histories in, words and numbers out.
#include "post/checks.hpp"
#include "post/compare.hpp"
#include "post/dataset_table.hpp"
#include "post/figure.hpp"
#include "post/fit_text.hpp"
#include "post/output.hpp"
#include "post/page.hpp"
#include "post/page_compare.hpp"
#include "post/page_fit.hpp"
#include "post/page_plan.hpp"
#include "post/page_study.hpp"
#include "post/plan_text.hpp"
#include "post/sheet.hpp"
#include "post/study_charts.hpp"
#include "post/study_text.hpp"
#include "post/summary.hpp"
#include "post/summary_data.hpp"
#include "post/summary_text.hpp"
#include "post/svg.hpp"

#include "solver/cli/manual.hpp"
#include "solver/cli/streams.hpp"
#include "solver/diagnostics.hpp"

#include <CLI/CLI.hpp>

#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <unistd.h>

namespace {

using namespace clampfade;

bool colour_wanted() {
  const char* no_colour = std::getenv("NO_COLOR");
  const char* term = std::getenv("TERM");
  const bool dumb = term == nullptr || std::string_view(term) == "dumb";
  return (no_colour == nullptr || *no_colour == '\0') && !dumb && ::isatty(STDOUT_FILENO) != 0;
}

int leave(Exit code) { return static_cast<int>(code); }

post::System system_of(const std::string& units) { return units == "us" ? post::System::Us : post::System::Si; }

/// "1%", "1 %" or "0.01" as a share. Throws CLI::ValidationError with what is allowed.
double risk_of(const std::string& text) {
  std::size_t read = 0;
  double value = 0;
  try {
    value = std::stod(text, &read);
  } catch (const std::exception&) {
    read = 0;
  }
  std::string rest = text.substr(read);
  rest.erase(0, std::min(rest.find_first_not_of(' '), rest.size()));
  const double share = rest == "%" ? value / 100 : value;
  if (read == 0 || !(rest.empty() || rest == "%") || !(share > 0 && share <= 0.5)) {
    throw CLI::ValidationError("--risk", "'" + text + "' is no risk: give a share such as 1% or 0.01, at most 50%");
  }
  return share;
}

void add_risk(CLI::App& app, std::string& risk) {
  app.add_option("--risk", risk,
                 "of a sample: risk that a stud is below the required clamp, for which a retorque is named")
      ->capture_default_str();
}

/// A subcommand stands with its options in one function; what it does when chosen is its callback.
void add_summary(CLI::App& app) {
  struct Options {
    std::string file;
    std::string units = "si";
    std::string risk = "1%";
    bool json = false;
    bool csv = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* summary = app.add_subcommand(
      "summary", "The finding, the budget of losses, limits and events of one run; or what a study says");
  summary
      ->add_option("FILE", options->file,
                   "history written by clampfade simulate, study by sweep, sample or merge, or fit by fit")
      ->required();
  CLI::Option* units_option =
      summary->add_option("--units", options->units, "si: kN, N·m, °C, km, µm; us: lbf, lbf·ft, °F, mi, thou")
          ->check(CLI::IsMember({"si", "us"}))
          ->capture_default_str();
  CLI::Option* json_option = summary->add_flag("--json", options->json,
                                               "everything as JSON for other programs; always SI, so not with --units");
  CLI::Option* csv_option =
      summary->add_flag("--csv", options->csv, "milestones and budget as CSV in long form, with units");
  json_option->excludes(csv_option)->excludes(units_option);
  add_risk(*summary, options->risk);
  summary->footer(
      "Examples:\n"
      "  clampfade-report summary duals.h5\n"
      "  clampfade-report summary duals.h5 --units us\n"
      "  clampfade-report summary duals.h5 --csv --units us > duals.csv\n"
      "  clampfade-report summary scatter.h5 --risk 0.5%\n"
      "\n"
      "--json takes no --units: it is SI always and names each unit. --csv takes either system.\n"
      "What there is none of, such as the clamp of a wheel without nuts, is null in JSON and an empty cell in CSV.\n"
      "The history may be of a run that is still going on: the report then covers what it has written.");
  summary->callback([options] {
    const double risk = risk_of(options->risk);
    if (is_study(options->file)) {
      const StudyFile file = read_study(options->file);
      const post::System system = system_of(options->units);
      if (options->csv) {
        std::cout << post::to_csv(post::study_table(file.study, {}, system));
        return;
      }
      const post::StudySummary s = post::summarise(file.study, risk);
      std::cout << (options->json ? post::to_json(file, s) : post::to_text(file, s, system, colour_wanted()));
      return;
    }
    if (is_fit(options->file)) {
      const FitFile file = read_fit(options->file);
      const post::System system = system_of(options->units);
      std::cout << (options->json  ? post::to_json(file)
                    : options->csv ? post::to_csv(post::fit_table(file.fit, {"values"}, system))
                                   : post::to_text(file, system, colour_wanted()));
      return;
    }
    const post::Summary s = post::summarise(History(options->file));
    const post::System system = system_of(options->units);
    std::cout << (options->json  ? post::to_json(s)
                  : options->csv ? post::to_csv(s, system)
                                 : post::to_text(s, system, colour_wanted()));
  });
}

void add_checks(CLI::App& app) {
  CLI::App* checks = app.add_subcommand("checks", "What this version was held against, and how far off it is");
  const auto json = std::make_shared<bool>(false);
  checks->add_flag("--json", *json, "the same as JSON, for other programs");
  checks->footer("Examples:\n"
                 "  clampfade-report checks\n"
                 "  clampfade-report checks --json > checks.json");
  checks->callback([json] { std::cout << (*json ? post::checks_json() : post::checks_text()); });
}

/// What `make` makes; a name that is none is a fault of the command line.
template <class Make>
auto checked(const char* option, const Make& make) {
  try {
    return make();
  } catch (const std::invalid_argument& e) {
    throw CLI::ValidationError(option, e.what());
  }
}

void add_table(CLI::App& app) {
  struct Options {
    std::string file, out, units;
    std::vector<std::string> datasets;
    bool csv = false, json = false, list = false, force = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* table = app.add_subcommand(
      "table", "Any dataset of a history as CSV or JSON, a row for each observation; of a study a row for each case");
  table->add_option("FILE", options->file, "history written by clampfade simulate, or study by sweep, sample or merge")
      ->required();
  CLI::Option* datasets = table
                              ->add_option("--dataset", options->datasets,
                                           "its name, as --list shows it; again for more along the same axes")
                              ->allow_extra_args(false);
  CLI::Option* list = table->add_flag("--list", options->list, "what datasets there are, with units and shapes");
  CLI::Option* csv = table->add_flag("--csv", options->csv, "CSV, which is also what you get without saying");
  table->add_flag("--json", options->json, "JSON")->excludes(csv);
  CLI::Option* units = table
                           ->add_option("--units", options->units,
                                        "converted to kN, N·m, °C, km, ... or to lbf, lbf·ft, °F, mi, ...; "
                                        "without it SI as stored: N, N m, K, m, s")
                           ->check(CLI::IsMember({"si", "us"}));
  table->add_option("-o,--output", options->out, "file to write; standard output without it");
  table->add_flag("--force", options->force, "overwrite the file");
  list->excludes(datasets)->excludes(csv)->excludes(units);
  table->footer("Examples:\n"
                "  clampfade-report table duals.h5 --list\n"
                "  clampfade-report table duals.h5 --dataset clamp_cold > clamp.csv\n"
                "  clampfade-report table duals.h5 --dataset loss --dataset loss_clamp --units si -o losses.csv\n"
                "  clampfade-report table duals.h5 --dataset tightening_clamp --json\n"
                "  clampfade-report table scatter.h5 > cases.csv\n"
                "  clampfade-report table scatter.h5 --dataset clamp_cold_lowest > curves.csv\n"
                "\n"
                "Every unit stands in the header. What there is no value of is an empty cell in CSV and null in JSON;\n"
                "a slip margin without limit is inf in CSV.");
  table->callback([options] {
    std::optional<post::System> system;
    if (!options->units.empty()) {
      system = system_of(options->units);
    }
    if (is_study(options->file)) {
      const StudyFile file = read_study(options->file);
      std::string text;
      if (options->list) {
        for (const std::string& name : post::study_datasets(file.study)) {
          text += name + "\n";
        }
      } else {
        const post::LongTable t =
            checked("--dataset", [&] { return post::study_table(file.study, options->datasets, system); });
        text = options->json ? post::to_json(t, file.path, file.study.title, file.scenario_sha256) : post::to_csv(t);
      }
      post::write_output(options->out, text, options->force, {options->file});
      return;
    }
    if (is_fit(options->file)) {
      const FitFile file = read_fit(options->file);
      std::string text;
      if (options->list) {
        for (const std::string& name : post::fit_tables(file.fit)) {
          text += name + "\n";
        }
      } else {
        const post::LongTable t =
            checked("--dataset", [&] { return post::fit_table(file.fit, options->datasets, system); });
        text = options->json ? post::to_json(t, file.path, file.fit.sets.front().title, file.scenario_sha256)
                             : post::to_csv(t);
      }
      post::write_output(options->out, text, options->force, {options->file});
      return;
    }
    const History history(options->file);
    if (options->list) {
      const std::string text = options->json ? post::dataset_list_json(history) : post::dataset_list(history);
      post::write_output(options->out, text, options->force, {options->file});
      return;
    }
    const post::LongTable t =
        checked("--dataset", [&] { return post::long_table(history, options->datasets, system); });
    post::write_output(options->out, options->json ? post::to_json(t, history) : post::to_csv(t), options->force,
                       {options->file});
  });
}

void add_sheet(CLI::App& app) {
  struct Options {
    std::string file, out;
    std::string units = "si";
    bool force = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* sheet = app.add_subcommand("sheet", "One page of paper for whoever tightens the wheel");
  sheet->add_option("FILE", options->file, "history written by clampfade simulate")->required();
  sheet->add_option("-o,--output", options->out, "where the sheet goes, as HTML")->required();
  sheet->add_option("--units", options->units, "which units come first; torques are given in both")
      ->check(CLI::IsMember({"si", "us"}))
      ->capture_default_str();
  sheet->add_flag("--force", options->force, "replace the output file if it is there");
  sheet->footer(
      "Examples:\n"
      "  clampfade-report sheet duals.h5 -o sheet.html\n"
      "  clampfade-report sheet duals.h5 -o sheet.html --units us --force\n"
      "\n"
      "Open it in a browser and print it: one page of A4 or Letter up to twelve studs. It shows order, passes\n"
      "and torques of the run; where the maker's differ, the maker's hold.");
  sheet->callback([options] {
    post::write_output(options->out, post::sheet(History(options->file), system_of(options->units)), options->force,
                       {options->file});
  });
}

void add_plan(CLI::App& app) {
  struct Options {
    std::string file;
    std::string units = "si";
    bool json = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* plan = app.add_subcommand("plan", "When to retorque: the latest instant that keeps the clamp, and why");
  plan->add_option("FILE", options->file, "plan written by clampfade plan")->required();
  CLI::Option* units_option = plan->add_option("--units", options->units, "si: kN, N·m, km; us: lbf, lbf·ft, mi")
                                  ->check(CLI::IsMember({"si", "us"}))
                                  ->capture_default_str();
  plan->add_flag("--json", options->json, "everything as JSON for other programs; always SI, so not with --units")
      ->excludes(units_option);
  plan->footer("Examples:\n"
               "  clampfade plan duals.yaml -o plan.h5 && clampfade-report plan plan.h5\n"
               "  clampfade-report plan plan.h5 --units us");
  plan->callback([options] {
    const PlanFile file = read_plan(options->file);
    std::cout << (options->json ? post::to_json(file)
                                : post::to_text(file, system_of(options->units), colour_wanted()));
  });
}

void add_compare(CLI::App& app) {
  struct Options {
    std::vector<std::string> files;
    std::string units = "si";
    bool json = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* compare = app.add_subcommand("compare", "Several runs side by side: what differs, and what it comes to");
  compare->add_option("FILES", options->files, "two histories or more, written by clampfade simulate")
      ->required()
      ->expected(2, static_cast<int>(post::kMostCompared));
  CLI::Option* units_option =
      compare->add_option("--units", options->units, "si: kN, N·m, km, µm; us: lbf, lbf·ft, mi, thou")
          ->check(CLI::IsMember({"si", "us"}))
          ->capture_default_str();
  compare->add_flag("--json", options->json, "everything as JSON for other programs; always SI, so not with --units")
      ->excludes(units_option);
  compare->footer("Example:\n"
                  "  clampfade-report compare duals.h5 cross-linked.h5 bare.h5");
  compare->callback([options] {
    std::vector<History> histories;
    for (const std::string& file : options->files) {
      histories.emplace_back(file);
    }
    const post::Comparison c = post::compare(histories);
    std::cout << (options->json ? post::to_json(c) : post::to_text(c, system_of(options->units), colour_wanted()));
  });
}

void add_units(CLI::App& app, std::string& units, const char* meaning) {
  app.add_option("--units", units, meaning)->check(CLI::IsMember({"si", "us"}))->capture_default_str();
}

struct Drawing {
  std::string file, out;
  std::string units = "si";
  bool force = false;
};

/// The page of one run, of several, of a plan, of a study or of a fit: what the files are decides.
std::string page_of(const std::vector<std::string>& files, post::System system, double risk) {
  if (files.size() == 1) {
    if (is_study(files.front())) {
      const StudyFile file = read_study(files.front());
      return post::study_page(file, post::summarise(file.study, risk), system);
    }
    if (is_fit(files.front())) {
      return post::fit_page(read_fit(files.front()), system);
    }
    return is_plan(files.front()) ? post::plan_page(read_plan(files.front()), system)
                                  : post::page(post::read_run(History(files.front())), system);
  }
  std::vector<History> histories;
  std::vector<post::Run> runs;
  for (const std::string& file : files) {
    histories.emplace_back(file);
    runs.push_back(post::read_run(histories.back()));
  }
  return post::compare_page(post::compare(histories), runs, system);
}

void add_page(CLI::App& app) {
  struct Options : Drawing {
    std::vector<std::string> files;
    std::string risk = "1%";
  };
  const auto options = std::make_shared<Options>();
  CLI::App* page = app.add_subcommand("page", "One page that answers the question, to open in a browser or to print");
  page->add_option("FILES", options->files, "a history, several to be compared, a plan, a study or a fit")
      ->required()
      ->expected(1, static_cast<int>(post::kMostCompared));
  page->add_option("-o,--output", options->out, "where the page goes, as HTML")->required();
  add_units(*page, options->units, "units that the page opens with; a reader can switch");
  page->add_flag("--force", options->force, "replace the output file if it is there");
  add_risk(*page, options->risk);
  page->footer(
      "Examples:\n"
      "  clampfade-report page duals.h5 -o duals.html\n"
      "  clampfade-report page duals.h5 -o duals.html --units us --force\n"
      "  clampfade-report page duals.h5 cross-linked.h5 bare.h5 -o three.html\n"
      "  clampfade-report page plan.h5 -o plan.html\n"
      "  clampfade-report page scatter.h5 --risk 0.5% -o scatter.html\n"
      "\n"
      "The page is one file that needs no network. It reads without script; with it, charts zoom and read out,\n"
      "a slider moves the drawings of a run through time, and units switch.");
  page->callback([options] {
    post::write_output(options->out, page_of(options->files, system_of(options->units), risk_of(options->risk)),
                       options->force, options->files);
  });
}

void add_lesson(CLI::App& app) {
  const auto options = std::make_shared<Drawing>();
  CLI::App* lesson = app.add_subcommand("lesson", "For teaching: never retorqued, retorqued once, retorqued late");
  lesson->add_option("FILE", options->file, "plan written by clampfade plan")->required();
  lesson->add_option("-o,--output", options->out, "where the page goes, as HTML")->required();
  add_units(*lesson, options->units, "units that the page opens with; a reader can switch");
  lesson->add_flag("--force", options->force, "replace the output file if it is there");
  lesson->footer("Example:\n"
                 "  clampfade plan duals.yaml -o plan.h5 && clampfade-report lesson plan.h5 -o lesson.html\n"
                 "\n"
                 "All three runs stand in the plan: without a retorque, the one with a single retorque whose lowest\n"
                 "clamp is highest, and the one with the latest single retorque that was tried.");
  lesson->callback([options] {
    post::write_output(options->out, post::lesson_page(read_plan(options->file), system_of(options->units)),
                       options->force, {options->file});
  });
}

void add_figure(CLI::App& app) {
  struct Options : Drawing {
    post::FigureOptions figure;
    std::string by = "time";
    std::string risk = "1%";
  };
  const auto options = std::make_shared<Options>();
  CLI::App* figure = app.add_subcommand("figure", "One chart as SVG or PNG, for a document");
  figure->add_option("FILE", options->file, "history written by clampfade simulate, or study by sweep, sample or merge")
      ->required();
  std::string names;
  for (const std::string& name : post::figure_names()) {
    names += name + ", ";
  }
  figure
      ->add_option("--chart", options->figure.chart,
                   "of a history: " + names +
                       "of a sweep: end, below and, of one axis or a list, losses; of a sample: fan, chance, causes")
      ->required();
  figure->add_option("-o,--output", options->out, "where the picture goes: a name that ends in .svg or .png")
      ->required()
      ->check(CLI::Validator(
          [](const std::string& path) {
            return path.ends_with(".svg") || path.ends_with(".png") ? std::string()
                                                                    : "must end in .svg or .png, not " + path;
          },
          "NAME.svg or NAME.png"));
  figure->add_option("--by", options->by, "what clamp, slip margin and coatings are drawn against")
      ->check(CLI::IsMember({"time", "distance"}))
      ->capture_default_str();
  add_units(*figure, options->units, "si: kN, N·m, °C, km, µm; us: lbf, lbf·ft, °F, mi, thou");
  figure->add_option("--width", options->figure.width, "of the picture, in pixels")
      ->check(CLI::Range(200.0, 10000.0))
      ->capture_default_str();
  figure->add_flag("--force", options->force, "replace the output file if it is there");
  add_risk(*figure, options->risk);
  figure->footer("Examples:\n"
                 "  clampfade-report figure duals.h5 --chart clamp -o clamp.svg\n"
                 "  clampfade-report figure duals.h5 --chart budget -o budget.png --width 1600 --units us\n"
                 "  clampfade-report figure scatter.h5 --chart fan -o fan.svg");
  figure->callback([options] {
    options->figure.along = options->by == "distance" ? post::Along::Distance : post::Along::Time;
    options->figure.system = system_of(options->units);
    const double risk = risk_of(options->risk);
    const std::string svg = checked("--chart", [&] {
      if (is_study(options->file)) {
        const Study study = read_study(options->file).study;
        return post::figure_document(post::study_figure(study, post::summarise(study, risk), options->figure.chart,
                                                        options->figure.along, options->figure.system),
                                     options->figure.width);
      }
      return post::figure_svg(post::read_run(History(options->file)), options->figure);
    });
    post::write_output(options->out, options->out.ends_with(".png") ? post::png(svg, options->figure.width) : svg,
                       options->force, {options->file});
  });
}

int run(int argc, char** argv) {
  CLI::App app("Says what happened to the clamp of a wheel joint, from the history that a run has written.",
               "clampfade-report");
  app.set_version_flag("--version", std::string("clampfade-report " CLAMPFADE_VERSION " (" CLAMPFADE_GIT_SHA ")"));
  add_manual(app, CLAMPFADE_VERSION);
  app.require_subcommand(1);
  app.footer("Examples:\n"
             "  clampfade-report summary duals.h5\n"
             "  clampfade-report summary duals.h5 --units us\n"
             "  clampfade-report summary duals.h5 --json > duals.json\n"
             "  clampfade-report table duals.h5 --dataset clamp_cold > clamp.csv\n"
             "  clampfade-report compare duals.h5 bare.h5\n"
             "  clampfade-report summary coupon-fit.h5\n"
             "  clampfade-report plan duals-plan.h5\n"
             "  clampfade-report checks\n"
             "\n"
             "Exit codes: 0 done, 2 wrong command line, 4 the file cannot be read, 70 a fault of this program.\n"
             "The environment variable NO_COLOR turns colours off.");
  add_summary(app);
  add_table(app);
  add_sheet(app);
  add_plan(app);
  add_compare(app);
  add_page(app);
  add_lesson(app);
  add_figure(app);
  add_checks(app);
  try {
    app.parse(argc, argv);
  } catch (const CLI::RequiredError& e) {
    // The library says only that a command is due; what stood in its place tells more.
    if (app.get_subcommands().empty() && !app.remaining().empty()) {
      std::vector<std::string> commands;
      for (const CLI::App* command : app.get_subcommands({})) {
        commands.push_back(command->get_name());
      }
      std::cerr << unknown_command(app.remaining().front(), "clampfade-report", commands, "clampfade",
                                   {"check", "simulate", "resume", "schema"})
                << "Run with --help for more information.\n";
    } else {
      app.exit(e);
    }
    return leave(Exit::Input);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? leave(Exit::Ok) : leave(Exit::Input);
  }
  return leave(Exit::Ok);
}

} // namespace

int main(int argc, char** argv) {
  keep_streams();
  try {
    const int code = run(argc, argv);
    if (code == leave(Exit::Ok) && !stdout_written()) {
      throw FileError(Code::FileWrite, "standard output: cannot write the report");
    }
    return code;
  } catch (const FileError& e) {
    std::cerr << "clampfade-report: error: " << e.what() << '\n';
    return leave(Exit::File);
  } catch (const post::Undrawable& e) {
    std::cerr << "clampfade-report: error: the file holds what cannot be drawn (" << e.what()
              << "): it is damaged, or this program has a fault; summary and table do without drawings\n";
    return leave(Exit::File);
  } catch (const std::exception& e) {
    std::cerr << "clampfade-report: a fault of this program, please report it: " << e.what() << '\n';
    return leave(Exit::Bug);
  }
}

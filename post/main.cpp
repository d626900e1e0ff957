// clampfade-report: histories in, words and numbers out.
#include "post/checks.hpp"
#include "post/compare.hpp"
#include "post/plan_text.hpp"
#include "post/summary.hpp"
#include "post/summary_data.hpp"
#include "post/summary_text.hpp"

#include "solver/diagnostics.hpp"

#include <CLI/CLI.hpp>

#include <cstdlib>
#include <iostream>
#include <memory>
#include <string>
#include <string_view>
#include <unistd.h>
#include <vector>

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

/// A subcommand stands with its options in one function; what it does when chosen is its callback.
void add_summary(CLI::App& app) {
  struct Options {
    std::string file;
    std::string units = "si";
    bool json = false;
    bool csv = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* summary = app.add_subcommand("summary", "The finding, the budget of losses, limits and events of one run");
  summary->add_option("FILE", options->file, "history written by clampfade simulate")->required();
  CLI::Option* units_option =
      summary->add_option("--units", options->units, "si: kN, N·m, °C, km, µm; us: lbf, lbf·ft, °F, mi, thou")
          ->check(CLI::IsMember({"si", "us"}))
          ->capture_default_str();
  CLI::Option* json_option = summary->add_flag("--json", options->json,
                                               "everything as JSON for other programs; always SI, so not with --units");
  CLI::Option* csv_option =
      summary->add_flag("--csv", options->csv, "milestones and budget as CSV in long form, with units");
  json_option->excludes(csv_option)->excludes(units_option);
  summary->footer(
      "Examples:\n"
      "  clampfade-report summary duals.h5\n"
      "  clampfade-report summary duals.h5 --units us\n"
      "  clampfade-report summary duals.h5 --csv --units us > duals.csv\n"
      "\n"
      "--json takes no --units: it is SI always and names each unit. --csv takes either system.\n"
      "What there is none of, such as the clamp of a wheel without nuts, is null in JSON and an empty cell in CSV.\n"
      "The history may be of a run that is still going on: the report then covers what it has written.");
  summary->callback([options] {
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

int run(int argc, char** argv) {
  CLI::App app("Says what happened to the clamp of a wheel joint, from the history that a run has written.",
               "clampfade-report");
  app.set_version_flag("--version", std::string("clampfade-report " CLAMPFADE_VERSION " (" CLAMPFADE_GIT_SHA ")"));
  app.require_subcommand(1);
  app.footer("Examples:\n"
             "  clampfade-report summary duals.h5\n"
             "  clampfade-report summary duals.h5 --units us\n"
             "  clampfade-report summary duals.h5 --json > duals.json\n"
             "  clampfade-report compare duals.h5 bare.h5\n"
             "  clampfade-report plan duals-plan.h5\n"
             "  clampfade-report checks\n"
             "\n"
             "Exit codes: 0 done, 2 wrong command line, 4 the file cannot be read, 70 a fault of this program.\n"
             "The environment variable NO_COLOR turns colours off.");
  add_summary(app);
  add_plan(app);
  add_compare(app);
  add_checks(app);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? leave(Exit::Ok) : leave(Exit::Input);
  }
  std::cout.flush();
  if (!std::cout) {
    throw FileError(Code::FileWrite, "standard output: cannot write the report");
  }
  return leave(Exit::Ok);
}

} // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const FileError& e) {
    std::cerr << "clampfade-report: error: " << e.what() << '\n';
    return leave(Exit::File);
  } catch (const std::exception& e) {
    std::cerr << "clampfade-report: a fault of this program, please report it: " << e.what() << '\n';
    return leave(Exit::Bug);
  }
}

// clampfade: reads a scenario, says what follows from it, runs it into a history. Results go to stdout, everything else
// to stderr.
#include "models/units.hpp"
#include "solver/cli/check.hpp"
#include "solver/cli/correct.hpp"
#include "solver/cli/fit.hpp"
#include "solver/cli/fleet.hpp"
#include "solver/cli/manual.hpp"
#include "solver/cli/records.hpp"
#include "solver/cli/streams.hpp"
#include "solver/cli/study_command.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/ladder.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario.hpp"
#include "solver/io/schema.hpp"
#include "solver/plan.hpp"
#include "solver/simulation.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

/// Runs with progress and signals, which are listened to; says at the end what became of it.
template <class Act>
int watched(const std::string& out, bool quiet, Act act) {
  RunStatus status = RunStatus::Running;
  std::vector<std::string> warnings;
  try {
    ProgressLine line(quiet);
    RunOptions options;
    options.warnings = &warnings;
    options.progress = [&](double time, double end) {
      line.show(time / end, fmt::format("day {:.0f} of {:.0f}", time / units::kDay, end / units::kDay));
      return stop_signal() == 0;
    };
    status = act(options);
  } catch (const NumericalError&) {
    tell(fmt::format("The history up to where the run failed is in {}.\n", out));
    throw;
  }
  if (status == RunStatus::Stopped) {
    tell(fmt::format("Stopped. Continue with: clampfade resume {}\n", out));
    return 128 + stop_signal();
  }
  fmt::print("{}\n", out);
  print_cautions(warnings);
  return static_cast<int>(Exit::Ok);
}

int simulate(const std::string& file, std::string out, bool force, bool quiet) {
  const Scenario scenario = read_scenario(file);
  if (!scenario.record.every && scenario.record.at.empty()) {
    fmt::print(stderr,
               "note: {} asks for no records, so the history holds the first and the last instant and acts of the "
               "wrench.\n   hint: record: {{every: 1 h, at: [5 min, 80 km]}}\n",
               file);
  }
  if (out.empty()) {
    out = std::filesystem::path(file).stem().string() + ".h5";
  }
  std::error_code ignored;
  if (std::filesystem::equivalent(file, out, ignored)) {
    throw FileError(Code::FileWrite, out + ": this is the scenario itself; give the history another name");
  }
  listen_for_stop(); // before there is anything to clear away
  HistoryWriter writer(out, force);
  return watched(out, quiet, [&](const RunOptions& options) { return run(scenario, writer, options); });
}

int resume_file(const std::string& file, bool quiet) {
  listen_for_stop();
  std::optional<Scenario> scenario;
  std::optional<Checkpoint> from;
  // Refuses a history without a checkpoint, and keeps other runs away.
  const auto writer = HistoryWriter::reopen(file, [&](const History& history) {
    scenario = read_scenario_text(history.scenario_text(), file + " (scenario)", resolved_options());
    from = history.checkpoint();
    try {
      check_checkpoint(*scenario, from.value());
    } catch (const FileError& e) { // by who knows no files
      throw FileError(e.code(), file + ": " + e.what());
    }
  });
  return watched(file, quiet,
                 [&](const RunOptions& options) { return resume(*scenario, from.value(), *writer, options); });
}

struct PlanOptions {
  std::string file, out, after;
  std::size_t retorques = 2;
  std::size_t jobs = std::max(1U, std::thread::hardware_concurrency());
  bool force = false;
  bool quiet = false;
};

int plan(const PlanOptions& options) {
  const Scenario scenario = read_scenario(options.file);
  const std::string out =
      options.out.empty() ? std::filesystem::path(options.file).stem().string() + "-plan.h5" : options.out;
  std::error_code ignored;
  if (std::filesystem::equivalent(options.file, out, ignored)) {
    throw FileError(Code::FileWrite, out + ": this is the scenario itself; give the plan another name");
  }
  PlanRequest request;
  request.retorques = options.retorques;
  if (!options.after.empty()) {
    request.after = read_ladder(options.after, "--after");
  }
  Plan result = lay_out(scenario, request);
  listen_for_stop();                     // before there is anything to clear away
  PlanWriter writer(out, options.force); // better to hear now that it cannot be written
  const std::size_t count = result.cases.size();
  bool finished = false;
  {
    ProgressLine line(options.quiet);
    finished = run_plan(scenario, result, options.jobs, [&](std::size_t done, double share) {
      line.show(share, fmt::format("{} of {} runs", done, count));
      return stop_signal() == 0;
    });
  }
  if (!finished) {
    tell(fmt::format("Stopped. {} was not written; a plan is only kept whole.\n", out));
    return 128 + stop_signal();
  }
  writer.write(result);
  fmt::print("{}\n", out);
  print_cautions(result.warnings);
  const auto failed = static_cast<std::size_t>(std::count_if(
      result.cases.begin(), result.cases.end(), [](const PlanCase& c) { return c.status == RunStatus::Failed; }));
  if (failed > 0) {
    throw NumericalError(
        Code::NoEquilibrium,
        fmt::format("{} of {} runs failed; {} says why, and what the others came to", failed, count, out));
  }
  return static_cast<int>(Exit::Ok);
}

/// `code` gets the exit code once the command has run.
void add_plan(CLI::App& app, int& code) {
  const auto options = std::make_shared<PlanOptions>();
  CLI::App* command =
      app.add_subcommand("plan", "Run a scenario without a retorque, with one and with two at a ladder of instants");
  command->add_option("FILE", options->file, "scenario, YAML")->required();
  command->add_option("-o,--output", options->out,
                      "plan file; default: the scenario's name with -plan.h5, in this folder");
  command->add_option("--after", options->after,
                      "instants, times and distances with units: \"1 d, 80 km, 1 week\"; default: about six, from the "
                      "first working day to three quarters of the run");
  command->add_option("--retorques", options->retorques, "at most so many in a run, 1 or 2 (default)")
      ->check(CLI::Range(1, 2))
      ->option_text("1|2");
  command->add_option("--jobs", options->jobs, "runs at a time; default: as many as there are processors")
      ->check(CLI::Range(1, 1024))
      ->option_text("N");
  command->add_flag("--force", options->force, "overwrite the plan file if it is there");
  command->add_flag("--quiet", options->quiet, "show no progress");
  command->footer("The scenario's own retorques are left out; those of the plan use their torque where they name one,\n"
                  "else that of tightening. Read the result with: clampfade-report plan FILE\n"
                  "\n"
                  "Examples:\n"
                  "  clampfade plan wheel.yaml -o plan.h5\n"
                  "  clampfade plan wheel.yaml --after \"1 d, 80 km, 1 week, 4 weeks\" --retorques 1");
  command->callback([options, &code] { code = plan(*options); });
}

int fail(Code code, const std::string& text, std::string_view hint = "") {
  tell(with_colour(fmt::format("error [{}] {}\n", name(code), text)));
  if (!hint.empty()) {
    tell(fmt::format("   hint: {}\n", hint));
  }
  return static_cast<int>(exit_code(code));
}

int main_program(int argc, char** argv) {
  CLI::App app("Clamp load of bolted heavy-vehicle wheel joints over days and months of heat, braking and rolling.");
  app.name("clampfade");
  app.set_version_flag("--version", std::string("clampfade ") + CLAMPFADE_VERSION + " (" + CLAMPFADE_GIT_SHA + ")");
  add_manual(app, CLAMPFADE_VERSION);
  app.require_subcommand(1);
  app.footer(
      "Examples:\n"
      "  clampfade check wheel.yaml                 faults of the scenario, and what follows from it at once\n"
      "  clampfade check wheel.yaml --units us      the same in lbf*ft, ksi, thou and degF\n"
      "  clampfade simulate wheel.yaml -o wheel.h5  run it into a history\n"
      "  clampfade resume wheel.h5                  go on with a run that was stopped\n"
      "  clampfade plan wheel.yaml -o plan.h5       when to retorque: the same wheel with retorques at many times\n"
      "  clampfade sweep wheel.yaml -o sweep.h5      the same wheel with values varied, on all processors\n"
      "  clampfade sample wheel.yaml -o s.h5 --count 200  with values scattered, 200 times\n"
      "  clampfade limit wheel.yaml --path joint/stack/*/*_side/thickness --between \"0 um\" \"150 um\"\n"
      "                                             the value at which the clamp is only just kept\n"
      "  clampfade records wheels.csv --torque \"475 lbf*ft\"  was every wheel tightened as it should be?\n"
      "  clampfade fleet due --store fleet.sqlite --on 2024-04-20 --recheck-every \"1 week\"\n"
      "                                             wheels over time, and which are due for a re-check\n"
      "  clampfade fit coupon.yaml --data coupon.csv --free PATH  values from readings of a bench test\n"
      "  clampfade schema                           every key a scenario may have\n"
      "\n"
      "Exit codes: 0 done, 1 done and some wheel lies outside its bands, 2 bad input, 3 the numerics failed, 4 a file\n"
      "could not be read or written, 70 a fault of the program, 128 + signal for a run that was stopped.");

  std::string file;
  std::string out;
  bool json = false;
  bool force = false;
  bool quiet = false;
  std::string units = "si";

  CLI::App* check_command =
      app.add_subcommand("check", "Check a scenario and print what follows from it without running it");
  check_command->add_option("FILE", file, "scenario, YAML")->required();
  check_command->footer("Examples:\n"
                        "  clampfade check wheel.yaml\n"
                        "  clampfade check wheel.yaml --units us      in lbf*ft, ksi, thou and degF");
  CLI::Option* json_flag = check_command->add_flag("--json", json, "print JSON in SI units");
  check_command->add_option("--units", units, "units of the table: si (default) or us")
      ->check(CLI::IsMember({"si", "us"}))
      ->option_text("si|us")
      ->excludes(json_flag);

  CLI::App* simulate_command = app.add_subcommand("simulate", "Run a scenario into a history file");
  simulate_command->add_option("FILE", file, "scenario, YAML")->required();
  simulate_command->add_option("-o,--output", out,
                               "history file; default: the scenario's name with .h5, in this folder");
  simulate_command->add_flag("--force", force, "overwrite the history file if it is there");
  simulate_command->add_flag("--quiet", quiet, "show no progress");
  simulate_command->footer(
      "The scenario's `record` says at which instants the history has a record; without it there are the first\n"
      "and the last. Read the result with: clampfade-report summary FILE\n"
      "\n"
      "Examples:\n"
      "  clampfade simulate wheel.yaml -o wheel.h5");

  CLI::App* resume_command =
      app.add_subcommand("resume", "Go on with a run from its last checkpoint, to the same result");
  resume_command->add_option("FILE", file, "history, HDF5")->required();
  resume_command->add_flag("--quiet", quiet, "show no progress");
  resume_command->footer("Examples:\n"
                         "  clampfade resume wheel.h5");

  int code = static_cast<int>(Exit::Ok);
  add_plan(app, code);
  add_study_commands(app, code);
  add_records(app, code);
  add_fleet(app, code);
  add_fit(app, code);
  add_correct(app, code);

  CLI::App* schema_command = app.add_subcommand("schema", "Print every key a scenario may have");
  schema_command->footer("Examples:\n"
                         "  clampfade schema > SCHEMA.md               Markdown, with the names in the catalogue");

  try {
    app.parse(argc, argv);
  } catch (const CLI::RequiredError& e) {
    // The library says only that a command is due; what stood in its place tells more.
    if (app.get_subcommands().empty() && !app.remaining().empty()) {
      std::vector<std::string> commands;
      for (const CLI::App* command : app.get_subcommands({})) {
        commands.push_back(command->get_name());
      }
      tell(
          fmt::format("{}Run with --help for more information.\n",
                      unknown_command(app.remaining().front(), "clampfade", commands, "clampfade-report",
                                      {"summary", "table", "sheet", "compare", "page", "lesson", "figure", "checks"})));
      return static_cast<int>(Exit::Input);
    }
    app.exit(e);
    return static_cast<int>(Exit::Input);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? static_cast<int>(Exit::Ok) : static_cast<int>(Exit::Input);
  }

  if (*check_command) {
    return static_cast<int>(check(file, json, units == "us" ? UnitSystem::Us : UnitSystem::Si));
  }
  if (*simulate_command) {
    return simulate(file, out, force, quiet);
  }
  if (*resume_command) {
    return resume_file(file, quiet);
  }
  if (*schema_command) {
    fmt::print("{}\n{}", schema_page(), catalogue_page());
  }
  return code;
}

} // namespace

} // namespace clampfade

int main(int argc, char** argv) {
  using namespace clampfade;
  keep_streams();
  int code = static_cast<int>(Exit::Bug);
  try {
    code = main_program(argc, argv);
  } catch (const InputError& e) {
    tell(with_colour(e.what()));
    code = static_cast<int>(Exit::Input);
  } catch (const NumericalError& e) {
    code = fail(e.code(), e.what());
  } catch (const FileError& e) {
    code = fail(e.code(), e.what(), e.code() == Code::FileExists ? "--force overwrites it" : "");
  } catch (const std::system_error& e) {
    code = fail(Code::FileWrite, std::string("the output could not be written: ") + e.what());
  } catch (const std::exception& e) {
    code = fail(Code::Internal, std::string("this is a fault of the program: ") + e.what());
  }
  if (!stdout_written() && (code == static_cast<int>(Exit::Ok) || code == static_cast<int>(Exit::Outside))) {
    code = fail(Code::FileWrite, "the output could not be written");
  }
  return code;
}

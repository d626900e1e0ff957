// clampfade: reads a scenario, says what follows from it, runs it into a history. Results go to stdout, everything else
// to stderr.
#include "models/units.hpp"
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
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <unistd.h>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

volatile std::sig_atomic_t stop_signal = 0;

extern "C" void ask_to_stop(int signal) {
  stop_signal = signal;
  // Whoever asks twice means it; the file on disk is whole at any moment.
  std::signal(signal, SIG_DFL);
}

bool terminal(int descriptor) {
  const char* term = std::getenv("TERM");
  return isatty(descriptor) == 1 && term != nullptr && std::string_view(term) != "dumb";
}

bool coloured() {
  const char* off = std::getenv("NO_COLOR");
  return terminal(STDERR_FILENO) && (off == nullptr || *off == '\0');
}

/// The word "error" in red, where someone looks at it.
std::string with_colour(std::string text) {
  if (!coloured()) {
    return text;
  }
  constexpr std::string_view word = "error [";
  constexpr std::string_view shown = "\x1b[1;31merror\x1b[0m [";
  for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + shown.size())) {
    text.replace(at, word.size(), shown);
  }
  return text;
}

std::string span_text(double seconds) {
  const ShownUnit unit = shown_unit("s", seconds, UnitSystem::Si);
  return fmt::format("{:.0f} {}", unit(seconds), unit.name);
}

/// One line on stderr while a run goes on: only on a terminal, only after the first second, ten times a second at most.
class ProgressLine {
public:
  explicit ProgressLine(bool quiet) : shown_(!quiet && terminal(STDERR_FILENO)) {}
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  ~ProgressLine() { clear(); }

  /// `share` of the work is done, 0 to 1; `what` says it in the user's terms.
  void show(double share, const std::string& what) {
    const double now = std::chrono::duration<double>(Clock::now() - start_).count();
    if (!started_) {
      // A resumed run starts part way; only what this process did tells how fast it is.
      first_ = share;
      started_ = true;
    }
    if (!shown_ || now < 1 || now - drawn_ < 0.1) {
      return;
    }
    drawn_ = now;
    std::string line = fmt::format("{}, {:.0f} %", what, 100 * share);
    if (share > first_) {
      line += ", " + span_text(now * (1 - share) / (share - first_)) + " left";
    }
    fmt::print(stderr, "\r{}\x1b[K", line);
    std::fflush(stderr);
  }
  void clear() {
    if (drawn_ > 0) {
      fmt::print(stderr, "\r\x1b[K");
      std::fflush(stderr);
      drawn_ = 0;
    }
  }

private:
  using Clock = std::chrono::steady_clock;
  bool shown_;
  Clock::time_point start_ = Clock::now();
  double drawn_ = 0;
  double first_ = 0;
  bool started_ = false;
};

/// Columns that the tables and paragraphs of `check` take at most.
constexpr std::size_t kPage = 100;
constexpr std::size_t kText = 80; ///< of running text

/// Characters on the screen.
std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// A paragraph of at most `width` columns that begins at column `indent`, as its later lines do.
std::string wrapped(std::string_view text, std::size_t indent, std::size_t width) {
  std::string out;
  std::size_t column = 0;
  while (!text.empty()) {
    const std::size_t end = text.find(' ');
    const std::string_view word = text.substr(0, end);
    if (column > indent && column + 1 + columns(word) > width) {
      out += '\n' + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      out += ' ';
      ++column;
    } else {
      column = indent;
    }
    out += word;
    column += columns(word);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  return out;
}

void print_cautions(const std::vector<std::string>& warnings) {
  if (!warnings.empty()) {
    fmt::print("\nWarnings\n");
    for (const std::string& w : warnings) {
      fmt::print("  - {}\n", wrapped(w, 4, kText));
    }
  }
  fmt::print("\nCautions\n");
  for (const std::string_view c : cautions()) {
    fmt::print("  - {}\n", wrapped(c, 4, kText));
  }
}

/// A unit's name as the report writes it.
std::string typeset(std::string unit) {
  for (const auto& [plain, shown] :
       {std::pair<std::string_view, std::string_view>{"um", "\u00B5m"}, {"degC", "\u00B0C"}, {"degF", "\u00B0F"}}) {
    if (unit.rfind(plain, 0) == 0) {
      unit.replace(0, plain.size(), shown);
    }
  }
  return unit;
}

/// A row of a table: a figure with its unit, or a text in `value` alone.
struct TableLine {
  std::string what, value, unit;
  std::size_t indent = 2;
  bool number = true;
};

struct TableGroup {
  std::string title;
  std::vector<TableLine> lines;
};

std::string capital(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  if (!text.empty()) {
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  }
  return text;
}

/// Prints tables whose figures stand with their decimal points below each other, from the same column in all of them.
void print_tables(const std::vector<TableGroup>& groups) {
  const auto before_point = [](const std::string& value) { return std::min(value.find('.'), value.size()); };
  std::size_t left = 0;  // of the decimal point
  std::size_t right = 0; // of it, the point counted
  std::size_t unit = 0;
  std::size_t widest = 0;
  for (const TableGroup& group : groups) {
    for (const TableLine& l : group.lines) {
      widest = std::max(widest, l.indent + columns(l.what));
      if (l.number) {
        left = std::max(left, before_point(l.value));
        right = std::max(right, l.value.size() - before_point(l.value));
        unit = std::max(unit, columns(l.unit));
      }
    }
  }
  const std::size_t labels = std::min(widest, kPage - (2 + left + right + 1 + unit));
  for (const TableGroup& group : groups) {
    fmt::print("\n{}\n", group.title);
    for (const TableLine& l : group.lines) {
      std::string line = std::string(l.indent, ' ') + wrapped(l.what, l.indent, labels);
      if (!l.value.empty()) {
        const std::size_t last = line.rfind('\n') + 1; // npos + 1 is 0
        const std::size_t used = columns(std::string_view(line).substr(last));
        line += std::string(labels - std::min(used, labels) + 2, ' ');
        if (l.number) {
          line += std::string(left - before_point(l.value), ' ') + l.value;
          const std::size_t behind = l.value.size() - before_point(l.value);
          line += l.unit.empty() ? "" : std::string(right - behind + 1, ' ') + l.unit;
        } else {
          line += wrapped(l.value, labels + 2, kPage);
        }
      }
      fmt::print("{}\n", line);
    }
  }
}

/// A figure, or a list of figures, as rows.
std::vector<TableLine> rows_of(const Figure& f, UnitSystem system) {
  double largest = 0;
  for (const double v : f.values) {
    largest = std::isfinite(v) ? std::max(largest, std::abs(v)) : largest;
  }
  const ShownUnit unit = shown_unit(f.unit, largest, system);
  // Stud numbers and counts are not measured.
  const bool whole = f.unit == "1" && std::all_of(f.values.begin(), f.values.end(),
                                                  [](double v) { return v == std::floor(v) && std::abs(v) < 1e6; });
  const auto row = [&](std::string what, std::size_t i, std::size_t indent) {
    if (i < f.text.size()) {
      return TableLine{std::move(what), f.text[i], "", indent, false};
    }
    return TableLine{std::move(what), whole ? fmt::format("{:.0f}", f.values[i]) : significant(unit(f.values[i])),
                     typeset(unit.name), indent};
  };
  const std::size_t count = std::max(f.values.size(), f.text.size());
  if (count == 1 && f.labels.empty()) {
    return {row(f.long_name, 0, 2)};
  }
  std::vector<TableLine> rows = {{f.long_name, "", "", 2, false}};
  for (std::size_t i = 0; i < count; ++i) {
    rows.push_back(row(i < f.labels.size() ? f.labels[i] : std::to_string(i + 1), i, 4));
  }
  return rows;
}

/// Figures as tables, those of one group together, the ungrouped ones first.
std::vector<TableGroup> tables_of(const std::vector<Figure>& figures, UnitSystem system) {
  std::vector<TableGroup> groups = {{"Joint", {}}};
  for (const Figure& f : figures) {
    const std::size_t slash = f.name.find('/');
    const std::string title = slash == std::string::npos ? "Joint" : capital(f.name.substr(0, slash));
    auto group = std::find_if(groups.begin(), groups.end(), [&](const TableGroup& g) { return g.title == title; });
    if (group == groups.end()) {
      group = groups.insert(groups.end(), {title, {}});
    }
    const std::vector<TableLine> rows = rows_of(f, system);
    group->lines.insert(group->lines.end(), rows.begin(), rows.end());
  }
  return groups;
}

/// What most people look for, before everything else.
TableGroup key_figures(const std::vector<Figure>& figures, std::size_t warnings, UnitSystem system) {
  const auto find = [&](std::string_view name) {
    const auto found = std::find_if(figures.begin(), figures.end(), [&](const Figure& f) { return f.name == name; });
    return found == figures.end() ? nullptr : &*found;
  };
  const auto value = [&](std::string_view name) { return find(name)->values.at(0); };
  const auto force = [&](std::string what, double newton) {
    const ShownUnit unit = shown_unit("N", newton, system);
    return TableLine{std::move(what), significant(unit(newton)), typeset(unit.name)};
  };
  const double highest = value("torque/clamp");
  const Figure* each = find("torque/clamp_by_stud");
  const double lowest = each != nullptr ? *std::min_element(each->values.begin(), each->values.end()) : highest;
  const double required = value("required_clamp");

  TableGroup group{"Key figures", {}};
  if (lowest < highest) {
    group.lines.push_back(force("clamp load at the set torque, weakest stud", lowest));
    group.lines.push_back(force("clamp load at the set torque, strongest stud", highest));
  } else {
    group.lines.push_back(force("clamp load at the set torque", highest));
  }
  group.lines.push_back(
      force("required clamp per stud, set by: " + find("deciding_design_case")->text.at(0), required));
  group.lines.push_back(
      {"stud utilisation, stress over yield while tightening", significant(value("torque/utilisation")), ""});
  // What there is over what is needed; below 1 it fails.
  std::vector<std::pair<double, std::string>> margins = {
      {value("slip_margin"), "slip in plain rolling"},
      {1 / value("torque/utilisation"), "yield while tightening"},
      {value("thread/proof_load") / highest, "proof load over clamp"},
      {value("fatigue_limit") / (value("fatigue/axial_amplitude") + value("fatigue/bending_amplitude")),
       "stud fatigue in plain rolling"}};
  if (required > 0) {
    margins.emplace_back(lowest / required, "clamp over required clamp");
  }
  if (value("seat_pressure_limit") > 0) {
    margins.emplace_back(value("seat_pressure_limit") / value("seat_pressure"), "pressure under the nut");
  }
  const auto weakest = *std::min_element(margins.begin(), margins.end());
  group.lines.push_back({"weakest margin, 1 is the limit: " + weakest.second, significant(weakest.first), ""});
  group.lines.push_back(rows_of(*find("grip_length"), system).front());
  group.lines.push_back({warnings == 0 ? "warnings" : "warnings, see the end", std::to_string(warnings), ""});
  return group;
}

void print_json(const Scenario& scenario, const std::vector<Figure>& figures,
                const std::vector<std::string>& warnings) {
  using nlohmann::ordered_json;
  // A group is an object of its own, with the units and the labels of its entries beside them.
  ordered_json document;
  document["title"] = scenario.title;
  for (const Figure& f : figures) {
    const std::size_t slash = f.name.find('/');
    ordered_json& group = slash == std::string::npos ? document : document[f.name.substr(0, slash)];
    const std::string key = slash == std::string::npos ? f.name : f.name.substr(slash + 1);
    if (!f.text.empty()) {
      group[key] = f.text.size() == 1 && f.labels.empty() ? ordered_json(f.text.front()) : ordered_json(f.text);
    } else {
      group[key] = f.values.size() == 1 && f.labels.empty() ? ordered_json(f.values.front()) : ordered_json(f.values);
      group["units"][key] = f.unit;
    }
    if (!f.labels.empty()) {
      group["labels"][key] = f.labels;
    }
  }
  document["warnings"] = warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  fmt::print("{}\n", document.dump(2));
}

Exit check(const std::string& file, bool json, UnitSystem system) {
  const Scenario scenario = read_scenario(file);
  const std::vector<Figure> figures = derive(scenario);
  const std::vector<std::string> warnings = make_header(scenario).warnings;
  if (json) {
    print_json(scenario, figures, warnings);
    return Exit::Ok;
  }
  fmt::print("{}\n{}: no errors\n", wrapped(scenario.title, 0, kPage), file);
  std::vector<TableGroup> tables = tables_of(figures, system);
  tables.insert(tables.begin(), key_figures(figures, warnings.size(), system));
  print_tables(tables);
  print_cautions(warnings);
  return Exit::Ok;
}

/// Runs with progress and signals; says at the end what became of it.
template <class Act>
int watched(const std::string& out, bool quiet, const Scenario& scenario, Act act) {
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  RunStatus status = RunStatus::Running;
  try {
    ProgressLine line(quiet);
    RunOptions options;
    options.progress = [&](double time, double end) {
      line.show(time / end, fmt::format("day {:.0f} of {:.0f}", time / units::kDay, end / units::kDay));
      return stop_signal == 0;
    };
    status = act(options);
  } catch (const NumericalError&) {
    fmt::print(stderr, "The history up to where the run failed is in {}.\n", out);
    throw;
  }
  if (status == RunStatus::Stopped) {
    fmt::print(stderr, "Stopped. Continue with: clampfade resume {}\n", out);
    return 128 + static_cast<int>(stop_signal);
  }
  fmt::print("{}\n", out);
  print_cautions(make_header(scenario).warnings);
  return static_cast<int>(Exit::Ok);
}

int simulate(const std::string& file, std::string out, bool force, bool quiet) {
  const Scenario scenario = read_scenario(file);
  if (out.empty()) {
    out = std::filesystem::path(file).stem().string() + ".h5";
  }
  std::error_code ignored;
  if (std::filesystem::equivalent(file, out, ignored)) {
    throw FileError(Code::FileWrite, out + ": this is the scenario itself; give the history another name");
  }
  HistoryWriter writer(out, force);
  return watched(out, quiet, scenario, [&](const RunOptions& options) { return run(scenario, writer, options); });
}

int resume_file(const std::string& file, bool quiet) {
  const auto writer = HistoryWriter::reopen(file); // refuses a history without a checkpoint, keeps other runs away
  std::string text;
  std::optional<Checkpoint> from;
  {
    const History history(file);
    text = history.scenario_text();
    from = history.checkpoint();
  }
  const Scenario scenario = read_scenario_text(text, file + " (scenario)", resolved_options());
  return watched(file, quiet, scenario,
                 [&](const RunOptions& options) { return resume(scenario, from.value(), *writer, options); });
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
  PlanWriter writer(out, options.force); // better to hear now that it cannot be written
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  const std::size_t count = result.cases.size();
  bool finished = false;
  {
    ProgressLine line(options.quiet);
    finished = run_plan(scenario, result, options.jobs, [&](std::size_t done, double share) {
      line.show(share, fmt::format("{} of {} runs", done, count));
      return stop_signal == 0;
    });
  }
  if (!finished) {
    fmt::print(stderr, "Stopped. {} was not written; a plan is only kept whole.\n", out);
    return 128 + static_cast<int>(stop_signal);
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
  fmt::print(stderr, "{}", with_colour(fmt::format("error [{}] {}\n", name(code), text)));
  if (!hint.empty()) {
    fmt::print(stderr, "   hint: {}\n", hint);
  }
  return static_cast<int>(exit_code(code));
}

int main_program(int argc, char** argv) {
  CLI::App app("Clamp load of bolted heavy-vehicle wheel joints over days and months of heat, braking and rolling.");
  app.name("clampfade");
  app.set_version_flag("--version", std::string("clampfade ") + CLAMPFADE_VERSION + " (" + CLAMPFADE_GIT_SHA + ")");
  app.require_subcommand(1);
  app.footer(
      "Examples:\n"
      "  clampfade check wheel.yaml                 faults of the scenario, and what follows from it at once\n"
      "  clampfade check wheel.yaml --units us      the same in lbf*ft, ksi, thou and degF\n"
      "  clampfade simulate wheel.yaml -o wheel.h5  run it into a history\n"
      "  clampfade resume wheel.h5                  go on with a run that was stopped\n"
      "  clampfade plan wheel.yaml -o plan.h5       when to retorque: the same wheel with retorques at many times\n"
      "  clampfade schema                           every key a scenario may have\n"
      "\n"
      "Exit codes: 0 done, 2 bad input, 3 the numerics failed, 4 a file could not be read or written,\n"
      "70 a fault of the program, 128 + signal for a run that was stopped.");

  std::string file;
  std::string out;
  bool json = false;
  bool force = false;
  bool quiet = false;
  std::string units = "si";

  CLI::App* check_command =
      app.add_subcommand("check", "Check a scenario and print what follows from it without running it");
  check_command->add_option("FILE", file, "scenario, YAML")->required();
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

  CLI::App* resume_command =
      app.add_subcommand("resume", "Go on with a run from its last checkpoint, to the same result");
  resume_command->add_option("FILE", file, "history, HDF5")->required();
  resume_command->add_flag("--quiet", quiet, "show no progress");

  int code = static_cast<int>(Exit::Ok);
  add_plan(app, code);

  CLI::App* schema_command = app.add_subcommand("schema", "Print every key a scenario may have");

  try {
    app.parse(argc, argv);
  } catch (const CLI::RequiredError& e) {
    // The library says only that a command is due; what stood in its place tells more.
    if (app.get_subcommands().empty() && !app.remaining().empty()) {
      std::vector<std::string> commands;
      for (const CLI::App* command : app.get_subcommands({})) {
        commands.push_back(command->get_name());
      }
      fmt::print(stderr, "{}Run with --help for more information.\n",
                 unknown_command(app.remaining().front(), "clampfade", commands, "clampfade-report",
                                 {"summary", "table", "sheet", "compare", "page", "lesson", "figure", "checks"}));
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
  // A file-size limit is then an error of the write, which says so, instead of a death without a word.
  std::signal(SIGXFSZ, SIG_IGN);
  int code = static_cast<int>(Exit::Bug);
  try {
    code = main_program(argc, argv);
  } catch (const InputError& e) {
    fmt::print(stderr, "{}", with_colour(e.what()));
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
  if (std::fflush(stdout) != 0 && code == static_cast<int>(Exit::Ok)) {
    code = fail(Code::FileWrite, "the output could not be written");
  }
  return code;
}

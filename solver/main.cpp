// clampfade: reads a scenario, says what follows from it, runs it into a history. Results go to stdout, everything else
// to stderr.
#include "models/units.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario.hpp"
#include "solver/io/schema.hpp"
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
#include <optional>
#include <string>
#include <string_view>
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

  void show(double time, double end) {
    const double now = std::chrono::duration<double>(Clock::now() - start_).count();
    if (!started_) {
      // A resumed run starts part way; only what this process did tells how fast it is.
      first_ = time;
      started_ = true;
    }
    if (!shown_ || now < 1 || now - drawn_ < 0.1) {
      return;
    }
    drawn_ = now;
    std::string line =
        fmt::format("day {:.0f} of {:.0f}, {:.0f} %", time / units::kDay, end / units::kDay, 100 * time / end);
    if (time > first_) {
      line += ", " + span_text(now * (end - time) / (time - first_)) + " left";
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

/// A paragraph of at most `width` columns, later lines indented.
std::string wrapped(std::string_view text, std::size_t indent, std::size_t width = 80) {
  std::string out;
  std::size_t column = 0;
  while (!text.empty()) {
    const std::size_t end = text.find(' ');
    const std::string_view word = text.substr(0, end);
    if (column > indent && column + 1 + word.size() > width) {
      out += '\n' + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      out += ' ';
      ++column;
    } else {
      column = indent;
    }
    out += word;
    column += word.size();
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  return out;
}

void print_cautions(const std::vector<std::string>& warnings) {
  if (!warnings.empty()) {
    fmt::print("\nWarnings\n");
    for (const std::string& w : warnings) {
      fmt::print("  - {}\n", wrapped(w, 4));
    }
  }
  fmt::print("\nCautions\n");
  for (const std::string_view c : cautions()) {
    fmt::print("  - {}\n", wrapped(c, 4));
  }
}

/// Characters on the screen.
std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
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

struct TableLine {
  std::string what, value, unit;
};

std::string capital(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  if (!text.empty()) {
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  }
  return text;
}

/// Figures as a table, those of one group together, the ungrouped ones first.
void print_figures(const std::vector<Figure>& figures, UnitSystem system) {
  std::vector<std::string> groups = {""};
  const auto group_of = [](const Figure& f) {
    const std::size_t slash = f.name.find('/');
    return slash == std::string::npos ? std::string() : f.name.substr(0, slash);
  };
  for (const Figure& f : figures) {
    if (std::find(groups.begin(), groups.end(), group_of(f)) == groups.end()) {
      groups.push_back(group_of(f));
    }
  }
  std::vector<std::pair<std::string, std::vector<TableLine>>> tables;
  std::size_t widest = 0;
  std::size_t widest_value = 0;
  for (const std::string& group : groups) {
    std::vector<TableLine> lines;
    for (const Figure& f : figures) {
      if (group_of(f) != group) {
        continue;
      }
      double largest = 0;
      for (const double v : f.values) {
        largest = std::isfinite(v) ? std::max(largest, std::abs(v)) : largest;
      }
      const ShownUnit unit = shown_unit(f.unit, largest, system);
      const auto shown = [&](double v) { return significant(unit(v)); };
      if (f.values.size() == 1 && f.labels.empty()) {
        lines.push_back({f.long_name, shown(f.values.front()), typeset(unit.name)});
      } else if (f.text.size() == 1) {
        lines.push_back({f.long_name, f.text.front(), ""});
      } else {
        lines.push_back({f.long_name, "", ""});
        for (std::size_t i = 0; i < std::max(f.values.size(), f.text.size()); ++i) {
          const std::string label = i < f.labels.size() ? f.labels[i] : std::to_string(i + 1);
          lines.push_back({"  " + label, f.text.empty() ? shown(f.values[i]) : f.text[i],
                           f.text.empty() ? typeset(unit.name) : ""});
        }
      }
    }
    for (const TableLine& l : lines) {
      widest = std::max(widest, columns(l.what));
      widest_value = std::max(widest_value, columns(l.value));
    }
    if (!lines.empty()) {
      tables.emplace_back(group, std::move(lines));
    }
  }
  for (const auto& [group, lines] : tables) {
    fmt::print("\n{}\n", group.empty() ? "Joint" : capital(group));
    for (const TableLine& l : lines) {
      std::string line = "  " + l.what;
      if (!l.value.empty()) {
        line += std::string(widest - columns(l.what) + 2 + widest_value - columns(l.value), ' ') + l.value;
        line += l.unit.empty() ? "" : " " + l.unit;
      }
      fmt::print("{}\n", line);
    }
  }
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
  fmt::print("{}\n{}: no errors\n", scenario.title, file);
  print_figures(figures, system);
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
      line.show(time, end);
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
  std::string text;
  std::optional<Checkpoint> from;
  {
    const History history(file);
    text = history.scenario_text();
    from = history.checkpoint();
  }
  const auto writer = HistoryWriter::reopen(file); // refuses a history without a checkpoint
  const Scenario scenario = read_scenario_text(text, file + " (scenario)", resolved_options());
  return watched(file, quiet, scenario,
                 [&](const RunOptions& options) { return resume(scenario, from.value(), *writer, options); });
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
  app.footer("Examples:\n"
             "  clampfade check wheel.yaml                 faults of the scenario, and what follows from it at once\n"
             "  clampfade check wheel.yaml --units us      the same in lbf*ft, ksi, thou and degF\n"
             "  clampfade simulate wheel.yaml -o wheel.h5  run it into a history\n"
             "  clampfade resume wheel.h5                  go on with a run that was stopped\n"
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

  CLI::App* schema_command = app.add_subcommand("schema", "Print every key a scenario may have");

  try {
    app.parse(argc, argv);
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
  return static_cast<int>(Exit::Ok);
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

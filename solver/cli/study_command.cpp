#include "solver/cli/study_command.hpp"

#include "models/units.hpp"
#include "solver/basis.hpp"
#include "solver/cli/limit.hpp"
#include "solver/cli/streams.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/io/history.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/sha256.hpp"
#include "solver/io/study_file.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/simulation.hpp"
#include "solver/study.hpp"
#include "solver/study_merge.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

/// Of `sweep` and `sample`.
struct StudyOptions {
  std::string file, out, part, keep;
  std::vector<std::string> vary;
  bool list = false;
  SampleRequest sample;
  bool random = false;
  std::size_t jobs = std::max(1U, std::thread::hardware_concurrency());
  bool force = false;
  bool quiet = false;
};

[[noreturn]] void refuse(std::string option, std::string found, std::string allowed) {
  Diagnostic d;
  d.code = Code::OutOfRange;
  d.path = std::move(option);
  d.found = std::move(found);
  d.allowed = std::move(allowed);
  throw InputError({d});
}

/// "2/8"
void read_part(const std::string& text, Study& study) {
  if (text.empty()) {
    return;
  }
  const std::size_t slash = text.find('/');
  const double part = plain_number(text.substr(0, slash)).value_or(0);
  const double parts = slash == std::string::npos ? 0 : plain_number(text.substr(slash + 1)).value_or(0);
  const auto whole = [](double v) { return v == std::floor(v) && v >= 1 && v <= 1e6; };
  if (!whole(part) || !whole(parts) || part > parts) {
    refuse("--part", fmt::format("'{}' is no part of a whole", text), "k/K with k from 1 to K, for example 1/2");
  }
  study.part = static_cast<std::size_t>(part);
  study.parts = static_cast<std::size_t>(parts);
}

/// "0,17"
std::vector<std::size_t> read_kept(const std::string& text, std::size_t cases) {
  std::vector<std::size_t> kept;
  for (std::size_t from = 0; !text.empty() && from <= text.size();) {
    const std::size_t comma = std::min(text.find(',', from), text.size());
    std::string one = text.substr(from, comma - from);
    one.erase(std::remove(one.begin(), one.end(), ' '), one.end());
    const auto number = plain_number(one);
    if (!number || *number != std::floor(*number) || *number < 0 || *number >= static_cast<double>(cases)) {
      refuse("--keep", fmt::format("'{}' is no case of this study", one), fmt::format("0 to {}", cases - 1));
    }
    const auto index = static_cast<std::size_t>(*number);
    if (std::find(kept.begin(), kept.end(), index) == kept.end()) {
      kept.push_back(index);
    }
    from = comma + 1;
  }
  return kept;
}

/// Tells which cases there are and what each is given.
std::string digest_of_design(const Study& study) {
  std::string text = fmt::format("{}\n{} {} {}\n", study.scenario_text, name(study.kind),
                                 study.kind == StudyKind::Sample ? name(study.sampling) : "", study.seed);
  const auto values = [&](const std::string& what, const std::string& path, const std::vector<double>& numbers,
                          const std::vector<std::string>& texts) {
    text += fmt::format("{} {} {}:", what, path, numbers.size() + texts.size());
    for (const double v : numbers) {
      text += fmt::format(" {}", v);
    }
    for (const std::string& t : texts) {
      text += fmt::format(" {}:{}", t.size(), t);
    }
    text += '\n';
  };
  for (const StudyAxis& a : study.axes) {
    values("axis " + a.name, a.path, a.values, a.texts);
  }
  for (const StudyInput& i : study.inputs) {
    values((i.per_stud ? "input by stud " : "input ") + i.name, i.path, i.values, i.texts);
  }
  values("design", "", {study.design.begin(), study.design.end()}, {});
  values("time", "", study.time, {});
  return sha256(text);
}

[[noreturn]] void refuse_complete(const std::string& out) {
  throw FileError(Code::FileExists, out + ": the study is there and complete");
}

/// Takes over what a run of the same study has done. An input error in what is no such study would be lost work, so
/// only --force overwrites. A complete study is taken over for the histories of its cases alone.
void take_over(Study& study, const std::string& out, bool for_histories) {
  if (!is_study(out)) {
    throw FileError(Code::FileExists, out + ": the file is there and is no study");
  }
  const StudyFile file = read_study(out);
  const Study& before = file.study;
  if (before.design_sha256 != study.design_sha256) {
    throw FileError(Code::FileExists, out + ": the file holds another study");
  }
  if (before.part != study.part || before.parts != study.parts) {
    throw FileError(Code::FileExists, fmt::format("{}: the file holds part {}/{}", out, before.part, before.parts));
  }
  if (before.status == StudyStatus::Complete && !for_histories) {
    refuse_complete(out);
  }
  if (file.git_sha != CLAMPFADE_GIT_SHA) {
    throw FileError(Code::FileExists,
                    fmt::format("{}: the study was begun by another program, {} ({}); its cases do not "
                                "go together with those of this one",
                                out, file.program_version, file.git_sha));
  }
  study.cases = before.cases;
  study.status = before.status == StudyStatus::Complete ? before.status : study.status;
}

std::string kept_name(const std::string& out, std::size_t index) {
  const std::filesystem::path path(out);
  return (path.parent_path() / fmt::format("{}-case-{:06}.h5", path.stem().string(), index)).string();
}

/// One line on what the cases came to.
std::string outcome_text(const Study& study) {
  std::size_t done = 0;
  std::size_t failed = 0;
  std::size_t below = 0;
  std::size_t overtightened = 0;
  for (const StudyCase& c : study.cases) {
    done += c.status == CaseStatus::Complete ? 1U : 0U;
    failed += c.status == CaseStatus::Failed ? 1U : 0U;
    below += c.status == CaseStatus::Complete && !std::isnan(c.below_time) ? 1U : 0U;
    overtightened += c.status == CaseStatus::Complete && c.overtightened() ? 1U : 0U;
  }
  return fmt::format(
      "{} of {} cases run to the end, {} of them with a stud below the required clamp{}{}", done, study.cases.size(),
      below,
      overtightened > 0
          ? fmt::format("; IN {} THE WRENCH STRETCHES A STUD OR PULLS IT ABOVE ITS PROOF LOAD", overtightened)
          : "",
      failed > 0 ? fmt::format("; {} failed", failed) : "");
}

/// A case whose full history is written too.
struct KeptCase {
  std::size_t index = 0;
  std::unique_ptr<HistoryWriter> writer; ///< none: its history is there
  std::optional<Checkpoint> from;        ///< where a history that was broken off goes on
};

/// Makes sure that the history can be written. What an earlier run of the same study has of it is taken over.
KeptCase kept_case(std::size_t index, const std::string& path, const std::function<Scenario(std::size_t)>& make,
                   bool same_study, bool force) {
  KeptCase kept;
  kept.index = index;
  std::error_code ignored;
  if (!same_study || !std::filesystem::exists(path, ignored)) {
    kept.writer = std::make_unique<HistoryWriter>(path, force);
    return kept;
  }
  RunStatus status = RunStatus::Running;
  {
    const History history(path);
    if (history.scenario_text() != make_header(make(index)).scenario_text) {
      throw FileError(Code::FileExists, path + ": the file holds another run");
    }
    status = history.status();
    kept.from = history.checkpoint();
  }
  if (status == RunStatus::Running || status == RunStatus::Stopped) {
    kept.writer = kept.from ? HistoryWriter::reopen(path) : std::make_unique<HistoryWriter>(path, true);
  }
  return kept;
}

/// Full histories of some cases, each with the records that the scenario asks for.
void keep_histories(std::vector<KeptCase>& kept, const std::string& out,
                    const std::function<Scenario(std::size_t)>& make, bool quiet) {
  for (KeptCase& one : kept) {
    if (one.writer) {
      const Scenario scenario = make(one.index);
      ProgressLine line(quiet);
      RunOptions options;
      options.progress = [&](double time, double end) {
        line.show(time / end, fmt::format("history of case {}", one.index));
        return stop_signal() == 0;
      };
      try {
        if (one.from) {
          resume(scenario, *one.from, *one.writer, options);
        } else {
          run(scenario, *one.writer, options);
        }
      } catch (const NumericalError&) {
        // The study tells of it, and the history goes as far as the run.
      }
      one.writer.reset();
    }
    fmt::print("{}\n", kept_name(out, one.index));
  }
}

void run_cases_of(Study& study, StudyWriter& writer, const StudyOptions& options,
                  const std::function<Scenario(std::size_t)>& make) {
  writer.write(study);
  const auto before = static_cast<std::size_t>(std::count_if(
      study.cases.begin(), study.cases.end(), [](const StudyCase& c) { return c.status != CaseStatus::Pending; }));
  std::size_t mine = 0;
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    mine += study.mine(i) ? 1U : 0U;
  }
  {
    ProgressLine line(options.quiet);
    StudyRunOptions run;
    run.jobs = options.jobs;
    run.progress = [&](std::size_t done, double share) {
      line.show(share, fmt::format("{} of {} cases", before + done, mine));
      return stop_signal() == 0;
    };
    run.publish = [&](const Study& now) { writer.write(now); };
    run_study(study, make, run);
  }
  writer.write(study);
}

int run_command(const StudyOptions& options, StudyKind kind) {
  const std::string out = options.out.empty()
                              ? fmt::format("{}-{}.h5", std::filesystem::path(options.file).stem().string(), name(kind))
                              : options.out;
  std::error_code ignored;
  if (std::filesystem::equivalent(options.file, out, ignored)) {
    throw FileError(Code::FileWrite, out + ": this is the scenario itself; give the study another name");
  }
  StudyReader::More more;
  more.axes = options.vary;
  const StudyReader reader(scenario_file_text(options.file, {}), options.file, {}, more);
  Study study = lay_out(reader.base(), reader.study_text());
  const std::vector<StudyAxis> axes = reader.axes();
  if (kind == StudyKind::Sweep) {
    lay_out_sweep(study, axes, options.list);
  } else {
    SampleRequest request = options.sample;
    request.sampling = options.random ? StudySampling::Random : StudySampling::Sobol;
    lay_out_sample(study, reader.scatter(), request);
  }
  study.warnings = reader.warnings();
  read_part(options.part, study);
  std::vector<std::size_t> kept = read_kept(options.keep, study.cases.size());
  kept.erase(std::remove_if(kept.begin(), kept.end(), [&](std::size_t i) { return !study.mine(i); }), kept.end());
  study.design_sha256 = digest_of_design(study);
  const auto make = [&](std::size_t i, bool resolved) {
    return kind == StudyKind::Sweep ? reader.sweep_case(positions(study, axes, i), resolved)
                                    : reader.sample_case(sample_values(study, i), resolved);
  };

  const bool there = std::filesystem::exists(out, ignored);
  const bool same_study = there && !options.force;
  if (same_study) {
    take_over(study, out, !kept.empty());
  }
  listen_for_stop();              // before there is anything to clear away
  StudyWriter writer(out, there); // better to hear now that it cannot be written
  std::vector<KeptCase> histories;
  const auto make_kept = [&](std::size_t i) { return make(i, true); };
  for (const std::size_t i : kept) {
    histories.push_back(kept_case(i, kept_name(out, i), make_kept, same_study, options.force));
  }
  const bool complete = study.status == StudyStatus::Complete;
  if (complete &&
      std::none_of(histories.begin(), histories.end(), [](const KeptCase& k) { return k.writer != nullptr; })) {
    refuse_complete(out);
  }
  if (!complete) {
    run_cases_of(study, writer, options, [&](std::size_t i) { return make(i, false); });
  }
  if (study.status == StudyStatus::Stopped) {
    tell(fmt::format("Stopped. The same command goes on where it was; {} holds what is done.\n", out));
    return 128 + stop_signal();
  }
  fmt::print("{}\n", out);
  keep_histories(histories, out, make_kept, options.quiet);
  const std::vector<std::string> warnings = study_warnings(study);
  print_basis(warnings);
  fmt::print("{}\n", wrapped(outcome_text(study), 0, kText));
  print_cautions(warnings);
  if (!kept.empty() && stop_signal() != 0) {
    tell("Stopped. The study is complete; the same command goes on with its histories, or with one of them: "
         "clampfade resume FILE\n");
    return 128 + stop_signal();
  }
  const auto failed = static_cast<std::size_t>(std::count_if(
      study.cases.begin(), study.cases.end(), [](const StudyCase& c) { return c.status == CaseStatus::Failed; }));
  if (failed > 0) {
    throw NumericalError(Code::NoEquilibrium,
                         fmt::format("{} of {} cases failed; {} says why, and what the others came to", failed,
                                     study.cases.size(), out));
  }
  return static_cast<int>(Exit::Ok);
}

int merge(const std::vector<std::string>& files, const std::string& out, bool force) {
  std::vector<Study> parts;
  StudyFile first;
  for (const std::string& file : files) {
    std::error_code ignored;
    if (std::filesystem::equivalent(file, out, ignored)) {
      throw FileError(Code::FileWrite, out + ": this is one of the parts; give the whole another name");
    }
    StudyFile part = read_study(file);
    if (parts.empty()) {
      first = part;
    } else if (part.git_sha != first.git_sha) {
      throw FileError(Code::FileVersion,
                      fmt::format("{} was run by another program than {}: {} ({}) and {} ({}); their "
                                  "cases do not go together",
                                  part.path, first.path, part.program_version, part.git_sha, first.program_version,
                                  first.git_sha));
    }
    parts.push_back(std::move(part.study));
  }
  listen_for_stop(); // before there is anything to clear away
  StudyWriter writer(out, force);
  const Study whole = merged(std::move(parts));
  if (stop_signal() != 0) {
    tell(fmt::format("Stopped. {} was not written; a whole is only kept whole.\n", out));
    return 128 + stop_signal();
  }
  writer.write(whole);
  const std::vector<std::string> warnings = study_warnings(whole);
  fmt::print("{}\n", out);
  print_basis(warnings);
  fmt::print("{}\n", wrapped(outcome_text(whole), 0, kText));
  print_cautions(warnings);
  return static_cast<int>(Exit::Ok);
}

/// What `sweep` and `sample` share.
void add_common(CLI::App* command, StudyOptions& options, const std::string& kind) {
  command->add_option("FILE", options.file, "scenario, YAML")->required();
  command->add_option("-o,--output", options.out,
                      fmt::format("study file; default: the scenario's name with -{}.h5, in this folder", kind));
  command->add_option("--jobs", options.jobs, "cases at a time; default: as many as there are processors")
      ->check(CLI::Range(1, 1024))
      ->option_text("N");
  command->add_option("--part", options.part, "part k of K, for several machines; `merge` puts the parts together")
      ->option_text("k/K");
  command
      ->add_option("--keep", options.keep,
                   "numbers of cases, from 0, whose full histories are written too; of a part, those that are its own")
      ->option_text("0,17");
  command->add_flag("--force", options.force, "overwrite the study file, and begin anew, if it is there");
  command->add_flag("--quiet", options.quiet, "show no progress");
}

constexpr const char* kGoesOn = "The file is brought up to date every quarter of a minute. A study that was stopped or "
                                "killed goes on where it was\n"
                                "when the same command is given again, and so do the histories that --keep asks for.\n"
                                "Read it with: clampfade-report summary FILE\n";

void add_sweep(CLI::App& app, int& code) {
  const auto options = std::make_shared<StudyOptions>();
  CLI::App* command = app.add_subcommand("sweep", "Run a scenario for all values that its `vary` lists");
  add_common(command, *options, "sweep");
  command
      ->add_option("--vary", options->vary,
                   "one more axis: \"PATH=10 mm,14 mm\", \"PATH=0 um..120 um:7\" or, in equal proportions, "
                   "\"PATH=1 h..100 h:9:log\"; may be given many times")
      ->option_text("PATH=...")
      ->allow_extra_args(false);
  command->add_flag("--list", options->list, "take the first value of every axis together, then the second, and so on");
  command->footer(std::string(kGoesOn) +
                  "\n"
                  "Examples:\n"
                  "  clampfade sweep wheel.yaml -o sweep.h5\n"
                  "  clampfade sweep wheel.yaml -o sweep.h5 --vary 'joint/stack/outer disc/thickness=10 mm,14 mm'\n"
                  "  clampfade sweep wheel.yaml -o part1.h5 --part 1/2     # the other machine: --part 2/2");
  command->callback([options, &code] { code = run_command(*options, StudyKind::Sweep); });
}

void add_sample(CLI::App& app, int& code) {
  const auto options = std::make_shared<StudyOptions>();
  CLI::App* command =
      app.add_subcommand("sample", "Run a scenario many times with the values that its `scatter` draws");
  add_common(command, *options, "sample");
  command->add_option("--count", options->sample.count, "wheels to draw; for --sensitivity base wheels")
      ->required()
      ->check(CLI::Range(std::size_t{1}, kMostCases))
      ->option_text("N");
  command->add_option("--seed", options->sample.seed, "number that the draw begins from; default 1")->option_text("S");
  command->add_flag("--random", options->random, "independent random wheels instead of evenly spread ones (Sobol)");
  command->add_flag("--sensitivity", options->sample.sensitivity,
                    "a design from which the report tells which value matters: N times (values + 2) runs");
  command->footer(std::string(kGoesOn) +
                  "The numbers of a wheel depend on the seed and on its number alone.\n"
                  "\n"
                  "Examples:\n"
                  "  clampfade sample wheel.yaml -o sample.h5 --count 256\n"
                  "  clampfade sample wheel.yaml -o sample.h5 --count 64 --sensitivity --seed 7");
  command->callback([options, &code] { code = run_command(*options, StudyKind::Sample); });
}

void add_merge(CLI::App& app, int& code) {
  struct Options {
    std::vector<std::string> files;
    std::string out;
    bool force = false;
  };
  const auto options = std::make_shared<Options>();
  CLI::App* command = app.add_subcommand("merge", "Put the parts of one study together");
  command->add_option("FILES", options->files, "all parts, study files")->required();
  command->add_option("-o,--output", options->out, "study file of the whole")->required();
  command->add_flag("--force", options->force, "overwrite the study file if it is there");
  command->footer("Example:\n  clampfade merge part1.h5 part2.h5 -o sweep.h5");
  command->callback([options, &code] { code = merge(options->files, options->out, options->force); });
}

} // namespace

void add_study_commands(CLI::App& app, int& code) {
  add_sweep(app, code);
  add_sample(app, code);
  add_merge(app, code);
  add_limit(app, code);
}

} // namespace clampfade

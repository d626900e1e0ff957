#include "solver/cli/limit.hpp"

#include "models/units.hpp"
#include "solver/basis.hpp"
#include "solver/cli/options.hpp"
#include "solver/cli/streams.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/sha256.hpp"
#include "solver/io/study_file.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/limit.hpp"
#include "solver/study.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

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

constexpr double kCloseness = 1e-3; // of the interval, where no tolerance is given
constexpr std::size_t kScan = 9;    // values of the coarse scan

struct LimitOptions {
  std::string file, out, path, tolerance;
  std::vector<std::string> between;
  std::size_t jobs = std::max(1U, std::thread::hardware_concurrency());
  bool json = false;
  bool force = false;
  bool quiet = false;
};

double lowest_clamp(const StudyCase& c) {
  double lowest = StudyCase::kUnknown;
  for (const double v : c.clamp_cold_lowest) {
    lowest = std::fmin(lowest, v);
  }
  return lowest;
}

constexpr const char* kKeeps = "every stud keeps the required clamp to the end";

std::string crossing_sentence(const Limit& limit, const LimitCrossing& c, const ParamSpec& spec,
                              const std::string& label) {
  const auto text = [&](double v) { return friendly(v, spec); };
  const bool largest = c.keeps < c.fails;
  const std::string beyond = text(c.keeps) != text(c.fails) ? "at " + text(c.fails)
                             : largest                      ? "just above it"
                                                            : "just below it";
  const std::string end = fmt::format("The {} {} at which ", largest ? "largest" : "smallest", label);
  if (c.reason == LimitReason::Clamp) {
    return fmt::format("{}{} is {}; {} one does not.", end, kKeeps, text(c.keeps), beyond);
  }
  // Which of the two bounds it is shows where both are still kept.
  const auto keeping =
      std::find_if(limit.points.begin(), limit.points.end(), [&](const LimitPoint& p) { return p.value == c.keeps; });
  const bool proof = keeping->outcome.proof_share > keeping->outcome.utilisation_tightening;
  return fmt::format("{}the wrench {} is {}; {} it does.", end,
                     proof ? "pulls no stud above its proof load" : "stretches no stud for good", text(c.keeps),
                     beyond);
}

/// What holds over all values tried, the answer to whether any of them will do.
std::vector<std::string> verdict(const Limit& limit, const ParamSpec& spec) {
  const std::string from = friendly(limit.points.front().value, spec);
  const std::string to = friendly(limit.points.back().value, spec);
  const auto count = [&](const auto& test) { return std::count_if(limit.points.begin(), limit.points.end(), test); };
  const auto known = count([](const LimitPoint& p) { return !std::isnan(p.margin); });
  const auto keep = count([](const LimitPoint& p) { return p.margin >= 0; });
  const auto hold = count([](const LimitPoint& p) { return p.holds(); });
  const auto strained = count([](const LimitPoint& p) { return p.wrench_margin < 0; });
  const auto kinds = [&](LimitReason reason) {
    return std::count_if(limit.crossings.begin(), limit.crossings.end(),
                         [&](const LimitCrossing& c) { return c.reason == reason; });
  };
  if (known == 0) {
    return {"No run came to an end: nothing is known of the limit."};
  }
  if (keep == 0) {
    return {fmt::format("No value tried from {} to {} lets every stud keep the required clamp to the end{}.", from, to,
                        strained == known ? ", and every one overtightens a stud" : "")};
  }
  if (hold == 0) {
    const auto first = std::find_if(limit.points.begin(), limit.points.end(),
                                    [](const LimitPoint& p) { return p.margin >= 0 && p.wrench_margin < 0; });
    return {fmt::format("No value tried from {} to {} will do: wherever {}, the wrench {}.", from, to, kKeeps,
                        first->outcome.utilisation_tightening > 1 ? "stretches a stud for good"
                                                                  : "pulls a stud above its proof load")};
  }
  if (limit.crossings.empty() && hold == known) {
    const bool told = std::all_of(limit.points.begin(), limit.points.end(), [](const LimitPoint& p) {
      return std::isnan(p.margin) || !std::isnan(p.wrench_margin);
    });
    return {fmt::format("Every stud keeps the required clamp to the end{} for all values tried from {} to {}: the "
                        "limit lies outside.",
                        told ? ", and none is overtightened," : "", from, to)};
  }
  std::vector<std::string> out;
  if (kinds(LimitReason::Clamp) == 1 && kinds(LimitReason::Wrench) == 1) {
    const auto holds_at = [&](double value) {
      return std::any_of(limit.points.begin(), limit.points.end(),
                         [&](const LimitPoint& p) { return p.value == value && p.holds(); });
    };
    const double low = limit.crossings.front().keeps;
    const double high = limit.crossings.back().keeps;
    if (holds_at(low) && holds_at(high)) {
      out.push_back(fmt::format("From {} to {} every stud keeps the required clamp to the end and none is "
                                "overtightened.",
                                friendly(low, spec), friendly(high, spec)));
    }
  } else if (kinds(LimitReason::Clamp) == 0 && keep == known) {
    out.push_back(fmt::format("Every stud keeps the required clamp to the end for all values tried from {} to {}; what "
                              "ends is what the studs bear under the wrench.",
                              from, to));
  }
  return out;
}

/// The answer in sentences.
std::vector<std::string> sentences(const Limit& limit, const ParamSpec& spec, const std::string& label) {
  std::vector<std::string> out = verdict(limit, spec);
  std::size_t of_clamp = 0;
  std::size_t of_wrench = 0;
  for (const LimitCrossing& c : limit.crossings) {
    out.push_back(crossing_sentence(limit, c, spec, label));
    ++(c.reason == LimitReason::Clamp ? of_clamp : of_wrench);
  }
  if (of_clamp > 1 || of_wrench > 1) {
    out.push_back("Keeping ends and begins more than once: each change that the scan shows is told, and between the "
                  "values of the scan there may be more.");
  } else if (!limit.monotonic) {
    out.push_back("The margin rises and falls over the interval: between the values of the scan it may cross the limit "
                  "where nothing is told.");
  }
  if (limit.failed > 0) {
    out.push_back(fmt::format("{} of {} runs failed; the table says which.", limit.failed, limit.points.size()));
  }
  return out;
}

void print_table(const Limit& limit, const ParamSpec& spec, const std::string& label) {
  std::vector<std::vector<std::string>> rows = {
      {label, "lowest cold kN", "margin kN", "below after d", "wrench, of yield", ""}};
  for (const LimitPoint& p : limit.points) {
    if (std::isnan(p.margin)) {
      rows.push_back({friendly(p.value, spec), "failed: " + p.outcome.message});
      continue;
    }
    rows.push_back({friendly(p.value, spec), significant(lowest_clamp(p.outcome) / units::kKilonewton),
                    significant(p.margin / units::kKilonewton),
                    std::isnan(p.outcome.below_time) ? "-" : significant(p.outcome.below_time / units::kDay),
                    std::isnan(p.outcome.utilisation_tightening) ? "-" : significant(p.outcome.utilisation_tightening),
                    p.outcome.utilisation_tightening > 1 ? "STRETCHED"
                    : p.outcome.proof_share > 1          ? "ABOVE PROOF LOAD"
                                                         : ""});
  }
  const std::size_t full = rows.front().size();
  std::vector<std::size_t> width(full, 0);
  for (const auto& row : rows) {
    for (std::size_t k = 0; k < row.size() && row.size() == full; ++k) {
      width[k] = std::max(width[k], columns(row[k]));
    }
  }
  fmt::print("\n");
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t k = 0; k < row.size(); ++k) {
      const std::size_t pad = width[k] - std::min(width[k], columns(row[k]));
      const bool right = row.size() == full && k + 1 < full;
      line += "  " + (right ? std::string(pad, ' ') : "") + row[k];
    }
    line.erase(line.find_last_not_of(' ') + 1);
    fmt::print("{}\n", line);
  }
}

void print_json(const Limit& limit, const StudyAxis& axis, const std::vector<std::string>& said,
                const std::vector<std::string>& warnings) {
  using nlohmann::ordered_json;
  ordered_json document;
  document["path"] = axis.path;
  document["unit"] = axis.unit;
  document["crossings"] = ordered_json::array();
  for (const LimitCrossing& c : limit.crossings) {
    document["crossings"].push_back({{"keeps", c.keeps}, {"fails", c.fails}, {"reason", name(c.reason)}});
  }
  document["keeps_at_lower_end"] = limit.keeps_low;
  document["keeps_at_upper_end"] = limit.keeps_high;
  document["monotonic"] = limit.monotonic;
  document["said"] = said;
  document["points"] = ordered_json::array();
  for (const LimitPoint& p : limit.points) {
    ordered_json row;
    row["value"] = p.value;
    const auto number = [](double v) { return std::isnan(v) ? ordered_json() : ordered_json(v); };
    row["lowest_cold_clamp_N"] = number(lowest_clamp(p.outcome));
    row["required_clamp_N"] = number(p.outcome.required_clamp);
    row["margin_N"] = number(p.margin);
    row["below_time_s"] = number(p.outcome.below_time);
    row["utilisation_tightening"] = number(p.outcome.utilisation_tightening);
    row["proof_share"] = number(p.outcome.proof_share);
    row["holds"] = p.holds();
    if (p.outcome.status == CaseStatus::Failed) {
      row["message"] = p.outcome.message;
    }
    document["points"].push_back(std::move(row));
  }
  document["warnings"] = warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  fmt::print("{}\n", document.dump(2));
}

/// The values tried as a study: a sweep over a list.
Study as_study(const Limit& limit, Study study, StudyAxis axis) {
  axis.values.clear();
  for (const LimitPoint& p : limit.points) {
    axis.values.push_back(p.value);
  }
  lay_out_sweep(study, {std::move(axis)}, true);
  for (std::size_t i = 0; i < limit.points.size(); ++i) {
    study.cases[i] = limit.points[i].outcome;
  }
  study.status = StudyStatus::Complete;
  std::string design = study.scenario_text;
  for (const double v : study.inputs.front().values) {
    design += fmt::format("\n{}", v);
  }
  study.design_sha256 = sha256(design);
  return study;
}

int limit_command(const LimitOptions& options) {
  StudyReader::More more;
  more.between = {options.path, options.between[0], options.between[1]};
  more.instead = true;
  const StudyReader reader(scenario_file_text(options.file, {}), options.file, {}, more);
  const StudyAxis axis = reader.axes().front();
  const ParamSpec spec = reader.axis_spec();
  if (spec.quantity == Quantity::Count || axis.values.size() != 2) {
    refuse_option(Code::WrongType, "--path",
                  fmt::format("{} is no number that can take all values between two", options.path),
                  "a path to a quantity; for counts and names use `sweep`");
  }
  LimitRequest request;
  request.low = std::min(axis.values[0], axis.values[1]);
  request.high = std::max(axis.values[0], axis.values[1]);
  if (!(request.low < request.high)) {
    refuse_option(Code::Inconsistent, "--between", "both ends are the same", "two unlike values");
  }
  request.tolerance = kCloseness * (request.high - request.low);
  if (!options.tolerance.empty()) {
    ParamSpec width = spec;
    width.allowed = {};
    width.quantity = spec.quantity == Quantity::Point ? Quantity::Difference : spec.quantity;
    const QuantityResult read = read_quantity(options.tolerance, width);
    if (!read.value) {
      refuse_option(read.fault.code, "--tolerance", read.fault.found, read.fault.allowed);
    }
    if (!(*read.value > 0)) {
      refuse_option(Code::OutOfRange, "--tolerance", fmt::format("'{}' is no width", options.tolerance), "above 0");
    }
    request.tolerance = *read.value;
  }
  request.scan = kScan;
  request.jobs = options.jobs;
  std::error_code ignored;
  if (!options.out.empty() && std::filesystem::equivalent(options.file, options.out, ignored)) {
    throw FileError(Code::FileWrite, options.out + ": this is the scenario itself; give the study another name");
  }
  listen_for_stop(); // before there is anything to clear away
  std::optional<StudyWriter> writer;
  if (!options.out.empty()) {
    writer.emplace(options.out, options.force);
  }
  Study study = lay_out(reader.base(), reader.study_text());
  study.warnings = reader.warnings();
  Limit limit;
  {
    ProgressLine line(options.quiet);
    limit = find_limit([&](double value) { return reader.value_case(value); }, study.time, request,
                       [&](std::size_t done, double share) {
                         line.show(share, done < kScan ? fmt::format("{} of {} values", done, kScan)
                                                       : std::string("closing in"));
                         return stop_signal() == 0;
                       });
  }
  if (limit.stopped) {
    tell("Stopped.\n");
    return 128 + stop_signal();
  }
  const std::vector<std::string> said = sentences(limit, spec, axis.label);
  const Study tried = as_study(limit, std::move(study), axis);
  const std::vector<std::string> warnings = study_warnings(tried);
  if (writer) {
    writer->write(tried);
  }
  if (options.json) {
    print_json(limit, axis, said, warnings);
  } else {
    print_basis(warnings);
    for (const std::string& sentence : said) {
      fmt::print("{}\n", wrapped(sentence, 0, kText));
    }
    print_table(limit, spec, axis.label);
    if (writer) {
      fmt::print("\n{}\n", options.out);
    }
    print_cautions(warnings);
  }
  if (limit.failed == limit.points.size()) {
    throw NumericalError(Code::NoEquilibrium, "no run came to an end: " + limit.points.front().outcome.message);
  }
  return static_cast<int>(Exit::Ok);
}

} // namespace

void add_limit(CLI::App& app, int& code) {
  const auto options = std::make_shared<LimitOptions>();
  CLI::App* command = app.add_subcommand(
      "limit", "Find how far a value may go before a stud falls below the required clamp or is overtightened");
  command->add_option("FILE", options->file, "scenario, YAML")->required();
  command->add_option("--path", options->path, "the value, as in `vary`")->required()->option_text("PATH");
  command->add_option("--between", options->between, "the two ends of the interval, with units")
      ->required()
      ->expected(2)
      ->option_text("A B");
  command->add_option("--tolerance", options->tolerance,
                      "how close to come, with a unit; default: a thousandth of the interval");
  command->add_option("-o,--output", options->out, "study file of all values tried; default: none");
  command->add_option("--jobs", options->jobs, "runs at a time; default: as many as there are processors")
      ->check(CLI::Range(1, 1024))
      ->option_text("N");
  command->add_flag("--json", options->json, "print JSON in SI units");
  command->add_flag("--force", options->force, "overwrite the study file if it is there");
  command->add_flag("--quiet", options->quiet, "show no progress");
  command->footer("Nine values are tried first; each change between keeping and failing among them is then narrowed\n"
                  "down, of the clamp and of what the studs bear under the wrench. The scenario's own `vary` and\n"
                  "`scatter` are left out. A limit is no value to use: scatter of torque and friction, and what the\n"
                  "model leaves out, are not in it.\n"
                  "\n"
                  "Examples:\n"
                  "  clampfade limit wheel.yaml --path 'joint/stack/*/*_side/thickness' --between '0 um' '150 um'\n"
                  "  clampfade limit wheel.yaml --path tightening/torque --between '400 N*m' '700 N*m' --json");
  command->callback([options, &code] { code = limit_command(*options); });
}

} // namespace clampfade

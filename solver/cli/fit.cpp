#include "solver/cli/fit.hpp"

#include "solver/cli/options.hpp"
#include "solver/cli/streams.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/fit.hpp"
#include "solver/io/fit_data.hpp"
#include "solver/io/fit_file.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/sha256.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/simulation.hpp"

#include <CLI/CLI.hpp>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

struct FitOptions {
  std::string file, data, out, loss = "none", friction = "10 %";
  std::vector<std::string> free;
  std::vector<std::pair<std::string, std::string>> sets;
  std::size_t starts = 8;
  std::uint64_t seed = 1;
  std::size_t jobs = std::max(1U, std::thread::hardware_concurrency());
  bool profile = false, json = false, block = false, force = false, quiet = false;
};

/// A data set as read: its scenario, which stays open for the runs, and its readings.
struct DataSet {
  std::string scenario_file, data_file, data_sha256;
  std::unique_ptr<StudyReader> reader;
  std::vector<FitReading> readings;
};

/// All files, with the faults of all of them told together.
std::vector<DataSet> read_sets(const FitOptions& options) {
  std::vector<std::pair<std::string, std::string>> files = {{options.file, options.data}};
  files.insert(files.end(), options.sets.begin(), options.sets.end());
  std::vector<DataSet> sets;
  std::vector<Diagnostic> faults;
  const auto collect = [&](const auto& read) {
    try {
      read();
    } catch (const InputError& e) {
      faults.insert(faults.end(), e.diagnostics().begin(), e.diagnostics().end());
    }
  };
  StudyReader::More more;
  more.instead = true;
  more.free = options.free;
  for (const auto& file_pair : files) {
    const std::string& scenario = file_pair.first; // clang 14 lets no lambda see a structured binding
    const std::string& data = file_pair.second;
    DataSet set;
    set.scenario_file = scenario;
    set.data_file = data;
    collect([&] {
      set.reader = std::make_unique<StudyReader>(scenario_file_text(scenario, {}), scenario, ReadOptions{}, more);
      const RunHeader header = make_header(set.reader->base());
      FitData file = read_fit_data(data, {header.layers, header.nodes, header.studs.size(), header.end_time});
      set.data_sha256 = sha256(file.text);
      set.readings = std::move(file.readings);
      for (FitReading& r : set.readings) {
        r.set = sets.size();
      }
    });
    sets.push_back(std::move(set));
  }
  if (!faults.empty()) {
    throw InputError(faults);
  }
  return sets;
}

/// The parameters, each from the first scenario that has it. Throws InputError for one that none has.
std::vector<FitParameter> parameters_of(const std::vector<DataSet>& sets, std::size_t count) {
  std::vector<FitParameter> out;
  for (std::size_t k = 0; k < count; ++k) {
    const auto has =
        std::find_if(sets.begin(), sets.end(), [&](const DataSet& s) { return s.reader->free().at(k).has_value(); });
    if (has == sets.end()) {
      throw InputError(sets.front().reader->missing());
    }
    FitParameter p = *has->reader->free()[k];
    // Names were chosen scenario by scenario.
    const std::string name = p.name;
    for (int n = 2; std::any_of(out.begin(), out.end(), [&](const FitParameter& o) { return o.name == p.name; }); ++n) {
      p.name = fmt::format("{}_{}", name, n);
    }
    for (const DataSet& s : sets) {
      const auto& other = s.reader->free()[k];
      if (other && other->unit != p.unit) {
        refuse_option(
            Code::Inconsistent, "--free",
            fmt::format("{} is a value in {} in one scenario and in {} in another", p.path, p.unit, other->unit),
            "a path to values of one kind");
      }
    }
    out.push_back(std::move(p));
  }
  return out;
}

const ParamSpec& spec_of(const std::vector<DataSet>& sets, std::size_t k) {
  const auto has =
      std::find_if(sets.begin(), sets.end(), [&](const DataSet& s) { return s.reader->free()[k].has_value(); });
  return has->reader->free_spec(k);
}

ParamSpec difference(ParamSpec spec) {
  spec.quantity = spec.quantity == Quantity::Point ? Quantity::Difference : spec.quantity;
  return spec;
}

std::string interval_text(const FitResult& fit, std::size_t k, const ParamSpec& spec) {
  const FitValue& v = fit.values[k];
  const bool profile = !std::isnan(v.profile_low);
  return fmt::format("{} to {}", friendly(profile ? v.profile_low : v.low, spec),
                     friendly(profile ? v.profile_high : v.high, spec));
}

void print_table(const FitResult& fit, const std::vector<DataSet>& sets) {
  std::vector<std::vector<std::string>> rows = {
      {"found", "value",
       fit.values.empty() || std::isnan(fit.values.front().profile_low) ? "95 % interval" : "95 % interval (profile)",
       "standard error", "bounds", ""}};
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const ParamSpec& spec = spec_of(sets, k);
    const FitParameter& p = fit.parameters[k];
    rows.push_back({p.label, friendly(fit.values[k].value, spec), interval_text(fit, k, spec),
                    std::isnan(fit.values[k].error) ? "-" : friendly(fit.values[k].error, difference(spec)),
                    fmt::format("{} to {}{}", friendly(p.low, spec), friendly(p.high, spec), p.log ? ", log" : ""),
                    undetermined(p, fit.values[k])                  ? "not determined"
                    : fit.values[k].at_low || fit.values[k].at_high ? "at its bound"
                                                                    : ""});
  }
  print_rows(rows, rows.front().size(), 0);
  fmt::print("\nchi-square {:.4g} for {} degrees of freedom ({:.3g} each); {} readings, {} runs", fit.chi_square,
             fit.freedom, fit.chi_square / static_cast<double>(fit.freedom), fit.readings.size(), fit.runs);
  fmt::print("{}\n", fit.failed_runs > 0 ? fmt::format(", {} of them without an end", fit.failed_runs) : "");
  for (std::size_t q = 0; q < kFitQuantities; ++q) {
    if (!std::isnan(fit.found_error[q])) {
      const FitQuantityName& name = kFitQuantityNames.at(q);
      fmt::print("standard deviation of the readings of {}, found: {}\n", name.word,
                 friendly(fit.found_error[q], {"", name.unit, Quantity::Dimensional, {}, {}, ""}));
    }
  }
}

void print_json(const FitResult& fit, const std::string& path) {
  using nlohmann::ordered_json;
  const auto number = [](double v) { return std::isfinite(v) ? ordered_json(v) : ordered_json(); };
  ordered_json document;
  document["file"] = path;
  document["values"] = ordered_json::array();
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitParameter& p = fit.parameters[k];
    const FitValue& v = fit.values[k];
    ordered_json row = {{"path", p.path},
                        {"name", p.name},
                        {"unit", p.unit},
                        {"value", number(v.value)},
                        {"low", number(v.low)},
                        {"high", number(v.high)},
                        {"standard_error", number(v.error)},
                        {"lower_bound", p.low},
                        {"upper_bound", p.high},
                        {"log", p.log},
                        {"at_lower_bound", v.at_low},
                        {"at_upper_bound", v.at_high},
                        {"fixed_by_readings", !not_fixed(p, v)}};
    if (!std::isnan(v.profile_low)) {
      row["profile_low"] = v.profile_low;
      row["profile_high"] = v.profile_high;
    }
    document["values"].push_back(std::move(row));
  }
  document["correlation"] = ordered_json::array();
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    ordered_json row = ordered_json::array();
    for (std::size_t m = 0; m < fit.values.size(); ++m) {
      row.push_back(number(fit.correlation[k * fit.values.size() + m]));
    }
    document["correlation"].push_back(std::move(row));
  }
  document["chi_square"] = number(fit.chi_square);
  document["degrees_of_freedom"] = fit.freedom;
  document["widened"] = fit.widened;
  document["loss"] = name(fit.loss);
  document["found_error"] = ordered_json::object();
  for (std::size_t q = 0; q < kFitQuantities; ++q) {
    if (!std::isnan(fit.found_error[q])) {
      document["found_error"][std::string(kFitQuantityNames.at(q).word)] = fit.found_error[q];
    }
  }
  document["readings"] = ordered_json::array();
  for (std::size_t i = 0; i < fit.readings.size(); ++i) {
    const FitReading& r = fit.readings[i];
    const FitResidual& e = fit.residuals[i];
    ordered_json row = {{"set", r.set + 1},
                        {"time_s", r.time},
                        {"quantity", describe(r.quantity).word},
                        {"unit", describe(r.quantity).unit},
                        {"stud", r.stud >= 0 ? ordered_json(r.stud + 1) : ordered_json()},
                        {"part", r.part},
                        {"value", r.value},
                        {"error", number(e.error)},
                        {"model", number(e.model)},
                        {"standardised", number(e.standardised)},
                        {"weight", e.weight}};
    if (r.quantity == FitQuantity::CheckTorque) {
      row["clamp_N"] = number(e.clamp);
      row["clamp_deviation_N"] = number(e.clamp_deviation);
    }
    document["readings"].push_back(std::move(row));
  }
  document["starts"] = ordered_json::array();
  for (const FitStart& s : fit.starts) {
    document["starts"].push_back({{"from", s.from}, {"to", s.to}, {"cost", number(s.cost)}, {"outcome", s.outcome}});
  }
  document["runs"] = fit.runs;
  document["failed_runs"] = fit.failed_runs;
  document["block"] = fit.block;
  document["warnings"] = fit.warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  fmt::print("{}\n", document.dump(2));
}

/// The block of all sets: the first that has something to say about a value says it.
std::string block_of(const FitResult& fit, const std::vector<DataSet>& sets) {
  std::vector<double> values;
  std::vector<std::string> notes;
  std::vector<char> open;
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitValue& v = fit.values[k];
    values.push_back(v.value);
    notes.push_back("95 %: " + interval_text(fit, k, spec_of(sets, k)) +
                    (undetermined(fit.parameters[k], v) ? ", as far as it may go"
                     : v.at_low || v.at_high            ? ", at its bound"
                                                        : ""));
    open.push_back(not_fixed(fit.parameters[k], v) ? 1 : 0);
  }
  std::string data;
  for (const DataSet& set : sets) {
    data += fmt::format("{}{} (SHA-256 {})", data.empty() ? "" : ", ",
                        std::filesystem::path(set.data_file).filename().string(), set.data_sha256);
  }
  const std::string source =
      fmt::format("fitted by clampfade fit to {} on {:%Y-%m-%d}", data, fmt::gmtime(std::time(nullptr)));
  std::string out =
      "# Fitted; an estimate, not a release to service. As good as the readings, and for joints like these.\n";
  std::string told;
  for (const DataSet& set : sets) {
    const std::string block = set.reader->fitted_block(values, notes, open, source);
    if (told.find(block) == std::string::npos) {
      // Entries that differ in what was not fitted are no one entry: a document of their own.
      told += (told.empty() ? "" : fmt::format("---\n# For {}:\n", set.scenario_file)) + block;
    }
  }
  return out + told;
}

int fit_command(const FitOptions& options) {
  const std::vector<DataSet> sets = read_sets(options);
  FitRequest request;
  request.parameters = parameters_of(sets, options.free.size());
  for (const DataSet& set : sets) {
    FitSet one;
    one.make = [&reader = *set.reader](const std::vector<double>& values) { return reader.free_case(values); };
    for (const auto& value : set.reader->free()) {
      one.depends.push_back(value ? 1 : 0);
    }
    request.sets.push_back(std::move(one));
    request.readings.insert(request.readings.end(), set.readings.begin(), set.readings.end());
  }
  request.starts = options.starts;
  request.seed = options.seed;
  request.loss = options.loss == "huber" ? FitLoss::Huber : options.loss == "cauchy" ? FitLoss::Cauchy : FitLoss::None;
  request.profile = options.profile;
  request.jobs = options.jobs;
  const QuantityResult friction =
      read_quantity(options.friction, {"--friction-deviation", "1", Quantity::Number, {}, {}, "share of the friction"});
  if (!friction.value || *friction.value < 0 || *friction.value > 1) {
    refuse_option(Code::OutOfRange, "--friction-deviation", fmt::format("'{}' is no share", options.friction),
                  "0 % to 100 %");
  }
  request.friction_deviation = *friction.value;

  const std::string out =
      options.out.empty() ? std::filesystem::path(options.file).stem().string() + "-fit.h5" : options.out;
  std::error_code ignored;
  for (const DataSet& set : sets) {
    if (std::filesystem::equivalent(set.scenario_file, out, ignored) ||
        std::filesystem::equivalent(set.data_file, out, ignored)) {
      throw FileError(Code::FileWrite, out + ": this is what the fit reads; give the result another name");
    }
  }
  listen_for_stop();                    // before there is anything to clear away
  FitWriter writer(out, options.force); // better to hear now that it cannot be written
  FitResult result;
  {
    ProgressLine line(options.quiet);
    result = fit(request, [&](double share, const std::string& what) {
      line.show(share, what);
      return stop_signal() == 0;
    });
  }
  if (result.stopped) {
    tell(fmt::format("Stopped. {} was not written; a fit is only kept whole.\n", out));
    return 128 + stop_signal();
  }
  for (std::size_t s = 0; s < sets.size(); ++s) {
    FitSetResult& set = result.sets[s];
    set.title = sets[s].reader->base().title;
    set.scenario_file = sets[s].scenario_file;
    set.scenario_text = sets[s].reader->base().resolved_text;
    set.data_file = sets[s].data_file;
    set.data_sha256 = sets[s].data_sha256;
    for (const std::string& w : sets[s].reader->warnings()) {
      if (std::find(result.warnings.begin(), result.warnings.end(), w) == result.warnings.end()) {
        result.warnings.push_back(w);
      }
    }
  }
  result.block = block_of(result, sets);
  writer.write(result);
  if (options.json) {
    print_json(result, out);
    return static_cast<int>(Exit::Ok);
  }
  if (options.block) {
    // Nothing else on standard output, so that it can be sent into a file.
    fmt::print("{}", result.block);
    for (const std::string& warning : result.warnings) {
      fmt::print(stderr, "warning: {}\n", warning);
    }
    return static_cast<int>(Exit::Ok);
  }
  print_basis(result.warnings);
  print_table(result, sets);
  fmt::print("\n{}\n", out);
  print_cautions(result.warnings);
  return static_cast<int>(Exit::Ok);
}

} // namespace

void add_fit(CLI::App& app, int& code) {
  const auto options = std::make_shared<FitOptions>();
  CLI::App* command = app.add_subcommand("fit", "Find values of a scenario from readings of a bench test");
  command->add_option("FILE", options->file, "scenario of the test, YAML")->required();
  command
      ->add_option("--data", options->data,
                   "readings, CSV: time,time_unit,quantity,value,unit and error,stud,part,note")
      ->required()
      ->option_text("CSV");
  command
      ->add_option(
          "--free", options->free,
          "a value to be found, as in `vary`: PATH or \"PATH=10 MPa..100 MPa\"; bounds default to what is usual "
          "for such a value; may be given many times")
      ->required()
      ->option_text("PATH[=LOW..HIGH]")
      ->allow_extra_args(false);
  command->add_option("--set", options->sets, "one more scenario and its readings; may be given many times")
      ->option_text("FILE CSV");
  command->add_option("-o,--output", options->out,
                      "result file; default: the scenario's name with -fit.h5, in this folder");
  command->add_option("--starts", options->starts, "searches from different values; default 8")
      ->check(CLI::Range(1, 1000))
      ->option_text("N");
  command->add_option("--seed", options->seed, "of where they start; default 1")->option_text("N");
  command->add_option("--loss", options->loss, "how readings far off count: none (default), huber or cauchy")
      ->check(CLI::IsMember({"none", "huber", "cauchy"}))
      ->option_text("none|huber|cauchy");
  command->add_flag("--profile", options->profile,
                    "intervals by the profile of the sum of squares, which takes longer");
  command
      ->add_option("--friction-deviation", options->friction,
                   "standard deviation of frictions and breakaway, of themselves, for the clamp that a check torque "
                   "stands for; default 10 % (common practice, no source)")
      ->option_text("PERCENT");
  command->add_option("--jobs", options->jobs, "runs at a time; default: as many as there are processors")
      ->check(CLI::Range(1, 1024))
      ->option_text("N");
  CLI::Option* json = command->add_flag("--json", options->json, "print JSON in SI units");
  command->add_flag("--block", options->block, "print the values as YAML to be pasted, and nothing else")
      ->excludes(json);
  command->add_flag("--force", options->force, "overwrite the result file if it is there");
  command->add_flag("--quiet", options->quiet, "show no progress");
  command->footer(
      "Quantities: clamp (as it stands, warm), clamp_cold, stretch, thickness, temperature, check_torque. An\n"
      "error is one standard deviation; without any, one for all readings of a quantity is found from how they\n"
      "lie about the model. The scenario's own `vary` and `scatter` are left out. Read the result with:\n"
      "clampfade-report summary FILE, page FILE -o fit.html\n"
      "\n"
      "Examples:\n"
      "  clampfade fit coupon.yaml --data coupon.csv --free catalogue/coatings/paint/compaction_cold\n"
      "  clampfade fit cold.yaml --data cold.csv --set warm.yaml warm.csv --profile \\\n"
      "    --free 'catalogue/coatings/paint/half_pressure=5 MPa..100 MPa' -o fit.h5");
  command->callback([options, &code] { code = fit_command(*options); });
}

} // namespace clampfade

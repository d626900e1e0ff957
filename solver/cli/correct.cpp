#include "solver/cli/correct.hpp"

#include "models/units.hpp"
#include "solver/basis.hpp"
#include "solver/cli/options.hpp"
#include "solver/cli/streams.hpp"
#include "solver/cli/terminal.hpp"
#include "solver/correct.hpp"
#include "solver/diagnostics.hpp"
#include "solver/io/fit_data.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/study_reader.hpp"
#include "solver/simulation.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

constexpr double kSameInstant = 1e-6; // s
// Of a reading that tells no error of its own: what a wrench's torque is off by, 4 % at two standard deviations; common
// practice, no source.
constexpr double kWrench = 0.02;

struct CorrectOptions {
  std::string file, data, breakaway = "10 %";
  SampleRequest sample;
  std::size_t jobs = std::max(1U, std::thread::hardware_concurrency());
  bool json = false;
  bool quiet = false;
};

std::vector<TorqueReading> check_readings(const std::string& data, const Scenario& scenario) {
  const RunHeader header = make_header(scenario);
  const FitData file = read_fit_data(data, {header.layers, header.nodes, header.studs.size(), header.end_time});
  std::vector<TorqueReading> out;
  for (const FitReading& r : file.readings) {
    if (r.quantity != FitQuantity::CheckTorque || r.stud < 0) {
      refuse_option(
          Code::Inconsistent, data,
          fmt::format("there is a reading of {}{}", describe(r.quantity).word, r.stud < 0 ? " without its stud" : ""),
          "check_torque, each with the stud it was read on");
    }
    out.push_back(
        {r.time, static_cast<std::size_t>(r.stud), r.value, std::isnan(r.error) ? kWrench * r.value : r.error});
  }
  return out;
}

/// Runs the sample; false if it was asked to stop.
bool run_sample(const StudyReader& reader, const std::vector<TorqueReading>& readings, const CorrectOptions& options,
                Study& study, std::vector<CheckedCase>& cases) {
  const CheckedCase unknown{std::vector(readings.size(), StudyCase::kUnknown),
                            std::vector(readings.size(), StudyCase::kUnknown)};
  cases.assign(study.cases.size(), unknown);
  StudyRunOptions run;
  run.jobs = options.jobs;
  for (const TorqueReading& r : readings) {
    run.also_at.push_back(r.time);
  }
  run.record = [&](std::size_t i, const RecordRow& row) {
    for (std::size_t r = 0; r < readings.size(); ++r) {
      // Of two records of one instant the first counts: a check comes before the wrench moves anything.
      if (std::abs(row.time - readings[r].time) <= kSameInstant && std::isnan(cases[i].torque[r])) {
        const std::size_t stud = readings[r].stud;
        cases[i].torque[r] = row.check_torque.at(stud) > 0 ? row.check_torque[stud] : StudyCase::kUnknown;
        cases[i].clamp[r] = row.clamp_cold.at(stud);
      }
    }
  };
  ProgressLine line(options.quiet);
  run.progress = [&](std::size_t done, double share) {
    line.show(share, fmt::format("{} of {} wheels", done, study.cases.size()));
    return stop_signal() == 0;
  };
  run_study(
      study, [&](std::size_t i) { return reader.sample_case(sample_values(study, i)); }, run);
  return study.status == StudyStatus::Complete;
}

std::string kilonewtons(const Quantiles& q) {
  return fmt::format("{:.1f} ({:.1f} to {:.1f})", q[1] / units::kKilonewton, q[0] / units::kKilonewton,
                     q[2] / units::kKilonewton);
}

std::string days_text(double seconds) {
  return std::isinf(seconds) ? std::string("never") : fmt::format("{:.1f} d", seconds / units::kDay);
}
std::string days_text(const Quantiles& q) {
  if (std::isinf(q.front())) {
    return days_text(q.front());
  }
  return fmt::format("{} ({} to {})", days_text(q[1]), days_text(q[0]), days_text(q[2]));
}

void print_text(const Correction& c, std::size_t readings) {
  for (const std::string& sentence : c.outside) {
    fmt::print("{}\n\n", wrapped(sentence, 0, kText));
  }
  fmt::print(
      "{}\n\n",
      wrapped(fmt::format("{} check readings, the last after {}, held against {} wheels of the sample; the "
                          "readings leave {:.0f} of them of weight. Figures are medians, with 5 % to 95 % of the "
                          "wheels in brackets.",
                          readings, days_text(c.studs.empty() ? 0 : c.now), c.cases.size(), c.effective),
              0, kText));
  std::vector<std::vector<std::string>> rows = {
      {"stud", "read, N·m", "expected, N·m", "cold clamp before, kN", "after, kN"}};
  for (const CorrectedStud& s : c.studs) {
    rows.push_back({std::to_string(s.stud + 1), fmt::format("{:.0f}", s.torque),
                    fmt::format("{:.0f} ({:.0f} to {:.0f})", s.expected[1], s.expected[0], s.expected[2]),
                    kilonewtons(s.before), kilonewtons(s.after)});
  }
  print_rows(rows, 1);
  fmt::print("\n");
  print_rows({{"wheel", "before the readings", "after"},
              {fmt::format("weakest stud after {}, kN", days_text(c.now)), kilonewtons(c.lowest_now.before),
               kilonewtons(c.lowest_now.after)},
              {"weakest stud at the end, kN", kilonewtons(c.lowest_end.before), kilonewtons(c.lowest_end.after)},
              {"first below the required clamp", days_text(c.below_time.before), days_text(c.below_time.after)},
              {"chance of that by the end", fmt::format("{:.1f} %", 100 * c.below_before),
               fmt::format("{:.1f} % ({:.1f} to {:.1f})", 100 * c.below_after, 100 * c.below_low, 100 * c.below_high)}},
             1);
  fmt::print("\n{}\n",
             wrapped("A check reading is no clamp: friction of a resting nut rises, so it stays high when clamp "
                     "is gone. A high reading is no reason to leave out a re-check; a low one is a reason to "
                     "look at the joint at once.",
                     0, kText));
}

nlohmann::ordered_json json_of(const Quantiles& q) {
  nlohmann::ordered_json out = nlohmann::ordered_json::array();
  for (const double v : q) {
    out.push_back(std::isfinite(v) ? nlohmann::ordered_json(v) : nlohmann::ordered_json());
  }
  return out;
}

void print_json(const Correction& c, const CorrectOptions& options, const std::vector<std::string>& warnings) {
  using nlohmann::ordered_json;
  const auto outcome = [](const CorrectedOutcome& o) {
    return ordered_json{{"before", json_of(o.before)}, {"after", json_of(o.after)}};
  };
  ordered_json document;
  document["shares"] = kCorrectionShares;
  document["wheels"] = c.cases.size();
  document["seed"] = options.sample.seed;
  document["effective_wheels"] = c.effective;
  document["outside"] = c.outside;
  document["studs"] = ordered_json::array();
  for (const CorrectedStud& s : c.studs) {
    document["studs"].push_back({{"stud", s.stud + 1},
                                 {"time_s", s.time},
                                 {"check_torque_Nm", s.torque},
                                 {"expected_check_torque_Nm", json_of(s.expected)},
                                 {"cold_clamp_before_N", json_of(s.before)},
                                 {"cold_clamp_after_N", json_of(s.after)},
                                 {"effective_wheels", s.effective}});
  }
  document["required_clamp_N"] = c.required_clamp;
  document["now_s"] = c.now;
  document["lowest_cold_clamp_now_N"] = outcome(c.lowest_now);
  document["lowest_cold_clamp_end_N"] = outcome(c.lowest_end);
  document["below_time_s"] = outcome(c.below_time); // null: never
  document["below_chance"] = {
      {"before", c.below_before}, {"after", c.below_after}, {"after_low", c.below_low}, {"after_high", c.below_high}};
  document["warnings"] = warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  fmt::print("{}\n", document.dump(2));
}

int correct_command(const CorrectOptions& options) {
  const StudyReader reader(scenario_file_text(options.file, {}), options.file, {});
  CorrectionRequest request;
  request.readings = check_readings(options.data, reader.base());
  const QuantityResult breakaway = read_quantity(
      options.breakaway, {"--breakaway-deviation", "1", Quantity::Number, {}, {}, "share of the breakaway ratio"});
  if (!breakaway.value || !(*breakaway.value >= 0 && *breakaway.value <= 1)) {
    refuse_option(Code::OutOfRange, "--breakaway-deviation", fmt::format("'{}' is no share", options.breakaway),
                  "0 % to 100 %");
  }
  request.breakaway_deviation = *breakaway.value;
  Study study = lay_out(reader.base(), reader.study_text());
  lay_out_sample(study, reader.scatter(), options.sample);
  listen_for_stop();
  std::vector<CheckedCase> cases;
  if (!run_sample(reader, request.readings, options, study, cases)) {
    tell("Stopped.\n");
    return 128 + stop_signal();
  }
  const auto failed = std::find_if(study.cases.begin(), study.cases.end(),
                                   [](const StudyCase& c) { return c.status == CaseStatus::Failed; });
  if (std::none_of(study.cases.begin(), study.cases.end(),
                   [](const StudyCase& c) { return c.status == CaseStatus::Complete; })) {
    throw NumericalError(Code::NoEquilibrium, "no wheel of the sample came to an end: " + failed->message);
  }
  const Correction correction = correct(request, study, cases);
  std::vector<std::string> warnings = correction.warnings;
  if (failed != study.cases.end()) {
    warnings.push_back(fmt::format("{} of {} wheels of the sample failed and count for nothing; the first: {}",
                                   study.cases.size() - correction.cases.size(), study.cases.size(), failed->message));
  }
  study.warnings = reader.warnings();
  const std::vector<std::string> of_study = study_warnings(study);
  warnings.insert(warnings.end(), of_study.begin(), of_study.end());
  if (options.json) {
    print_json(correction, options, warnings);
  } else {
    print_basis(warnings);
    print_text(correction, request.readings.size());
    print_cautions(warnings);
  }
  return static_cast<int>(Exit::Ok);
}

} // namespace

void add_correct(CLI::App& app, int& code) {
  const auto options = std::make_shared<CorrectOptions>();
  options->sample.count = 256;
  CLI::App* command =
      app.add_subcommand("correct", "Correct what is predicted of a wheel by what a check of it has read");
  command->add_option("FILE", options->file, "scenario of the wheel with its `scatter`, YAML")->required();
  command
      ->add_option(
          "--data", options->data,
          "readings, CSV as for `fit`: time,time_unit,quantity,stud,value,unit and error, quantity check_torque")
      ->required()
      ->option_text("CSV");
  command->add_option("--count", options->sample.count, "wheels to draw; default 256")
      ->check(CLI::Range(std::size_t{1}, kMostCases))
      ->option_text("N");
  command->add_option("--seed", options->sample.seed, "number that the draw begins from; default 1")->option_text("S");
  command
      ->add_option(
          "--breakaway-deviation", options->breakaway,
          "standard deviation of the breakaway ratio, of itself, the same for all nuts of a check; default 10 % "
          "(common practice, no source)")
      ->option_text("PERCENT");
  command->add_option("--jobs", options->jobs, "runs at a time; default: as many as there are processors")
      ->check(CLI::Range(1, 1024))
      ->option_text("N");
  command->add_flag("--json", options->json, "print JSON in SI units");
  command->add_flag("--quiet", options->quiet, "show no progress");
  command->footer(
      "The wheels that `sample` would draw are weighted by how well each explains the readings: the wheel by the\n"
      "mean of the studs read at a time, a stud by its own readings. A reading is the torque that starts the\n"
      "nut in the tightening direction; its error is one standard deviation, 2 % where the file tells none.\n"
      "\n"
      "Examples:\n"
      "  clampfade correct wheel.yaml --data check.csv\n"
      "  clampfade correct wheel.yaml --data check.csv --count 2000 --json");
  command->callback([options, &code] { code = correct_command(*options); });
}

} // namespace clampfade

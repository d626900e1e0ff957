#include "solver/io/prediction_reader.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/study_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

std::optional<double> known(double v) { return std::isfinite(v) ? std::optional(v) : std::nullopt; }

StoredPrediction of_history(const std::string& path) {
  const History history(path);
  if (history.status() != RunStatus::Complete) {
    throw FileError(Code::FileVersion, fmt::format("{}: this run is {}, not complete; clampfade resume finishes it",
                                                   path, name(history.status())));
  }
  StoredPrediction p;
  p.title = history.title();
  p.source = "history";
  p.digest = history.digest();
  p.end_time = history.end_time();
  for (const Figure& f : history.joint()) {
    if (f.name == "required_clamp") {
      if (f.values.size() != 1) {
        throw FileError(Code::FileTruncated,
                        fmt::format("{}: the file is damaged: its required clamp is not one number", path));
      }
      p.required_clamp = f.values.front();
    }
  }
  for (const RecordRow& row : history.records()) {
    double lowest = std::numeric_limits<double>::quiet_NaN();
    std::size_t weakest = 0;
    for (std::size_t k = 0; k < row.clamp_cold.size(); ++k) {
      if (std::isfinite(row.clamp_cold[k]) && !(lowest <= row.clamp_cold[k])) {
        lowest = row.clamp_cold[k];
        weakest = k + 1;
      }
    }
    if (!std::isfinite(lowest)) {
      continue;
    }
    p.points.push_back({row.time, known(row.distance), lowest});
    if (!p.below_time && lowest < p.required_clamp) {
      p.below_time = row.time;
      p.below_distance = known(row.distance);
      p.below_stud = weakest;
    }
  }
  // The event is located between records; a wheel that is too weak from its first record on has none.
  for (const EventRow& e : history.events()) {
    if (e.kind == "below required clamp" && (!p.below_time || e.time < *p.below_time)) {
      p.below_time = e.time;
      p.below_distance = known(e.distance);
      p.below_stud = static_cast<std::size_t>(std::max(e.stud, 0)) + 1;
    }
  }
  return p;
}

StoredPrediction of_study(const std::string& path, std::vector<std::string>& warnings) {
  const StudyFile file = read_study(path);
  const Study& study = file.study;
  if (study.status != StudyStatus::Complete || study.parts > 1) {
    throw FileError(Code::FileVersion, fmt::format("{}: this study is {}; clampfade sweep or sample finishes it, and "
                                                   "merge puts its parts together",
                                                   path, study.parts > 1 ? "a part of one" : "not complete"));
  }
  StoredPrediction p;
  p.title = study.title;
  p.digest = file.digest;
  p.end_time = study.time.empty() ? 0 : study.time.back();
  std::vector<double> lowest(study.time.size(), std::numeric_limits<double>::quiet_NaN());
  std::size_t done = 0;
  for (const StudyCase& c : study.cases) {
    if (c.status != CaseStatus::Complete) {
      continue;
    }
    ++done;
    p.required_clamp = std::fmax(p.required_clamp, c.required_clamp);
    for (std::size_t i = 0; i < lowest.size() && i < c.clamp_cold_lowest.size(); ++i) {
      lowest[i] = std::fmin(lowest[i], c.clamp_cold_lowest[i]);
    }
    std::optional<double> below = known(c.below_time);
    std::optional<double> distance = known(c.below_distance);
    std::size_t stud = c.below_stud;
    if (!below && !c.clamp_cold_lowest.empty() && c.clamp_cold_lowest.front() < c.required_clamp) {
      below = 0;
      distance = 0;
      const auto weakest = std::min_element(c.clamp_cold_first.begin(), c.clamp_cold_first.end());
      stud = static_cast<std::size_t>(weakest - c.clamp_cold_first.begin()) + 1;
    }
    if (below && (!p.below_time || *below < *p.below_time)) {
      p.below_time = below;
      p.below_distance = distance;
      p.below_stud = stud;
    }
  }
  if (done == 0) {
    throw FileError(Code::FileVersion, path + ": no case of this study came to its end");
  }
  if (done < study.cases.size()) {
    warnings.push_back(
        fmt::format("{} of {} cases failed and tell nothing", study.cases.size() - done, study.cases.size()));
  }
  p.source = fmt::format("study: earliest of {} cases", done);
  for (std::size_t i = 0; i < lowest.size(); ++i) {
    if (std::isfinite(lowest[i])) {
      p.points.push_back(
          {study.time[i], i < study.distance.size() ? known(study.distance[i]) : std::nullopt, lowest[i]});
    }
  }
  return p;
}

} // namespace

StoredPrediction read_prediction(const std::string& path, std::vector<std::string>& warnings) {
  return is_study(path) ? of_study(path, warnings) : of_history(path);
}

} // namespace clampfade

// The words of a study: names of cases and values, and the finding in sentences.
#include "post/sentences.hpp"
#include "post/study_summary.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

std::string counted(std::size_t n, const char* what) { return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s"); }

std::string when(double time, double distance, System system) {
  const bool far = std::isfinite(distance);
  const bool long_time = std::isfinite(time);
  if (far && distance <= 0 && time <= 0) {
    return "from the start";
  }
  return far && long_time ? fmt::format("after {} or {}, whichever comes first", duration(time),
                                        show(distance, Kind::Distance, system))
         : far            ? "after " + show(distance, Kind::Distance, system)
                          : "after " + duration(time);
}

std::string band_text(const Interval& band) {
  return fmt::format("{} to {} with 95 % confidence", share_text(band.low), share_text(band.high));
}

/// How many cases the wrench is too much for; empty for none.
std::string wrench_sentence(const Study& study, const StudySummary& s) {
  if (s.overtightened == 0) {
    return "";
  }
  const auto stretched = static_cast<std::size_t>(std::count_if(
      s.counted.begin(), s.counted.end(), [&](std::size_t i) { return study.cases[i].utilisation_tightening > 1; }));
  const std::string what = stretched == 0 ? "PULLS A STUD ABOVE ITS PROOF LOAD"
                           : stretched == s.overtightened
                               ? "STRETCHES A STUD FOR GOOD"
                               : "STRETCHES A STUD FOR GOOD, OR PULLS ONE ABOVE ITS PROOF LOAD";
  std::string text =
      fmt::format("IN {} {} CASE{} THE WRENCH {}{}: tighten less.",
                  s.overtightened == s.counted.size() ? "EACH OF" : fmt::format("{} OF", s.overtightened),
                  s.counted.size(), s.counted.size() == 1 ? "" : "S", what,
                  stretched > 0 ? fmt::format(" (stress up to {} of yield)", number(s.worst_tightening, 3)) : "");
  if (study.kind == StudyKind::Sweep) {
    text += s.overtightened == s.counted.size() ? " None of the cases is good, whatever clamp it keeps."
                                                : " Whatever clamp they keep, they are no good cases.";
  } else {
    text += fmt::format(" That is {} of the wheels, {}.",
                        share_text(static_cast<double>(s.overtightened) / static_cast<double>(s.counted.size())),
                        band_text(share_interval(s.overtightened, s.counted.size())));
  }
  return text;
}

std::vector<std::string> sample_sentences(const Study& study, const StudySummary& s, System system) {
  std::vector<std::string> out;
  if (s.chances.empty()) {
    return {"No case is done yet, so there is nothing to say about the clamp."};
  }
  const Chance& end = s.chances.back();
  out.push_back(
      fmt::format("In {} of {} the clamp of at least one stud falls below what is required within {}{}: {} of "
                  "the wheels, {}.",
                  end.below, counted(end.of, "case"), duration(study.time.back()),
                  std::isfinite(end.distance) ? " and " + show(end.distance, Kind::Distance, system) : "",
                  share_text(end.share()), band_text(end.band)));
  const RiskLimit& r = s.risk;
  const std::string risk = share_text(r.risk);
  if (!r.enough) {
    out.push_back(fmt::format("Whether the risk stays within {} cannot be said from {}: that takes {} or more, even if "
                              "none of them falls below.",
                              risk, counted(end.of, "case"), r.fewest));
  } else if (std::isinf(r.time)) {
    out.push_back(fmt::format("The risk that a stud is below the required clamp stays within {} to the end of the time "
                              "simulated, by the upper edge of the 95 % band.",
                              risk));
  } else if (r.time <= 0) {
    out.push_back(fmt::format("The risk that a stud is below the required clamp is more than {} from the start: "
                              "tightening itself does not reach it often enough, and no retorque interval mends that.",
                              risk));
  } else {
    out.push_back(
        fmt::format("For a risk of at most {} a retorque is needed at the latest {}. That is by the upper edge "
                    "of the 95 % band; {}. It is a limit and no date to aim for.",
                    risk, when(r.time, r.distance, system),
                    std::isinf(r.likely_time)
                        ? "the cases themselves stay within it to the end"
                        : "by the cases themselves it would be " + when(r.likely_time, r.likely_distance, system)));
  }
  return out;
}

std::vector<std::string> sweep_sentences(const Study& study, const StudySummary& s, System system) {
  if (s.counted.empty()) {
    return {"No case is done yet, so there is nothing to say about the clamp."};
  }
  std::vector<std::string> out;
  const std::string cases = counted(s.counted.size(), "case");
  out.push_back(s.below == 0 ? fmt::format("In none of {} does a stud fall below the required clamp within {}.", cases,
                                           duration(study.time.back()))
                : s.below == s.counted.size()
                    ? fmt::format("In each of {} a stud falls below the required clamp within {}.", cases,
                                  duration(study.time.back()))
                    : fmt::format("In {} of {} a stud falls below the required clamp within {}.", s.below, cases,
                                  duration(study.time.back())));
  const auto told = [&](std::size_t i) {
    return show(weakest_at_end().of(study.cases[i]), Kind::Force, system) + " (" + case_name(study, i, system) + ")";
  };
  if (s.best && s.worst && *s.best != *s.worst) {
    out.push_back("The weakest stud is left with " + told(*s.worst) + " at worst and " + told(*s.best) + " at best" +
                  (s.overtightened > 0 ? " of the cases that the studs bear." : "."));
  } else if (!s.best && s.worst && s.counted.size() > 1) {
    out.push_back("The weakest stud is left with " + told(*s.worst) + " at worst.");
  }
  return out;
}

} // namespace

std::string share_text(double share) {
  const double percent = 100 * share;
  if (share <= 0 || share >= 1) {
    return share <= 0 ? "0 %" : "100 %";
  }
  if (percent < 0.01) {
    return "less than 0.01 %";
  }
  const double rest = 100 - percent;
  // As many digits as tell it from none and from all.
  const int decimals = std::min(percent, rest) < 0.1 ? 3 : std::min(percent, rest) < 1 ? 2 : 1;
  std::string text = fmt::format("{:.{}f}", percent, decimals);
  if (text.find('.') != std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
      text.pop_back();
    }
  }
  return text + " %";
}

ValueScale scale_of(const std::string& si_unit, std::span<const double> values) {
  double largest = 0;
  for (const double v : values) {
    largest = std::isfinite(v) ? std::max(largest, std::abs(v)) : largest;
  }
  constexpr double thick = 2e-3; // [m]; films and wear are thinner, parts are thicker
  constexpr double far = 50;     // [m]; no part is so large
  if (si_unit == "m") {
    return {largest < thick ? Kind::Thickness : largest < far ? Kind::Length : Kind::Distance, ""};
  }
  if (si_unit == "s" && largest >= 2 * units::kDay) {
    return {Kind::Duration, ""};
  }
  const Kind kind = kind_of(si_unit);
  return {kind, kind == Kind::Number && si_unit != "1" ? si_unit : ""};
}

std::string unit_text(const ValueScale& scale, System system) {
  return scale.kind == Kind::Number ? scale.unit : unit(scale.kind, system);
}

std::string value_text(double si, const ValueScale& scale, System system, bool with_unit) {
  std::string text = plain(si, scale.kind, system, 4);
  if (text.find('.') != std::string::npos && text.find('e') == std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
      text.pop_back();
    }
  }
  const std::string name = with_unit ? unit_text(scale, system) : "";
  return name.empty() ? text : text + " " + name;
}

std::vector<std::string> axis_texts(const StudyAxis& axis, System system) {
  if (!axis.texts.empty()) {
    return axis.texts;
  }
  const ValueScale scale = scale_of(axis.unit, axis.values);
  std::vector<std::string> texts;
  for (const double v : axis.values) {
    texts.push_back(value_text(v, scale, system));
  }
  return texts;
}

std::string outcome_text(const Outcome& outcome, double si, System system, int digits) {
  if (std::isinf(si) && (outcome.kind == Kind::Distance || outcome.kind == Kind::Duration)) {
    return "never";
  }
  if (outcome.kind == Kind::Duration) {
    return si <= 0 ? "start" : duration(si);
  }
  const bool count = outcome.kind == Kind::Number && si == std::floor(si) && std::abs(si) < 1e6;
  return count ? fmt::format("{:.0f}", si) : plain(si, outcome.kind, system, digits);
}

std::vector<std::string> case_values(const Study& study, std::size_t index, System system) {
  std::vector<std::string> texts;
  const std::vector<std::size_t> place = place_of(study, index);
  for (std::size_t k = 0; k < study.axes.size(); ++k) {
    texts.push_back(axis_texts(study.axes[k], system)[place[k]]);
  }
  for (const StudyInput& input : study.inputs) {
    texts.push_back(!input.texts.empty()
                        ? input.texts[index]
                        : value_text(input_mean(study, input, index), scale_of(input.unit, input.values), system));
  }
  return texts;
}

std::string case_name(const Study& study, std::size_t index, System system) {
  if (study.kind == StudyKind::Sample) {
    return fmt::format("case {}", index);
  }
  std::string out;
  const std::vector<std::string> texts = case_values(study, index, system);
  for (std::size_t k = 0; k < texts.size(); ++k) {
    const std::string& label = k < study.axes.size() ? study.axes[k].label : study.inputs[k - study.axes.size()].label;
    out += (k > 0 ? ", " : "") + label + " = " + texts[k];
  }
  return out;
}

std::vector<std::string> study_sentences(const Study& study, const StudySummary& s, System system) {
  std::vector<std::string> out =
      study.kind == StudyKind::Sample ? sample_sentences(study, s, system) : sweep_sentences(study, s, system);
  if (const std::string wrench = wrench_sentence(study, s); !wrench.empty()) {
    out.insert(out.begin() + 1, wrench);
  }
  if (study.parts > 1) {
    out.push_back(fmt::format("This is part {} of {} only: merge all parts before anything is concluded.", study.part,
                              study.parts));
  }
  if (s.pending > 0 && study.parts == 1) {
    out.push_back(fmt::format("{} not done yet: this is no final result.",
                              s.pending == 1 ? "One case is" : fmt::format("{} cases are", s.pending)));
  }
  if (s.failed > 0) {
    std::string text =
        s.failed == 1 ? "One case failed and is left out." : fmt::format("{} cases failed and are left out.", s.failed);
    if (study.kind == StudyKind::Sample && s.failed_counted > 0) {
      const std::size_t all = s.counted.size() + s.failed_counted;
      text += fmt::format(" Had {} fallen below the required clamp, it would be {} of the wheels.",
                          s.failed_counted == 1 ? "it" : "they all",
                          share_text(static_cast<double>(s.below + s.failed_counted) / static_cast<double>(all)));
    }
    out.push_back(text);
  }
  out.emplace_back(
      study.kind == StudyKind::Sample
          ? "All this holds for the scatter given and for nothing else: what was not scattered, and what the "
            "model leaves out, is not in it. It says what share of such wheels, not which wheel."
          : "All this holds for the torque and friction given. Real scatter of both (often ±25 % of the "
            "clamp; common practice, no source) is not in these cases unless they are varied.");
  return out;
}

std::string wrench_mark(const StudyCase& c) {
  return c.utilisation_tightening > 1 ? "STRETCHED" : c.proof_share > 1 ? "ABOVE PROOF" : "";
}

std::vector<std::string> cause_sentences(const Study& study, const StudySummary& s) {
  if (study.kind != StudyKind::Sample) {
    return {};
  }
  if (s.way == CauseWay::None) {
    return {"There are too few complete cases to say which input is behind the spread."};
  }
  const Cause& top = s.causes.front();
  const std::string& name = study.inputs[top.input].label;
  std::vector<std::string> out;
  if (s.way == CauseWay::Design) {
    out.push_back(fmt::format("Most of the spread of the weakest stud's clamp at the end comes from {}: {} of the "
                              "variance alone, {} with what it does by way of the others.",
                              name, share_text(std::clamp(top.shares.first.value, 0.0, 1.0)),
                              share_text(std::clamp(top.shares.total->value, 0.0, 1.0))));
    out.emplace_back(
        "First: the share of the variance that an input causes by itself. Total: with all its interplay; an "
        "input whose total is near nothing may be left at one value. Where totals add up to much more than "
        "100 %, inputs matter together. First order by Saltelli (2010), total by Jansen (1999).");
  } else {
    out.push_back(fmt::format("Most of the spread of a stud's clamp at the end comes from {}: {} of the variance, by "
                              "itself.",
                              name, share_text(std::clamp(top.shares.first.value, 0.0, 1.0))));
    out.emplace_back(
        "The share of the variance of a single stud's clamp that an input causes by itself, from neighbours "
        "in the order of the input (Gamboa and others, 2022), mean over the studs. What inputs do together, "
        "the total, takes a study made with --sensitivity.");
  }
  return out;
}

} // namespace clampfade::post

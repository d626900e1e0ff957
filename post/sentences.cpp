#include "post/sentences.hpp"

#include "post/alarms.hpp"
#include "post/table.hpp"

#include "solver/basis.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace clampfade::post {

std::string percent(double share) { return number(100 * share, 3) + " %"; }

std::string after(double time) { return time <= 0 ? "right after tightening" : "after " + duration(time); }

std::string words(const Moment& m, System system) {
  return duration(m.time) + " and " + show(m.distance, Kind::Distance, system, 3);
}

std::string capital(std::string text) {
  if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') {
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  }
  return text;
}

namespace {

std::string stud(const Summary& s, std::size_t i) { return "stud " + s.studs.at(i); }

bool alarmed(const Summary& s, std::initializer_list<std::string_view> kinds) {
  return std::any_of(s.alarms.begin(), s.alarms.end(), [&](const Alarm& a) {
    return std::find(kinds.begin(), kinds.end(), std::string_view(a.kind)) != kinds.end();
  });
}

/// One value or "lowest to highest", with the unit.
std::string range_of(const std::vector<double>& values, Kind kind, System system) {
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  return (*low == *high ? "" : plain(*low, kind, system) + " to ") + show(*high, kind, system);
}

/// What the retorques of a run that kept its required clamp have done.
std::string with_retorques(const Summary& s) {
  std::vector<std::string> times;
  std::size_t idle = 0;
  for (const PassLine& p : s.passes) {
    if (p.pass == 0) {
      times.push_back(duration(p.time));
      idle += p.moved == 0 ? 1U : 0U;
    }
  }
  std::string text;
  const std::size_t all = times.size();
  constexpr std::size_t few = 4;
  if (times.size() == 1) {
    text = fmt::format("With the retorque at {} no further one was needed in the time simulated. ", times.front());
  } else if (!times.empty() && times.size() <= few) {
    const std::string last = times.back();
    times.pop_back();
    text = fmt::format("With the retorques at {} and {} no further one was needed in the time simulated. ",
                       fmt::join(times, ", "), last);
  } else if (!times.empty()) {
    text = fmt::format("With the {} retorques from {} to {} no further one was needed in the time simulated. ",
                       times.size(), times.front(), times.back());
  }
  if (idle > 0) {
    text += (all == 1 ? "It" : fmt::format("{} of them", idle)) + std::string(" moved no nut and so did nothing. ");
  }
  return text;
}

} // namespace

std::string status_sentence(const Summary& s, System system) {
  const double reached = s.milestones.empty() ? 0 : s.milestones.back().time;
  const std::string so_far = fmt::format("{} of {}", duration(reached), duration(s.end_time));
  std::string text;
  switch (s.status) {
  case RunStatus::Complete:
    text = "Run complete: " + duration(reached) + ".";
    break;
  case RunStatus::Running:
    text = "RUN NOT FINISHED (still running, or killed): " + so_far + ".";
    break;
  case RunStatus::Stopped:
    text = "RUN STOPPED before its end: " + so_far + ".";
    break;
  case RunStatus::Failed:
    text = "RUN FAILED: " + so_far + ".";
    break;
  }
  if (!s.status_text.empty()) {
    text += " " + capital(translated(s.status_text, system));
  }
  return text;
}

std::string finding_sentence(const Summary& s, System system) {
  const Finding& f = s.finding;
  const auto force = [&](double v) { return show(v, Kind::Force, system); };
  const std::string lowest = fmt::format("{} ({}, {})", force(f.lowest_clamp_cold), stud(s, f.lowest.stud),
                                         f.lowest.time <= 0 ? after(0) : "after " + words(f.lowest, system));
  if (!f.required_clamp) {
    return "The file names no required clamp, so there is nothing to compare with. The lowest cold clamp is " + lowest +
           ".";
  }
  const double required = *f.required_clamp;
  const double share = f.lowest_clamp_cold / required - 1;
  if (!f.first_below) {
    return fmt::format("No stud falls below the required clamp of {}. The lowest cold clamp is {}, {} above it.",
                       force(required), lowest, percent(share));
  }
  const std::string when =
      f.below_from_start
          ? "is below the required clamp of " + force(required) + " from the start"
          : fmt::format("falls below the required clamp of {} {} {}", force(required),
                        f.first_below_located ? "after" : "before the record at", words(*f.first_below, system));
  return fmt::format("{} {}. The lowest cold clamp is {}, {} below it.", capital(stud(s, f.first_below->stud)), when,
                     lowest, percent(-share));
}

std::string retorque_sentence(const Summary& s, System system) {
  const Finding& f = s.finding;
  // Where the joint comes apart or a stud is spoilt, the alarm has said what to do, and tightening again is not it.
  if (!f.required_clamp || alarmed(s, {"nut free", "open", "gap", "stretched by the wrench", "torn by the wrench",
                                       "stud fatigue", "stud yield"})) {
    return "";
  }
  if (!f.first_below) {
    // Beside an alarm nothing must sound like all clear.
    return (s.alarms.empty() ? with_retorques(s) : "") + "A re-check by the makers' instructions is due all the same.";
  }
  if (!f.latest_retorque) {
    return alarmed(s, {"low at start"})
               ? ""
               : "No retorque at the same torque mends that: the torque, the friction or the joint must change.";
  }
  if (f.latest_retorque->time <= 0) {
    return "That is before the first record after tightening, so no time for a retorque can be named: record more "
           "often.";
  }
  const bool some = std::any_of(s.passes.begin(), s.passes.end(),
                                [&](const PassLine& p) { return p.pass == 0 && p.time < f.latest_retorque->time; });
  std::string text = fmt::format("To keep the required clamp, a {}retorque is needed before that: at the latest after "
                                 "{} or {}, whichever comes first. That is a limit and no date to aim for: "
                                 "clampfade plan tries the instants before it.",
                                 some ? "further " : "", duration(f.latest_retorque->time),
                                 show(f.latest_retorque->distance, Kind::Distance, system, 3));
  if (!f.torque.empty() && f.check_torque_then) {
    const double set = f.torque.size() == s.studs.size() ? f.torque[f.first_below->stud] : f.torque.front();
    if (*f.check_torque_then >= set) {
      text += fmt::format(" But by then the nut of {} would take {} to start turning, so a wrench set to {} would "
                          "click without moving it: loosen the nut and tighten it anew.",
                          stud(s, f.first_below->stud), show(*f.check_torque_then, Kind::Torque, system),
                          show(set, Kind::Torque, system));
    }
  }
  return text;
}

std::string scatter_sentence(std::string_view where) {
  return fmt::format(
      "All this holds for the torque and friction given. Real scatter of both (often ±25 % of the clamp; "
      "common practice, no source) is not in {}.",
      where);
}

std::string reservation_sentence(const Summary& s) {
  std::string text = scatter_sentence("this run");
  for (const Figure& f : s.joint) {
    if (f.name == "washers/friction_bound" && f.values.size() == 1 && f.values.front() > 0) {
      text +=
          fmt::format(" Friction between nested washers can cost up to {} of the clamp.", percent(f.values.front()));
    }
  }
  return text;
}

std::string check_torque_sentence(const Summary& s, System system) {
  if (!s.check_torque) {
    return "";
  }
  const Spread& c = *s.check_torque;
  std::string text = fmt::format("A check now would start the nuts turning at {} to {} (mean {})",
                                 plain(c.lowest, Kind::Torque, system), show(c.highest, Kind::Torque, system),
                                 plain(c.mean, Kind::Torque, system));
  if (!s.finding.torque.empty()) {
    text += ", against a set torque of " + range_of(s.finding.torque, Kind::Torque, system);
  }
  return text + ". A reading can stay high when clamp is gone, since the friction of a resting nut rises: a nut that "
                "does not move under the wrench is no proof of clamp.";
}

std::string basis_line(const std::vector<std::string>& warnings, bool colour) {
  const std::string text = basis_sentence(warnings);
  return text.empty() ? "" : marked("1;33", wrap(text), colour);
}

std::vector<std::string> warnings_said(const Summary& s, System system) {
  std::vector<std::string> said;
  for (const std::string& warning : s.warnings) {
    // The demonstration values are told of where the inputs are.
    const bool demo = !s.provenance.empty() && warning.find(kInventedValues) != std::string::npos;
    const std::string text = translated(warning, system);
    if (!demo && std::find(said.begin(), said.end(), text) == said.end()) {
      said.push_back(text);
    }
  }
  return said;
}

} // namespace clampfade::post

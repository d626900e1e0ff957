#include "solver/study_merge.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <stdexcept>

namespace clampfade {

namespace {

Diagnostic fault(std::string found, std::string hint) {
  Diagnostic d;
  d.code = Code::Inconsistent;
  d.path = "merge";
  d.found = std::move(found);
  d.hint = std::move(hint);
  return d;
}

std::size_t waiting(const Study& study) {
  std::size_t n = 0;
  for (std::size_t i = 0; i < study.cases.size(); ++i) {
    n += study.mine(i) && study.cases[i].status == CaseStatus::Pending ? 1U : 0U;
  }
  return n;
}

std::vector<Diagnostic> faults(const std::vector<Study>& parts) {
  if (parts.empty()) {
    return {fault("no parts are given", "give the files of all parts")};
  }
  std::vector<Diagnostic> all;
  const Study& first = parts.front();
  std::vector<std::size_t> seen(first.parts, 0);
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const Study& s = parts[i];
    if (s.design_sha256 != first.design_sha256 || s.cases.size() != first.cases.size()) {
      all.push_back(fault(fmt::format("file {} is of another design than file 1", i + 1),
                          "parts belong together only if scenario, options and seed are the same"));
    } else if (s.parts != first.parts) {
      all.push_back(fault(fmt::format("file {} is one of {} parts, file 1 is one of {}", i + 1, s.parts, first.parts),
                          "merge parts of one parting"));
    } else if (s.part >= 1 && s.part <= seen.size()) {
      ++seen[s.part - 1];
    }
    if (const std::size_t n = waiting(s); n > 0) {
      all.push_back(fault(fmt::format("part {} of {} is not finished, {} of its cases wait", s.part, s.parts, n),
                          "run its command again, it goes on where it stopped"));
    }
  }
  if (!all.empty()) {
    return all;
  }
  for (std::size_t k = 0; k < seen.size(); ++k) {
    if (seen[k] != 1) {
      all.push_back(seen[k] == 0 ? fault(fmt::format("part {} of {} is missing", k + 1, seen.size()), "give its file")
                                 : fault(fmt::format("part {} of {} is given {} times", k + 1, seen.size(), seen[k]),
                                         "give each part once"));
    }
  }
  return all;
}

/// A part without any case of its own may not know these axes.
template <class T>
void take_axis(std::vector<T>& whole, const std::vector<T>& part) {
  if (whole.empty()) {
    whole = part;
  }
}

} // namespace

Study merged(std::vector<Study> parts) {
  if (std::vector<Diagnostic> all = faults(parts); !all.empty()) {
    throw InputError(std::move(all));
  }
  // In the order of the parts, so that the result does not depend on the order of the files.
  std::sort(parts.begin(), parts.end(), [](const Study& a, const Study& b) { return a.part < b.part; });
  Study whole = parts.front();
  whole.part = whole.parts = 1;
  whole.status = StudyStatus::Complete;
  for (std::size_t p = 1; p < parts.size(); ++p) {
    Study& part = parts[p];
    take_axis(whole.time, part.time);
    take_axis(whole.distance, part.distance);
    take_axis(whole.studs, part.studs);
    take_axis(whole.mechanisms, part.mechanisms);
    if (part.inputs.size() != whole.inputs.size()) {
      throw std::logic_error("two parts of one design have different inputs");
    }
    for (const std::string& warning : part.warnings) {
      if (std::find(whole.warnings.begin(), whole.warnings.end(), warning) == whole.warnings.end()) {
        whole.warnings.push_back(warning);
      }
    }
    for (std::size_t i = 0; i < whole.cases.size(); ++i) {
      if (!part.mine(i)) {
        continue;
      }
      whole.cases[i] = std::move(part.cases[i]);
      for (std::size_t k = 0; k < whole.inputs.size(); ++k) {
        StudyInput& to = whole.inputs[k];
        const StudyInput& from = part.inputs[k];
        const std::size_t width = to.values.size() / whole.cases.size();
        for (std::size_t j = i * width; j < (i + 1) * width; ++j) {
          to.values[j] = from.values.at(j);
        }
        if (!to.texts.empty()) {
          to.texts[i] = from.texts.at(i);
        }
      }
    }
  }
  return whole;
}

} // namespace clampfade

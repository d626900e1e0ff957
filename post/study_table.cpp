// A study as a table for other programs.
#include "post/study_text.hpp"

#include <algorithm>
#include <array>

#include <cmath>
#include <functional>
#include <stdexcept>

namespace clampfade::post {

namespace {

enum class Along { Case, Time, Stud, Mechanism };

/// A dataset of the file as a column.
struct Source {
  const char* name;
  const char* long_name;
  const char* unit;
  Kind kind;
  Along along;
  double StudyCase::*one = nullptr;
  std::size_t StudyCase::*count = nullptr;
  std::vector<double> StudyCase::*list = nullptr;
};

constexpr std::array kSources = {
    Source{"clamp_cold_lowest", "cold clamp load of the weakest stud", "N", Kind::Force, Along::Time, nullptr, nullptr,
           &StudyCase::clamp_cold_lowest},
    Source{"clamp_cold_mean", "mean cold clamp load of the studs", "N", Kind::Force, Along::Time, nullptr, nullptr,
           &StudyCase::clamp_cold_mean},
    Source{"clamp_cold_first", "cold clamp load as tightened", "N", Kind::Force, Along::Stud, nullptr, nullptr,
           &StudyCase::clamp_cold_first},
    Source{"clamp_cold_end", "cold clamp load at the end", "N", Kind::Force, Along::Stud, nullptr, nullptr,
           &StudyCase::clamp_cold_end},
    Source{"loss_clamp_end", "cold clamp load that a mechanism has cost by the end", "N", Kind::Force, Along::Mechanism,
           nullptr, nullptr, &StudyCase::loss_clamp_end},
    Source{"retorque_gain_end", "cold clamp load won by later acts of the wrench", "N", Kind::Force, Along::Case,
           &StudyCase::retorque_gain_end},
    Source{"required_clamp", "clamp load that each stud must keep", "N", Kind::Force, Along::Case,
           &StudyCase::required_clamp},
    Source{"below_time", "first time at which a stud is below the required clamp", "s", Kind::Number, Along::Case,
           &StudyCase::below_time},
    Source{"below_distance", "distance driven by then", "m", Kind::Distance, Along::Case, &StudyCase::below_distance},
    Source{"below_stud", "number of that stud", "1", Kind::Number, Along::Case, nullptr, &StudyCase::below_stud},
    Source{"slip_margin_lowest", "lowest slip margin", "1", Kind::Number, Along::Case, &StudyCase::slip_margin_lowest},
    Source{"utilisation_highest", "highest reduced stress over yield strength", "1", Kind::Number, Along::Case,
           &StudyCase::utilisation_highest},
    Source{"utilisation_tightening", "highest reduced stress over yield strength under the wrench", "1", Kind::Number,
           Along::Case, &StudyCase::utilisation_tightening},
    Source{"proof_share", "highest clamp load that the wrench made, over the proof load", "1", Kind::Number,
           Along::Case, &StudyCase::proof_share},
    Source{"nuts_loose", "studs that carried no clamp at some time", "1", Kind::Number, Along::Case, nullptr,
           &StudyCase::nuts_loose},
    Source{"studs_yielded", "studs that stretched for good", "1", Kind::Number, Along::Case, nullptr,
           &StudyCase::studs_yielded},
    Source{"parts_outside", "parts hotter than the values of their material reach", "1", Kind::Number, Along::Case,
           nullptr, &StudyCase::parts_outside},
};

/// Length of the axis beside the cases.
std::size_t length(const Study& study, Along along) {
  return along == Along::Time        ? study.time.size()
         : along == Along::Stud      ? study.studs.size()
         : along == Along::Mechanism ? study.mechanisms.size()
                                     : 1;
}

class Builder {
public:
  Builder(const Study& study, Along along, std::optional<System> system)
      : study_(study), along_(along), system_(system), repeats_(length(study, along)) {}

  void add(const std::string& name, const std::string& unit_si, Kind kind,
           const std::function<Cell(std::size_t, std::size_t)>& cell) {
    const bool converted = system_ && kind != Kind::Number;
    Column c{name, converted ? unit(kind, *system_) : unit_si, {}};
    for (std::size_t i = 0; i < study_.cases.size(); ++i) {
      for (std::size_t j = 0; j < repeats_; ++j) {
        Cell one = cell(i, j);
        if (const double* v = std::get_if<double>(&one)) {
          one = std::isnan(*v) ? Cell() : Cell(converted ? convert(*v, kind, *system_) : *v);
        }
        c.cells.push_back(std::move(one));
      }
    }
    table_.columns.push_back(std::move(c));
  }

  /// Number of the case, its values, and its place on the axis beside.
  void places() {
    add("case", "", Kind::Number, [](std::size_t i, std::size_t) { return Cell(static_cast<double>(i)); });
    for (std::size_t k = 0; k < study_.axes.size(); ++k) {
      const StudyAxis& axis = study_.axes[k];
      const ValueScale scale = scale_of(axis.unit, axis.values);
      add(axis.name, axis.texts.empty() ? axis.unit : "", seconds(scale.kind), [&](std::size_t i, std::size_t) {
        const std::size_t at = place_of(study_, i)[k];
        return axis.texts.empty() ? Cell(axis.values[at]) : Cell(axis.texts[at]);
      });
    }
    for (const StudyInput& input : study_.inputs) {
      const ValueScale scale = scale_of(input.unit, input.values);
      const bool of_stud = input.per_stud && along_ == Along::Stud;
      // Of values that each stud has, a row for the whole wheel shows the mean.
      add(input.per_stud && !of_stud ? input.name + "_mean" : input.name, input.texts.empty() ? input.unit : "",
          seconds(scale.kind), [&](std::size_t i, std::size_t j) {
            return !input.texts.empty() ? Cell(input.texts[i])
                   : of_stud            ? Cell(input.values[i * study_.studs.size() + j])
                                        : Cell(input_mean(study_, input, i));
          });
    }
    switch (along_) {
    case Along::Time:
      add("time", "s", Kind::Number, [&](std::size_t, std::size_t j) { return Cell(study_.time[j]); });
      add("distance", "m", Kind::Distance, [&](std::size_t, std::size_t j) { return Cell(study_.distance[j]); });
      break;
    case Along::Stud:
      add("stud", "", Kind::Number, [&](std::size_t, std::size_t j) { return Cell(study_.studs[j]); });
      break;
    case Along::Mechanism:
      add("mechanism", "", Kind::Number, [&](std::size_t, std::size_t j) { return Cell(study_.mechanisms[j]); });
      break;
    case Along::Case:
      break;
    }
  }

  void source(const Source& s) {
    table_.datasets.emplace_back(s.name);
    table_.long_names.emplace_back(s.long_name);
    add(s.name, s.unit, s.kind, [&](std::size_t i, std::size_t j) {
      const StudyCase& c = study_.cases[i];
      if (c.status != CaseStatus::Complete) {
        return Cell();
      }
      return s.list != nullptr    ? Cell((c.*s.list)[j])
             : s.count != nullptr ? Cell(static_cast<double>(c.*s.count))
                                  : Cell(c.*s.one);
    });
  }

  LongTable table() { return std::move(table_); }

private:
  /// Times stay seconds: a table for programs names one unit for a time, whatever its size.
  static Kind seconds(Kind kind) { return kind == Kind::Duration ? Kind::Number : kind; }

  const Study& study_;
  Along along_;
  std::optional<System> system_;
  std::size_t repeats_;
  LongTable table_;
};

} // namespace

std::vector<std::string> study_datasets(const Study& study) {
  std::vector<std::string> names;
  for (const Source& s : kSources) {
    if (length(study, s.along) > 0) {
      names.emplace_back(s.name);
    }
  }
  return names;
}

LongTable study_table(const Study& study, const std::vector<std::string>& datasets, std::optional<System> system) {
  std::vector<const Source*> sources;
  for (const std::string& name : datasets) {
    const auto* source =
        std::find_if(kSources.begin(), kSources.end(), [&](const Source& s) { return s.name == name; });
    if (source == kSources.end()) {
      std::string all;
      for (const std::string& one : study_datasets(study)) {
        all += (all.empty() ? "" : ", ") + one;
      }
      throw std::invalid_argument("'" + name + "' is no dataset of a study with a row for each case; there are " + all);
    }
    if (!sources.empty() && sources.front()->along != source->along) {
      throw std::invalid_argument("'" + name + "' and '" + sources.front()->name +
                                  "' have rows along different axes; ask for one after the other");
    }
    sources.push_back(source);
  }
  Builder builder(study, sources.empty() ? Along::Case : sources.front()->along, system);
  builder.places();
  if (sources.empty()) {
    builder.add("status", "", Kind::Number, [&](std::size_t i, std::size_t) {
      const CaseStatus s = study.cases[i].status;
      return Cell(std::string(s == CaseStatus::Complete ? "complete" : s == CaseStatus::Failed ? "failed" : "pending"));
    });
    for (const Outcome& o : outcomes()) {
      if (o.kind == Kind::Force) {
        builder.add(o.name, "N", o.kind, [&](std::size_t i, std::size_t) { return Cell(o.of(study.cases[i])); });
      }
    }
    for (const Source& s : kSources) {
      if (s.along == Along::Case) {
        builder.source(s);
      }
    }
    if (!study.design.empty()) {
      builder.add("design", "", Kind::Number,
                  [&](std::size_t i, std::size_t) { return Cell(static_cast<double>(study.design[i])); });
    }
    builder.add("message", "", Kind::Number, [&](std::size_t i, std::size_t) { return Cell(study.cases[i].message); });
  }
  for (const Source* s : sources) {
    builder.source(*s);
  }
  return builder.table();
}

} // namespace clampfade::post

#include "post/fit_text.hpp"

#include "post/sentences.hpp"
#include "post/table.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

namespace clampfade::post {

namespace {

constexpr std::size_t kPage = 100;
constexpr std::size_t kFarthest = 8;

std::string list_item(const std::string& text) {
  std::string item = wrap(text, 4, kPage);
  item[2] = '-';
  return item;
}

bool has_profiles(const FitResult& fit) { return !fit.values.empty() && !std::isnan(fit.values.front().profile_low); }

Table value_table(const FitResult& fit, System system) {
  Table table({"found", "value", has_profiles(fit) ? "95 % (profile)" : "95 %", "standard error", "bounds", "path"},
              true);
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitParameter& p = fit.parameters[k];
    const FitValue& v = fit.values[k];
    const ValueScale scale = scale_of(p);
    table.add({p.label, value_text(v.value, scale, system), interval_text(fit, k, system),
               std::isnan(v.error) ? "-" : value_text(v.error, difference_scale(p), system),
               fmt::format("{} to {}{}", value_text(p.low, scale, system, false), value_text(p.high, scale, system),
                           undetermined(p, v)      ? ", not determined"
                           : v.at_low || v.at_high ? ", at its bound"
                                                   : ""),
               p.path});
  }
  return table;
}

Table correlation_table(const FitResult& fit) {
  std::vector<std::string> heads = {"correlation"};
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    heads.push_back(std::to_string(k + 1));
  }
  Table table(heads);
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    std::vector<std::string> row = {fmt::format("{} {}", k + 1, fit.parameters[k].label)};
    for (std::size_t m = 0; m < fit.values.size(); ++m) {
      row.push_back(fmt::format("{:.3f}", fit.correlation[k * fit.values.size() + m]));
    }
    table.add(std::move(row));
  }
  return table;
}

Table reading_table(const FitResult& fit, System system) {
  Table table({"farthest off", "set", "time", "read", "model", "error", "off, errors", "counts"});
  const std::vector<std::size_t> order = farthest(fit);
  for (std::size_t n = 0; n < std::min(order.size(), kFarthest); ++n) {
    const FitReading& r = fit.readings[order[n]];
    const FitResidual& e = fit.residuals[order[n]];
    const Kind kind = kind_of(r.quantity);
    const bool point = r.quantity == FitQuantity::Temperature;
    table.add({subject(r.quantity, r.stud, r.part), std::to_string(r.set + 1), duration(r.time),
               show(r.value, kind, system), plain(e.model, kind, system),
               point ? number(e.error, 3) + " K" : plain(e.error, kind, system, 3),
               fmt::format("{:+.2f}", e.standardised), number(e.weight, 2)});
  }
  return table;
}

Table start_table(const FitResult& fit, System system) {
  std::vector<std::string> heads = {"start", "outcome", "cost"};
  for (const FitParameter& p : fit.parameters) {
    heads.push_back(p.label);
  }
  Table table(heads);
  for (std::size_t s = 0; s < fit.starts.size(); ++s) {
    const FitStart& start = fit.starts[s];
    std::vector<std::string> row = {fmt::format("{}{}", s + 1, s == fit.best ? " (best)" : ""), start.outcome,
                                    number(start.cost, 5)};
    for (std::size_t k = 0; k < fit.parameters.size(); ++k) {
      row.push_back(value_text(start.to[k], scale_of(fit.parameters[k]), system));
    }
    table.add(std::move(row));
  }
  return table;
}

Cell cell(double v) { return std::isnan(v) ? Cell() : Cell(v); }

/// Rows of unlike units: the unit of each stands in a column.
class Columns {
public:
  explicit Columns(std::vector<std::string> names) {
    for (std::string& name : names) {
      table_.columns.push_back({std::move(name), "", {}});
    }
  }
  void add(std::vector<Cell> row) {
    for (std::size_t k = 0; k < table_.columns.size(); ++k) {
      table_.columns[k].cells.push_back(std::move(row.at(k)));
    }
  }
  void unit_of(std::size_t column, std::string unit) { table_.columns[column].unit = std::move(unit); }
  LongTable take() { return std::move(table_); }

private:
  LongTable table_;
};

/// The value in a unit and that unit's name.
struct Shown {
  Kind kind;
  std::string name;
  std::optional<System> system;
  [[nodiscard]] double operator()(double si) const {
    return system && kind != Kind::Number ? convert(si, kind, *system) : si;
  }
  [[nodiscard]] std::string unit_name() const { return system && kind != Kind::Number ? unit(kind, *system) : name; }
};

Shown shown_parameter(const FitParameter& p, std::optional<System> system) {
  // Times stay in seconds, as in all tables for other programs.
  const Kind kind = scale_of(p).kind;
  return {kind == Kind::Duration ? Kind::Number : kind, p.unit, system};
}

LongTable readings_of(const FitResult& fit, std::optional<System> system) {
  Columns out({"set", "time", "quantity", "stud", "part", "unit", "value", "error", "model", "standardised", "weight",
               "clamp", "clamp_deviation", "note"});
  out.unit_of(1, "s");
  const Shown force{Kind::Force, "N", system};
  out.unit_of(11, force.unit_name());
  out.unit_of(12, force.unit_name());
  for (std::size_t i = 0; i < fit.readings.size(); ++i) {
    const FitReading& r = fit.readings[i];
    const FitResidual& e = fit.residuals[i];
    const Shown shown{kind_of(r.quantity), std::string(describe(r.quantity).unit), system};
    // A standard deviation is a difference: zero stays zero in any unit.
    const double error = shown(r.value + e.error) - shown(r.value);
    out.add({static_cast<double>(r.set + 1), r.time, std::string(describe(r.quantity).word),
             r.stud >= 0 ? Cell(static_cast<double>(r.stud + 1)) : Cell(), r.part, shown.unit_name(), shown(r.value),
             cell(error), cell(shown(e.model)), cell(e.standardised), e.weight, cell(force(e.clamp)),
             cell(force(e.clamp_deviation)), r.note});
  }
  return out.take();
}

LongTable values_of(const FitResult& fit, std::optional<System> system) {
  Columns out({"name", "path", "unit", "value", "low", "high", "standard_error", "profile_low", "profile_high",
               "lower_bound", "upper_bound", "at_bound"});
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitParameter& p = fit.parameters[k];
    const FitValue& v = fit.values[k];
    const Shown shown = shown_parameter(p, system);
    out.add({p.name, p.path, shown.unit_name(), cell(shown(v.value)), cell(shown(v.low)), cell(shown(v.high)),
             cell(shown(v.value + v.error) - shown(v.value)), cell(shown(v.profile_low)), cell(shown(v.profile_high)),
             shown(p.low), shown(p.high),
             v.at_low    ? -1.0
             : v.at_high ? 1.0
                         : 0.0});
  }
  return out.take();
}

LongTable curves_of(const FitResult& fit, std::optional<System> system) {
  Columns out({"set", "quantity", "stud", "part", "time", "unit", "value"});
  out.unit_of(4, "s");
  for (const FitCurve& c : fit.curves) {
    const Shown shown{kind_of(c.quantity), std::string(describe(c.quantity).unit), system};
    for (std::size_t i = 0; i < c.value.size(); ++i) {
      out.add({static_cast<double>(c.set + 1), std::string(describe(c.quantity).word),
               c.stud >= 0 ? Cell(static_cast<double>(c.stud + 1)) : Cell(), c.part, fit.sets[c.set].time[i],
               shown.unit_name(), cell(shown(c.value[i]))});
    }
  }
  return out.take();
}

LongTable starts_of(const FitResult& fit, std::optional<System> system) {
  Columns out({"start", "outcome", "cost", "name", "unit", "from", "to"});
  for (std::size_t s = 0; s < fit.starts.size(); ++s) {
    for (std::size_t k = 0; k < fit.parameters.size(); ++k) {
      const Shown shown = shown_parameter(fit.parameters[k], system);
      out.add({static_cast<double>(s + 1), fit.starts[s].outcome, cell(fit.starts[s].cost), fit.parameters[k].name,
               shown.unit_name(), shown(fit.starts[s].from[k]), shown(fit.starts[s].to[k])});
    }
  }
  return out.take();
}

LongTable profiles_of(const FitResult& fit, std::optional<System> system) {
  Columns out({"name", "unit", "value", "rise"});
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const Shown shown = shown_parameter(fit.parameters[k], system);
    for (std::size_t i = 0; i < fit.values[k].profile_value.size(); ++i) {
      out.add({fit.parameters[k].name, shown.unit_name(), shown(fit.values[k].profile_value[i]),
               fit.values[k].profile_rise[i]});
    }
  }
  return out.take();
}

} // namespace

ValueScale scale_of(const FitParameter& p) {
  if (p.difference) {
    return {Kind::Number, "K"};
  }
  const double values[] = {p.low, p.high};
  return scale_of(p.unit, values);
}

ValueScale difference_scale(const FitParameter& p) {
  const ValueScale scale = scale_of(p);
  return scale.kind == Kind::Temperature ? ValueScale{Kind::Number, "K"} : scale;
}

Kind kind_of(FitQuantity quantity) {
  switch (quantity) {
  case FitQuantity::Clamp:
  case FitQuantity::ClampCold:
    return Kind::Force;
  case FitQuantity::Stretch:
  case FitQuantity::Thickness:
    return Kind::Thickness;
  case FitQuantity::Temperature:
    return Kind::Temperature;
  case FitQuantity::CheckTorque:
    return Kind::Torque;
  }
  return Kind::Number;
}

std::string counted(std::size_t n, const char* what) { return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s"); }

std::string word_of(FitQuantity quantity) {
  std::string word(describe(quantity).word);
  std::replace(word.begin(), word.end(), '_', ' ');
  return word == "clamp cold" ? "cold clamp" : word;
}

std::string subject(FitQuantity quantity, int stud, const std::string& part) {
  return word_of(quantity) + (part.empty() ? "" : " of " + part) +
         (stud >= 0 ? fmt::format(", stud {}", stud + 1) : "");
}

std::string interval_text(const FitResult& fit, std::size_t k, System system) {
  const FitValue& v = fit.values[k];
  const ValueScale scale = scale_of(fit.parameters[k]);
  const bool profile = !std::isnan(v.profile_low);
  return fmt::format("{} to {}", value_text(profile ? v.profile_low : v.low, scale, system, false),
                     value_text(profile ? v.profile_high : v.high, scale, system));
}

std::vector<std::size_t> farthest(const FitResult& fit) {
  std::vector<std::size_t> order(fit.readings.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return std::abs(fit.residuals[a].standardised) > std::abs(fit.residuals[b].standardised);
  });
  return order;
}

std::vector<std::string> fit_sentences(const FitResult& fit, System system) {
  std::vector<std::string> out;
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitValue& v = fit.values[k];
    out.push_back(fmt::format("{} is {}, with 95 % confidence {}{}.", capital(fit.parameters[k].label),
                              value_text(v.value, scale_of(fit.parameters[k]), system), interval_text(fit, k, system),
                              undetermined(fit.parameters[k], v)
                                  ? "; that spans its bounds, so the readings do not fix it"
                              : v.at_low || v.at_high ? "; it stands at its bound, so the readings ask for more room"
                                                      : ""));
  }
  const bool found =
      std::any_of(fit.found_error.begin(), fit.found_error.end(), [](double e) { return !std::isnan(e); });
  out.push_back(fmt::format("{}, {}: chi-square {:.4g} for {} degrees of freedom{}.",
                            counted(fit.readings.size(), "reading"), counted(fit.values.size(), "value"),
                            fit.chi_square, fit.freedom,
                            found ? ", with errors that were found from the residuals and so prove nothing by it"
                            : fit.widened > 1 ? ", more than the errors given allow: the intervals are widened for it"
                                              : ", as the errors given let one expect"));
  out.emplace_back(
      "The intervals hold what the readings leave open under this model. What the model leaves out, and how "
      "another batch of paint or another joint differs, is not in them.");
  return out;
}

std::string to_text(const FitFile& file, System system, bool colour) {
  const FitResult& fit = file.fit;
  std::string out = basis_line(fit.warnings, colour) + "\n" + marked("1", fit.sets.front().title, colour) + "\n\n";
  for (const std::string& sentence : fit_sentences(fit, system)) {
    out += wrap(sentence);
  }
  out += "\n" + wrap(kCaution) + "\n" + value_table(fit, system).text(kPage);
  if (fit.values.size() > 1) {
    out += "\n" + correlation_table(fit).text(kPage);
  }
  out += "\n" + reading_table(fit, system).text(kPage);
  out += wrap("Counts: 1, or less where a robust loss holds a reading for an outlier.", 2, kPage);
  if (fit.starts.size() > 1) {
    out += "\n" + start_table(fit, system).text(kPage);
  }
  if (!fit.warnings.empty()) {
    out += "\n" + marked("1", "Warnings", colour) + "\n";
    for (const std::string& w : fit.warnings) {
      out += list_item(w);
    }
  }
  out += "\n" + marked("1", "To be pasted", colour) + "\n" + fit.block;
  out += "\n" + marked("1", "Cautions", colour) + "\n";
  for (const std::string_view c : cautions()) {
    out += list_item(std::string(c));
  }
  out += "\n" + wrap(fmt::format("{} runs{}, loss {}, seed {}. Written by program {} ({}) on {}.", fit.runs,
                                 fit.failed_runs > 0 ? fmt::format(", {} of them without an end", fit.failed_runs) : "",
                                 name(fit.loss), fit.seed, file.program_version, file.git_sha, file.created_utc));
  return out;
}

std::string to_json(const FitFile& file) {
  using nlohmann::ordered_json;
  const FitResult& fit = file.fit;
  const auto number_of = [](double v) { return std::isfinite(v) ? ordered_json(v) : ordered_json(); };
  ordered_json document;
  document["file"] = file.path;
  document["title"] = fit.sets.front().title;
  document["said"] = fit_sentences(fit, System::Si);
  document["values"] = ordered_json::array();
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    const FitParameter& p = fit.parameters[k];
    const FitValue& v = fit.values[k];
    document["values"].push_back({{"path", p.path},
                                  {"name", p.name},
                                  {"unit", p.unit},
                                  {"value", number_of(v.value)},
                                  {"low", number_of(v.low)},
                                  {"high", number_of(v.high)},
                                  {"standard_error", number_of(v.error)},
                                  {"profile_low", number_of(v.profile_low)},
                                  {"profile_high", number_of(v.profile_high)},
                                  {"lower_bound", p.low},
                                  {"upper_bound", p.high},
                                  {"at_bound", v.at_low || v.at_high}});
  }
  document["correlation"] = ordered_json::array();
  for (std::size_t k = 0; k < fit.values.size(); ++k) {
    ordered_json row = ordered_json::array();
    for (std::size_t m = 0; m < fit.values.size(); ++m) {
      row.push_back(number_of(fit.correlation[k * fit.values.size() + m]));
    }
    document["correlation"].push_back(std::move(row));
  }
  document["chi_square"] = number_of(fit.chi_square);
  document["degrees_of_freedom"] = fit.freedom;
  document["widened"] = number_of(fit.widened);
  document["sets"] = ordered_json::array();
  for (const FitSetResult& s : fit.sets) {
    document["sets"].push_back({{"title", s.title},
                                {"scenario_file", s.scenario_file},
                                {"data_file", s.data_file},
                                {"data_sha256", s.data_sha256}});
  }
  document["readings"] = ordered_json::array();
  for (std::size_t i = 0; i < fit.readings.size(); ++i) {
    const FitReading& r = fit.readings[i];
    const FitResidual& e = fit.residuals[i];
    document["readings"].push_back({{"set", r.set + 1},
                                    {"time_s", r.time},
                                    {"quantity", describe(r.quantity).word},
                                    {"unit", describe(r.quantity).unit},
                                    {"stud", r.stud >= 0 ? ordered_json(r.stud + 1) : ordered_json()},
                                    {"part", r.part},
                                    {"value", r.value},
                                    {"error", number_of(e.error)},
                                    {"model", number_of(e.model)},
                                    {"standardised", number_of(e.standardised)},
                                    {"weight", number_of(e.weight)}});
  }
  document["block"] = fit.block;
  document["warnings"] = fit.warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  return document.dump(2) + "\n";
}

std::vector<std::string> fit_tables(const FitResult& fit) {
  std::vector<std::string> names = {"readings", "values", "curves", "starts"};
  if (has_profiles(fit)) {
    names.emplace_back("profiles");
  }
  return names;
}

LongTable fit_table(const FitResult& fit, const std::vector<std::string>& names, std::optional<System> system) {
  if (names.size() > 1) {
    throw std::invalid_argument("a fit gives one table at a time");
  }
  const std::string name = names.empty() ? "readings" : names.front();
  LongTable table;
  const std::vector<std::string> all = fit_tables(fit);
  if (std::find(all.begin(), all.end(), name) == all.end()) {
    std::string list;
    for (const std::string& n : all) {
      list += (list.empty() ? "" : ", ") + n;
    }
    throw std::invalid_argument("a fit has no table '" + name + "'; it has " + list);
  }
  table = name == "values"     ? values_of(fit, system)
          : name == "curves"   ? curves_of(fit, system)
          : name == "starts"   ? starts_of(fit, system)
          : name == "profiles" ? profiles_of(fit, system)
                               : readings_of(fit, system);
  table.datasets = {name};
  return table;
}

} // namespace clampfade::post

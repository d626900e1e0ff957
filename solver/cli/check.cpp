#include "solver/cli/check.hpp"

#include "solver/cli/terminal.hpp"
#include "solver/io/scenario.hpp"
#include "solver/simulation.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <string_view>
#include <utility>
#include <vector>

namespace clampfade {

namespace {

/// A row of a table: a figure with its unit, or a text in `value` alone.
struct TableLine {
  std::string what, value, unit;
  std::size_t indent = 2;
  bool number = true;
};

struct TableGroup {
  std::string title;
  std::vector<TableLine> lines;
};

std::string capital(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  if (!text.empty()) {
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  }
  return text;
}

/// Prints tables whose figures stand with their decimal points below each other, from the same column in all of them.
void print_tables(const std::vector<TableGroup>& groups) {
  const auto before_point = [](const std::string& value) { return std::min(value.find('.'), value.size()); };
  std::size_t left = 0;  // of the decimal point
  std::size_t right = 0; // of it, the point counted
  std::size_t unit = 0;
  std::size_t widest = 0;
  for (const TableGroup& group : groups) {
    for (const TableLine& l : group.lines) {
      widest = std::max(widest, l.indent + columns(l.what));
      if (l.number) {
        left = std::max(left, before_point(l.value));
        right = std::max(right, l.value.size() - before_point(l.value));
        unit = std::max(unit, columns(l.unit));
      }
    }
  }
  const std::size_t labels = std::min(widest, kPage - (2 + left + right + 1 + unit));
  for (const TableGroup& group : groups) {
    fmt::print("\n{}\n", group.title);
    for (const TableLine& l : group.lines) {
      std::string line = std::string(l.indent, ' ') + wrapped(l.what, l.indent, labels);
      if (!l.value.empty()) {
        const std::size_t last = line.rfind('\n') + 1; // npos + 1 is 0
        const std::size_t used = columns(std::string_view(line).substr(last));
        line += std::string(labels - std::min(used, labels) + 2, ' ');
        if (l.number) {
          line += std::string(left - before_point(l.value), ' ') + l.value;
          const std::size_t behind = l.value.size() - before_point(l.value);
          line += l.unit.empty() ? "" : std::string(right - behind + 1, ' ') + l.unit;
        } else {
          line += wrapped(l.value, labels + 2, kPage);
        }
      }
      fmt::print("{}\n", line);
    }
  }
}

/// A figure, or a list of figures, as rows.
std::vector<TableLine> rows_of(const Figure& f, UnitSystem system) {
  double largest = 0;
  for (const double v : f.values) {
    largest = std::isfinite(v) ? std::max(largest, std::abs(v)) : largest;
  }
  const ShownUnit unit = shown_unit(f.unit, largest, system);
  // Stud numbers and counts are not measured.
  const bool whole = f.unit == "1" && std::all_of(f.values.begin(), f.values.end(),
                                                  [](double v) { return v == std::floor(v) && std::abs(v) < 1e6; });
  const auto row = [&](std::string what, std::size_t i, std::size_t indent) {
    if (i < f.text.size()) {
      return TableLine{std::move(what), f.text[i], "", indent, false};
    }
    return TableLine{std::move(what), whole ? fmt::format("{:.0f}", f.values[i]) : significant(unit(f.values[i])),
                     typeset(unit.name), indent};
  };
  const std::size_t count = std::max(f.values.size(), f.text.size());
  if (count == 1 && f.labels.empty()) {
    return {row(f.long_name, 0, 2)};
  }
  std::vector<TableLine> rows = {{f.long_name, "", "", 2, false}};
  for (std::size_t i = 0; i < count; ++i) {
    rows.push_back(row(i < f.labels.size() ? f.labels[i] : std::to_string(i + 1), i, 4));
  }
  return rows;
}

/// Figures as tables, those of one group together, the ungrouped ones first.
std::vector<TableGroup> tables_of(const std::vector<Figure>& figures, UnitSystem system) {
  std::vector<TableGroup> groups = {{"Joint", {}}};
  for (const Figure& f : figures) {
    const std::size_t slash = f.name.find('/');
    const std::string title = slash == std::string::npos ? "Joint" : capital(f.name.substr(0, slash));
    auto group = std::find_if(groups.begin(), groups.end(), [&](const TableGroup& g) { return g.title == title; });
    if (group == groups.end()) {
      group = groups.insert(groups.end(), {title, {}});
    }
    const std::vector<TableLine> rows = rows_of(f, system);
    group->lines.insert(group->lines.end(), rows.begin(), rows.end());
  }
  return groups;
}

/// What most people look for, before everything else.
TableGroup key_figures(const std::vector<Figure>& figures, std::size_t warnings, UnitSystem system) {
  const auto find = [&](std::string_view name) {
    const auto found = std::find_if(figures.begin(), figures.end(), [&](const Figure& f) { return f.name == name; });
    return found == figures.end() ? nullptr : &*found;
  };
  const auto value = [&](std::string_view name) { return find(name)->values.at(0); };
  const auto force = [&](std::string what, double newton) {
    const ShownUnit unit = shown_unit("N", newton, system);
    return TableLine{std::move(what), significant(unit(newton)), typeset(unit.name)};
  };
  const double highest = value("torque/clamp");
  const Figure* each = find("torque/clamp_by_stud");
  const double lowest = each != nullptr ? *std::min_element(each->values.begin(), each->values.end()) : highest;
  const double required = value("required_clamp");

  TableGroup group{"Key figures", {}};
  if (lowest < highest) {
    group.lines.push_back(force("clamp load at the set torque, weakest stud", lowest));
    group.lines.push_back(force("clamp load at the set torque, strongest stud", highest));
  } else {
    group.lines.push_back(force("clamp load at the set torque", highest));
  }
  group.lines.push_back(
      force("required clamp per stud, set by: " + find("deciding_design_case")->text.at(0), required));
  group.lines.push_back(
      {"stud utilisation, stress over yield while tightening", significant(value("torque/utilisation")), ""});
  // What there is over what is needed; below 1 it fails.
  std::vector<std::pair<double, std::string>> margins = {
      {value("slip_margin"), "slip in plain rolling"},
      {1 / value("torque/utilisation"), "yield while tightening"},
      {value("thread/proof_load") / highest, "proof load over clamp"},
      {value("fatigue_limit") / (value("fatigue/axial_amplitude") + value("fatigue/bending_amplitude")),
       "stud fatigue in plain rolling"}};
  if (required > 0) {
    margins.emplace_back(lowest / required, "clamp over required clamp");
  }
  if (value("seat_pressure_limit") > 0) {
    margins.emplace_back(value("seat_pressure_limit") / value("seat_pressure"), "pressure under the nut");
  }
  const auto weakest = *std::min_element(margins.begin(), margins.end());
  group.lines.push_back({"weakest margin, 1 is the limit: " + weakest.second, significant(weakest.first), ""});
  group.lines.push_back(rows_of(*find("grip_length"), system).front());
  group.lines.push_back({warnings == 0 ? "warnings" : "warnings, see the end", std::to_string(warnings), ""});
  return group;
}

void print_json(const Scenario& scenario, const std::vector<Figure>& figures,
                const std::vector<std::string>& warnings) {
  using nlohmann::ordered_json;
  // A group is an object of its own, with the units and the labels of its entries beside them.
  ordered_json document;
  document["title"] = scenario.title;
  for (const Figure& f : figures) {
    const std::size_t slash = f.name.find('/');
    ordered_json& group = slash == std::string::npos ? document : document[f.name.substr(0, slash)];
    const std::string key = slash == std::string::npos ? f.name : f.name.substr(slash + 1);
    if (!f.text.empty()) {
      group[key] = f.text.size() == 1 && f.labels.empty() ? ordered_json(f.text.front()) : ordered_json(f.text);
    } else {
      group[key] = f.values.size() == 1 && f.labels.empty() ? ordered_json(f.values.front()) : ordered_json(f.values);
      group["units"][key] = f.unit;
    }
    if (!f.labels.empty()) {
      group["labels"][key] = f.labels;
    }
  }
  document["studies"] = scenario.studies;
  document["warnings"] = warnings;
  document["cautions"] = std::vector<std::string>(cautions().begin(), cautions().end());
  fmt::print("{}\n", document.dump(2));
}

} // namespace

Exit check(const std::string& file, bool json, UnitSystem system) {
  const Scenario scenario = read_scenario(file);
  const std::vector<Figure> figures = derive(scenario);
  const std::vector<std::string> warnings = make_header(scenario).warnings;
  if (json) {
    print_json(scenario, figures, warnings);
    return Exit::Ok;
  }
  print_basis(warnings);
  fmt::print("{}\n{}: no errors\n", wrapped(scenario.title, 0, kPage), file);
  for (const std::string& study : scenario.studies) {
    fmt::print("{}\n", wrapped(study, 0, kPage));
  }
  std::vector<TableGroup> tables = tables_of(figures, system);
  tables.insert(tables.begin(), key_figures(figures, warnings.size(), system));
  print_tables(tables);
  print_cautions(warnings);
  return Exit::Ok;
}

} // namespace clampfade

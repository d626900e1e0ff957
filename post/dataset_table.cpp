#include "post/dataset_table.hpp"

#include "post/table.hpp"
#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <stdexcept>
#include <string_view>

namespace clampfade::post {

namespace {

/// Datasets that tell where a row of an axis is; `column` is how they are called beside others.
struct Companion {
  std::string_view axis, dataset, column;
};
constexpr std::array kCompanions = {Companion{"time", "time", "time"},
                                    Companion{"time", "distance", "distance"},
                                    Companion{"act", "tightening_time", "time"},
                                    Companion{"act", "tightening_pass", "pass"},
                                    Companion{"act", "tightening_stud", "stud"},
                                    Companion{"event", "event_time", "time"},
                                    Companion{"event", "event_distance", "distance"},
                                    Companion{"event", "event_stud", "stud"},
                                    Companion{"event", "event_kind", "kind"},
                                    Companion{"steps/interval", "steps/time", "time"},
                                    Companion{"provenance/row", "provenance/entry", "entry"},
                                    Companion{"provenance/row", "provenance/key", "key"},
                                    Companion{"records/row", "records/stud", "stud"}};

constexpr std::array kThicknesses = {"loss", "layer_thickness", "joint/geometry/layer_thickness",
                                     "joint/embedding/interfaces", "joint/embedding/thread"};
constexpr std::array kDistances = {"distance", "event_distance"};
constexpr std::array kStudPositions = {"tightening_stud", "event_stud"};

template <class List>
bool among(const List& list, std::string_view word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

Kind kind_of(const Dataset& d) {
  if (d.unit == "m" && among(kDistances, d.path)) {
    return Kind::Distance;
  }
  if (d.unit == "m" && among(kThicknesses, d.path)) {
    return Kind::Thickness;
  }
  return post::kind_of(d.unit);
}

/// Values of a dataset as a column; `name` is what it is called there.
Column column_of(const Dataset& d, const std::string& name, std::optional<System> system) {
  Column c{name, "", {}};
  for (const std::string& text : d.text) {
    c.cells.emplace_back(text);
  }
  if (d.type == Dataset::Type::Text) {
    return c;
  }
  const Kind kind = kind_of(d);
  const bool converted = system && kind != Kind::Number;
  c.unit = converted ? unit(kind, *system) : d.unit;
  for (const double v : d.values) {
    c.cells.push_back(std::isnan(v) ? Cell() : Cell(converted ? convert(v, kind, *system) : v));
  }
  return c;
}

/// Positions on the axis of studs as their names.
Column stud_column(const Dataset& d, const History& history) {
  Column c{"stud", "", {}};
  for (const double v : d.values) {
    const bool one = v >= 0 && v < static_cast<double>(history.studs().size());
    c.cells.emplace_back(one ? history.studs()[static_cast<std::size_t>(v)] : std::string("wheel"));
  }
  return c;
}

std::string last_part(const std::string& path) { return path.substr(path.rfind('/') + 1); }

[[noreturn]] void throw_damaged(const History& history, std::string_view path, const char* how) {
  throw FileError(Code::FileTruncated,
                  fmt::format("{}: the file is damaged: {} is {}; use a copy", history.path(), path, how));
}

/// A dataset that the file itself speaks of, in its list or as the places of another.
Dataset known_dataset(const History& history, std::string_view path) {
  try {
    return history.dataset(path);
  } catch (const std::out_of_range&) { // gone, or listed by another name
    throw_damaged(history, path, "not there");
  }
}

/// One that tells the places of another: every file that holds the one holds the other, or it is damaged.
Dataset places_dataset(const History& history, std::string_view path, std::size_t length) {
  Dataset d = known_dataset(history, path);
  if (d.axes.size() != 1 || d.axes.front().length != length) {
    throw_damaged(history, path, "of another length than what it tells the places of");
  }
  return d;
}

/// How the positions of an axis are told, one or more columns of its length. `value` is the dataset they are for.
std::vector<Column> places_of(const History& history, const Dataset::Axis& axis, const Dataset& value,
                              std::optional<System> system) {
  std::vector<Column> columns;
  const bool is_own = axis.path == value.path;
  const bool by_number = axis.path == "act" || axis.path == "event" || axis.path == "steps/interval" ||
                         axis.path == "provenance/row" || axis.path == "records/row";
  if (axis.path == "single" || (is_own && !by_number && axis.path != "time")) {
    return columns; // there is but one place, or the values are the places
  }
  if (axis.path.empty()) {
    Column c{"number", "", {}};
    for (std::size_t i = 0; i < axis.length; ++i) {
      c.cells.emplace_back(static_cast<double>(i + 1));
    }
    return {c};
  }
  if (by_number) {
    if (!is_own) {
      columns.push_back(column_of(places_dataset(history, axis.path, axis.length), last_part(axis.path), std::nullopt));
      columns.back().unit.clear();
    }
  } else if (axis.path != "time") {
    std::string name = last_part(axis.path);
    if (name.ends_with("_labels")) {
      name = "item"; // of a list among the joint's figures
    }
    return {column_of(places_dataset(history, axis.path, axis.length), name, system)};
  }
  for (const Companion& companion : kCompanions) {
    if (companion.axis == axis.path && companion.dataset != value.path) {
      const Dataset d = places_dataset(history, companion.dataset, axis.length);
      columns.push_back(among(kStudPositions, d.path) ? stud_column(d, history)
                                                      : column_of(d, std::string(companion.column), system));
    }
  }
  return columns;
}

std::string axes_text(const Dataset& d) {
  std::string text;
  for (const Dataset::Axis& axis : d.axes) {
    const std::string name = axis.path.empty() ? "number" : axis.path.ends_with("_labels") ? "item" : axis.path;
    text += fmt::format("{}{} {}", text.empty() ? "" : " x ", name, axis.length);
  }
  return text;
}

std::string csv_cell(const std::string& text) {
  if (text.find_first_of(",\"\n\r") == std::string::npos) {
    return text;
  }
  std::string out = "\"";
  for (const char c : text) {
    out += c == '"' ? "\"\"" : std::string(1, c);
  }
  return out + "\"";
}

/// The dataset of that name; a name from the root's slash, and that of a joint's figure without "joint/", will do.
Dataset find(const History& history, std::string name) {
  name.erase(0, name.find_first_not_of('/'));
  const std::vector<Dataset> all = history.datasets();
  std::vector<std::string> names;
  for (const Dataset& d : all) {
    if (d.path == name || d.path == "joint/" + name) {
      return known_dataset(history, d.path);
    }
    names.push_back(d.path);
  }
  for (const Dataset& d : all) {
    if (d.path.rfind("joint/", 0) == 0) {
      names.push_back(d.path.substr(6));
    }
  }
  const std::string near = nearest(name, names);
  throw std::invalid_argument(fmt::format("there is no dataset '{}'{}; --list shows them all", name,
                                          near.empty() ? "" : ", did you mean " + near + "?"));
}

nlohmann::ordered_json json_of(const Cell& cell) {
  if (const double* v = std::get_if<double>(&cell)) {
    return std::isfinite(*v) ? nlohmann::ordered_json(*v) : nlohmann::ordered_json(nullptr);
  }
  if (const std::string* text = std::get_if<std::string>(&cell)) {
    return *text;
  }
  return nullptr;
}

} // namespace

LongTable long_table(const History& history, const std::vector<std::string>& names, std::optional<System> system) {
  std::vector<Dataset> datasets;
  for (const std::string& name : names) {
    datasets.push_back(find(history, name));
  }
  if (datasets.empty()) {
    throw std::invalid_argument("give at least one --dataset; --list shows them all");
  }
  const Dataset& first = datasets.front();
  for (const Dataset& d : datasets) {
    if (axes_text(d) != axes_text(first) || d.axes.back().path != first.axes.back().path) {
      throw std::invalid_argument(fmt::format("{} is along {}, {} along {}: they do not fit one table, print each by "
                                              "itself",
                                              first.path, axes_text(first), d.path, axes_text(d)));
    }
  }

  LongTable table;
  std::vector<std::size_t> lengths;
  std::size_t count = 1;
  for (const Dataset::Axis& axis : first.axes) {
    lengths.push_back(axis.length);
    count *= axis.length;
  }
  // A place lasts as long as all axes after it, and comes back as often as those before it have positions.
  std::size_t after = count;
  for (std::size_t i = 0; i < first.axes.size(); ++i) {
    after = lengths[i] > 0 ? after / lengths[i] : 0;
    for (const Column& place : places_of(history, first.axes[i], first, system)) {
      Column c{place.name, place.unit, {}};
      c.cells.reserve(count);
      for (std::size_t n = 0; n < count; ++n) {
        c.cells.push_back(place.cells.at(n / after % lengths[i]));
      }
      table.columns.push_back(std::move(c));
    }
  }
  for (const Dataset& d : datasets) {
    // A value that is also a place of the others stands there already.
    const bool place = datasets.size() > 1 &&
                       std::any_of(table.columns.begin(), table.columns.end(),
                                   [&](const auto& c) { return c.name == last_part(d.path) && d.axes.size() == 1; });
    table.datasets.push_back(d.path);
    table.long_names.push_back(d.long_name);
    if (!place) {
      table.columns.push_back(column_of(d, last_part(d.path), system));
    }
  }
  return table;
}

std::string to_csv(const LongTable& table) {
  std::string out;
  for (std::size_t i = 0; i < table.columns.size(); ++i) {
    const Column& c = table.columns[i];
    out += (i > 0 ? "," : "") + csv_cell(c.name + (c.unit.empty() ? "" : " [" + c.unit + "]"));
  }
  out += '\n';
  for (std::size_t row = 0; row < table.rows(); ++row) {
    for (std::size_t i = 0; i < table.columns.size(); ++i) {
      const Cell& cell = table.columns[i].cells[row];
      if (i > 0) {
        out += ',';
      }
      if (const double* v = std::get_if<double>(&cell)) {
        fmt::format_to(std::back_inserter(out), "{}", *v);
      } else if (const std::string* text = std::get_if<std::string>(&cell)) {
        out += csv_cell(*text);
      }
    }
    out += '\n';
  }
  return out;
}

std::string to_json(const LongTable& table, const History& history) {
  return to_json(table, history.path(), history.title(), history.scenario_sha256());
}

std::string to_json(const LongTable& table, const std::string& path, const std::string& title,
                    const std::string& scenario_sha256) {
  using Json = nlohmann::ordered_json;
  Json j = {{"file", path},
            {"title", title},
            {"scenario_sha256", scenario_sha256},
            {"datasets", Json::array()},
            {"columns", Json::array()}};
  for (std::size_t i = 0; i < table.datasets.size(); ++i) {
    j["datasets"].push_back({{"name", table.datasets[i]}, {"long_name", table.long_names[i]}});
  }
  for (const Column& c : table.columns) {
    j["columns"].push_back({{"name", c.name}, {"unit", c.unit.empty() ? Json(nullptr) : Json(c.unit)}});
  }
  // One row a line: a person finds his way, a year stays small.
  std::string out = j.dump(2, ' ', false, Json::error_handler_t::replace);
  out.resize(out.size() - 2); // the last brace
  out += ",\n  \"rows\": [";
  for (std::size_t row = 0; row < table.rows(); ++row) {
    Json line = Json::array();
    for (const Column& c : table.columns) {
      line.push_back(json_of(c.cells[row]));
    }
    out += (row > 0 ? ",\n    " : "\n    ") + line.dump(-1, ' ', false, Json::error_handler_t::replace);
  }
  return out + "\n  ]\n}\n";
}

std::string dataset_list(const History& history) {
  std::string out;
  for (const Dataset& d : history.datasets()) {
    const bool text = d.type == Dataset::Type::Text;
    out += fmt::format("{} [{}], {}\n", d.path, text ? "text" : d.unit, axes_text(d));
    if (!d.long_name.empty()) {
      out += wrap(d.long_name, 4);
    }
  }
  return out;
}

std::string dataset_list_json(const History& history) {
  using Json = nlohmann::ordered_json;
  Json list = Json::array();
  for (const Dataset& d : history.datasets()) {
    Json one = {{"name", d.path},
                {"unit", d.type == Dataset::Type::Text ? Json(nullptr) : Json(d.unit)},
                {"type", d.type == Dataset::Type::Text    ? "text"
                         : d.type == Dataset::Type::Whole ? "integer"
                                                          : "real"},
                {"shape", Json::array()},
                {"axes", Json::array()},
                {"long_name", d.long_name}};
    for (const Dataset::Axis& axis : d.axes) {
      one["shape"].push_back(axis.length);
      one["axes"].push_back(axis.path.empty() ? Json(nullptr) : Json(axis.path));
    }
    list.push_back(std::move(one));
  }
  return list.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

} // namespace clampfade::post

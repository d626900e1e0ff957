#include "solver/io/tightening_reader.hpp"

#include "models/units.hpp"
#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace clampfade {

namespace {

/// One value for all studs, or a list with one for each.
std::vector<double> per_stud(ReaderState& r, Map& map, std::string_view key) {
  const std::size_t n = r.scenario.joint.studs.count;
  const Item* item = map.need(key);
  if (item == nullptr) {
    return std::vector<double>(n, kNone);
  }
  const ParamSpec& spec = map.declared(key).spec;
  if (r.context.reading != nullptr) {
    r.context.reading->per_stud.emplace(item, spec);
  }
  if (!item->list()) {
    return std::vector<double>(n, read_value(r.context, *item, spec, map.at(key)));
  }
  std::vector<double> values;
  for (std::size_t i = 0; i < item->items.size(); ++i) {
    values.push_back(read_value(r.context, item->items[i], spec, fmt::format("{}/{}", map.at(key), i + 1)));
  }
  if (values.size() != n && n > 0) {
    inconsistent(r.context, *item, map.at(key), fmt::format("{} values for {} studs", values.size(), n),
                 fmt::format("one value, or a list of {}", n));
  }
  values.resize(n, kNone);
  return values;
}

void read_order(ReaderState& r, Map& m) {
  const std::size_t n = r.scenario.joint.studs.count;
  const Item* order = m.find("order");
  if (order == nullptr || (order->scalar() && order->text == "star")) {
    r.scenario.tightening.order = star_order(n);
    return;
  }
  if (!order->list()) {
    r.context.faults.add(Code::WrongType, *order, m.at("order"), what_it_is(*order) + " is no order",
                         "star, or a list of stud numbers from 1");
    return;
  }
  const ParamSpec number{"stud", "1", Quantity::Count, {1, n > 0 ? static_cast<double>(n) : 64}, {}, "stud"};
  std::set<std::size_t> seen;
  bool whole = true;
  for (std::size_t i = 0; i < order->items.size(); ++i) {
    const std::string path = fmt::format("{}/{}", m.at("order"), i + 1);
    const double v = read_value(r.context, order->items[i], number, path);
    if (std::isnan(v)) {
      whole = false;
      continue;
    }
    const auto stud = static_cast<std::size_t>(v) - 1;
    if (!seen.insert(stud).second) {
      r.context.faults.add(Code::DuplicateKey, order->items[i], path, fmt::format("stud {} is named twice", stud + 1),
                           "each stud once");
    }
    r.scenario.tightening.order.push_back(stud);
  }
  if (whole && n > 0 && seen.size() < n && order->items.size() <= n) {
    std::vector<std::string> left;
    for (std::size_t i = 0; i < n; ++i) {
      if (seen.count(i) == 0) {
        left.push_back(std::to_string(i + 1));
      }
    }
    inconsistent(r.context, *order, m.at("order"), "these studs are not named: " + joined(left), "each stud once");
  }
}

void read_records(ReaderState& r, const Item& item) {
  std::optional<CsvTable> csv;
  if (item.map()) {
    Map m(r.context, item, "tightening/records", section("tightening/records"));
    csv = CsvTable::from_map(r.context, m, "rows");
  } else {
    csv = CsvTable::from_file(r.context, item, "tightening/records");
  }
  if (!csv) {
    return;
  }
  static const std::vector<std::string> known = {"stud", "torque",   "torque_unit", "angle_deg", "angle_rad", "time",
                                                 "tool", "operator", "vehicle",     "axle",      "wheel"};
  const CsvRow& header = csv->header();
  std::map<std::string, std::size_t> column;
  for (std::size_t i = 0; i < header.cells.size(); ++i) {
    const std::string& name = header.cells[i];
    if (std::find(known.begin(), known.end(), name) == known.end()) {
      const std::string near = nearest(name, known);
      csv->fault(header, Code::UnknownKey, name, "this column is not known", joined(known),
                 near.empty() ? "" : "did you mean " + near + "?");
    } else if (!column.emplace(name, i).second) {
      csv->fault(header, Code::DuplicateKey, name, "this column is there twice", "each column once");
    }
  }
  bool complete = true;
  for (const char* name : {"stud", "torque", "torque_unit"}) {
    if (column.count(name) == 0) {
      csv->fault(header, Code::MissingKey, name, "this column is missing", "stud, torque, torque_unit, and more");
      complete = false;
    }
  }
  if (!complete) {
    return;
  }
  const ParamSpec torque = section("tightening").find("torque")->spec;
  std::set<std::size_t> seen;
  csv->each_row([&](const CsvRow& row) {
    const auto cell = [&](const char* name) {
      return column.count(name) != 0 ? row.cells[column[name]] : std::string();
    };
    TighteningRecord record;
    const double stud = csv->number(row, column["stud"], "stud");
    if (stud != std::floor(stud) || stud < 1 || stud > static_cast<double>(r.scenario.joint.studs.count)) {
      if (!std::isnan(stud) && r.scenario.joint.studs.count > 0) {
        csv->fault(row, Code::OutOfRange, "stud", fmt::format("there is no stud '{}'", cell("stud")),
                   fmt::format("1 to {}", r.scenario.joint.studs.count));
      }
      return;
    }
    record.stud = static_cast<std::size_t>(stud) - 1;
    if (!seen.insert(record.stud).second) {
      csv->fault(row, Code::DuplicateKey, "stud", fmt::format("stud {} has two rows", record.stud + 1),
                 "one row for each stud");
    }
    record.torque = kNone;
    if (!std::isnan(csv->number(row, column["torque"], "torque"))) {
      const QuantityResult read = read_quantity(cell("torque") + ' ' + cell("torque_unit"), torque);
      if (!read.value) {
        csv->fault(row, read.fault.code, "torque", read.fault.found, read.fault.allowed, read.fault.hint);
      } else if (!torque.allowed.holds(*read.value)) {
        csv->fault(row, Code::OutOfRange, "torque",
                   fmt::format("'{} {}' is outside the allowed range", cell("torque"), cell("torque_unit")),
                   range_text(torque.allowed, torque));
      }
      record.torque = read.value.value_or(kNone);
    }
    if (!cell("angle_rad").empty()) {
      record.angle = csv->number(row, column["angle_rad"], "angle_rad");
    } else if (!cell("angle_deg").empty()) {
      record.angle = csv->number(row, column["angle_deg"], "angle_deg") * units::kDegree;
    }
    record.time = cell("time");
    record.tool = cell("tool");
    record.operator_name = cell("operator");
    record.vehicle = cell("vehicle");
    record.axle = cell("axle");
    record.wheel = cell("wheel");
    if (record.stud < r.scenario.tightening.torque.size()) {
      r.scenario.tightening.torque[record.stud] = record.torque;
    }
    r.scenario.records.push_back(std::move(record));
  });
}

} // namespace

void read_tightening(ReaderState& r, const Item& item) {
  Map m(r.context, item, "tightening", section("tightening"));
  if (!m.is_map()) {
    return;
  }
  TighteningSpec& t = r.scenario.tightening;
  t.torque = per_stud(r, m, "torque");
  if (const Item* friction = m.need("friction")) {
    Map f(r.context, *friction, "tightening/friction", section("tightening/friction"));
    t.thread_friction = per_stud(r, f, "thread");
    t.bearing_friction = per_stud(r, f, "bearing");
    t.breakaway = f.table("breakaway", kAgeAxis);
  }
  if (m.find("passes") != nullptr) {
    t.passes.clear();
    for (const auto& [pass, path] : m.list("passes")) {
      t.passes.push_back(read_value(r.context, *pass, m.declared("passes").spec, path));
    }
    const Item& passes = m.place("passes");
    if (passes.list() && passes.items.empty()) {
      inconsistent(r.context, passes, m.at("passes"), "the list is empty", "at least one pass, for example [1.0]");
    } else if (!t.passes.empty() && std::abs(t.passes.back() - 1) > 1e-9) {
      r.context.faults.warn(
          fmt::format("tightening/passes: the last pass is {:.4g} of the torque, not all of it", t.passes.back()));
    }
  }
  read_order(r, m);
  t.pause = m.value("pause");
  t.temperature = m.value("temperature");
  if (const Item* records = m.find("records")) {
    read_records(r, *records);
  }
  for (std::size_t i = 0; i < t.torque.size(); ++i) {
    if (t.torque[i] <= r.scenario.joint.nut.prevailing_torque) {
      inconsistent(r.context, m.place("torque"), m.at("torque"),
                   "the torque does not exceed the nut's prevailing torque", "more than joint/nut/prevailing_torque");
      break;
    }
  }
}

} // namespace clampfade

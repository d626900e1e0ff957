#include "solver/io/tightening_reader.hpp"

#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/record_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
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
  const RecordColumns columns(*csv,
                              {tightening_columns(), {"stud", "torque", "torque_unit"}, r.scenario.joint.studs.count});
  if (!columns.complete()) {
    return;
  }
  std::set<std::size_t> seen;
  csv->each_row([&](const CsvRow& row) {
    std::optional<TighteningRecord> record = columns.read(row);
    if (!record) {
      return;
    }
    if (!seen.insert(record->stud).second) {
      csv->fault(row, Code::DuplicateKey, "stud", fmt::format("stud {} has two rows", record->stud + 1),
                 "one row for each stud");
    }
    if (record->stud < r.scenario.tightening.torque.size()) {
      r.scenario.tightening.torque[record->stud] = record->torque;
    }
    r.scenario.records.push_back(*std::move(record));
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

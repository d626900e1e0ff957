#include "solver/io/tightening_reader.hpp"

#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/record_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
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

/// Which wheel of a file of records a scenario asks for.
struct Selection {
  const Item* place = nullptr; ///< for messages about the whole
  struct Part {
    std::string key, value;
    const Item* item = nullptr; ///< as written; none where it is left open
  };
  std::vector<Part> parts = {{"vehicle", "", nullptr}, {"axle", "", nullptr}, {"wheel", "", nullptr}};
  Part date{"date", "", nullptr};
};

const char* const kRecords = "tightening/records";

/// "a, b, c, and 4 more"
std::string some_of(const std::vector<std::string>& words) {
  constexpr std::size_t kShown = 6;
  std::string out =
      joined({words.begin(), words.begin() + static_cast<std::ptrdiff_t>(std::min(kShown, words.size()))});
  return words.size() <= kShown ? out : out + fmt::format(", and {} more", words.size() - kShown);
}

/// The day of a record's time, which is any text in a scenario.
std::string day_of(const std::string& time) { return time.substr(0, 10); }

/// The rows of one wheel, tightened once. None, with the fault noted, where the selection does not lead to one.
std::vector<const CsvRow*> rows_of_wheel(ReaderState& r, const CsvTable& csv, const RecordColumns& columns,
                                         const Selection& selection) {
  std::vector<const CsvRow*> rows;
  csv.each_row([&](const CsvRow& row) { rows.push_back(&row); });
  const auto keep = [&](const Selection::Part& part, const auto& value_of) {
    std::set<std::string> known;
    std::vector<const CsvRow*> kept;
    for (const CsvRow* row : rows) {
      const std::string value = value_of(*row);
      known.insert(value);
      if (value == part.value) {
        kept.push_back(row);
      }
    }
    if (kept.empty() && !rows.empty()) {
      const std::vector<std::string> names(known.begin(), known.end());
      const std::string near = nearest(part.value, names);
      r.context.faults.add(Code::UnknownEntry, *part.item, fmt::format("{}/{}", kRecords, part.key),
                           fmt::format("no record has the {} '{}'", part.key, part.value), some_of(names),
                           near.empty() ? "" : fmt::format("did you mean {}?", near));
    }
    rows = std::move(kept);
  };
  for (const Selection::Part& part : selection.parts) {
    if (part.item != nullptr) {
      keep(part, [&](const CsvRow& row) { return columns.cell(row, part.key); });
    }
  }
  if (selection.date.item != nullptr) {
    keep(selection.date, [&](const CsvRow& row) { return day_of(columns.cell(row, "time")); });
  }
  std::set<std::string> wheels;
  std::set<std::string> days;
  std::set<std::pair<std::string, std::string>> acts; // stud and pass
  bool twice = false;
  for (const CsvRow* row : rows) {
    std::string wheel;
    for (const Selection::Part& part : selection.parts) {
      const std::string value = columns.cell(*row, part.key);
      wheel += value.empty() ? "" : (wheel.empty() ? "" : " / ") + value;
    }
    wheels.insert(wheel);
    days.insert(day_of(columns.cell(*row, "time")));
    twice = !acts.emplace(columns.cell(*row, "stud"), columns.cell(*row, "pass")).second || twice;
  }
  if (wheels.size() > 1) {
    inconsistent(r.context, *selection.place, kRecords, fmt::format("the records are of {} wheels", wheels.size()),
                 "vehicle, axle and wheel of one of these: " + some_of({wheels.begin(), wheels.end()}),
                 "records: {file: ..., vehicle: ..., axle: ..., wheel: ...}");
    return {};
  }
  if (twice && days.size() > 1) {
    inconsistent(r.context, *selection.place, kRecords, fmt::format("the wheel was tightened on {} days", days.size()),
                 "the date of one of these: " + some_of({days.begin(), days.end()}), "records: {file: ..., date: ...}");
    return {};
  }
  return rows;
}

void read_records(ReaderState& r, const Item& item) {
  const RecordRules rules{tightening_columns(), {"stud", "torque", "torque_unit"}, r.scenario.joint.studs.count};
  std::optional<CsvTable> csv;
  Selection selection;
  selection.place = &item;
  if (item.map()) {
    Map m(r.context, item, kRecords, section(kRecords));
    csv = CsvTable::from_map(r.context, m, "rows", joined(rules.required));
    const auto select = [&](Selection::Part& part) {
      part.item = m.find(part.key);
      part.value = part.item != nullptr ? m.word(*part.item, m.at(part.key)) : "";
      return part.item == nullptr || !part.value.empty();
    };
    bool readable = select(selection.date);
    for (Selection::Part& part : selection.parts) {
      readable = select(part) && readable;
    }
    if (!readable) {
      return;
    }
  } else {
    csv = CsvTable::from_file(r.context, item, kRecords, joined(rules.required));
  }
  if (!csv) {
    return;
  }
  const RecordColumns columns(*csv, rules);
  if (!columns.complete()) {
    return;
  }
  // Of several passes the last stands: what a scenario asks for is the torque that each nut was left with.
  std::map<std::size_t, TighteningRecord> last;
  std::set<std::pair<std::size_t, std::size_t>> seen;
  std::vector<std::size_t> order;
  const std::size_t most = r.context.faults.errors().size() + CsvTable::kMostFaults;
  for (const CsvRow* row : rows_of_wheel(r, *csv, columns, selection)) {
    if (r.context.faults.errors().size() >= most) {
      break;
    }
    std::optional<TighteningRecord> record = columns.read(*row);
    if (!record) {
      continue;
    }
    const std::size_t stud = record->stud;
    const std::size_t pass = record->pass.value_or(0);
    if (!seen.emplace(stud, pass).second) {
      csv->fault(*row, Code::DuplicateKey, "stud",
                 fmt::format("stud {} has two rows{}", stud + 1, pass > 0 ? fmt::format(" in pass {}", pass) : ""),
                 pass > 0 ? "one row for each stud and pass" : "one row for each stud");
    }
    const auto before = last.find(stud);
    if (before == last.end()) {
      order.push_back(stud);
      last.emplace(stud, *std::move(record));
    } else if (pass >= before->second.pass.value_or(0)) {
      before->second = *std::move(record);
    }
  }
  for (const std::size_t stud : order) {
    if (stud < r.scenario.tightening.torque.size()) {
      r.scenario.tightening.torque[stud] = last.at(stud).torque;
    }
    r.scenario.records.push_back(std::move(last.at(stud)));
  }
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

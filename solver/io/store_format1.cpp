#include "solver/io/store_format1.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/store_rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

namespace clampfade::store {

namespace {

/// The names of the values alone: format 1 has them all, and no sums.
template <class Row>
std::string value_names() {
  Table values = Kind<Row>::table();
  values.columns.pop_back();
  return names(values, values.first_value);
}

std::string hex(const std::string& bytes) {
  std::string out;
  for (const char c : bytes) {
    out += fmt::format("{:02x}", static_cast<unsigned char>(c));
  }
  return out;
}

std::vector<WheelRow> wheel_rows(const Database& db, const std::string& prefix) {
  std::vector<WheelRow> out;
  Statement rows(db, fmt::format("SELECT id, vehicle, axle, wheel, studs FROM {}wheels ORDER BY id", prefix));
  for (bool more = rows.start(); more; more = rows.next()) {
    WheelRow& w = out.emplace_back();
    RowReader value(rows, kWheels.name);
    value(w.id);
    value(w.wheel.vehicle);
    value(w.wheel.axle);
    value(w.wheel.wheel);
    value(w.studs);
  }
  return out;
}

/// Rows one after the other, those of one wheel together if they are asked for by wheel; `take` gets the numbers of the
/// row, its wheel and its import. `prefix` stands before the tables' names.
template <class Row, class Take>
void each_row(const Database& db, const std::string& prefix, const WheelChoice& chosen, const char* order, Take take) {
  const Table& table = Kind<Row>::table();
  std::map<long long, WheelRow> wheels;
  for (WheelRow& w : wheel_rows(db, prefix)) {
    wheels.emplace(w.id, std::move(w));
  }
  Statement rows(db, fmt::format("SELECT {0}{1}.id, wheel_id, import_id, {2}, {3} FROM {0}{1} JOIN {0}wheels ON "
                                 "{0}wheels.id = wheel_id ORDER BY {4}",
                                 prefix, table.name, kPredicts<Row> ? "''" : "content_sha256", value_names<Row>(),
                                 fmt::format(fmt::runtime(order), prefix + table.name)));
  Statement points(db, fmt::format("SELECT time, distance, clamp FROM {}prediction_points WHERE prediction_id = ? "
                                   "ORDER BY number",
                                   prefix));
  for (bool more = rows.start(); more; more = rows.next()) {
    const WheelRow& wheel = wheels[rows.whole(1)];
    if (!chosen(wheel.wheel)) {
      continue;
    }
    Row row;
    row.wheel = wheel.wheel;
    RowReader value(rows, table.name, 4);
    Kind<Row>::values(row, value);
    if constexpr (kPredicts<Row>) {
      for (bool point = points.start(rows.whole(0)); point; point = points.next()) {
        RowReader each(points, kPoints.name);
        StoredPrediction::Point& p = row.points.emplace_back();
        each(p.time);
        each(p.distance);
        each(p.clamp);
      }
    } else if (rows.text(3) != hex(content_sum(row).bytes)) {
      db.damaged(fmt::format("table {}, row {} of {}: {} is not what was added", table.name, rows.whole(0),
                             wheel_words(wheel.wheel), Kind<Row>::kOne));
    }
    if constexpr (std::is_same_v<Row, StoredAct>) {
      row.studs = wheel.studs;
    }
    take(rows.whole(0), wheel.id, rows.whole(2), std::move(row));
  }
}

// Whom others refer to goes last.
constexpr const char* kTables[] = {"prediction_points", "predictions", "readings", "acts", "wheels",
                                   "imports",           "units"};

/// Throws FileVersion where there is more in the store than this program puts there: a user's table, view, index,
/// trigger or column would be lost with the tables that are filled anew.
void require_nothing_foreign(const Database& db) {
  const auto refuse = [&](const std::string& what) {
    throw FileError(Code::FileVersion,
                    fmt::format("{}: a store of format 1, which is not brought to format {} as the {} in it is not of "
                                "this program and would be lost; take it out, or add the files to a new store",
                                db.path(), kStoreFormat, showable(what)));
  };
  const auto of_program = [](std::string_view table) {
    return std::find(std::begin(kTables), std::end(kTables), table) != std::end(kTables);
  };
  // What begins with "sqlite_" is SQLite's own and cannot be made by hand.
  Statement things(db, "SELECT type, name FROM sqlite_schema WHERE substr(name, 1, 7) <> 'sqlite_' AND NOT "
                       "(type = 'index' AND name IN ('acts_by_wheel', 'readings_by_wheel'))");
  for (bool more = things.start(); more; more = things.next()) {
    if (things.text(0) != "table" || !of_program(things.text(1))) {
      refuse(fmt::format("{} '{}'", things.text(0), things.text(1)));
    }
  }
  std::set<std::string, std::less<>> known = {"id", "content_sha256"};
  for (const Table* table : tables()) {
    for (const Column& c : table->columns) {
      known.insert(c.name);
    }
  }
  for (const char* table : kTables) {
    Statement columns(db, fmt::format("PRAGMA table_xinfo({})", table));
    for (bool more = columns.start(); more; more = columns.next()) {
      if (known.find(columns.text(1)) == known.end()) {
        refuse(fmt::format("column '{}' of the table {}", columns.text(1), table));
      }
    }
  }
}

constexpr const char* kOld = "format1_"; // what the tables are called while the new ones are filled

bool all_wheels(const WheelId&) { return true; }

using Numbers = std::map<long long, long long>; ///< that a row had, and has

/// How many rows each wheel has of a kind, by the number that it had.
template <class Row>
Numbers counted(const Database& db) {
  Numbers out;
  Statement counts(db,
                   fmt::format("SELECT wheel_id, count(*) FROM {}{} GROUP BY wheel_id", kOld, Kind<Row>::table().name));
  for (bool more = counts.start(); more; more = counts.next()) {
    out[counts.whole(0)] = counts.whole(1);
  }
  return out;
}

/// Without a gap, as somebody may have taken one away.
Numbers copy_wheels(const Database& db) {
  Numbers acts = counted<StoredAct>(db);
  Numbers readings = counted<StoredReading>(db);
  Numbers predictions = counted<StoredPrediction>(db);
  Numbers numbers;
  RowWriter out(db, kWheels);
  for (WheelRow& w : wheel_rows(db, kOld)) {
    const long long old = w.id;
    w.id = static_cast<long long>(numbers.size()) + 1;
    w.acts = static_cast<std::size_t>(acts[old]);
    w.readings = static_cast<std::size_t>(readings[old]);
    w.predictions = static_cast<std::size_t>(predictions[old]);
    numbers.emplace(old, w.id);
    write_wheel(out, w);
  }
  return numbers;
}

Numbers copy_imports(const Database& db) {
  Numbers numbers;
  RowWriter out(db, kImports);
  Statement rows(db, fmt::format("SELECT {} FROM {}imports ORDER BY id",
                                 "id, kind, file_name, sha256, subject, added_utc, program_version", kOld));
  for (bool more = rows.start(); more; more = rows.next()) {
    ImportRow import;
    RowReader value(rows, nullptr, 1);
    import_values(import, value);
    const auto id = static_cast<long long>(numbers.size()) + 1;
    numbers.emplace(rows.whole(0), id);
    write_import(out, id, import);
  }
  return numbers;
}

template <class Row>
void copy_rows(const Database& db, const Numbers& wheels, const Numbers& imports) {
  RowWriter out(db, Kind<Row>::table());
  std::map<long long, std::size_t> last; // number within its import
  each_row<Row>(db, kOld, all_wheels, "{}.id", [&](long long, long long wheel, long long import, const Row& row) {
    write_row(out, wheels.at(wheel), imports.at(import), ++last[import], row);
  });
}

} // namespace

template <class Row>
std::vector<Row> read_format1(const Database& db, const WheelChoice& chosen) {
  std::vector<Row> out;
  each_row<Row>(db, "", chosen,
                kPredicts<Row> ? "vehicle, axle, wheel, tightened_instant, {}.id"
                               : "vehicle, axle, wheel, instant, {}.id",
                [&](long long, long long, long long, Row&& row) { out.push_back(std::move(row)); });
  return out;
}
template std::vector<StoredAct> read_format1<StoredAct>(const Database&, const WheelChoice&);
template std::vector<StoredReading> read_format1<StoredReading>(const Database&, const WheelChoice&);
template std::vector<StoredPrediction> read_format1<StoredPrediction>(const Database&, const WheelChoice&);

std::vector<WheelRow> wheels_of_format1(const Database& db) { return wheel_rows(db, ""); }

void require_ties(const Database& db) {
  struct Tie {
    const char *table, *column, *of;
  };
  // Not by foreign_key_check, which goes by what the tables declare: another program may have made them without.
  constexpr Tie kTies[] = {{"acts", "wheel_id", "wheels"},
                           {"acts", "import_id", "imports"},
                           {"readings", "wheel_id", "wheels"},
                           {"readings", "import_id", "imports"},
                           {"predictions", "wheel_id", "wheels"},
                           {"predictions", "import_id", "imports"},
                           {"prediction_points", "prediction_id", "predictions"}};
  for (const auto& [table, column, of] : kTies) {
    Statement loose(db, fmt::format("SELECT count(*) FROM {0} WHERE NOT EXISTS (SELECT 1 FROM {2} WHERE {2}.id = "
                                    "{0}.{1})",
                                    table, column, of));
    if (loose.start(); loose.whole(0) > 0) {
      db.damaged(
          fmt::format("table {}: the {} of {} of its rows is not in the table {}", table, column, loose.whole(0), of));
    }
  }
}

void bring_forward_format1(Database& db) {
  require_nothing_foreign(db);
  require_ties(db);
  for (const char* table : kTables) {
    db.run(fmt::format("ALTER TABLE {0} RENAME TO {1}{0}", table, kOld));
  }
  make_tables(db);
  const Numbers imports = copy_imports(db);
  const Numbers wheels = copy_wheels(db);
  copy_rows<StoredAct>(db, wheels, imports);
  copy_rows<StoredReading>(db, wheels, imports);
  each_row<StoredPrediction>(db, kOld, all_wheels, "{}.id",
                             [&](long long, long long wheel, long long import, const StoredPrediction& p) {
                               write_prediction(db, wheels.at(wheel), imports.at(import), p);
                             });
  write_totals(db, {wheels.size(), imports.size()}, RowWriter::Use::Update);
  for (const char* table : kTables) {
    db.run(fmt::format("DROP TABLE {}{}", kOld, table));
  }
}

} // namespace clampfade::store

#include "solver/io/store_rows.hpp"

#include <fmt/format.h>

#include <tuple>

namespace clampfade::store {

namespace {

std::string select_sql(const Table& table, const char* rest) {
  return fmt::format("SELECT {} FROM {} {}", names(table), table.name, rest);
}

/// Rows that are numbered from 1 without a gap; `read` takes each. Throws FileTruncated where one is missing, more than
/// there should be, or not what was added.
template <class Read>
void numbered(const Database& db, const Table& table, std::size_t count, Read read) {
  Statement rows(db, select_sql(table, "ORDER BY id"));
  std::size_t found = 0;
  for (bool more = rows.start(); more; more = rows.next()) {
    if (rows.whole(0) != static_cast<long long>(++found) || !is_sum(rows, table, sum_of(rows, table).sum())) {
      db.damaged(fmt::format("table {}, row {}: it is not what was added, or one before it is missing", table.name,
                             rows.whole(0)));
    }
    read(rows);
  }
  if (found != count) {
    db.damaged(fmt::format("table {}: {} rows, and {} were added", table.name, found, count));
  }
}

const char* order_sql(const Table& table) {
  return &table == &kPredictions ? "WHERE wheel_id = ? ORDER BY tightened_instant, id"
                                 : "WHERE wheel_id = ? ORDER BY instant, import_id, number";
}

double instant_of(const StoredAct& a) { return a.instant; }
double instant_of(const StoredReading& r) { return r.instant; }
double instant_of(const StoredPrediction& p) { return p.tightened_instant; }

void add_point(RowSum& sum, std::size_t number, const StoredPrediction::Point& p) {
  sum.add(number);
  sum.add(p.time);
  sum.add(p.distance);
  sum.add(p.clamp);
}

} // namespace

void make_tables(Database& db) {
  for (const Table* table : tables()) {
    db.run(create_sql(*table));
  }
  Statement insert(db, insert_sql(kUnits));
  for (const Table* table : tables()) {
    for (const Column& c : table->columns) {
      if (*c.unit != '\0') {
        insert.start(table->name, c.name, c.unit, c.meaning);
      }
    }
  }
  write_totals(db, {}, RowWriter::Use::Insert);
}

void require_tables(const Database& db) {
  Statement find(db, "SELECT sql FROM sqlite_schema WHERE type = 'table' AND name = ?");
  for (const Table* table : tables()) {
    if (!find.start(table->name) || find.text(0) != create_sql(*table)) {
      db.damaged(fmt::format("the table {} is not declared as this program does it", table->name));
    }
  }
}

Totals read_totals(const Database& db) {
  Statement row(db, select_sql(kTotals, ""));
  if (!row.start() || !is_sum(row, kTotals, sum_of(row, kTotals).sum())) {
    db.damaged("table totals: it is not what was written");
  }
  return {static_cast<std::size_t>(row.whole(1)), static_cast<std::size_t>(row.whole(2))};
}

void write_totals(const Database& db, const Totals& totals, RowWriter::Use use) {
  RowWriter out(db, kTotals, use);
  out.begin();
  out(1LL);
  out(totals.wheels);
  out(totals.imports);
  out.end();
}

std::vector<WheelRow> read_wheels(const Database& db) {
  std::vector<WheelRow> out;
  numbered(db, kWheels, read_totals(db).wheels, [&](const Statement& row) {
    RowReader value(row, kWheels.name);
    wheel_values(out.emplace_back(), value);
  });
  return out;
}

std::vector<ImportRow> read_imports(const Database& db) {
  std::vector<ImportRow> out;
  numbered(db, kImports, read_totals(db).imports, [&](const Statement& row) {
    RowReader value(row, nullptr, kImports.first_value);
    import_values(out.emplace_back(), value);
  });
  return out;
}

void write_import(RowWriter& out, long long id, const ImportRow& import) {
  out.begin();
  out(id);
  import_values(import, out);
  out.end();
}

void write_wheel(RowWriter& out, const WheelRow& wheel) {
  out.begin();
  wheel_values(wheel, out);
  out.end();
}

template <class Row>
RowsOfWheel<Row>::RowsOfWheel(const Database& db)
    : db_(db), rows_(db, select_sql(Kind<Row>::table(), order_sql(Kind<Row>::table()))),
      points_(db, select_sql(kPoints, "WHERE prediction_id = ? ORDER BY number")) {}

template <class Row>
void RowsOfWheel<Row>::read(const WheelRow& wheel, std::vector<Row>& out, std::vector<std::string>* contents) {
  const Table& table = Kind<Row>::table();
  std::size_t found = 0;
  std::tuple<double, long long, long long> before;
  for (bool more = rows_.start(wheel.id); more; more = rows_.next()) {
    RowSum sum = sum_of(rows_, table); // first: reading a damaged value as something else may change it
    Row row;
    row.wheel = wheel.wheel;
    RowReader value(rows_, table.name, table.first_value);
    Kind<Row>::values(row, value);
    if constexpr (kPredicts<Row>) {
      for (bool point = points_.start(rows_.whole(0)); point; point = points_.next()) {
        std::size_t number = 0;
        RowReader each(points_, kPoints.name, kPoints.first_value);
        StoredPrediction::Point& p = row.points.emplace_back();
        each(number);
        each(p.time);
        each(p.distance);
        each(p.clamp);
        add_point(sum, number, p);
      }
    } else if (contents != nullptr) {
      contents->emplace_back(rows_.text(3));
    }
    if constexpr (std::is_same_v<Row, StoredAct>) {
      row.studs = wheel.studs;
    }
    // Strictly upwards: a row that comes twice would stand for one that is missing.
    const std::tuple place(instant_of(row), rows_.whole(kPredicts<Row> ? 0 : 1), kPredicts<Row> ? 0 : rows_.whole(2));
    if (!is_sum(rows_, table, sum.sum()) || (found > 0 && !(before < place))) {
      db_.damaged(fmt::format("table {}, row {} of {}: {} is not what was added", table.name, found + 1,
                              wheel_words(wheel.wheel), Kind<Row>::kOne));
    }
    before = place;
    ++found;
    out.push_back(std::move(row));
  }
  if (found != wheel.*Kind<Row>::kCount) {
    db_.damaged(fmt::format("table {}: {} rows of {}, and {} were added", table.name, found, wheel_words(wheel.wheel),
                            wheel.*Kind<Row>::kCount));
  }
}

template class RowsOfWheel<StoredAct>;
template class RowsOfWheel<StoredReading>;
template class RowsOfWheel<StoredPrediction>;

void write_prediction(const Database& db, long long wheel, long long import, const StoredPrediction& prediction) {
  RowWriter out(db, kPredictions);
  out.begin();
  out(import); // each comes from a file of its own, and takes its number from that
  out(wheel);
  out(import);
  prediction_values(prediction, out);
  for (std::size_t i = 0; i < prediction.points.size(); ++i) {
    add_point(out.sum(), i, prediction.points[i]);
  }
  out.end();
  Statement point(db, insert_sql(kPoints));
  for (std::size_t i = 0; i < prediction.points.size(); ++i) {
    const StoredPrediction::Point& p = prediction.points[i];
    point.start(import, i, p.time, p.distance, p.clamp);
  }
}

} // namespace clampfade::store

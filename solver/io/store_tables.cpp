#include "solver/io/store_tables.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstdint>

namespace clampfade::store {

namespace {

constexpr const char* kCount = "INTEGER NOT NULL";
constexpr const char* kText = "TEXT NOT NULL";
constexpr const char* kReal = "REAL NOT NULL";
constexpr const char* kYesNo = "INTEGER NOT NULL CHECK ({} IN (0, 1))";
constexpr const char* kFromOne = "INTEGER NOT NULL CHECK ({} >= 1)";
constexpr const char* kWheelId = "INTEGER NOT NULL REFERENCES wheels (id)";
constexpr const char* kImportId = "INTEGER NOT NULL REFERENCES imports (id)";
constexpr Column kSum{"row_sha256", "BLOB NOT NULL"};
constexpr const char* kInstant =
    "time as seconds since 1970-01-01T00:00:00; UTC where it has an offset, else its own clock";

} // namespace

const Table kUnits{"units",
                   {{"table_name", kText}, {"column_name", kText}, {"unit", kText}, {"meaning", kText}},
                   0,
                   "PRIMARY KEY (table_name, column_name)",
                   "STRICT, WITHOUT ROWID"};
const Table kTotals{
    "totals", {{"id", "INTEGER PRIMARY KEY CHECK (id = 1)"}, {"wheels", kCount}, {"imports", kCount}, kSum}, 1};
const Table kImports{"imports",
                     {{"id", "INTEGER PRIMARY KEY"},
                      {"kind", "TEXT NOT NULL CHECK (kind IN ('records', 'readings', 'prediction'))"},
                      {"file_name", kText},
                      {"sha256", kText},
                      {"subject", kText},
                      {"added_utc", kText},
                      {"program_version", kText},
                      kSum},
                     1,
                     "UNIQUE (kind, sha256, subject)"};
const Table kWheels{"wheels",
                    {{"id", "INTEGER PRIMARY KEY"},
                     {"vehicle", "TEXT NOT NULL CHECK (vehicle <> '')"},
                     {"axle", kText},
                     {"wheel", kText},
                     {"studs", kCount},
                     {"acts", kCount},
                     {"readings", kCount},
                     {"predictions", kCount},
                     kSum},
                    0,
                    "UNIQUE (vehicle, axle, wheel)"};
const Table kActs{"acts",
                  {{"wheel_id", kWheelId},
                   {"import_id", kImportId},
                   {"number", kFromOne},
                   {"content_sha256", "BLOB NOT NULL"},
                   {"stud", kFromOne},
                   {"pass", kFromOne},
                   {"pass_given", kYesNo},
                   {"time", kText},
                   {"instant", kReal, "s", kInstant},
                   {"torque", kReal, "N m", "torque that the wrench wrote down"},
                   {"set_torque", "REAL", "N m", "torque that it was to have"},
                   {"angle", "REAL", "rad", "angle of this act"},
                   {"clamp", "REAL", "N", "clamp load that the stud probably had after its last act, an estimate"},
                   {"clamp_deviation", "REAL", "N", "standard deviation of that estimate"},
                   {"odometer", "REAL", "m", "distance driven by the vehicle until then"},
                   {"inside", kYesNo},
                   {"reasons", kText},
                   {"tool", kText},
                   {"operator", "TEXT"},
                   kSum},
                  4,
                  "PRIMARY KEY (wheel_id, instant, content_sha256)",
                  "STRICT, WITHOUT ROWID"};
const Table kReadings{"readings",
                      {{"wheel_id", kWheelId},
                       {"import_id", kImportId},
                       {"number", kFromOne},
                       {"content_sha256", "BLOB NOT NULL"},
                       {"stud", kFromOne},
                       {"time", kText},
                       {"instant", kReal, "s", kInstant},
                       {"torque", kReal, "N m", "torque that the wrench showed"},
                       {"moved", kYesNo},
                       {"odometer", "REAL", "m", "distance driven by the vehicle until then"},
                       {"tool", kText},
                       {"operator", "TEXT"},
                       kSum},
                      4,
                      "PRIMARY KEY (wheel_id, instant, content_sha256)",
                      "STRICT, WITHOUT ROWID"};
const Table kPredictions{
    "predictions",
    {{"id", "INTEGER PRIMARY KEY"},
     {"wheel_id", kWheelId},
     {"import_id", kImportId},
     {"tightened", kText},
     {"tightened_instant", kReal, "s", "time of tightening as seconds since 1970-01-01T00:00:00"},
     {"odometer", "REAL", "m", "distance driven by the vehicle until the tightening"},
     {"title", kText},
     {"source", kText},
     {"digest", kText},
     {"required_clamp", kReal, "N", "clamp load that each stud needs"},
     {"end_time", kReal, "s", "end of the prediction, from the tightening"},
     {"below_time", "REAL", "s", "first instant at which a stud is below the required clamp, from the tightening"},
     {"below_distance", "REAL", "m", "driven from the tightening by then"},
     {"below_stud", "INTEGER"},
     {"recheck_time", "REAL", "s", "latest re-check that the prediction allows, from the tightening"},
     {"recheck_distance", "REAL", "m", "driven from the tightening by then"},
     kSum},
    3,
    "UNIQUE (wheel_id, tightened_instant, digest)"};
const Table kPoints{"prediction_points",
                    {{"prediction_id", "INTEGER NOT NULL REFERENCES predictions (id)"},
                     {"number", kCount},
                     {"time", kReal, "s", "from the tightening"},
                     {"distance", "REAL", "m", "driven from the tightening"},
                     {"clamp", kReal, "N", "lowest cold clamp load of a stud"}},
                    1,
                    "PRIMARY KEY (prediction_id, number)",
                    "STRICT, WITHOUT ROWID"};

std::vector<const Table*> tables() {
  return {&kUnits, &kTotals, &kImports, &kWheels, &kActs, &kReadings, &kPredictions, &kPoints};
}

std::string create_sql(const Table& table) {
  std::string out = fmt::format("CREATE TABLE {} (\n", table.name);
  for (const Column& c : table.columns) {
    out += fmt::format("  {} {},\n", c.name, fmt::format(fmt::runtime(c.declaration), c.name));
  }
  if (*table.constraints == '\0') {
    out.erase(out.size() - 2);
  } else {
    out += fmt::format("  {}", table.constraints);
  }
  return out + fmt::format(") {}", table.options);
}

std::string names(const Table& table, std::size_t from) {
  std::string out;
  for (std::size_t i = from; i < table.columns.size(); ++i) {
    out += (i == from ? "" : ", ") + std::string(table.columns[i].name);
  }
  return out;
}

std::string insert_sql(const Table& table) {
  std::string places = "?";
  for (std::size_t i = 1; i < table.columns.size(); ++i) {
    places += ", ?";
  }
  return fmt::format("INSERT INTO {} ({}) VALUES ({})", table.name, names(table), places);
}

std::string update_sql(const Table& table) {
  std::string sets;
  for (std::size_t i = 1; i < table.columns.size(); ++i) {
    sets += fmt::format("{}{} = ?{}", i == 1 ? "" : ", ", table.columns[i].name, i + 1);
  }
  return fmt::format("UPDATE {} SET {} WHERE {} = ?1", table.name, sets, table.columns.front().name);
}

void RowSum::add(long long v) {
  text_ += ";I";
  text_ += std::to_string(v);
}
void RowSum::add(double v) {
  if (std::isnan(v)) {
    add(std::nullopt); // as SQLite keeps it
    return;
  }
  // SQLite keeps no sign of a zero.
  auto bits = std::bit_cast<std::uint64_t>(v == 0 ? 0.0 : v);
  char bytes[8];
  for (int i = 7; i >= 0; --i, bits >>= 8U) {
    bytes[i] = static_cast<char>(bits & 0xFFU);
  }
  text_ += ";R";
  text_.append(bytes, sizeof bytes);
}
void RowSum::add(char type, std::string_view bytes) {
  text_ += ';';
  text_ += type;
  text_ += std::to_string(bytes.size());
  text_ += ':';
  text_ += bytes;
}
void RowSum::add(const Statement& row, int column) {
  switch (row.type(column)) {
  case Statement::Type::Nothing:
    return add(std::nullopt);
  case Statement::Type::Whole:
    return add(row.whole(column));
  case Statement::Type::Real:
    return add(row.real(column));
  case Statement::Type::Text:
    return add('T', row.text(column));
  case Statement::Type::Bytes:
    return add('B', row.text(column));
  }
}
Sum RowSum::sum() const { return {sha256_bytes(text_)}; }

double RowReader::finite(int column) const {
  const double v = row_.real(column);
  if (row_.none(column) || !std::isfinite(v)) {
    row_.damaged(fmt::format("table {}: a value of {} is no finite number", table_, row_.name(column)));
  }
  return v;
}
std::string RowReader::shown(int column) const {
  const std::string_view text = row_.text(column);
  if (table_ != nullptr && bad_character(text)) {
    row_.damaged(
        fmt::format("table {}: a text of {} holds control characters, or is not UTF-8", table_, row_.name(column)));
  }
  return std::string(text);
}

RowSum sum_of(const Statement& row, const Table& table) {
  RowSum sum(table.name);
  for (std::size_t i = 0; i + 1 < table.columns.size(); ++i) {
    sum.add(row, static_cast<int>(i));
  }
  return sum;
}

bool is_sum(const Statement& row, const Table& table, const Sum& sum) {
  const int last = static_cast<int>(table.columns.size()) - 1;
  return row.type(last) == Statement::Type::Bytes && row.text(last) == sum.bytes;
}

std::string fields(std::initializer_list<std::string> parts) {
  std::string out;
  for (const std::string& part : parts) {
    out += fmt::format("{}:{};", part.size(), part);
  }
  return out;
}

std::string digits(double v) { return fmt::format("{}", v == 0 ? 0.0 : v); }

Sum content_sum(const StoredAct& a) {
  return {sha256_bytes(
      fields({a.wheel.vehicle, a.wheel.axle, a.wheel.wheel, std::to_string(a.stud), digits(a.instant), digits(a.torque),
              a.angle ? digits(*a.angle) : "", a.pass_given ? std::to_string(a.pass) : ""}))};
}
Sum content_sum(const StoredReading& r) {
  return {sha256_bytes(fields({r.wheel.vehicle, r.wheel.axle, r.wheel.wheel, std::to_string(r.stud), digits(r.instant),
                               digits(r.torque), r.moved ? "moved" : ""}))};
}

bool matches(const WheelFilter& which, const WheelId& wheel) {
  return (which.vehicle.empty() || which.vehicle == wheel.vehicle) &&
         (which.axle.empty() || which.axle == wheel.axle) && (which.wheel.empty() || which.wheel == wheel.wheel);
}

std::string wheel_words(const WheelId& wheel) {
  return fmt::format("vehicle '{}', axle '{}', wheel '{}'", wheel.vehicle, wheel.axle, wheel.wheel);
}

} // namespace clampfade::store

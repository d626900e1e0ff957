#include "solver/io/fleet_store.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/sha256.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <system_error>
#include <unistd.h>

namespace clampfade {

namespace {

namespace fs = std::filesystem;

constexpr int kWait = 30000; // [ms] for another program's writing

constexpr const char* kSchema = R"sql(
CREATE TABLE units (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, unit TEXT NOT NULL, meaning TEXT NOT NULL,
  PRIMARY KEY (table_name, column_name)) STRICT, WITHOUT ROWID;
CREATE TABLE imports (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('records', 'readings', 'prediction')),
  file_name TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  subject TEXT NOT NULL,
  added_utc TEXT NOT NULL,
  program_version TEXT NOT NULL,
  UNIQUE (kind, sha256, subject)) STRICT;
CREATE TABLE wheels (
  id INTEGER PRIMARY KEY,
  vehicle TEXT NOT NULL CHECK (vehicle <> ''), axle TEXT NOT NULL, wheel TEXT NOT NULL,
  studs INTEGER NOT NULL DEFAULT 0,
  UNIQUE (vehicle, axle, wheel)) STRICT;
CREATE TABLE acts (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  content_sha256 TEXT NOT NULL UNIQUE,
  stud INTEGER NOT NULL CHECK (stud >= 1),
  pass INTEGER NOT NULL CHECK (pass >= 1),
  pass_given INTEGER NOT NULL CHECK (pass_given IN (0, 1)),
  time TEXT NOT NULL,
  instant REAL NOT NULL,
  torque REAL NOT NULL,
  set_torque REAL,
  angle REAL,
  clamp REAL,
  clamp_deviation REAL,
  odometer REAL,
  inside INTEGER NOT NULL CHECK (inside IN (0, 1)),
  reasons TEXT NOT NULL,
  tool TEXT NOT NULL,
  operator TEXT) STRICT;
CREATE INDEX acts_by_wheel ON acts (wheel_id, instant);
CREATE TABLE readings (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  content_sha256 TEXT NOT NULL UNIQUE,
  stud INTEGER NOT NULL CHECK (stud >= 1),
  time TEXT NOT NULL,
  instant REAL NOT NULL,
  torque REAL NOT NULL,
  moved INTEGER NOT NULL CHECK (moved IN (0, 1)),
  odometer REAL,
  tool TEXT NOT NULL,
  operator TEXT) STRICT;
CREATE INDEX readings_by_wheel ON readings (wheel_id, instant);
CREATE TABLE predictions (
  id INTEGER PRIMARY KEY,
  wheel_id INTEGER NOT NULL REFERENCES wheels (id),
  import_id INTEGER NOT NULL REFERENCES imports (id),
  tightened TEXT NOT NULL,
  tightened_instant REAL NOT NULL,
  odometer REAL,
  title TEXT NOT NULL,
  source TEXT NOT NULL,
  digest TEXT NOT NULL,
  required_clamp REAL NOT NULL,
  end_time REAL NOT NULL,
  below_time REAL,
  below_distance REAL,
  below_stud INTEGER,
  recheck_time REAL,
  recheck_distance REAL,
  UNIQUE (wheel_id, tightened_instant, digest)) STRICT;
CREATE TABLE prediction_points (
  prediction_id INTEGER NOT NULL REFERENCES predictions (id),
  number INTEGER NOT NULL,
  time REAL NOT NULL,
  distance REAL,
  clamp REAL NOT NULL,
  PRIMARY KEY (prediction_id, number)) STRICT, WITHOUT ROWID;
)sql";

struct UnitRow {
  const char *table, *column, *unit, *meaning;
};
constexpr UnitRow kUnits[] = {
    {"acts", "instant", "s",
     "time as seconds since 1970-01-01T00:00:00; UTC where it has an offset, else its own clock"},
    {"acts", "torque", "N m", "torque that the wrench wrote down"},
    {"acts", "set_torque", "N m", "torque that it was to have"},
    {"acts", "angle", "rad", "angle of this act"},
    {"acts", "clamp", "N", "clamp load that the stud probably had after its last act, an estimate"},
    {"acts", "clamp_deviation", "N", "standard deviation of that estimate"},
    {"acts", "odometer", "m", "distance driven by the vehicle until then"},
    {"readings", "instant", "s",
     "time as seconds since 1970-01-01T00:00:00; UTC where it has an offset, else its own clock"},
    {"readings", "torque", "N m", "torque that the wrench showed"},
    {"readings", "odometer", "m", "distance driven by the vehicle until then"},
    {"predictions", "tightened_instant", "s", "time of tightening as seconds since 1970-01-01T00:00:00"},
    {"predictions", "odometer", "m", "distance driven by the vehicle until the tightening"},
    {"predictions", "required_clamp", "N", "clamp load that each stud needs"},
    {"predictions", "end_time", "s", "end of the prediction, from the tightening"},
    {"predictions", "below_time", "s",
     "first instant at which a stud is below the required clamp, from the tightening"},
    {"predictions", "below_distance", "m", "driven from the tightening by then"},
    {"predictions", "recheck_time", "s", "latest re-check that the prediction allows, from the tightening"},
    {"predictions", "recheck_distance", "m", "driven from the tightening by then"},
    {"prediction_points", "time", "s", "from the tightening"},
    {"prediction_points", "distance", "m", "driven from the tightening"},
    {"prediction_points", "clamp", "N", "lowest cold clamp load of a stud"}};

[[noreturn]] void fail(const std::string& path, sqlite3* db, int code) {
  const std::string reason = db != nullptr ? sqlite3_errmsg(db) : sqlite3_errstr(code);
  switch (code & 0xFF) {
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    throw FileError(Code::FileWrite,
                    fmt::format("{}: another program has been writing to it for {} s; try again", path, kWait / 1000));
  case SQLITE_CORRUPT:
  case SQLITE_NOTADB:
    throw FileError(Code::FileTruncated, fmt::format("{}: the store is damaged ({})", path, reason));
  case SQLITE_CANTOPEN:
    throw FileError(Code::FileMissing, fmt::format("{}: {}", path, reason));
  default:
    throw FileError(Code::FileWrite, fmt::format("{}: {}", path, reason));
  }
}

/// A connection.
class Database {
public:
  Database(std::string path, int flags) : path_(std::move(path)) {
    const int code = sqlite3_open_v2(path_.c_str(), &db_, flags, nullptr);
    if (code != SQLITE_OK) {
      // The object lives even then, and knows the reason.
      const std::string reason = db_ != nullptr ? sqlite3_errmsg(db_) : "out of memory";
      sqlite3_close(db_);
      throw FileError(Code::FileWrite, fmt::format("{}: {}", path_, reason));
    }
    sqlite3_busy_timeout(db_, kWait);
    run("PRAGMA foreign_keys = ON");
    run("PRAGMA trusted_schema = OFF");
  }
  ~Database() { sqlite3_close(db_); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  /// Statements of this program alone, without values in them.
  void run(const char* sql) { check(sqlite3_exec(db_, sql, nullptr, nullptr, nullptr)); }
  void check(int code) const {
    if (code != SQLITE_OK && code != SQLITE_DONE && code != SQLITE_ROW) {
      fail(path_, db_, code);
    }
  }
  [[nodiscard]] sqlite3* get() const { return db_; }
  [[nodiscard]] long long last_id() const { return sqlite3_last_insert_rowid(db_); }
  [[nodiscard]] int changes() const { return sqlite3_changes(db_); }

private:
  std::string path_;
  sqlite3* db_ = nullptr;
};

/// A statement; every value goes in as a parameter.
class Statement {
public:
  Statement(const Database& db, const char* sql) : db_(db) {
    db.check(sqlite3_prepare_v2(db.get(), sql, -1, &statement_, nullptr));
  }
  ~Statement() { sqlite3_finalize(statement_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  /// The parameters in their order, then one step. Whether there is a row.
  template <class... T>
  bool start(const T&... values) {
    sqlite3_reset(statement_);
    int place = 0;
    (bind(++place, values), ...);
    return next();
  }
  bool next() {
    const int code = sqlite3_step(statement_);
    db_.check(code);
    return code == SQLITE_ROW;
  }

  [[nodiscard]] bool none(int column) const { return sqlite3_column_type(statement_, column) == SQLITE_NULL; }
  [[nodiscard]] double real(int column) const { return sqlite3_column_double(statement_, column); }
  [[nodiscard]] long long whole(int column) const { return sqlite3_column_int64(statement_, column); }
  [[nodiscard]] std::size_t count(int column) const { return static_cast<std::size_t>(whole(column)); }
  [[nodiscard]] std::optional<double> maybe(int column) const {
    return none(column) ? std::nullopt : std::optional(real(column));
  }
  [[nodiscard]] std::string text(int column) const {
    const unsigned char* text = sqlite3_column_text(statement_, column);
    const auto bytes = static_cast<std::size_t>(sqlite3_column_bytes(statement_, column));
    return text == nullptr ? std::string() : std::string(reinterpret_cast<const char*>(text), bytes);
  }

private:
  void bind(int place, const std::string& v) {
    db_.check(sqlite3_bind_text(statement_, place, v.data(), static_cast<int>(v.size()), SQLITE_TRANSIENT));
  }
  void bind(int place, const char* v) { db_.check(sqlite3_bind_text(statement_, place, v, -1, SQLITE_TRANSIENT)); }
  void bind(int place, double v) { db_.check(sqlite3_bind_double(statement_, place, v)); }
  void bind(int place, long long v) { db_.check(sqlite3_bind_int64(statement_, place, v)); }
  void bind(int place, std::size_t v) { bind(place, static_cast<long long>(v)); }
  void bind(int place, bool v) { bind(place, static_cast<long long>(v)); }
  template <class T>
  void bind(int place, const std::optional<T>& v) {
    if (v) {
      bind(place, *v);
    } else {
      db_.check(sqlite3_bind_null(statement_, place));
    }
  }

  const Database& db_;
  sqlite3_stmt* statement_ = nullptr;
};

/// From here to `commit` all or nothing; other writers wait.
class Transaction {
public:
  explicit Transaction(Database& db) : db_(db) { db.run("BEGIN IMMEDIATE"); }
  ~Transaction() {
    if (!done_) {
      sqlite3_exec(db_.get(), "ROLLBACK", nullptr, nullptr, nullptr); // what fails here is rolled back when next opened
    }
  }
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit() {
    db_.run("COMMIT");
    done_ = true;
  }

private:
  Database& db_;
  bool done_ = false;
};

/// Makes the file beside its path and gives it its name in one step, so that nobody ever sees half of a store.
void create_store(const std::string& path) {
  const std::string part = fmt::format("{}.{}.part", path, ::getpid());
  std::remove(part.c_str());
  try {
    Database db(part, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    Transaction all(db);
    db.run(kSchema);
    db.run(fmt::format("PRAGMA application_id = {}", kStoreApplication).c_str());
    db.run(fmt::format("PRAGMA user_version = {}", kStoreFormat).c_str());
    Statement insert(db, "INSERT INTO units VALUES (?, ?, ?, ?)");
    for (const UnitRow& row : kUnits) {
      insert.start(row.table, row.column, row.unit, row.meaning);
    }
    all.commit();
  } catch (...) {
    std::remove(part.c_str());
    throw;
  }
  // Fails where another program was faster; its store is as good.
  const int linked = ::link(part.c_str(), path.c_str());
  const int error = errno;
  std::remove(part.c_str());
  if (linked != 0 && error != EEXIST) {
    throw FileError(Code::FileWrite, path + ": " + std::generic_category().message(error));
  }
}

/// Refuses what is no store by its first bytes, without SQLite, which might change the file in opening it.
void require_store(const std::string& path) {
  std::error_code unknown; // then opening it tells why
  if (const fs::file_status status = fs::status(path, unknown); fs::exists(status) && !fs::is_regular_file(status)) {
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet"); // and a pipe would keep us waiting
  }
  std::ifstream in(path, std::ios::binary);
  std::array<char, 100> head{};
  if (!in.read(head.data(), head.size())) {
    if (!in.is_open()) {
      throw FileError(Code::FileMissing, path + ": can't be read");
    }
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet");
  }
  const auto number = [&](std::size_t at) {
    unsigned value = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      value = value << 8U | static_cast<unsigned char>(head[at + i]);
    }
    return value;
  };
  // Offsets of SQLite's file format: 60 user version, 68 application id.
  if (std::string_view(head.data(), 15) != "SQLite format 3" ||
      number(68) != static_cast<unsigned>(kStoreApplication)) {
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet");
  }
  if (number(60) > static_cast<unsigned>(kStoreFormat)) {
    throw FileError(Code::FileVersion, fmt::format("{}: a store of format {}; this program knows formats up to {}, a "
                                                   "newer one is needed",
                                                   path, number(60), kStoreFormat));
  }
}

std::string utc_now() {
  const auto now = std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  const auto day = std::chrono::floor<std::chrono::days>(now);
  const std::chrono::year_month_day date(day);
  const auto s = (now - day).count();
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), s / 3600, s / 60 % 60,
                     s % 60);
}

/// Fields as one text in which none can pass for a part of another.
std::string fields(std::initializer_list<std::string> parts) {
  std::string out;
  for (const std::string& part : parts) {
    out += fmt::format("{}:{};", part.size(), part);
  }
  return out;
}

std::string digits(double v) { return fmt::format("{}", v); }

/// What tells one act from another, and whether a stored one is still what was added.
std::string content_sha(const StoredAct& a) {
  return sha256(
      fields({a.wheel.vehicle, a.wheel.axle, a.wheel.wheel, std::to_string(a.stud), digits(a.instant), digits(a.torque),
              a.angle ? digits(*a.angle) : "", a.pass_given ? std::to_string(a.pass) : ""}));
}
std::string content_sha(const StoredReading& r) {
  return sha256(fields({r.wheel.vehicle, r.wheel.axle, r.wheel.wheel, std::to_string(r.stud), digits(r.instant),
                        digits(r.torque), r.moved ? "moved" : ""}));
}

/// SQLite has no sums of its own: a byte that has changed on the disk would only be another torque or date.
template <class Row>
void require_as_added(const std::string& path, const char* what, const Row& row, const std::string& sha) {
  if (content_sha(row) != sha) {
    throw FileError(Code::FileTruncated,
                    fmt::format("{}: the store is damaged ({} of vehicle '{}', axle '{}', wheel '{}', stud {} is not "
                                "what was added); use a copy, or add the files again to a new store",
                                path, what, row.wheel.vehicle, row.wheel.axle, row.wheel.wheel, row.stud));
  }
}

std::optional<std::string> person(const std::string& name) { return name.empty() ? std::nullopt : std::optional(name); }

} // namespace

struct FleetStore::Impl {
  explicit Impl(const std::string& p) : path(p), db(p, SQLITE_OPEN_READWRITE) {}
  std::string path;
  Database db;
};

namespace {

/// Numbers of wheels, which are added where they are new; good for one transaction.
class Wheels {
public:
  explicit Wheels(Database& db)
      : insert_(db, "INSERT INTO wheels (vehicle, axle, wheel) VALUES (?, ?, ?) ON CONFLICT DO NOTHING"),
        find_(db, "SELECT id FROM wheels WHERE vehicle = ? AND axle = ? AND wheel = ?"),
        studs_(db, "UPDATE wheels SET studs = max(studs, ?) WHERE id = ?") {}
  long long operator()(const WheelId& id, std::size_t studs = 0) {
    const auto known = known_.find(id);
    if (known != known_.end()) {
      return known->second;
    }
    insert_.start(id.vehicle, id.axle, id.wheel);
    find_.start(id.vehicle, id.axle, id.wheel);
    const long long number = find_.whole(0);
    studs_.start(studs, number);
    return known_.emplace(id, number).first->second;
  }

private:
  Statement insert_, find_, studs_;
  std::map<WheelId, long long> known_;
};

/// The import's number, or none where the file is there already.
std::optional<long long> add_import(Database& db, const char* kind, const StoredFile& file,
                                    const std::string& subject) {
  Statement insert(db, "INSERT INTO imports (kind, file_name, sha256, subject, added_utc, program_version) "
                       "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING");
  insert.start(kind, file.name, file.sha256, subject, utc_now(), CLAMPFADE_VERSION);
  return db.changes() == 0 ? std::nullopt : std::optional(db.last_id());
}

} // namespace

FleetStore::FleetStore(const std::string& path, bool create) {
  std::error_code ignored;
  if (!fs::exists(path, ignored)) {
    if (!create) {
      throw FileError(Code::FileMissing, path + ": there is no such store");
    }
    create_store(path);
  }
  require_store(path);
  impl_ = std::make_unique<Impl>(path);
  // An index that does not go with its table would leave an act out without a word.
  Statement check(impl_->db, "PRAGMA integrity_check(1)");
  if (check.start(); check.text(0) != "ok") {
    throw FileError(Code::FileTruncated, fmt::format("{}: the store is damaged ({})", path, check.text(0)));
  }
}

FleetStore::~FleetStore() = default;

StoreAddition FleetStore::add(const StoredFile& file, const std::vector<StoredAct>& acts) {
  Transaction all(impl_->db);
  const auto import = add_import(impl_->db, "records", file, "");
  if (!import) {
    return {true, 0, 0};
  }
  StoreAddition result;
  Wheels wheels(impl_->db);
  Statement insert(
      impl_->db,
      "INSERT INTO acts (wheel_id, import_id, content_sha256, stud, pass, pass_given, time, instant, torque, "
      "set_torque, angle, clamp, clamp_deviation, odometer, inside, reasons, tool, operator) VALUES "
      "(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (content_sha256) DO NOTHING");
  for (const StoredAct& a : acts) {
    insert.start(wheels(a.wheel, a.studs), *import, content_sha(a), a.stud, a.pass, a.pass_given, a.time, a.instant,
                 a.torque, a.set_torque, a.angle, a.clamp, a.clamp_deviation, a.odometer, a.inside, a.reasons, a.tool,
                 person(a.operator_name));
    ++(impl_->db.changes() > 0 ? result.added : result.known);
  }
  all.commit();
  return result;
}

StoreAddition FleetStore::add(const StoredFile& file, const std::vector<StoredReading>& readings) {
  Transaction all(impl_->db);
  const auto import = add_import(impl_->db, "readings", file, "");
  if (!import) {
    return {true, 0, 0};
  }
  StoreAddition result;
  Wheels wheels(impl_->db);
  Statement insert(impl_->db, "INSERT INTO readings (wheel_id, import_id, content_sha256, stud, time, instant, torque, "
                              "moved, odometer, tool, operator) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) "
                              "ON CONFLICT (content_sha256) DO NOTHING");
  for (const StoredReading& r : readings) {
    insert.start(wheels(r.wheel), *import, content_sha(r), r.stud, r.time, r.instant, r.torque, r.moved, r.odometer,
                 r.tool, person(r.operator_name));
    ++(impl_->db.changes() > 0 ? result.added : result.known);
  }
  all.commit();
  return result;
}

StoreAddition FleetStore::add(const StoredFile& file, const StoredPrediction& p) {
  Transaction all(impl_->db);
  const auto import = add_import(impl_->db, "prediction", file,
                                 fields({p.wheel.vehicle, p.wheel.axle, p.wheel.wheel, digits(p.tightened_instant)}));
  if (!import) {
    return {true, 0, 0};
  }
  Statement insert(
      impl_->db, "INSERT INTO predictions (wheel_id, import_id, tightened, tightened_instant, odometer, title, source, "
                 "digest, required_clamp, end_time, below_time, below_distance, below_stud, recheck_time, "
                 "recheck_distance) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  insert.start(Wheels(impl_->db)(p.wheel), *import, p.tightened, p.tightened_instant, p.odometer, p.title, p.source,
               p.digest, p.required_clamp, p.end_time, p.below_time, p.below_distance,
               p.below_stud > 0 ? std::optional(p.below_stud) : std::nullopt, p.recheck_time, p.recheck_distance);
  const long long id = impl_->db.last_id();
  Statement point(impl_->db, "INSERT INTO prediction_points VALUES (?, ?, ?, ?, ?)");
  for (std::size_t i = 0; i < p.points.size(); ++i) {
    point.start(id, i, p.points[i].time, p.points[i].distance, p.points[i].clamp);
  }
  all.commit();
  return {false, 1, 0};
}

std::vector<StoredAct> FleetStore::acts(const WheelFilter& which) const {
  Statement rows(
      impl_->db,
      "SELECT vehicle, axle, wheel, stud, pass, pass_given, time, instant, torque, set_torque, angle, clamp, "
      "clamp_deviation, odometer, inside, reasons, tool, operator, studs, content_sha256 FROM acts JOIN wheels ON "
      "wheels.id = wheel_id "
      "WHERE (?1 = '' OR vehicle = ?1) AND (?2 = '' OR axle = ?2) AND (?3 = '' OR wheel = ?3) "
      "ORDER BY vehicle, axle, wheel, instant, acts.id");
  std::vector<StoredAct> out;
  for (bool more = rows.start(which.vehicle, which.axle, which.wheel); more; more = rows.next()) {
    StoredAct a;
    a.wheel = {rows.text(0), rows.text(1), rows.text(2)};
    a.stud = rows.count(3);
    a.pass = rows.count(4);
    a.pass_given = rows.whole(5) != 0;
    a.time = rows.text(6);
    a.instant = rows.real(7);
    a.torque = rows.real(8);
    a.set_torque = rows.maybe(9);
    a.angle = rows.maybe(10);
    a.clamp = rows.maybe(11);
    a.clamp_deviation = rows.maybe(12);
    a.odometer = rows.maybe(13);
    a.inside = rows.whole(14) != 0;
    a.reasons = rows.text(15);
    a.tool = rows.text(16);
    a.operator_name = rows.text(17);
    a.studs = rows.count(18);
    require_as_added(impl_->path, "an act", a, rows.text(19));
    out.push_back(std::move(a));
  }
  return out;
}

std::vector<StoredReading> FleetStore::readings(const WheelFilter& which) const {
  Statement rows(impl_->db,
                 "SELECT vehicle, axle, wheel, stud, time, instant, torque, moved, odometer, tool, operator, "
                 "content_sha256 FROM readings JOIN wheels ON wheels.id = wheel_id "
                 "WHERE (?1 = '' OR vehicle = ?1) AND (?2 = '' OR axle = ?2) AND (?3 = '' OR wheel = ?3) "
                 "ORDER BY vehicle, axle, wheel, instant, readings.id");
  std::vector<StoredReading> out;
  for (bool more = rows.start(which.vehicle, which.axle, which.wheel); more; more = rows.next()) {
    out.push_back({{rows.text(0), rows.text(1), rows.text(2)},
                   rows.count(3),
                   rows.text(4),
                   rows.real(5),
                   rows.real(6),
                   rows.whole(7) != 0,
                   rows.maybe(8),
                   rows.text(9),
                   rows.text(10)});
    require_as_added(impl_->path, "a reading", out.back(), rows.text(11));
  }
  return out;
}

std::vector<StoredPrediction> FleetStore::predictions(const WheelFilter& which) const {
  Statement rows(impl_->db,
                 "SELECT vehicle, axle, wheel, tightened, tightened_instant, odometer, title, source, digest, "
                 "required_clamp, end_time, below_time, below_distance, below_stud, recheck_time, recheck_distance, "
                 "predictions.id FROM predictions JOIN wheels ON wheels.id = wheel_id "
                 "WHERE (?1 = '' OR vehicle = ?1) AND (?2 = '' OR axle = ?2) AND (?3 = '' OR wheel = ?3) "
                 "ORDER BY vehicle, axle, wheel, tightened_instant, predictions.id");
  Statement points(impl_->db,
                   "SELECT time, distance, clamp FROM prediction_points WHERE prediction_id = ? ORDER BY number");
  std::vector<StoredPrediction> out;
  for (bool more = rows.start(which.vehicle, which.axle, which.wheel); more; more = rows.next()) {
    StoredPrediction p;
    p.wheel = {rows.text(0), rows.text(1), rows.text(2)};
    p.tightened = rows.text(3);
    p.tightened_instant = rows.real(4);
    p.odometer = rows.maybe(5);
    p.title = rows.text(6);
    p.source = rows.text(7);
    p.digest = rows.text(8);
    p.required_clamp = rows.real(9);
    p.end_time = rows.real(10);
    p.below_time = rows.maybe(11);
    p.below_distance = rows.maybe(12);
    p.below_stud = rows.count(13);
    p.recheck_time = rows.maybe(14);
    p.recheck_distance = rows.maybe(15);
    for (bool point = points.start(rows.whole(16)); point; point = points.next()) {
      p.points.push_back({points.real(0), points.maybe(1), points.real(2)});
    }
    out.push_back(std::move(p));
  }
  return out;
}

std::vector<StoredWheel> FleetStore::wheels() const {
  Statement rows(impl_->db, "SELECT vehicle, axle, wheel, studs FROM wheels ORDER BY vehicle, axle, wheel");
  std::vector<StoredWheel> out;
  for (bool more = rows.start(); more; more = rows.next()) {
    out.push_back({{rows.text(0), rows.text(1), rows.text(2)}, rows.count(3)});
  }
  return out;
}

std::vector<StoredOdometer> FleetStore::odometers() const {
  Statement rows(impl_->db,
                 "SELECT vehicle, time, instant, odometer FROM acts JOIN wheels ON wheels.id = wheel_id "
                 "WHERE odometer IS NOT NULL "
                 "UNION ALL SELECT vehicle, time, instant, odometer FROM readings JOIN wheels ON wheels.id = wheel_id "
                 "WHERE odometer IS NOT NULL "
                 "UNION ALL SELECT vehicle, tightened, tightened_instant, odometer FROM predictions JOIN wheels "
                 "ON wheels.id = wheel_id WHERE odometer IS NOT NULL ORDER BY 1, 3");
  std::vector<StoredOdometer> out;
  for (bool more = rows.start(); more; more = rows.next()) {
    out.push_back({rows.text(0), rows.text(1), rows.real(2), rows.real(3)});
  }
  return out;
}

} // namespace clampfade

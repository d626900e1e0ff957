#include "solver/io/database.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <utility>

namespace clampfade {

namespace {

constexpr int kWait = 30000; // [ms] for another program's writing

/// SQLite takes a name that begins with "file:" or ":" for something else than a path.
std::string as_path(const std::string& path) { return path.rfind('/', 0) == 0 ? path : "./" + path; }

[[noreturn]] void fail(const Database& db, int code) {
  const std::string reason = showable(sqlite3_errmsg(db.get()));
  std::error_code ignored;
  switch (code & 0xFF) {
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    throw FileError(Code::FileWrite, fmt::format("{}: another program has been writing to it for {} s; try again",
                                                 db.path(), kWait / 1000));
  case SQLITE_CORRUPT:
  case SQLITE_NOTADB:
  case SQLITE_ERROR: // a table or column that is not there
    db.damaged(reason);
  case SQLITE_CANTOPEN:
    throw FileError(Code::FileMissing,
                    fmt::format("{}: {}; see that it and its folder may be read and written to", db.path(), reason));
  case SQLITE_READONLY:
  case SQLITE_IOERR:
    // While it is written to, the journal is its own, and the fault another.
    if ((code & 0xFF) == SQLITE_IOERR && sqlite3_extended_errcode(db.get()) != SQLITE_IOERR_DELETE) {
      throw FileError(
          Code::FileWrite,
          fmt::format("{}: it can't be read or written ({}); see to the disk, or use a copy", db.path(), reason));
    }
    if (std::filesystem::exists(db.file() + "-journal", ignored)) {
      throw FileError(
          Code::FileWrite,
          fmt::format("{0}: a program was killed while it added to it, and what it left, {0}-journal, is put "
                      "right only where both may be written to; ask for that right, or copy both to a "
                      "folder of your own",
                      db.path()));
    }
    throw FileError(Code::FileWrite, db.path() + ": it may not be written to; ask for that right, or use a copy");
  case SQLITE_FULL:
    throw FileError(Code::FileWrite, db.path() + ": the disk is full, nothing was added; make room and try again");
  case SQLITE_CONSTRAINT:
    throw FileError(Code::FileWrite,
                    fmt::format("{}: a row is not one that a store takes ({}), nothing was added; look for it in the "
                                "file that was to be added",
                                db.path(), reason));
  default:
    throw FileError(Code::FileWrite, fmt::format("{}: {}", db.path(), reason));
  }
}

} // namespace

std::string showable(std::string text) {
  const bool foreign = bad_character(text).has_value();
  std::replace_if(
      text.begin(), text.end(), [&](unsigned char c) { return c < 0x20 || c == 0x7F || (foreign && c >= 0x80); }, '?');
  return text;
}

Database::Database(std::string path, bool create, const std::string& file)
    : path_(std::move(path)), file_(as_path(file.empty() ? path_ : file)) {
  // No two threads share a connection.
  const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX | (create ? SQLITE_OPEN_CREATE : 0);
  const int code = sqlite3_open_v2(file_.c_str(), &db_, flags, nullptr);
  if (code != SQLITE_OK) {
    // The object lives even then, and knows the reason.
    const std::string reason = db_ != nullptr ? sqlite3_errmsg(db_) : "out of memory";
    sqlite3_close(db_);
    throw FileError(Code::FileWrite,
                    fmt::format("{}: {}; see that it and its folder may be read and written to", path_, reason));
  }
  sqlite3_busy_timeout(db_, kWait);
  try {
    run("PRAGMA foreign_keys = ON");
    run("PRAGMA trusted_schema = OFF");
  } catch (...) {
    sqlite3_close(db_);
    throw;
  }
}

Database::~Database() { sqlite3_close(db_); }

void Database::run(const std::string& sql) { check(sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr)); }

bool Database::try_to(const std::string& sql) noexcept {
  return sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK;
}

void Database::check(int code) const {
  if (code != SQLITE_OK && code != SQLITE_DONE && code != SQLITE_ROW) {
    fail(*this, code);
  }
}

void Database::damaged(const std::string& what) const {
  throw FileError(Code::FileTruncated,
                  fmt::format("{}: the store is damaged ({}); use a copy, or add the files again to a new store", path_,
                              showable(what)));
}

Statement::Statement(const Database& db, const std::string& sql) : db_(db) {
  db.check(sqlite3_prepare_v2(db.get(), sql.c_str(), static_cast<int>(sql.size()), &statement_, nullptr));
}
Statement::~Statement() { sqlite3_finalize(statement_); }

void Statement::restart() {
  sqlite3_reset(statement_);
  place_ = 0;
}
void Statement::bind(std::nullopt_t) { db_.check(sqlite3_bind_null(statement_, ++place_)); }
void Statement::bind(const std::string& v) {
  db_.check(sqlite3_bind_text(statement_, ++place_, v.data(), static_cast<int>(v.size()), SQLITE_TRANSIENT));
}
void Statement::bind(const Sum& v) {
  db_.check(
      sqlite3_bind_blob(statement_, ++place_, v.bytes.data(), static_cast<int>(v.bytes.size()), SQLITE_TRANSIENT));
}
void Statement::bind(double v) { db_.check(sqlite3_bind_double(statement_, ++place_, v)); }
void Statement::bind(long long v) { db_.check(sqlite3_bind_int64(statement_, ++place_, v)); }

bool Statement::next() {
  const int code = sqlite3_step(statement_);
  db_.check(code);
  return code == SQLITE_ROW;
}

Statement::Type Statement::type(int column) const {
  switch (sqlite3_column_type(statement_, column)) {
  case SQLITE_INTEGER:
    return Type::Whole;
  case SQLITE_FLOAT:
    return Type::Real;
  case SQLITE_TEXT:
    return Type::Text;
  case SQLITE_BLOB:
    return Type::Bytes;
  default:
    return Type::Nothing;
  }
}
const char* Statement::name(int column) const { return sqlite3_column_name(statement_, column); }
double Statement::real(int column) const { return sqlite3_column_double(statement_, column); }
long long Statement::whole(int column) const { return sqlite3_column_int64(statement_, column); }
std::string_view Statement::text(int column) const {
  const void* bytes = sqlite3_column_blob(statement_, column);
  const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_, column));
  return bytes == nullptr ? std::string_view() : std::string_view(static_cast<const char*>(bytes), size);
}

Transaction::Transaction(Database& db, Use use) : db_(db) { db.run(use == Use::Write ? "BEGIN IMMEDIATE" : "BEGIN"); }
Transaction::~Transaction() {
  if (!done_) {
    (void)db_.try_to("ROLLBACK"); // what fails here is rolled back when next opened
  }
}
void Transaction::commit() {
  db_.run("COMMIT");
  done_ = true;
}

} // namespace clampfade

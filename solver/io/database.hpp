// SQLite: a connection, its statements and transactions. The only place that knows the library.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace clampfade {

/// 32 bytes, not text.
struct Sum {
  std::string bytes;
};

/// What a file holds may not reach a terminal as it is: control characters, and all that is not ASCII where some is no
/// UTF-8, become '?'.
std::string showable(std::string text);

/// A connection to a database that is there. All here throws FileError: FileWrite (locked for half a minute, disk full,
/// no permission, a constraint of a table), FileTruncated (damaged), FileMissing (cannot be opened).
class Database {
public:
  /// @param path a path and nothing else, whatever it looks like; messages have it as it stands
  /// @param create make the file where there is none
  /// @param file what is opened if it is not `path`, which is only told then
  explicit Database(std::string path, bool create = false, const std::string& file = "");
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  /// Statements of this program alone, without values in them.
  void run(const std::string& sql);
  /// The same, and whether it could be done; throws nothing.
  bool try_to(const std::string& sql) noexcept;
  void check(int code) const;
  [[nodiscard]] sqlite3* get() const { return db_; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] const std::string& file() const { return file_; }
  /// Throws FileTruncated: what is wrong, and what can be done.
  [[noreturn]] void damaged(const std::string& what) const;

private:
  std::string path_;
  std::string file_; ///< as SQLite gets it
  sqlite3* db_ = nullptr;
};

/// A statement; every value goes in as a parameter.
class Statement {
public:
  Statement(const Database& db, const std::string& sql);
  ~Statement();
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  /// The parameters in their order, then one step. Whether there is a row.
  template <class... T>
  bool start(const T&... values) {
    restart();
    (bind(values), ...);
    return next();
  }
  /// From the first parameter again.
  void restart();
  void bind(std::nullopt_t);
  void bind(const std::string& v);
  void bind(const char* v) { bind(std::string(v)); }
  void bind(const Sum& v);
  void bind(double v);
  void bind(long long v);
  void bind(std::size_t v) { bind(static_cast<long long>(v)); }
  void bind(bool v) { bind(static_cast<long long>(v)); }
  template <class T>
  void bind(const std::optional<T>& v) {
    if (v) {
      bind(*v);
    } else {
      bind(std::nullopt);
    }
  }
  bool next();
  /// As Database::damaged.
  [[noreturn]] void damaged(const std::string& what) const { db_.damaged(what); }

  enum class Type { Nothing, Whole, Real, Text, Bytes };
  [[nodiscard]] Type type(int column) const;
  [[nodiscard]] bool none(int column) const { return type(column) == Type::Nothing; }
  [[nodiscard]] const char* name(int column) const;
  [[nodiscard]] double real(int column) const;
  [[nodiscard]] long long whole(int column) const;
  /// Text or bytes; good until the next step.
  [[nodiscard]] std::string_view text(int column) const;

private:
  const Database& db_;
  sqlite3_stmt* statement_ = nullptr;
  int place_ = 0;
};

/// From here to `commit` all or nothing, and reading sees one state.
class Transaction {
public:
  enum class Use { Read, Write }; ///< Write: other writers wait
  Transaction(Database& db, Use use);
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit();

private:
  Database& db_;
  bool done_ = false;
};

} // namespace clampfade

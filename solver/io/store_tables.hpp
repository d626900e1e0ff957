// The tables of a store: each column is named once, and what makes, fills, reads and explains a table comes from that.
#pragma once

#include "solver/io/database.hpp"
#include "solver/io/fleet_store.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

namespace clampfade::store {

struct Column {
  const char *name, *declaration;
  const char* unit = "";    ///< empty: none
  const char* meaning = ""; ///< of a column with a unit
};

/// First what ties a row to others, from `first_value` on what the functions `values` visit, in their order. The last
/// column of a table with sums is `row_sha256`.
struct Table {
  const char* name;
  std::vector<Column> columns;
  std::size_t first_value = 0;
  const char* constraints = "";
  const char* options = "STRICT";
};

extern const Table kUnits, kTotals, kImports, kWheels, kActs, kReadings, kPredictions, kPoints;
/// In the order in which they can be made: whom others refer to comes first.
std::vector<const Table*> tables();

std::string create_sql(const Table& table);
std::string insert_sql(const Table& table);
/// By the first column, which does not change.
std::string update_sql(const Table& table);
/// "a, b, c", from a column on
std::string names(const Table& table, std::size_t from = 0);

/// The sum of a row: SHA-256 over the table's name and every value in its order, each with its type.
class RowSum {
public:
  explicit RowSum(const char* table) : text_(table) {}
  void add(std::nullopt_t) { text_ += ";N"; }
  void add(long long v);
  void add(std::size_t v) { add(static_cast<long long>(v)); }
  void add(bool v) { add(static_cast<long long>(v)); }
  void add(double v);
  void add(std::string_view v) { add('T', v); }
  void add(const std::string& v) { add('T', v); }
  void add(const char* v) { add('T', v); }
  void add(const Sum& v) { add('B', v.bytes); }
  template <class T>
  void add(const std::optional<T>& v) {
    if (v) {
      add(*v);
    } else {
      add(std::nullopt);
    }
  }
  /// As it stands in the database.
  void add(const Statement& row, int column);
  [[nodiscard]] Sum sum() const;

private:
  void add(char type, std::string_view bytes);
  std::string text_;
};

/// Writes rows, each with its sum.
class RowWriter {
public:
  enum class Use { Insert, Update };
  RowWriter(const Database& db, const Table& table, Use use = Use::Insert)
      : name_(table.name), statement_(db, use == Use::Insert ? insert_sql(table) : update_sql(table)), sum_(name_) {}
  void begin() {
    statement_.restart();
    sum_ = RowSum(name_);
  }
  template <class T>
  void operator()(const T& v) {
    statement_.bind(v);
    sum_.add(v);
  }
  void text_or_none(const std::string& v) { (*this)(v.empty() ? std::nullopt : std::optional(v)); }
  void count_or_none(std::size_t v) { (*this)(v == 0 ? std::nullopt : std::optional(v)); }
  /// What the sum covers though it stands in another table.
  RowSum& sum() { return sum_; }
  void end() {
    statement_.bind(sum_.sum());
    statement_.next();
  }

private:
  const char* name_;
  Statement statement_;
  RowSum sum_;
};

/// Reads a row's values one after the other. Throws FileTruncated where one cannot be shown or reckoned with.
class RowReader {
public:
  /// @param table that the row is from, for messages; none: its texts are never shown, and may be any
  RowReader(const Statement& row, const char* table, std::size_t from = 0)
      : row_(row), table_(table), column_(static_cast<int>(from)) {}
  void operator()(long long& v) { v = row_.whole(column_++); }
  void operator()(std::size_t& v) { v = static_cast<std::size_t>(row_.whole(column_++)); }
  void operator()(bool& v) { v = row_.whole(column_++) != 0; }
  void operator()(double& v) { v = finite(column_++); }
  void operator()(std::string& v) { v = shown(column_++); }
  void operator()(std::optional<double>& v) {
    v = row_.none(column_) ? std::nullopt : std::optional(finite(column_));
    ++column_;
  }
  void text_or_none(std::string& v) { (*this)(v); }
  void count_or_none(std::size_t& v) { (*this)(v); }

private:
  [[nodiscard]] double finite(int column) const;
  [[nodiscard]] std::string shown(int column) const;
  const Statement& row_;
  const char* table_;
  int column_;
};

/// Sum of a row that was read with all of its table's columns, the last of which is not part of it.
RowSum sum_of(const Statement& row, const Table& table);
/// Whether the last column holds that sum.
bool is_sum(const Statement& row, const Table& table, const Sum& sum);

/// A row of `imports`: a file that was added.
struct ImportRow {
  std::string kind, file_name, sha256, subject, added_utc, program_version;
};
/// A row of `wheels`: who, and how many rows of each kind it has.
struct WheelRow {
  long long id = 0;
  WheelId wheel;
  std::size_t studs = 0;
  std::size_t acts = 0, readings = 0, predictions = 0;
};

template <class Row, class Visit>
void import_values(Row& i, Visit& v) {
  v(i.kind);
  v(i.file_name);
  v(i.sha256);
  v(i.subject);
  v(i.added_utc);
  v(i.program_version);
}
template <class Row, class Visit>
void act_values(Row& a, Visit& v) {
  v(a.stud);
  v(a.pass);
  v(a.pass_given);
  v(a.time);
  v(a.instant);
  v(a.torque);
  v(a.set_torque);
  v(a.angle);
  v(a.clamp);
  v(a.clamp_deviation);
  v(a.odometer);
  v(a.inside);
  v(a.reasons);
  v(a.tool);
  v.text_or_none(a.operator_name);
}
template <class Row, class Visit>
void reading_values(Row& r, Visit& v) {
  v(r.stud);
  v(r.time);
  v(r.instant);
  v(r.torque);
  v(r.moved);
  v(r.odometer);
  v(r.tool);
  v.text_or_none(r.operator_name);
}
template <class Row, class Visit>
void prediction_values(Row& p, Visit& v) {
  v(p.tightened);
  v(p.tightened_instant);
  v(p.odometer);
  v(p.title);
  v(p.source);
  v(p.digest);
  v(p.required_clamp);
  v(p.end_time);
  v(p.below_time);
  v(p.below_distance);
  v.count_or_none(p.below_stud);
  v(p.recheck_time);
  v(p.recheck_distance);
}
template <class Row, class Visit>
void wheel_values(Row& w, Visit& v) {
  v(w.id);
  v(w.wheel.vehicle);
  v(w.wheel.axle);
  v(w.wheel.wheel);
  v(w.studs);
  v(w.acts);
  v(w.readings);
  v(w.predictions);
}

/// What is the same for rows of each kind.
template <class Row>
struct Kind;
template <>
struct Kind<StoredAct> {
  static constexpr const char *kImport = "records", *kOne = "an act";
  static const Table& table() { return kActs; }
  static constexpr std::size_t WheelRow::*kCount = &WheelRow::acts;
  template <class R, class Visit>
  static void values(R& row, Visit& v) {
    act_values(row, v);
  }
};
template <>
struct Kind<StoredReading> {
  static constexpr const char *kImport = "readings", *kOne = "a reading";
  static const Table& table() { return kReadings; }
  static constexpr std::size_t WheelRow::*kCount = &WheelRow::readings;
  template <class R, class Visit>
  static void values(R& row, Visit& v) {
    reading_values(row, v);
  }
};
template <>
struct Kind<StoredPrediction> {
  static constexpr const char *kImport = "prediction", *kOne = "a prediction";
  static const Table& table() { return kPredictions; }
  static constexpr std::size_t WheelRow::*kCount = &WheelRow::predictions;
  template <class R, class Visit>
  static void values(R& row, Visit& v) {
    prediction_values(row, v);
  }
};

template <class Row>
inline constexpr bool kPredicts = std::is_same_v<Row, StoredPrediction>;

/// Fields as one text in which none can pass for a part of another.
std::string fields(std::initializer_list<std::string> parts);
std::string digits(double v);

/// What tells one act or reading from another.
Sum content_sum(const StoredAct& a);
Sum content_sum(const StoredReading& r);

/// Whether a wheel is one of those; an empty text stands for all.
bool matches(const WheelFilter& which, const WheelId& wheel);
std::string wheel_words(const WheelId& wheel); ///< "vehicle 'v', axle 'a', wheel 'w'"

} // namespace clampfade::store

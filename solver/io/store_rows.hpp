// Rows of a store of this format, read with their sums and written.
#pragma once

#include "solver/io/store_tables.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace clampfade::store {

/// How many wheels and imports a store has.
struct Totals {
  std::size_t wheels = 0, imports = 0;
};

/// Makes this format's tables and tells their units.
void make_tables(Database& db);
/// Throws FileTruncated where a table is not declared as this program makes it.
void require_tables(const Database& db);

Totals read_totals(const Database& db);
void write_totals(const Database& db, const Totals& totals, RowWriter::Use use);
/// All wheels by number, from 1.
std::vector<WheelRow> read_wheels(const Database& db);
/// All imports by number, from 1.
std::vector<ImportRow> read_imports(const Database& db);
void write_import(RowWriter& out, long long id, const ImportRow& import);
void write_wheel(RowWriter& out, const WheelRow& wheel);

/// Reads all rows of wheels, one wheel after the other.
template <class Row>
class RowsOfWheel {
public:
  explicit RowsOfWheel(const Database& db);
  /// By instant; `contents` gets what tells them apart. Throws FileTruncated where one is not what was added, or where
  /// there are more or fewer.
  void read(const WheelRow& wheel, std::vector<Row>& out, std::vector<std::string>* contents = nullptr);

private:
  const Database& db_;
  Statement rows_, points_;
};

template <class Row>
void write_row(RowWriter& out, long long wheel, long long import, std::size_t number, const Row& row) {
  out.begin();
  out(wheel);
  out(import);
  out(number);
  out(content_sum(row));
  Kind<Row>::values(row, out);
  out.end();
}
/// With its points.
void write_prediction(const Database& db, long long wheel, long long import, const StoredPrediction& prediction);

} // namespace clampfade::store

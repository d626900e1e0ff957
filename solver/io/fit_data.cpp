#include "solver/io/fit_data.hpp"

#include "models/units.hpp"
#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/scenario_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>

namespace clampfade {

namespace {

constexpr std::array<std::string_view, 9> kColumns = {"time",  "time_unit", "quantity", "value", "unit",
                                                      "error", "stud",      "part",     "note"};
constexpr double kLeast = 1e-9;    ///< of a reading, its smallest error; over it, the largest
constexpr std::size_t kNeeded = 5; ///< of them, from the first on

/// How each quantity is written.
ParamSpec spec_of(FitQuantity q) {
  const std::string_view unit = describe(q).unit;
  switch (q) {
  case FitQuantity::Clamp:
  case FitQuantity::ClampCold:
    return {"value", unit, Quantity::Dimensional, {0, 1e9}, {}, "clamp load", "kN"};
  case FitQuantity::Stretch:
    return {"value", unit, Quantity::Dimensional, {0, 1}, {}, "stretch", "um"};
  case FitQuantity::Thickness:
    return {"value", unit, Quantity::Dimensional, {0, 1}, {}, "thickness", "um"};
  case FitQuantity::Temperature:
    return {"value", unit, Quantity::Point, {1, 3000}, {}, "temperature", "degC"};
  case FitQuantity::CheckTorque:
    return {"value", unit, Quantity::Dimensional, {0, 1e6}, {}, "torque", "N*m"};
  }
  return {};
}

class RowReader {
public:
  RowReader(const CsvTable& table, const RunNames& names) : table_(table), names_(names) {
    const std::vector<std::string>& header = table.header().cells;
    const std::vector<std::string> known(kColumns.begin(), kColumns.end());
    for (std::size_t i = 0; i < header.size(); ++i) {
      const auto column = std::find(known.begin(), known.end(), header[i]);
      if (column == known.end()) {
        table.fault(table.header(), Code::UnknownKey, header[i], fmt::format("there is no column '{}'", header[i]),
                    joined(known), did_you_mean(header[i], known));
      } else if (!columns_.emplace(header[i], i).second) {
        table.fault(table.header(), Code::DuplicateKey, header[i], "the column is there twice", "once");
      }
    }
    for (std::size_t i = 0; i < kNeeded; ++i) {
      if (columns_.count(known[i]) == 0) {
        table.fault(table.header(), Code::MissingKey, known[i], fmt::format("the column `{}` is missing", known[i]),
                    joined({known.begin(), known.begin() + kNeeded}));
      }
    }
  }

  [[nodiscard]] bool whole() const {
    return std::all_of(kColumns.begin(), kColumns.begin() + kNeeded,
                       [&](std::string_view name) { return columns_.count(std::string(name)) > 0; });
  }

  void read(const CsvRow& row, std::vector<FitReading>& out) {
    row_ = &row;
    FitReading r;
    r.time = quantity(cell("time") + ' ' + cell("time_unit"), "time",
                      {"time", "s", Quantity::Dimensional, {0, names_.end_time}, {}, "time since tightening", "h"},
                      "the time since tightening, within the scenario's calendar: ");
    const auto what = std::find_if(kFitQuantityNames.begin(), kFitQuantityNames.end(),
                                   [&](const FitQuantityName& n) { return n.word == cell("quantity"); });
    if (what == kFitQuantityNames.end()) {
      std::vector<std::string> words;
      for (const FitQuantityName& n : kFitQuantityNames) {
        words.emplace_back(n.word);
      }
      table_.fault(row, Code::UnknownEntry, "quantity", fmt::format("'{}' is no quantity", cell("quantity")),
                   joined(words), did_you_mean(cell("quantity"), words));
      return;
    }
    r.quantity = static_cast<FitQuantity>(what - kFitQuantityNames.begin());
    ParamSpec spec = spec_of(r.quantity);
    r.value = quantity(cell("value") + ' ' + cell("unit"), "value", spec, "");
    if (!cell("error").empty()) {
      spec.quantity = spec.quantity == Quantity::Point ? Quantity::Difference : spec.quantity;
      spec.allowed = {};
      spec.meaning = "standard deviation";
      r.error = quantity(cell("error") + ' ' + cell("unit"), "error", spec, "");
      if (r.error <= 0) {
        table_.fault(row, Code::OutOfRange, "error", fmt::format("'{}' is no standard deviation", cell("error")),
                     "above 0, or an empty cell where it is not known");
      } else if (const double size = std::abs(r.value);
                 size > 0 && (r.error < kLeast * size || r.error > size / kLeast)) {
        table_.fault(row, Code::OutOfRange, "error",
                     fmt::format("'{}' is no standard deviation of a reading of {}", cell("error"), cell("value")),
                     "1e-9 to 1e9 of the reading, or an empty cell where it is not known");
      }
    }
    auto& seen = with_error_[r.quantity];
    seen.first = seen.first || !cell("error").empty();
    seen.second = seen.second || cell("error").empty();
    if (seen.first && seen.second && told_.insert(r.quantity).second) {
      table_.fault(row, Code::Inconsistent, "error",
                   fmt::format("some readings of {} have an error and some have none", what->word),
                   "an error for all of them, or for none");
    }
    stud(r);
    part(r);
    r.note = cell("note");
    out.push_back(std::move(r));
  }

private:
  [[nodiscard]] std::string cell(const std::string& column) const {
    const auto at = columns_.find(column);
    return at == columns_.end() ? "" : row_->cells[at->second];
  }

  double quantity(const std::string& text, const char* column, const ParamSpec& spec, const char* meaning) {
    const QuantityResult read = read_quantity(text, spec);
    if (!read.value) {
      table_.fault(*row_, read.fault.code, column, read.fault.found, read.fault.allowed, read.fault.hint);
      return kFitUnknown;
    }
    if (!spec.allowed.holds(*read.value)) {
      table_.fault(*row_, Code::OutOfRange, column, fmt::format("'{}' is outside the allowed range", text),
                   meaning + range_text(spec.allowed, spec));
      return kFitUnknown;
    }
    return *read.value;
  }

  void stud(FitReading& r) {
    if (cell("stud").empty()) {
      return;
    }
    const auto number = plain_number(cell("stud"));
    if (r.quantity == FitQuantity::Temperature) {
      table_.fault(*row_, Code::Inconsistent, "stud", "a temperature is of a node, not of a stud", "an empty cell");
    } else if (!number || *number < 1 || *number > static_cast<double>(names_.studs) ||
               *number != std::floor(*number)) {
      table_.fault(*row_, Code::OutOfRange, "stud", fmt::format("'{}' is no stud", cell("stud")),
                   fmt::format("1 to {}, or an empty cell for the mean of all", names_.studs));
    } else {
      r.stud = static_cast<int>(*number) - 1;
    }
  }

  void part(FitReading& r) {
    const bool layer = r.quantity == FitQuantity::Thickness;
    const std::string given = cell("part");
    if (!layer && r.quantity != FitQuantity::Temperature) {
      if (!given.empty()) {
        table_.fault(*row_, Code::Inconsistent, "part",
                     fmt::format("a reading of {} has no part", describe(r.quantity).word),
                     "an empty cell; `part` is the layer of a thickness or the node of a temperature");
      }
      return;
    }
    const std::vector<std::string>& all = layer ? names_.layers : names_.nodes;
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < all.size(); ++i) {
      const std::size_t colon = all[i].find(": ");
      if (all[i] == given || (layer && colon != std::string::npos && all[i].substr(colon + 2) == given)) {
        found.push_back(i);
      }
    }
    // With one of them there is nothing to tell apart.
    if (given.empty() && all.size() == 1) {
      found = {0};
    }
    if (found.size() != 1) {
      table_.fault(*row_, layer ? Code::UnknownEntry : Code::UnknownNode, "part",
                   given.empty() ? fmt::format("{} of which {}?", describe(r.quantity).word, layer ? "layer" : "node")
                                 : fmt::format("'{}' is no {} of the scenario", given, layer ? "layer" : "node"),
                   all.empty() ? "the scenario has none" : joined(all), did_you_mean(given, all));
      return;
    }
    r.index = found.front();
    r.part = all[r.index];
  }

  const CsvTable& table_;
  const RunNames& names_;
  std::map<std::string, std::size_t> columns_;
  const CsvRow* row_ = nullptr;
  std::map<FitQuantity, std::pair<bool, bool>> with_error_; ///< whether some have one, whether some have none
  std::set<FitQuantity> told_;
};

} // namespace

FitData read_fit_data(const std::string& path, const RunNames& names) {
  Context context;
  std::string reason;
  const auto text = file_text(path, context.options.max_table_bytes, reason);
  if (!text) {
    throw FileError(Code::FileMissing, fmt::format("{}: {}", path, reason));
  }
  FitData out;
  out.text = *text;
  Item file;
  file.kind = Item::Kind::Scalar;
  file.text = path;
  if (const auto table =
          CsvTable::from_file(context, file, "--data", joined({kColumns.begin(), kColumns.begin() + kNeeded}))) {
    RowReader reader(*table, names);
    if (reader.whole()) {
      table->each_row([&](const CsvRow& row) { reader.read(row, out.readings); });
    }
  }
  throw_faults(context.faults);
  return out;
}

} // namespace clampfade

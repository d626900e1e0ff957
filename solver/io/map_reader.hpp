// A map of the scenario read by what its section declares, with every fault noted and reading going on.
#pragma once

#include "solver/io/document.hpp"
#include "solver/io/scenario.hpp"
#include "solver/io/schema.hpp"

#include <cstddef>
#include <limits>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

namespace clampfade {

/// A value that could not be read is NaN: every check is written so that it is silent about NaN, and one fault does not
/// bring others after it.
inline constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// Files beside a scenario, each read once however often the scenario is read. Safe to share between threads.
struct SharedFiles {
  /// A catalogue file, kept alive with its lines.
  struct Entries {
    std::shared_ptr<const Source> source;
    Item item;
  };
  /// A CSV file.
  struct Rows {
    std::shared_ptr<const Source> source;
    std::vector<CsvRow> rows;
  };
  std::mutex mutex;  ///< of what follows
  bool read = false; ///< whether the catalogue was; it does not change from then on
  std::vector<Entries> catalogue;
  std::map<std::string, std::shared_ptr<const Rows>> tables; ///< by the name of the file
};

/// How each item of a scenario was read: as what value, as a map of which section, as one value for each stud.
struct Reading {
  std::unordered_map<const Item*, ParamSpec> values;
  std::unordered_map<const Item*, const Section*> maps;
  std::unordered_map<const Item*, ParamSpec> per_stud; ///< one value, or a list with one for each stud
};

/// What all readers of one scenario share.
struct Context {
  std::string name; ///< of the scenario's file; files that it names are beside it
  ReadOptions options;
  Faults faults;
  bool quiet = false;                                ///< while reading catalogue entries that nothing uses: no warnings
  std::vector<std::shared_ptr<const Source>> tables; ///< CSV texts, kept for messages
  std::shared_ptr<SharedFiles> files = std::make_shared<SharedFiles>();
  Reading* reading = nullptr; ///< filled where given
};

/// Words with commas between them.
std::string joined(const std::vector<std::string>& words);
/// A length for people.
std::string length_text(double metres);

/// Notes that values do not fit together.
void inconsistent(Context& c, const Item& at, std::string path, std::string found, std::string allowed,
                  std::string hint = "");

/// One value by its declaration [SI]; NaN, with its fault noted, if it can't be read or is out of range.
double read_value(Context& c, const Item& item, const ParamSpec& spec, const std::string& path);

/// A map of the scenario being read: refuses keys that its section does not declare, reads the others by their
/// declaration.
class Map {
public:
  Map(Context& c, const Item& item, std::string path, const Section& section);

  [[nodiscard]] Context& context() const { return c_; }
  [[nodiscard]] const Item& item() const { return item_; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::string at(std::string_view key) const;
  [[nodiscard]] bool is_map() const { return item_.map(); }
  [[nodiscard]] const Key& declared(std::string_view key) const;

  /// The value, or none where the key is absent.
  [[nodiscard]] const Item* find(std::string_view key) const;
  /// The value; its absence is a fault.
  const Item* need(std::string_view key);
  /// The value's place, or the map's.
  [[nodiscard]] const Item& place(std::string_view key) const;

  /// Values by their declaration [SI]: none where `maybe` finds no key, the fallback or else a fault where the others
  /// do not, NaN (a count: 0) where there was a fault.
  std::optional<double> maybe(std::string_view key);
  double value(std::string_view key);
  std::size_t count(std::string_view key);
  /// Texts; empty where there was a fault.
  std::string text(std::string_view key);
  std::string text_or(std::string_view key, std::string otherwise);
  /// true or false.
  bool flag(std::string_view key, bool otherwise);
  /// One of a few words.
  std::string choice(std::string_view key, const std::vector<std::string>& words, std::string otherwise);
  /// The item as a text that is not empty.
  std::string word(const Item& found, const std::string& path);
  /// Entries of a list; absent gives none.
  std::vector<std::pair<const Item*, std::string>> list(std::string_view key, bool must = false);
  /// One value, or a table of [x, value] with x rising strictly.
  Table table(std::string_view key, const ParamSpec& x);

private:
  Context& c_;
  const Item& item_;
  std::string path_;
  const Section& section_;
  std::vector<std::string> meant_; ///< keys that misspelt ones seem to mean

  [[nodiscard]] std::vector<std::string> keys() const;
  [[nodiscard]] std::string key_list() const { return joined(keys()); }
};

inline constexpr ParamSpec kTemperatureAxis{"temperature", "K", Quantity::Point, {1, 3000}, {}, "temperature"};
inline constexpr ParamSpec kAgeAxis{"age", "s", Quantity::Dimensional, {0, 1e12}, {}, "time since the nut last moved"};

/// Fills the members that a law declares.
template <class T>
void fill(Map& map, T& target) {
  for (const Field<T>& f : T::fields()) {
    if (const auto* number = std::get_if<double T::*>(&f.member)) {
      target.*(*number) = map.value(f.spec.key);
    } else if (const auto* count = std::get_if<std::size_t T::*>(&f.member)) {
      target.*(*count) = map.count(f.spec.key);
    } else {
      target.*std::get<Table T::*>(f.member) = map.table(f.spec.key, kTemperatureAxis);
    }
  }
}

} // namespace clampfade

#include "solver/io/scenario.hpp"

#include "models/conical_washer.hpp"
#include "models/embedding.hpp"
#include "models/units.hpp"
#include "solver/io/document.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/resolved.hpp"
#include "solver/io/schema.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <set>
#include <sstream>

namespace clampfade {

namespace {

namespace fs = std::filesystem;

// A value that could not be read is NaN: every check below is written so that it is silent about NaN, and one fault
// does not bring others after it.
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& w : words) {
    out += (out.empty() ? "" : ", ") + w;
  }
  return out;
}

// ------------------------------------------------------------------------------------------------ YAML to items

/// Notes where a document begins and lets everything else pass.
class DocumentStart final : public YAML::EventHandler {
public:
  YAML::Mark mark = YAML::Mark::null_mark();
  void OnDocumentStart(const YAML::Mark& at) override { mark = at; }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& /*at*/, YAML::anchor_t /*anchor*/) override {}
  void OnAlias(const YAML::Mark& /*at*/, YAML::anchor_t /*anchor*/) override {}
  void OnScalar(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                const std::string& /*value*/) override {}
  void OnSequenceStart(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                       YAML::EmitterStyle::value /*style*/) override {}
  void OnSequenceEnd() override {}
  void OnMapStart(const YAML::Mark& /*at*/, const std::string& /*tag*/, YAML::anchor_t /*anchor*/,
                  YAML::EmitterStyle::value /*style*/) override {}
  void OnMapEnd() override {}
};

/// Place of a second document. The library's own way to read all documents never ends where a stray comma follows the
/// first: it makes empty documents of it until memory is gone.
std::optional<YAML::Mark> second_document(const std::string& text) {
  std::istringstream stream(text);
  YAML::Parser parser(stream);
  DocumentStart start;
  if (parser.HandleNextDocument(start) && parser.HandleNextDocument(start)) {
    return start.mark;
  }
  return std::nullopt;
}

/// Turns a YAML document into items: places, duplicate and merge keys, depth and size are dealt with here once.
class YamlLoader {
public:
  YamlLoader(const Source& source, const ReadOptions& options, Faults& faults)
      : source_(source), options_(options), faults_(faults), budget_(options.max_nodes) {}

  /// None if nothing can be made of the text; the faults say why.
  std::optional<Item> load(const std::string& text) {
    if (text.size() > options_.max_bytes) {
      faults_.add(Code::TooLarge, &source_, 0, 0, "",
                  fmt::format("the file is longer than {} bytes", options_.max_bytes), "",
                  "put long tables into a CSV file");
      return std::nullopt;
    }
    if (const auto bad = bad_character(text)) {
      faults_.add(Code::Syntax, &source_, bad->first, 0, "",
                  fmt::format("character {} of this line is not UTF-8 text", bad->second),
                  "UTF-8 without control characters");
      return std::nullopt;
    }
    try {
      if (const auto second = second_document(text)) {
        const auto [line, column] = place(*second);
        faults_.add(Code::Syntax, &source_, line, column, "", "what begins here does not belong to the document before",
                    "one document in a file");
        return std::nullopt;
      }
      const YAML::Node document = YAML::Load(text);
      if (document.IsNull()) {
        faults_.add(Code::Syntax, &source_, 0, 0, "", "the file is empty", "a map of keys, at least `schema: 1`");
        return std::nullopt;
      }
      Item root = convert(document, 1);
      return too_large_ ? std::nullopt : std::optional<Item>(std::move(root));
    } catch (const YAML::Exception& e) {
      const auto [line, column] = place(e.mark);
      faults_.add(Code::Syntax, &source_, line, column, "", "this is not YAML: " + e.msg, "",
                  "look at brackets, quotes, tabs and indentation of this line and the one before");
    }
    return std::nullopt;
  }

private:
  const Source& source_;
  const ReadOptions& options_;
  Faults& faults_;
  std::size_t budget_;
  bool too_large_ = false;

  /// Marks count bytes from 0, people count characters from 1.
  [[nodiscard]] std::pair<int, int> place(const YAML::Mark& mark) const {
    if (mark.is_null() || mark.line < 0) {
      return {0, 0};
    }
    int column = 1;
    if (static_cast<std::size_t>(mark.line) < source_.lines.size()) {
      const std::string& line = source_.lines[static_cast<std::size_t>(mark.line)];
      const auto end = std::min(line.size(), static_cast<std::size_t>(std::max(mark.column, 0)));
      column +=
          static_cast<int>(std::count_if(line.begin(), line.begin() + static_cast<std::ptrdiff_t>(end),
                                         [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
    }
    return {mark.line + 1, column};
  }

  void give_up(const YAML::Node& node, std::string why) {
    if (!too_large_) {
      const auto [line, column] = place(node.Mark());
      faults_.add(Code::TooLarge, &source_, line, column, "", std::move(why), "",
                  "an alias (*name) counts as often as it is used, and must not contain itself");
    }
    too_large_ = true;
  }

  Item convert(const YAML::Node& node, std::size_t depth) {
    Item item;
    item.source = &source_;
    std::tie(item.line, item.column) = place(node.Mark());
    if (too_large_) {
      return item;
    }
    if (depth > options_.max_depth) {
      give_up(node, fmt::format("the nesting is deeper than {} levels", options_.max_depth));
      return item;
    }
    if (budget_ == 0) {
      give_up(node, fmt::format("the file has more than {} values", options_.max_nodes));
      return item;
    }
    --budget_;
    const std::string& tag = node.Tag();
    if (!tag.empty() && tag != "?" && tag != "!") {
      faults_.add(Code::Syntax, item, "", fmt::format("the tag {} is not used here", tag), "plain values");
    }
    switch (node.Type()) {
    case YAML::NodeType::Undefined:
    case YAML::NodeType::Null:
      break;
    case YAML::NodeType::Scalar:
      item.kind = Item::Kind::Scalar;
      item.text = node.Scalar();
      item.quoted = tag == "!";
      break;
    case YAML::NodeType::Sequence:
      item.kind = Item::Kind::List;
      for (const YAML::Node& child : node) {
        item.items.push_back(convert(child, depth + 1));
      }
      break;
    case YAML::NodeType::Map:
      item.kind = Item::Kind::Map;
      for (const auto& pair : node) {
        const auto [line, column] = place(pair.first.Mark());
        if (!pair.first.IsScalar()) {
          faults_.add(Code::WrongType, &source_, line, column, "", "a key that is no word", "a word");
          continue;
        }
        const std::string& key = pair.first.Scalar();
        if (key == "<<" && pair.first.Tag() != "!") {
          faults_.add(Code::Syntax, &source_, line, column, "", "merge keys (<<) are not read", "each key written out",
                      "a whole value can be reused with &name and *name");
          continue;
        }
        if (const auto twin =
                std::find_if(item.names.begin(), item.names.end(), [&](const Item::Name& n) { return n.text == key; });
            twin != item.names.end()) {
          faults_.add(Code::DuplicateKey, &source_, line, column, "",
                      fmt::format("'{}' is given twice, first in line {}", key, twin->line), "each key once");
          continue;
        }
        item.names.push_back({key, line, column});
        item.items.push_back(convert(pair.second, depth + 1));
        Item& value = item.items.back();
        if (value.kind == Item::Kind::Null) { // YAML gives nothing no place of its own
          value.line = line;
          value.column = column;
        }
      }
      break;
    }
    return item;
  }
};

// ------------------------------------------------------------------------------------------------ values and maps

/// What all readers of one scenario share.
struct Context {
  Faults faults;
  bool quiet = false; ///< while reading catalogue entries that nothing uses: no warnings
};

double read_value(Context& c, const Item& item, const ParamSpec& spec, const std::string& path) {
  const bool pure = spec.quantity == Quantity::Number || spec.quantity == Quantity::Count;
  if (!item.scalar()) {
    c.faults.add(Code::WrongType, item, path, what_it_is(item) + " where one value is due", wanted(spec));
    return kNone;
  }
  if (item.quoted && pure && plain_number(item.text)) {
    c.faults.add(Code::WrongType, item, path, what_it_is(item) + " in quotes is not a number", wanted(spec),
                 "leave out the quotes");
    return kNone;
  }
  const QuantityResult read = read_quantity(item.text, spec);
  if (!read.value) {
    c.faults.add(read.fault.code, item, path, read.fault.found, read.fault.allowed, read.fault.hint);
    return kNone;
  }
  if (!spec.allowed.holds(*read.value)) {
    c.faults.add(Code::OutOfRange, item, path, fmt::format("'{}' is outside the allowed range", item.text),
                 range_text(spec.allowed, spec));
    return kNone;
  }
  if (!c.quiet && !spec.calibrated.holds(*read.value)) {
    c.faults.warn(fmt::format("{} = {} is outside the calibrated range {}", path, friendly(*read.value, spec),
                              range_text(spec.calibrated, spec)));
  }
  return *read.value;
}

/// A map of the scenario being read: refuses keys that its section does not declare, reads the others by their
/// declaration.
class Map {
public:
  Map(Context& c, const Item& item, std::string path, const Section& section)
      : c_(c), item_(item), path_(std::move(path)), section_(section) {
    if (!item.map()) {
      c_.faults.add(Code::WrongType, item, path_, what_it_is(item) + " where a map is due",
                    "a map with the keys " + key_list());
      return;
    }
    for (const Item::Name& n : item.names) {
      if (section_.find(n.text) == nullptr) {
        const std::string near = nearest(n.text, keys());
        if (item.find(near) == nullptr) {
          meant_.push_back(near);
        }
        std::string hint = near.empty() ? "" : "did you mean " + near + "?";
        if (plain_number(n.text)) {
          hint = "the decimal sign is a point";
        } else if (path_.empty() && (n.text == "vary" || n.text == "scatter")) {
          hint = "this version runs one scenario at a time";
        }
        c_.faults.add(Code::UnknownKey, item.source, n.line, n.column, at(n.text), "this key is not known here",
                      key_list(), hint);
      }
    }
  }

  [[nodiscard]] Context& context() const { return c_; }
  [[nodiscard]] const Item& item() const { return item_; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::string at(std::string_view key) const {
    return path_.empty() ? std::string(key) : path_ + '/' + std::string(key);
  }
  [[nodiscard]] bool is_map() const { return item_.map(); }
  [[nodiscard]] const Key& declared(std::string_view key) const {
    const Key* k = section_.find(key);
    if (k == nullptr) {
      throw std::logic_error(fmt::format("key '{}' is not declared in section '{}'", key, section_.path));
    }
    return *k;
  }

  /// The value, or none where the key is absent.
  [[nodiscard]] const Item* find(std::string_view key) const {
    (void)declared(key); // a key that the schema does not list is a bug of the reader
    return item_.find(key);
  }
  /// The value; its absence is a fault.
  const Item* need(std::string_view key) {
    const Item* found = find(key);
    // A misspelt key has been told already, with this one as its hint.
    if (found == nullptr && item_.map() && std::find(meant_.begin(), meant_.end(), key) == meant_.end()) {
      const Key& k = declared(key);
      c_.faults.add(Code::MissingKey, item_, at(key), "this key is missing", !k.form.empty() ? k.form : wanted(k.spec));
    }
    return found;
  }
  /// The value's place, or the map's.
  [[nodiscard]] const Item& place(std::string_view key) const {
    const Item* found = item_.find(key);
    return found != nullptr ? *found : item_;
  }

  std::optional<double> maybe(std::string_view key) {
    const Item* found = find(key);
    return found == nullptr ? std::nullopt : std::optional(read_value(c_, *found, declared(key).spec, at(key)));
  }
  double value(std::string_view key) {
    const Key& k = declared(key);
    if (find(key) == nullptr && k.fallback) {
      return *k.fallback;
    }
    const Item* found = need(key);
    return found == nullptr ? kNone : read_value(c_, *found, k.spec, at(key));
  }
  std::size_t count(std::string_view key) {
    const double v = value(key);
    return std::isnan(v) ? 0 : static_cast<std::size_t>(v);
  }
  std::string text(std::string_view key) {
    const Item* found = need(key);
    return found == nullptr ? "" : word(*found, at(key));
  }
  std::string text_or(std::string_view key, std::string otherwise) {
    const Item* found = find(key);
    return found == nullptr ? otherwise : word(*found, at(key));
  }
  bool flag(std::string_view key, bool otherwise) {
    const Item* found = find(key);
    if (found == nullptr) {
      return otherwise;
    }
    if (found->scalar() && !found->quoted && (found->text == "true" || found->text == "false")) {
      return found->text == "true";
    }
    c_.faults.add(Code::WrongType, *found, at(key), what_it_is(*found) + " is neither true nor false", "true or false");
    return otherwise;
  }
  /// One of a few words.
  std::string choice(std::string_view key, const std::vector<std::string>& words, std::string otherwise) {
    const std::string found = text_or(key, std::move(otherwise));
    if (std::find(words.begin(), words.end(), found) == words.end()) {
      if (!found.empty()) {
        const std::string near = nearest(found, words);
        c_.faults.add(Code::UnknownEntry, place(key), at(key), fmt::format("'{}' is not one of these", found),
                      joined(words), near.empty() ? "" : "did you mean " + near + "?");
      }
      return words.front();
    }
    return found;
  }
  std::string word(const Item& found, const std::string& path) {
    if (!found.scalar() || found.text.empty()) {
      c_.faults.add(Code::WrongType, found, path, what_it_is(found) + " where a text is due", "a text");
      return "";
    }
    return found.text;
  }
  /// Entries of a list; absent gives none.
  std::vector<std::pair<const Item*, std::string>> list(std::string_view key, bool must = false) {
    std::vector<std::pair<const Item*, std::string>> out;
    const Item* found = must ? need(key) : find(key);
    if (found == nullptr) {
      return out;
    }
    if (!found->list()) {
      c_.faults.add(Code::WrongType, *found, at(key), what_it_is(*found) + " where a list is due", declared(key).form);
      return out;
    }
    for (std::size_t i = 0; i < found->items.size(); ++i) {
      out.emplace_back(&found->items[i], fmt::format("{}/{}", at(key), i + 1));
    }
    return out;
  }
  /// One value, or a table of [x, value] with x rising strictly.
  Table table(std::string_view key, const ParamSpec& x) {
    const Key& k = declared(key);
    if (find(key) == nullptr && k.fallback) {
      return Table(*k.fallback);
    }
    const Item* found = need(key);
    if (found == nullptr) {
      return Table(kNone);
    }
    if (!found->list()) {
      return Table(read_value(c_, *found, k.spec, at(key)));
    }
    std::vector<std::pair<double, double>> points;
    for (const Item& row : found->items) {
      if (!row.list() || row.items.size() != 2) {
        c_.faults.add(Code::WrongType, row, at(key), what_it_is(row) + " where a point of a table is due",
                      fmt::format("[{}, value]", x.key));
        continue;
      }
      const double px = read_value(c_, row.items[0], x, at(key) + '/' + std::string(x.key));
      const double py = read_value(c_, row.items[1], k.spec, at(key));
      if (!points.empty() && px <= points.back().first) {
        c_.faults.add(Code::Inconsistent, row.items[0], at(key),
                      fmt::format("'{}' does not rise above the point before", row.items[0].text),
                      fmt::format("{} rising from point to point", x.key));
      }
      points.emplace_back(px, py);
    }
    if (points.empty()) {
      if (found->items.empty()) {
        c_.faults.add(Code::WrongType, *found, at(key), "the table is empty", "at least one point");
      }
      return Table(kNone);
    }
    return Table(std::move(points));
  }

private:
  Context& c_;
  const Item& item_;
  std::string path_;
  const Section& section_;
  std::vector<std::string> meant_; ///< keys that misspelt ones seem to mean

  [[nodiscard]] std::vector<std::string> keys() const {
    std::vector<std::string> out;
    for (const Key& k : section_.keys) {
      out.emplace_back(k.spec.key);
    }
    return out;
  }
  [[nodiscard]] std::string key_list() const { return joined(keys()); }
};

constexpr ParamSpec kTemperatureAxis{"temperature", "K", Quantity::Point, {1, 3000}, {}, "temperature"};
constexpr ParamSpec kAgeAxis{"age", "s", Quantity::Dimensional, {0, 1e12}, {}, "time since the nut last moved"};

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

// ------------------------------------------------------------------------------------------------ the catalogue

constexpr std::array<std::string_view, 5> kKinds = {"threads", "property_classes", "materials", "coatings",
                                                    "heat_networks"};

/// A catalogue file or block, kept alive with its lines.
struct Block {
  std::shared_ptr<const Source> source;
  Item item;
};

std::string default_catalogue() {
  if (const char* set = std::getenv("CLAMPFADE_CATALOGUE"); set != nullptr && *set != '\0') {
    return set;
  }
  std::error_code ignored;
  for (const char* folder : {CLAMPFADE_CATALOGUE_BUILD, CLAMPFADE_CATALOGUE_INSTALL}) {
    if (fs::is_directory(folder, ignored)) {
      return folder;
    }
  }
  return CLAMPFADE_CATALOGUE_INSTALL;
}

/// Entries by kind and name. What a scenario brings wins over the library, which is read when first needed.
class Catalogue {
public:
  Catalogue(Context& c, const ReadOptions& options) : c_(c), options_(options) {}

  void own(const Item& block) {
    own_ = &block;
    check(block, "catalogue");
  }
  const Item* own_entry(std::string_view kind, const std::string& name) const {
    const Item* group = own_ == nullptr ? nullptr : own_->find(kind);
    return group == nullptr ? nullptr : group->find(name);
  }
  [[nodiscard]] const Item* own_block() const { return own_; }

  const Item* find(std::string_view kind, const std::string& name) {
    if (const Item* entry = own_entry(kind, name)) {
      return entry;
    }
    read_library();
    for (const Block& file : library_) {
      const Item* group = file.item.find(kind);
      if (const Item* entry = group == nullptr ? nullptr : group->find(name)) {
        return entry;
      }
    }
    return nullptr;
  }
  std::vector<std::string> names(std::string_view kind) {
    read_library();
    std::set<std::string> out;
    const auto collect = [&](const Item& block) {
      if (const Item* group = block.find(kind)) {
        for (const Item::Name& n : group->names) {
          out.insert(n.text);
        }
      }
    };
    if (own_ != nullptr) {
      collect(*own_);
    }
    for (const Block& file : library_) {
      collect(file.item);
    }
    return {out.begin(), out.end()};
  }
  const std::vector<Block>& library() {
    read_library();
    return library_;
  }

private:
  Context& c_;
  const ReadOptions& options_;
  const Item* own_ = nullptr;
  std::vector<Block> library_;
  bool read_ = false;

  void check(const Item& block, const std::string& path) {
    const Map kinds(c_, block, path, section("catalogue"));
    for (const std::string_view kind : kKinds) {
      if (const Item* group = block.find(kind); group != nullptr && !group->map()) {
        c_.faults.add(Code::WrongType, *group, path + '/' + std::string(kind),
                      what_it_is(*group) + " where a map of entries is due", "name: {...}");
      }
    }
  }

  void read_library() {
    if (read_) {
      return;
    }
    read_ = true;
    const std::string folder = options_.catalogue.empty() ? default_catalogue() : options_.catalogue;
    std::error_code error;
    std::vector<fs::path> files;
    for (fs::directory_iterator it(folder, error); !error && it != fs::directory_iterator(); it.increment(error)) {
      if (it->path().extension() == ".yaml") {
        files.push_back(it->path());
      }
    }
    if (error) {
      throw FileError(Code::FileMissing,
                      fmt::format("{}: the catalogue folder can't be read: {}; set CLAMPFADE_CATALOGUE to it", folder,
                                  error.message()));
    }
    std::sort(files.begin(), files.end());
    library_.reserve(files.size());
    for (const fs::path& file : files) {
      std::string reason;
      const auto text = file_text(file.string(), options_.max_bytes, reason);
      if (!text) {
        throw FileError(Code::FileMissing, file.string() + ": " + reason);
      }
      Block block{make_source(file.string(), *text), {}};
      if (auto root = YamlLoader(*block.source, options_, c_.faults).load(*text)) {
        const Item* inner = root->find("catalogue");
        if (inner == nullptr || root->items.size() != 1) {
          c_.faults.add(Code::WrongType, *root, "", "a catalogue file is one map", "catalogue: {...}");
          continue;
        }
        block.item = *inner;
        check(block.item, "catalogue");
        for (const Block& other : library_) {
          report_twins(other, block);
        }
        library_.push_back(std::move(block));
      }
    }
  }

  void report_twins(const Block& first, const Block& second) {
    for (const std::string_view kind : kKinds) {
      const Item* a = first.item.find(kind);
      const Item* b = second.item.find(kind);
      if (a == nullptr || b == nullptr) {
        continue;
      }
      for (const Item::Name& n : b->names) {
        if (const Item* twin = a->find(n.text)) {
          c_.faults.add(Code::DuplicateKey, b->source, n.line, n.column, fmt::format("catalogue/{}/{}", kind, n.text),
                        fmt::format("this entry is also in {}, line {}", first.source->file, twin->line),
                        "each entry once");
        }
      }
    }
  }
};

// ------------------------------------------------------------------------------------------------ the scenario

/// Words of the guide table of embedding.
constexpr std::array<std::pair<std::string_view, Roughness>, 3> kRoughness = {
    {{"0-10 um", Roughness::UpTo10um}, {"10-40 um", Roughness::From10To40um}, {"40-160 um", Roughness::From40To160um}}};
constexpr std::array<std::pair<std::string_view, LoadDirection>, 2> kLoadDirection = {
    {{"axial", LoadDirection::Axial}, {"shear", LoadDirection::Shear}}};

/// Embedding of a thread, a bearing face and an inner interface: one amount for all, or a row of the guide table.
GuideEmbedding same_everywhere(double amount) { return {amount, amount, amount}; }

/// What an entry of `interfaces` says; the rest comes from `default`.
struct PartialInterface {
  std::map<std::string_view, double> values;
  std::optional<GuideEmbedding> embedding;
  std::array<std::optional<double>, 3> carries;
};

class Reader {
public:
  Reader(std::string name, const ReadOptions& options)
      : name_(std::move(name)), options_(options), catalogue_(c_, options_) {}

  Scenario read(const std::string& text) {
    const auto source = make_source(name_, text);
    const auto root = YamlLoader(*source, options_, c_.faults).load(text);
    if (root) {
      s_.source_path = name_;
      everything(*root);
    }
    finish();
    s_.resolved_text = resolved_text(s_, used_);
    return std::move(s_);
  }

  void check_library() {
    for (const Block& file : catalogue_.library()) {
      check_entries(file.item);
    }
    finish();
  }

private:
  std::string name_;
  const ReadOptions& options_;
  Context c_;
  Catalogue catalogue_;
  Scenario s_;
  std::vector<UsedEntry> used_;
  std::map<std::string, Thread> threads_;
  std::map<std::string, PropertyClass> classes_;
  std::map<std::string, Material> materials_;
  std::map<std::string, Coating> coatings_;
  std::map<std::string, HeatNetwork> networks_;
  std::vector<std::shared_ptr<const Source>> tables_; ///< CSV files, kept for messages
  double day_distance_ = 0;

  void finish() {
    if (c_.faults.any()) {
      throw InputError(c_.faults.errors());
    }
  }

  void everything(const Item& root) {
    Map map(c_, root, "", section(""));
    if (!map.is_map()) {
      return;
    }
    map.value("schema");
    s_.title = map.text_or("title", fs::path(name_).stem().string());
    if (const Item* own = map.find("catalogue")) {
      catalogue_.own(*own);
    }
    if (const Item* heat = map.need("heat")) {
      read_heat(*heat);
    }
    if (const Item* joint = map.need("joint")) {
      read_joint(*joint);
    }
    if (const Item* vehicle = map.need("vehicle")) {
      Map v(c_, *vehicle, "vehicle", section("vehicle"));
      fill(v, s_.vehicle);
      if (s_.vehicle.driven_ends > s_.vehicle.wheel_ends && s_.vehicle.wheel_ends > 0) {
        inconsistent(v.place("driven_ends"), v.at("driven_ends"), "more driven ends than wheel ends",
                     "at most wheel_ends");
      }
    }
    if (const Item* tightening = map.need("tightening")) {
      read_tightening(*tightening);
    }
    if (const Item* duty = map.need("duty")) {
      read_duty(*duty);
    }
    if (const Item* loosening = map.find("loosening")) {
      Map m(c_, *loosening, "loosening", section("loosening"));
      s_.loosening = m.choice("motion", {"rotating", "reciprocating"}, "rotating") == "rotating"
                         ? Motion::Rotating
                         : Motion::Reciprocating;
    }
    read_service(map);
    if (const Item* solution = map.find("solution")) {
      read_solution(*solution);
    }
    if (const Item* record = map.find("record")) {
      read_record(*record);
    }
    if (catalogue_.own_block() != nullptr) {
      check_entries(*catalogue_.own_block());
    }
    count_demo_values();
    s_.warnings = c_.faults.warnings();
  }

  void inconsistent(const Item& at, std::string path, std::string found, std::string allowed, std::string hint = "") {
    c_.faults.add(Code::Inconsistent, at, std::move(path), std::move(found), std::move(allowed), std::move(hint));
  }

  static std::string mm(double metres) { return friendly(metres, {"", "m", Quantity::Dimensional, {}, {}, ""}); }

  void count_demo_values() {
    const auto demo = std::count_if(s_.provenance.begin(), s_.provenance.end(),
                                    [](const Provenance& p) { return p.provenance == "demo"; });
    if (demo > 0) {
      c_.faults.warn(fmt::format(
          "{} of the {} catalogue values used are invented (provenance demo): measure or fit your own before "
          "trusting a figure",
          demo, s_.provenance.size()));
    }
  }

  // ---- entries of the catalogue

  Thread thread_entry(Map& m) {
    Thread t;
    fill(m, t);
    if (t.minor_diameter() <= t.diameter / 2) {
      inconsistent(m.place("pitch"), m.at("pitch"), "the pitch is too large for the diameter",
                   "well below half the diameter");
    }
    return t;
  }
  PropertyClass class_entry(Map& m) {
    PropertyClass p;
    fill(m, p);
    if (p.proof > p.tensile) {
      inconsistent(m.place("proof"), m.at("proof"), "the proof stress is above the tensile strength",
                   "proof below tensile");
    }
    for (const auto& [temperature, yield] : p.yield.points()) {
      if (yield > p.tensile) {
        inconsistent(m.place("yield"), m.at("yield"), "the yield strength is above the tensile strength",
                     "yield below tensile");
        break;
      }
    }
    return p;
  }
  Material material_entry(Map& m) {
    Material material;
    fill(m, material);
    if (const Item* creep = m.find("creep")) {
      Map sub(c_, *creep, m.at("creep"), section("catalogue/materials/*/creep"));
      material.creep.emplace();
      fill(sub, *material.creep);
    }
    return material;
  }
  Coating coating_entry(Map& m) {
    Coating k;
    fill(m, k);
    if (const Item* relaxation = m.need("relaxation")) {
      Map sub(c_, *relaxation, m.at("relaxation"), section("catalogue/coatings/*/relaxation"));
      fill(sub, k.relaxation);
      if (k.relaxation.shortest > k.relaxation.longest) {
        inconsistent(sub.place("shortest"), sub.at("shortest"), "the shortest time is above the longest",
                     "shortest up to longest");
      }
    }
    if (const Item* flow = m.find("flow")) {
      Map sub(c_, *flow, m.at("flow"), section("catalogue/coatings/*/flow"));
      k.flow.emplace();
      fill(sub, *k.flow);
    }
    if (const Item* breakdown = m.find("breakdown")) {
      Map sub(c_, *breakdown, m.at("breakdown"), section("catalogue/coatings/*/breakdown"));
      k.breakdown.emplace();
      fill(sub, *k.breakdown);
    }
    if (k.compaction_cold > k.compaction_hot) {
      inconsistent(m.place("compaction_cold"), m.at("compaction_cold"), "the film would give less when hot",
                   "compaction_cold up to compaction_hot");
    }
    // A hair for the round-off of a sum that is 1 on paper.
    if (k.pigment + k.compaction_hot > 1 + 1e-12) {
      inconsistent(
          m.place("pigment"), m.at("pigment"),
          fmt::format("pigment and compaction_hot are {:.4g} of the film together", k.pigment + k.compaction_hot),
          "together at most 1");
    }
    return k;
  }
  HeatNetwork network_entry(Map& m) {
    HeatNetwork network;
    const std::string base = "catalogue/heat_networks/*/";
    std::vector<std::string> names;
    if (const Item* nodes = m.need("nodes")) {
      if (!nodes->map() || nodes->items.empty()) {
        c_.faults.add(Code::WrongType, *nodes, m.at("nodes"), what_it_is(*nodes) + " where a map of nodes is due",
                      "name: {capacity, still, moving}");
      }
      for (std::size_t i = 0; nodes->map() && i < nodes->items.size(); ++i) {
        Map node(c_, nodes->items[i], m.at("nodes") + '/' + nodes->names[i].text, section(base + "nodes/*"));
        HeatNode n;
        fill(node, n);
        n.name = nodes->names[i].text;
        if (n.name == "ambient") {
          c_.faults.add(Code::DuplicateKey, nodes->source, nodes->names[i].line, nodes->names[i].column, node.path(),
                        "'ambient' is the air around", "another name");
        }
        names.push_back(n.name);
        network.nodes.push_back(std::move(n));
      }
    }
    const auto node_index = [&](const Item& item, const std::string& path) -> std::size_t {
      const auto found = std::find(names.begin(), names.end(), item.text);
      if (!item.scalar() || found == names.end()) {
        unknown_node(item, path, names);
        return 0;
      }
      return static_cast<std::size_t>(found - names.begin());
    };
    for (const auto& [item, path] : m.list("links")) {
      if (!item->list() || item->items.size() != 3) {
        c_.faults.add(Code::WrongType, *item, path, what_it_is(*item) + " where a link is due",
                      "[node, node, conductance]");
        continue;
      }
      HeatLink link;
      link.from = node_index(item->items[0], path);
      link.to = node_index(item->items[1], path);
      link.conductance = read_value(c_, item->items[2], section(base + "links/*").keys.front().spec, path);
      if (item->items[0].scalar() && item->items[0].text == item->items[1].text) {
        inconsistent(*item, path, "a node linked to itself", "two nodes");
      }
      network.links.push_back(link);
    }
    for (const auto& [item, path] : m.list("radiation")) {
      Map r(c_, *item, path, section(base + "radiation/*"));
      HeatRadiation radiation;
      if (const Item* from = r.need("from")) {
        radiation.from = node_index(*from, r.at("from"));
      }
      if (const Item* to = r.need("to")) {
        radiation.to = to->scalar() && to->text == "ambient" ? HeatRadiation::kAmbient : node_index(*to, r.at("to"));
      }
      radiation.emissivity_area = r.value("emissivity_area");
      network.radiation.push_back(radiation);
    }
    if (const Item* brake = m.need("brake")) {
      network.brake = node_index(*brake, m.at("brake"));
    }
    return network;
  }

  void unknown_node(const Item& item, const std::string& path, const std::vector<std::string>& names) {
    const std::string near = item.scalar() ? nearest(item.text, names) : "";
    c_.faults.add(Code::UnknownNode, item, path, what_it_is(item) + " is not a node of the heat network", joined(names),
                  near.empty() ? "" : "did you mean " + near + "?");
  }

  /// Reads an entry with its source and provenance.
  template <class T>
  T entry(const Item& item, const std::string& kind, const std::string& path, bool inline_entry,
          T (Reader::*make)(Map&), UsedEntry& used) {
    const Section& keys = section(path == "heat" ? "heat" : "catalogue/" + kind + "/*");
    Map map(c_, item, path, keys);
    T made = map.is_map() ? (this->*make)(map) : T{};
    if (map.is_map()) {
      used.source = inline_entry ? map.text_or("source", "given in the scenario") : map.text("source");
      static const std::vector<std::string> kinds = {"given", "published", "memory", "practice", "demo", "fitted"};
      if (!inline_entry) {
        map.need("provenance");
      }
      used.provenance = map.choice("provenance", kinds, "given");
    }
    return made;
  }

  /// The entry that `ref` names or is. Each is read once, noted as used, and its values go to the provenance table.
  template <class T>
  T resolve(std::map<std::string, T>& pool, const Item& ref, const std::string& kind, const std::string& path,
            T (Reader::*make)(Map&)) {
    const bool inline_entry = ref.map();
    if (!inline_entry && !(ref.scalar() && !ref.text.empty())) {
      c_.faults.add(Code::WrongType, ref, path, what_it_is(ref) + " where an entry is due",
                    "a name from the catalogue, or a map of its keys");
      return {};
    }
    const std::string name = inline_entry ? path : ref.text;
    if (const auto known = pool.find(name); known != pool.end()) {
      return known->second;
    }
    const Item* item = inline_entry ? &ref : catalogue_.find(kind, name);
    if (item == nullptr) {
      const std::vector<std::string> names = catalogue_.names(kind);
      const std::string near = nearest(name, names);
      c_.faults.add(Code::UnknownEntry, ref, path, fmt::format("'{}' is not in the catalogue's {}", name, kind),
                    joined(names), near.empty() ? "" : "did you mean " + near + "?");
      return {};
    }
    UsedEntry used{kind, name, item, "", ""};
    const std::string entry_path = inline_entry ? path : "catalogue/" + kind + "/" + name;
    T made = entry(*item, kind, entry_path, inline_entry, make, used);
    made.name = name;
    pool.emplace(name, made);
    note_values(*item, kind + '/' + name, "", used);
    used_.push_back(std::move(used));
    return made;
  }

  void note_values(const Item& item, const std::string& entry_name, const std::string& key, const UsedEntry& used) {
    if (!item.map()) {
      s_.provenance.push_back({entry_name, key, plain_text(item), used.source, used.provenance});
      return;
    }
    for (std::size_t i = 0; i < item.items.size(); ++i) {
      const std::string& k = item.names[i].text;
      if (!(key.empty() && (k == "source" || k == "provenance"))) {
        note_values(item.items[i], entry_name, key.empty() ? k : key + '/' + k, used);
      }
    }
  }

  /// Faults in entries that nothing uses are faults all the same.
  void check_entries(const Item& block) {
    c_.quiet = true;
    const auto each = [&](const char* kind, const auto& pool, auto make) {
      const Item* group = block.find(kind);
      if (group == nullptr || !group->map()) {
        return;
      }
      for (std::size_t i = 0; i < group->items.size(); ++i) {
        if (pool.count(group->names[i].text) == 0) {
          UsedEntry ignored;
          entry(group->items[i], kind, fmt::format("catalogue/{}/{}", kind, group->names[i].text), false, make,
                ignored);
        }
      }
    };
    each("threads", threads_, &Reader::thread_entry);
    each("property_classes", classes_, &Reader::class_entry);
    each("materials", materials_, &Reader::material_entry);
    each("coatings", coatings_, &Reader::coating_entry);
    each("heat_networks", networks_, &Reader::network_entry);
    c_.quiet = false;
  }

  Material material(Map& m) {
    const Item* ref = m.need("material");
    return ref == nullptr ? Material{}
                          : resolve(materials_, *ref, "materials", m.at("material"), &Reader::material_entry);
  }

  // ---- heat

  void read_heat(const Item& item) {
    Map map(c_, item, "heat", section("heat"));
    if (!map.is_map()) {
      return;
    }
    if (const Item* network = map.find("network")) {
      for (const Item::Name& n : item.names) {
        if (n.text != "network" && section("heat").find(n.text) != nullptr) {
          c_.faults.add(Code::Inconsistent, item.source, n.line, n.column, map.at(n.text), "given beside `network`",
                        "either `network` or the keys of one");
        }
      }
      if (network->map()) {
        c_.faults.add(Code::WrongType, *network, map.at("network"), "a map where a name is due",
                      "a name from the catalogue", "write the keys of the network in `heat` itself");
        return;
      }
      s_.heat = resolve(networks_, *network, "heat_networks", map.at("network"), &Reader::network_entry);
      return;
    }
    s_.heat = resolve(networks_, item, "heat_networks", "heat", &Reader::network_entry);
  }

  [[nodiscard]] std::vector<std::string> node_names() const {
    std::vector<std::string> names;
    for (const HeatNode& n : s_.heat.nodes) {
      names.push_back(n.name);
    }
    return names;
  }

  std::string node_name(const Item& item, const std::string& path) {
    const std::vector<std::string> names = node_names();
    // Without a network its own fault has been said already.
    if (!names.empty() && (!item.scalar() || std::find(names.begin(), names.end(), item.text) == names.end())) {
      unknown_node(item, path, names);
    }
    return item.text;
  }

  // ---- joint

  void read_joint(const Item& item) {
    Map map(c_, item, "joint", section("joint"));
    if (!map.is_map()) {
      return;
    }
    JointSpec& j = s_.joint;
    const Item* studs = map.need("studs");
    if (studs != nullptr) {
      read_studs(*studs);
    }
    if (const Item* head = map.need("head")) {
      Map m(c_, *head, "joint/head", section("joint/head"));
      j.head_bearing = m.value("bearing_diameter");
    }
    if (const Item* nut = map.need("nut")) {
      read_nut(*nut);
    }
    if (const Item* pilot = map.find("pilot")) {
      Map m(c_, *pilot, "joint/pilot", section("joint/pilot"));
      j.pilot_clearance = m.value("clearance");
    }
    read_stack(map);
    if (studs != nullptr) {
      read_stud_nodes(*studs);
    }
    read_interfaces(map);
    j.thread_embedding = *section("joint/thread_contact").find("embedding")->fallback;
    if (const Item* thread = map.find("thread_contact")) {
      Map m(c_, *thread, "joint/thread_contact", section("joint/thread_contact"));
      const Item* amount = m.find("embedding");
      const Key& key = m.declared("embedding");
      j.thread_embedding =
          amount == nullptr ? *key.fallback : read_embedding(*amount, m.at("embedding"), key.spec).thread;
    }
    if (const Item* ring = map.find("ring_coupling")) {
      Map m(c_, *ring, "joint/ring_coupling", section("joint/ring_coupling"));
      j.ring.active = m.flag("active", true);
      j.ring.width = m.maybe("width");
      j.ring.factor = m.value("factor");
      if (j.ring.active && j.studs.count > 0 && j.studs.count < 3) {
        inconsistent(*ring, "joint/ring_coupling", "a ring needs at least three studs",
                     "active: false, or three studs and more");
      }
    }
    if (const Item* cone = map.find("cone"); cone != nullptr && !(cone->scalar() && cone->text == "proportions")) {
      if (cone->scalar() && !cone->text.empty() && std::isalpha(static_cast<unsigned char>(cone->text.front())) != 0) {
        c_.faults.add(Code::UnknownEntry, *cone, "joint/cone", fmt::format("'{}' is not known", cone->text),
                      "proportions, or an angle such as 30 deg");
      } else {
        j.cone_angle = map.value("cone");
      }
    }
    j.load_introduction = map.value("load_introduction");
    s_.required_clamp = map.maybe("required_clamp");
    s_.required_slip_margin = map.value("required_slip_margin");
    read_design_cases(map);
    check_joint(map);
  }

  void read_studs(const Item& item) {
    Map m(c_, item, "joint/studs", section("joint/studs"));
    StudSpec& studs = s_.joint.studs;
    studs.count = m.count("count");
    studs.bolt_circle = m.value("bolt_circle");
    if (const Item* ref = m.need("thread")) {
      studs.thread = resolve(threads_, *ref, "threads", m.at("thread"), &Reader::thread_entry);
    }
    if (const Item* ref = m.need("property_class")) {
      studs.property_class = resolve(classes_, *ref, "property_classes", m.at("property_class"), &Reader::class_entry);
    }
    studs.material = material(m);
    studs.shank = m.value("shank");
  }

  /// After the stack, whose nodes are the default.
  void read_stud_nodes(const Item& item) {
    StudSpec& studs = s_.joint.studs;
    const Item* node = item.map() ? item.find("node") : nullptr;
    if (node == nullptr) {
      const auto& stack = s_.joint.stack;
      const auto disc = std::find_if(stack.rbegin(), stack.rend(), [](const PartSpec& p) { return p.wheel; });
      if (!stack.empty()) {
        studs.nodes = {stack.front().node};
      }
      if (disc != stack.rend() && disc->node != stack.front().node) {
        studs.nodes.push_back(disc->node);
      }
    } else if (node->list() && !node->items.empty()) {
      for (const Item& one : node->items) {
        studs.nodes.push_back(node_name(one, "joint/studs/node"));
      }
    } else {
      studs.nodes = {node_name(*node, "joint/studs/node")};
    }
  }

  void read_ring(Map& map, std::string_view key, double& outer, double& inner) {
    const Item* item = map.find(key);
    if (item == nullptr) {
      return;
    }
    Map m(c_, *item, map.at(key), section(map.at(key)));
    outer = m.value("outer");
    inner = m.value("inner");
    if (inner >= outer) {
      inconsistent(m.place("inner"), m.at("inner"), "the inner diameter is not below the outer", "inner below outer");
    }
  }

  void read_nut(const Item& item) {
    Map m(c_, item, "joint/nut", section("joint/nut"));
    if (!m.is_map()) {
      return;
    }
    NutSpec& nut = s_.joint.nut;
    m.need("bearing");
    nut.bearing_outer = nut.bearing_inner = kNone;
    read_ring(m, "bearing", nut.bearing_outer, nut.bearing_inner);
    nut.seat_outer = nut.bearing_outer;
    nut.seat_inner = nut.bearing_inner;
    read_ring(m, "seat", nut.seat_outer, nut.seat_inner);
    nut.prevailing_torque = m.value("prevailing_torque");
    const double stud = s_.joint.studs.thread.diameter;
    for (const auto& [key, inner] : {std::pair{"bearing", nut.bearing_inner}, std::pair{"seat", nut.seat_inner}}) {
      if (inner < stud && m.find(key) != nullptr) {
        const Item& ring = *m.find(key);
        inconsistent(ring.map() && ring.find("inner") != nullptr ? *ring.find("inner") : ring, m.at(key) + "/inner",
                     fmt::format("the stud of {} does not pass", mm(stud)), "at least the thread's diameter");
      }
    }
    if (const Item* sleeve = m.find("sleeve")) {
      Map sub(c_, *sleeve, m.at("sleeve"), section("joint/nut/sleeve"));
      nut.sleeve = sub.value("outer");
      if (*nut.sleeve < stud) {
        inconsistent(sub.place("outer"), sub.at("outer"),
                     fmt::format("the stud of {} does not fit into the sleeve", mm(stud)),
                     "more than the thread's diameter");
      }
    }
    if (const Item* washers = m.find("spring_washers")) {
      read_washers(*washers, stud);
    }
  }

  void read_washers(const Item& item, double stud) {
    Map m(c_, item, "joint/nut/spring_washers", section("joint/nut/spring_washers"));
    if (!m.is_map()) {
      return;
    }
    WasherSpec& w = s_.joint.nut.spring_washers.emplace();
    fill(m, w);
    w.material = material(m);
    if (m.find("set") == nullptr) {
      w.set = Table();
    }
    if (w.inner >= w.outer) {
      inconsistent(m.place("inner"), m.at("inner"), "the inner diameter is not below the outer", "inner below outer");
    }
    if (w.inner < stud) {
      inconsistent(m.place("inner"), m.at("inner"), fmt::format("the stud of {} does not pass", mm(stud)),
                   "at least the thread's diameter");
    }
    if (w.reduced_thickness > w.thickness) {
      inconsistent(m.place("reduced_thickness"), m.at("reduced_thickness"), "thicker than the washer",
                   "at most thickness");
    }
    // Past its peak the washer's force would fall while the nut goes on turning: no clamp belongs to a torque there.
    const double height = largest_rising_height(w.thickness, w.reduced_thickness);
    if (w.reduced_thickness <= w.thickness && w.cone_height >= height) {
      inconsistent(m.place("cone_height"), m.at("cone_height"), "the washer's force falls before it is flat",
                   height > 0 ? "below " + mm(height) + ", where the force rises all the way to flat"
                              : "a larger reduced_thickness, so that the force rises all the way to flat");
    }
    if (w.friction * (static_cast<double>(w.parallel) - 1) >= 1) {
      inconsistent(m.place("friction"), m.at("friction"), "nested cones with this friction lock",
                   "friction below 1/(parallel - 1)");
    }
    if (w.outer < 16 * w.thickness) {
      c_.faults.warn(fmt::format(
          "joint/nut/spring_washers: outer over thickness is {:.3g}; the spring formula is for thin discs, from 16 up",
          w.outer / w.thickness));
    }
    for (const auto& [temperature, q] : w.set.points()) {
      if (q >= 1) {
        inconsistent(m.place("set"), m.at("set"), "washers that lose all their deflection", "well below 1");
        break;
      }
    }
  }

  void read_stack(Map& map) {
    std::set<std::string> names;
    const std::vector<std::string> nodes = node_names();
    for (const auto& [item, numbered] : map.list("stack", true)) {
      const Item* named = item->map() ? item->find("part") : nullptr;
      const std::string path = named != nullptr && named->scalar() ? "joint/stack/" + named->text : numbered;
      Map m(c_, *item, path, section("joint/stack/*"));
      if (!m.is_map()) {
        continue;
      }
      PartSpec part;
      part.name = m.text("part");
      if (part.name == "head" || part.name == "nut" || part.name == "default" ||
          part.name.find('|') != std::string::npos) {
        inconsistent(m.place("part"), m.at("part"), fmt::format("'{}' can't be the name of a part", part.name),
                     "another name, without |", "head, nut and default name other things in `interfaces`");
      } else if (!part.name.empty() && !names.insert(part.name).second) {
        c_.faults.add(Code::DuplicateKey, m.place("part"), m.at("part"),
                      fmt::format("two parts are called '{}'", part.name), "each name once");
      }
      part.wheel = m.flag("wheel", false);
      part.material = material(m);
      fill(m, part);
      if (const Item* node = m.find("node")) {
        part.node = node_name(*node, m.at("node"));
      } else if (nodes.size() == 1) {
        part.node = nodes.front();
      } else if (!nodes.empty()) {
        c_.faults.add(Code::MissingKey, *item, m.at("node"), "this key is missing", joined(nodes));
      }
      if (const Item* flatness = m.find("flatness")) {
        Map sub(c_, *flatness, m.at("flatness"), section("joint/stack/*/flatness"));
        part.flatness.emplace();
        fill(sub, *part.flatness);
        if (!part.wheel) {
          inconsistent(*flatness, m.at("flatness"), "this part is no wheel disc",
                       "flatness for parts with wheel: true");
        }
      }
      part.head_side = read_face(m, "head_side");
      part.nut_side = read_face(m, "nut_side");
      if (part.hole >= part.pad) {
        inconsistent(m.place("hole"), m.at("hole"),
                     fmt::format("the hole of {} takes the whole pad of {}", mm(part.hole), mm(part.pad)),
                     "hole below pad");
      }
      if (part.hole < s_.joint.studs.thread.diameter) {
        inconsistent(m.place("hole"), m.at("hole"),
                     fmt::format("the stud of {} does not pass the hole", mm(s_.joint.studs.thread.diameter)),
                     "at least the thread's diameter");
      }
      if (part.wheel && s_.joint.nut.sleeve && *s_.joint.nut.sleeve > part.hole) {
        inconsistent(m.place("hole"), m.at("hole"),
                     fmt::format("the sleeve of {} does not enter the hole", mm(*s_.joint.nut.sleeve)),
                     "at least joint/nut/sleeve/outer");
      }
      s_.joint.stack.push_back(std::move(part));
    }
    const Item* stack = map.find("stack");
    if (stack != nullptr && stack->list()) {
      // What `wheel` says may be a fault of its own; then this is not told too.
      const auto may_be_wheel = [](const Item& part) {
        const Item* wheel = part.map() ? part.find("wheel") : nullptr;
        return !part.map() || (wheel != nullptr && wheel->text != "false");
      };
      if (stack->items.empty()) {
        inconsistent(*stack, "joint/stack", "the list is empty", "at least one part");
      } else if (std::none_of(stack->items.begin(), stack->items.end(), may_be_wheel)) {
        inconsistent(*stack, "joint/stack", "no part is a wheel disc", "wheel: true for at least one part");
      }
    }
  }

  std::optional<FaceCoating> read_face(Map& part, std::string_view side) {
    const Item* item = part.find(side);
    if (item == nullptr) {
      return std::nullopt;
    }
    Map m(c_, *item, part.at(side), section("joint/stack/*/" + std::string(side)));
    if (!m.is_map()) {
      return std::nullopt;
    }
    FaceCoating face;
    if (const Item* ref = m.need("coating")) {
      face.coating = resolve(coatings_, *ref, "coatings", m.at("coating"), &Reader::coating_entry);
    }
    face.thickness = m.value("thickness");
    return face.thickness == 0 ? std::nullopt : std::optional(std::move(face));
  }

  /// The value of a word in the guide table.
  template <class T, std::size_t N>
  std::optional<T> row(Map& m, std::string_view key, const std::array<std::pair<std::string_view, T>, N>& rows) {
    const std::string word = m.text(key);
    std::vector<std::string> words;
    for (const auto& [known, value] : rows) {
      if (known == word) {
        return value;
      }
      words.emplace_back(known);
    }
    if (!word.empty()) {
      c_.faults.add(Code::UnknownEntry, m.place(key), m.at(key), fmt::format("'{}' is not in the guide table", word),
                    joined(words));
    }
    return std::nullopt;
  }

  GuideEmbedding read_embedding(const Item& item, const std::string& path, const ParamSpec& spec) {
    if (!item.map()) {
      return same_everywhere(read_value(c_, item, spec, path));
    }
    Map m(c_, item, path, section("joint/interfaces/*/embedding"));
    const auto roughness = row(m, "roughness", kRoughness);
    const auto load = row(m, "load", kLoadDirection);
    return roughness && load ? guide_embedding(*roughness, *load) : same_everywhere(kNone);
  }

  PartialInterface read_partial(const Item& item, const std::string& path) {
    PartialInterface partial;
    Map m(c_, item, path, section("joint/interfaces/*"));
    if (!m.is_map()) {
      return partial;
    }
    for (const Field<InterfaceSpec>& f : InterfaceSpec::fields()) {
      if (f.spec.key == "embedding") {
        if (const Item* amount = m.find("embedding")) {
          partial.embedding = read_embedding(*amount, m.at("embedding"), f.spec);
        }
      } else if (const auto v = m.maybe(f.spec.key)) {
        partial.values[f.spec.key] = *v;
      }
    }
    if (const Item* carries = m.find("carries")) {
      Map sub(c_, *carries, m.at("carries"), section("joint/interfaces/*/carries"));
      partial.carries = {sub.maybe("radial"), sub.maybe("brake"), sub.maybe("traction")};
    }
    return partial;
  }

  void read_interfaces(Map& map) {
    const auto& stack = s_.joint.stack;
    std::vector<std::string> names;
    for (std::size_t i = 0; i <= stack.size(); ++i) {
      names.push_back((i == 0 ? "head" : stack[i - 1].name) + " | " + (i == stack.size() ? "nut" : stack[i].name));
    }
    const Item* item = map.find("interfaces");
    PartialInterface common;
    std::map<std::string, PartialInterface> named;
    if (item != nullptr && !item->map()) {
      c_.faults.add(Code::WrongType, *item, "joint/interfaces", what_it_is(*item) + " where a map is due",
                    "default: {...}, and names of touching pairs");
    }
    for (std::size_t i = 0; item != nullptr && item->map() && i < item->items.size(); ++i) {
      const Item::Name& n = item->names[i];
      const std::string path = "joint/interfaces/" + n.text;
      if (n.text == "default") {
        common = read_partial(item->items[i], path);
      } else if (std::find(names.begin(), names.end(), n.text) != names.end()) {
        named[n.text] = read_partial(item->items[i], path);
      } else {
        const std::string near = nearest(n.text, names);
        c_.faults.add(Code::UnknownEntry, item->source, n.line, n.column, path,
                      "no two neighbours of the stack have these names", joined(names),
                      near.empty() ? "" : "did you mean " + near + "?");
      }
    }
    for (std::size_t i = 0; i < names.size(); ++i) {
      const PartialInterface& own = named[names[i]];
      InterfaceSpec face;
      face.name = names[i];
      for (const Field<InterfaceSpec>& f : InterfaceSpec::fields()) {
        const auto here = own.values.find(f.spec.key);
        const auto everywhere = common.values.find(f.spec.key);
        face.*std::get<double InterfaceSpec::*>(f.member) = here != own.values.end()            ? here->second
                                                            : everywhere != common.values.end() ? everywhere->second
                                                                                                : f.fallback.value();
      }
      if (const auto e = own.embedding ? own.embedding : common.embedding) {
        const bool outer = i == 0 || i + 1 == names.size();
        face.embedding = outer ? e->bearing : e->inner;
      }
      const auto share = [&](std::size_t k) { return own.carries[k] ? own.carries[k] : common.carries[k]; };
      face.carries_radial = share(0);
      face.carries_brake = share(1);
      face.carries_traction = share(2);
      s_.joint.interfaces.push_back(std::move(face));
    }
  }

  void read_design_cases(Map& map) {
    if (map.find("design_cases") == nullptr) {
      s_.design_cases = default_design_cases();
      return;
    }
    std::set<std::string> names;
    for (const auto& [item, path] : map.list("design_cases")) {
      Map m(c_, *item, path, section("joint/design_cases/*"));
      if (!m.is_map()) {
        continue;
      }
      DesignCase load;
      load.name = m.text("name");
      load.deceleration = m.maybe("deceleration");
      load.lateral_share = m.maybe("lateral_share");
      load.dynamic_factor = m.maybe("dynamic_factor");
      if (!load.deceleration && !load.lateral_share && !load.dynamic_factor) {
        inconsistent(*item, path, "the case has no load of its own",
                     "at least one of deceleration, lateral_share, dynamic_factor");
      }
      if (!load.name.empty() && !names.insert(load.name).second) {
        c_.faults.add(Code::DuplicateKey, m.place("name"), m.at("name"),
                      fmt::format("two cases are called '{}'", load.name), "each name once");
      }
      s_.design_cases.push_back(std::move(load));
    }
    const Item& cases = map.place("design_cases");
    if (cases.list() && cases.items.empty() && !s_.required_clamp) {
      inconsistent(cases, "joint/design_cases", "no case, and no required_clamp either", "one of the two");
    }
  }

  /// What only the whole joint shows.
  void check_joint(Map& map) {
    const JointSpec& j = s_.joint;
    if (j.stack.empty()) {
      return;
    }
    const auto place = [&](std::initializer_list<std::string_view> keys) -> const Item& {
      const Item* at = &map.item();
      for (const std::string_view key : keys) {
        const Item* next = at->map() ? at->find(key) : nullptr;
        if (next == nullptr) {
          break;
        }
        at = next;
      }
      return *at;
    };
    if (j.head_bearing <= j.stack.front().hole) {
      inconsistent(place({"head", "bearing_diameter"}), "joint/head/bearing_diameter",
                   fmt::format("the head falls through the hole of {}", mm(j.stack.front().hole)),
                   "more than the first part's hole");
    }
    const double hole = j.stack.back().hole;
    if (j.nut.spring_washers) {
      if (j.nut.spring_washers->outer <= hole) {
        inconsistent(place({"nut", "spring_washers", "outer"}), "joint/nut/spring_washers/outer",
                     fmt::format("the washers fall through the hole of {}", mm(hole)),
                     "more than the last part's hole");
      }
    } else if (j.nut.seat_outer <= hole) {
      inconsistent(place({"nut", "seat"}), "joint/nut/seat",
                   fmt::format("the nut falls through the hole of {}", mm(hole)),
                   "an outer diameter above the last part's hole");
    }
    const double grip = grip_length(j);
    // The stud yields in its free thread, and one as short as round-off is none.
    if (j.studs.shank > grip * (1 - 1e-9)) {
      inconsistent(place({"studs", "shank"}), "joint/studs/shank",
                   fmt::format("the shank leaves no free thread in the grip of {}", mm(grip)), "below the grip length");
    }
    for (const PartSpec& p : j.stack) {
      if (p.flatness && !j.ring.active) {
        c_.faults.warn(fmt::format("joint/stack/{}/flatness has no effect without joint/ring_coupling", p.name));
      }
    }
  }

  // ---- tightening

  /// One value for all studs, or a list with one for each.
  std::vector<double> per_stud(Map& map, std::string_view key) {
    const std::size_t n = s_.joint.studs.count;
    const Item* item = map.need(key);
    if (item == nullptr) {
      return std::vector<double>(n, kNone);
    }
    const ParamSpec& spec = map.declared(key).spec;
    if (!item->list()) {
      return std::vector<double>(n, read_value(c_, *item, spec, map.at(key)));
    }
    std::vector<double> values;
    for (std::size_t i = 0; i < item->items.size(); ++i) {
      values.push_back(read_value(c_, item->items[i], spec, fmt::format("{}/{}", map.at(key), i + 1)));
    }
    if (values.size() != n && n > 0) {
      inconsistent(*item, map.at(key), fmt::format("{} values for {} studs", values.size(), n),
                   fmt::format("one value, or a list of {}", n));
    }
    values.resize(n, kNone);
    return values;
  }

  void read_tightening(const Item& item) {
    Map m(c_, item, "tightening", section("tightening"));
    if (!m.is_map()) {
      return;
    }
    TighteningSpec& t = s_.tightening;
    t.torque = per_stud(m, "torque");
    if (const Item* friction = m.need("friction")) {
      Map f(c_, *friction, "tightening/friction", section("tightening/friction"));
      t.thread_friction = per_stud(f, "thread");
      t.bearing_friction = per_stud(f, "bearing");
      t.breakaway = f.table("breakaway", kAgeAxis);
    }
    if (m.find("passes") != nullptr) {
      t.passes.clear();
      for (const auto& [pass, path] : m.list("passes")) {
        t.passes.push_back(read_value(c_, *pass, m.declared("passes").spec, path));
      }
      const Item& passes = m.place("passes");
      if (passes.list() && passes.items.empty()) {
        inconsistent(passes, m.at("passes"), "the list is empty", "at least one pass, for example [1.0]");
      } else if (!t.passes.empty() && std::abs(t.passes.back() - 1) > 1e-9) {
        c_.faults.warn(
            fmt::format("tightening/passes: the last pass is {:.4g} of the torque, not all of it", t.passes.back()));
      }
    }
    read_order(m);
    t.pause = m.value("pause");
    t.temperature = m.value("temperature");
    if (const Item* records = m.find("records")) {
      read_records(*records);
    }
    for (std::size_t i = 0; i < t.torque.size(); ++i) {
      if (t.torque[i] <= s_.joint.nut.prevailing_torque) {
        inconsistent(m.place("torque"), m.at("torque"), "the torque does not exceed the nut's prevailing torque",
                     "more than joint/nut/prevailing_torque");
        break;
      }
    }
  }

  void read_order(Map& m) {
    const std::size_t n = s_.joint.studs.count;
    const Item* order = m.find("order");
    if (order == nullptr || (order->scalar() && order->text == "star")) {
      s_.tightening.order = star_order(n);
      return;
    }
    if (!order->list()) {
      c_.faults.add(Code::WrongType, *order, m.at("order"), what_it_is(*order) + " is no order",
                    "star, or a list of stud numbers from 1");
      return;
    }
    const ParamSpec number{"stud", "1",   Quantity::Count, {1, static_cast<double>(std::max<std::size_t>(n, 1))},
                           {},     "stud"};
    std::set<std::size_t> seen;
    bool whole = true;
    for (std::size_t i = 0; i < order->items.size(); ++i) {
      const std::string path = fmt::format("{}/{}", m.at("order"), i + 1);
      const double v = read_value(c_, order->items[i], number, path);
      if (std::isnan(v)) {
        whole = false;
        continue;
      }
      const auto stud = static_cast<std::size_t>(v) - 1;
      if (!seen.insert(stud).second) {
        c_.faults.add(Code::DuplicateKey, order->items[i], path, fmt::format("stud {} is named twice", stud + 1),
                      "each stud once");
      }
      s_.tightening.order.push_back(stud);
    }
    if (whole && n > 0 && seen.size() < n && order->items.size() <= n) {
      std::vector<std::string> left;
      for (std::size_t i = 0; i < n; ++i) {
        if (seen.count(i) == 0) {
          left.push_back(std::to_string(i + 1));
        }
      }
      inconsistent(*order, m.at("order"), "these studs are not named: " + joined(left), "each stud once");
    }
  }

  // ---- CSV tables

  struct Csv {
    const Source* source = nullptr;
    std::vector<CsvRow> rows;
  };

  /// The table's text from a file beside the scenario or from the scenario itself.
  std::optional<Csv> load_csv(Map* map, const Item* inline_text, const Item* file, const std::string& path) {
    Csv csv;
    std::string text;
    if (inline_text != nullptr) {
      text = map->word(*inline_text, path);
      if (text.empty()) {
        return std::nullopt;
      }
      tables_.push_back(make_source(fmt::format("{} ({})", name_, path), text));
    } else {
      if (!file->scalar() || file->text.empty()) {
        c_.faults.add(Code::WrongType, *file, path, what_it_is(*file) + " where a file is due",
                      "the name of a CSV file");
        return std::nullopt;
      }
      const std::string where = (fs::path(name_).parent_path() / file->text).string();
      std::string reason;
      const auto read = file_text(where, options_.max_table_bytes, reason);
      if (!read) {
        c_.faults.add(Code::FileMissing, *file, path, fmt::format("'{}' can't be read: {}", where, reason),
                      "a CSV file, relative to the scenario");
        return std::nullopt;
      }
      if (read->size() > options_.max_table_bytes) {
        c_.faults.add(Code::TooLarge, *file, path,
                      fmt::format("'{}' is longer than {} bytes", where, options_.max_table_bytes), "");
        return std::nullopt;
      }
      text = *read;
      tables_.push_back(make_source(where, text));
    }
    csv.source = tables_.back().get();
    if (const auto bad = bad_character(text)) {
      c_.faults.add(Code::Syntax, csv.source, bad->first, 0, "",
                    fmt::format("character {} of this line is not UTF-8 text", bad->second),
                    "UTF-8 without control characters");
      return std::nullopt;
    }
    csv.rows = csv_rows(text);
    if (csv.rows.size() < 2) {
      c_.faults.add(Code::Syntax, csv.source, 0, 0, "", "the table has no rows below its header", "a header and rows");
      return std::nullopt;
    }
    return csv;
  }

  void csv_fault(const Csv& csv, const CsvRow& row, Code code, std::string column, std::string found,
                 std::string allowed, std::string hint = "") {
    c_.faults.add(code, csv.source, row.line, 0, std::move(column), std::move(found), std::move(allowed),
                  std::move(hint));
  }

  /// A cell as a plain finite number.
  double csv_number(const Csv& csv, const CsvRow& row, std::size_t column, const std::string& name) {
    const auto v = plain_number(row.cells[column]);
    if (!v) {
      csv_fault(csv, row, Code::NotANumber, name, fmt::format("'{}' is not a plain finite number", row.cells[column]),
                "a number");
    }
    return v.value_or(kNone);
  }

  bool row_fits(const Csv& csv, const CsvRow& row) {
    if (row.cells.size() == csv.rows.front().cells.size()) {
      return true;
    }
    csv_fault(csv, row, Code::Syntax, "",
              fmt::format("{} cells under a header of {}", row.cells.size(), csv.rows.front().cells.size()),
              "as many cells as the header");
    return false;
  }

  /// Faults of a long table are told up to here.
  static constexpr std::size_t kTableFaults = 20;

  void read_records(const Item& item) {
    std::optional<Csv> csv;
    if (item.map()) {
      Map m(c_, item, "tightening/records", section("tightening/records"));
      const Item* rows = m.find("rows");
      const Item* file = rows == nullptr ? m.need("file") : m.find("file");
      if (rows == nullptr && file == nullptr) {
        return;
      }
      csv = load_csv(&m, rows, file, rows != nullptr ? m.at("rows") : m.at("file"));
    } else {
      csv = load_csv(nullptr, nullptr, &item, "tightening/records");
    }
    if (!csv) {
      return;
    }
    static const std::vector<std::string> known = {"stud", "torque",   "torque_unit", "angle_deg", "angle_rad", "time",
                                                   "tool", "operator", "vehicle",     "axle",      "wheel"};
    const CsvRow& header = csv->rows.front();
    std::map<std::string, std::size_t> column;
    for (std::size_t i = 0; i < header.cells.size(); ++i) {
      const std::string& name = header.cells[i];
      if (std::find(known.begin(), known.end(), name) == known.end()) {
        const std::string near = nearest(name, known);
        csv_fault(*csv, header, Code::UnknownKey, name, "this column is not known", joined(known),
                  near.empty() ? "" : "did you mean " + near + "?");
      } else if (!column.emplace(name, i).second) {
        csv_fault(*csv, header, Code::DuplicateKey, name, "this column is there twice", "each column once");
      }
    }
    bool complete = true;
    for (const char* name : {"stud", "torque", "torque_unit"}) {
      if (column.count(name) == 0) {
        csv_fault(*csv, header, Code::MissingKey, name, "this column is missing",
                  "stud, torque, torque_unit, and more");
        complete = false;
      }
    }
    if (!complete) {
      return;
    }
    const ParamSpec torque = section("tightening").find("torque")->spec;
    const std::size_t before = c_.faults.errors().size();
    std::set<std::size_t> seen;
    for (std::size_t r = 1; r < csv->rows.size() && c_.faults.errors().size() < before + kTableFaults; ++r) {
      const CsvRow& row = csv->rows[r];
      if (!row_fits(*csv, row)) {
        continue;
      }
      const auto cell = [&](const char* name) {
        return column.count(name) != 0 ? row.cells[column[name]] : std::string();
      };
      TighteningRecord record;
      const double stud = csv_number(*csv, row, column["stud"], "stud");
      if (stud != std::floor(stud) || stud < 1 || stud > static_cast<double>(s_.joint.studs.count)) {
        if (!std::isnan(stud) && s_.joint.studs.count > 0) {
          csv_fault(*csv, row, Code::OutOfRange, "stud", fmt::format("there is no stud '{}'", cell("stud")),
                    fmt::format("1 to {}", s_.joint.studs.count));
        }
        continue;
      }
      record.stud = static_cast<std::size_t>(stud) - 1;
      if (!seen.insert(record.stud).second) {
        csv_fault(*csv, row, Code::DuplicateKey, "stud", fmt::format("stud {} has two rows", record.stud + 1),
                  "one row for each stud");
      }
      record.torque = kNone;
      if (!std::isnan(csv_number(*csv, row, column["torque"], "torque"))) {
        const QuantityResult read = read_quantity(cell("torque") + ' ' + cell("torque_unit"), torque);
        if (!read.value) {
          csv_fault(*csv, row, read.fault.code, "torque", read.fault.found, read.fault.allowed, read.fault.hint);
        } else if (!torque.allowed.holds(*read.value)) {
          csv_fault(*csv, row, Code::OutOfRange, "torque",
                    fmt::format("'{} {}' is outside the allowed range", cell("torque"), cell("torque_unit")),
                    range_text(torque.allowed, torque));
        }
        record.torque = read.value.value_or(kNone);
      }
      if (!cell("angle_rad").empty()) {
        record.angle = csv_number(*csv, row, column["angle_rad"], "angle_rad");
      } else if (!cell("angle_deg").empty()) {
        record.angle = csv_number(*csv, row, column["angle_deg"], "angle_deg") * units::kDegree;
      }
      record.time = cell("time");
      record.tool = cell("tool");
      record.operator_name = cell("operator");
      record.vehicle = cell("vehicle");
      record.axle = cell("axle");
      record.wheel = cell("wheel");
      if (record.stud < s_.tightening.torque.size()) {
        s_.tightening.torque[record.stud] = record.torque;
      }
      s_.records.push_back(std::move(record));
    }
  }

  TraceStep read_trace(Map& m) {
    TraceStep trace;
    trace.file = m.text_or("file", "");
    const Item* points = m.find("points");
    const Item* file = points == nullptr ? m.need("file") : m.find("file");
    if (points == nullptr && file == nullptr) {
      return trace;
    }
    const auto csv = load_csv(&m, points, file, points != nullptr ? m.at("points") : m.at("file"));
    if (!csv) {
      return trace;
    }
    struct Column {
      ParamSpec spec;
      std::vector<double>* values;
      std::size_t at = 0;
      std::string unit; ///< empty for SI
      bool there = false;
    };
    std::array<Column, 3> columns = {
        {{{"time", "s", Quantity::Dimensional, {}, {}, ""}, &trace.time, 0, "", false},
         {{"speed", "m/s", Quantity::Dimensional, {0, 100}, {}, ""}, &trace.speed, 0, "", false},
         {{"grade", "1", Quantity::Number, {-0.5, 0.5}, {}, ""}, &trace.grade, 0, "", false}}};
    const CsvRow& header = csv->rows.front();
    for (std::size_t i = 0; i < header.cells.size(); ++i) {
      std::string name = header.cells[i];
      std::string unit;
      if (const std::size_t bracket = name.find('['); bracket != std::string::npos) {
        const std::size_t end = name.find(']', bracket);
        unit = name.substr(bracket + 1, end == std::string::npos ? end : end - bracket - 1);
        name = name.substr(0, name.find_last_not_of(" \t", bracket - 1) + 1);
      }
      const auto found =
          std::find_if(columns.begin(), columns.end(), [&](const Column& c) { return c.spec.key == name; });
      if (found == columns.end()) {
        csv_fault(*csv, header, Code::UnknownKey, header.cells[i], "this column is not known",
                  "time [s], speed [m/s], grade [-]");
        continue;
      }
      if (found->there) {
        csv_fault(*csv, header, Code::DuplicateKey, header.cells[i], "this column is there twice", "each column once");
      }
      found->at = i;
      found->there = true;
      found->unit = unit == "-" || unit == "1" || unit == found->spec.unit ? "" : unit;
      if (!found->unit.empty()) {
        const QuantityResult probe = read_quantity("1 " + found->unit, found->spec);
        if (!probe.value) {
          csv_fault(*csv, header, probe.fault.code, header.cells[i], probe.fault.found, probe.fault.allowed,
                    probe.fault.hint);
          found->unit.clear();
        }
      }
    }
    for (const std::size_t must : {std::size_t{0}, std::size_t{1}}) {
      if (!columns[must].there) {
        csv_fault(*csv, header, Code::MissingKey, std::string(columns[must].spec.key), "this column is missing",
                  "time [s], speed [m/s], grade [-]");
        return trace;
      }
    }
    const std::size_t before = c_.faults.errors().size();
    for (std::size_t r = 1; r < csv->rows.size() && c_.faults.errors().size() < before + kTableFaults; ++r) {
      const CsvRow& row = csv->rows[r];
      if (!row_fits(*csv, row)) {
        continue;
      }
      for (const Column& column : columns) {
        double v = column.there ? csv_number(*csv, row, column.at, std::string(column.spec.key)) : 0.0;
        if (!column.unit.empty() && !std::isnan(v)) {
          v = read_quantity(row.cells[column.at] + ' ' + column.unit, column.spec).value.value_or(kNone);
        }
        if (!std::isnan(v) && !column.spec.allowed.holds(v)) {
          csv_fault(*csv, row, Code::OutOfRange, std::string(column.spec.key),
                    fmt::format("'{}' is outside the allowed range", row.cells[column.at]),
                    range_text(column.spec.allowed, column.spec));
        }
        if (&column == &columns[0] && !trace.time.empty() && v <= trace.time.back()) {
          csv_fault(*csv, row, Code::Inconsistent, "time",
                    fmt::format("'{}' does not rise above the row before", row.cells[column.at]),
                    "time rising from row to row");
        }
        column.values->push_back(v);
      }
    }
    if (csv->rows.size() < 3) {
      csv_fault(*csv, csv->rows.back(), Code::Inconsistent, "", "one point is no trace", "at least two points");
    }
    return trace;
  }

  // ---- duty

  void read_duty(const Item& item) {
    Map m(c_, item, "duty", section("duty"));
    if (!m.is_map()) {
      return;
    }
    static const Item nothing = [] {
      Item empty;
      empty.kind = Item::Kind::Map;
      return empty;
    }();
    const auto sub = [&](std::string_view key) -> const Item& {
      const Item* found = m.find(key);
      return found != nullptr ? *found : nothing;
    };
    Map ambient(c_, sub("ambient"), "duty/ambient", section("duty/ambient"));
    fill(ambient, s_.duty.ambient);
    Map calendar(c_, sub("calendar"), "duty/calendar", section("duty/calendar"));
    fill(calendar, s_.duty.calendar);
    const auto steps = m.list("day", true);
    double clock = 0;
    for (const auto& [step, path] : steps) {
      read_step(*step, path, clock);
    }
    if (const Item* day = m.find("day"); day != nullptr && day->list()) {
      if (day->items.empty()) {
        inconsistent(*day, "duty/day", "the list is empty", "at least one step, for example - park: {until: 24 h}");
      } else if (clock > kLongestDay) {
        inconsistent(*day, "duty/day", fmt::format("the steps take {:.4g} h", clock / units::kHour), "at most 24 h");
      }
    }
  }

  void read_step(const Item& item, const std::string& path, double& clock) {
    Map m(c_, item, path, section("duty/day/*"));
    if (!m.is_map()) {
      return;
    }
    if (item.items.size() != 1) {
      inconsistent(item, path, fmt::format("{} steps in one entry of the list", item.items.size()),
                   "one step after each dash");
      return;
    }
    const std::string& kind = item.names.front().text;
    if (section("duty/day/*").find(kind) == nullptr) {
      return;
    }
    Map step(c_, item.items.front(), path + '/' + kind, section("duty/day/*/" + kind));
    if (!step.is_map()) {
      return;
    }
    DayStep read;
    if (kind == "park") {
      ParkStep park;
      fill(step, park);
      // Steps that fill the day to the second need not lose it to round-off.
      if (park.until < clock * (1 - 1e-9) && clock <= kLongestDay) {
        inconsistent(step.place("until"), step.at("until"),
                     fmt::format("the steps before end at {:.4g} h", clock / units::kHour), "a later time of day");
      }
      clock = std::max(clock, park.until);
      read.what = park;
    } else if (kind == "drive") {
      DriveStep drive;
      fill(step, drive);
      clock += drive.distance / drive.speed;
      day_distance_ += drive.distance;
      read.what = drive;
    } else if (kind == "round") {
      RoundStep round;
      fill(step, round);
      clock += static_cast<double>(round.stops) * round.stop_time();
      day_distance_ += static_cast<double>(round.stops) * round.spacing;
      read.what = round;
    } else if (kind == "drag") {
      DragStep drag;
      fill(step, drag);
      clock += drag.duration;
      day_distance_ += drag.speed * drag.duration;
      read.what = drag;
    } else {
      TraceStep trace = read_trace(step);
      if (!trace.time.empty()) {
        clock += trace.time.back() - trace.time.front();
      }
      for (std::size_t i = 1; i < trace.time.size(); ++i) {
        day_distance_ += (trace.time[i] - trace.time[i - 1]) * (trace.speed[i] + trace.speed[i - 1]) / 2;
      }
      read.what = std::move(trace);
    }
    if (const Item* mass = step.find("mass")) {
      const ParamSpec& spec = step.declared("mass").spec;
      if (!mass->list()) {
        read.load.mass_start = read.load.mass_end = read_value(c_, *mass, spec, step.at("mass"));
      } else if (mass->items.size() == 2) {
        read.load.mass_start = read_value(c_, mass->items[0], spec, step.at("mass"));
        read.load.mass_end = read_value(c_, mass->items[1], spec, step.at("mass"));
      } else {
        c_.faults.add(Code::WrongType, *mass, step.at("mass"), fmt::format("{} values", mass->items.size()),
                      "one value, or [at the start, at the end]");
      }
    }
    read.load.lateral_share = step.maybe("lateral_share");
    s_.duty.day.push_back(std::move(read));
  }

  // ---- service, solution, record

  std::optional<When> read_when(const Item& item, const std::string& path) {
    const ParamSpec time{"", "s", Quantity::Dimensional, {0, 1e12}, {}, ""};
    const ParamSpec distance{"", "m", Quantity::Dimensional, {0, 1e12}, {}, ""};
    const std::string allowed = "a time or a distance with a unit: h, d, min, km, mi";
    if (!item.scalar()) {
      c_.faults.add(Code::WrongType, item, path, what_it_is(item) + " where a time or a distance is due", allowed);
      return std::nullopt;
    }
    QuantityResult read = read_quantity(item.text, time);
    When when{When::Kind::Time, 0};
    if (!read.value && read.fault.code == Code::WrongDimension) {
      when.kind = When::Kind::Distance;
      read = read_quantity(item.text, distance);
    }
    if (!read.value) {
      const bool wrong = read.fault.code == Code::WrongDimension;
      c_.faults.add(read.fault.code, item, path,
                    wrong ? fmt::format("'{}' is neither a time nor a distance", item.text) : read.fault.found, allowed,
                    wrong ? "" : read.fault.hint);
      return std::nullopt;
    }
    if (*read.value < 0) {
      c_.faults.add(Code::OutOfRange, item, path, fmt::format("'{}' is before the wheel was tightened", item.text),
                    "at least 0");
      return std::nullopt;
    }
    when.value = *read.value;
    return when;
  }

  void warn_if_never(const std::optional<When>& when, const std::string& path) {
    if (!when || c_.faults.any()) {
      return;
    }
    const Calendar& c = s_.duty.calendar;
    const double end = static_cast<double>(c.weeks) * units::kWeek;
    const double distance = static_cast<double>(c.weeks * c.working_days_per_week) * day_distance_;
    if (when->kind == When::Kind::Time && when->value > end) {
      c_.faults.warn(fmt::format("{} = {:.4g} d is after the end of the run at {:.4g} d", path,
                                 when->value / units::kDay, end / units::kDay));
    } else if (when->kind == When::Kind::Distance && when->value > distance) {
      c_.faults.warn(fmt::format("{} = {:.4g} km is more than the {:.4g} km that the run drives", path,
                                 when->value / units::kKilometre, distance / units::kKilometre));
    }
  }

  void read_service(Map& map) {
    for (const auto& [item, path] : map.list("service")) {
      Map m(c_, *item, path, section("service/*"));
      if (!m.is_map()) {
        continue;
      }
      if (item->items.size() != 1) {
        inconsistent(*item, path, fmt::format("{} acts in one entry of the list", item->items.size()),
                     "one act after each dash");
        continue;
      }
      const std::string& kind = item->names.front().text;
      if (section("service/*").find(kind) == nullptr) {
        continue;
      }
      Map act(c_, item->items.front(), path + '/' + kind, section("service/*/" + kind));
      if (!act.is_map()) {
        continue;
      }
      Service service;
      if (const Item* after = act.need("after")) {
        const auto when = read_when(*after, act.at("after"));
        service.after = when.value_or(When{});
        warn_if_never(when, act.at("after"));
      }
      if (kind == "retorque") {
        service.kind = Service::Kind::Retorque;
        service.torque = act.maybe("torque");
        if (service.torque && *service.torque <= s_.joint.nut.prevailing_torque) {
          inconsistent(act.place("torque"), act.at("torque"), "the torque does not exceed the nut's prevailing torque",
                       "more than joint/nut/prevailing_torque");
        }
      } else if (kind == "remove_nut") {
        service.kind = Service::Kind::RemoveNut;
        const double stud = act.value("stud");
        if (stud > static_cast<double>(s_.joint.studs.count) && s_.joint.studs.count > 0) {
          c_.faults.add(Code::OutOfRange, act.place("stud"), act.at("stud"),
                        fmt::format("there is no stud {:.0f}", stud), fmt::format("1 to {}", s_.joint.studs.count));
        }
        service.stud = std::isnan(stud) ? 0 : static_cast<std::size_t>(stud) - 1;
      } else {
        service.kind = Service::Kind::HotDay;
        service.extra_power = act.value("extra_power");
      }
      s_.service.push_back(service);
    }
  }

  void read_solution(const Item& item) {
    Map m(c_, item, "solution", section("solution"));
    const std::string resolution = m.text_or("resolution", "every-stop");
    if (resolution == "envelope") {
      c_.faults.add(Code::UnknownEntry, m.place("resolution"), m.at("resolution"),
                    "envelope does not exist in this version", "every-stop");
    } else if (resolution != "every-stop" && !resolution.empty()) {
      const std::string near = nearest(resolution, {"every-stop"});
      c_.faults.add(Code::UnknownEntry, m.place("resolution"), m.at("resolution"),
                    fmt::format("'{}' is not known", resolution), "every-stop",
                    near.empty() ? "" : "did you mean every-stop?");
    }
    s_.tolerance = m.value("tolerance");
  }

  void read_record(const Item& item) {
    Map m(c_, item, "record", section("record"));
    s_.record.every = m.maybe("every");
    for (const auto& [at, path] : m.list("at")) {
      if (const auto when = read_when(*at, path)) {
        s_.record.at.push_back(*when);
      }
    }
    s_.record.layers = m.flag("layers", true);
  }
};

} // namespace

ReadOptions resolved_options() {
  ReadOptions options;
  options.max_bytes = 1U << 28U;
  options.max_nodes = 10'000'000;
  return options;
}

Scenario read_scenario_text(const std::string& text, const std::string& name, const ReadOptions& options) {
  return Reader(name, options).read(text);
}

Scenario read_scenario(const std::string& path, const ReadOptions& options) {
  std::string reason;
  const auto text = file_text(path, options.max_bytes, reason);
  if (!text) {
    throw FileError(Code::FileMissing, path + ": " + reason);
  }
  return read_scenario_text(*text, path, options);
}

void check_catalogue(const std::string& folder) {
  ReadOptions options;
  options.catalogue = folder;
  Reader(folder, options).check_library();
}

} // namespace clampfade

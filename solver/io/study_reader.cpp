#include "solver/io/study_reader.hpp"

#include "solver/io/csv_table.hpp"
#include "solver/io/quantity.hpp"
#include "solver/io/resolved.hpp"
#include "solver/io/scenario_reader.hpp"
#include "solver/io/scenario_yaml.hpp"
#include "solver/io/study_path.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <string_view>
#include <utility>

namespace clampfade {

/// Where the values of an axis or of a scattered value go, and how they are written.
struct StudyReader::Place {
  std::vector<TreePlace> targets;
  const Item* at = nullptr; ///< the path in `vary` or `scatter`, for messages about values
  ParamSpec spec;           ///< of a number; unit empty for texts and entries
  std::vector<Item> items;  ///< of an axis, one a position
};

namespace {

constexpr std::size_t kMostValues = 100000; ///< of one axis
constexpr double kFarOut = 5;               ///< standard deviations that a distribution without ends must have room for
constexpr double kToolCut = 3;              ///< standard deviations at which the scatter of a tool is cut off

std::string trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  const std::size_t last = text.find_last_not_of(" \t");
  return first == std::string_view::npos ? "" : std::string(text.substr(first, last - first + 1));
}

/// An SI value as text that reads back to the same bits.
std::string si_text(double v, const ParamSpec& spec) {
  return spec.unit == "1" ? fmt::format("{}", v) : fmt::format("{} {}", v, spec.unit);
}

Item scalar(std::string text, const Item& at) {
  Item item;
  item.kind = Item::Kind::Scalar;
  item.text = std::move(text);
  item.source = at.source;
  item.line = at.line;
  item.column = at.column;
  return item;
}

/// A word of letters, digits and single underscores.
std::string snake(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool word = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    const bool capital = c >= 'A' && c <= 'Z';
    if (word || capital) {
      out += capital ? static_cast<char>(c - 'A' + 'a') : c;
    } else if (!out.empty() && out.back() != '_') {
      out += '_';
    }
  }
  while (!out.empty() && out.back() == '_') {
    out.pop_back();
  }
  return out;
}

bool is_snake(const std::string& text) { return !text.empty() && text == snake(text); }

/// Declared once for all values of the path's kind, without the limits of the value itself.
ParamSpec plain(const ParamSpec& spec, std::string_view key) {
  ParamSpec out = spec;
  out.key = key;
  out.allowed = {};
  out.calibrated = {};
  return out;
}

} // namespace

/// Reads both sections.
class StudyReader::Reader {
public:
  Reader(StudyReader& study, Context& context, Catalogue& catalogue, const Reading& reading, bool whole)
      : s_(study), c_(context), catalogue_(catalogue), reading_(reading), whole_(whole) {}

  void read_vary() {
    Map map(c_, *s_.root_, "", section(""));
    const Item* given = map.find("vary");
    const auto list = map.list("vary");
    empty(given, "vary");
    for (const auto& [item, path] : list) {
      read_axis(*item, path);
    }
  }
  /// An axis of the command line.
  void read_option(const std::string& text, const std::string& option) {
    s_.sources_.push_back(make_source(option, text));
    const Source* source = s_.sources_.back().get();
    const std::size_t equals = text.find('=');
    const auto at = [&](std::size_t from, std::string_view part) {
      const std::size_t first = part.find_first_not_of(" \t");
      Item item = scalar(trimmed(part), Item{});
      item.source = source;
      item.line = 1;
      item.column = static_cast<int>(from + (first == std::string_view::npos ? 0 : first)) + 1;
      return item;
    };
    Item axis;
    axis.kind = Item::Kind::Map;
    axis.source = source;
    axis.line = axis.column = 1;
    const auto put = [&](std::string key, Item item) {
      axis.names.push_back({std::move(key), item.line, item.column});
      axis.items.push_back(std::move(item));
    };
    if (equals == std::string::npos) {
      c_.faults.add(Code::Syntax, axis, option, fmt::format("'{}' has no values", text),
                    "PATH=VALUE,VALUE,... or PATH=FIRST..LAST:STEPS");
      return;
    }
    put("path", at(0, std::string_view(text).substr(0, equals)));
    const std::string_view values = std::string_view(text).substr(equals + 1);
    if (const std::size_t dots = values.find(".."); dots != std::string_view::npos) {
      const std::size_t colon = std::min(values.find(':', dots), values.size());
      const std::size_t second = std::min(values.find(':', colon + (colon < values.size() ? 1 : 0)), values.size());
      put("from", at(equals + 1, values.substr(0, dots)));
      put("to", at(equals + 1 + dots + 2, values.substr(dots + 2, colon - dots - 2)));
      if (colon < values.size()) {
        put("steps", at(equals + 2 + colon, values.substr(colon + 1, second - colon - 1)));
      }
      if (second < values.size()) {
        put("spacing", at(equals + 2 + second, values.substr(second + 1)));
      }
    } else {
      Item list;
      list.kind = Item::Kind::List;
      list.source = source;
      list.line = 1;
      list.column = static_cast<int>(equals) + 2;
      for (std::size_t from = 0; from <= values.size();) {
        const std::size_t comma = std::min(values.find(',', from), values.size());
        list.items.push_back(at(equals + 1 + from, values.substr(from, comma - from)));
        from = comma + 1;
      }
      put("values", std::move(list));
    }
    s_.options_axes_.push_back(std::make_unique<Item>(std::move(axis)));
    read_axis(*s_.options_axes_.back(), option);
  }
  /// An axis of two values, quoted as it was typed.
  void read_between(const std::array<std::string, 3>& given) {
    std::string text;
    std::array<Item, 3> items;
    const std::array<const char*, 3> before = {"--path ", " --between ", " "};
    for (std::size_t k = 0; k < given.size(); ++k) {
      text += before.at(k);
      const char* quote = given.at(k).find_first_of(" *") == std::string::npos ? "" : "'";
      items.at(k) = scalar(trimmed(given.at(k)), Item{});
      items.at(k).line = 1;
      items.at(k).column = static_cast<int>(text.size() + std::string_view(quote).size()) + 1;
      text += quote + given.at(k) + quote;
    }
    s_.sources_.push_back(make_source("--path, --between", text));
    Item axis;
    axis.kind = Item::Kind::Map;
    axis.source = s_.sources_.back().get();
    axis.line = axis.column = 1;
    items[2].source = items[1].source = items[0].source = axis.source;
    Item steps = items[2];
    steps.text = "2";
    const std::vector<std::pair<std::string, Item>> parts = {
        {"path", items[0]}, {"from", items[1]}, {"to", items[2]}, {"steps", steps}};
    for (const auto& [key, item] : parts) {
      axis.names.push_back({key, item.line, item.column});
      axis.items.push_back(item);
    }
    s_.options_axes_.push_back(std::make_unique<Item>(std::move(axis)));
    read_axis(*s_.options_axes_.back(), "--path, --between");
  }
  /// A value to be found, from the command line.
  void read_free(const std::string& text, const std::string& option) {
    s_.sources_.push_back(make_source(option, text));
    const Source* source = s_.sources_.back().get();
    const auto part = [&](std::size_t from, std::size_t to) {
      const std::string_view piece = std::string_view(text).substr(from, to - from);
      auto item = std::make_unique<Item>(scalar(trimmed(piece), Item{}));
      item->source = source;
      item->line = 1;
      item->column = static_cast<int>(from + std::min(piece.find_first_not_of(" \t"), piece.size())) + 1;
      s_.free_items_.push_back(std::move(item));
      return s_.free_items_.back().get();
    };
    const std::size_t equals = std::min(text.find('='), text.size());
    Place p;
    p.at = part(0, equals);
    Context probe;
    p.targets = find_places(probe, *s_.root_, reading_, *p.at, option);
    s_.free_.emplace_back();
    s_.free_places_.emplace_back();
    if (p.targets.empty()) {
      s_.missing_.insert(s_.missing_.end(), probe.faults.errors().begin(), probe.faults.errors().end());
      return;
    }
    if (!may_change(p, s_.free_places_, option)) {
      return;
    }
    const auto spec = number_at(p, option);
    if (!spec || spec->quantity == Quantity::Count) {
      if (spec || (whole_ && alike(p))) {
        c_.faults.add(Code::WrongType, *p.at, option,
                      fmt::format("{} is no single number that can take all values between two",
                                  joined_path(p.targets.front().keys)),
                      "a path to a quantity");
      }
      return;
    }
    p.spec = *spec;
    FitParameter v;
    v.path = p.at->text;
    std::vector<FitParameter> others;
    for (const auto& f : s_.free_) {
      if (f) {
        others.push_back(*f);
      }
    }
    v.name = name_from(p, others);
    v.label = label_from(p);
    v.unit = spec->unit;
    v.difference = spec->quantity == Quantity::Difference;
    if (equals < text.size()) {
      const std::size_t dots = text.find("..", equals);
      if (dots == std::string::npos) {
        c_.faults.add(Code::Syntax, *p.at, option, fmt::format("'{}' has no two ends", text), "PATH or PATH=LOW..HIGH");
        return;
      }
      v.low = read_value(c_, *part(equals + 1, dots), p.spec, option);
      v.high = read_value(c_, *part(dots + 2, text.size()), p.spec, option);
      if (v.low >= v.high) {
        inconsistent(c_, *p.at, option, fmt::format("'{}': the lower end is not below the upper", text), "LOW..HIGH");
      }
    } else {
      const auto finite = [](const Range& r) { return std::isfinite(r.low) && std::isfinite(r.high); };
      const Range& range = finite(spec->calibrated) ? spec->calibrated : spec->allowed;
      if (!finite(range)) {
        c_.faults.add(Code::MissingKey, *p.at, option, fmt::format("nothing says how far '{}' may go", v.path),
                      "bounds: PATH=LOW..HIGH");
        return;
      }
      v.low = range.low;
      v.high = range.high;
    }
    constexpr double kWide = 10; // from here on equal proportions are the better measure
    v.log = v.low > 0 && v.high / v.low >= kWide;
    v.start = std::clamp(own_value(p).value_or(v.unscaled(0.5)), std::min(v.low, v.high), std::max(v.low, v.high));
    s_.free_.back() = std::move(v);
    s_.free_places_.back() = std::move(p);
  }
  void read_scatter() {
    Map map(c_, *s_.root_, "", section(""));
    const Item* given = map.find("scatter");
    const auto list = map.list("scatter");
    empty(given, "scatter");
    for (const auto& [item, path] : list) {
      read_scattered(*item, path);
    }
  }

private:
  /// The value that the scenario has at a path: the mean over its targets, and of each over its studs.
  std::optional<double> own_value(const Place& p) {
    double sum = 0;
    double count = 0;
    c_.quiet = true; // the scenario has been read before, and has warned
    for (const TreePlace& t : p.targets) {
      if (t.absent) {
        continue;
      }
      const Item& item = t.find(*s_.root_);
      for (std::size_t i = 0; i < (item.list() ? item.items.size() : 1); ++i) {
        sum += read_value(c_, item.list() ? item.items[i] : item, p.spec, p.at->text);
        count += 1;
      }
    }
    c_.quiet = false;
    return count > 0 && std::isfinite(sum) ? std::optional(sum / count) : std::nullopt;
  }

  void empty(const Item* given, std::string_view key) {
    if (given != nullptr && given->list() && given->items.empty()) {
      inconsistent(c_, *given, std::string(key), "the list is empty", "at least one entry, or leave out the key");
    }
  }

  /// Whether the path leads to what a case may change and nothing else does; a fault if not.
  bool may_change(const Place& p, const std::vector<Place>& others, const std::string& where) {
    for (const TreePlace& t : p.targets) {
      const std::string& first = t.keys.front();
      if (first == "vary" || first == "scatter" || first == "schema" || first == "title" || first == "record") {
        inconsistent(c_, *p.at, where, fmt::format("`{}` is the same in all cases of a study", first),
                     "a path into joint, tightening, vehicle, heat, duty, service, loosening, solution or catalogue");
        return false;
      }
      for (const Place& other : others) {
        for (const TreePlace& o : other.targets) {
          if (t.overlaps(o)) {
            inconsistent(c_, *p.at, where,
                         fmt::format("{} is also set by the entry in line {}", joined_path(t.keys), other.at->line),
                         "each value once, and nothing inside of what another entry replaces");
            return false;
          }
        }
      }
    }
    return true;
  }

  /// The targets of a path and the declaration of their value, with the faults of both told. None if there is no path.
  std::optional<Place> place(Map& m, const std::vector<Place>& others) {
    const Item* path = m.need("path");
    if (path == nullptr) {
      return std::nullopt;
    }
    const std::string text = m.word(*path, m.at("path"));
    if (text.empty()) {
      return std::nullopt;
    }
    Place p;
    p.at = path;
    p.targets = find_places(c_, *s_.root_, reading_, *path, m.at("path"));
    if (!may_change(p, others, m.at("path"))) {
      return std::nullopt;
    }
    if (p.targets.empty()) {
      return std::nullopt;
    }
    return p;
  }

  /// What a target is read as; none for what is no number.
  [[nodiscard]] std::optional<ParamSpec> declared(const TreePlace& t) const {
    if (t.absent) {
      return t.absent->unit.empty() ? std::nullopt : t.absent;
    }
    const Item& item = t.find(*s_.root_);
    if (const auto each = reading_.per_stud.find(&item); each != reading_.per_stud.end()) {
      return each->second;
    }
    const auto one = reading_.values.find(&item);
    return one == reading_.values.end() ? std::nullopt : std::optional(one->second);
  }

  /// Whether the targets are read alike, so that number_at has told nothing.
  [[nodiscard]] bool alike(const Place& p) const {
    return std::none_of(p.targets.begin(), p.targets.end(),
                        [&](const TreePlace& t) { return declared(t).has_value(); });
  }

  /// Whether no key is misspelt: what seems to be missing may be the one that is.
  static bool all_known(const Item& item, std::string_view keys) {
    return std::all_of(item.names.begin(), item.names.end(),
                       [&](const Item::Name& n) { return section(keys).find(n.text) != nullptr; });
  }

  /// The declaration that all targets share; none, with its fault told where they are numbers of unlike kinds.
  std::optional<ParamSpec> number_at(const Place& p, const std::string& where) {
    const auto spec = declared(p.targets.front());
    for (const TreePlace& t : p.targets) {
      const auto other = declared(t);
      if (other.has_value() != spec.has_value() ||
          (spec && (other->unit != spec->unit || other->quantity != spec->quantity))) {
        inconsistent(c_, *p.at, where,
                     fmt::format("{} and {} do not take the same kind of value", joined_path(p.targets.front().keys),
                                 joined_path(t.keys)),
                     "a path to values of one kind");
        return std::nullopt;
      }
    }
    return spec;
  }

  /// The name in the results: as given, or made of the last steps of the path.
  template <class T>
  std::string short_name(Map& m, const Place& p, const std::vector<T>& others) {
    const auto taken = [&](const std::string& name) {
      return is_study_name(name) ||
             std::any_of(others.begin(), others.end(), [&](const T& o) { return o.name == name; });
    };
    if (const Item* given = m.find("name")) {
      std::string name = m.word(*given, m.at("name"));
      if (!name.empty() && !is_snake(name)) {
        inconsistent(c_, *given, m.at("name"), fmt::format("'{}' is no name of lower-case words", name),
                     "letters, digits and _, for example " + (snake(name).empty() ? "thickness" : snake(name)));
      } else if (taken(name)) {
        c_.faults.add(Code::DuplicateKey, *given, m.at("name"),
                      fmt::format("'{}' is the name of something else in the results", name), "another name");
      }
      return name;
    }
    return name_from(p, others);
  }

  /// A name made of the last steps of the path.
  template <class T>
  static std::string name_from(const Place& p, const std::vector<T>& others) {
    const auto taken = [&](const std::string& name) {
      return is_study_name(name) ||
             std::any_of(others.begin(), others.end(), [&](const T& o) { return o.name == name; });
    };
    const std::vector<std::string> steps = split_path(p.at->text);
    const auto poor = [](const std::string& name) { return name.empty() || (name[0] >= '0' && name[0] <= '9'); };
    std::string name = snake(steps.back());
    for (std::size_t k = steps.size() - 1; (poor(name) || taken(name)) && k-- > 0;) {
      const std::string more = snake(steps[k]);
      name = more.empty() ? name : name.empty() ? more : more + '_' + name;
    }
    for (int k = 2; taken(name); ++k) {
      name = snake(steps.back()) + '_' + std::to_string(k);
    }
    return name;
  }

  /// The name that was given, or the last two steps, in words.
  static std::string label_of(const Map& m, const Place& p, std::string name) {
    if (m.find("name") != nullptr) {
      std::replace(name.begin(), name.end(), '_', ' ');
      return name;
    }
    return label_from(p);
  }
  static std::string label_from(const Place& p) {
    const std::vector<std::string> steps = split_path(p.at->text);
    std::string label;
    for (std::size_t k = steps.size() > 1 ? steps.size() - 2 : 0; k < steps.size(); ++k) {
      std::string word = steps[k];
      std::replace(word.begin(), word.end(), '_', ' ');
      word.erase(std::remove(word.begin(), word.end(), '*'), word.end());
      word = trimmed(word);
      label += (label.empty() || word.empty() ? "" : " ") + word;
    }
    return label;
  }

  void read_axis(const Item& item, const std::string& where) {
    Map m(c_, item, where, section("vary/*"));
    if (!m.is_map()) {
      return;
    }
    std::vector<std::string> forms;
    for (const char* key : {"values", "from", "entries"}) {
      if (m.find(key) != nullptr) {
        forms.emplace_back(key);
      }
    }
    if (forms.size() != 1 && (!forms.empty() || all_known(item, "vary/*"))) {
      inconsistent(c_, item, where, forms.empty() ? "no values" : fmt::format("{} in one axis", joined(forms)),
                   "one of `values`, `from` with `to` and `steps`, and `entries`");
    }
    for (const char* key : {"to", "steps", "spacing"}) {
      if (const Item* lone = m.find(key); lone != nullptr && m.find("from") == nullptr && forms.size() == 1) {
        inconsistent(c_, *lone, m.at(key), fmt::format("`{}` goes with `from`", key), "`from`, `to` and `steps`");
      }
    }
    auto p = place(m, s_.axis_places_);
    if (!p) {
      return;
    }
    StudyAxis axis;
    axis.path = p->at->text;
    axis.name = short_name(m, *p, s_.axes_);
    axis.label = label_of(m, *p, axis.name);
    axis.unit = "1";
    if (forms.size() == 1) {
      if (forms.front() == "entries") {
        read_entries(m, *p, axis);
      } else if (const auto spec = number_at(*p, m.at("path"))) {
        p->spec = *spec;
        axis.unit = spec->unit;
        forms.front() == "values" ? read_numbers(m, *p, axis) : read_range(m, *p, axis);
      } else if (whole_ && alike(*p)) {
        read_texts(m, *p, axis, forms.front());
      }
    }
    s_.axes_.push_back(std::move(axis));
    s_.axis_places_.push_back(*std::move(p));
  }

  void read_entries(Map& m, Place& p, StudyAxis& axis) {
    const Item& entries = *m.find("entries");
    if (!entries.map() || entries.items.empty()) {
      c_.faults.add(Code::WrongType, entries, m.at("entries"), what_it_is(entries) + " where a map of entries is due",
                    "name: {...}");
      return;
    }
    for (std::size_t i = 0; i < entries.items.size(); ++i) {
      axis.texts.push_back(entries.names[i].text);
      p.items.push_back(entries.items[i]);
    }
  }

  void read_numbers(Map& m, Place& p, StudyAxis& axis) {
    for (const auto& [value, where] : m.list("values")) {
      axis.values.push_back(read_value(c_, *value, p.spec, where));
      p.items.push_back(*value);
    }
    must_have(m, axis.values.size());
  }

  void read_texts(Map& m, Place& p, StudyAxis& axis, const std::string& form) {
    const bool text = std::all_of(p.targets.begin(), p.targets.end(), [&](const TreePlace& t) {
      return t.absent ? t.absent->unit.empty() : t.find(*s_.root_).scalar();
    });
    if (!text || form != "values") {
      c_.faults.add(Code::WrongType, *p.at, m.at("path"),
                    fmt::format("{} is {}, no single number", joined_path(p.targets.front().keys),
                                p.targets.front().absent ? "not given" : what_it_is(p.targets.front().find(*s_.root_))),
                    "a path to one value, or `entries` with whole items");
      return;
    }
    for (const auto& [value, where] : m.list("values")) {
      axis.texts.push_back(m.word(*value, where));
      p.items.push_back(*value);
    }
    must_have(m, axis.texts.size());
  }

  void must_have(Map& m, std::size_t count) {
    if (count == 0 && m.find("values")->list()) {
      inconsistent(c_, *m.find("values"), m.at("values"), "the list is empty", "at least one value");
    }
  }

  void read_range(Map& m, Place& p, StudyAxis& axis) {
    const Item* from = m.find("from");
    const Item* to = m.need("to");
    const double steps = m.need("steps") != nullptr ? m.value("steps") : kNone;
    const bool log = m.choice("spacing", {"linear", "log"}, "linear") == "log";
    if (to == nullptr) {
      return;
    }
    const double a = read_value(c_, *from, p.spec, m.at("from"));
    const double b = read_value(c_, *to, p.spec, m.at("to"));
    if (log && !(a > 0 && b > 0) && !std::isnan(a + b)) {
      inconsistent(c_, m.place("spacing"), m.at("spacing"), "equal proportions from or to a value that is not above 0",
                   "spacing: linear, or ends above 0");
    } else if (!std::isnan(a + b + steps)) {
      const auto n = static_cast<std::size_t>(std::min(steps, static_cast<double>(kMostValues)));
      for (std::size_t k = 0; k < n; ++k) {
        const double share = static_cast<double>(k) / static_cast<double>(n - 1);
        double v = log ? a * std::pow(b / a, share) : a + (b - a) * share;
        v = k == 0 ? a : k + 1 == n ? b : v;
        if (p.spec.quantity == Quantity::Count && v != std::floor(v)) {
          c_.faults.add(Code::NotANumber, m.place("steps"), m.at("steps"),
                        fmt::format("{} of a whole number is reached between the ends", v),
                        "so many steps that each value is whole");
          return;
        }
        axis.values.push_back(v);
        p.items.push_back(scalar(si_text(v, p.spec), k + 1 == n ? *to : *from));
      }
    }
  }

  /// A value of the path's kind; NaN where it is missing or faulty.
  double needed(Map& m, std::string_view key, const ParamSpec& spec) {
    const Item* item = m.need(key);
    return item == nullptr ? kNone : read_value(c_, *item, plain(spec, key), m.at(key));
  }

  void read_scattered(const Item& item, const std::string& where) {
    Map m(c_, item, where, section("scatter/*"));
    if (!m.is_map()) {
      return;
    }
    std::vector<std::string> forms;
    for (const char* key : {"normal", "lognormal", "uniform", "triangular", "empirical", "tool"}) {
      if (m.find(key) != nullptr) {
        forms.emplace_back(key);
      }
    }
    if (forms.size() != 1 && (!forms.empty() || all_known(item, "scatter/*"))) {
      inconsistent(c_, item, where, forms.empty() ? "no distribution" : fmt::format("{} for one value", joined(forms)),
                   "one of normal, lognormal, uniform, triangular, empirical, tool");
    }
    auto p = place(m, s_.scatter_places_);
    if (!p) {
      return;
    }
    const auto spec = number_at(*p, m.at("path"));
    if (!spec) {
      if (whole_ && alike(*p)) {
        c_.faults.add(Code::WrongType, *p->at, m.at("path"),
                      fmt::format("{} is no number", joined_path(p->targets.front().keys)), "a path to a number");
      }
      return;
    }
    p->spec = *spec;
    ScatterSpec scatter;
    scatter.path = p->at->text;
    scatter.name = short_name(m, *p, s_.scatter_);
    scatter.label = label_of(m, *p, scatter.name);
    scatter.unit = spec->unit;
    scatter.per_stud = m.choice("each", {"wheel", "stud"}, "wheel") == "stud";
    scatter.correlation = m.value("correlation");
    if (scatter.per_stud) {
      for (const TreePlace& t : p->targets) {
        if (t.absent || reading_.per_stud.count(&t.find(*s_.root_)) == 0) {
          if (whole_) {
            inconsistent(c_, m.place("each"), m.at("each"),
                         fmt::format("{} takes one value for the whole wheel", joined_path(t.keys)),
                         "each: wheel; by stud are tightening/torque, tightening/friction/thread and "
                         "tightening/friction/bearing");
          }
          break;
        }
      }
    } else if (const Item* lone = m.find("correlation")) {
      inconsistent(c_, *lone, m.at("correlation"), "the whole wheel takes one value", "each: stud");
    }
    if (forms.size() == 1) {
      const std::string& form = forms.front();
      scatter.text = form + ": " + plain_text(*m.find(form));
      bool good = true;
      if (form == "tool") {
        good = read_tool(m, *p, scatter);
      } else if (form == "empirical") {
        good = read_empirical(m, *p, scatter.distribution);
      } else {
        good = read_shape(m, form, *spec, scatter.distribution);
      }
      cut(m, *p, scatter, good);
    }
    s_.scatter_.push_back(std::move(scatter));
    s_.scatter_places_.push_back(*std::move(p));
  }

  /// Whether it could be read.
  bool read_shape(Map& m, const std::string& form, const ParamSpec& spec, DistributionSpec& d) {
    Map shape(c_, *m.find(form), m.at(form), section("scatter/*/" + form));
    if (!shape.is_map()) {
      return false;
    }
    if (form == "normal") {
      d.kind = DistributionSpec::Kind::Normal;
      d.a = needed(shape, "mean", spec);
      if (const Item* sd = shape.need("sd")) {
        d.b = read_deviation(shape, *sd, spec, d.a);
      } else {
        d.b = kNone;
      }
    } else if (form == "lognormal") {
      d.kind = DistributionSpec::Kind::Lognormal;
      d.a = needed(shape, "median", spec);
      const Item* log_sd = shape.find("log_sd");
      const Item* factor = shape.find("factor");
      if ((log_sd == nullptr) == (factor == nullptr)) {
        inconsistent(c_, shape.item(), shape.path(), log_sd == nullptr ? "no width" : "log_sd and factor together",
                     "one of log_sd and factor");
        return false;
      }
      d.b = log_sd != nullptr ? *shape.maybe("log_sd") : std::log(*shape.maybe("factor"));
      if (d.a <= 0) {
        c_.faults.add(Code::OutOfRange, *shape.find("median"), shape.at("median"), "a lognormal value is above 0",
                      "a median above 0");
        return false;
      }
    } else {
      d.kind = form == "uniform" ? DistributionSpec::Kind::Uniform : DistributionSpec::Kind::Triangular;
      d.a = needed(shape, "low", spec);
      d.b = needed(shape, "high", spec);
      d.mode = form == "triangular" ? needed(shape, "mode", spec) : 0;
      if (d.a >= d.b) {
        inconsistent(c_, shape.place("high"), shape.at("high"), "high is not above low", "high above low");
        return false;
      }
      if (form == "triangular" && (d.mode < d.a || d.mode > d.b)) {
        inconsistent(c_, shape.place("mode"), shape.at("mode"), "the most frequent value lies outside", "low to high");
        return false;
      }
    }
    return !std::isnan(d.a + d.b + d.mode);
  }

  /// A standard deviation: a difference of two values, or a share of the mean in per cent.
  double read_deviation(Map& shape, const Item& sd, const ParamSpec& spec, double mean) {
    const bool share = sd.scalar() && !sd.text.empty() && sd.text.back() == '%';
    ParamSpec difference = plain(spec, "sd");
    if (share) {
      difference.unit = "1";
      difference.quantity = Quantity::Number;
    } else if (difference.quantity == Quantity::Point) {
      difference.quantity = Quantity::Difference;
    } else if (difference.quantity == Quantity::Count) {
      difference.quantity = Quantity::Number;
    }
    double v = read_value(c_, sd, difference, shape.at("sd"));
    if (share) {
      v *= std::abs(mean);
    }
    if (v <= 0) {
      c_.faults.add(Code::OutOfRange, sd, shape.at("sd"), fmt::format("'{}' is no width", sd.text), "above 0");
      return kNone;
    }
    return v;
  }

  bool read_tool(Map& m, const Place& p, ScatterSpec& scatter) {
    const Item& ref = *m.find("tool");
    const std::size_t before = c_.faults.errors().size();
    const Tool tool = catalogue_.tool(ref, m.at("tool"));
    if (c_.faults.errors().size() > before) {
      return false;
    }
    if (p.spec.unit != "N m" || p.targets.size() != 1 || p.targets.front().absent) {
      inconsistent(c_, ref, m.at("tool"), "a tool scatters one torque that is given", "path: tightening/torque");
      return false;
    }
    const double sd = tool.relative_deviation();
    if (!(sd > 0)) {
      inconsistent(c_, ref, m.at("tool"), "this tool has no scatter", "a tightening_factor above 1");
      return false;
    }
    scatter.distribution = {DistributionSpec::Kind::Normal, 1, sd, 0, {}, 1 - kToolCut * sd, 1 + kToolCut * sd};
    const Item& torque = p.targets.front().find(*s_.root_);
    const std::size_t studs = s_.base_.joint.studs.count;
    const bool list = torque.list();
    for (std::size_t k = 0; k < (list ? torque.items.size() : studs); ++k) {
      scatter.base.push_back(read_value(c_, list ? torque.items[k] : torque, p.spec, scatter.path));
    }
    if (list && !scatter.per_stud) {
      // One factor for all of them: the values differ still.
      scatter.per_stud = true;
      scatter.correlation = 1;
    }
    scatter.text += fmt::format(", standard deviation {:.3g} %", 100 * sd);
    return !scatter.base.empty();
  }

  bool read_empirical(Map& m, const Place& p, DistributionSpec& d) {
    Map shape(c_, *m.find("empirical"), m.at("empirical"), section("scatter/*/empirical"));
    const Item* file = shape.is_map() ? shape.need("file") : nullptr;
    const Item* column = shape.is_map() ? shape.need("column") : nullptr;
    if (file == nullptr || column == nullptr) {
      return false;
    }
    const std::string wanted_column = shape.word(*column, shape.at("column"));
    const auto csv = CsvTable::from_file(c_, *file, shape.at("file"));
    if (!csv || wanted_column.empty()) {
      return false;
    }
    std::vector<std::string> names;
    std::size_t found = csv->header().cells.size();
    std::string unit;
    for (std::size_t i = 0; i < csv->header().cells.size(); ++i) {
      const std::string& cell = csv->header().cells[i];
      const std::size_t bracket = cell.find('[');
      names.push_back(trimmed(cell.substr(0, bracket)));
      if (names.back() == wanted_column || cell == wanted_column) {
        found = i;
        unit = bracket == std::string::npos ? "" : cell.substr(bracket + 1, cell.find(']', bracket) - bracket - 1);
      }
    }
    if (found == names.size()) {
      c_.faults.add(Code::UnknownEntry, *column, shape.at("column"),
                    fmt::format("the file has no column '{}'", wanted_column), joined(names),
                    did_you_mean(wanted_column, names));
      return false;
    }
    unit = unit == "-" ? "" : unit;
    d.kind = DistributionSpec::Kind::Empirical;
    bool good = true;
    csv->each_row([&](const CsvRow& row) {
      const QuantityResult read =
          read_quantity(row.cells[found] + (unit.empty() ? "" : ' ' + unit), plain(p.spec, "value"));
      if (!read.value) {
        csv->fault(row, read.fault.code, names[found], read.fault.found, read.fault.allowed,
                   read.fault.code == Code::MissingUnit ? "the unit stands in the header: " + names[found] + " [mm]"
                                                        : read.fault.hint);
        good = false;
      } else {
        d.values.push_back(*read.value);
      }
    });
    return good && !d.values.empty();
  }

  /// The ends, and whether what is left keeps within what the key allows.
  void cut(Map& m, const Place& p, ScatterSpec& scatter, bool good) {
    DistributionSpec& d = scatter.distribution;
    const double unit = scatter.base.empty() ? 1 : scatter.base.front();
    for (const char* key : {"low", "high"}) {
      if (const Item* end = m.find(key)) {
        if (scatter.base.size() > 1 &&
            std::adjacent_find(scatter.base.begin(), scatter.base.end(), std::not_equal_to<>()) != scatter.base.end()) {
          inconsistent(c_, *end, m.at(key), "unlike torques have no common end", "no low and no high");
          return;
        }
        const double v = read_value(c_, *end, plain(p.spec, key), m.at(key)) / unit;
        (std::string_view(key) == "low" ? d.low : d.high) = v;
        scatter.text += fmt::format(", {}: {}", key, plain_text(*end));
        good = good && !std::isnan(v);
      }
    }
    if (!good) {
      return;
    }
    double low = d.a;
    double high = d.b;
    switch (d.kind) {
    case DistributionSpec::Kind::Normal:
      low = d.a - kFarOut * d.b;
      high = d.a + kFarOut * d.b;
      break;
    case DistributionSpec::Kind::Lognormal:
      low = d.a * std::exp(-kFarOut * d.b);
      high = d.a * std::exp(kFarOut * d.b);
      break;
    case DistributionSpec::Kind::Empirical:
      low = *std::min_element(d.values.begin(), d.values.end());
      high = *std::max_element(d.values.begin(), d.values.end());
      break;
    default:
      break;
    }
    const Item& at = m.find("high") != nullptr ? *m.find("high") : m.place("low");
    if (!(d.low < d.high) || d.low > high || d.high < low) {
      inconsistent(c_, at, m.at(m.find("high") != nullptr ? "high" : "low"),
                   "nothing of the distribution lies between low and high",
                   "low below high, and both round its middle");
      return;
    }
    low = std::max(low, d.low);
    high = std::min(high, d.high);
    for (const auto& [end, value] : {std::pair{"low", low}, std::pair{"high", high}}) {
      if (!p.spec.allowed.holds(value * unit)) {
        c_.faults.add(Code::OutOfRange, *p.at, m.at("path"),
                      fmt::format("values down to {} and up to {} come, not all of which {} may have",
                                  friendly(low * unit, p.spec), friendly(high * unit, p.spec),
                                  joined_path(p.targets.front().keys)),
                      range_text(p.spec.allowed, p.spec), fmt::format("`{}` cuts the distribution off", end));
        return;
      }
    }
    if (p.spec.quantity == Quantity::Count) {
      inconsistent(c_, *p.at, m.at("path"), "a count does not scatter", "a path to a number that need not be whole");
    }
  }

  StudyReader& s_;
  Context& c_;
  Catalogue& catalogue_;
  const Reading& reading_;
  bool whole_; ///< whether the scenario itself has no faults, so that all of it was read
};

StudyReader::StudyReader(const std::string& written, const std::string& name, const ReadOptions& options,
                         const More& more)
    : name_(name), options_(options) {
  const std::string text = plain_line_ends(written);
  Context context;
  context.name = name;
  context.options = options;
  files_ = context.files;
  sources_.push_back(make_source(name, text));
  auto root = load_yaml(*sources_.back(), text, options, context.faults);
  if (!root) {
    throw_faults(context.faults);
  }
  root_ = std::make_unique<Item>(*std::move(root));
  Reading reading;
  context.reading = &reading;
  Catalogue catalogue(context);
  base_ = read_items(context, *root_, catalogue);
  context.reading = nullptr;
  const bool whole = !context.faults.any();
  const std::vector<UsedEntry> own = catalogue.used();
  if (root_->map()) {
    Reader reader(*this, context, catalogue, reading, whole);
    if (!more.instead) {
      reader.read_vary();
    }
    for (const std::string& axis : more.axes) {
      reader.read_option(axis, more.option);
    }
    if (more.between) {
      reader.read_between(*more.between);
    }
    for (const std::string& value : more.free) {
      reader.read_free(value, "--free");
    }
    reader.read_scatter();
  }
  throw_faults(context.faults);
  base_.resolved_text = resolved_text(base_, own); // a single run uses no tool
  used_ = catalogue.used();
  warnings_ = context.faults.warnings();
  for (const char* key : {"vary", "scatter"}) {
    const Item* list = root_->find(key);
    if (list == nullptr) {
      continue;
    }
    sections_ += std::string(key) + ":\n";
    for (const Item& entry : list->items) {
      sections_ += "- " + flow_text(entry) + '\n';
    }
  }
  if (const std::size_t n = axes_.size() - options_axes_.size(); n > 0) {
    std::size_t cases = 1;
    for (std::size_t k = 0; k < n; ++k) {
      cases *= axes_[k].size();
    }
    base_.studies.push_back(fmt::format("`vary` has {} and {} (clampfade sweep); a single run takes the values of the "
                                        "sections",
                                        n == 1 ? "one axis" : fmt::format("{} axes", n),
                                        cases == 1 ? "one case" : fmt::format("{} cases", cases)));
  }
  if (!scatter_.empty()) {
    base_.studies.push_back(
        fmt::format("`scatter` draws {} (clampfade sample); a single run takes the values of the sections",
                    scatter_.size() == 1 ? "one value" : fmt::format("{} values", scatter_.size())));
  }
}

StudyReader::~StudyReader() = default;

std::string StudyReader::study_text() const { return resolved_text(base_, used_) + sections_; }

Scenario StudyReader::read(const Item& tree, bool resolved) const {
  Context context;
  context.name = name_;
  context.options = options_;
  context.files = files_;
  Catalogue catalogue(context);
  Scenario scenario = read_items(context, tree, catalogue);
  throw_faults(context.faults);
  if (resolved) {
    scenario.resolved_text = resolved_text(scenario, catalogue.used());
  }
  return scenario;
}

Scenario StudyReader::sweep_case(const std::vector<std::size_t>& positions, bool resolved) const {
  Item tree = *root_;
  // What is taken out goes last, from the back, so that the other places stay where they were.
  std::vector<const TreePlace*> out;
  for (std::size_t k = 0; k < axes_.size(); ++k) {
    const Item& value = axis_places_[k].items.at(positions.at(k));
    for (const TreePlace& target : axis_places_[k].targets) {
      if (value.kind == Item::Kind::Null) {
        out.push_back(&target);
      } else {
        target.put(tree, value);
      }
    }
  }
  std::sort(out.begin(), out.end(), [](const TreePlace* a, const TreePlace* b) { return a->steps > b->steps; });
  for (const TreePlace* target : out) {
    target->put(tree, Item{});
  }
  return read(tree, resolved);
}

Scenario StudyReader::value_case(double value) const {
  Item tree = *root_;
  const Place& p = axis_places_.at(0);
  for (const TreePlace& target : p.targets) {
    target.put(tree, scalar(si_text(value, p.spec), *p.at));
  }
  return read(tree, false);
}

const ParamSpec& StudyReader::free_spec(std::size_t k) const { return free_places_.at(k).spec; }

Scenario StudyReader::free_case(const std::vector<double>& values, bool resolved) const {
  Item tree = *root_;
  put_free(tree, values);
  return read(tree, resolved);
}

void StudyReader::put_free(Item& tree, const std::vector<double>& values) const {
  for (std::size_t k = 0; k < free_places_.size(); ++k) {
    const Place& p = free_places_[k];
    for (const TreePlace& target : p.targets) {
      target.put(tree, scalar(si_text(values.at(k), p.spec), *p.at));
    }
  }
}

std::string StudyReader::fitted_block(const std::vector<double>& values, const std::vector<std::string>& notes,
                                      const std::vector<char>& open, const std::string& source) const {
  constexpr const char* not_fixed = "# the readings do not fix this value\n";
  Item tree = *root_;
  put_free(tree, values);
  // Kinds in the order of the scenario, entries too; of each entry the fitted keys and their remarks.
  struct Remark {
    std::string text;
    bool open = false;
  };
  std::map<std::pair<std::string, std::string>, std::map<std::string, Remark>> fitted;
  std::string beside;
  for (std::size_t k = 0; k < free_places_.size(); ++k) {
    for (const TreePlace& t : free_places_[k].targets) {
      const std::string note = k < notes.size() && !notes[k].empty() ? "  # " + notes[k] : "";
      if (t.keys.size() >= 4 && t.keys.front() == "catalogue") {
        Remark& remark = fitted[{t.keys[1], t.keys[2]}][t.keys[3]];
        remark.text += remark.text.empty() ? note : note.substr(3);
        remark.open = remark.open || (k < open.size() && open[k] != 0);
      } else {
        beside += k < open.size() && open[k] != 0 ? not_fixed : "";
        beside += fmt::format("# {}: {}{}\n", joined_path(t.keys), si_text(values.at(k), free_places_[k].spec), note);
      }
    }
  }
  std::string out;
  const Item* catalogue = tree.find("catalogue");
  for (std::size_t i = 0; catalogue != nullptr && i < catalogue->items.size(); ++i) {
    const std::string& kind = catalogue->names[i].text;
    bool opened = false;
    for (std::size_t j = 0; j < catalogue->items[i].items.size(); ++j) {
      const auto found = fitted.find({kind, catalogue->items[i].names[j].text});
      if (found == fitted.end()) {
        continue;
      }
      const Item& entry = catalogue->items[i].items[j];
      out += out.empty() ? "catalogue:\n" : "";
      out += opened ? "" : fmt::format("  {}:\n", kind);
      opened = true;
      out += fmt::format("    {}:\n", yaml_text(found->first.second));
      std::string keys;
      std::string before;
      for (std::size_t k = 0; k < entry.items.size(); ++k) {
        const std::string& key = entry.names[k].text;
        if (key == "source") {
          before = entry.items[k].text;
        } else if (key != "provenance") {
          const auto remark = found->second.find(key);
          const bool told = remark != found->second.end();
          out += told && remark->second.open ? fmt::format("      {}", not_fixed) : "";
          out += fmt::format("      {}: {}{}\n", key, flow_text(entry.items[k]), told ? remark->second.text : "");
        }
      }
      std::string left_open;
      for (const auto& [key, remark] : found->second) {
        keys += (keys.empty() ? "" : ", ") + key;
        if (remark.open) {
          left_open += (left_open.empty() ? "; not fixed by the readings: " : ", ") + key;
        }
      }
      const std::string whole =
          fmt::format("{}: {}{}{}", source, keys, left_open, before.empty() ? "" : "; the other values: " + before);
      out += fmt::format("      source: {}\n      provenance: fitted\n", yaml_text(whole));
    }
  }
  if (!beside.empty()) {
    out += "# Values outside the catalogue, to be put where their paths lead:\n" + beside;
  }
  return out;
}

ParamSpec StudyReader::axis_spec() const { return axis_places_.at(0).spec; }

Scenario StudyReader::sample_case(const std::vector<std::vector<double>>& values, bool resolved) const {
  Item tree = *root_;
  for (std::size_t k = 0; k < scatter_.size(); ++k) {
    const Place& p = scatter_places_[k];
    Item item = scalar(si_text(values.at(k).at(0), p.spec), *p.at);
    if (scatter_[k].per_stud) {
      Item list = item;
      list.kind = Item::Kind::List;
      list.text.clear();
      for (const double v : values[k]) {
        list.items.push_back(scalar(si_text(v, p.spec), *p.at));
      }
      item = std::move(list);
    }
    for (const TreePlace& target : p.targets) {
      target.put(tree, item);
    }
  }
  return read(tree, resolved);
}

} // namespace clampfade

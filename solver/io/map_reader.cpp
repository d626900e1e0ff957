#include "solver/io/map_reader.hpp"

#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace clampfade {

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& w : words) {
    out += (out.empty() ? "" : ", ") + w;
  }
  return out;
}

std::string length_text(double metres) { return friendly(metres, {"", "m", Quantity::Dimensional, {}, {}, ""}); }

void inconsistent(Context& c, const Item& at, std::string path, std::string found, std::string allowed,
                  std::string hint) {
  c.faults.add(Code::Inconsistent, at, std::move(path), std::move(found), std::move(allowed), std::move(hint));
}

double read_value(Context& c, const Item& item, const ParamSpec& spec, const std::string& path) {
  const bool pure = spec.quantity == Quantity::Number || spec.quantity == Quantity::Count;
  if (c.reading != nullptr) {
    c.reading->values.emplace(&item, spec);
  }
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

Map::Map(Context& c, const Item& item, std::string path, const Section& section)
    : c_(c), item_(item), path_(std::move(path)), section_(section) {
  if (!item.map()) {
    c_.faults.add(Code::WrongType, item, path_, what_it_is(item) + " where a map is due",
                  "a map with the keys " + key_list());
    return;
  }
  if (c_.reading != nullptr) {
    c_.reading->maps.emplace(&item, &section_);
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
      }
      c_.faults.add(Code::UnknownKey, item.source, n.line, n.column, at(n.text), "this key is not known here",
                    key_list(), hint);
    }
  }
}

std::string Map::at(std::string_view key) const {
  return path_.empty() ? std::string(key) : path_ + '/' + std::string(key);
}

const Key& Map::declared(std::string_view key) const {
  const Key* k = section_.find(key);
  if (k == nullptr) {
    throw std::logic_error(fmt::format("key '{}' is not declared in section '{}'", key, section_.path));
  }
  return *k;
}

const Item* Map::find(std::string_view key) const {
  (void)declared(key); // a key that the schema does not list is a bug of the reader
  return item_.find(key);
}

const Item* Map::need(std::string_view key) {
  const Item* found = find(key);
  // A misspelt key has been told already, with this one as its hint.
  if (found == nullptr && item_.map() && std::find(meant_.begin(), meant_.end(), key) == meant_.end()) {
    const Key& k = declared(key);
    c_.faults.add(Code::MissingKey, item_, at(key), "this key is missing", !k.form.empty() ? k.form : wanted(k.spec));
  }
  return found;
}

const Item& Map::place(std::string_view key) const {
  const Item* found = item_.find(key);
  return found != nullptr ? *found : item_;
}

std::optional<double> Map::maybe(std::string_view key) {
  const Item* found = find(key);
  return found == nullptr ? std::nullopt : std::optional(read_value(c_, *found, declared(key).spec, at(key)));
}

double Map::value(std::string_view key) {
  const Key& k = declared(key);
  if (find(key) == nullptr && k.fallback) {
    return *k.fallback;
  }
  const Item* found = need(key);
  return found == nullptr ? kNone : read_value(c_, *found, k.spec, at(key));
}

std::size_t Map::count(std::string_view key) {
  const double v = value(key);
  return std::isnan(v) ? 0 : static_cast<std::size_t>(v);
}

std::string Map::text(std::string_view key) {
  const Item* found = need(key);
  return found == nullptr ? "" : word(*found, at(key));
}

std::string Map::text_or(std::string_view key, std::string otherwise) {
  const Item* found = find(key);
  return found == nullptr ? std::move(otherwise) : word(*found, at(key));
}

bool Map::flag(std::string_view key, bool otherwise) {
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

std::string Map::choice(std::string_view key, const std::vector<std::string>& words, std::string otherwise) {
  std::string found = text_or(key, std::move(otherwise));
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

std::string Map::word(const Item& found, const std::string& path) {
  if (!found.scalar() || found.text.empty()) {
    c_.faults.add(Code::WrongType, found, path, what_it_is(found) + " where a text is due", "a text");
    return "";
  }
  return found.text;
}

std::vector<std::pair<const Item*, std::string>> Map::list(std::string_view key, bool must) {
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

Table Map::table(std::string_view key, const ParamSpec& x) {
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

std::vector<std::string> Map::keys() const {
  std::vector<std::string> out;
  for (const Key& k : section_.keys) {
    out.emplace_back(k.spec.key);
  }
  return out;
}

} // namespace clampfade

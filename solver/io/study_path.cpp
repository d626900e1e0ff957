#include "solver/io/study_path.hpp"

#include "solver/io/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <utility>

namespace clampfade {

namespace {

/// What may follow at an item: the name of a step and the indices that lead on.
struct Branch {
  std::string name;
  std::vector<std::size_t> steps;
};

/// Name of an entry of a list, if it has one.
std::optional<Branch> entry_name(const Item& entry, std::size_t i) {
  if (!entry.map()) {
    return std::nullopt;
  }
  for (const char* key : {"part", "name"}) {
    if (const Item* name = entry.find(key); name != nullptr && name->scalar()) {
      return Branch{name->text, {i}};
    }
  }
  if (entry.items.size() == 1 && entry.items.front().map()) {
    return Branch{entry.names.front().text, {i, 0}};
  }
  return std::nullopt;
}

std::vector<Branch> branches(const Item& item) {
  std::vector<Branch> out;
  for (std::size_t i = 0; i < item.items.size(); ++i) {
    if (item.map()) {
      out.push_back({item.names[i].text, {i}});
    } else if (auto named = entry_name(item.items[i], i)) {
      out.push_back(*std::move(named));
    }
  }
  return out;
}

class Finder {
public:
  Finder(const Reading& reading, std::vector<std::string> path) : reading_(reading), path_(std::move(path)) {}

  void walk(const Item& item, std::size_t depth, TreePlace& so_far, bool wild) {
    if (depth == path_.size()) {
      found_.push_back(so_far);
      return;
    }
    const std::string& step = path_[depth];
    const bool star = step.find('*') != std::string::npos;
    std::vector<Branch> next;
    for (Branch& b : branches(item)) {
      if (matches(step, b.name)) {
        next.push_back(std::move(b));
      }
    }
    if (next.empty() && item.list()) {
      if (const auto number = plain_number(step); number && *number >= 1 &&
                                                  *number == static_cast<double>(static_cast<std::size_t>(*number)) &&
                                                  *number <= static_cast<double>(item.items.size())) {
        next.push_back({step, {static_cast<std::size_t>(*number) - 1}});
      } else if (star && step == "*") {
        for (std::size_t i = 0; i < item.items.size(); ++i) {
          next.push_back({std::to_string(i + 1), {i}});
        }
      }
    }
    if (!star && next.size() > 1) {
      std::vector<std::string> numbers;
      for (const Branch& b : next) {
        numbers.push_back(std::to_string(b.steps.front() + 1));
      }
      fail(depth, item, fmt::format("{} entries are called '{}'", next.size(), step),
           "their numbers: " + joined(numbers), "a * instead of the name takes all of them");
      return;
    }
    if (next.empty()) {
      missing(item, depth, so_far, wild, star);
      return;
    }
    for (const Branch& b : next) {
      const Item* at = &item;
      for (const std::size_t i : b.steps) {
        at = &at->items[i];
        so_far.steps.push_back(i);
      }
      so_far.keys.push_back(b.name);
      walk(*at, depth + 1, so_far, wild || star);
      so_far.keys.pop_back();
      so_far.steps.resize(so_far.steps.size() - b.steps.size());
    }
  }

  [[nodiscard]] const std::vector<TreePlace>& found() const { return found_; }
  struct Failure {
    bool any = false, told_apart = true;
    std::size_t depth = 0;
    std::string found, allowed, hint;
  };
  /// The failure that came furthest.
  [[nodiscard]] const Failure& failure() const { return failure_; }

private:
  void missing(const Item& item, std::size_t depth, TreePlace& so_far, bool wild, bool star) {
    const std::string& step = path_[depth];
    const auto section_of = reading_.maps.find(&item);
    std::vector<std::string> there;
    for (const Branch& b : branches(item)) {
      there.push_back(b.name);
    }
    if (section_of != reading_.maps.end()) {
      const Key* key = section_of->second->find(step);
      if (key != nullptr && depth + 1 == path_.size() && !wild && !star) {
        TreePlace place = so_far;
        place.keys.push_back(step);
        place.absent = key->spec;
        found_.push_back(std::move(place));
        return;
      }
      if (key != nullptr) {
        fail(depth, item, fmt::format("`{}` is not given here", step), "what is there: " + joined(there),
             wild ? "" : fmt::format("write `{}` into the scenario first", step));
        return;
      }
      for (const Key& k : section_of->second->keys) {
        if (std::find(there.begin(), there.end(), k.spec.key) == there.end() && depth + 1 == path_.size() && !wild) {
          there.emplace_back(k.spec.key);
        }
      }
    }
    if (item.list() && there.empty()) {
      fail(depth, item, fmt::format("a list of {} has no '{}'", item.items.size(), step),
           item.items.empty() ? "nothing: the list is empty" : fmt::format("1 to {}, or *", item.items.size()), "");
      return;
    }
    if (!item.list() && !item.map()) {
      const std::string before = joined_path(so_far.keys);
      fail(depth, item, fmt::format("'{}' leads no further: {} is {}", step, before, what_it_is(item)),
           "the path without it", "");
      return;
    }
    std::string allowed = "what is there: " + joined(there);
    if (item.list()) {
      allowed += fmt::format("; or 1 to {}", item.items.size());
    }
    fail(depth, item, fmt::format("there is no '{}'", step), std::move(allowed), did_you_mean(step, there));
  }

  void fail(std::size_t depth, const Item& /*item*/, std::string what, std::string allowed, std::string hint) {
    if (!failure_.any || depth > failure_.depth) {
      failure_ = {true, true, depth, std::move(what), std::move(allowed), std::move(hint)};
    }
  }

  const Reading& reading_;
  std::vector<std::string> path_;
  std::vector<TreePlace> found_;
  Failure failure_;
};

/// Paths of items that are there and end with these steps, the shortest ones; none where they are too many to mean any.
std::vector<std::string> ending_with(const Item& root, const std::vector<std::string>& steps) {
  constexpr std::size_t few = 4;
  std::vector<std::vector<std::string>> found;
  std::vector<std::string> keys;
  const std::function<void(const Item&)> walk = [&](const Item& item) {
    for (const Branch& b : branches(item)) {
      const Item* at = &item;
      for (const std::size_t i : b.steps) {
        at = &at->items[i];
      }
      keys.push_back(b.name);
      if (keys.size() > steps.size() && std::equal(steps.rbegin(), steps.rend(), keys.rbegin())) {
        found.push_back(keys);
      }
      walk(*at);
      keys.pop_back();
    }
  };
  walk(root);
  std::size_t shortest = 0;
  for (const std::vector<std::string>& path : found) {
    shortest = shortest == 0 ? path.size() : std::min(shortest, path.size());
  }
  std::vector<std::string> paths;
  for (const std::vector<std::string>& path : found) {
    if (path.size() == shortest) {
      paths.push_back(joined_path(path));
    }
  }
  return paths.size() > few ? std::vector<std::string>() : paths;
}

} // namespace

const Item& TreePlace::find(const Item& root) const {
  const Item* at = &root;
  for (const std::size_t i : steps) {
    at = &at->items.at(i);
  }
  return *at;
}

void TreePlace::put(Item& root, const Item& value) const {
  Item* parent = nullptr;
  Item* at = &root;
  for (const std::size_t i : steps) {
    parent = at;
    at = &at->items.at(i);
  }
  const bool nothing = value.kind == Item::Kind::Null;
  if (absent) {
    if (!nothing) {
      at->names.push_back({keys.back(), value.line, value.column});
      at->items.push_back(value);
    }
  } else if (!nothing) {
    *at = value;
  } else if (parent != nullptr) {
    const auto index = static_cast<std::ptrdiff_t>(steps.back());
    if (parent->map()) {
      parent->names.erase(parent->names.begin() + index);
    }
    parent->items.erase(parent->items.begin() + index);
  }
}

bool TreePlace::overlaps(const TreePlace& other) const {
  const std::size_t common = std::min(steps.size(), other.steps.size());
  if (!std::equal(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(common), other.steps.begin())) {
    return false;
  }
  // A missing key lies inside its map: it overlaps that map and itself, but neither another key nor what is beside it.
  if (absent && other.absent) {
    return steps.size() == other.steps.size() ? keys.back() == other.keys.back() : false;
  }
  if (absent) {
    return other.steps.size() <= steps.size();
  }
  if (other.absent) {
    return steps.size() <= other.steps.size();
  }
  return true;
}

std::vector<std::string> split_path(std::string_view path) {
  std::vector<std::string> steps;
  for (;;) {
    const std::size_t slash = path.find('/');
    std::string_view step = path.substr(0, slash);
    while (!step.empty() && step.front() == ' ') {
      step.remove_prefix(1);
    }
    while (!step.empty() && step.back() == ' ') {
      step.remove_suffix(1);
    }
    steps.emplace_back(step);
    if (slash == std::string_view::npos) {
      return steps;
    }
    path.remove_prefix(slash + 1);
  }
}

std::string joined_path(const std::vector<std::string>& steps) {
  std::string out;
  for (const std::string& s : steps) {
    out += (out.empty() ? "" : "/") + s;
  }
  return out;
}

bool matches(std::string_view pattern, std::string_view text) {
  std::size_t p = 0;
  std::size_t t = 0;
  std::size_t star = std::string_view::npos;
  std::size_t mark = 0;
  while (t < text.size()) {
    if (p < pattern.size() && pattern[p] == '*') {
      star = p++;
      mark = t;
    } else if (p < pattern.size() && pattern[p] == text[t]) {
      ++p;
      ++t;
    } else if (star != std::string_view::npos) {
      p = star + 1;
      t = ++mark;
    } else {
      return false;
    }
  }
  while (p < pattern.size() && pattern[p] == '*') {
    ++p;
  }
  return p == pattern.size();
}

std::vector<TreePlace> find_places(Context& c, const Item& root, const Reading& reading, const Item& path,
                                   const std::string& where) {
  const std::vector<std::string> steps = split_path(path.text);
  if (std::find(steps.begin(), steps.end(), "") != steps.end()) {
    c.faults.add(Code::Syntax, path, where, fmt::format("'{}' has an empty step", path.text),
                 "steps with one / between them, from a section of the scenario on",
                 "for example joint/stack/outer disc/thickness");
    return {};
  }
  Finder finder(reading, steps);
  TreePlace start;
  finder.walk(root, 0, start, false);
  if (finder.found().empty()) {
    const Finder::Failure& f = finder.failure();
    const std::vector<std::string> before(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(f.depth));
    // Who forgot where a value stands knows what it is called.
    const std::vector<std::string> meant = f.depth == 0 ? ending_with(root, steps) : std::vector<std::string>();
    const std::string hint = meant.empty() ? f.hint : fmt::format("did you mean {}?", fmt::join(meant, " or "));
    c.faults.add(
        Code::UnknownEntry, path, where,
        fmt::format("step {}{}: {}", f.depth + 1, before.empty() ? "" : ", after " + joined_path(before), f.found),
        f.allowed, hint);
  }
  return finder.found();
}

} // namespace clampfade

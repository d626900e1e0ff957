#include "post/scenario_difference.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <string_view>

namespace clampfade::post {

namespace {

using Pairs = std::vector<std::pair<std::string, std::string>>;

/// Position of the first of `signs` outside quotes and brackets, from `start`.
std::size_t find_outside(std::string_view text, std::string_view signs, std::size_t start = 0) {
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = start; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      i += c == '\\' ? 1U : 0U;
      quoted = c != '"';
    } else if (depth == 0 && signs.find(c) != std::string_view::npos) {
      return i;
    } else if (c == '"') {
      quoted = true;
    } else if (c == '{' || c == '[') {
      ++depth;
    } else if (c == '}' || c == ']') {
      --depth;
    }
  }
  return std::string_view::npos;
}

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(' ');
  const std::size_t last = text.find_last_not_of(' ');
  return first == std::string_view::npos ? std::string_view() : text.substr(first, last - first + 1);
}

/// Without its quotes, where it is quoted as a whole.
std::string unquoted(std::string_view text) {
  if (text.size() < 2 || text.front() != '"' || text.back() != '"') {
    return std::string(text);
  }
  std::string out;
  for (std::size_t i = 1; i + 1 < text.size(); ++i) {
    if (text[i] == '\\' && i + 2 < text.size()) {
      ++i;
    }
    out += text[i];
  }
  return out;
}

/// "key: value", the colon outside quotes and followed by a blank or the end.
std::pair<std::string, std::string_view> key_and_value(std::string_view text) {
  for (std::size_t at = find_outside(text, ":"); at != std::string_view::npos; at = find_outside(text, ":", at + 1)) {
    if (at + 1 == text.size() || text[at + 1] == ' ') {
      return {unquoted(trimmed(text.substr(0, at))), trimmed(text.substr(at + 1))};
    }
  }
  return {std::string(), trimmed(text)};
}

std::vector<std::string_view> split_outside(std::string_view text) {
  std::vector<std::string_view> all;
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(find_outside(text, ",", start), text.size());
    all.push_back(trimmed(text.substr(start, end - start)));
    start = end + 1;
  }
  return all;
}

std::string join(const std::string& parent, const std::string& key) {
  return parent.empty() || key.empty() ? parent + key : parent + "/" + key;
}

/// A value within a line; a map is taken apart.
void add_value(Pairs& out, const std::string& path, std::string_view value) {
  if (value.size() < 2 || value.front() != '{' || value.back() != '}') {
    out.emplace_back(path, std::string(value));
    return;
  }
  for (const std::string_view item : split_outside(value.substr(1, value.size() - 2))) {
    const auto [key, rest] = key_and_value(item);
    add_value(out, join(path, key), rest);
  }
}

/// A map or list entry whose lines are going on.
struct Frame {
  std::size_t indent; ///< of its own line
  std::string path;
};

} // namespace

Pairs flatten(const std::string& scenario_text) {
  Pairs out;
  std::vector<Frame> frames;
  std::map<std::string, std::size_t> entries; // seen so far of each list, and of each name in it
  std::vector<std::string_view> lines;
  std::string_view rest = scenario_text;
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('\n'), rest.size());
    lines.push_back(rest.substr(0, end));
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  const auto indent_of = [](std::string_view line) { return std::min(line.find_first_not_of(' '), line.size()); };
  for (std::size_t i = 0; i < lines.size(); ++i) {
    std::size_t indent = indent_of(lines[i]);
    std::string_view content = lines[i].substr(indent);
    if (content.empty() || content.front() == '#') {
      continue;
    }
    while (!frames.empty() && frames.back().indent >= indent) {
      frames.pop_back();
    }
    const bool dash = content.substr(0, 2) == "- ";
    if (dash) {
      content = trimmed(content.substr(2));
      const std::string parent = frames.empty() ? "" : frames.back().path;
      const std::size_t number = ++entries[parent];
      const auto [key, value] = key_and_value(content);
      std::string label = std::to_string(number);
      if (key == "part" || key == "name") {
        label = unquoted(value);
        const std::size_t again = ++entries[join(parent, label)];
        label += again > 1 ? " (" + std::to_string(again) + ")" : "";
      }
      frames.push_back({indent, join(parent, label)});
      indent += 2;
    }
    const std::string parent = frames.empty() ? "" : frames.back().path;
    const auto [key, value] = key_and_value(content);
    const std::string path = join(parent, key);
    if (value.empty()) {
      frames.push_back({indent, path});
    } else if (value == "|") {
      std::string block;
      while (i + 1 < lines.size() && (lines[i + 1].empty() || indent_of(lines[i + 1]) > indent)) {
        block += std::string(trimmed(lines[++i])) + "\n";
      }
      out.emplace_back(path, block);
    } else {
      add_value(out, path, value);
    }
  }
  return out;
}

std::vector<Difference> differences(const std::vector<std::string>& scenario_texts) {
  std::vector<Difference> all;
  std::map<std::string, std::size_t> places;
  for (std::size_t s = 0; s < scenario_texts.size(); ++s) {
    std::size_t after = 0; // a key that only later scenarios have stands behind its neighbours
    for (auto& [path, value] : flatten(scenario_texts[s])) {
      const auto known = places.find(path);
      if (known == places.end()) {
        all.insert(all.begin() + static_cast<std::ptrdiff_t>(after),
                   {path, std::vector<std::optional<std::string>>(scenario_texts.size())});
        for (auto& place : places) {
          place.second += place.second >= after ? 1U : 0U;
        }
        places[path] = after;
      } else {
        after = known->second;
      }
      all[after].values[s] = value;
      ++after;
    }
  }
  std::vector<Difference> differing;
  for (const Difference& d : all) {
    const bool same =
        std::all_of(d.values.begin(), d.values.end(), [&](const auto& v) { return v == d.values.front(); });
    if (same || d.path == "title") {
      continue;
    }
    // "catalogue/coatings/topcoat/modulus": the first three are the entry.
    std::size_t slash = 0;
    for (int part = 0; part < 3 && slash != std::string::npos; ++part) {
      slash = d.path.find('/', slash + 1);
    }
    const std::string entry = d.path.substr(0, slash);
    if (d.path.rfind("catalogue/", 0) == 0 && slash != std::string::npos) {
      const auto uses = [&](std::size_t s) {
        return std::any_of(all.begin(), all.end(), [&](const Difference& other) {
          return other.path.rfind(entry + "/", 0) == 0 && other.values[s].has_value();
        });
      };
      std::vector<std::optional<std::string>> used(scenario_texts.size());
      for (std::size_t s = 0; s < used.size(); ++s) {
        used[s] = uses(s) ? std::optional<std::string>("used") : std::nullopt;
      }
      if (std::any_of(used.begin(), used.end(), [](const auto& u) { return !u; })) {
        if (differing.empty() || differing.back().path != entry) {
          differing.push_back({entry, used});
        }
        continue;
      }
    }
    differing.push_back(d);
  }
  return differing;
}

namespace {

/// With so many significant digits, zeros behind the point left out.
std::string short_number(double v, int digits) {
  std::string text = number(v, digits);
  const std::size_t exponent = std::min(text.find('e'), text.size());
  std::size_t end = exponent;
  if (text.find('.') < exponent) {
    end = text.find_last_not_of('0', exponent - 1) + 1;
    end -= text[end - 1] == '.' ? 1U : 0U;
  }
  return text.substr(0, end) + text.substr(exponent);
}

std::string with_unit(double v, const std::string& unit_name, int digits) {
  return short_number(v, digits) + (unit_name.empty() ? "" : " " + unit_name);
}

/// A number in an SI unit for people.
std::string shown_number(double v, std::string_view si_unit, System system, int digits) {
  constexpr double micro = 1e-3; // m: below it people say micrometres
  constexpr double road = 100;   // m: from there on it is a way
  constexpr double point = 150;  // K
  const double size = std::abs(v);
  if (si_unit == "s") {
    return size < 2 * units::kMinute ? with_unit(v, "s", digits)
           : size < 2 * units::kHour ? with_unit(v / units::kMinute, "min", digits)
           : size < 2 * units::kDay  ? with_unit(v / units::kHour, "h", digits)
                                     : with_unit(v / units::kDay, "days", digits);
  }
  const Kind kind = si_unit != "m" ? kind_of(si_unit)
                    : size == 0    ? Kind::Length
                    : size < micro ? Kind::Thickness
                    : size < road  ? Kind::Length
                                   : Kind::Distance;
  if (kind == Kind::Number || (kind == Kind::Temperature && v < point)) {
    return with_unit(v, std::string(si_unit), digits);
  }
  return with_unit(convert(v, kind, system), unit(kind, system), digits);
}

} // namespace

std::string shown_value(const std::string& value, System system, int digits) {
  if (!value.empty() && value.back() == '\n') {
    return fmt::format("{} lines", std::count(value.begin(), value.end(), '\n'));
  }
  if (value.size() >= 2 && value.front() == '[' && value.back() == ']') {
    std::string out;
    for (const std::string_view item : split_outside(std::string_view(value).substr(1, value.size() - 2))) {
      out += (out.empty() ? "" : ", ") + shown_value(std::string(item), system, digits);
    }
    return "[" + out + "]";
  }
  double v = 0;
  const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), v);
  const std::string_view rest = std::string_view(value).substr(static_cast<std::size_t>(end - value.data()));
  if (error != std::errc() || (!rest.empty() && rest.front() != ' ')) {
    return unquoted(value);
  }
  return shown_number(v, trimmed(rest), system, digits);
}

std::vector<std::string> shown_values(const Difference& difference, System system) {
  std::vector<std::string> shown;
  constexpr int enough = 17;
  for (const int digits : {4, 6, 9, enough}) {
    shown.clear();
    for (const auto& v : difference.values) {
      shown.push_back(v ? shown_value(*v, system, digits) : "-");
    }
    bool apart = true;
    for (std::size_t i = 0; i < shown.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        apart = apart && ((shown[i] == shown[j]) == (difference.values[i] == difference.values[j]));
      }
    }
    if (apart) {
      break;
    }
  }
  return shown;
}

} // namespace clampfade::post

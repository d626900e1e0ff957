#include "solver/io/quantity.hpp"

#include "models/units.hpp"

#include <fmt/format.h>
#include <udunits2.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <memory>
#include <mutex>

namespace clampfade {

namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }
bool letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%'; }

std::string_view trimmed(std::string_view s) {
  while (!s.empty() && (s.front() == ' ' || s.front() == '\t')) {
    s.remove_prefix(1);
  }
  while (!s.empty() && (s.back() == ' ' || s.back() == '\t')) {
    s.remove_suffix(1);
  }
  return s;
}

/// Length of the decimal number at the start of s, 0 if there is none.
std::size_t number_length(std::string_view s) {
  std::size_t i = !s.empty() && (s[0] == '+' || s[0] == '-') ? 1 : 0;
  const std::size_t first = i;
  while (i < s.size() && digit(s[i])) {
    ++i;
  }
  std::size_t digits = i - first;
  if (digits > 1 && s[first] == '0') {
    return 0; // 010 is ten to some readers and eight to others
  }
  if (i < s.size() && s[i] == '.') {
    const std::size_t point = i++;
    while (i < s.size() && digit(s[i])) {
      ++i;
    }
    digits += i - point - 1;
  }
  if (digits == 0) {
    return 0;
  }
  if (i < s.size() && (s[i] == 'e' || s[i] == 'E')) {
    std::size_t j = i + 1;
    if (j < s.size() && (s[j] == '+' || s[j] == '-')) {
      ++j;
    }
    if (j < s.size() && digit(s[j])) {
      while (j < s.size() && digit(s[j])) {
        ++j;
      }
      i = j;
    }
  }
  return i;
}

std::optional<double> finite(std::string_view number) {
  if (!number.empty() && number.front() == '+') {
    number.remove_prefix(1);
  }
  double value = 0;
  const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), value);
  if (error != std::errc{} || end != number.data() + number.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

// ------------------------------------------------------------------------------------------------ units as written

/// What may be written, and what the unit library is to read. Trade spellings mean what the trade means by them: the
/// library alone would read mph as a unit of light and rpm as radians. Ambiguous words (ton, year, month, C, F) are
/// left out on purpose.
const std::map<std::string, std::string, std::less<>>& atoms() {
  static const std::map<std::string, std::string, std::less<>> list = {
      // length
      {"m", "m"},
      {"cm", "cm"},
      {"mm", "mm"},
      {"um", "um"},
      {"micron", "um"},
      {"microns", "um"},
      {"km", "km"},
      {"in", "inch"},
      {"inch", "inch"},
      {"inches", "inch"},
      {"ft", "foot"},
      {"foot", "foot"},
      {"feet", "foot"},
      {"yd", "yard"},
      {"mi", "mile"},
      {"mile", "mile"},
      {"miles", "mile"},
      {"mil", "(0.001 inch)"},
      {"mils", "(0.001 inch)"},
      {"thou", "(0.001 inch)"},
      // force
      {"N", "N"},
      {"daN", "(10 N)"},
      {"kN", "kN"},
      {"MN", "MN"},
      {"lbf", "lbf"},
      {"klbf", "(1000 lbf)"},
      {"kip", "(1000 lbf)"},
      {"kgf", "kgf"},
      // torque in one word
      {"Nm", "(N.m)"},
      {"kNm", "(kN.m)"},
      {"ftlb", "(lbf.foot)"},
      {"ftlbs", "(lbf.foot)"},
      {"ftlbf", "(lbf.foot)"},
      {"lbft", "(lbf.foot)"},
      {"lbfft", "(lbf.foot)"},
      {"inlb", "(lbf.inch)"},
      {"inlbs", "(lbf.inch)"},
      {"inlbf", "(lbf.inch)"},
      {"lbin", "(lbf.inch)"},
      {"lbfin", "(lbf.inch)"},
      // pressure
      {"Pa", "Pa"},
      {"mPa", "mPa"},
      {"kPa", "kPa"},
      {"MPa", "MPa"},
      {"GPa", "GPa"},
      {"bar", "(100000 Pa)"},
      {"psi", "psi"},
      {"ksi", "(1000 psi)"},
      // time
      {"s", "s"},
      {"sec", "s"},
      {"ms", "ms"},
      {"min", "min"},
      {"h", "h"},
      {"hr", "h"},
      {"hrs", "h"},
      {"hour", "h"},
      {"hours", "h"},
      {"d", "d"},
      {"day", "d"},
      {"days", "d"},
      {"wk", "(7 d)"},
      {"week", "(7 d)"},
      {"weeks", "(7 d)"},
      {"Hz", "(1/s)"},
      {"rpm", "(1/min)"},
      // speed and acceleration
      {"mph", "(mile/h)"},
      {"kph", "(km/h)"},
      {"kmh", "(km/h)"},
      {"gn", "standard_free_fall"},
      // mass
      {"kg", "kg"},
      {"g", "g"},
      {"t", "(1000 kg)"},
      {"tonne", "(1000 kg)"},
      {"tonnes", "(1000 kg)"},
      {"lb", "lb"},
      {"lbs", "lb"},
      {"lbm", "lb"},
      // temperature steps inside compound units, such as 1/degF
      {"K", "K"},
      {"degC", "K"},
      {"degF", "(K/1.8)"},
      // energy, power, amount
      {"J", "J"},
      {"kJ", "kJ"},
      {"MJ", "MJ"},
      {"W", "W"},
      {"kW", "kW"},
      {"MW", "MW"},
      {"Btu", "(1055.05585262 J)"},
      {"BTU", "(1055.05585262 J)"},
      {"mol", "mol"},
      {"kmol", "kmol"},
      // angle and pure numbers
      {"rad", "rad"},
      {"mrad", "mrad"},
      {"deg", "arc_degree"},
      {"%", "0.01"},
      {"ppm", "1e-6"},
  };
  return list;
}

void replace_all(std::string& s, std::string_view from, std::string_view to) {
  for (std::size_t at = s.find(from); at != std::string::npos; at = s.find(from, at + to.size())) {
    s.replace(at, from.size(), to);
  }
}

/// Typographic signs to plain ones.
std::string plain_signs(std::string_view unit) {
  std::string s(trimmed(unit));
  replace_all(s, "\xC2\xB5", "u"); // micro sign
  replace_all(s, "\xCE\xBC", "u"); // Greek mu
  replace_all(s,
              "\xC2\xB0"
              "C",
              "degC");
  replace_all(s,
              "\xC2\xB0"
              "F",
              "degF");
  replace_all(s, "\xC2\xB0", "deg");
  replace_all(s, "\xC2\xB7", "*");     // middle dot
  replace_all(s, "\xE2\x8B\x85", "*"); // dot operator
  replace_all(s, "\xC3\x97", "*");     // multiplication sign
  replace_all(s, "\xE2\x88\x92", "-"); // minus sign
  replace_all(s, "\xC2\xB2", "^2");
  replace_all(s, "\xC2\xB3", "^3");
  replace_all(s, "\xE2\x81\xBB\xC2\xB9", "^-1");
  return s;
}

struct Spelling {
  std::string library; ///< for the unit library; empty if `unknown` or malformed
  std::string unknown; ///< the word that is on no list
};

/// Walks a unit word by word. '-' between words multiplies, as the trade writes lbf-ft.
Spelling spell(std::string_view written) {
  const std::string s = plain_signs(written);
  std::string out;
  std::vector<std::string> words;
  std::vector<std::size_t> lb_places;
  bool only_products = true;
  bool after_word = false;
  int depth = 0;
  for (std::size_t i = 0; i < s.size();) {
    const char c = s[i];
    if (c == ' ') {
      ++i;
    } else if (letter(c)) {
      std::size_t j = i;
      while (j < s.size() && letter(s[j])) {
        ++j;
      }
      const std::string word = s.substr(i, j - i);
      const auto known = atoms().find(word);
      if (known == atoms().end()) {
        return {"", word};
      }
      if (after_word) {
        out += '.';
      }
      if (known->second == "lb") {
        lb_places.push_back(out.size());
      }
      out += known->second;
      words.push_back(word);
      after_word = true;
      i = j;
    } else if (after_word && s[i - 1] != ' ' &&
               (c == '^' || digit(c) || (c == '-' && i + 1 < s.size() && digit(s[i + 1])))) {
      std::size_t j = c == '^' ? i + 1 : i;
      std::string power;
      if (j < s.size() && s[j] == '-') {
        power += s[j++];
      }
      if (j >= s.size() || !digit(s[j]) || (j + 1 < s.size() && digit(s[j + 1]))) {
        return {"", s};
      }
      power += s[j];
      out += '^' + power;
      only_products = false;
      i = j + 1;
    } else if (after_word && (c == '*' || c == '.' || c == '-')) {
      out += '.';
      after_word = false;
      ++i;
      if (i >= s.size()) {
        return {"", s};
      }
    } else if (c == '/' && after_word) {
      out += '/';
      only_products = false;
      after_word = false;
      ++i;
    } else if (c == '1' && out.empty() && i + 1 < s.size() && (s[i + 1] == '/' || s[i + 1] == ' ')) {
      out += '1';
      after_word = true;
      ++i;
    } else if (c == '(' && !after_word) {
      out += c;
      ++depth;
      ++i;
    } else if (c == ')' && after_word && depth > 0) {
      out += c;
      --depth;
      ++i;
    } else {
      return {"", s};
    }
  }
  if (!after_word || depth != 0) {
    return {"", s};
  }
  // A pound times a foot or an inch is a torque in the trade: the pound is a force there, not a mass.
  const auto is_arm = [](const std::string& w) {
    return w == "ft" || w == "in" || w == "foot" || w == "feet" || w == "inch" || w == "inches";
  };
  if (only_products && words.size() == 2 && lb_places.size() == 1 && (is_arm(words[0]) || is_arm(words[1]))) {
    out.replace(lb_places[0], 2, "lbf");
  }
  return {out, ""};
}

// ------------------------------------------------------------------------------------------------ the unit library

struct FreeUnit {
  void operator()(ut_unit* u) const { ut_free(u); }
};
using Unit = std::unique_ptr<ut_unit, FreeUnit>;

std::mutex& library_lock() {
  static std::mutex lock; // the library makes no promise about threads
  return lock;
}

ut_system* library() {
  static ut_system* const system = [] {
    ut_set_error_message_handler(ut_ignore);
    ut_system* read = ut_read_xml(nullptr);
    if (read == nullptr) {
      throw FileError(Code::FileMissing,
                      "the unit library's database can't be read: install the package libudunits2-data "
                      "or set UDUNITS2_XML_PATH");
    }
    return read;
  }();
  return system;
}

Unit parse(const std::string& spelling) { return Unit(ut_parse(library(), spelling.c_str(), UT_UTF8)); }

struct Dimension {
  std::string_view si;    ///< as the declarations write it
  std::string_view kind;  ///< "a torque"
  std::string_view units; ///< what people would write
};

constexpr Dimension kDimensions[] = {
    {"m", "a length", "mm, um, m, km, in, mil"},
    {"N", "a force", "kN, N, lbf"},
    {"N m", "a torque", "N*m, lbf*ft, lbf*in"},
    {"Pa", "a pressure", "MPa, GPa, psi, ksi"},
    {"s", "a time", "s, min, h, d"},
    {"kg", "a mass", "kg, t, lb"},
    {"m/s", "a speed", "km/h, m/s, mph"},
    {"m/s^2", "an acceleration", "m/s^2, ft/s^2, gn"},
    {"W", "a power", "W, kW"},
    {"J/K", "a heat capacity", "kJ/K, J/K"},
    {"W/K", "a heat conductance", "W/K"},
    {"m^2", "an area", "m^2, cm^2, in^2"},
    {"1/K", "an expansion coefficient", "1/K, ppm/K, 1/degF"},
    {"J/mol", "a molar energy", "kJ/mol"},
    {"Pa s", "a viscosity", "Pa*s"},
    {"1/s", "a rate", "1/s, 1/h"},
    {"m/N", "a compliance", "m/N, um/kN"},
    {"1/Pa", "a wear coefficient", "1/Pa, 1/MPa"},
    {"rad", "an angle", "deg, rad"},
    {"K", "a temperature", "degC, degF, K"},
};

std::string_view kind_of(std::string_view si) {
  for (const Dimension& d : kDimensions) {
    if (d.si == si) {
      return d.kind;
    }
  }
  return "a quantity";
}

/// "a length" for the spelling of any unit of length; empty for a dimension that no parameter has.
std::string_view kind_of_spelling(const ut_unit* unit) {
  for (const Dimension& d : kDimensions) {
    const Unit other = parse(spell(d.si).library);
    if (other && ut_are_convertible(unit, other.get()) != 0) {
      // A pure number and an angle are alike to the library, and so are a rate and a frequency.
      return d.si == "rad" ? "a pure number or an angle" : d.kind;
    }
  }
  return "";
}

QuantityResult fault(Code code, std::string found, std::string allowed, std::string hint = "") {
  return {std::nullopt, {code, std::move(found), std::move(allowed), std::move(hint)}};
}

/// What the unknown `word` of `unit` may have meant where the SI unit `si_unit` is due.
std::string hint_for_unknown(std::string_view word, std::string_view unit, std::string_view si_unit) {
  static const std::map<std::string, std::string, std::less<>> known_traps = {
      {"ton", "a ton is 907, 1000 or 1016 kg: write t for 1000 kg, or lb"},
      {"tons", "a ton is 907, 1000 or 1016 kg: write t for 1000 kg, or lb"},
      {"year", "write days, for example 365 d"},
      {"years", "write days, for example 365 d"},
      {"yr", "write days, for example 365 d"},
      {"month", "write days, for example 30 d"},
      {"months", "write days, for example 30 d"},
      {"C", "did you mean degC?"},
      {"F", "did you mean degF?"},
      {"nm", "did you mean Nm?"},
      {"NM", "did you mean Nm?"},
      {"hp", "a horsepower is 736 or 746 W: write W or kW"},
  };
  if (const auto trap = known_traps.find(word); trap != known_traps.end()) {
    return trap->second;
  }
  const bool alone = word == trimmed(unit);
  const std::scoped_lock guard(library_lock());
  // A word alone can only have meant a unit of the dimension asked for; a word within a longer unit, any.
  const Unit target = alone ? parse(spell(si_unit).library) : nullptr;
  std::vector<std::string> names;
  for (const auto& [name, library_name] : atoms()) {
    const Unit known = alone ? parse(library_name) : nullptr;
    if (alone && (!known || !target || ut_are_convertible(known.get(), target.get()) == 0)) {
      continue;
    }
    // A spelling that differs in capitals only is the likeliest.
    if (std::equal(name.begin(), name.end(), word.begin(), word.end(), [](char a, char b) {
          return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
        })) {
      return "did you mean " + name + "?";
    }
    names.push_back(name);
  }
  const std::string near = word.size() > 2 ? nearest(word, names) : "";
  return near.empty() ? "" : "did you mean " + near + "?";
}

QuantityResult dimensional(double number, std::string_view text, std::string_view unit, const ParamSpec& spec) {
  const Spelling spelling = spell(unit);
  if (spelling.library.empty()) {
    return fault(Code::UnknownUnit, fmt::format("the unit '{}' of '{}' is not known", unit, text), wanted(spec),
                 hint_for_unknown(spelling.unknown, unit, spec.unit));
  }
  const Spelling target = spell(spec.unit);
  if (spelling.library == target.library) {
    return {number, {}}; // SI as it is, to the last bit
  }
  const std::scoped_lock guard(library_lock());
  const Unit from = parse(spelling.library);
  const Unit to = parse(target.library);
  if (!from || !to) {
    return fault(Code::UnknownUnit, fmt::format("the unit '{}' of '{}' is not known", unit, text), wanted(spec));
  }
  if (ut_are_convertible(from.get(), to.get()) == 0) {
    const std::string_view kind = kind_of_spelling(from.get());
    std::string hint;
    if (spec.unit == "N" && kind == "a mass") {
      hint = "a weight is a force: write lbf, kgf or kN";
    } else if (spec.unit == "kg" && kind == "a force") {
      hint = "a mass is due: write kg, t or lb";
    } else if (spec.unit == "Pa" && spelling.library.find("lb") != std::string::npos) {
      hint = "write psi or lbf/in^2";
    } else if (spec.unit == "N m") {
      hint = "write N*m or lbf*ft";
    } else if (spec.unit == "s" && unit == "m") {
      hint = "minutes are written min";
    } else if (spec.unit == "m/s^2" && unit == "g") {
      hint = "g is the gram; standard gravity is written gn";
    }
    return fault(Code::WrongDimension,
                 kind.empty() ? fmt::format("'{}' is not {}", text, kind_of(spec.unit))
                              : fmt::format("'{}' is {}, not {}", text, kind, kind_of(spec.unit)),
                 wanted(spec), hint);
  }
  cv_converter* converter = ut_get_converter(from.get(), to.get());
  const double si = cv_convert_double(converter, number);
  cv_free(converter);
  if (!std::isfinite(si)) {
    return fault(Code::NotANumber, fmt::format("'{}' is too large a number", text), wanted(spec));
  }
  return {si, {}};
}

/// Points and differences go through own code: the library would turn a step of 1 degC into 274.15 K.
QuantityResult temperature(double number, std::string_view text, std::string_view unit, const ParamSpec& spec) {
  const bool point = spec.quantity == Quantity::Point;
  const std::string plain = plain_signs(unit);
  if (plain == "K") {
    return {number, {}};
  }
  if (plain == "degC") {
    return {point ? number + units::kZeroCelsius : number, {}};
  }
  if (plain == "degF") {
    return {point ? (number + 459.67) * 5 / 9 : number * 5 / 9, {}};
  }
  const Spelling spelling = spell(unit);
  if (spelling.library.empty()) {
    return fault(Code::UnknownUnit, fmt::format("the unit '{}' of '{}' is not known", unit, text), wanted(spec),
                 plain == "deg" || plain == "c" || plain == "f" ? "did you mean degC?"
                                                                : hint_for_unknown(spelling.unknown, unit, spec.unit));
  }
  const std::scoped_lock guard(library_lock());
  const Unit from = parse(spelling.library);
  const std::string_view kind = from ? kind_of_spelling(from.get()) : "";
  return fault(Code::WrongDimension,
               kind.empty() ? fmt::format("'{}' is not a temperature", text)
                            : fmt::format("'{}' is {}, not a temperature", text, kind),
               wanted(spec), plain == "deg" ? "did you mean degC?" : "");
}

// ------------------------------------------------------------------------------------------------ text for people

struct Scale {
  std::string_view si;
  double below; ///< used for values smaller than this
  ShownUnit si_unit;
  ShownUnit us_unit;
};

const std::vector<Scale>& scales() {
  constexpr double any = std::numeric_limits<double>::infinity();
  constexpr double foot = 0.3048;
  constexpr double inch = 0.0254;
  static const std::vector<Scale> list = {
      {"m", 0.9999e-3, {"um", units::kMicrometre, 0}, {"thou", units::kThou, 0}},
      {"m", 1, {"mm", units::kMillimetre, 0}, {"in", inch, 0}},
      {"m", 1e3, {"m", 1, 0}, {"ft", foot, 0}},
      {"m", any, {"km", units::kKilometre, 0}, {"mi", units::kMile, 0}},
      {"N", 1, {"N", 1, 0}, {"lbf", units::kPoundForce, 0}},
      {"N", any, {"kN", units::kKilonewton, 0}, {"lbf", units::kPoundForce, 0}},
      {"N m",
       any,
       {"N\xC2\xB7m", 1, 0},
       {"lbf\xC2\xB7"
        "ft",
        units::kPoundForceFoot, 0}},
      {"Pa", 1e10, {"MPa", units::kMegapascal, 0}, {"ksi", units::kKsi, 0}},
      {"Pa", any, {"GPa", 1e9, 0}, {"ksi", units::kKsi, 0}},
      {"s", 100, {"s", 1, 0}, {"s", 1, 0}},
      {"s", 7200, {"min", units::kMinute, 0}, {"min", units::kMinute, 0}},
      {"s", 2 * units::kDay, {"h", units::kHour, 0}, {"h", units::kHour, 0}},
      {"s", any, {"d", units::kDay, 0}, {"d", units::kDay, 0}},
      {"kg", 1e4, {"kg", 1, 0}, {"lb", 0.45359237, 0}},
      {"kg", any, {"t", 1e3, 0}, {"lb", 0.45359237, 0}},
      {"m/s", any, {"km/h", 1 / 3.6, 0}, {"mph", 0.44704, 0}},
      {"m/s^2", any, {"m/s^2", 1, 0}, {"ft/s^2", foot, 0}},
      {"W", 1e3, {"W", 1, 0}, {"W", 1, 0}},
      {"W", any, {"kW", 1e3, 0}, {"kW", 1e3, 0}},
      {"K", any, {"degC", 1, units::kZeroCelsius}, {"degF", 5.0 / 9, 459.67 * 5 / 9}},
      {"J/K", any, {"kJ/K", 1e3, 0}, {"kJ/K", 1e3, 0}},
      {"J/mol", any, {"kJ/mol", 1e3, 0}, {"kJ/mol", 1e3, 0}},
      {"m^2", 1e-2, {"mm^2", 1e-6, 0}, {"in^2", inch * inch, 0}},
      {"m^2", any, {"m^2", 1, 0}, {"ft^2", foot * foot, 0}},
      {"m/N", any, {"um/kN", 1e-9, 0}, {"thou/klbf", units::kThou / (1e3 * units::kPoundForce), 0}},
      {"N/m", any, {"kN/mm", 1e6, 0}, {"klbf/in", 1e3 * units::kPoundForce / inch, 0}},
      {"rad", any, {"deg", units::kDegree, 0}, {"deg", units::kDegree, 0}},
  };
  return list;
}

std::string four_digits(double v) {
  std::string text = significant(v);
  if (text.find('.') != std::string::npos && text.find('e') == std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
      text.pop_back();
    }
  }
  return text;
}

/// The units that people write for `spec`, the customary one first.
std::vector<std::string> units_of(const ParamSpec& spec) {
  std::string_view list = spec.quantity == Quantity::Point        ? "degC, degF, K"
                          : spec.quantity == Quantity::Difference ? "K, degC, degF"
                                                                  : "";
  for (const Dimension& d : kDimensions) {
    if (spec.quantity == Quantity::Dimensional && d.si == spec.unit) {
      list = d.units;
    }
  }
  std::vector<std::string> units;
  while (!list.empty()) {
    const std::size_t comma = std::min(list.find(", "), list.size());
    units.emplace_back(list.substr(0, comma));
    list.remove_prefix(std::min(comma + 2, list.size()));
  }
  if (const auto usual = std::find(units.begin(), units.end(), spec.customary); usual != units.end()) {
    std::rotate(units.begin(), usual, usual + 1);
  }
  return units;
}

std::string words(const std::vector<std::string>& list) {
  std::string out;
  for (const std::string& word : list) {
    out += (out.empty() ? "" : ", ") + word;
  }
  return out;
}

/// What may have been meant by a number without a unit: it with the first unit that makes a usual value of it, or with
/// the first that makes an allowed one.
std::string example(std::string_view number, const ParamSpec& spec) {
  const std::vector<std::string> units = units_of(spec);
  for (const Range* range : {&spec.calibrated, &spec.allowed}) {
    for (const std::string& unit : units) {
      const auto value = read_quantity(fmt::format("{} {}", number, unit), spec).value;
      if (value && spec.allowed.holds(*value) && range->holds(*value)) {
        return fmt::format("for example {} {}", number, unit);
      }
    }
  }
  return units.empty() ? "" : fmt::format("for example {} {}", number, units.front());
}

} // namespace

std::string significant(double value) {
  const double size = std::abs(value);
  if (size == 0) {
    return "0";
  }
  if (!std::isfinite(value) || size < 1e-4 || size >= 1e7) {
    return fmt::format("{:.4g}", value);
  }
  // The exponent after rounding: 9.99996 has two digits before the point once it is shown as 10.00.
  const std::string rounded = fmt::format("{:.3e}", size);
  int exponent = 0;
  const char* digits = rounded.data() + rounded.find('e') + 1;
  std::from_chars(*digits == '+' ? digits + 1 : digits, rounded.data() + rounded.size(), exponent);
  return fmt::format("{:.{}f}", value, std::max(0, 3 - exponent));
}

std::optional<double> plain_number(std::string_view text) {
  return number_length(text) == text.size() && !text.empty() ? finite(text) : std::nullopt;
}

std::string wanted(const ParamSpec& spec) {
  switch (spec.quantity) {
  case Quantity::Point:
    return "a temperature with a unit: " + words(units_of(spec));
  case Quantity::Difference:
    return "a temperature difference with a unit: " + words(units_of(spec));
  case Quantity::Number:
    return "a number without a unit, or per cent";
  case Quantity::Count:
    return "a whole number";
  case Quantity::Dimensional:
    break;
  }
  for (const Dimension& d : kDimensions) {
    if (d.si == spec.unit) {
      return fmt::format("{} with a unit: {}", d.kind, words(units_of(spec)));
    }
  }
  return fmt::format("a quantity in {}", spec.unit);
}

namespace {
constexpr std::size_t kLongestQuantity = 200; ///< [bytes]; signs are replaced one by one, which a megabyte would feel
} // namespace

QuantityResult read_quantity(std::string_view written, const ParamSpec& spec) {
  std::string text(trimmed(written));
  if (text.size() > kLongestQuantity) {
    return fault(Code::NotANumber, fmt::format("a text of {} bytes where a value is due", text.size()), wanted(spec));
  }
  replace_all(text, "\xE2\x88\x92", "-"); // a typographic minus before a number
  const std::size_t length = number_length(text);
  const auto number = length > 0 ? finite(std::string_view(text).substr(0, length)) : std::nullopt;
  if (!number) {
    std::string hint;
    if (text.find('_') != std::string::npos) {
      hint = "write digits without separators";
    } else if (text.size() > 1 && text[0] == '0' && digit(text[1])) {
      hint = "leave out the leading zeros";
    }
    return fault(Code::NotANumber, fmt::format("'{}' does not begin with a plain finite number", text), wanted(spec),
                 hint);
  }
  const std::string_view unit = trimmed(std::string_view(text).substr(length));
  const bool reciprocal = unit.size() > 1 && unit[0] == '1' && (unit[1] == '/' || unit[1] == ' ');
  if (!unit.empty() && !reciprocal &&
      (digit(unit[0]) || unit[0] == ',' || unit[0] == '_' || unit[0] == '.' || unit[0] == '\'')) {
    return fault(Code::NotANumber, fmt::format("'{}' is not a plain number", text), wanted(spec),
                 unit[0] == ',' ? "the decimal sign is a point" : "write digits without separators");
  }
  switch (spec.quantity) {
  case Quantity::Count:
    if (!unit.empty()) {
      return fault(Code::WrongDimension, fmt::format("'{}' has a unit, but a count is due", text), wanted(spec));
    }
    if (*number != std::floor(*number) || *number < 0 || *number > 9e15) {
      return fault(Code::NotANumber, fmt::format("'{}' is not a whole number", text), wanted(spec));
    }
    return {number, {}};
  case Quantity::Number:
    if (unit.empty()) {
      return {number, {}};
    }
    if (unit == "%") {
      return {*number / 100, {}};
    }
    return fault(Code::WrongDimension, fmt::format("'{}' has a unit, but a pure number is due", text), wanted(spec));
  case Quantity::Point:
  case Quantity::Difference:
  case Quantity::Dimensional:
    break;
  }
  if (unit.empty()) {
    return fault(Code::MissingUnit, fmt::format("'{}' has no unit", text), wanted(spec), example(text, spec));
  }
  return spec.quantity == Quantity::Dimensional ? dimensional(*number, text, unit, spec)
                                                : temperature(*number, text, unit, spec);
}

ShownUnit shown_unit(std::string_view written, double largest, UnitSystem system) {
  const std::string_view si_unit = written == "m2" ? "m^2" : written;
  for (const Scale& s : scales()) {
    // A hair below the threshold counts as reaching it: 1000 um is 1 mm.
    if (s.si == si_unit && std::abs(largest) * (1 + 1e-12) < s.below) {
      return system == UnitSystem::Si ? s.si_unit : s.us_unit;
    }
  }
  return {si_unit == "1" ? "" : std::string(si_unit), 1, 0};
}

std::string friendly(double si, const ParamSpec& spec) {
  if (spec.quantity == Quantity::Difference) {
    return four_digits(si) + " K";
  }
  if (spec.quantity == Quantity::Number || spec.quantity == Quantity::Count) {
    return spec.quantity == Quantity::Count ? fmt::format("{:.0f}", si) : four_digits(si);
  }
  // Zero reads best in the unit of middling sizes.
  const ShownUnit unit = shown_unit(spec.unit, si == 0 && spec.unit == "m" ? 0.1 : si, UnitSystem::Si);
  return four_digits(unit(si)) + " " + unit.name;
}

std::string range_text(const Range& range, const ParamSpec& spec) {
  const bool low = std::isfinite(range.low);
  const bool high = std::isfinite(range.high);
  if (low && range.low == range.high) {
    return friendly(range.low, spec);
  }
  if (low && high) {
    return friendly(range.low, spec) + " to " + friendly(range.high, spec);
  }
  if (low) {
    return "at least " + friendly(range.low, spec);
  }
  return high ? "at most " + friendly(range.high, spec) : "";
}

std::vector<std::string> known_units() {
  std::vector<std::string> names;
  for (const auto& [name, library_name] : atoms()) {
    names.push_back(name);
  }
  return names;
}

} // namespace clampfade

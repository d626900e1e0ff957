#include "post/svg.hpp"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

namespace clampfade::post {

namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

/// Length of the well-formed UTF-8 character that starts here; 0 if there is none.
std::size_t character(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(i < text.size() ? text[i] : 0); };
  const unsigned char lead = byte(at);
  const std::size_t length = lead < 0x80                    ? 1
                             : lead >= 0xC2 && lead <= 0xDF ? 2
                             : lead >= 0xE0 && lead <= 0xEF ? 3
                             : lead >= 0xF0 && lead <= 0xF4 ? 4
                                                            : 0;
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(at + i) & 0xC0) != 0x80) {
      return 0;
    }
  }
  const unsigned char second = byte(at + 1);
  const bool overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
  const bool beyond = (lead == 0xED && second > 0x9F) || (lead == 0xF4 && second > 0x8F);
  return overlong || beyond ? 0 : length;
}

std::string written(std::initializer_list<Attribute> attributes) {
  std::string out;
  for (const Attribute& a : attributes) {
    out += " " + std::string(a.name) + "=\"" + escape(a.value) + "\"";
  }
  return out;
}

std::string start(std::string_view name, std::initializer_list<Attribute> attributes) {
  return "<" + std::string(name) + written(attributes);
}

} // namespace

std::string escape(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = character(text, i);
    const char c = text[i];
    if (length == 0 || (length == 1 && static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t')) {
      out += kReplacement;
      ++i;
      continue;
    }
    if (length > 1) {
      out += text.substr(i, length);
    } else if (c == '&') {
      out += "&amp;";
    } else if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else if (c == '"') {
      out += "&quot;";
    } else if (c == '\'') {
      out += "&#39;";
    } else {
      out += c;
    }
    i += length;
  }
  return out;
}

std::string coordinate(double value) {
  if (!std::isfinite(value)) {
    throw Undrawable("a drawing was given a length that is not finite");
  }
  std::string out = fmt::format("{:.1f}", value);
  if (out.ends_with(".0")) {
    out.resize(out.size() - 2);
  }
  return out == "-0" ? "0" : out;
}

std::string element(std::string_view name, std::initializer_list<Attribute> attributes, std::string_view content) {
  return start(name, attributes) + ">" + std::string(content) + "</" + std::string(name) + ">";
}

std::string element(std::string_view name, std::initializer_list<Attribute> attributes) {
  return start(name, attributes) + "/>";
}

std::string picture(std::string_view style, const std::string& id, double width, double height, std::string_view title,
                    std::string_view note, std::string_view content, std::initializer_list<Attribute> more) {
  const std::string title_id = id + "-t";
  const std::string note_id = id + "-n";
  return start("svg", {{"xmlns", "http://www.w3.org/2000/svg"},
                       {"class", style},
                       {"viewBox", fmt::format("0 0 {} {}", coordinate(width), coordinate(height))},
                       {"role", "img"},
                       {"aria-labelledby", title_id + " " + note_id}}) +
         written(more) + ">" + element("title", {{"id", title_id}}, escape(title)) +
         element("desc", {{"id", note_id}}, escape(note)) + std::string(content) + "</svg>";
}

std::string nothing_to_draw(double width, std::string_view why) {
  return element("text", {{"class", "label"}, {"x", width / 2}, {"y", 40.0}, {"text-anchor", "middle"}}, escape(why));
}

std::string_view kind_name(Kind kind) {
  switch (kind) {
  case Kind::Force:
    return "force";
  case Kind::Torque:
    return "torque";
  case Kind::Temperature:
    return "temperature";
  case Kind::Distance:
    return "distance";
  case Kind::Thickness:
    return "thickness";
  case Kind::Length:
    return "length";
  case Kind::Stress:
    return "stress";
  case Kind::Resilience:
    return "resilience";
  case Kind::Power:
    return "power";
  case Kind::Duration:
    return "duration";
  case Kind::Number:
    break;
  }
  return "number";
}

std::string quantity(double si, Kind kind, System system, int digits, std::string_view tag) {
  if (!std::isfinite(si)) {
    return escape(number(si, digits));
  }
  return element(tag,
                 {{"class", "q"},
                  {"data-si", fmt::format("{}", si)},
                  {"data-kind", kind_name(kind)},
                  {"data-digits", std::to_string(digits)}},
                 escape(show(si, kind, system, digits)));
}

std::string bare_quantity(double si, Kind kind, System system, int digits, std::string_view tag) {
  if (!std::isfinite(si)) {
    return escape(number(si, digits));
  }
  return element(tag,
                 {{"class", "q"},
                  {"data-si", fmt::format("{}", si)},
                  {"data-kind", kind_name(kind)},
                  {"data-digits", std::to_string(digits)},
                  {"data-bare", "1"}},
                 escape(plain(si, kind, system, digits)));
}

int decimals(Kind kind, System system) {
  const bool si = system == System::Si;
  return kind == Kind::Force ? (si ? 1 : 0) : kind == Kind::Thickness ? (si ? 1 : 2) : 2;
}

std::string fixed_quantity(double si, Kind kind, System system, std::string_view tag, bool bare) {
  if (!std::isfinite(si)) {
    return "-";
  }
  std::string text = fmt::format("{:.{}f}", convert(si, kind, system), decimals(kind, system));
  if (text.find_first_of("123456789") == std::string::npos && text.front() == '-') {
    text.erase(0, 1);
  }
  return element(tag,
                 {{"class", "q"},
                  {"data-si", fmt::format("{}", si)},
                  {"data-kind", kind_name(kind)},
                  {"data-fixed", "1"},
                  {"data-bare", bare ? "1" : ""}},
                 escape(bare ? text : text + " " + unit(kind, system)));
}

std::string unit_name(Kind kind, System system, std::string_view tag) {
  return element(tag, {{"class", "u"}, {"data-kind", kind_name(kind)}}, escape(unit(kind, system)));
}

std::string in_both(const std::string& si, const std::string& us, std::string_view tag) {
  if (si == us) {
    return escape(si);
  }
  return element(tag, {{"class", "si"}}, escape(si)) + element(tag, {{"class", "us"}}, escape(us));
}

} // namespace clampfade::post

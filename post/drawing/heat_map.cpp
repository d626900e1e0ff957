#include "post/drawing/heat_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr double kRow = 30;
constexpr double kTop = 50;

double wide(const BothTexts& text) { return std::max(text_width_of(text.si), text_width_of(text.us)); }

std::string opacity(double tone) { return fmt::format("{:.2f}", 0.12 + 0.88 * std::min(1.0, std::abs(tone))); }

std::string ground(double tone, double x, double y, double width, double height) {
  return element("rect", {{"class", "field-paper"}, {"x", x}, {"y", y}, {"width", width}, {"height", height}}) +
         element("rect", {{"class", tone < 0 ? "field bad" : "field"},
                          {"x", x},
                          {"y", y},
                          {"width", width},
                          {"height", height},
                          {"fill-opacity", opacity(tone)}});
}

} // namespace

std::string draw(const HeatMap& map, Units units, double width) {
  double left = 20;
  for (const BothTexts& text : map.rows.texts) {
    left = std::max(left, wide(text) + 14);
  }
  left = std::min(left, width / 3);
  const auto columns = static_cast<double>(map.columns.texts.size());
  double widest = 0;
  for (const HeatField& field : map.fields) {
    widest = std::max(widest, wide(field.text));
  }
  const double cell = std::clamp((width - left - 8) / columns, std::min(widest + 6, 60.0), 170.0);
  const double right = left + cell * columns;
  std::string out = element("text", {{"class", "label strong"}, {"x", 4.0}, {"y", 14.0}}, both(map.values, units)) +
                    element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", kTop - 12}}, both(map.rows.name, units));
  for (std::size_t i = 0; i < map.fields.size(); ++i) {
    const HeatField& field = map.fields[i];
    const double x = left + cell * static_cast<double>(i % map.columns.texts.size());
    const std::size_t row = i / map.columns.texts.size();
    const double y = kTop + kRow * static_cast<double>(row);
    std::string one =
        field.text.si.empty()
            ? element("rect", {{"class", "field-paper"}, {"x", x}, {"y", y}, {"width", cell}, {"height", kRow}})
            : ground(field.tone, x, y, cell, kRow);
    one += element("text",
                   {{"class", field.bad ? "value bad" : "value"},
                    {"x", x + cell / 2},
                    {"y", y + kRow / 2 + 4},
                    {"text-anchor", "middle"}},
                   field.text.si.empty() ? "–" : both(field.text, units));
    out += element("g", {{"class", "heat-cell"}}, one);
  }
  double bottom = kTop;
  for (const BothTexts& text : map.rows.texts) {
    out += element("text", {{"class", "tick"}, {"x", left - 6}, {"y", bottom + kRow / 2 + 4}, {"text-anchor", "end"}},
                   both(text, units));
    bottom += kRow;
  }
  std::size_t deepest = 1;
  // Every second or third name, where numbers have not the room.
  std::size_t step = 1;
  for (const BothTexts& text : map.columns.texts) {
    if (text.si.find(' ') == std::string::npos) {
      step = std::max(step, static_cast<std::size_t>(std::ceil((wide(text) + 4) / cell)));
    }
  }
  for (std::size_t i = 0; i < map.columns.texts.size(); i += step) {
    const double x = left + cell * (static_cast<double>(i) + 0.5);
    const BothTexts& text = map.columns.texts[i];
    const std::vector<std::string> lines =
        text.si == text.us ? lines_of(text.si, cell - 4) : std::vector<std::string>{};
    deepest = std::max(deepest, lines.size());
    for (std::size_t k = 0; k < std::max<std::size_t>(lines.size(), 1); ++k) {
      out += element(
          "text",
          {{"class", "tick"}, {"x", x}, {"y", bottom + 16 + 14 * static_cast<double>(k)}, {"text-anchor", "middle"}},
          lines.empty() ? both(text, units) : escape(lines[k]));
    }
  }
  bottom += 6 + 14 * static_cast<double>(deepest);
  out += element("text", {{"class", "axis-name"}, {"x", right}, {"y", bottom + 17}, {"text-anchor", "end"}},
                 both(map.columns.name, units));
  bottom += 24;
  double far = std::max({right, 4 + wide(map.rows.name), 4 + 1.1 * wide(map.values)}); // bold is wider
  far = std::max(far, wide(map.columns.name) + 4);
  if (!map.legend.empty()) {
    out += element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", bottom + 16}}, both(map.legend_name, units));
    bottom += 22;
    double x = 4;
    for (const HeatTone& tone : map.legend) {
      const double box = std::max(44.0, wide(tone.text) + 12);
      out += ground(tone.tone, x, bottom, box, 22);
      out += element("text", {{"class", "value"}, {"x", x + box / 2}, {"y", bottom + 15}, {"text-anchor", "middle"}},
                     both(tone.text, units));
      x += box;
    }
    far = std::max({far, x, 4 + wide(map.legend_name)});
    bottom += 26;
  }
  return picture("chart heat", map.id, far + 4, bottom + 4, map.title, map.note, out);
}

} // namespace clampfade::post

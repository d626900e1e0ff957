#include "post/markup.hpp"

#include "post/alarms.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

namespace clampfade::post::markup {

std::string said(const std::function<std::string(System)>& sentence, Units units) {
  return units.both ? in_both(sentence(System::Si), sentence(System::Us)) : escape(sentence(units.first));
}

std::string paragraph(const std::string& markup, const char* style) {
  return markup.empty() ? "" : *style == '\0' ? element("p", {}, markup) : element("p", {{"class", style}}, markup);
}

std::string table(const std::string& caption, const std::vector<std::string>& head,
                  const std::vector<std::vector<std::string>>& rows, std::size_t numbers) {
  const auto style = [&](std::size_t i) { return i < numbers ? "text" : "number"; };
  std::string out;
  for (std::size_t i = 0; i < head.size(); ++i) {
    out += element("th", {{"scope", "col"}, {"class", style(i)}}, head[i]);
  }
  const bool headed = !head.empty();
  out = headed ? element("thead", {}, element("tr", {}, out)) : "";
  std::string body;
  for (const std::vector<std::string>& row : rows) {
    std::string cells;
    for (std::size_t i = 0; i < row.size(); ++i) {
      cells += i == 0 ? element("th", {{"scope", "row"}, {"class", "text"}}, row[i])
                      : element("td", {{"class", style(i)}}, row[i]);
    }
    body += element("tr", {}, cells);
  }
  out += element("tbody", {}, body);
  return (headed ? paragraph(escape(caption), "caption") : "") +
         element("div", {{"class", "table"}, {"tabindex", "0"}, {"role", "region"}, {"aria-label", caption}},
                 element("table", {{"aria-label", caption}}, out));
}

std::string details(const std::string& summary, const std::string& markup, const char* style) {
  return element("details", {{"class", style}}, element("summary", {}, summary) + markup);
}

std::string cautions_markup() {
  std::string list;
  for (const std::string_view caution : cautions()) {
    list += element("li", {}, escape(caution));
  }
  return element("ul", {}, list);
}

std::string cautions_box() {
  return element("div", {{"class", "cautions"}, {"role", "note"}, {"aria-label", "Cautions"}},
                 element("strong", {}, "Cautions") + cautions_markup());
}

std::string warnings_list(const std::vector<std::string>& warnings, Units units) {
  std::string list;
  for (const std::string& warning : warnings) {
    list += element("li", {}, said([&](System u) { return translated(warning, u); }, units));
  }
  return list.empty() ? "" : element("ul", {}, list);
}

std::string force(double v, Units u, int digits) { return quantity(v, Kind::Force, u.first, digits); }
std::string bare(double v, Kind kind, Units u, int digits) { return bare_quantity(v, kind, u.first, digits); }
std::string heading_unit(const char* what, Kind kind, Units u) {
  return std::string(what) + (*what == '\0' ? "" : ", ") + unit_name(kind, u.first);
}

std::string range_bare(double low, double high, Kind kind, Units u, int digits) {
  return low == high ? bare(low, kind, u, digits) : bare(low, kind, u, digits) + " to " + bare(high, kind, u, digits);
}

std::string together(const std::string& text) { return element("span", {{"class", "nb"}}, escape(text)); }

std::string key_figure(const char* style, const std::string& name, const std::string& value, const std::string& note) {
  return element("div", {{"class", std::string("key ") + style}},
                 element("dt", {}, escape(name)) + element("dd", {{"class", "value"}}, value) +
                     (note.empty() ? "" : element("dd", {{"class", "note"}}, note)));
}

std::string title_block(const std::string& kind, const std::string& title, const std::vector<std::string>& facts) {
  std::string list;
  for (const std::string& fact : facts) {
    list += element("li", {}, escape(fact));
  }
  return element("div", {{"class", "title"}},
                 element("p", {{"class", "kind"}}, escape(kind)) + element("h1", {}, escape(title)) +
                     element("ul", {{"class", "facts"}}, list));
}

} // namespace clampfade::post::markup

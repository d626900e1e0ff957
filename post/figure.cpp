#include "post/figure.hpp"

#include "post/charts.hpp"
#include "post/drawing/tightening.hpp"
#include "post/drawing/waterfall.hpp"
#include "post/web.hpp"

#include "solver/diagnostics.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <stdexcept>

#ifdef CLAMPFADE_RSVG
#include <cairo.h>
#include <librsvg/rsvg.h>
#endif

namespace clampfade::post {

namespace {

/// "--name: value;" of the first ":root" block, which is that for light paper.
std::map<std::string, std::string, std::less<>> properties(std::string_view colours) {
  std::map<std::string, std::string, std::less<>> out;
  const std::size_t from = colours.find('{', colours.find(":root"));
  const std::size_t to = colours.find('}', from);
  for (std::size_t at = colours.find("--", from); at < to; at = colours.find("--", at)) {
    const std::size_t colon = colours.find(':', at);
    const std::size_t end = colours.find(';', colon);
    const std::size_t value = colours.find_first_not_of(' ', colon + 1);
    out.emplace(colours.substr(at, colon - at), colours.substr(value, end - value));
    at = end;
  }
  return out;
}

std::string markup(const Run& run, const FigureOptions& options) {
  const Units units{options.system, false};
  if (options.chart == "clamp") {
    return draw(clamp_chart(run), options.along, units);
  }
  if (options.chart == "temperature") {
    return draw(temperature_chart(run), options.along, units);
  }
  if (options.chart == "slip-margin") {
    return draw(slip_margin_chart(run), options.along, units);
  }
  if (options.chart == "coating") {
    return draw(coating_chart(run), options.along, units);
  }
  if (options.chart == "budget") {
    return waterfall("budget", run, units);
  }
  if (options.chart == "tightening") {
    return tightening_sequence("tightening", run, units);
  }
  throw std::invalid_argument(
      fmt::format("no chart of a history is called {}; there are {}", options.chart, fmt::join(figure_names(), ", ")));
}

} // namespace

const std::vector<std::string>& figure_names() {
  static const std::vector<std::string> names = {"clamp",       "budget",  "temperature",
                                                 "slip-margin", "coating", "tightening"};
  return names;
}

std::string resolved(std::string_view style_sheet, std::string_view colours) {
  const auto values = properties(colours);
  std::string out;
  std::size_t done = 0;
  for (std::size_t at = style_sheet.find("var("); at != std::string_view::npos; at = style_sheet.find("var(", done)) {
    const std::size_t end = style_sheet.find(')', at);
    const auto value = values.find(style_sheet.substr(at + 4, end - at - 4));
    out += style_sheet.substr(done, at - done);
    out += value == values.end() ? "#000000" : value->second;
    done = end + 1;
  }
  return out + std::string(style_sheet.substr(done));
}

std::string figure_svg(const Run& run, const FigureOptions& options) {
  std::string svg = markup(run, options);
  if (svg.empty()) {
    svg = draw(Chart{options.chart,
                     options.chart,
                     "Nothing was recorded.",
                     "",
                     Kind::Number,
                     {},
                     {},
                     {},
                     true,
                     false,
                     "",
                     false},
               Along::Time, {options.system, false});
  }
  return figure_document(svg, options.width);
}

std::string figure_document(const std::string& svg, double width) {
  // "0 0 w h": the picture keeps that shape at the width asked for.
  const std::size_t box = svg.find("viewBox=\"0 0 ") + 13;
  const double w = std::stod(svg.substr(box));
  const double h = std::stod(svg.substr(svg.find(' ', box)));
  const std::size_t start = svg.find('>');
  const std::string size = fmt::format(" width=\"{:.0f}\" height=\"{:.0f}\"", width, width * h / w);
  // The paper reaches past the picture: at whole pixels its shape is not quite that of the box, and a PNG's edge
  // would be left dark.
  constexpr double past = 4;
  const std::string style = element("style", {}, resolved(web::drawing_css(), web::colours_css())) +
                            element("rect", {{"x", -past},
                                             {"y", -past},
                                             {"width", w + 2 * past},
                                             {"height", h + 2 * past},
                                             {"fill", resolved("var(--paper)", web::colours_css())}});
  // Title and description stay first, as readers of the screen want them.
  const std::size_t body = svg.find("</desc>") + 7;
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + svg.substr(0, start) + size +
         svg.substr(start, body - start) + style + svg.substr(body) + "\n";
}

#ifdef CLAMPFADE_RSVG

bool can_write_png() { return true; }

std::string png(const std::string& svg, double width) {
  const auto fail = [](const std::string& why) -> void {
    throw FileError(Code::FileWrite, "cannot turn the chart into PNG: " + why);
  };
  GError* error = nullptr;
  RsvgHandle* handle = rsvg_handle_new_from_data(reinterpret_cast<const guint8*>(svg.data()), svg.size(), &error);
  if (handle == nullptr) {
    const std::string why = error != nullptr ? error->message : "it was not read";
    g_clear_error(&error);
    fail(why);
  }
  gdouble w = 0;
  gdouble h = 0;
  rsvg_handle_get_intrinsic_size_in_pixels(handle, &w, &h);
  const double height = w > 0 ? width * h / w : width;
  cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, static_cast<int>(std::lround(width)),
                                                        static_cast<int>(std::lround(height)));
  cairo_t* context = cairo_create(surface);
  const RsvgRectangle whole = {0, 0, width, height};
  const bool drawn = rsvg_handle_render_document(handle, context, &whole, &error) != 0;
  std::string bytes;
  const auto keep = [](void* to, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
  };
  const bool written = drawn && cairo_surface_write_to_png_stream(surface, keep, &bytes) == CAIRO_STATUS_SUCCESS;
  cairo_destroy(context);
  cairo_surface_destroy(surface);
  g_object_unref(handle);
  const std::string why = error != nullptr ? error->message : "not enough memory";
  g_clear_error(&error);
  if (!written) {
    fail(why);
  }
  return bytes;
}

#else

bool can_write_png() { return false; }

std::string png(const std::string&, double) {
  throw FileError(Code::FileWrite,
                  "this program was built without librsvg, so it cannot write PNG; ask for a name that "
                  "ends in .svg");
}

#endif

} // namespace clampfade::post

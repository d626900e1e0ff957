// One chart alone, for a document.
#pragma once

#include "post/chart.hpp"
#include "post/run.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace clampfade::post {

/// What `--chart` may name.
const std::vector<std::string>& figure_names();

struct FigureOptions {
  std::string chart = "clamp";
  Along along = Along::Time;
  System system = System::Si;
  double width = 900; ///< of the picture [px], 200 to 10000
};

/// The chart as an SVG document of its own: one system of units, light colours, nothing it needs from elsewhere. Throws
/// std::invalid_argument for a name that is none.
std::string figure_svg(const Run& run, const FigureOptions& options);

/// A drawn chart, an <svg>, as such a document.
std::string figure_document(const std::string& svg, double width);

/// Whether this program was built with what turns SVG into PNG.
bool can_write_png();
/// A PNG file's bytes. Throws FileError(FileWrite) if it cannot.
std::string png(const std::string& svg, double width);

/// A style sheet with every var(--name) replaced by what its ":root" says, for readers that know no such properties.
std::string resolved(std::string_view style_sheet, std::string_view colours);

} // namespace clampfade::post

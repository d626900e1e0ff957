// Style sheets and scripts that go into pages, embedded when this program was built.
#pragma once

#include <string_view>

namespace clampfade::post::web {

std::string_view colours_css(); ///< custom properties: the colours, light and dark
std::string_view drawing_css(); ///< classes of charts and drawings
std::string_view page_css();    ///< the page around them
std::string_view page_js();     ///< what moves in the page
std::string_view dygraph_css(); ///< of the chart library dygraphs
std::string_view dygraph_js();  ///< dygraphs (MIT licence, named at its top)

} // namespace clampfade::post::web

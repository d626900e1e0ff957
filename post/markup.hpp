// Pieces of HTML that every page is made of. Text that callers give is markup unless a comment says otherwise.
#pragma once

#include "post/svg.hpp"
#include "post/units.hpp"

#include <functional>
#include <string>
#include <vector>

namespace clampfade::post::markup {

/// A sentence of plain text in one system or both.
std::string said(const std::function<std::string(System)>& sentence, Units units);

/// Empty for nothing.
std::string paragraph(const std::string& markup, const char* style = "");

/// A table in a box of its own that scrolls where it is too wide. Columns from `numbers` on are numbers. `caption` is
/// plain text.
std::string table(const std::string& caption, const std::vector<std::string>& head,
                  const std::vector<std::vector<std::string>>& rows, std::size_t numbers = 1);

std::string details(const std::string& summary, const std::string& markup, const char* style = "more");

/// The cautions as a list, and the box with them that stands right under a finding.
std::string cautions_markup();
std::string cautions_box();

/// Warnings of plain text as a list, with their units in both systems; empty for none.
std::string warnings_list(const std::vector<std::string>& warnings, Units units);

std::string force(double v, Units u, int digits = 4);
std::string bare(double v, Kind kind, Units u, int digits = 4);
std::string heading_unit(const char* what, Kind kind, Units u);
std::string range_bare(double low, double high, Kind kind, Units u, int digits = 4);

/// Plain words that are not to be parted at a line's end.
std::string together(const std::string& text);

/// A number of the finding, large. `name` is plain text.
std::string key_figure(const char* style, const std::string& name, const std::string& value, const std::string& note);

/// Title of a page with what it is above and facts below; all plain text.
std::string title_block(const std::string& kind, const std::string& title, const std::vector<std::string>& facts);

} // namespace clampfade::post::markup

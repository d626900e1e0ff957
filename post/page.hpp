// One self-contained page: the finding first, then everything that led to it. Readable without script.
#pragma once

#include "post/chart.hpp"
#include "post/run.hpp"

#include <string>
#include <utility>
#include <vector>

namespace clampfade::post {

/// Puts pages together out of sections; knows nothing of what they say. Text that callers give is markup.
class PageBuilder {
public:
  /// `title` is plain text.
  PageBuilder(std::string title, Units units);

  [[nodiscard]] Units units() const { return units_; }
  /// Markup above all sections, beside the switches.
  void header(std::string markup) { header_ = std::move(markup); }
  /// What the page rests on, from the warnings of all it shows: its first line (basis_sentence).
  void basis(const std::vector<std::string>& warnings);
  enum class Width { Third, Half, Full };
  /// A card with a heading of its own; `short_name` stands in the contents. `id` is unique in the page.
  void section(const std::string& id, const std::string& short_name, const std::string& heading,
               const std::string& markup, Width width = Width::Full);
  /// A chart as <figure>: drawn, with its sentence, and its data for the script.
  std::string figure(const Chart& chart);
  /// Data by which a slider moves drawings; `id` is that of the region that holds them.
  void moments(const std::string& id, const std::string& json) { moments_.emplace_back(id, json); }
  /// The page.
  [[nodiscard]] std::string html() const;

private:
  std::string title_;
  Units units_;
  std::string basis_, header_, body_, contents_;
  std::vector<std::pair<std::string, std::string>> charts_, moments_;
};

/// Markup of the parts of a page about one run; `prefix` goes before every id in them, so that several runs stand in
/// one page. All take a run with records unless they say otherwise.
std::string finding_markup(const Run& run, Units units);                                  ///< also without records
std::string milestones_markup(const Run& run, Units units);                               ///< table
std::string moments_markup(PageBuilder& page, const Run& run, const std::string& prefix); ///< with the slider
std::string required_markup(const Run& run, Units units);
std::string limits_markup(const Run& run, Units units);
std::string studs_markup(const Run& run, Units units);
std::string tightening_markup(const std::string& prefix, const Run& run, Units units);
std::string events_markup(const Run& run, Units units);
std::string inputs_markup(const Run& run, Units units);   ///< also without records
std::string warnings_markup(const Run& run, Units units); ///< also without records; empty if there are none
std::string computed_markup(const Run& run, Units units); ///< also without records

/// All sections about one run.
void add_run(PageBuilder& page, const Run& run, const std::string& prefix = "");

/// The page about one run, in both systems of units, of which it opens with one.
std::string page(const Run& run, System opens_with);

} // namespace clampfade::post

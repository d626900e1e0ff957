#include "post/drawing/stud_strip.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace clampfade::post {

std::string stud_strip(const std::string& id, const Run& run, std::size_t row, Units units) {
  const Summary& s = run.summary;
  if (run.rows() == 0) {
    return "";
  }
  constexpr double width = 520;
  constexpr double height = 266;
  constexpr double left = 12;
  constexpr double right = 508;
  constexpr double top = 44;
  constexpr double bottom = 218;
  double highest = s.finding.required_clamp.value_or(0);
  for (const double clamp : run.clamp_cold) {
    highest = std::max(highest, clamp);
  }
  const double scale = (bottom - top) / (highest > 0 ? highest : 1);
  const auto y = [&](double force) { return bottom - std::max(force, 0.0) * scale; };
  const double step = (right - left) / static_cast<double>(run.studs());
  const double bar = std::min(34.0, 0.62 * step);
  std::string out = element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", 16.0}},
                            "Cold clamp, " + unit_name(Kind::Force, units.first, "tspan"));
  for (std::size_t stud = 0; stud < run.studs(); ++stud) {
    const double middle = left + (static_cast<double>(stud) + 0.5) * step;
    const double first = run.clamp_cold[stud];
    const double now = run.clamp_cold[row * run.studs() + stud];
    const bool weakest = stud == s.budget.weakest_stud;
    std::string one = element(
        "rect",
        {{"class", "start"}, {"x", middle - bar / 2}, {"y", y(first)}, {"width", bar}, {"height", bottom - y(first)}});
    const bool below = s.finding.required_clamp && now < *s.finding.required_clamp;
    one += element("rect", {{"class", below ? "now below" : "now"},
                            {"x", middle - bar / 2},
                            {"y", y(now)},
                            {"width", bar},
                            {"height", bottom - y(now)}});
    one += element(
        "text", {{"class", "value"}, {"x", middle}, {"y", std::min(y(first), y(now)) - 6}, {"text-anchor", "middle"}},
        s.stud_lines[stud].removed && now == 0 ? std::string("off")
                                               : fixed_quantity(now, Kind::Force, units.first, "tspan", true));
    one +=
        element("circle",
                {{"class", weakest ? "balloon weakest" : "balloon"}, {"cx", middle}, {"cy", bottom + 18}, {"r", 11.0}});
    one += element("text", {{"class", "balloon-text"}, {"x", middle}, {"y", bottom + 22}, {"text-anchor", "middle"}},
                   escape(s.studs[stud]));
    out += element(
        "g", {{"class", s.stud_lines[stud].removed ? "stud removed" : "stud"}, {"data-stud", std::to_string(stud)}},
        one);
  }
  out += element("line", {{"class", "axis-line"}, {"x1", left}, {"y1", bottom}, {"x2", right}, {"y2", bottom}});
  if (s.finding.required_clamp) {
    const double at = y(*s.finding.required_clamp);
    out += element("line", {{"class", "level"}, {"x1", left}, {"y1", at}, {"x2", right}, {"y2", at}});
    out +=
        element("text", {{"class", "level-text"}, {"x", right}, {"y", 16.0}, {"text-anchor", "end"}},
                "dashed: required clamp " + quantity(*s.finding.required_clamp, Kind::Force, units.first, 4, "tspan"));
  }
  out += element("text", {{"class", "muted label"}, {"x", width / 2}, {"y", bottom + 45}, {"text-anchor", "middle"}},
                 fmt::format("stud, once round the bolt circle: stud {} stands beside stud {}", escape(s.studs.back()),
                             escape(s.studs.front())));
  return picture("strip", id, width, height, "Studs round the bolt circle",
                 "One bar for each stud: outline for the cold clamp after tightening, filled for the cold "
                 "clamp at the moment shown.",
                 out,
                 {{"data-y0", fmt::format("{}", bottom)},
                  {"data-scale", fmt::format("{}", scale)},
                  {"data-required", s.finding.required_clamp ? fmt::format("{}", *s.finding.required_clamp) : ""}});
}

} // namespace clampfade::post

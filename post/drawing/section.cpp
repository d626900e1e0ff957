#include "post/drawing/section.hpp"

#include "post/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace clampfade::post {

namespace {

constexpr double kWidth = 520;
constexpr double kMargin = 10;
constexpr double kTop = 58;
// Not part of the model, so drawn by eye, as shares of the stud's diameter.
constexpr double kHeadHeight = 0.6;
constexpr double kNutHeight = 1.0;
constexpr double kFlange = 0.2; ///< of the nut, where its seat is wider than its bearing
constexpr double kStudEnd = 0.3;
constexpr double kThinnest = 1e-6; ///< [m]
constexpr double kLongest = 100;   ///< [m]
constexpr double kMostWashers = 100;

const std::vector<double>* values(const Summary& s, std::string_view name) {
  const Figure* f = find_figure(s, name);
  return f == nullptr || f->values.empty() ? nullptr : &f->values;
}

const std::vector<std::string>* texts(const Summary& s, std::string_view name) {
  const Figure* f = find_figure(s, name);
  return f == nullptr || f->text.empty() ? nullptr : &f->text;
}

/// Whether these can be the dimensions of a joint: the scale of the drawing divides by them, and a file may say
/// anything.
bool drawable(const SectionGeometry& g) {
  std::vector<double> lengths = {g.head,       g.nut,      g.seat,   g.core,         g.shank,        g.grip,
                                 g.cone_head,  g.cone_nut, g.sleeve, g.washer_outer, g.washer_inner, g.washer_thickness,
                                 g.washer_cone};
  for (const SectionPart& part : g.parts) {
    lengths.insert(lengths.end(), {part.thickness, part.hole, part.pad});
  }
  for (const SectionLayer& layer : g.layers) {
    lengths.push_back(layer.thickness);
  }
  return g.stud > kThinnest && g.stud < kLongest && g.stack() > kThinnest && std::isfinite(g.cone_tangent) &&
         std::ranges::all_of(lengths, [](double length) { return length >= 0 && length < kLongest; });
}

/// The upper half is drawn, and mirrored at the axis.
class Drawing {
public:
  Drawing(const std::string& id, const SectionGeometry& g, const Run& run, std::size_t row, Units units)
      : id_(id), g_(g), run_(run), row_(row), units_(units), scale_(section_scale(g)) {
    double radius = std::max({g.head, g.seat, g.nut, g.washer_outer}) / 2;
    for (const SectionPart& part : g.parts) {
      radius = std::max(radius, part.pad / 2);
    }
    left_ = kMargin + kHeadHeight * g.stud * scale_;
    axis_ = kTop + radius * scale_;
    bottom_ = axis_ + radius * scale_;
  }
  std::string svg();

private:
  [[nodiscard]] double x(double z) const { return left_ + z * scale_; }
  /// A ring cut by the plane of the drawing: from radius `inner` to `outer`, once above and once below the axis.
  [[nodiscard]] std::string ring(double z0, double z1, double inner, double outer, const std::string& style,
                                 const std::string& fill = "") const;
  void hatches();
  void heat();
  void part(std::size_t i);
  void coating(std::size_t i);
  void washers();
  void nut();
  void stud();
  void cone();
  void balloons();
  void dimension();
  void temperature_scale();

  const std::string& id_;
  const SectionGeometry& g_;
  const Run& run_;
  std::size_t row_;
  Units units_;
  double scale_, left_ = 0, axis_ = 0, bottom_ = 0;
  std::vector<double> starts_;                          ///< of the parts [m]
  std::vector<std::pair<double, std::string>> letters_; ///< coatings: middle in the drawing, letter
  std::string out_;
};

std::string Drawing::ring(double z0, double z1, double inner, double outer, const std::string& style,
                          const std::string& fill) const {
  std::string out;
  for (const double y : {axis_ - outer * scale_, axis_ + inner * scale_}) {
    const std::string paint = fill.empty() ? "" : "url(#" + fill + ")";
    const Attribute a{"class", style};
    out +=
        fill.empty()
            ? element("rect",
                      {a, {"x", x(z0)}, {"y", y}, {"width", (z1 - z0) * scale_}, {"height", (outer - inner) * scale_}})
            : element("rect", {a,
                               {"x", x(z0)},
                               {"y", y},
                               {"width", (z1 - z0) * scale_},
                               {"height", (outer - inner) * scale_},
                               {"fill", paint}});
  }
  return out;
}

void Drawing::hatches() {
  std::string defs;
  // Neighbours in a section are hatched crosswise, and at different distances.
  constexpr std::array<double, 4> angles = {45, -45, 45, -45};
  constexpr std::array<double, 4> gaps = {7, 7, 4.5, 4.5};
  for (std::size_t i = 0; i < angles.size(); ++i) {
    defs += element("pattern",
                    {{"id", fmt::format("{}-h{}", id_, i)},
                     {"width", gaps[i]},
                     {"height", gaps[i]},
                     {"patternUnits", "userSpaceOnUse"},
                     {"patternTransform", fmt::format("rotate({})", coordinate(angles[i]))}},
                    element("line", {{"class", "hatch"}, {"x1", 0.0}, {"y1", 0.0}, {"x2", 0.0}, {"y2", gaps[i]}}));
  }
  defs += element("linearGradient", {{"id", id_ + "-g"}},
                  element("stop", {{"offset", "0"}, {"class", "cold-end"}}) +
                      element("stop", {{"offset", "1"}, {"class", "hot-end"}}));
  out_ += element("defs", {}, defs);
}

void Drawing::part(std::size_t i) {
  const SectionPart& p = g_.parts[i];
  const double z0 = starts_[i];
  const double z1 = z0 + p.thickness;
  const auto node = std::find(run_.nodes.begin(), run_.nodes.end(), p.node);
  std::string out = ring(z0, z1, p.hole / 2, p.pad / 2, "body");
  if (node != run_.nodes.end() && !run_.temperature.empty()) {
    const auto at = static_cast<std::size_t>(node - run_.nodes.begin());
    const auto [cold, hot] = temperature_ends(run_);
    const double share = hot > cold ? (run_.temperature[row_ * run_.nodes.size() + at] - cold) / (hot - cold) : 0;
    out += element("g",
                   {{"class", "heat"},
                    {"data-node", std::to_string(at)},
                    {"style", fmt::format("opacity:{:.2f}", std::clamp(share, 0.0, 1.0))}},
                   ring(z0, z1, p.hole / 2, p.pad / 2, "tint"));
  }
  out += ring(z0, z1, p.hole / 2, p.pad / 2, "outline", fmt::format("{}-h{}", id_, i % 4));
  out_ += element("g", {{"class", "part"}}, out);
}

void Drawing::coating(std::size_t i) {
  const SectionLayer& layer = g_.layers[i];
  for (std::size_t p = 0; p < g_.parts.size(); ++p) {
    if (g_.parts[p].name != layer.part) {
      continue;
    }
    double now = layer.thickness;
    const std::size_t stud = run_.summary.budget.weakest_stud;
    if (!run_.layer_thickness.empty() && i < run_.layers.size()) {
      const double recorded = run_.layer_thickness[(row_ * run_.studs() + stud) * run_.layers.size() + i];
      now = std::isfinite(recorded) ? recorded : now;
    }
    const double drawn = now * coating_factor(g_);
    const double start = starts_[p] + (layer.head_side ? 0 : g_.parts[p].thickness - drawn);
    const double face = starts_[p] + (layer.head_side ? 0 : g_.parts[p].thickness);
    out_ += element("g",
                    {{"class", fmt::format("coating s{}", i % 10 + 1)},
                     {"data-layer", std::to_string(i)},
                     {"data-face", coordinate(x(face))},
                     {"data-side", layer.head_side ? "head" : "nut"},
                     {"data-scale", fmt::format("{}", scale_ * coating_factor(g_))}},
                    ring(start, start + drawn, g_.parts[p].hole / 2, g_.parts[p].pad / 2, "film"));
    letters_.emplace_back(x(face) + (layer.head_side ? 1 : -1) * layer.thickness * coating_factor(g_) * scale_ / 2,
                          std::string(1, static_cast<char>('a' + i % 26)));
  }
}

void Drawing::washers() {
  double z = g_.stack();
  for (std::size_t nest = 0; nest < g_.washer_series; ++nest) {
    const bool rising = nest % 2 == 0; // nests on top of each other face each other
    for (std::size_t i = 0; i < g_.washer_parallel; ++i) {
      const double outer = z + static_cast<double>(i) * g_.washer_thickness + (rising ? 0 : g_.washer_cone);
      const double inner = z + static_cast<double>(i) * g_.washer_thickness + (rising ? g_.washer_cone : 0);
      for (const double side : {-1.0, 1.0}) {
        const double r0 = axis_ + side * g_.washer_inner / 2 * scale_;
        const double r1 = axis_ + side * g_.washer_outer / 2 * scale_;
        const double t = g_.washer_thickness;
        out_ += element("path", {{"class", "washer"},
                                 {"d", fmt::format("M{},{}L{},{}L{},{}L{},{}Z", coordinate(x(outer)), coordinate(r1),
                                                   coordinate(x(outer + t)), coordinate(r1), coordinate(x(inner + t)),
                                                   coordinate(r0), coordinate(x(inner)), coordinate(r0))}});
      }
    }
    z += static_cast<double>(g_.washer_parallel) * g_.washer_thickness + g_.washer_cone;
  }
}

void Drawing::nut() {
  const double z = g_.stack() + g_.washers();
  const bool flanged = g_.seat > 1.02 * g_.nut && g_.washer_series == 0;
  double from = z;
  if (g_.sleeve > 0) {
    double wheels = 0;
    for (const SectionPart& p : g_.parts) {
      wheels += p.wheel ? p.thickness : 0;
    }
    out_ += ring(z - wheels, z, g_.stud / 2, g_.sleeve / 2, "nut");
  }
  if (flanged) {
    out_ += ring(z, z + kFlange * g_.stud, g_.stud / 2, g_.seat / 2, "nut");
    from += kFlange * g_.stud;
  }
  out_ += ring(from, z + kNutHeight * g_.stud, g_.stud / 2, g_.nut / 2, "nut");
}

void Drawing::stud() {
  const double end = g_.stack() + g_.washers() + (kNutHeight + kStudEnd) * g_.stud;
  // Above and below the axis in one: a stud is not hollow.
  const auto bar = [&](double z0, double z1, double diameter, const char* style) {
    out_ += element("rect", {{"class", style},
                             {"x", x(z0)},
                             {"y", axis_ - diameter / 2 * scale_},
                             {"width", (z1 - z0) * scale_},
                             {"height", diameter * scale_}});
  };
  bar(-kHeadHeight * g_.stud, 0, g_.head, "stud-body");
  bar(0, end, g_.stud, "stud-body");
  for (const double side : {-1.0, 1.0}) {
    const double y = axis_ + side * g_.core / 2 * scale_;
    out_ += element("line", {{"class", "thread"}, {"x1", x(g_.shank)}, {"y1", y}, {"x2", x(end)}, {"y2", y}});
  }
  out_ += element(
      "line",
      {{"class", "centre"}, {"x1", x(-kHeadHeight * g_.stud) - 8}, {"y1", axis_}, {"x2", x(end) + 8}, {"y2", axis_}});
}

void Drawing::cone() {
  const std::vector<std::pair<double, double>> outline = cone_outline(g_);
  for (const double side : {-1.0, 1.0}) {
    std::string points;
    for (const auto& [z, r] : outline) {
      points += (points.empty() ? "" : " ") + coordinate(x(z)) + "," + coordinate(axis_ + side * r * scale_);
    }
    if (!points.empty()) {
      out_ += element("polyline", {{"class", "cone"}, {"points", points}});
    }
  }
}

/// Numbers of the parts above, their temperatures in them, letters of the coatings below.
void Drawing::balloons() {
  std::vector<double> wanted;
  for (std::size_t i = 0; i < g_.parts.size(); ++i) {
    wanted.push_back(x(starts_[i] + g_.parts[i].thickness / 2));
  }
  const std::vector<double> placed = spread_labels(wanted, 26, 14, kWidth - 14);
  for (std::size_t i = 0; i < g_.parts.size(); ++i) {
    const SectionPart& p = g_.parts[i];
    const double edge = axis_ - p.pad / 2 * scale_;
    out_ +=
        element("line", {{"class", "leader"}, {"x1", placed[i]}, {"y1", 28.0}, {"x2", wanted[i]}, {"y2", edge + 6}});
    out_ += element("circle", {{"class", "balloon"}, {"cx", placed[i]}, {"cy", 18.0}, {"r", 11.0}});
    out_ += element("text", {{"class", "balloon-text"}, {"x", placed[i]}, {"y", 22.0}, {"text-anchor", "middle"}},
                    std::to_string(i + 1));
    const auto node = std::find(run_.nodes.begin(), run_.nodes.end(), p.node);
    if (node == run_.nodes.end() || run_.temperature.empty()) {
      continue;
    }
    const auto at = static_cast<std::size_t>(node - run_.nodes.begin());
    const double wide = p.thickness * scale_;
    const double y = axis_ - (p.pad + std::max(p.hole, g_.stud)) / 4 * scale_;
    constexpr double room = 50;
    const std::string turn =
        wide < room ? fmt::format("rotate(-90 {0} {1})", coordinate(wanted[i] + 4), coordinate(y)) : std::string();
    const std::string text =
        quantity(run_.temperature[row_ * run_.nodes.size() + at], Kind::Temperature, units_.first, 3, "tspan");
    constexpr double least = 12;
    if (wide >= least) {
      out_ += element("text",
                      {{"class", "temperature halo"},
                       {"x", wide < room ? wanted[i] + 4 : wanted[i]},
                       {"y", wide < room ? y : y + 4},
                       {"text-anchor", "middle"},
                       {"transform", turn},
                       {"data-node", std::to_string(at)}},
                      text);
    }
  }
  std::vector<double> under;
  for (const auto& [middle, letter] : letters_) {
    under.push_back(middle);
  }
  const std::vector<double> spots = spread_labels(under, 16, 14, kWidth - 14);
  for (std::size_t i = 0; i < letters_.size(); ++i) {
    out_ += element(
        "line",
        {{"class", "leader"}, {"x1", letters_[i].first}, {"y1", bottom_ - 5}, {"x2", spots[i]}, {"y2", bottom_ + 12}});
    out_ +=
        element("text", {{"class", "label letter"}, {"x", spots[i]}, {"y", bottom_ + 23}, {"text-anchor", "middle"}},
                letters_[i].second);
  }
  out_ += element(
      "text", {{"class", "label"}, {"x", x(-kHeadHeight * g_.stud)}, {"y", axis_ - g_.head / 2 * scale_ - 6}}, "head");
  const double nut_z = g_.stack() + g_.washers() + kNutHeight * g_.stud / 2;
  out_ += element("text",
                  {{"class", "label"},
                   {"x", x(nut_z) + 6},
                   {"y", axis_ - std::max(g_.nut, g_.seat) / 2 * scale_ - 6},
                   {"text-anchor", "middle"}},
                  "nut");
  if (g_.washer_series > 0) {
    out_ += element("text",
                    {{"class", "label"}, {"x", x(g_.stack()) + 4}, {"y", axis_ + g_.washer_outer / 2 * scale_ + 16}},
                    "spring washers");
  }
}

void Drawing::dimension() {
  const double y = bottom_ + (letters_.empty() ? 22 : 40);
  const double from = x(0);
  // A grip that counts the washers ends at the nut.
  const bool with_washers = g_.grip > g_.stack() + g_.washers() / 2;
  const double to = x(g_.stack() + (with_washers ? g_.washers() : 0));
  for (const double at : {from, to}) {
    out_ += element(
        "line",
        {{"class", "extension"}, {"x1", at}, {"y1", bottom_ + (letters_.empty() ? 3 : 27)}, {"x2", at}, {"y2", y + 5}});
  }
  out_ += element("path", {{"class", "dimension"},
                           {"d", fmt::format("M{0},{2}H{1}M{3},{4}L{0},{2}L{3},{5}M{6},{4}L{1},{2}L{6},{5}",
                                             coordinate(from), coordinate(to), coordinate(y), coordinate(from + 8),
                                             coordinate(y - 3), coordinate(y + 3), coordinate(to - 8))}});
  out_ += element("text", {{"class", "label halo"}, {"x", (from + to) / 2}, {"y", y + 16}, {"text-anchor", "middle"}},
                  "grip length " + quantity(g_.grip, Kind::Length, units_.first, 4, "tspan"));
}

void Drawing::temperature_scale() {
  if (run_.temperature.empty()) {
    return;
  }
  const auto [cold, hot] = temperature_ends(run_);
  const double y = bottom_ + (letters_.empty() ? 22 : 40) + 42;
  const double from = 290;
  constexpr double wide = 130;
  const auto end = [&](double at, const char* anchor, double kelvin) {
    out_ += element("text", {{"class", "tick"}, {"x", at}, {"y", y + 4}, {"text-anchor", anchor}},
                    quantity(kelvin, Kind::Temperature, units_.first, 3, "tspan"));
  };
  out_ += element("text", {{"class", "tick"}, {"x", from - 74}, {"y", y + 4}, {"text-anchor", "end"}},
                  "temperature of the parts");
  end(from - 6, "end", cold);
  out_ += element("rect", {{"class", "ramp-ground"}, {"x", from}, {"y", y - 5}, {"width", wide}, {"height", 10.0}});
  out_ +=
      element("rect", {{"x", from}, {"y", y - 5}, {"width", wide}, {"height", 10.0}, {"fill", "url(#" + id_ + "-g)"}});
  end(from + wide + 6, "start", hot);
}

std::string Drawing::svg() {
  double z = 0;
  for (const SectionPart& p : g_.parts) {
    starts_.push_back(z);
    z += p.thickness;
  }
  hatches();
  for (std::size_t i = 0; i < g_.parts.size(); ++i) {
    part(i);
  }
  for (std::size_t i = 0; i < g_.layers.size(); ++i) {
    coating(i);
  }
  washers();
  nut();
  stud();
  cone();
  balloons();
  dimension();
  temperature_scale();
  const auto [cold, hot] = temperature_ends(run_);
  return picture("section", id_, kWidth, bottom_ + (letters_.empty() ? 78 : 96),
                 "Section through the joint along one stud",
                 "From the stud's head on the left to the nut on the right, in true proportion; numbers and "
                 "letters are those of the table beside it.",
                 out_,
                 {{"data-cold", fmt::format("{}", cold)},
                  {"data-hot", fmt::format("{}", hot)},
                  {"data-scale", fmt::format("{}", scale_)}});
}

} // namespace

double SectionGeometry::stack() const {
  double sum = 0;
  for (const SectionPart& part : parts) {
    sum += part.thickness;
  }
  return sum;
}

double SectionGeometry::washers() const {
  return static_cast<double>(washer_series) * (static_cast<double>(washer_parallel) * washer_thickness + washer_cone);
}

std::optional<SectionGeometry> section_geometry(const Summary& s) {
  const auto* thickness = values(s, "geometry/part_thickness");
  const auto* hole = values(s, "geometry/part_hole");
  const auto* pad = values(s, "geometry/part_pad");
  const auto* wheel = values(s, "geometry/part_wheel");
  const auto* material = texts(s, "geometry/part_material");
  const auto* node = texts(s, "geometry/part_node");
  const auto stud = find_number(s, "geometry/stud_diameter");
  const auto head = find_number(s, "geometry/head_diameter");
  const auto nut = find_number(s, "geometry/nut_outer");
  if (thickness == nullptr || hole == nullptr || pad == nullptr || wheel == nullptr || material == nullptr ||
      node == nullptr || !stud || !head || !nut) {
    return std::nullopt;
  }
  const std::vector<std::string>& names = find_figure(s, "geometry/part_thickness")->labels;
  const std::size_t n = thickness->size();
  if (names.size() != n || hole->size() != n || pad->size() != n || wheel->size() != n || material->size() != n ||
      node->size() != n) {
    return std::nullopt;
  }
  SectionGeometry g;
  for (std::size_t i = 0; i < n; ++i) {
    g.parts.push_back({names[i], (*material)[i], (*node)[i], (*thickness)[i], (*hole)[i], (*pad)[i], (*wheel)[i] != 0});
  }
  const auto or_zero = [&](const char* name) { return find_number(s, name).value_or(0); };
  const auto count = [&](const char* name) {
    const double told = or_zero(name);
    return static_cast<std::size_t>(told > 0 ? std::min(told, kMostWashers) : 0);
  };
  g.stud = *stud;
  g.head = *head;
  g.nut = *nut;
  g.seat = find_number(s, "geometry/seat_outer").value_or(g.nut);
  g.shank = or_zero("geometry/stud_shank");
  g.core = find_number(s, "thread/d3").value_or(g.stud);
  g.grip = find_number(s, "grip_length").value_or(g.stack());
  if (const auto* cone = values(s, "cone/diameter")) {
    g.cone_tangent = or_zero("cone/tangent");
    g.cone_head = cone->front();
    g.cone_nut = cone->back();
  }
  g.sleeve = or_zero("geometry/nut_sleeve");
  g.washer_outer = or_zero("geometry/washer_outer");
  g.washer_inner = or_zero("geometry/washer_inner");
  g.washer_thickness = or_zero("geometry/washer_thickness");
  g.washer_cone = or_zero("geometry/washer_cone_height");
  g.washer_parallel = count("geometry/washer_parallel");
  g.washer_series = count("geometry/washer_series");
  const auto* film = values(s, "geometry/layer_thickness");
  const auto* part = texts(s, "geometry/layer_part");
  const auto* side = texts(s, "geometry/layer_side");
  const auto* coating = texts(s, "geometry/layer_coating");
  if (film != nullptr && part != nullptr && side != nullptr && coating != nullptr && part->size() == film->size() &&
      side->size() == film->size() && coating->size() == film->size()) {
    const std::vector<std::string>& layers = find_figure(s, "geometry/layer_thickness")->labels;
    for (std::size_t i = 0; i < film->size() && i < layers.size(); ++i) {
      g.layers.push_back({layers[i], (*part)[i], (*coating)[i], (*side)[i] == "head_side", (*film)[i]});
    }
  }
  if (!drawable(g)) {
    return std::nullopt;
  }
  return g;
}

double section_scale(const SectionGeometry& g) {
  const double length = g.stack() + g.washers() + (kHeadHeight + kNutHeight + kStudEnd) * g.stud;
  return (kWidth - 2 * kMargin) / length;
}

double coating_factor(const SectionGeometry& g) {
  double thickest = 0;
  for (const SectionLayer& layer : g.layers) {
    thickest = std::max(thickest, layer.thickness);
  }
  if (thickest <= 0) {
    return 1;
  }
  // So that the thickest is about six units wide in the drawing, by a factor that is easy to name.
  const double wanted = 6 / (thickest * section_scale(g));
  for (const double factor : {100.0, 50.0, 20.0, 10.0, 5.0, 2.0}) {
    if (factor <= wanted) {
      return factor;
    }
  }
  return 1;
}

std::vector<std::pair<double, double>> cone_outline(const SectionGeometry& g) {
  if (g.cone_tangent <= 0) {
    return {};
  }
  const double length = g.stack();
  const double head = g.cone_head / 2;
  const double nut = g.cone_nut / 2;
  double pad = std::numeric_limits<double>::infinity();
  for (const SectionPart& part : g.parts) {
    pad = std::min(pad, part.pad / 2);
  }
  // Where the cones from both ends meet, unless the supported material ends before.
  const double meet = std::clamp((nut - head + length * g.cone_tangent) / (2 * g.cone_tangent), 0.0, length);
  const double widest = head + meet * g.cone_tangent;
  if (widest <= pad) {
    return {{0, head}, {meet, widest}, {length, nut}};
  }
  return {{0, std::min(head, pad)},
          {std::clamp((pad - head) / g.cone_tangent, 0.0, length), pad},
          {std::clamp(length - (pad - nut) / g.cone_tangent, 0.0, length), pad},
          {length, std::min(nut, pad)}};
}

std::pair<double, double> temperature_ends(const Run& run) {
  if (run.temperature.empty()) {
    return {0, 0};
  }
  const auto [low, high] = std::minmax_element(run.temperature.begin(), run.temperature.end());
  return {*low, *high};
}

std::string section(const std::string& id, const SectionGeometry& geometry, const Run& run, std::size_t row,
                    Units units) {
  return Drawing(id, geometry, run, row, units).svg();
}

} // namespace clampfade::post

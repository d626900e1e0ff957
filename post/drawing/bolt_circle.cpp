#include "post/drawing/bolt_circle.hpp"

#include "post/svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace clampfade::post {

namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kSize = 400; ///< of the drawing, square
constexpr double kRadius = 138;
constexpr double kDisc = 192; ///< outline of the wheel's disc, behind the turns

struct Point {
  double x = 0, y = 0;
};
Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y}; }
Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y}; }
Point operator*(double f, Point a) { return {f * a.x, f * a.y}; }

std::string pair_of(Point p) { return coordinate(p.x) + "," + coordinate(p.y); }

/// On a circle about the middle; the first of n at the top, then clockwise.
Point on_circle(double radius, double turn) {
  return {kSize / 2 + radius * std::sin(2 * kPi * turn), kSize / 2 - radius * std::cos(2 * kPi * turn)};
}

std::string hexagon(Point middle, double radius) {
  std::string points;
  for (int i = 0; i < 6; ++i) {
    const double a = kPi / 3 * i;
    points += (i > 0 ? " " : "") + pair_of(middle + Point{radius * std::cos(a), radius * std::sin(a)});
  }
  return element("polygon", {{"class", "nut"}, {"points", points}});
}

/// From one nut's edge to the next one's, with a head.
std::string arrow(Point from, Point to, double gap) {
  const Point way = to - from;
  const double length = std::hypot(way.x, way.y);
  const Point along = (1 / length) * way;
  const Point across = {-along.y, along.x};
  const double head = std::min(11.0, length / 4);
  const Point start = from + gap * along;
  const Point tip = to - gap * along;
  const Point base = tip - head * along;
  std::string out;
  if (length > 2 * gap + head) {
    out = element("path", {{"class", "way"}, {"d", "M" + pair_of(start) + " L" + pair_of(base)}});
  }
  return out + element("polygon", {{"class", "head"},
                                   {"points", pair_of(tip) + " " + pair_of(base + 0.4 * head * across) + " " +
                                                  pair_of(base - 0.4 * head * across)}});
}

std::string text_at(Point middle, double size, std::string_view kind, const std::string& text) {
  return element(
      "text",
      {{"class", kind}, {"x", middle.x}, {"y", middle.y + 0.35 * size}, {"font-size", size}, {"text-anchor", "middle"}},
      escape(text));
}

} // namespace

std::string bolt_circle(const std::vector<std::string>& studs, const std::vector<std::size_t>& order) {
  const std::size_t n = studs.size();
  if (!order.empty()) {
    std::vector<std::size_t> sorted = order;
    std::sort(sorted.begin(), sorted.end());
    for (std::size_t i = 0; i < std::max(n, sorted.size()); ++i) {
      if (i >= n || i >= sorted.size() || sorted[i] != i) {
        throw std::invalid_argument("the order of tightening does not name each stud once");
      }
    }
  }
  const auto turn = [&](std::size_t stud) { return static_cast<double>(stud) / static_cast<double>(n); };
  const double pitch = 2 * kPi * kRadius / static_cast<double>(std::max<std::size_t>(n, 1));
  const double nut = std::min(25.0, 0.42 * pitch);
  const Point middle = {kSize / 2, kSize / 2};

  std::string out = element("circle", {{"class", "disc"}, {"cx", middle.x}, {"cy", middle.y}, {"r", kDisc}}) +
                    element("circle", {{"class", "line"}, {"cx", middle.x}, {"cy", middle.y}, {"r", kRadius}});
  for (std::size_t i = 0; i + 1 < order.size(); ++i) {
    out += arrow(on_circle(kRadius, turn(order[i])), on_circle(kRadius, turn(order[i + 1])), 1.12 * nut);
  }
  const double turn_size = std::min(19.0, 0.9 * nut);
  for (std::size_t k = 0; k < n; ++k) {
    const Point at = on_circle(kRadius, turn(k));
    out += hexagon(at, nut) + text_at(at, std::min(24.0, nut), "stud", studs[k]);
  }
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Point at = on_circle(kRadius + nut + 0.85 * turn_size, turn(order[i]));
    out += element("circle", {{"class", "turn"}, {"cx", at.x}, {"cy", at.y}, {"r", 0.72 * turn_size}}) +
           text_at(at, turn_size, "turn", std::to_string(i + 1));
  }
  std::string spoken = fmt::format("Bolt circle with {} studs, numbered clockwise from the top.", n);
  if (!order.empty()) {
    spoken += " Tightening order:";
    for (const std::size_t stud : order) {
      spoken += " " + studs[stud];
    }
    spoken += ".";
  }
  return element("svg",
                 {{"class", "bolt-circle"},
                  {"xmlns", "http://www.w3.org/2000/svg"},
                  {"viewBox", "0 0 400 400"},
                  {"role", "img"},
                  {"aria-label", spoken}},
                 out);
}

} // namespace clampfade::post

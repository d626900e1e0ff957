#include "post/drawing/tightening.hpp"

#include "post/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr double kWidth = 720;
constexpr double kHeight = 450;
constexpr double kLeft = 52;
constexpr double kRight = 708;
constexpr double kTop = 62;
constexpr double kBottom = 268;

/// Neither lines nor numbers of one system only.
std::string axis(double highest, System system, bool both) {
  const double last = convert(highest, Kind::Force, system);
  std::string out;
  for (const double v : ticks(0, last, 6)) {
    const double at = kBottom - v / last * (kBottom - kTop);
    out += element("line", {{"class", "grid"}, {"x1", kLeft}, {"y1", at}, {"x2", kRight}, {"y2", at}});
    out += element("text", {{"class", "tick"}, {"x", kLeft - 6}, {"y", at + 4}, {"text-anchor", "end"}},
                   fmt::format("{}", v));
  }
  out += element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", 13.0}},
                 escape("Clamp load, " + unit(Kind::Force, system)));
  return both ? element("g", {{"class", system == System::Si ? "si" : "us"}}, out) : out;
}

/// What each stud of the last pass lost to the acts after its own, on a scale of its own: it is small beside the clamp.
std::string interaction(const std::vector<ActRow>& acts, std::size_t last_pass, const Run& run, Units units,
                        double top) {
  std::vector<ActRow> last;
  std::copy_if(acts.begin(), acts.end(), std::back_inserter(last),
               [&](const ActRow& a) { return a.pass == last_pass; });
  double most = 0;
  for (const ActRow& act : last) {
    most = std::max(most, std::abs(act.clamp - act.clamp_end));
  }
  const double zero = top + 60;
  constexpr double high = 34;
  const double step = (kRight - kLeft) / static_cast<double>(last.size());
  std::string out = element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", top}},
                            fmt::format("Change of clamp by the acts after a stud's own in pass {}, ", last_pass) +
                                unit_name(Kind::Force, units.first, "tspan"));
  for (std::size_t i = 0; i < last.size(); ++i) {
    const double x = kLeft + (static_cast<double>(i) + 0.5) * step;
    const double change = last[i].clamp_end - last[i].clamp;
    const double size = most > 0 ? std::abs(change) / most * high : 0;
    const double wide = std::min(26.0, 0.6 * step);
    out += element("rect", {{"class", change < 0 ? "taken" : "taken won"},
                            {"x", x - wide / 2},
                            {"y", change < 0 ? zero - high : zero - high - size},
                            {"width", wide},
                            {"height", std::max(size, 0.5)}});
    if (step >= 30) {
      out += element("text", {{"class", "value"}, {"x", x}, {"y", zero + 15}, {"text-anchor", "middle"}},
                     bare_quantity(change, Kind::Force, units.first, 2, "tspan"));
    }
    out += element("text", {{"class", "tick"}, {"x", x}, {"y", zero + 31}, {"text-anchor", "middle"}},
                   escape(run.summary.studs[last[i].stud]));
  }
  out += element("line",
                 {{"class", "axis-line"}, {"x1", kLeft}, {"y1", zero - high}, {"x2", kRight}, {"y2", zero - high}});
  return out;
}

std::string dot(const ActRow& act, double x, double y) {
  return element("circle", {{"class", act.moved ? "act" : "act still"}, {"cx", x}, {"cy", y}, {"r", 4.0}});
}

} // namespace

std::string tightening_sequence(const std::string& id, const Run& run, Units units) {
  std::vector<ActRow> acts;
  std::copy_if(run.acts.begin(), run.acts.end(), std::back_inserter(acts),
               [&](const ActRow& a) { return a.pass > 0 && a.stud < run.studs(); });
  if (acts.empty()) {
    return "";
  }
  double highest = 0;
  std::size_t last_pass = 0;
  for (const ActRow& act : acts) {
    highest = std::max({highest, act.clamp, act.clamp_end});
    last_pass = std::max(last_pass, act.pass);
  }
  highest *= 1.08;
  highest = highest > 0 ? highest : 1;
  const double step = (kRight - kLeft - 16) / static_cast<double>(acts.size());
  const auto x = [&](std::size_t i) { return kLeft + 16 + (static_cast<double>(i) + 0.5) * step; };
  const auto y = [&](double force) { return kBottom - std::max(force, 0.0) / highest * (kBottom - kTop); };
  std::string out;
  // Each pass on a ground of its own, with its torque.
  for (std::size_t from = 0; from < acts.size();) {
    std::size_t to = from;
    double low = acts[from].torque;
    double high = low;
    while (to < acts.size() && acts[to].pass == acts[from].pass) {
      low = std::min(low, acts[to].torque);
      high = std::max(high, acts[to].torque);
      ++to;
    }
    const double x0 = x(from) - step / 2;
    const double x1 = x(to - 1) + step / 2;
    out += element("rect", {{"class", acts[from].pass % 2 == 0 ? "band even" : "band"},
                            {"x", x0},
                            {"y", kTop - 34},
                            {"width", x1 - x0},
                            {"height", kBottom - kTop + 34}});
    out += element("text", {{"class", "label"}, {"x", (x0 + x1) / 2}, {"y", kTop - 20}, {"text-anchor", "middle"}},
                   fmt::format("pass {}", acts[from].pass));
    const std::string torque = quantity(high, Kind::Torque, units.first, 3, "tspan");
    out += element("text", {{"class", "muted label"}, {"x", (x0 + x1) / 2}, {"y", kTop - 6}, {"text-anchor", "middle"}},
                   (low == high ? "" : "up to ") + torque);
    from = to;
  }
  out += axis(highest, units.first, units.both);
  if (units.both) {
    out += axis(highest, units.first == System::Si ? System::Us : System::Si, true);
  }
  for (std::size_t i = 0; i < acts.size(); ++i) {
    const ActRow& act = acts[i];
    std::string one;
    if (act.pass == last_pass) {
      one += element("line",
                     {{"class", "change"}, {"x1", x(i)}, {"y1", y(act.clamp)}, {"x2", x(i)}, {"y2", y(act.clamp_end)}});
      one += element(
          "rect", {{"class", "end"}, {"x", x(i) - 5}, {"y", y(act.clamp_end) - 1.5}, {"width", 10.0}, {"height", 3.0}});
    }
    one += dot(act, x(i), y(act.clamp));
    constexpr double room = 15;
    if (step >= room || i % 2 == 0) {
      one += element("text", {{"class", "tick"}, {"x", x(i)}, {"y", kBottom + 16}, {"text-anchor", "middle"}},
                     escape(run.summary.studs[act.stud]));
    }
    out += element("g", {{"class", "one-act"}}, one);
  }
  out += element("path", {{"class", "axis-line"},
                          {"d", fmt::format("M{0},{1}V{2}H{3}", coordinate(kLeft), coordinate(kTop - 34),
                                            coordinate(kBottom), coordinate(kRight))}});
  out += element("text", {{"class", "axis-name"}, {"x", kRight}, {"y", kBottom + 34}, {"text-anchor", "end"}},
                 "stud, in the order of the acts of the wrench");
  const double y_legend = kBottom + 54;
  out += interaction(acts, last_pass, run, units, kBottom + 84);
  out += element("circle", {{"class", "act"}, {"cx", kLeft + 6}, {"cy", y_legend - 4}, {"r", 4.0}});
  out += element("text", {{"class", "label"}, {"x", kLeft + 18}, {"y", y_legend}}, "right after the nut's turn");
  out += element("rect", {{"class", "end"}, {"x", kLeft + 210}, {"y", y_legend - 5}, {"width", 10.0}, {"height", 3.0}});
  out += element("text", {{"class", "label"}, {"x", kLeft + 226}, {"y", y_legend}}, "when all was done");
  const bool still = std::any_of(acts.begin(), acts.end(), [](const ActRow& a) { return !a.moved; });
  if (still) {
    out += element("circle", {{"class", "act still"}, {"cx", kLeft + 376}, {"cy", y_legend - 4}, {"r", 4.0}});
    out += element("text", {{"class", "label"}, {"x", kLeft + 388}, {"y", y_legend}}, "the nut did not move");
  }
  return picture("chart tightening", id, kWidth, kHeight, "Tightening, act by act",
                 "Clamp of the stud at hand right after each act of the wrench, and when all was done.", out);
}

} // namespace clampfade::post

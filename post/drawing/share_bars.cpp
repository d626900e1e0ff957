#include "post/drawing/share_bars.hpp"

#include "post/chart.hpp"
#include "post/drawing/value_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clampfade::post {

namespace {

constexpr double kTop = 24;
constexpr double kBar = 13;

} // namespace

std::string share_bars(const std::string& id, const std::string& title, const std::string& note,
                       const std::vector<ShareBar>& bars, double width) {
  const bool total =
      std::any_of(bars.begin(), bars.end(), [](const ShareBar& b) { return b.shares.total.has_value(); });
  double left = 60;
  double high = 0.05;
  for (const ShareBar& b : bars) {
    left = std::max(left, text_width_of(b.name) + 14);
    high = std::max({high, b.shares.first.interval.high, b.shares.first.value});
    if (b.shares.total) {
      high = std::max({high, b.shares.total->interval.high, b.shares.total->value});
    }
  }
  left = std::min(left, width * 0.45);
  high = std::min(high, 1.5); // an estimate far beyond all says only that it is worth nothing
  const double right = width - 70;
  const auto x = [&](double share) { return left + std::clamp(share / high, 0.0, 1.0) * (right - left); };
  const double row = total ? 42 : 28;
  const double bottom = kTop + row * static_cast<double>(bars.size());
  std::string out;
  for (const double v : ticks(0, 100 * high, static_cast<std::size_t>(std::max(3.0, (right - left) / 60)))) {
    out +=
        element("line", {{"class", "grid"}, {"x1", x(v / 100)}, {"y1", kTop - 4}, {"x2", x(v / 100)}, {"y2", bottom}});
    out += element("text", {{"class", "tick"}, {"x", x(v / 100)}, {"y", bottom + 15}, {"text-anchor", "middle"}},
                   fmt::format("{:g}", std::round(v * 1e6) / 1e6));
  }
  out += element("text", {{"class", "axis-name"}, {"x", right}, {"y", bottom + 32}, {"text-anchor", "end"}},
                 "share of the variance, %");
  const auto bar = [&](const Index& index, const char* style, double y) {
    std::string one = element("rect", {{"class", std::string("bar ") + style},
                                       {"x", x(0)},
                                       {"y", y},
                                       {"width", std::max(x(index.value) - x(0), 0.5)},
                                       {"height", kBar}});
    const double middle = y + kBar / 2;
    const double from = x(index.interval.low);
    const double to = x(index.interval.high);
    one +=
        element("path", {{"class", "whisker"},
                         {"d", fmt::format("M{0},{1}H{2}M{0},{3}V{4}M{2},{3}V{4}", coordinate(from), coordinate(middle),
                                           coordinate(to), coordinate(middle - 4), coordinate(middle + 4))}});
    one += element("text", {{"class", "value"}, {"x", std::max(to, x(index.value)) + 6}, {"y", y + kBar - 2}},
                   fmt::format("{:.{}f} %", 100 * std::max(index.value, 0.0) + 0.0, index.value < 0.0995 ? 1 : 0));
    return one;
  };
  for (std::size_t i = 0; i < bars.size(); ++i) {
    const double y = kTop + row * static_cast<double>(i) + 4;
    out += element("text", {{"class", "label"}, {"x", left - 8}, {"y", y + (total ? 19 : 11)}, {"text-anchor", "end"}},
                   escape(bars[i].name));
    out += bar(bars[i].shares.first, "first", y);
    if (bars[i].shares.total) {
      out += bar(*bars[i].shares.total, "total", y + kBar + 4);
    }
  }
  out += element("line", {{"class", "axis-line"}, {"x1", left}, {"y1", kTop - 4}, {"x2", left}, {"y2", bottom}});
  double at = left;
  const auto key = [&](const char* style, const std::string& text) {
    out += element("rect",
                   {{"class", std::string("bar ") + style}, {"x", at}, {"y", 3.0}, {"width", 18.0}, {"height", 11.0}});
    out += element("text", {{"class", "label"}, {"x", at + 24}, {"y", 13.0}}, text);
    at += 44 + text_width_of(text);
  };
  if (total) {
    key("first", "by itself (first order)");
    key("total", "with all its interplay (total)");
  }
  return picture("chart bars", id, width, bottom + 38, title, note, out);
}

} // namespace clampfade::post

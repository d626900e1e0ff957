#include "post/chart.hpp"

#include "models/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>

namespace clampfade::post {

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
/// Of a digit or small letter at the size that charts are lettered in, on the generous side [px].
constexpr double kCharacter = 6.6;
constexpr double kLane = 16;
/// Points of a line that are marked, for there are no more.
constexpr std::size_t kFew = 10;

double text_width(std::string_view text) {
  // Bytes that continue a character of UTF-8 take no room.
  const auto visible = std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; });
  return kCharacter * static_cast<double>(visible);
}

std::vector<double> multiples(double low, double high, double step) {
  std::vector<double> out;
  constexpr double round_off = 1e-9;
  const double first = std::ceil(low / step - round_off);
  for (double i = first; i * step <= high + round_off * step; ++i) {
    out.push_back(i * step + 0.0); // no negative zero
  }
  return out;
}

/// Everything that draw() needs again and again.
class Drawing {
public:
  Drawing(const Chart& chart, const ChartVariant& variant, Along along, Units units, ChartSize size)
      : chart_(chart), variant_(variant), along_(chart.of_a_day ? Along::Time : along), units_(units), size_(size) {}
  std::string svg();

private:
  [[nodiscard]] const std::vector<double>& x_of(const ChartLine& line) const {
    const ChartAxis& axis = variant_.axes.at(line.axis);
    return along_ == Along::Time ? axis.time : axis.distance;
  }
  [[nodiscard]] double x(double si) const { return left_ + (si - x_low_) / (x_high_ - x_low_) * (right_ - left_); }
  [[nodiscard]] double y(double si) const { return bottom_ - (si - y_low_) / (y_high_ - y_low_) * (bottom_ - top_); }
  [[nodiscard]] std::string x_title(System system) const;
  void ranges();
  void marks();
  void legend();
  void axes(System system);
  void levels();
  /// How many points of curves lie to the right of `left` between two heights.
  [[nodiscard]] std::size_t crowd(double left, double top, double bottom) const;
  void lines();
  void end_labels();

  const Chart& chart_;
  const ChartVariant& variant_;
  Along along_;
  Units units_;
  ChartSize size_;
  double left_ = 52, right_ = 0, top_ = 0, bottom_ = 0;
  double x_low_ = kInfinity, x_high_ = -kInfinity, y_low_ = 0, y_high_ = 1;
  bool any_ = false;
  std::string legend_, marks_, out_;
};

std::string Drawing::x_title(System system) const {
  if (along_ == Along::Distance) {
    return "distance driven, " + unit(Kind::Distance, system);
  }
  return chart_.of_a_day ? "hour of the day" : "time since tightening, " + time_unit(x_high_ - x_low_).name;
}

void Drawing::ranges() {
  for (const ChartLine& line : variant_.lines) {
    const std::vector<double>& along = x_of(line);
    for (std::size_t i = 0; i < line.y.size(); ++i) {
      if (std::isfinite(line.y[i]) && std::isfinite(along[i])) {
        any_ = true;
        x_low_ = std::min(x_low_, along[i]);
        x_high_ = std::max(x_high_, along[i]);
      }
    }
  }
  if (chart_.of_a_day) {
    x_low_ = 0;
    x_high_ = std::max(x_high_, units::kDay);
  }
  if (x_high_ <= x_low_) {
    x_high_ = x_low_ + 1;
  }
  std::tie(y_low_, y_high_) = y_range(chart_);
}

/// Rows of samples under the chart.
void Drawing::legend() {
  double at = left_;
  double row = 0;
  constexpr double sample = 24;
  constexpr double space = 14;
  std::vector<std::pair<std::string, std::string>> entries; // class, name
  for (const ChartLine& line : variant_.lines) {
    const bool told = std::any_of(entries.begin(), entries.end(), [&](const auto& e) { return e.second == line.name; });
    if (!told) {
      entries.emplace_back(fmt::format("line s{} d{}{}", line.colour, line.dash, line.faint ? " faint" : ""),
                           line.name);
    }
  }
  std::vector<std::pair<double, double>> places;
  for (const auto& [style, name] : entries) {
    const double wide = sample + 6 + text_width(name) + space;
    if (at > left_ && at + wide > size_.width) {
      at = left_;
      ++row;
    }
    places.emplace_back(at, row);
    at += wide;
  }
  bottom_ = size_.height - 44 - (entries.empty() ? 0 : (row + 1) * 18);
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const double y_text = bottom_ + 54 + places[i].second * 18;
    legend_ += element("line", {{"class", entries[i].first},
                                {"x1", places[i].first},
                                {"y1", y_text - 4},
                                {"x2", places[i].first + sample},
                                {"y2", y_text - 4}});
    legend_ += element("text", {{"class", "label"}, {"x", places[i].first + sample + 6}, {"y", y_text}},
                       escape(entries[i].second));
  }
}

void Drawing::marks() {
  std::vector<double> at;
  std::vector<ChartMark> inside;
  for (const ChartMark& mark : chart_.marks) {
    const double where = along_ == Along::Time ? mark.time : mark.distance;
    if (where >= x_low_ && where <= x_high_) {
      inside.push_back(mark);
      at.push_back(x(where));
    }
  }
  constexpr std::size_t lanes = 3;
  const std::vector<PlacedMark> placed = place_marks(inside, at, left_, size_.width - 4, lanes);
  std::size_t highest = 0;
  for (const PlacedMark& mark : placed) {
    highest = std::max(highest, mark.text.empty() ? 0 : mark.lane + 1);
  }
  top_ = 26 + static_cast<double>(highest) * kLane;
  for (const PlacedMark& mark : placed) {
    const double y_text = top_ - 6 - static_cast<double>(mark.lane) * kLane;
    if (mark.lane < lanes) {
      marks_ += element("line", {{"class", "mark"},
                                 {"x1", mark.x},
                                 {"y1", mark.text.empty() ? top_ : y_text + 3},
                                 {"x2", mark.x},
                                 {"y2", bottom_}});
    }
    if (!mark.text.empty()) {
      marks_ += element("text", {{"class", "mark-text"}, {"x", mark.text_x}, {"y", y_text}}, escape(mark.text));
    }
  }
}

void Drawing::axes(System system) {
  std::string out;
  const double y_first = convert(y_low_, chart_.y_kind, system);
  const double y_last = convert(y_high_, chart_.y_kind, system);
  const auto rows = static_cast<std::size_t>(std::max(3.0, (bottom_ - top_) / 42));
  for (const double v : ticks(y_first, y_last, rows)) {
    const double at = bottom_ - (v - y_first) / (y_last - y_first) * (bottom_ - top_);
    out += element("line", {{"class", "grid"}, {"x1", left_}, {"y1", at}, {"x2", right_}, {"y2", at}});
    out += element("text", {{"class", "tick"}, {"x", left_ - 6}, {"y", at + 4}, {"text-anchor", "end"}},
                   fmt::format("{}", v == 0 ? 0 : std::round(v * 1e9) / 1e9));
  }
  const bool by_time = along_ == Along::Time;
  const TimeUnit clock = chart_.of_a_day ? TimeUnit{"h", units::kHour} : time_unit(x_high_ - x_low_);
  const auto shown = [&](double si) { return by_time ? si / clock.seconds : convert(si, Kind::Distance, system); };
  const double first = shown(x_low_);
  const double last = shown(x_high_);
  const auto columns = static_cast<std::size_t>(std::max(3.0, (right_ - left_) / 66));
  for (const double v : by_time&& clock.name == "h" ? hour_ticks(first, last, columns) : ticks(first, last, columns)) {
    const double at = left_ + (v - first) / (last - first) * (right_ - left_);
    out += element("line", {{"class", "grid"}, {"x1", at}, {"y1", top_}, {"x2", at}, {"y2", bottom_}});
    out += element("text", {{"class", "tick"}, {"x", at}, {"y", bottom_ + 16}, {"text-anchor", "middle"}},
                   fmt::format("{}", v == 0 ? 0 : std::round(v * 1e9) / 1e9));
  }
  const std::string unit_text = unit(chart_.y_kind, system);
  out += element("text", {{"class", "axis-name"}, {"x", 4.0}, {"y", 13.0}},
                 escape(chart_.y_name + (unit_text.empty() ? "" : ", " + unit_text)));
  out += element("text", {{"class", "axis-name"}, {"x", right_}, {"y", bottom_ + 33}, {"text-anchor", "end"}},
                 escape(x_title(system)));
  out_ += units_.both ? element("g", {{"class", system == System::Si ? "si" : "us"}}, out) : out;
}

std::size_t Drawing::crowd(double left, double top, double bottom) const {
  std::size_t n = 0;
  for (const ChartLine& line : variant_.lines) {
    const std::vector<double>& along = x_of(line);
    for (std::size_t i = 0; i < line.y.size(); ++i) {
      const double at = y(line.y[i]);
      n += x(along[i]) >= left && at >= top && at <= bottom ? 1U : 0U;
    }
  }
  return n;
}

void Drawing::levels() {
  for (const ChartLevel& level : chart_.levels) {
    const double at = y(level.y);
    out_ += element("line", {{"class", "level"}, {"x1", left_}, {"y1", at}, {"x2", right_}, {"y2", at}});
    constexpr double wide = 190; // of the words
    constexpr double high = 20;
    const bool above = at - 16 > top_ && crowd(right_ - wide, at - high, at) <= crowd(right_ - wide, at, at + high);
    const std::string value = units_.both ? quantity(level.y, chart_.y_kind, units_.first, level.digits, "tspan")
                                          : escape(show(level.y, chart_.y_kind, units_.first, level.digits));
    out_ += element(
        "text",
        {{"class", "level-text halo"}, {"x", right_ - 6}, {"y", above ? at - 6 : at + 15}, {"text-anchor", "end"}},
        escape(level.name) + " " + value);
  }
}

void Drawing::lines() {
  for (const bool faint : {true, false}) {
    for (const ChartLine& line : variant_.lines) {
      if (line.faint != faint) {
        continue;
      }
      const std::vector<double>& along = x_of(line);
      std::vector<std::pair<double, double>> points;
      for (std::size_t i = 0; i < line.y.size(); ++i) {
        const std::pair<double, double> point(x(along[i]), y(line.y[i]));
        if (std::isfinite(point.first) && std::isfinite(point.second)) {
          points.push_back(point);
        }
      }
      constexpr double tolerance = 0.3;
      std::string text;
      for (const auto& [px, py] : thin_points(points, tolerance)) {
        text += (text.empty() ? "" : " ") + coordinate(px) + "," + coordinate(py);
      }
      if (points.size() == 1) {
        out_ += element("circle", {{"class", fmt::format("dot s{}", line.colour)},
                                   {"cx", points[0].first},
                                   {"cy", points[0].second},
                                   {"r", 2.5}});
      } else if (!points.empty()) {
        out_ += element("polyline",
                        {{"class", fmt::format("line s{} d{}{}", line.colour, line.dash, line.faint ? " faint" : "")},
                         {"points", text}});
        // A straight line between two records is no course that was followed; few of them show as what they are.
        if (points.size() <= kFew && !line.faint && !chart_.stairs) {
          for (const auto& [px, py] : points) {
            out_ +=
                element("circle", {{"class", fmt::format("dot s{}", line.colour)}, {"cx", px}, {"cy", py}, {"r", 3.5}});
          }
        }
      }
    }
  }
}

void Drawing::end_labels() {
  struct End {
    const ChartLine* line;
    double x, y;
  };
  std::vector<End> ends;
  for (const ChartLine& line : variant_.lines) {
    if (line.label.empty()) {
      continue;
    }
    for (std::size_t i = line.y.size(); i > 0; --i) {
      if (std::isfinite(line.y[i - 1]) && std::isfinite(x_of(line)[i - 1])) {
        ends.push_back({&line, x(x_of(line)[i - 1]), y(line.y[i - 1])});
        break;
      }
    }
  }
  std::vector<double> wanted;
  for (const End& end : ends) {
    wanted.push_back(end.y);
  }
  const std::vector<double> placed = spread_labels(wanted, 13, top_, bottom_);
  for (std::size_t i = 0; i < ends.size(); ++i) {
    const std::string colour = fmt::format("s{}", ends[i].line->colour);
    out_ += element(
        "line",
        {{"class", "leader " + colour}, {"x1", ends[i].x}, {"y1", ends[i].y}, {"x2", right_ + 14}, {"y2", placed[i]}});
    out_ += element("text", {{"class", "label end " + colour}, {"x", right_ + 17}, {"y", placed[i] + 4}},
                    escape(ends[i].line->label));
  }
}

std::string Drawing::svg() {
  ranges();
  double label_width = 0;
  for (const ChartLine& line : variant_.lines) {
    label_width = std::max(label_width, line.label.empty() ? 0 : 19 + 1.2 * text_width(line.label)); // bold
  }
  right_ = size_.width - std::max(12.0, label_width + 2);
  if (any_) {
    legend();
    marks();
    axes(units_.first);
    if (units_.both) {
      axes(units_.first == System::Si ? System::Us : System::Si);
    }
    out_ += element("path", {{"class", "axis-line"},
                             {"d", fmt::format("M{0},{1}V{2}H{3}", coordinate(left_), coordinate(top_),
                                               coordinate(bottom_), coordinate(right_))}});
    out_ += marks_;
    lines();
    levels();
    end_labels();
    out_ += legend_;
  } else {
    out_ = nothing_to_draw(size_.width, "Nothing was recorded that could be drawn here.");
    size_.height = 70;
  }
  return picture("chart", chart_.id, size_.width, size_.height, chart_.title, chart_.note, out_);
}

} // namespace

std::vector<double> ticks(double low, double high, std::size_t most) {
  // Values that differ in their last digits only have no ticks between them.
  constexpr double round_off = 1e-9;
  if (!std::isfinite(low) || !std::isfinite(high) || most < 2 ||
      !(high - low > round_off * std::max(std::abs(low), std::abs(high)))) {
    return {};
  }
  const double rough = (high - low) / static_cast<double>(most);
  const double shortest = std::pow(10, std::floor(std::log10(rough)) - 1);
  std::vector<double> fewer;
  // From steps that are surely too short upwards.
  for (const double step : {1., 2., 5., 10., 20., 50., 100., 200., 500.}) {
    std::vector<double> found = multiples(low, high, step * shortest);
    if (found.size() <= most) {
      return found.size() >= 2 || fewer.empty() ? found : fewer;
    }
    fewer = std::move(found);
  }
  return fewer;
}

std::vector<double> hour_ticks(double low, double high, std::size_t most) {
  for (const double step : {1.0, 2.0, 3.0, 6.0, 12.0, 24.0}) {
    std::vector<double> found = multiples(low, high, step);
    if (found.size() <= most && found.size() >= 2) {
      return found;
    }
  }
  return ticks(low, high, most);
}

TimeUnit time_unit(double span) {
  if (span >= 3 * units::kDay) {
    return {"days", units::kDay};
  }
  if (span >= 3 * units::kHour) {
    return {"h", units::kHour};
  }
  return span >= 3 * units::kMinute ? TimeUnit{"min", units::kMinute} : TimeUnit{"s", 1};
}

std::vector<double> spread_labels(const std::vector<double>& wanted, double gap, double low, double high) {
  std::vector<std::size_t> order(wanted.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return wanted[a] < wanted[b]; });
  // Labels that touch form a block, which stands where its members want to be in the mean.
  struct Block {
    double first = 0; ///< place of its first label
    std::size_t count = 0;
    double sum = 0; ///< of what each label wants the first one to be at
  };
  std::vector<Block> blocks;
  const auto last = [&](const Block& b) { return b.first + gap * static_cast<double>(b.count - 1); };
  const auto settle = [&](Block& b) {
    const double room = gap * static_cast<double>(b.count - 1);
    b.first = std::max(low, std::min(b.sum / static_cast<double>(b.count), high - room));
  };
  for (const std::size_t i : order) {
    blocks.push_back({0, 1, wanted[i]});
    settle(blocks.back());
    while (blocks.size() > 1 && blocks.back().first < last(blocks[blocks.size() - 2]) + gap) {
      const Block after = blocks.back();
      blocks.pop_back();
      Block& before = blocks.back();
      before.sum += after.sum - static_cast<double>(after.count) * gap * static_cast<double>(before.count);
      before.count += after.count;
      settle(before);
    }
  }
  std::vector<double> placed(wanted.size());
  std::size_t next = 0;
  for (const Block& b : blocks) {
    for (std::size_t i = 0; i < b.count; ++i) {
      placed[order[next++]] = b.first + gap * static_cast<double>(i);
    }
  }
  return placed;
}

std::vector<PlacedMark> place_marks(const std::vector<ChartMark>& marks, const std::vector<double>& x, double left,
                                    double right, std::size_t lanes) {
  struct Group {
    double first, last;
    std::size_t count, rank; ///< rank: position of its first member among the marks
    std::string text;
  };
  constexpr double near = 24;
  std::vector<std::size_t> order(marks.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return x[a] < x[b]; });
  std::vector<Group> groups;
  for (const std::size_t i : order) {
    const auto same = std::find_if(groups.rbegin(), groups.rend(),
                                   [&](const Group& g) { return g.text == marks[i].text && x[i] - g.last < near; });
    if (same != groups.rend()) {
      same->last = x[i];
      ++same->count;
      same->rank = std::min(same->rank, i);
    } else {
      groups.push_back({x[i], x[i], 1, i, marks[i].text});
    }
  }
  std::stable_sort(groups.begin(), groups.end(), [](const Group& a, const Group& b) { return a.rank < b.rank; });
  constexpr double space = 10;
  std::vector<std::vector<std::pair<double, double>>> taken(lanes);
  const auto free_lane = [&](double from, double to) {
    std::size_t lane = 0;
    while (lane < lanes && std::any_of(taken[lane].begin(), taken[lane].end(), [&](const auto& other) {
             return from < other.second + space && other.first < to + space;
           })) {
      ++lane;
    }
    return lane;
  };
  std::vector<PlacedMark> placed;
  const auto place = [&](double at, const std::string& text) {
    const double wide = text_width(text);
    const double from = std::max(left, std::min(at + 4, right - wide));
    const std::size_t lane = free_lane(from, from + wide);
    if (lane < lanes) {
      taken[lane].emplace_back(from, from + wide);
      placed.push_back({at, from, lane, text});
    }
    return lane < lanes;
  };
  std::size_t left_over = 0;
  for (const Group& group : groups) {
    if (!place(group.first, group.count > 1 ? fmt::format("{} ({} times)", group.text, group.count) : group.text)) {
      left_over += group.count;
      placed.push_back({group.first, group.first, 0, ""});
    }
  }
  if (left_over > 0) {
    // Above everything else, where there is always room.
    const std::string text = fmt::format("{} more, see the table of events", left_over);
    placed.push_back({right, right - text_width(text), lanes, text});
  }
  return placed;
}

std::vector<std::pair<double, double>> thin_points(const std::vector<std::pair<double, double>>& points,
                                                   double tolerance) {
  if (points.size() < 3) {
    return points;
  }
  // Of each narrow column the first, the lowest, the highest and the last point say all that can be seen.
  std::vector<std::pair<double, double>> few;
  constexpr double column = 1.5;
  for (std::size_t from = 0; from < points.size();) {
    std::size_t to = from + 1; // whatever number it is
    std::size_t low = from;
    std::size_t high = from;
    while (to < points.size() && points[to].first - points[from].first < column) {
      low = points[to].second < points[low].second ? to : low;
      high = points[to].second > points[high].second ? to : high;
      ++to;
    }
    std::array<std::size_t, 4> keep = {from, low, high, to - 1};
    std::sort(keep.begin(), keep.end());
    for (std::size_t i = 0; i < keep.size(); ++i) {
      if (i == 0 || keep[i] != keep[i - 1]) {
        few.push_back(points[keep[i]]);
      }
    }
    from = to;
  }
  // Then what lies on a straight line between its neighbours goes (Douglas and Peucker's way).
  std::vector<bool> stays(few.size(), false);
  stays.front() = stays.back() = true;
  std::vector<std::pair<std::size_t, std::size_t>> open = {{0, few.size() - 1}};
  while (!open.empty()) {
    const auto [from, to] = open.back();
    open.pop_back();
    const double dx = few[to].first - few[from].first;
    const double dy = few[to].second - few[from].second;
    const double square = dx * dx + dy * dy;
    double farthest = 0;
    std::size_t at = from;
    for (std::size_t i = from + 1; i < to; ++i) {
      const double ex = few[i].first - few[from].first;
      const double ey = few[i].second - few[from].second;
      // From the stretch, not from the endless line: a curve may turn back on itself.
      const double along = square > 0 ? std::clamp((ex * dx + ey * dy) / square, 0.0, 1.0) : 0;
      const double off = std::hypot(ex - along * dx, ey - along * dy);
      if (off > farthest) {
        farthest = off;
        at = i;
      }
    }
    if (farthest > tolerance) {
      stays[at] = true;
      open.emplace_back(from, at);
      open.emplace_back(at, to);
    }
  }
  std::vector<std::pair<double, double>> out;
  for (std::size_t i = 0; i < few.size(); ++i) {
    if (stays[i]) {
      out.push_back(few[i]);
    }
  }
  return out;
}

std::pair<double, double> y_range(const Chart& chart) {
  double low = kInfinity;
  double high = -kInfinity;
  const auto take = [&](double v) {
    if (std::isfinite(v)) {
      low = std::min(low, v);
      high = std::max(high, v);
    }
  };
  for (const ChartVariant& variant : chart.variants) {
    for (const ChartLine& line : variant.lines) {
      std::for_each(line.y.begin(), line.y.end(), take);
    }
  }
  for (const ChartLevel& level : chart.levels) {
    take(level.y);
  }
  if (chart.from_zero) {
    take(0);
  }
  if (low > high) {
    return {0, 1};
  }
  constexpr double round_off = 1e-6; // what differs less is the same for a drawing
  if (high - low <= round_off * std::max(std::abs(low), std::abs(high))) {
    const double half = std::max(std::abs(low) / 10, std::numeric_limits<double>::min() * 1e9);
    return {low - half, high + half};
  }
  constexpr double air = 0.05;
  const double more = air * (high - low);
  return {chart.from_zero && low == 0 ? 0 : low - more, high + more};
}

std::string draw(const Chart& chart, Along along, Units units, ChartSize size, std::size_t variant) {
  static const ChartVariant none;
  return Drawing(chart, chart.variants.empty() ? none : chart.variants.at(variant), along, units, size).svg();
}

} // namespace clampfade::post

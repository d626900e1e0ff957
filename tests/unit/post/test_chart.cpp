// Static charts: where ticks, lines, levels and labels come to stand.
#include "post/chart.hpp"

#include "models/units.hpp"

#include "tests/support/close.hpp"
#include "tests/support/markup.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <sstream>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

std::vector<std::pair<double, double>> points(const MarkupElement& line) {
  std::vector<std::pair<double, double>> out;
  std::istringstream in(line.get("points"));
  for (std::string one; in >> one;) {
    const std::size_t comma = one.find(',');
    out.emplace_back(std::stod(one.substr(0, comma)), std::stod(one.substr(comma + 1)));
  }
  return out;
}

Chart two_lines() {
  Chart c;
  c.id = "test";
  c.title = "Clamp <of> \"every\" stud";
  c.note = "Look & see.";
  c.y_name = "Clamp load";
  c.y_kind = Kind::Force;
  ChartLine a{"stud </text>", "1", {100e3, 80e3, 60e3, 60e3}, 0, 1, 0, false};
  ChartLine b{"stud 2", "2", {100e3, std::nan(""), 59e3, std::nan("")}, 0, 2, 1, false};
  c.variants = {
      {"", {{{0, 10 * units::kDay, 20 * units::kDay, 20 * units::kDay}, {0, 200e3, 1000e3, 1000e3}}}, {a, b}}};
  c.levels = {{"required clamp", 70e3}};
  c.marks = {{15 * units::kDay, 750e3, "retorque"}};
  return c;
}

} // namespace

TEST_CASE("chart: ticks are round numbers that cover the range") {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> power(-6, 6), share(0, 1);
  for (int i = 0; i < 2000; ++i) {
    const double size = std::pow(10, power(random));
    const double low = (share(random) - 0.5) * 10 * size;
    const double high = low + size * (0.1 + share(random));
    const std::size_t most = 3 + static_cast<std::size_t>(share(random) * 9);
    CAPTURE(low);
    CAPTURE(high);
    const std::vector<double> found = ticks(low, high, most);
    REQUIRE(found.size() >= 2);
    CHECK(found.size() <= most + 2); // more only where the next step would leave a single one
    const double step = found[1] - found[0];
    const double digit = step / std::pow(10, std::floor(std::log10(step) + 1e-9));
    CHECK((digit == close(1, 1e-6, 0) || digit == close(2, 1e-6, 0) || digit == close(5, 1e-6, 0)));
    for (std::size_t k = 0; k < found.size(); ++k) {
      CHECK(found[k] / step == close(std::round(found[k] / step), 1e-6, 1e-9));
      CHECK(found[k] == close(found[0] + static_cast<double>(k) * step, 1e-9 * size, 1e-9));
    }
    CHECK(found.front() >= low - 1e-6 * step);
    CHECK(found.front() < low + step);
    CHECK(found.back() <= high + 1e-6 * step);
    CHECK(found.back() > high - step);
  }
}

TEST_CASE("chart: no ticks where there is no range, and none for what is not finite") {
  CHECK(ticks(1, 1, 5).empty());
  CHECK(ticks(1000, 1000 + 1e-12, 5).empty());
  CHECK(ticks(0, std::numeric_limits<double>::infinity(), 5).empty());
  CHECK(ticks(std::nan(""), 1, 5).empty());
  const std::vector<double> zero = ticks(-0.0, 10, 5);
  REQUIRE_FALSE(zero.empty());
  CHECK_FALSE(std::signbit(zero[0]));
}

TEST_CASE("chart: hours are counted in parts of a day") {
  CHECK(hour_ticks(0, 24, 10) == std::vector<double>{0, 3, 6, 9, 12, 15, 18, 21, 24});
  CHECK(hour_ticks(0, 24, 5) == std::vector<double>{0, 6, 12, 18, 24});
}

TEST_CASE("chart: labels keep their distance and their order and stay near") {
  const std::vector<double> placed = spread_labels({50, 52, 51, 90}, 13, 0, 100);
  REQUIRE(placed.size() == 4);
  CHECK(placed[0] == close(38, 1e-9, 0)); // the three stand about their mean
  CHECK(placed[2] == close(51, 1e-9, 0));
  CHECK(placed[1] == close(64, 1e-9, 0));
  CHECK(placed[3] == close(90, 1e-9, 0)); // and leave the fourth alone
  std::mt19937 random(3);
  std::uniform_real_distribution<double> where(0, 200);
  for (int i = 0; i < 200; ++i) {
    std::vector<double> wanted(10);
    for (double& w : wanted) {
      w = where(random);
    }
    const std::vector<double> at = spread_labels(wanted, 13, 0, 200);
    for (std::size_t a = 0; a < at.size(); ++a) {
      CHECK(at[a] >= -1e-9);
      CHECK(at[a] <= 200 + 1e-9);
      for (std::size_t b = 0; b < at.size(); ++b) {
        if (wanted[a] < wanted[b]) {
          CHECK(at[b] - at[a] >= 13 - 1e-9);
        }
      }
    }
  }
}

TEST_CASE("chart: texts of marks do not touch, the first of the list have room, none is lost") {
  std::vector<ChartMark> marks;
  std::vector<double> x;
  for (int i = 0; i < 40; ++i) {
    marks.push_back({0, 0, i % 4 == 0 ? "hot day" : "event number " + std::to_string(i)});
    x.push_back(60 + 3.0 * i);
  }
  const std::vector<PlacedMark> placed = place_marks(marks, x, 50, 700, 3);
  std::size_t named = 0;
  bool more = false;
  for (std::size_t a = 0; a < placed.size(); ++a) {
    if (placed[a].lane == 3) {
      more = true;
      named += static_cast<std::size_t>(std::stoi(placed[a].text));
      continue;
    }
    if (placed[a].text.empty()) {
      continue;
    }
    const std::size_t times = placed[a].text.find('(');
    named += times == std::string::npos ? 1 : static_cast<std::size_t>(std::stoi(placed[a].text.substr(times + 1)));
    CHECK(placed[a].text_x >= 50);
    CHECK(placed[a].text_x + 6.6 * static_cast<double>(placed[a].text.size()) <= 700 + 1e-9);
    for (std::size_t b = 0; b < a; ++b) {
      if (placed[b].lane == placed[a].lane && !placed[b].text.empty()) {
        const auto end = [](const PlacedMark& m) { return m.text_x + 6.6 * static_cast<double>(m.text.size()); };
        CHECK((end(placed[a]) < placed[b].text_x || end(placed[b]) < placed[a].text_x));
      }
    }
  }
  CHECK(named == marks.size());
  CHECK(more);
  // Also those that were put together and then found no room.
  std::reverse(marks.begin(), marks.end());
  std::vector<double> at_once(marks.size(), 100);
  for (const PlacedMark& mark : place_marks(marks, at_once, 50, 700, 3)) {
    CHECK((mark.lane < 3 || mark.text.rfind("37 more", 0) == 0));
  }
  REQUIRE_FALSE(placed.empty());
  CHECK(placed[0].text.rfind("hot day (", 0) == 0); // alike and near: together, and first
}

TEST_CASE("chart: fewer points look the same") {
  std::vector<std::pair<double, double>> many;
  for (int i = 0; i <= 5000; ++i) {
    const double x = i * 0.12;
    many.emplace_back(x, 100 + 80 * std::sin(x / 40) + (i == 2345 ? -150 : i == 3456 ? 150 : 0));
  }
  const auto few = thin_points(many, 0.3);
  CHECK(few.size() < 500);
  CHECK(few.front() == many.front());
  CHECK(few.back() == many.back());
  CHECK(std::find(few.begin(), few.end(), many[2345]) != few.end()); // the spikes, down and up
  CHECK(std::find(few.begin(), few.end(), many[3456]) != few.end());
  for (const auto& [x, y] : many) {
    const auto after = std::lower_bound(few.begin(), few.end(), std::pair(x, -1e9));
    if (after == few.begin() || after == few.end()) {
      continue;
    }
    const auto before = std::prev(after);
    const double share = after->first > before->first ? (x - before->first) / (after->first - before->first) : 0;
    const double drawn = before->second + share * (after->second - before->second);
    if (std::abs(x - many[2345].first) > 2 && std::abs(x - many[3456].first) > 2) {
      CHECK(drawn == close(y, 4, 0)); // a column of 1.5 px holds no more than this of the slope
    }
  }
}

TEST_CASE("chart: a curve that turns back on itself keeps its turning points") {
  const std::vector<std::pair<double, double>> back = {{0, 0}, {0, 100}, {0, -50}, {0, 20}};
  CHECK(thin_points(back, 0.3).size() == 4);
}

TEST_CASE("chart: the drawing is well-formed and shows every line where it belongs") {
  const Chart c = two_lines();
  const std::string svg = draw(c, Along::Time, {System::Si, false});
  const Markup m(svg);
  CHECK(svg.find("nan") == std::string::npos);
  CHECK(svg.find("inf") == std::string::npos);
  CHECK(m.all("title").at(0).text == c.title);
  CHECK(m.all("desc").at(0).text == c.note);
  REQUIRE(m.all("polyline").size() == 2);
  const auto first = points(m.all("polyline")[0]);
  const auto second = points(m.all("polyline")[1]);
  CHECK(second.size() == 2); // over what is not a number
  // Three values on a straight line, the required clamp between the last two of them.
  const double level = m.all("line", "level").at(0).number("y1");
  const double per_newton = (first.back().second - first.front().second) / 40e3;
  CHECK(level == close(first.front().second + 30e3 * per_newton, 0.2, 0));
  // Half of the time is half of the way, and the mark stands at three quarters.
  const double width = first.back().first - first.front().first;
  CHECK(m.all("line", "mark").at(0).number("x1") == close(first.front().first + 0.75 * width, 0.2, 0));
  bool named = false;
  for (const MarkupElement& text : m.all("text")) {
    named = named || text.text == "stud </text>";
  }
  CHECK(named);
}

TEST_CASE("chart: few records are marked, many are not, and corners of steps and faint lines never") {
  const Chart few = two_lines();
  const auto dots = [](const Chart& c) {
    return Markup(draw(c, Along::Time, {System::Si, false})).all("circle", "dot");
  };
  REQUIRE(dots(few).size() == 6); // four values and two
  const Markup drawn(draw(few, Along::Time, {System::Si, false}));
  const auto line = points(drawn.all("polyline")[0]);
  // The second is halfway in time and in clamp, where the drawn line needs no point.
  CHECK(dots(few)[1].number("cx") == close((line.front().first + line.back().first) / 2, 0.11, 0));
  CHECK(dots(few)[1].number("cy") == close((line.front().second + line.back().second) / 2, 0.11, 0));
  Chart faint = few;
  faint.variants[0].lines[0].faint = true;
  CHECK(dots(faint).size() == 2);
  Chart steps = few;
  steps.stairs = true;
  CHECK(dots(steps).empty());
  Chart many = few;
  ChartAxis& axis = many.variants[0].axes[0];
  axis = {};
  for (ChartLine& l : many.variants[0].lines) {
    l.y.clear();
    for (int i = 0; i < 11; ++i) {
      l.y.push_back(1e3 * i * i);
    }
  }
  for (int i = 0; i < 11; ++i) {
    axis.time.push_back(i);
    axis.distance.push_back(i);
  }
  CHECK(dots(many).empty());
}

TEST_CASE("chart: by distance it is drawn against distance") {
  const Markup m(draw(two_lines(), Along::Distance, {System::Si, false}));
  std::string words;
  for (const MarkupElement& text : m.all("text")) {
    words += text.text + "|";
  }
  CHECK(words.find("distance driven, km") != std::string::npos);
  CHECK(words.find("|1000|") != std::string::npos);
  const auto line = points(m.all("polyline")[0]);
  REQUIRE(line.size() == 3);
  CHECK((line[1].first - line[0].first) / (line[2].first - line[0].first) == close(0.2, 0.001, 0));
  const double width = line[2].first - line[0].first;
  CHECK(m.all("line", "mark").at(0).number("x1") == close(line[0].first + 0.75 * width, 0.2, 0));
}

TEST_CASE("chart: both systems share one picture, each with round numbers of its own in the right places") {
  const Markup m(draw(two_lines(), Along::Time, {System::Us, true}));
  const auto place = [&](const char* system, const std::string& number) {
    for (const MarkupElement& text : m.all("text", "tick")) {
      if (m.parent(text).is(system) && text.text == number && text.get("text-anchor") == "end") {
        return text.number("y");
      }
    }
    FAIL("no tick ", number, " in ", system);
    return 0.0;
  };
  // 0 is 0 in both; 100 kN lies as far above as the pounds-force say.
  const double zero = place("si", "0");
  CHECK(place("us", "0") == close(zero, 0.11, 0));
  const double per_newton = (place("si", "100") - zero) / 100e3;
  const double required = m.all("line", "level").at(0).number("y1");
  CHECK(required - (zero - 4) == close(70e3 * per_newton, 0.2, 0)); // a number's foot is 4 below its line
  CHECK(place("us", "20000") == close(zero + 20000 * units::kPoundForce * per_newton, 0.3, 0));
  CHECK(m.all("tspan", "q").at(0).number("data-si") == 70e3);
}

TEST_CASE("chart: without anything to draw it says so") {
  Chart c = two_lines();
  for (ChartLine& line : c.variants[0].lines) {
    std::fill(line.y.begin(), line.y.end(), std::nan(""));
  }
  CHECK(draw(c, Along::Time, {}).find("Nothing was recorded") != std::string::npos);
  c.variants.clear();
  CHECK(draw(c, Along::Time, {}).find("Nothing was recorded") != std::string::npos);
}

TEST_CASE("chart: a single point and values that are all alike can be drawn") {
  Chart c = two_lines();
  c.variants[0].axes[0] = {{0}, {0}};
  c.variants[0].lines[0].y = {5e3};
  c.variants[0].lines[1].y = {5e3};
  c.levels.clear();
  c.from_zero = false;
  const Markup m(draw(c, Along::Time, {}));
  CHECK(m.all("circle", "dot").size() == 2);
}

TEST_CASE("chart: a point at no time is left out") {
  Chart c = two_lines();
  c.variants[0].axes[0].time[1] = std::nan("");
  const Markup m(draw(c, Along::Time, {}));
  CHECK(points(m.all("polyline", "s1").at(0)).size() == 2); // the two that are left, one of them twice
  c.variants[0].axes[0].time.assign(4, std::nan(""));
  CHECK(draw(c, Along::Time, {}).find("Nothing was recorded") != std::string::npos);
  const double nan = std::nan("");
  CHECK(thin_points({{0, 0}, {nan, 1}, {nan, 2}, {5, 3}}, 0.3).size() <= 4); // comes to an end
}

TEST_CASE("chart: the unit of time suits the span") {
  CHECK(time_unit(10 * units::kDay).name == "days");
  CHECK(time_unit(10 * units::kHour).name == "h");
  CHECK(time_unit(10 * units::kMinute).name == "min");
  CHECK(time_unit(10).name == "s");
}

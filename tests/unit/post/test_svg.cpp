// Text of SVG and HTML: nothing that comes from a scenario can become markup.
#include "post/svg.hpp"

#include "tests/support/close.hpp"
#include "tests/support/markup.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace clampfade::post;
using namespace clampfade::test;

TEST_CASE("svg: what could be markup is escaped") {
  CHECK(escape("</script><b a=\"1\" c='2'>&amp;") == "&lt;/script&gt;&lt;b a=&quot;1&quot; c=&#39;2&#39;&gt;&amp;amp;");
  CHECK(escape("25 °C – µm\n\t") == "25 °C – µm\n\t");
}

TEST_CASE("svg: bytes that are no UTF-8 and characters that XML forbids are replaced") {
  const std::string bad = "\xEF\xBF\xBD";
  CHECK(escape("a\xFFz") == "a" + bad + "z");
  CHECK(escape("\xC0\x80") == bad + bad);                 // overlong
  CHECK(escape("\xE2\x82") == bad + bad);                 // cut short
  CHECK(escape("\xED\xA0\x80") == bad + bad + bad);       // a surrogate
  CHECK(escape(std::string("\x01\x00", 2)) == bad + bad); // control characters
  CHECK(escape("\xF0\x9F\x94\xA9") == "\xF0\x9F\x94\xA9");
}

TEST_CASE("svg: lengths are short and finite") {
  CHECK(coordinate(12.345) == "12.3");
  CHECK(coordinate(12.0) == "12");
  CHECK(coordinate(-0.04) == "0");
  CHECK(coordinate(-3.25) == "-3.2");
  CHECK_THROWS_AS(static_cast<void>(coordinate(std::nan(""))), Undrawable);
  CHECK_THROWS_AS(static_cast<void>(coordinate(std::numeric_limits<double>::infinity())), Undrawable);
}

TEST_CASE("svg: elements nest and escape their attributes") {
  const Markup m(element("g", {{"class", "a \"b\""}, {"x", 1.25}}, element("rect", {{"width", 3.0}})));
  REQUIRE(m.elements.size() == 2);
  CHECK(m.elements[0].get("class") == "a \"b\"");
  CHECK(m.elements[0].get("x") == "1.2");
  CHECK(m.parent(m.elements[1]).name == "g");
}

TEST_CASE("svg: a quantity keeps its SI value for the script") {
  const double si = 91234.5678901234;
  const Markup m(quantity(si, Kind::Force, System::Us));
  CHECK(m.elements[0].text == "20510 lbf");
  CHECK(m.elements[0].number("data-si") == si); // every bit of it
  CHECK(m.elements[0].get("data-kind") == "force");
  CHECK(Markup(bare_quantity(si, Kind::Force, System::Si)).elements[0].text == "91.23");
  CHECK(quantity(std::nan(""), Kind::Force, System::Si) == "-");
}

TEST_CASE("svg: numbers that add up have the unit's decimals and no minus before nothing") {
  CHECK(Markup(fixed_quantity(-1830, Kind::Force, System::Si)).elements[0].text == "-1.8 kN");
  CHECK(Markup(fixed_quantity(-18, Kind::Force, System::Si)).elements[0].text == "0.0 kN");
  CHECK(Markup(fixed_quantity(96.13e-6, Kind::Thickness, System::Us)).elements[0].text == "3.78 thou");
  CHECK(Markup(fixed_quantity(91234, Kind::Force, System::Si, "tspan", true)).elements[0].text == "91.2");
}

TEST_CASE("svg: a sentence in both systems stands there once if it is the same") {
  CHECK(in_both("as ever & ever", "as ever & ever") == "as ever &amp; ever");
  const Markup m("<p>" + in_both("5 kN", "1124 lbf") + "</p>");
  CHECK(m.all("span", "si").at(0).text == "5 kN");
  CHECK(m.all("span", "us").at(0).text == "1124 lbf");
}

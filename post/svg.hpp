// Text of SVG and HTML: escaping, elements, numbers. Knows nothing of what is drawn.
#pragma once

#include "post/units.hpp"

#include <initializer_list>
#include <stdexcept>
#include <string>
#include <string_view>

namespace clampfade::post {

/// Which units a page or drawing speaks: one system, or both, of which a reader sees the first until he switches.
struct Units {
  System first = System::Si;
  bool both = false;
};

/// Safe as text and as the value of an attribute in quotes. Bytes that are no UTF-8, and control characters that XML
/// forbids, become U+FFFD.
std::string escape(std::string_view text);

/// Something cannot be drawn: a file says what is no number, or the program has a fault.
class Undrawable : public std::domain_error {
public:
  using std::domain_error::domain_error;
};

/// A length in a drawing: one decimal, no trailing zeros, no "-0". Throws Undrawable unless finite.
std::string coordinate(double value);

/// Name and value of an attribute; the value is escaped when written.
struct Attribute {
  Attribute(std::string_view n, std::string_view v) : name(n), value(v) {}
  Attribute(std::string_view n, const std::string& v) : name(n), value(v) {}
  Attribute(std::string_view n, const char* v) : name(n), value(v) {}
  Attribute(std::string_view n, double v) : name(n), value(coordinate(v)) {}
  std::string_view name;
  std::string value;
};

/// "<name a="b">content</name>"; content is markup, already escaped.
std::string element(std::string_view name, std::initializer_list<Attribute> attributes, std::string_view content);
/// "<name a="b"/>".
std::string element(std::string_view name, std::initializer_list<Attribute> attributes);

/// A whole drawing, an "svg" of `style` from (0, 0) to (width, height), with a title and a note for whoever can't see
/// it, which are escaped; content is markup. `id` must be the page's only one; `more` are attributes for script.
std::string picture(std::string_view style, const std::string& id, double width, double height, std::string_view title,
                    std::string_view note, std::string_view content, std::initializer_list<Attribute> more = {});
/// The content of a drawing of that width, 70 high, of which there is nothing but why.
std::string nothing_to_draw(double width, std::string_view why);

/// The name by which script knows a kind: "force", "torque", ...
std::string_view kind_name(Kind kind);

/// A number with its unit in the first system that script can convert: element "span" in HTML, "tspan" in SVG. The SI
/// value stands in data-si with all its digits. Not a number is shown as "-" and carries none.
std::string quantity(double si, Kind kind, System system, int digits = 4, std::string_view tag = "span");
/// The same without the unit, for columns whose heading names it.
std::string bare_quantity(double si, Kind kind, System system, int digits = 4, std::string_view tag = "span");
/// With a fixed number of decimals, which the unit decides: for numbers that stand one above the other and add up.
std::string fixed_quantity(double si, Kind kind, System system, std::string_view tag = "span", bool bare = false);
/// Decimals of fixed_quantity.
int decimals(Kind kind, System system);
/// Only the name of the unit.
std::string unit_name(Kind kind, System system, std::string_view tag = "span");
/// A sentence that was made for each system; a style sheet shows one of them. Escapes both. One, if they are equal.
std::string in_both(const std::string& si, const std::string& us, std::string_view tag = "span");

} // namespace clampfade::post

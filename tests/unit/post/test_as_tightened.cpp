#include "post/summary_data.hpp"
#include "post/summary_text.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <limits>

using namespace clampfade;
using namespace clampfade::post;

namespace {

constexpr double kNothing = std::numeric_limits<double>::quiet_NaN();

/// A run that has only begun, of a wheel whose nuts were recorded; all invented.
Summary wheel() {
  Summary s;
  s.title = "Invented wheel";
  s.studs = {"1", "2", "3"};
  s.identity = {{"1", "06:12", "wrench 2", "fitter C", "vehicle 31", "drive 1", "left", 640, 1.0471975511965976},
                {"3", "06:13", "wrench 2", "fitter C", "vehicle 31", "drive 1", "left", 500, kNothing},
                {"2", "06:14", "wrench 2", "fitter C", "vehicle 31", "drive 1", "left", 655, 1.2217304763960306}};
  return s;
}

std::string text_of(const Summary& s, System system) {
  std::string text = to_text(s, system);
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("summary: the wheel as tightened is told with the range of torque and angle") {
  const Summary s = wheel();
  const std::string text = text_of(s, System::Si);
  CAPTURE(text);
  CHECK(has(text, "As tightened: vehicle vehicle 31, axle drive 1, wheel left"));
  CHECK(has(text, "torque 500.0 to 655.0 N\u00B7m, angle 60.00 to 70.00 deg."));
  CHECK(has(text_of(s, System::Us), "torque 368.8 to 483.1 lbf\u00B7ft, angle 60.00 to 70.00 deg."));
}

TEST_CASE("summary: angles that nobody recorded are not made up") {
  Summary s = wheel();
  for (RunHeader::IdentityRow& row : s.identity) {
    row.angle = kNothing;
    row.torque = 640;
  }
  const std::string text = text_of(s, System::Si);
  CAPTURE(text);
  CHECK(has(text, "operator fitter C, torque 640.0 N\u00B7m."));
}

TEST_CASE("summary: JSON lists every nut as tightened") {
  const nlohmann::json j = nlohmann::json::parse(to_json(wheel()));
  REQUIRE(j["as_tightened"].size() == 3);
  CHECK(j["as_tightened"][0]["torque"] == 640);
  CHECK(j["as_tightened"][1]["stud"] == "3");
  CHECK(j["as_tightened"][1]["angle"].is_null());
  CHECK(j["as_tightened"][2]["operator"] == "fitter C");
  CHECK(j["units"]["angle"] == "rad");
}

#include "solver/simulation.hpp"
#include "tests/support/close.hpp"
#include "tests/support/scenario_text.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace clampfade;
using test::close;
using test::ScenarioText;

namespace {

double figure(const std::vector<Figure>& all, const std::string& name) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const Figure& f) { return f.name == name; });
  REQUIRE(found != all.end());
  REQUIRE(found->values.size() == 1);
  return found->values.front();
}

bool told(const Scenario& s, const std::string& what) {
  const std::vector<std::string> all = make_header(s).warnings;
  return std::any_of(all.begin(), all.end(), [&](const std::string& w) { return w.find(what) != std::string::npos; });
}

} // namespace

TEST_CASE("derive: the K factor is torque over clamp and nominal diameter") {
  const std::vector<Figure> all = derive(ScenarioText().scenario());
  CHECK(figure(all, "torque/k_factor") == close(640 / (figure(all, "torque/clamp") * 22e-3), 0, 1e-12));
}

TEST_CASE("derive: what is wrong with a wheel as it stands is named") {
  Scenario s = ScenarioText().scenario();
  const double stress_area = figure(derive(s), "thread/stress_area");
  const double per_newton_metre = figure(derive(s), "torque/clamp") / 640;
  // Proof stress 830 MPa, tensile strength 1040 MPa.
  const double proof = 830e6 * stress_area / per_newton_metre;
  const double tensile = 1040e6 * stress_area / per_newton_metre;
  const auto with_torque = [&](double torque) {
    s.tightening.torque.assign(10, torque);
    return s;
  };
  CHECK_FALSE(told(with_torque(proof * 0.999), "above the proof load"));
  CHECK(told(with_torque(proof * 1.001), "every stud: the clamp at the tightening torque is above the proof load"));
  CHECK_FALSE(told(with_torque(tensile * 0.999), "it breaks under the wrench"));
  CHECK(told(with_torque(tensile * 1.001), "it breaks under the wrench"));
  const double required = figure(derive(s), "required_clamp") / per_newton_metre;
  CHECK_FALSE(told(with_torque(required * 1.001), "tightened below the required clamp"));
  CHECK(told(with_torque(required * 0.999), "tightened below the required clamp"));
}

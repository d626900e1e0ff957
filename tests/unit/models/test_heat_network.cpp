#include "models/constants.hpp"
#include "models/heat_network.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace clampfade;
using test::close;

namespace {

HeatNetwork network() {
  HeatNetwork n;
  n.nodes = {{"drum", 20e3, 2, 0.9}, {"hub", 10e3, 1, 0.5}, {"rim", 30e3, 9, 3}};
  n.links = {{0, 1, 7}, {1, 2, 5}};
  n.radiation = {{0, 2, 0.2}, {0, HeatRadiation::kAmbient, 0.08}};
  n.brake = 0;
  return n;
}

} // namespace

TEST_CASE("heat network: what flows from one node arrives at another") {
  const HeatNetwork n = network();
  const std::vector<double> t{500, 400, 350};
  std::vector<double> d(3);
  n.rate(t, 290, 0, 1500, d);
  const double drum_rim = kStefanBoltzmann * 0.2 * (std::pow(350.0, 4) - std::pow(500.0, 4));
  const double drum_air = kStefanBoltzmann * 0.08 * (std::pow(290.0, 4) - std::pow(500.0, 4));
  CHECK(d[0] * 20e3 == close(2 * (290 - 500.0) + 7 * (400 - 500.0) + drum_rim + drum_air + 1500, 0, 1e-12));
  CHECK(d[1] * 10e3 == close(1 * (290 - 400.0) + 7 * (500 - 400.0) + 5 * (350 - 400.0), 0, 1e-12));
  CHECK(d[2] * 30e3 == close(9 * (290 - 350.0) + 5 * (400 - 350.0) - drum_rim, 0, 1e-12));
}

TEST_CASE("heat network: moving air adds with the speed to the power 0.8") {
  const HeatNetwork n = network();
  CHECK(HeatNetwork::air_factor(0) == 0);
  CHECK(HeatNetwork::air_factor(1) == 1);
  CHECK(HeatNetwork::air_factor(32) == close(16, 0, 1e-14));
  const std::vector<double> t{300, 300, 310};
  std::vector<double> still(3);
  std::vector<double> moving(3);
  n.rate(t, 300, 0, 0, still);
  n.rate(t, 300, 16, 0, moving);
  CHECK((moving[2] - still[2]) * 30e3 == close(-3 * 16 * 10.0, 0, 1e-11));
  CHECK(moving[0] == still[0]);
}

TEST_CASE("heat network: a node loses more for a kelvin by all its ways out") {
  HeatNetwork n{"demo", {{"a", 1000, 3, 0}, {"b", 2000, 5, 0}}, {{0, 1, 20}}, {}, 0};
  n.radiation.push_back({0, HeatRadiation::kAmbient, 0.05});
  n.radiation.push_back({1, 0, 0.02});
  const std::vector<double> at{450, 320};
  for (const std::size_t node : {std::size_t{0}, std::size_t{1}}) {
    std::vector<double> low(2);
    std::vector<double> high(2);
    std::vector<double> t = at;
    t[node] -= 0.5;
    n.rate(t, 300, 0, 0, low);
    t[node] += 1;
    n.rate(t, 300, 0, 0, high);
    CHECK(n.outflow(node, at[node]) == close((low[node] - high[node]) * n.nodes[node].capacity, 0, 1e-5));
  }
}

TEST_CASE("heat network: at the steady state nothing changes and all heat leaves") {
  const HeatNetwork n = network();
  for (const double heat : {0.0, 800.0, 20e3}) {
    const std::vector<double> t = n.steady(288.15, 5, heat);
    std::vector<double> d(3);
    n.rate(t, 288.15, 5, heat, d);
    for (std::size_t i = 0; i < 3; ++i) {
      CHECK(d[i] * n.nodes[i].capacity == close(0, 1e-6, 0));
    }
    CHECK(t[0] >= 288.15 - 1e-9);
  }
  CHECK(n.steady(288.15, 5, 0)[1] == close(288.15, 0, 1e-12));
  CHECK(n.steady(288.15, 5, 2000)[0] > 340);
}

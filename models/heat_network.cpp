#include "models/heat_network.hpp"

#include "models/constants.hpp"

#include <Eigen/Dense>

#include <cmath>

namespace clampfade {

std::span<const Field<HeatNode>> HeatNode::fields() {
  static constexpr std::array<Field<HeatNode>, 3> kFields = {{
      {{"capacity", "J/K", Quantity::Dimensional, {1, 1e8}, {100, 1e6}, "heat capacity of the lump"},
       &HeatNode::capacity,
       std::nullopt},
      {{"still", "W/K", Quantity::Dimensional, {0, 1e5}, {0, 100}, "conductance to still air"}, &HeatNode::still, 0.0},
      {{"moving",
        "W/K",
        Quantity::Dimensional,
        {0, 1e5},
        {0, 50},
        "added conductance to air at a road speed of 1 m/s, grows with speed to the power 0.8"},
       &HeatNode::moving,
       0.0},
  }};
  return kFields;
}

double HeatNetwork::air_factor(double speed) { return speed > 0 ? std::pow(speed, 0.8) : 0; }

void HeatNetwork::rate(std::span<const double> temperature, double ambient, double air, double brake_heat,
                       std::span<double> derivative) const {
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    derivative[i] = (nodes[i].still + nodes[i].moving * air) * (ambient - temperature[i]);
  }
  derivative[brake] += brake_heat;
  for (const HeatLink& l : links) {
    const double heat = l.conductance * (temperature[l.to] - temperature[l.from]);
    derivative[l.from] += heat;
    derivative[l.to] -= heat;
  }
  const auto fourth = [](double t) { return t * t * t * t; };
  for (const HeatRadiation& r : radiation) {
    const double other = r.to == HeatRadiation::kAmbient ? ambient : temperature[r.to];
    const double heat = kStefanBoltzmann * r.emissivity_area * (fourth(other) - fourth(temperature[r.from]));
    derivative[r.from] += heat;
    if (r.to != HeatRadiation::kAmbient) {
      derivative[r.to] -= heat;
    }
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    derivative[i] /= nodes[i].capacity;
  }
}

double HeatNetwork::outflow(std::size_t node, double temperature) const {
  double sum = nodes[node].still;
  for (const HeatLink& l : links) {
    sum += l.from == node || l.to == node ? l.conductance : 0;
  }
  for (const HeatRadiation& r : radiation) {
    sum += r.from == node || r.to == node
               ? 4 * kStefanBoltzmann * r.emissivity_area * temperature * temperature * temperature
               : 0;
  }
  return sum;
}

std::vector<double> HeatNetwork::steady(double ambient, double air, double brake_heat) const {
  const auto n = static_cast<Eigen::Index>(nodes.size());
  const auto at = [](std::size_t i) { return static_cast<Eigen::Index>(i); };
  std::vector<double> t(nodes.size(), ambient);
  for (int iteration = 0; iteration < 100; ++iteration) {
    Eigen::MatrixXd slope = Eigen::MatrixXd::Zero(n, n);
    std::vector<double> rates(nodes.size());
    rate(t, ambient, air, brake_heat, rates);
    Eigen::VectorXd heat(n);
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      heat[at(i)] = rates[i] * nodes[i].capacity;
      slope(at(i), at(i)) += nodes[i].still + nodes[i].moving * air;
    }
    const auto couple = [&](std::size_t i, std::size_t j, double from_i, double from_j) {
      slope(at(i), at(i)) += from_i;
      slope(at(j), at(j)) += from_j;
      slope(at(i), at(j)) -= from_j;
      slope(at(j), at(i)) -= from_i;
    };
    for (const HeatLink& l : links) {
      couple(l.from, l.to, l.conductance, l.conductance);
    }
    const auto radiant = [&](const HeatRadiation& r, std::size_t i) {
      return 4 * kStefanBoltzmann * r.emissivity_area * t[i] * t[i] * t[i];
    };
    for (const HeatRadiation& r : radiation) {
      if (r.to == HeatRadiation::kAmbient) {
        slope(at(r.from), at(r.from)) += radiant(r, r.from);
      } else {
        couple(r.from, r.to, radiant(r, r.from), radiant(r, r.to));
      }
    }
    const Eigen::VectorXd step = slope.fullPivLu().solve(heat);
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      t[i] += step[at(i)];
    }
    if (step.lpNorm<Eigen::Infinity>() < 1e-9) {
      break;
    }
  }
  return t;
}

} // namespace clampfade

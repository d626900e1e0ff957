// The design cases of a scenario worked out, and the clamp that a wheel needs.
#pragma once

#include "models/required_clamp.hpp"
#include "solver/scenario.hpp"

#include <string>
#include <vector>

namespace clampfade {

struct Requirement {
  double clamp = 0;       ///< required clamp per stud [N]
  std::string decided_by; ///< name of the design case, or "required_clamp of the scenario"
  std::vector<CaseClamp> cases;
  std::vector<double> brake_forces; ///< F_brake of each case [N]
};

Requirement requirement(const Scenario& scenario, const Joint& joint);

/// Names of the nodes of a heat network, in order.
std::vector<std::string> node_names(const HeatNetwork& network);

} // namespace clampfade

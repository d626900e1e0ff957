// When the services of a scenario fall due. EQUATIONS.md 12.
#pragma once

#include "solver/scenario.hpp"

#include <cstdint>
#include <vector>

namespace clampfade {

class ServicePlan {
public:
  explicit ServicePlan(const std::vector<Service>& services);

  /// The next service that is due when a park begins at `time` [s] after `distance` [m], or null; each is given once.
  const Service* due(double time, double distance);
  /// Whether any service may fall due before `time` [s] and `distance` [m].
  [[nodiscard]] bool expects(double time, double distance) const;
  /// Extra brake heat in the moving spans of day d [W].
  [[nodiscard]] double extra_power(std::size_t day) const;

  void save(std::vector<std::int64_t>& out) const;
  void load(const std::int64_t*& in);

private:
  /// Place of the first that is due and not done; their number if none is.
  [[nodiscard]] std::size_t next(double time, double distance) const;
  const std::vector<Service>& services_;
  std::vector<char> done_;
};

} // namespace clampfade

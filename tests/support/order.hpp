// Observed order of accuracy.
#pragma once

#include <cmath>
#include <vector>

namespace clampfade::test {

/// log2 of the ratio of each error to the next, for step sizes halved from one to the next.
inline std::vector<double> observed_orders(const std::vector<double>& errors) {
  std::vector<double> orders;
  for (std::size_t i = 1; i < errors.size(); ++i) {
    orders.push_back(std::log2(errors[i - 1] / errors[i]));
  }
  return orders;
}

} // namespace clampfade::test

#pragma once

#include <cstddef>
#include <utility>
#include <vector>

namespace clampfade {

/// A property given at points, linear between them and flat outside; one point makes a constant.
/// Knots must rise strictly in x (the reader of the scenario refuses others).
class Table {
public:
  Table() = default;
  Table(double constant) : points_{{0.0, constant}} {} // NOLINT(google-explicit-constructor): a constant is a table
  explicit Table(std::vector<std::pair<double, double>> points) : points_(std::move(points)) {}

  [[nodiscard]] bool empty() const { return points_.empty(); }
  [[nodiscard]] bool constant() const { return points_.size() == 1; }
  [[nodiscard]] const std::vector<std::pair<double, double>>& points() const { return points_; }

  /// Value at x. Precondition: not empty.
  [[nodiscard]] double operator()(double x) const {
    if (points_.size() == 1 || x <= points_.front().first) {
      return points_.front().second;
    }
    for (std::size_t i = 1; i < points_.size(); ++i) {
      if (x < points_[i].first) {
        const auto& [x0, y0] = points_[i - 1];
        const auto& [x1, y1] = points_[i];
        return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
      }
    }
    return points_.back().second;
  }

private:
  std::vector<std::pair<double, double>> points_;
};

} // namespace clampfade

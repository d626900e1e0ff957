#include "models/network.hpp"

namespace clampfade {

Network::Network(std::size_t columns, std::size_t segments) : columns_(columns), segments_(segments) {}

void Network::residual(const Eigen::VectorXd& x, std::span<const double> closing, std::span<const double> ring,
                       Eigen::VectorXd& out) const {
  out.resize(static_cast<Eigen::Index>(unknowns()));
  for (std::size_t c = 0; c < columns_; ++c) {
    for (std::size_t s = 0; s < segments_; ++s) {
      out[static_cast<Eigen::Index>(force_at(c, s))] = gap(x, closing, c, s);
    }
    for (std::size_t k = 0; k < faces(); ++k) {
      out[static_cast<Eigen::Index>(face_at(c, k))] = face_force(x, ring, c, k);
    }
  }
}

double Network::face_force(const Eigen::VectorXd& x, std::span<const double> ring, std::size_t c, std::size_t k) const {
  const auto at = [&](std::size_t i) { return x[static_cast<Eigen::Index>(i)]; };
  const double u = at(face_at(c, k));
  double force = at(force_at(c, k + 1)) - at(force_at(c, k)) - kGround * u;
  if (columns_ > 1) {
    const std::size_t next = c + 1 < columns_ ? c + 1 : 0;
    const std::size_t before = c > 0 ? c - 1 : columns_ - 1;
    force -= ring[k] * (2 * u - at(face_at(next, k)) - at(face_at(before, k)));
  }
  return force;
}

double Network::gap(const Eigen::VectorXd& x, std::span<const double> closing, std::size_t c, std::size_t s) const {
  const double nut_side = s < faces() ? x[static_cast<Eigen::Index>(face_at(c, s))] : 0;
  const double head_side = s > 0 ? x[static_cast<Eigen::Index>(face_at(c, s - 1))] : 0;
  return closing[c * segments_ + s] - (nut_side - head_side);
}

void Network::tangent(std::span<const double> slopes, std::span<const char> pinned, std::span<const double> ring,
                      Eigen::SparseMatrix<double>& out) const {
  std::vector<Eigen::Triplet<double>> entries;
  const auto put = [&](std::size_t row, std::size_t column, double value) {
    entries.emplace_back(static_cast<int>(row), static_cast<int>(column), value);
  };
  for (std::size_t c = 0; c < columns_; ++c) {
    const std::size_t next = (c + 1) % columns_;
    const std::size_t before = (c + columns_ - 1) % columns_;
    for (std::size_t s = 0; s < segments_; ++s) {
      const std::size_t row = force_at(c, s);
      const bool free = !pinned[c * segments_ + s];
      put(row, row, free ? slopes[c * segments_ + s] : 1);
      if (s < faces()) {
        put(row, face_at(c, s), free ? -1 : 0);
      }
      if (s > 0) {
        put(row, face_at(c, s - 1), free ? 1 : 0);
      }
    }
    for (std::size_t k = 0; k < faces(); ++k) {
      const std::size_t row = face_at(c, k);
      put(row, force_at(c, k + 1), 1);
      put(row, force_at(c, k), -1);
      put(row, row, -2 * ring[k] - kGround);
      put(row, face_at(next, k), ring[k]);
      put(row, face_at(before, k), ring[k]);
    }
  }
  const auto n = static_cast<Eigen::Index>(unknowns());
  out.resize(n, n);
  out.setFromTriplets(entries.begin(), entries.end()); // a wheel of one or two studs adds its own entries up
}

} // namespace clampfade

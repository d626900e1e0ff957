#include "tests/reference/loss_ode.hpp"

#include "models/loosening.hpp"
#include "models/slip.hpp"
#include "models/wear.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

namespace clampfade::test {

namespace {
std::size_t u(Eigen::Index i) { return static_cast<std::size_t>(i); }
Eigen::Index e(std::size_t i) { return static_cast<Eigen::Index>(i); }
} // namespace

LossOde::LossOde(const Scenario& scenario, const Joint& joint, std::vector<double> advance, double clamp)
    : scenario_(scenario), joint_(joint), laws_(joint.make_laws()), advance_(std::move(advance)),
      columns_(e(advance_.size())), segments_(e(joint.segments())), faces_(e(joint.interfaces().size())),
      guess_(clamp) {
  if (joint.washers() && joint.washers()->sticks()) {
    throw std::runtime_error("loss_ode: washers with friction remember, which these equations do not");
  }
  for (const PlacedLaw& p : laws_) {
    for (std::size_t i = 0; i < p.law->states(); ++i) {
      // Of a film: height, then share broken down, flow, breakdown for each of its coatings.
      scale_.push_back(p.name.starts_with("coating film") && i % 3 == 1 ? 1 : 1e-6);
    }
  }
  wear_ = e(scale_.size());
  scale_.resize(scale_.size() + joint.interfaces().size() + 1, 1e-6);
  width_ = e(scale_.size());
  const TighteningSpec& w = scenario.tightening;
  for (std::size_t c = 0; c < advance_.size(); ++c) {
    set_clamp_.push_back(joint.nut().clamp(w.torque[c], w.thread_friction[c], w.bearing_friction[c]));
  }
}

Eigen::VectorXd LossOde::start() const {
  std::vector<double> column(u(width_), 0.0);
  for (const PlacedLaw& p : laws_) {
    p.law->start(std::span(column).subspan(p.state, p.law->states()));
  }
  Eigen::VectorXd y(size());
  for (Eigen::Index i = 0; i < y.size(); ++i) {
    y[i] = column[u(i % width_)] / scale_[u(i % width_)];
  }
  return y;
}

void LossOde::span(const RoadLoad& road, NodeTemperatures nodes) {
  road_ = road;
  nodes_ = std::move(nodes);
}

std::vector<double> LossOde::lengths(const Eigen::VectorXd& y, std::size_t column) const {
  std::vector<double> z(scale_);
  for (std::size_t i = 0; i < z.size(); ++i) {
    z[i] *= y[e(column) * width_ + e(i)];
  }
  return z;
}

void LossOde::add_losses(const std::vector<double>& z, double* segments) const {
  for (const PlacedLaw& p : laws_) {
    segments[p.segment] += p.law->loss(std::span(z).subspan(p.state, p.law->states()));
  }
  for (std::size_t i = 0; i < joint_.interfaces().size(); ++i) {
    segments[joint_.interfaces()[i].segment] += z[u(wear_) + i];
  }
  segments[segments_ - 1] += z.back();
}

LossOde::Forces LossOde::forces(double t, const Eigen::VectorXd& y) const {
  Forces f;
  std::vector<double> nodes;
  nodes_(t, nodes);
  joint_.place_temperatures(nodes, f.places);
  Elastic elastic;
  joint_.elastic(f.places, elastic);
  // Unknowns: forces, columns then segments; after them displacements of the faces between segments.
  const Eigen::Index n = columns_ * segments_;
  const Eigen::Index between = segments_ - 1;
  const auto face = [&](Eigen::Index c, Eigen::Index k) { return n + c * between + k; };
  Eigen::VectorXd fixed(n);
  Eigen::MatrixXd linear = Eigen::MatrixXd::Zero(n + columns_ * between, n + columns_ * between);
  for (Eigen::Index c = 0; c < columns_; ++c) {
    std::vector<double> lost(u(segments_), 0.0);
    add_losses(lengths(y, u(c)), lost.data());
    for (Eigen::Index s = 0; s < segments_; ++s) {
      const Eigen::Index i = c * segments_ + s;
      fixed[i] = lost[u(s)] + elastic.offset[u(s)] - (s == between ? advance_[u(c)] : 0);
      linear(i, i) = elastic.compliance[u(s)];
      if (s < between) {
        linear(i, face(c, s)) -= 1;
      }
      if (s > 0) {
        linear(i, face(c, s - 1)) += 1;
      }
    }
    for (Eigen::Index k = 0; k < between; ++k) {
      const Eigen::Index row = face(c, k);
      linear(row, c * segments_ + k + 1) += 1;
      linear(row, c * segments_ + k) -= 1;
      for (const Eigen::Index next : {(c + 1) % columns_, (c + columns_ - 1) % columns_}) {
        linear(row, face(c, k)) -= elastic.ring[u(k)];
        linear(row, face(next, k)) += elastic.ring[u(k)];
      }
    }
  }
  Eigen::VectorXd x = Eigen::VectorXd::Zero(linear.rows());
  x.head(n).setConstant(guess_);
  f.deflection.assign(u(columns_), 0.0);
  f.washer_slope.assign(u(columns_), 0.0);
  double before = INFINITY;
  for (int iteration = 0;; ++iteration) {
    Eigen::VectorXd r = linear * x;
    r.head(n) += fixed;
    f.tangent = linear;
    if (joint_.washers()) {
      for (Eigen::Index c = 0; c < columns_; ++c) {
        const Eigen::Index i = c * segments_ + between;
        const WasherAnswer w = joint_.washers()->compress(std::max(0.0, x[i]) / elastic.washer_modulus);
        f.deflection[u(c)] = w.deflection;
        f.washer_slope[u(c)] = w.slope / elastic.washer_modulus;
        r[i] += w.deflection;
        f.tangent(i, i) += f.washer_slope[u(c)];
      }
    }
    const Eigen::VectorXd step = f.tangent.partialPivLu().solve(r);
    x -= step;
    const double largest = step.head(n).cwiseAbs().maxCoeff();
    // Down to round-off, so that no integrator sees noise of this search.
    if (iteration > 0 && (!joint_.washers() || largest < 1e-9 || largest >= before)) {
      break;
    }
    if (iteration == 60) {
      throw std::runtime_error("loss_ode: no balance of forces");
    }
    before = largest < 1e-3 ? largest : INFINITY;
  }
  f.force = x.head(n);
  if (!(f.force.minCoeff() > 0)) {
    throw std::runtime_error("loss_ode: a face opens");
  }
  for (Eigen::Index c = 0; c < columns_; ++c) {
    if (f.force[c * segments_ + between] > joint_.stud().yield_force(0, elastic.stud_temperature, 1)) {
      throw std::runtime_error("loss_ode: a stud yields");
    }
  }
  return f;
}

double LossOde::drive(const PlacedLaw& p, std::size_t column, const Forces& f) const {
  const double force = f.at(e(column) * segments_ + e(p.segment));
  return p.law->drive() == Drive::Force       ? force
         : p.law->drive() == Drive::LoadRatio ? force / set_clamp_[column]
                                              : f.deflection[column];
}

std::vector<double> LossOde::drag(const Eigen::VectorXd& force) const {
  std::vector<double> out(u(columns_ * (faces_ + 1)), 0.0);
  if (road_.turn_rate <= 0) {
    return out;
  }
  const auto& faces = joint_.interfaces();
  const std::vector<double> ones(u(columns_), 1.0);
  double sum = 0;
  double gross = 0;
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const Interface& a = faces[i];
    const double demand = a.carries.radial * road_.load.radial + a.carries.brake * road_.load.brake +
                          a.carries.traction * road_.load.traction;
    if (demand <= 0) {
      continue;
    }
    std::vector<double> limits;
    for (Eigen::Index c = 0; c < columns_; ++c) {
      limits.push_back(a.friction * force[c * segments_ + e(a.segment)]);
    }
    const double s = slip(demand, limits, ones, a.tangential_compliance, joint_.clearance()).displacement;
    sum += s;
    gross += a.tangential_compliance * *std::max_element(limits.begin(), limits.end());
    for (std::size_t c = 0; c < limits.size(); ++c) {
      out[c * u(faces_ + 1) + i] =
          road_.turn_rate * zone_wear(a.wear, limits[c] / a.friction / a.area, s,
                                      zone_force(s, limits[c], a.tangential_compliance), a.tangential_compliance);
    }
  }
  const double joint_slip = std::min(sum, std::max(joint_.clearance() / 2, gross));
  const double stroke = scenario_.loosening == Motion::Rotating ? 2 * kPi : 4;
  const Stud& stud = joint_.stud();
  for (std::size_t c = 0; c < u(columns_); ++c) {
    const double clamp = force[e(c + 1) * segments_ - 1];
    const double mu = scenario_.tightening.bearing_friction[c];
    const double slide =
        joint_slip - nut_slip_threshold(mu, clamp, joint_.grip(),
                                        stud.material().youngs(joint_.tightening_temperature()), stud.second_moment());
    if (slide > 0) {
      const Interface& seat = faces.back();
      out[c * u(faces_ + 1) + u(faces_) - 1] += road_.turn_rate * nut_wear(seat.wear, clamp / seat.area, slide);
      out[c * u(faces_ + 1) + u(faces_)] =
          road_.turn_rate * turn_per_slide(joint_.nut(), clamp, scenario_.tightening.thread_friction[c], mu) * stroke *
          slide * joint_.nut().thread().pitch / (2 * kPi);
    }
  }
  return out;
}

void LossOde::rate(double t, const Eigen::VectorXd& y, Eigen::VectorXd& dy) const {
  const Forces f = forces(t, y);
  const std::vector<double> dragged = drag(f.force);
  dy.resize(size());
  std::vector<double> dz(u(width_));
  for (std::size_t c = 0; c < u(columns_); ++c) {
    const std::vector<double> z = lengths(y, c);
    for (const PlacedLaw& p : laws_) {
      const std::size_t n = p.law->states();
      p.law->rate(std::span(z).subspan(p.state, n), drive(p, c, f), f.places[p.temperature], road_.cycle_rate,
                  std::span(dz).subspan(p.state, n));
    }
    std::copy_n(&dragged[c * u(faces_ + 1)], faces_ + 1, &dz[u(wear_)]);
    for (std::size_t i = 0; i < dz.size(); ++i) {
      dy[e(c) * width_ + e(i)] = dz[i] / scale_[i];
    }
  }
}

void LossOde::jacobian(double t, const Eigen::VectorXd& y, Eigen::MatrixXd& out) const {
  const Forces f = forces(t, y);
  const Eigen::Index n = columns_ * segments_;
  const Eigen::MatrixXd inverse = f.tangent.inverse();
  out = Eigen::MatrixXd::Zero(size(), size());
  Eigen::MatrixXd by_force = Eigen::MatrixXd::Zero(size(), n); // d rate/d force
  Eigen::MatrixXd lost_by = Eigen::MatrixXd::Zero(n, size());  // d loss/d y
  for (std::size_t c = 0; c < u(columns_); ++c) {
    const Eigen::Index first = e(c) * width_;
    const std::vector<double> z = lengths(y, c);
    for (const PlacedLaw& p : laws_) {
      const std::size_t m = p.law->states();
      const double x = drive(p, c, f);
      const double by = p.law->drive() == Drive::Force       ? 1
                        : p.law->drive() == Drive::LoadRatio ? 1 / set_clamp_[c]
                                                             : f.washer_slope[c];
      std::vector<double> own(z.begin() + e(p.state), z.begin() + e(p.state + m));
      std::vector<double> r0(m);
      std::vector<double> r1(m);
      const auto rates = [&](double at, std::vector<double>& r) {
        p.law->rate(own, at, f.places[p.temperature], road_.cycle_rate, r);
      };
      rates(x, r0);
      rates(x * (1 + 1e-7), r1);
      for (std::size_t i = 0; i < m; ++i) {
        by_force(first + e(p.state + i), e(c) * segments_ + e(p.segment)) +=
            (r1[i] - r0[i]) / (1e-7 * x) * by / scale_[p.state + i];
      }
      const double none = p.law->loss(std::vector<double>(m, 0.0));
      for (std::size_t j = 0; j < m; ++j) {
        const double scale = scale_[p.state + j];
        const double kept = own[j];
        own[j] -= 1e-6 * scale; // downwards: a mode just below its target must not be moved past it, where it sleeps
        rates(x, r1);
        own[j] = kept;
        for (std::size_t i = 0; i < m; ++i) {
          out(first + e(p.state + i), first + e(p.state + j)) = (r0[i] - r1[i]) / 1e-6 / scale_[p.state + i];
        }
        std::vector<double> unit(m, 0.0);
        unit[j] = 1;
        lost_by(e(c) * segments_ + e(p.segment), first + e(p.state + j)) = (p.law->loss(unit) - none) * scale;
      }
    }
    for (std::size_t i = 0; i < joint_.interfaces().size(); ++i) {
      lost_by(e(c) * segments_ + e(joint_.interfaces()[i].segment), first + wear_ + e(i)) = 1e-6;
    }
    lost_by(e(c + 1) * segments_ - 1, first + width_ - 1) = 1e-6;
  }
  if (road_.turn_rate > 0) {
    const std::vector<double> base = drag(f.force);
    Eigen::VectorXd moved = f.force;
    for (Eigen::Index i = 0; i < n; ++i) {
      const double kept = moved[i];
      moved[i] *= 1 - 1e-6;
      const std::vector<double> other = drag(moved);
      for (std::size_t k = 0; k < base.size(); ++k) {
        const Eigen::Index row = e(k / u(faces_ + 1)) * width_ + wear_ + e(k % u(faces_ + 1));
        by_force(row, i) += (base[k] - other[k]) / (kept - moved[i]) / 1e-6;
      }
      moved[i] = kept;
    }
  }
  out -= by_force * (inverse.topLeftCorner(n, n) * lost_by);
}

std::vector<double> LossOde::clamp(double t, const Eigen::VectorXd& y) const {
  const Forces f = forces(t, y);
  std::vector<double> out;
  for (Eigen::Index c = 0; c < columns_; ++c) {
    out.push_back(f.force[(c + 1) * segments_ - 1]);
  }
  return out;
}

double LossOde::loss(const Eigen::VectorXd& y, std::size_t column, Mechanism m) const {
  const std::vector<double> z = lengths(y, column);
  ByMechanism by{};
  for (const PlacedLaw& p : laws_) {
    p.law->add_losses(std::span(z).subspan(p.state, p.law->states()), by);
  }
  by[index(Mechanism::NutRotation)] = z.back();
  by[index(Mechanism::Wear)] = std::accumulate(z.begin() + wear_, z.end() - 1, 0.0);
  return by[index(m)];
}

} // namespace clampfade::test

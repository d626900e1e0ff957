#include "solver/wheel.hpp"

#include "models/loosening.hpp"
#include "models/slip.hpp"
#include "models/wear.hpp"
#include "solver/diagnostics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace clampfade {

namespace {

// Clamp over that of the set torque at which a stud counts as open, and as closed again.
constexpr double kOpens = 1e-6;
constexpr double kCloses = 1e-2;
// How far temperatures may leave the parabola that a step knows of them [K]. Paint at its glass transition settles by
// parts in a hundred for a kelvin, and what a step does not see its error estimate cannot see either.
constexpr double kHeatSeen = 1;

void add(std::span<const double> from, std::vector<double>& to) {
  for (std::size_t i = 0; i < to.size(); ++i) {
    to[i] += from[i];
  }
}

/// Segments between the two faces of one disc can pull; every other one has a face that opens.
std::vector<char> bilateral_segments(const Joint& joint) {
  std::vector<char> flags(joint.segments(), 0);
  if (joint.coupled()) {
    for (const std::size_t m : joint.wheel_discs()) {
      flags[joint.parts()[m].segment] = 1;
    }
  }
  return flags;
}

} // namespace

Wheel::Wheel(const Scenario& scenario, const Joint& joint, std::vector<std::size_t> studs, std::vector<double> counts)
    : joint_(joint), studs_(std::move(studs)), counts_(std::move(counts)), laws_(joint.make_laws()),
      motion_(scenario.loosening), segments_(joint.segments()),
      equilibrium_(studs_.size(), segments_, bilateral_segments(joint), joint.washers().has_value()),
      cold_equilibrium_(studs_.size(), segments_, bilateral_segments(joint), joint.washers().has_value()),
      no_torsion_(studs_.size(), 1.0) {
  std::size_t n = 0;
  std::size_t scratch = 0;
  std::size_t shared = 0;
  for (const PlacedLaw& p : laws_) {
    const LossLaw& law = *p.law;
    sites_.push_back(
        {&law, law.drive(), p.segment, {p.state, law.states()}, {shared, law.shared()}, {scratch, law.scratch()}});
    n = p.state + law.states();
    scratch += law.scratch();
    shared += law.shared();
  }
  wear_ = n;
  rotation_ = wear_ + joint.interfaces().size();
  plastic_ = rotation_ + 1;
  taken_ = plastic_ + 1;
  washer_ = taken_ + 1;
  advance_ = washer_ + 2;
  nut_ = advance_ + 1;
  open_ = nut_ + 1;
  force_ = open_ + 1;
  face_ = force_ + segments_;
  stride_ = face_ + segments_ - 1;
  work_.resize(scratch * columns());
  shared_.resize(shared);
  law_steps_.resize(laws_.size());
  start_drive_.resize(columns() * laws_.size());
  const TighteningSpec& wrench = scenario.tightening;
  for (const std::size_t k : studs_) {
    const double mu_t = wrench.thread_friction[k];
    const double mu_b = wrench.bearing_friction[k];
    reference_.push_back(joint.nut().clamp(wrench.torque[k], mu_t, mu_b));
    thread_friction_.push_back(mu_t);
    bearing_friction_.push_back(mu_b);
    turn_per_slide_.push_back(joint.nut().prevailing_torque() > 0 ? 0 : turn_per_slide(joint.nut(), 1, mu_t, mu_b));
    gaps_.push_back(joint.flatness_gaps(k));
    scale_ = std::max(scale_, reference_.back());
  }
  const std::vector<double> places(joint.stud_place() + 1, joint.tightening_temperature());
  joint_.elastic(places, cold_elastic_);
  // Forces balance to round-off of the largest among them: of a wavy disc pulled flat these may dwarf the clamp.
  balance_scale_ = scale_;
  for (const auto& gaps : gaps_) {
    for (const double gap : gaps) {
      for (const double half : cold_elastic_.ring) {
        balance_scale_ = std::max(balance_scale_, 4 * half * gap);
      }
    }
  }
}

State Wheel::fresh() const {
  State x(columns() * stride_, 0.0);
  for (std::size_t c = 0; c < columns(); ++c) {
    for (const PlacedLaw& p : laws_) {
      p.law->start(std::span(x).subspan(at(c, p.state), p.law->states()));
    }
  }
  return x;
}

std::span<const double> Wheel::law_state(const State& x, std::size_t c, std::size_t law) const {
  return std::span(x).subspan(at(c, laws_[law].state), laws_[law].law->states());
}

State Wheel::with_washers_of(State x, const State& other) const {
  for (std::size_t c = 0; c < columns(); ++c) {
    std::copy_n(&other[at(c, washer_)], 2, &x[at(c, washer_)]);
  }
  return x;
}

void Wheel::losses(const State& x, std::size_t c, std::vector<ByMechanism>& by_segment) const {
  by_segment.assign(segments_, ByMechanism{});
  for (std::size_t l = 0; l < laws_.size(); ++l) {
    laws_[l].law->add_losses(law_state(x, c, l), by_segment[laws_[l].segment]);
  }
  for (std::size_t i = 0; i < joint_.interfaces().size(); ++i) {
    by_segment[joint_.interfaces()[i].segment][index(Mechanism::Wear)] += x[at(c, wear_ + i)];
  }
  by_segment.back()[index(Mechanism::NutRotation)] += x[at(c, rotation_)];
  by_segment.back()[index(Mechanism::StudYield)] += x[at(c, plastic_)] - x[at(c, taken_)];
}

void Wheel::total_losses(const State& x, std::vector<double>& out) const {
  frozen_losses(x, out);
  for (std::size_t c = 0; c < columns(); ++c) {
    out[(c + 1) * segments_ - 1] += x[at(c, plastic_)] - x[at(c, taken_)];
  }
}

double Wheel::layer_thickness(const State& x, std::size_t c, std::size_t k) const {
  double left = joint_.layers()[k].film.thickness;
  for (std::size_t l = 0; l < laws_.size(); ++l) {
    const auto& mine = laws_[l].layers;
    for (std::size_t i = 0; i < mine.size(); ++i) {
      if (mine[i] == k) {
        left -= laws_[l].law->layer_loss(law_state(x, c, l), i);
      }
    }
  }
  return left;
}

void Wheel::rest_from(const State& x, Rest& rest) const {
  rest.forces.resize(columns() * segments_);
  rest.faces.resize(columns() * (segments_ - 1));
  for (std::size_t c = 0; c < columns(); ++c) {
    std::copy_n(&x[at(c, force_)], segments_, &rest.forces[c * segments_]);
    if (segments_ > 1) {
      std::copy_n(&x[at(c, face_)], segments_ - 1, &rest.faces[c * (segments_ - 1)]);
    }
  }
}

void Wheel::rest_into(const Rest& rest, State& x) const {
  for (std::size_t c = 0; c < columns(); ++c) {
    std::copy_n(&rest.forces[c * segments_], segments_, &x[at(c, force_)]);
    if (segments_ > 1) {
      std::copy_n(&rest.faces[c * (segments_ - 1)], segments_ - 1, &x[at(c, face_)]);
    }
    const double share = clamp(x, c) / reference_[c];
    x[at(c, open_)] = share < kOpens || (open(x, c) && share < kCloses) ? 1 : 0;
  }
}

void Wheel::missing_nuts(const State& x, std::vector<Held>& held) const {
  held.clear();
  for (std::size_t c = 0; c < columns(); ++c) {
    if (!nut_on(x, c)) {
      held.push_back({c, 0});
    }
  }
}

void Wheel::shorten_elastic(const State& x, const Elastic& elastic, std::span<const double> forces, bool yields,
                            const std::vector<double>& torsion, Balance& balance) const {
  const std::size_t n = columns() * segments_;
  balance.closing.resize(n);
  balance.slopes.resize(n);
  balance.plastic.resize(columns());
  balance.washers.resize(columns());
  for (std::size_t c = 0; c < columns(); ++c) {
    for (std::size_t s = 0; s < segments_; ++s) {
      const std::size_t i = c * segments_ + s;
      balance.closing[i] = elastic.compliance[s] * forces[i] + elastic.offset[s] + gaps_[c][s];
      balance.slopes[i] = elastic.compliance[s];
    }
    const std::size_t last = c * segments_ + segments_ - 1;
    const double force = forces[last];
    StudStretch stretch{x[at(c, plastic_)], 0};
    if (yields) {
      stretch = joint_.stud().stretch(force, stretch.plastic, elastic.stud_temperature, torsion[c]);
    }
    balance.plastic[c] = stretch.plastic;
    balance.closing[last] += stretch.plastic - x[at(c, advance_)];
    balance.slopes[last] += stretch.slope;
    if (joint_.washers()) {
      const double e = elastic.washer_modulus;
      const double load = std::max(force, 0.0) / e;
      const WasherAnswer w = joint_.washers()->deflect(load, washers(x, c));
      balance.washers[c] = {w.deflection, load, w.slope / e};
      balance.closing[last] += w.deflection;
      balance.slopes[last] += w.slope / e;
    }
  }
}

void Wheel::move_elastic(const Balance& balance, State& x) const {
  for (std::size_t c = 0; c < columns(); ++c) {
    x[at(c, plastic_)] = balance.plastic[c];
    if (joint_.washers()) {
      x[at(c, washer_)] = balance.washers[c].deflection;
      x[at(c, washer_ + 1)] = balance.washers[c].force;
    }
  }
}

std::pair<double, double> Wheel::drive(const Site& site, std::size_t c, std::span<const double> forces,
                                       const Balance& balance) const {
  const double force = std::max(0.0, forces[c * segments_ + site.segment]);
  switch (site.drive) {
  case Drive::Force:
    return {force, 1};
  case Drive::LoadRatio:
    return {force / reference_[c], 1 / reference_[c]};
  case Drive::WasherDeflection:
    return {balance.washers[c].deflection, balance.washers[c].slope};
  }
  return {force, 1};
}

void Wheel::frozen_losses(const State& x, std::vector<double>& out) const {
  out.assign(columns() * segments_, 0.0);
  for (std::size_t c = 0; c < columns(); ++c) {
    double* closing = &out[c * segments_];
    for (std::size_t l = 0; l < laws_.size(); ++l) {
      closing[laws_[l].segment] += laws_[l].law->loss(law_state(x, c, l));
    }
    for (std::size_t i = 0; i < joint_.interfaces().size(); ++i) {
      closing[joint_.interfaces()[i].segment] += x[at(c, wear_ + i)];
    }
    closing[segments_ - 1] += x[at(c, rotation_)];
  }
}

void Wheel::slip_at(std::span<const double> forces, const WheelLoad& load, SlipState& out) const {
  wheel_slip(joint_, load, forces, counts_, out);
  out.threshold.resize(columns());
  const Stud& stud = joint_.stud();
  const double youngs = stud.material().youngs(joint_.tightening_temperature());
  for (std::size_t c = 0; c < columns(); ++c) {
    out.threshold[c] = nut_slip_threshold(bearing_friction_[c], std::max(0.0, forces[c * segments_ + segments_ - 1]),
                                          joint_.grip(), youngs, stud.second_moment());
  }
}

double Wheel::turn_per_slide_at(std::size_t c, double clamp) const {
  return joint_.nut().prevailing_torque() > 0
             ? turn_per_slide(joint_.nut(), clamp, thread_friction_[c], bearing_friction_[c])
             : turn_per_slide_[c];
}

void Wheel::drag_rates(std::span<const double> forces, const State& start, Roads roads,
                       std::vector<double>& rates) const {
  rates.assign(columns() * (joint_.interfaces().size() + 1), 0.0);
  for (const RoadLoad& road : roads) {
    if (road.turn_rate > 0) {
      add_drag_rates(forces, start, road, rates);
    }
  }
}

void Wheel::add_drag_rates(std::span<const double> forces, const State& start, const RoadLoad& road,
                           std::vector<double>& rates) const {
  const auto& faces = joint_.interfaces();
  const std::size_t width = faces.size() + 1;
  slip_at(forces, road.load, slip_);
  const double turn = motion_ == Motion::Rotating ? 2 * kPi : 4;
  for (std::size_t c = 0; c < columns(); ++c) {
    if (!nut_on(start, c) || open(start, c)) {
      continue; // what does not clamp neither wears nor turns
    }
    for (std::size_t i = 0; i < faces.size(); ++i) {
      const double force = std::max(0.0, forces[c * segments_ + faces[i].segment]);
      if (slip_.displacement[i] > 0 && faces[i].wear > 0) {
        const double zone =
            zone_force(slip_.displacement[i], faces[i].friction * force, faces[i].tangential_compliance);
        rates[c * width + i] += road.turn_rate * zone_wear(faces[i].wear, force / faces[i].area, slip_.displacement[i],
                                                           zone, faces[i].tangential_compliance);
      }
    }
    const double slide = std::max(0.0, slip_.joint - slip_.threshold[c]);
    const double clamp = forces[c * segments_ + segments_ - 1];
    if (slide > 0 && clamp > 0) {
      rates[c * width + faces.size() - 1] +=
          road.turn_rate * nut_wear(faces.back().wear, clamp / faces.back().area, slide);
      rates[c * width + faces.size()] +=
          road.turn_rate * turn_per_slide_at(c, clamp) * turn * slide * joint_.nut().thread().pitch / (2 * kPi);
    }
  }
}

double Wheel::free_rate(const State& x, std::size_t c, Roads roads) const {
  if (!nut_on(x, c) || !open(x, c) || !(x[at(c, rotation_)] > 0)) {
    return 0;
  }
  const double turn = motion_ == Motion::Rotating ? 2 * kPi : 4;
  double rate = 0;
  for (const RoadLoad& road : roads) {
    if (road.turn_rate > 0) {
      slip_at(rest_.forces, road.load, slip_);
      const double slide = std::max(0.0, slip_.joint - slip_.threshold[c]);
      rate += road.turn_rate * turn_per_slide_at(c, std::max(clamp(x, c), kOpens * reference_[c])) * turn * slide *
              joint_.nut().thread().pitch / (2 * kPi);
    }
  }
  return rate;
}

double Wheel::overlap(std::size_t c, const Rest& rest) const {
  const double face = segments_ > 1 ? rest.faces[c * (segments_ - 1) + segments_ - 2] : 0;
  return -(balance_.closing[c * segments_ + segments_ - 1] + face);
}

bool Wheel::sees_heat(double t, double h, const NodeTemperatures& nodes) {
  for (const double share : {0.25, 0.75}) {
    nodes(t + share * h, nodes_);
    joint_.place_temperatures(nodes_, places_between_);
    for (std::size_t i = 0; i < places_between_.size(); ++i) {
      const double near = share < 0.5 ? places0_[i] : places1_[i];
      const double far = share < 0.5 ? places1_[i] : places0_[i];
      if (std::abs(places_between_[i] - (3 * near + 6 * places_half_[i] - far) / 8) > kHeatSeen) {
        return false;
      }
    }
  }
  return true;
}

double Wheel::mismatch(double t, const NodeTemperatures& nodes) {
  nodes(t, nodes_);
  joint_.place_temperatures(nodes_, places_between_);
  joint_.elastic(places_between_, elastic_);
  return std::accumulate(elastic_.offset.begin(), elastic_.offset.end(), 0.0);
}

double Wheel::until_heat_turns(const State& x, double t, double h, const NodeTemperatures& nodes, double tolerance) {
  if (!joint_.washers() || !joint_.washers()->sticks()) {
    return h;
  }
  const double start = mismatch(t, nodes);
  const double middle = mismatch(t + h / 2, nodes);
  const double end = mismatch(t + h, nodes);
  // The parabola through them turns at this share of the step; beyond what the ends saw lies `missed`.
  const double bend = 2 * (start - 2 * middle + end);
  const double turn = bend == 0 ? 0 : (3 * start - 4 * middle + end) / (2 * bend);
  constexpr double kParts = 256; // so that the last digits of heat do not move a step
  const double share = std::round(turn * kParts) / kParts;
  if (!(share > 0 && share < 1)) {
    return h;
  }
  const double missed = std::abs(bend) * std::pow(std::min(share, 1 - share), 2);
  double soft = std::numeric_limits<double>::infinity();
  for (std::size_t c = 0; c < columns(); ++c) {
    soft = std::min(soft, washer_compliance(x, c));
  }
  soft += std::accumulate(elastic_.compliance.begin(), elastic_.compliance.end(), 0.0);
  return missed > tolerance * scale_ * soft ? share * h : h;
}

double Wheel::step(const State& x0, double t, double h, Roads roads, const NodeTemperatures& nodes, double tolerance,
                   State& x1) {
  failure_.clear();
  nodes(t, nodes_);
  joint_.place_temperatures(nodes_, places0_);
  nodes(t + h / 2, nodes_);
  joint_.place_temperatures(nodes_, places_half_);
  nodes(t + h, nodes_);
  joint_.place_temperatures(nodes_, places1_);
  if (!sees_heat(t, h, nodes)) {
    failure_ = "heat that comes and goes between the points where a step looks";
    return std::numeric_limits<double>::infinity();
  }
  joint_.elastic(places1_, elastic_);
  x1 = x0;

  double stiffness = 0;
  for (const double k : elastic_.compliance) {
    stiffness += k;
  }
  double cycle_rate = 0;
  for (const RoadLoad& road : roads) {
    cycle_rate += road.cycle_rate;
  }
  rest_from(x0, rest_);
  for (std::size_t l = 0; l < laws_.size(); ++l) {
    const std::size_t place = laws_[l].temperature;
    law_steps_[l] = {h, places0_[place], places_half_[place], places1_[place], cycle_rate, 0};
    laws_[l].law->share(law_steps_[l], sites_[l].shared(shared_));
  }
  const std::size_t scratch = work_.size() / columns();
  // The drives at the start are those of the forces and washers there.
  balance_.washers.resize(columns());
  for (std::size_t c = 0; c < columns(); ++c) {
    const double k = 1 / (stiffness + washer_compliance(x0, c));
    balance_.washers[c].deflection = x0[at(c, washer_)];
    for (std::size_t l = 0; l < laws_.size(); ++l) {
      const Site& site = sites_[l];
      double& start = start_drive_[c * laws_.size() + l];
      start = drive(site, c, rest_.forces, balance_).first;
      law_steps_[l].stiffness = k;
      site.law->prepare(law_steps_[l], site.shared(shared_), site.state(x0.data() + c * stride_), start,
                        site.work(work_.data() + c * scratch));
    }
  }
  const std::size_t faces = joint_.interfaces().size();
  drag_rates(rest_.forces, x0, roads, rates0_);
  dragged_.resize(rates0_.size());

  const auto shorten = [&](std::span<const double> forces, Balance& balance) {
    shorten_elastic(x0, elastic_, forces, true, no_torsion_, balance);
    for (std::size_t c = 0; c < columns(); ++c) {
      double* closing = &balance.closing[c * segments_];
      double* slopes = &balance.slopes[c * segments_];
      const double* drives = start_drive_.data() + c * laws_.size();
      for (std::size_t l = 0; l < laws_.size(); ++l) {
        const Site& site = sites_[l];
        const auto [by, slope] = drive(site, c, forces, balance);
        const LawLoss loss = site.law->trial(law_steps_[l], site.shared(shared_), site.state(x0.data() + c * stride_),
                                             drives[l], by, site.work(work_.data() + c * scratch));
        closing[site.segment] += loss.loss;
        slopes[site.segment] += loss.slope * slope;
      }
      for (std::size_t i = 0; i <= faces; ++i) {
        // The entry after the last interface is the nut's rotation.
        const std::size_t k = c * (faces + 1) + i;
        dragged_[k] = x0[at(c, wear_ + i)] + h / 2 * (rates0_[k] + rates1_[k]) + (i == faces ? turned_[c] : 0);
        closing[i < faces ? joint_.interfaces()[i].segment : segments_ - 1] += dragged_[k];
      }
      if (nut_on(x0, c) && !std::isfinite(closing[segments_ - 1])) {
        throw NumericalError(Code::NonFinite, "a loss is not a finite number");
      }
    }
  };

  Rest& rest = rest_scratch_;
  free_.resize(columns());
  follows_.resize(columns());
  turned_.assign(columns(), 0.0);
  for (std::size_t c = 0; c < columns(); ++c) {
    free_[c] = h * free_rate(x0, c, roads);
    follows_[c] = free_[c] > 0 ? 1 : 0;
  }
  const auto solve = [&] {
    // The rates of wear and rotation at the end depend on all studs at once; they are iterated from outside.
    rest = rest_;
    rates1_ = rates0_;
    tried_ = rates0_;
    missing_nuts(x0, held_);
    for (std::size_t c = 0; c < columns(); ++c) {
      if (follows_[c]) {
        held_.push_back({c, 0});
      }
    }
    constexpr int kSweeps = 40;
    constexpr int kPatience = 5; // sweeps that may pass before the change has halved: what swings to and fro never does
    double halved = std::numeric_limits<double>::infinity();
    int since_halved = 0;
    bool settled = false;
    for (int sweep = 0; sweep < kSweeps && since_halved <= kPatience; ++sweep) {
      equilibrium_.solve(rest, std::ref(shorten), elastic_.ring, held_, balance_scale_);
      previous_.swap(found_);
      drag_rates(rest.forces, x0, roads, found_);
      double change = 0;
      for (std::size_t k = 0; k < rates1_.size(); ++k) {
        change = std::max(change, std::abs(found_[k] - rates1_[k]) * h / 2);
      }
      settled = change <= 1e-10 * scale_ * stiffness;
      if (settled) {
        rates1_ = found_;
        break;
      }
      ++since_halved;
      if (change <= halved / 2) {
        halved = change;
        since_halved = 0;
      }
      // Rates that answer the clamp too well swing to and fro about what they seek: where the last two sweeps show by
      // how much, go there at once. What runs away to one side has no such place.
      const bool swings = sweep > 0 && since_halved > 0;
      for (std::size_t k = 0; k < rates1_.size(); ++k) {
        const double moved = rates1_[k] - tried_[k];
        const double answer = swings && moved != 0 ? (found_[k] - previous_[k]) / moved : 0;
        tried_[k] = rates1_[k];
        rates1_[k] = answer < 0 ? std::max(0.0, rates1_[k] + (found_[k] - rates1_[k]) / (1 - answer)) : found_[k];
      }
    }
    return settled;
  };
  // A free nut gives way to what heat would press it by; one that can't turn as fast turns as fast as it can.
  const auto followed = [&] {
    if (std::none_of(follows_.begin(), follows_.end(), [](char f) { return f != 0; })) {
      return true;
    }
    shorten(rest.forces, balance_);
    bool all = true;
    for (std::size_t c = 0; c < columns(); ++c) {
      if (follows_[c] && overlap(c, rest) > free_[c]) {
        follows_[c] = 0;
        turned_[c] = free_[c];
        all = false;
      }
    }
    return all;
  };
  try {
    do {
      if (!solve()) {
        failure_ = "wear and nut rotation that do not settle with the clamp";
        return std::numeric_limits<double>::infinity();
      }
    } while (!followed());
    for (std::size_t c = 0; c < columns(); ++c) {
      free_[c] = follows_[c] ? std::max(0.0, overlap(c, rest)) : 0;
    }
    shorten_elastic(x0, elastic_, rest.forces, true, no_torsion_, balance_);
  } catch (const NumericalError& e) {
    failure_ = e.what();
    return std::numeric_limits<double>::infinity();
  }
  // The internal variables that belong to the forces found.
  move_elastic(balance_, x1);
  rest_into(rest, x1);

  double answer = 0;
  doubtful_column_ = 0;
  doubtful_law_ = laws_.size();
  for (std::size_t c = 0; c < columns(); ++c) {
    double doubts = 0;
    double worst = 0;
    std::size_t worst_law = laws_.size();
    for (std::size_t l = 0; l < laws_.size(); ++l) {
      const Site& site = sites_[l];
      const double doubt = site.law
                               ->finish(law_steps_[l], site.shared(shared_), site.state(x0.data() + c * stride_),
                                        start_drive_[c * laws_.size() + l], drive(site, c, rest.forces, balance_).first,
                                        site.work(work_.data() + c * scratch), site.state(x1.data() + c * stride_))
                               .doubt;
      doubts += doubt;
      if (doubt > worst) {
        worst = doubt;
        worst_law = l;
      }
    }
    double dragged = 0;
    for (std::size_t i = 0; i <= faces; ++i) {
      const std::size_t k = c * (faces + 1) + i;
      x1[at(c, wear_ + i)] = dragged_[k] + (i == faces ? free_[c] : 0);
      dragged += std::abs(rates1_[k] - rates0_[k]) * h / 4;
    }
    const double doubt = (doubts + dragged) / ((stiffness + washer_compliance(x1, c)) * tolerance * scale_);
    if (!(doubt <= answer)) {
      answer = doubt;
      doubtful_column_ = c;
      doubtful_law_ = dragged > worst ? laws_.size() : worst_law;
    }
  }
  return answer;
}

std::string Wheel::controlled_by() const {
  if (!failure_.empty()) {
    return failure_;
  }
  const std::string what = doubtful_law_ < laws_.size() ? laws_[doubtful_law_].name : "slip";
  return "stud " + std::to_string(studs_[doubtful_column_] + 1) + ": " + what;
}

double Wheel::fastest_rate(std::span<const double> nodes, double cycle_rate) const {
  std::vector<double> places;
  joint_.place_temperatures(nodes, places);
  double fastest = 0;
  for (const PlacedLaw& p : laws_) {
    fastest = std::max(fastest, p.law->fastest(places[p.temperature], cycle_rate));
  }
  return fastest;
}

void Wheel::at_rest(State& x, std::span<const double> nodes, std::span<const Held> held,
                    const std::vector<double>& torsion, std::size_t turned) {
  joint_.place_temperatures(nodes, places1_);
  joint_.elastic(places1_, elastic_);
  frozen_losses(x, frozen_);
  const auto shorten = [&](std::span<const double> forces, Balance& balance) {
    shorten_elastic(x, elastic_, forces, true, torsion, balance);
    add(frozen_, balance.closing);
  };
  rest_from(x, rest_);
  equilibrium_.forget();
  equilibrium_.solve(rest_, std::ref(shorten), elastic_.ring, held, balance_scale_);
  shorten(rest_.forces, balance_);
  State moved = x;
  move_elastic(balance_, moved);
  if (turned < columns()) {
    // The nut's advance is what closes its column: its own segment against the face it presses.
    const double face = segments_ > 1 ? rest_.faces[turned * (segments_ - 1) + segments_ - 2] : 0;
    moved[at(turned, advance_)] = x[at(turned, advance_)] + balance_.closing[turned * segments_ + segments_ - 1] + face;
    moved[at(turned, taken_)] += moved[at(turned, plastic_)] - x[at(turned, plastic_)];
  }
  rest_into(rest_, moved);
  x = std::move(moved);
}

void Wheel::tighten(State& x, std::size_t c, double target, double torsion_factor, std::span<const double> nodes) {
  std::vector<double> torsion(columns(), 1.0);
  torsion[c] = torsion_factor;
  x[at(c, nut_)] = 1;
  std::vector<Held> held;
  missing_nuts(x, held);
  held.push_back({c, target});
  at_rest(x, nodes, held, torsion, c);
}

void Wheel::remove_nut(State& x, std::size_t c, std::span<const double> nodes) {
  x[at(c, nut_)] = 0;
  std::vector<Held> held;
  missing_nuts(x, held);
  at_rest(x, nodes, held, no_torsion_, columns());
}

void Wheel::cold(const State& x, Rest& rest) {
  if (rest.forces.size() != columns() * segments_) {
    rest_from(x, rest);
  }
  frozen_losses(x, frozen_);
  const auto shorten = [&](std::span<const double> forces, Balance& balance) {
    shorten_elastic(x, cold_elastic_, forces, false, no_torsion_, balance);
    add(frozen_, balance.closing);
  };
  missing_nuts(x, held_);
  cold_equilibrium_.solve(rest, std::ref(shorten), cold_elastic_.ring, held_, balance_scale_);
}

Eigen::MatrixXd Wheel::cold_influence(const State& x, const Rest& rest) {
  shorten_elastic(x, cold_elastic_, rest.forces, false, no_torsion_, balance_);
  missing_nuts(x, held_);
  return cold_equilibrium_.influence(balance_.slopes, cold_elastic_.ring, rest, held_);
}

void Wheel::slip_state(const State& x, const WheelLoad& load, SlipState& out) const {
  rest_from(x, slip_rest_);
  slip_at(slip_rest_.forces, load, out);
}

SlipState Wheel::slip_state(const State& x, const WheelLoad& load) const {
  SlipState out;
  slip_state(x, load, out);
  return out;
}

double Wheel::washer_compliance(const State& x, std::size_t c) const {
  if (!joint_.washers()) {
    return 0;
  }
  const WasherState w = washers(x, c);
  return joint_.washers()->deflect(w.force, w).slope;
}

} // namespace clampfade

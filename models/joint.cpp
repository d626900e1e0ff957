#include "models/joint.hpp"

#include "models/coating_creep.hpp"
#include "models/coating_film.hpp"
#include "models/embedding.hpp"
#include "models/ring_coupling.hpp"
#include "models/washer_set.hpp"

#include <algorithm>
#include <cmath>

namespace clampfade {

namespace {

std::size_t node_index(std::span<const std::string> names, const std::string& name) {
  return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) - names.begin());
}

double ring_area(double outer, double inner) { return kPi / 4 * (outer * outer - inner * inner); }

/// The load path from hub to wheel: everything crosses up to the innermost disc, half goes on to the outer one.
double default_share(std::size_t interface, std::size_t first_disc, std::size_t last_disc) {
  if (interface == 0 || interface > last_disc) {
    return 0;
  }
  return interface <= first_disc ? 1 : 0.5;
}

} // namespace

Joint::Joint(const JointSpec& spec, std::span<const std::string> node_names, double tightening_temperature)
    : spec_(spec),
      nut_(spec.studs.thread, (spec.nut.bearing_outer + spec.nut.bearing_inner) / 2, spec.nut.prevailing_torque),
      cold_(tightening_temperature) {
  const auto& stack = spec_.stack;
  for (std::size_t m = 0; m < stack.size(); ++m) {
    if (stack[m].wheel) {
      discs_.push_back(m);
    }
  }
  const auto& washer = spec_.nut.spring_washers;

  // Pressure cone and the parts' compliances.
  std::vector<ConeSlice> slices;
  double pad = stack.front().pad;
  double solid = 0;
  for (const PartSpec& p : stack) {
    slices.push_back({p.thickness, p.hole, p.pad});
    pad = std::min(pad, p.pad);
    solid += p.thickness;
  }
  const double head_diameter = spec_.head_bearing;
  const double nut_diameter = washer ? washer->outer : spec_.nut.seat_outer;
  const double tangent =
      spec_.cone_angle ? std::tan(*spec_.cone_angle) : cone_tangent(solid, (head_diameter + nut_diameter) / 2, pad);
  cone_ = std::make_unique<PressureCone>(slices, head_diameter, nut_diameter, tangent);
  // Segment numbers: each wheel disc is one of its own when neighbours are coupled.
  std::size_t segment = 0;
  for (std::size_t i = 0; i <= stack.size(); ++i) {
    Interface face;
    face.segment = segment;
    interfaces_.push_back(face);
    if (i < stack.size()) {
      const bool face_coupled = spec_.ring.active && stack[i].wheel;
      segment += face_coupled ? 1 : 0;
      const double shape = cone_->length_over_area(i);
      parts_.push_back({stack[i].name, shape, stack[i].thickness / shape, segment});
      segment += face_coupled ? 1 : 0;
    }
  }
  segments_ = segment + 1;

  // Interfaces.
  for (std::size_t i = 0; i <= stack.size(); ++i) {
    Interface& face = interfaces_[i];
    const InterfaceSpec& s = spec_.interfaces[i];
    const bool at_head = i == 0;
    const bool at_nut = i == stack.size();
    double outline = cone_->diameter(cone_->height(i));
    double hole = 0;
    int painted = 0;
    const auto touch = [&](const PartSpec& p, const std::optional<FaceCoating>& film, const char* side) {
      outline = std::min(outline, p.pad);
      hole = std::max(hole, p.hole);
      if (film && film->thickness > 0) {
        ++painted;
        face.layers.push_back(layers_.size());
        layers_.push_back({s.name + ": " + p.name + " " + side, i, *film});
      }
    };
    if (!at_head) {
      touch(stack[i - 1], stack[i - 1].nut_side, "nut_side");
    }
    if (!at_nut) {
      touch(stack[i], stack[i].head_side, "head_side");
    } else {
      hole = std::max(hole, spec_.nut.seat_inner);
    }
    face.name = s.name;
    face.area = ring_area(outline, hole);
    face.width = (outline - hole) / 2;
    face.compliance = s.contact_compliance;
    for (const std::size_t k : face.layers) {
      face.compliance += layers_[k].film.thickness / (layers_[k].film.coating.modulus * face.area);
    }
    face.embedding = embedding_amount(s.embedding, painted);
    face.friction = s.friction;
    face.tangential_compliance = s.tangential_compliance;
    face.wear = s.wear;
    face.unseated = s.unseated;
    const double share = discs_.empty() ? 0 : default_share(i, discs_.front(), discs_.back());
    face.carries = {s.carries_radial.value_or(share), s.carries_brake.value_or(share),
                    s.carries_traction.value_or(share)};
  }

  // Stud, washers and nut.
  if (washer) {
    washers_.emplace(ConicalWasher(washer->outer, washer->inner, washer->thickness, washer->cone_height,
                                   washer->reduced_thickness, washer->material.youngs(cold_), washer->material.poisson),
                     washer->parallel, washer->series, washer->friction);
    washer_height_ = washer->free_height();
  }
  stud_ = std::make_unique<Stud>(spec_.studs.thread, spec_.studs.material, spec_.studs.property_class,
                                 grip_length(spec_), spec_.studs.shank);

  // Clearance that side slip can use up.
  const double fill = spec_.nut.sleeve.value_or(spec_.studs.thread.diameter);
  clearance_ = spec_.pilot_clearance.value_or(1e9);
  for (const std::size_t m : discs_) {
    clearance_ = std::min(clearance_, stack[m].hole - fill);
  }
  clearance_ = discs_.empty() && !spec_.pilot_clearance ? 0 : std::max(0.0, clearance_);

  for (const PartSpec& p : stack) {
    part_nodes_.push_back(node_index(node_names, p.node));
  }
  for (const std::string& n : spec_.studs.nodes) {
    stud_nodes_.push_back(node_index(node_names, n));
  }
}

std::vector<double> Joint::flatness_gaps(std::size_t c) const {
  std::vector<double> gaps(segments_, 0.0);
  const double angle = 2 * kPi * static_cast<double>(c) / static_cast<double>(spec_.studs.count);
  for (const std::size_t m : discs_) {
    if (const auto& f = spec_.stack[m].flatness) {
      gaps[interfaces_[m].segment] += f->amplitude * (1 - std::cos(static_cast<double>(f->lobes) * angle)) / 2;
    }
  }
  return gaps;
}

void Joint::place_temperatures(std::span<const double> nodes, std::vector<double>& places) const {
  const std::size_t n = parts_.size();
  places.resize(n + interfaces_.size() + 1);
  for (std::size_t m = 0; m < n; ++m) {
    places[m] = nodes[part_nodes_[m]];
  }
  for (std::size_t i = 0; i <= n; ++i) {
    const double below = places[i == 0 ? 0 : i - 1];
    const double above = places[i == n ? n - 1 : i];
    places[n + i] = (below + above) / 2;
  }
  double sum = 0;
  for (const std::size_t k : stud_nodes_) {
    sum += nodes[k];
  }
  places[stud_place()] = sum / static_cast<double>(stud_nodes_.size());
}

bool Joint::feels(std::size_t node) const {
  const auto is = [node](std::size_t other) { return other == node; };
  return std::any_of(part_nodes_.begin(), part_nodes_.end(), is) ||
         std::any_of(stud_nodes_.begin(), stud_nodes_.end(), is);
}

void Joint::elastic(std::span<const double> places, Elastic& out) const {
  out.compliance.assign(segments_, 0.0);
  out.offset.assign(segments_, 0.0);
  for (const Interface& f : interfaces_) {
    out.compliance[f.segment] += f.compliance;
  }
  for (std::size_t m = 0; m < parts_.size(); ++m) {
    const PartSpec& p = spec_.stack[m];
    out.compliance[parts_[m].segment] += parts_[m].shape / p.material.youngs(places[m]);
    out.offset[parts_[m].segment] -= p.material.expansion * p.thickness * (places[m] - cold_);
  }
  const double t = places[stud_place()];
  out.stud_temperature = t;
  out.compliance.back() += stud_->compliance(t);
  out.offset.back() += stud_->material().expansion * grip() * (t - cold_);
  if (washers_) {
    const Material& steel = spec_.nut.spring_washers->material;
    out.offset.back() -= steel.expansion * washer_height_ * (t - cold_);
    out.washer_modulus = washer_modulus(t);
  }
  out.ring.clear();
  if (coupled()) {
    const double pitch = stud_pitch(spec_.studs.bolt_circle, spec_.studs.count);
    for (const std::size_t m : discs_) {
      const PartSpec& p = spec_.stack[m];
      const double k = ring_stiffness(p.material, places[m], p.thickness, spec_.ring.width.value_or(p.pad), pitch,
                                      spec_.ring.factor);
      out.ring.insert(out.ring.end(), 2, k / 2);
    }
  }
}

double Joint::washer_modulus(double temperature) const {
  const Material& steel = spec_.nut.spring_washers->material;
  return steel.youngs(temperature) / steel.youngs(cold_);
}

double Joint::load_factor(std::span<const double> places, double washers) const {
  double clamped = 0;
  for (std::size_t m = 0; m < parts_.size(); ++m) {
    clamped += parts_[m].shape / spec_.stack[m].material.youngs(places[m]);
  }
  for (const Interface& f : interfaces_) {
    clamped += f.compliance;
  }
  const double t = places[stud_place()];
  const double stud = stud_->compliance(t) + (washers_ ? washers / washer_modulus(t) : 0);
  return spec_.load_introduction * clamped / (clamped + stud);
}

std::vector<PlacedLaw> Joint::make_laws() const {
  std::vector<PlacedLaw> laws;
  std::size_t state = 0;
  const auto add = [&](std::unique_ptr<LossLaw> law, const std::string& name, std::size_t segment, std::size_t place) {
    const std::size_t n = law->states();
    laws.push_back({std::move(law), name, segment, place, state});
    state += n;
  };
  for (std::size_t i = 0; i < interfaces_.size(); ++i) {
    const Interface& f = interfaces_[i];
    const std::size_t place = interface_place(i);
    if (f.embedding > 0) {
      add(std::make_unique<EmbeddingLaw>(f.embedding), "embedding at " + f.name, f.segment, place);
    }
    if (f.unseated > 0) {
      add(std::make_unique<UnseatedLaw>(f.unseated), "unseated at " + f.name, f.segment, place);
    }
    std::vector<CoatingFilmLaw::Film> films;
    for (const std::size_t k : f.layers) {
      const FaceCoating& film = layers_[k].film;
      add(std::make_unique<CoatingCreepLaw>(film.coating, film.thickness, f.area),
          "coating_creep at " + layers_[k].name, f.segment, place);
      laws.back().layers = {k};
      films.push_back({film.coating, film.thickness});
    }
    if (std::any_of(films.begin(), films.end(), [](const auto& k) { return k.coating.flow || k.coating.breakdown; })) {
      add(std::make_unique<CoatingFilmLaw>(films, f.area, f.width), "coating film at " + f.name, f.segment, place);
      laws.back().layers = f.layers;
    }
    if (i < parts_.size()) {
      if (const auto& creep = spec_.stack[i].material.creep) {
        add(std::make_unique<MetalCreepLaw>(*creep, spec_.stack[i].thickness, parts_[i].area),
            "metal_creep of " + parts_[i].name, parts_[i].segment, i);
      }
    }
  }
  const std::size_t last = segments_ - 1;
  if (spec_.thread_embedding > 0) {
    add(std::make_unique<EmbeddingLaw>(spec_.thread_embedding), "embedding in the thread", last, stud_place());
  }
  if (const auto& creep = spec_.studs.material.creep; creep && stud_->free_thread() > 0) {
    add(std::make_unique<MetalCreepLaw>(*creep, stud_->free_thread(), spec_.studs.thread.minor_area()),
        "metal_creep of the stud", last, stud_place());
  }
  if (spec_.nut.spring_washers && !spec_.nut.spring_washers->set.empty()) {
    add(std::make_unique<WasherSetLaw>(spec_.nut.spring_washers->set), "washer_set", last, stud_place());
  }
  return laws;
}

} // namespace clampfade

// What a wheel joint is, as described by a user and resolved against the catalogue. SI. No derived figure lives here.
#pragma once

#include "models/coating.hpp"
#include "models/material.hpp"
#include "models/thread.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace clampfade {

/// A face's paint.
struct FaceCoating {
  Coating coating;
  double thickness = 0; ///< dry film h0 [m], > 0
};

/// A wheel disc that is not flat before it is clamped: gap = amplitude (1 - cos(lobes angle))/2 at its head side.
struct Flatness {
  double amplitude = 0;  ///< [m]
  std::size_t lobes = 1; ///< [-]
  static std::span<const Field<Flatness>> fields();
};

/// One clamped part, from the head towards the nut.
struct PartSpec {
  std::string name;
  bool wheel = false;
  Material material;
  double thickness = 0; ///< [m]
  double hole = 0;      ///< diameter [m]
  double pad = 0;       ///< diameter of the supported material D_A [m]
  std::string node;     ///< node of the heat network
  std::optional<Flatness> flatness;
  std::optional<FaceCoating> head_side, nut_side;
  static std::span<const Field<PartSpec>> fields();
};

/// Shares of the wheel end's loads that cross an interface.
struct Carries {
  double radial = 0, brake = 0, traction = 0; ///< [-], 0 to 1
  static std::span<const Field<Carries>> fields();
};

/// Two touching faces. An interface that a scenario does not name takes the values of its `default` entry.
struct InterfaceSpec {
  std::string name;                                                      ///< "head | hub flange"
  double embedding = 0;                                                  ///< f_Z before halving for a coated face [m]
  double friction = 0.15;                                                ///< mu_i [-]
  double tangential_compliance = 0;                                      ///< c_t [m/N]
  double wear = 0;                                                       ///< k_w [1/Pa]
  double contact_compliance = 0;                                         ///< of the bare contact [m/N]; 0 is rigid
  double unseated = 0;                                                   ///< gap left by a part not pulled home [m]
  std::optional<double> carries_radial, carries_brake, carries_traction; ///< given shares; else EQUATIONS.md 9
  static std::span<const Field<InterfaceSpec>> fields();
};

/// Conical spring washers under the nut. EQUATIONS.md 4.
struct WasherSpec {
  double outer = 0, inner = 0, thickness = 0; ///< De, Di, t [m]
  double cone_height = 0;                     ///< h0 [m]
  double reduced_thickness = 0;               ///< t' of washers with bearing flats [m]; 0 for washers without
  Material material;
  std::size_t parallel = 1, series = 1; ///< n, i
  double friction = 0;                  ///< w between nested cones [-]
  Table set;                            ///< q, set over deflection [-], against temperature [K]; empty for none
  /// Height of the whole stack unloaded, i (h0 + n t) [m].
  [[nodiscard]] double free_height() const {
    return static_cast<double>(series) * (cone_height + static_cast<double>(parallel) * thickness);
  }
  static std::span<const Field<WasherSpec>> fields();
};

struct StudSpec {
  std::size_t count = 10;
  double bolt_circle = 0; ///< diameter [m]
  Thread thread;
  PropertyClass property_class;
  Material material;
  double shank = 0; ///< unthreaded length inside the grip [m]
  std::vector<std::string> nodes;
};

struct NutSpec {
  double bearing_outer = 0, bearing_inner = 0; ///< ring on which the nut slides, diameters [m]
  double seat_outer = 0, seat_inner = 0;       ///< ring that presses the wheel [m]
  double prevailing_torque = 0;                ///< [N m]
  std::optional<double> sleeve;                ///< outer diameter of a sleeve in the wheel's hole [m]
  std::optional<WasherSpec> spring_washers;
};

struct RingCouplingSpec {
  bool active = false;
  std::optional<double> width; ///< w [m]; default the disc's pad
  double factor = 10;          ///< [-]
};

struct JointSpec {
  StudSpec studs;
  double head_bearing = 0; ///< diameter [m]
  NutSpec nut;
  std::optional<double> pilot_clearance; ///< [m]; none where the hub does not centre the wheel
  std::vector<PartSpec> stack;           ///< from the head to the nut, at least one
  std::vector<InterfaceSpec> interfaces; ///< stack.size() + 1, from "head | ..." to "... | nut"
  double thread_embedding = 0;           ///< [m]
  RingCouplingSpec ring;
  std::optional<double> cone_angle; ///< half-angle [rad]; none for the proportions of VDI 2230-1
  double load_introduction = 0.5;   ///< n_load [-]
};

/// Grip length Lk [m]: parts, coatings and the free height of spring washers. EQUATIONS.md 2.
double grip_length(const JointSpec& joint);

} // namespace clampfade

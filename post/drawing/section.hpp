// The joint about one stud, cut along the stud's axis, in true proportion, from the figures of the history.
#pragma once

#include "post/run.hpp"
#include "post/svg.hpp"

#include <optional>
#include <string>
#include <vector>

namespace clampfade::post {

struct SectionPart {
  std::string name, material, node;
  double thickness = 0, hole = 0, pad = 0; ///< [m]
  bool wheel = false;
};

struct SectionLayer {
  std::string name, part, coating;
  bool head_side = false; ///< on its part's face towards the stud's head
  double thickness = 0;   ///< dry film before tightening [m]
};

/// What a section is drawn from; all lengths in m, from the head to the nut.
struct SectionGeometry {
  std::vector<SectionPart> parts;
  std::vector<SectionLayer> layers;
  double head = 0;                      ///< bearing diameter
  double nut = 0;                       ///< outer diameter of the ring that the nut slides on
  double seat = 0;                      ///< outer diameter of what presses the part
  double stud = 0, core = 0, shank = 0; ///< nominal and minor diameter; length without thread
  double grip = 0;
  double cone_tangent = 0;            ///< of the half angle; 0: no cone known
  double cone_head = 0, cone_nut = 0; ///< its diameters at the ends of the stack
  double sleeve = 0;                  ///< outer diameter of the nut's sleeve; 0 without
  double washer_outer = 0, washer_inner = 0, washer_thickness = 0, washer_cone = 0; ///< 0 without washers
  std::size_t washer_parallel = 0, washer_series = 0;

  [[nodiscard]] double stack() const;   ///< of all parts [m]
  [[nodiscard]] double washers() const; ///< height of the unloaded washers [m]
};

/// None if the history lacks the figures, as those of older programs do, or if nothing can be drawn to their scale.
std::optional<SectionGeometry> section_geometry(const Summary& summary);

/// Drawing units per metre, the same along and across.
double section_scale(const SectionGeometry& geometry);
/// How many times too thick coatings are drawn.
double coating_factor(const SectionGeometry& geometry);

/// Half outlines of the pressure cone: distance from the head's face and radius, both in m.
std::vector<std::pair<double, double>> cone_outline(const SectionGeometry& geometry);

/// As <svg>, coatings and temperatures at a row for the weakest stud. Script finds what moves by data-node and
/// data-layer; data-cold and data-hot are the ends of the scale of temperatures [K].
std::string section(const std::string& id, const SectionGeometry& geometry, const Run& run, std::size_t row,
                    Units units);

/// The ends of the scale of temperatures: lowest and highest of all nodes and records [K].
std::pair<double, double> temperature_ends(const Run& run);

} // namespace clampfade::post

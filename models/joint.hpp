// A wheel joint with its derived geometry: what every column of the wheel has in common. EQUATIONS.md 1 to 5.
#pragma once

#include "models/conical_washer.hpp"
#include "models/joint_spec.hpp"
#include "models/pressure_cone.hpp"
#include "models/stud.hpp"
#include "models/torque.hpp"

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace clampfade {

/// A painted face.
struct Layer {
  std::string name; ///< "drum flange | inner disc: inner disc head_side"
  std::size_t interface = 0;
  FaceCoating film;
};

/// Two touching faces with all that follows from the cone.
struct Interface {
  std::string name;
  double area = 0;       ///< of contact [m^2]
  double width = 0;      ///< radial width of the contact ring [m]
  double compliance = 0; ///< paint and bare contact in series [m/N]
  double embedding = 0;  ///< f_Z after halving for painted faces [m]
  /// mu_i [-], c_t [m/N], k_w [1/Pa], gap left by a part not pulled home [m].
  double friction = 0, tangential_compliance = 0, wear = 0, unseated = 0;
  Carries carries;
  std::vector<std::size_t> layers; ///< indices into Joint::layers()
  std::size_t segment = 0;
};

/// A clamped part.
struct Part {
  std::string name;
  double shape = 0; ///< compliance times Young's modulus [1/m]
  double area = 0;  ///< effective, thickness/shape [m^2]
  std::size_t segment = 0;
};

/// One law at one place. Temperatures are those of `Joint::place_temperatures`.
struct PlacedLaw {
  std::unique_ptr<LossLaw> law;
  std::string name;                     ///< "coating_creep at drum flange | inner disc"
  std::size_t segment = 0;              ///< whose force drives it
  std::size_t temperature = 0;          ///< index of its place
  std::size_t state = 0;                ///< offset of its internal variables in a column
  std::vector<std::size_t> layers = {}; ///< paint layers it acts on, indices into Joint::layers()
};

/// Elastic and thermal shortening of a column's segments at given temperatures: compliance times force plus offset,
/// washers and permanent stretch apart.
struct Elastic {
  std::vector<double> compliance; ///< [m/N], one a segment
  std::vector<double> offset;     ///< thermal, expansion of parts negative [m]
  std::vector<double> ring;       ///< k/2 of each wheel disc's faces [N/m], two a disc; empty without coupling
  double washer_modulus = 1;      ///< Young's modulus of the washers over that at the tightening temperature [-]
  double stud_temperature = 0;    ///< [K]
};

/// Segments are runs of a column that carry one force: without ring coupling the whole column, with it the pieces
/// between the faces of the wheel discs, where neighbours push.
class Joint {
public:
  /// node_names: of the heat network, for the parts' and the stud's temperatures. tightening_temperature: T_0 [K].
  Joint(const JointSpec& spec, std::span<const std::string> node_names, double tightening_temperature);

  [[nodiscard]] const JointSpec& spec() const { return spec_; }
  [[nodiscard]] const std::vector<Part>& parts() const { return parts_; }
  [[nodiscard]] const std::vector<Interface>& interfaces() const { return interfaces_; }
  [[nodiscard]] const std::vector<Layer>& layers() const { return layers_; }
  [[nodiscard]] const Stud& stud() const { return *stud_; }
  [[nodiscard]] const NutThread& nut() const { return nut_; }
  [[nodiscard]] const std::optional<WasherStack>& washers() const { return washers_; }
  [[nodiscard]] const PressureCone& cone() const { return *cone_; }
  [[nodiscard]] double grip() const { return stud_->grip(); }           ///< L_k [m]
  [[nodiscard]] double washer_height() const { return washer_height_; } ///< free height of the stack of washers [m]
  [[nodiscard]] double clearance() const { return clearance_; }         ///< c [m]
  [[nodiscard]] double seat_area() const { return interfaces_.back().area; } ///< under the nut [m^2]
  [[nodiscard]] double tightening_temperature() const { return cold_; }      ///< T_0 [K]
  [[nodiscard]] std::size_t segments() const { return segments_; }
  [[nodiscard]] bool coupled() const { return segments_ > 1; }
  [[nodiscard]] const std::vector<std::size_t>& wheel_discs() const { return discs_; } ///< part indices
  /// Gap of each segment before the wheel is clamped, for the stud at 0-based position c [m].
  [[nodiscard]] std::vector<double> flatness_gaps(std::size_t c) const;

  /// Temperatures of all places [K]: parts, interfaces, stud.
  void place_temperatures(std::span<const double> nodes, std::vector<double>& places) const;
  /// Whether any of these places takes its temperature from a node of the network.
  [[nodiscard]] bool feels(std::size_t node) const;
  [[nodiscard]] std::size_t stud_place() const { return parts_.size() + interfaces_.size(); }
  [[nodiscard]] std::size_t interface_place(std::size_t i) const { return parts_.size() + i; }
  /// Compliances and thermal offsets at temperatures `places` [K].
  void elastic(std::span<const double> places, Elastic& out) const;
  /// Share of an axial load that reaches the stud at temperatures `places`: n C_parts/(C_parts + C_stud) [-], stud with
  /// washers. `washers`: their compliance at the tightening temperature [m/N]. EQUATIONS.md 5.
  [[nodiscard]] double load_factor(std::span<const double> places, double washers) const;
  /// All laws of a column that can lose thickness under a force, in order of their places.
  [[nodiscard]] std::vector<PlacedLaw> make_laws() const;

private:
  /// Young's modulus of the washers over that at the tightening temperature [-].
  [[nodiscard]] double washer_modulus(double temperature) const;

  JointSpec spec_;
  std::vector<Part> parts_;
  std::vector<Interface> interfaces_;
  std::vector<Layer> layers_;
  std::unique_ptr<PressureCone> cone_;
  std::unique_ptr<Stud> stud_;
  NutThread nut_;
  std::optional<WasherStack> washers_;
  double washer_height_ = 0;
  double clearance_ = 0;
  double cold_;
  std::size_t segments_ = 1;
  std::vector<std::size_t> discs_;
  std::vector<std::size_t> part_nodes_, stud_nodes_;
};

} // namespace clampfade

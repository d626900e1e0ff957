// A whole scenario, as the user wrote it: typed, SI, defaults filled in, catalogue resolved. No YAML here.
#pragma once

#include "models/heat_network.hpp"
#include "models/joint_spec.hpp"
#include "models/units.hpp"

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace clampfade {

/// Friction and torque of the act of tightening; one value for each stud.
struct TighteningSpec {
  std::vector<double> torque;           ///< [N m], one a stud
  std::vector<double> thread_friction;  ///< mu_t, one a stud
  std::vector<double> bearing_friction; ///< mu_b, one a stud
  Table breakaway{1.10};                ///< ratio of breakaway to sliding friction against age [s]
  std::vector<double> passes{1.0};      ///< fractions of the torque
  std::vector<std::size_t> order;       ///< stud indices, 0-based, each once
  double pause = 5;                     ///< between acts [s]
  double temperature = 293.15;          ///< T_0 [K]
};

/// A row of an as-tightened record.
struct TighteningRecord {
  std::size_t stud = 0;        ///< 0-based
  double torque = 0;           ///< [N m]
  std::optional<double> angle; ///< [rad]
  std::string time, tool, operator_name, vehicle, axle, wheel;
  std::optional<std::size_t> pass;  ///< from 1, where the record tells it
  std::optional<double> set_torque; ///< that the tool was set to [N m], where the record tells it
  std::optional<double> odometer;   ///< of the vehicle [m], where the record tells it
  std::optional<double> instant;    ///< `time` in seconds since 1970, where it is read as one [s]
  int line = 0;                     ///< in the file, from 1
};

struct VehicleSpec {
  double mass = 0; ///< [kg]
  std::size_t wheel_ends = 1;
  std::size_t driven_ends = 0; ///< 0: no traction at this wheel
  double load = 0;             ///< W, static load on this wheel end [N]
  double rolling_radius = 0;   ///< [m]
  double load_offset = 0;      ///< e [m]
  double dynamic_factor = 1;   ///< k_dyn [-]
  double brake_share = 1;      ///< [-]
  double lateral_share = 0;    ///< [-]
  static std::span<const Field<VehicleSpec>> fields();
};

struct DesignCase {
  std::string name;
  std::optional<double> deceleration;   ///< [m/s^2]
  std::optional<double> lateral_share;  ///< [-]
  std::optional<double> dynamic_factor; ///< [-]
};

struct AmbientSpec {
  double mean = 288.15;    ///< [K]
  double daily_swing = 0;  ///< mean to peak [K]
  double yearly_swing = 0; ///< mean to peak [K]
  static std::span<const Field<AmbientSpec>> fields();
};

/// What a step of the day may carry besides its own keys.
struct StepLoad {
  std::optional<double> mass_start, mass_end; ///< [kg]; linear over the step
  std::optional<double> lateral_share;        ///< [-]
};

struct ParkStep {
  double until = 0; ///< time of day [s]
  static std::span<const Field<ParkStep>> fields();
};
struct DriveStep {
  double distance = 0;       ///< [m]
  double speed = 0;          ///< [m/s]
  double grade = 0;          ///< [-], negative downhill
  double held_by_brakes = 0; ///< share of the downhill force that the service brakes take [-]
  static std::span<const Field<DriveStep>> fields();
};
struct RoundStep {
  std::size_t stops = 0;
  double spacing = 0;      ///< [m]
  double top_speed = 0;    ///< [m/s]
  double acceleration = 0; ///< [m/s^2]
  double deceleration = 0; ///< [m/s^2]
  double dwell = 0;        ///< [s]
  /// The top speed, or less where the spacing does not let it be reached [m/s].
  [[nodiscard]] double peak_speed() const;
  /// Distance at the top speed [m], 0 where it is not reached.
  [[nodiscard]] double cruise() const;
  /// From one stop to the next, dwell included [s].
  [[nodiscard]] double stop_time() const;
  static std::span<const Field<RoundStep>> fields();
};
struct DragStep {
  double power = 0;    ///< heat of a dragging brake at this wheel end [W]
  double speed = 0;    ///< [m/s]
  double duration = 0; ///< [s]
  static std::span<const Field<DragStep>> fields();
};
struct TraceStep {
  std::string file;                       ///< as written
  std::vector<double> time, speed, grade; ///< [s], [m/s], [-]; same length, time rises strictly
};
struct DayStep {
  std::variant<ParkStep, DriveStep, RoundStep, DragStep, TraceStep> what;
  StepLoad load;
};

struct Calendar {
  std::size_t working_days_per_week = 5; ///< [d], the first days of each week
  std::size_t weeks = 1;                 ///< simulated [-]
  std::size_t start_day = 100;           ///< day of the year of tightening, 1 to 366
  static std::span<const Field<Calendar>> fields();
};

/// Most that the steps of a day may take [s]: steps that fill the day to the second need not lose it to round-off.
inline constexpr double kLongestDay = units::kDay * (1 + 1e-9);

struct DutySpec {
  AmbientSpec ambient;
  std::vector<DayStep> day;
  Calendar calendar;
};

/// A time since tightening or a distance driven.
struct When {
  enum class Kind { Time, Distance } kind = Kind::Time;
  double value = 0; ///< [s] or [m]
};

struct Service {
  enum class Kind { Retorque, RemoveNut, HotDay } kind = Kind::Retorque;
  When after;
  std::optional<double> torque; ///< retorque: [N m]; default the tightening torque of each stud
  std::size_t stud = 0;         ///< remove_nut: 0-based
  double extra_power = 0;       ///< hot_day: [W]
};

struct RecordSpec {
  std::optional<double> every; ///< [s]
  std::vector<When> at;
  bool layers = true;
};

struct Provenance {
  std::string entry; ///< "coatings/cross-linked topcoat"
  std::string key;   ///< "glass_transition"
  std::string value; ///< as written, with its unit
  std::string source;
  std::string provenance; ///< published, memory, practice, demo, fitted
};

/// Tightening order that crosses the wheel, stud indices from 0. Even count: opposite studs in pairs, every second pair
/// first, then those between (10: 1 6 3 8 5 10 2 7 4 9). Odd count: steps of (count - 1)/2 (5: 1 3 5 2 4).
std::vector<std::size_t> star_order(std::size_t count);

/// Design cases of a scenario that lists none: hard stop, corner, kerb (common practice, no source).
std::vector<DesignCase> default_design_cases();

enum class Motion { Rotating, Reciprocating };

/// Whether every span of the duty is integrated by itself, or many together where the day allows it.
enum class Resolution { EveryStop, Envelope };

struct Scenario {
  std::string title;
  std::string source_path; ///< where it was read
  JointSpec joint;
  std::optional<double> required_clamp; ///< [N]
  double required_slip_margin = 1.2;    ///< [-]
  std::vector<DesignCase> design_cases;
  TighteningSpec tightening;
  std::vector<TighteningRecord> records;
  VehicleSpec vehicle;
  HeatNetwork heat;
  DutySpec duty;
  Motion loosening = Motion::Rotating;
  std::vector<Service> service;
  Resolution resolution = Resolution::Envelope;
  double tolerance = 1e-6; ///< local error of clamp per step over the first clamp
  RecordSpec record;
  std::vector<Provenance> provenance;
  /// The scenario as run: YAML text with defaults filled in and catalogue entries resolved; reads back to the same run.
  std::string resolved_text;
  /// What `vary` and `scatter` ask for, one sentence each; a single run takes the values of the sections instead.
  std::vector<std::string> studies;
  std::vector<std::string> warnings; ///< values outside the calibrated range, thin washers and the like
};

} // namespace clampfade

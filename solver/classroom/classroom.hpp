// The wheel of the classroom page: a few settings that a class turns, made into a scenario, run, and kept as flat
// arrays. Knows neither YAML nor files, so that it runs in a browser as it does here.
#pragma once

#include "models/required_clamp.hpp"
#include "solver/scenario.hpp"
#include "solver/sink.hpp"
#include "solver/temperature.hpp"

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace clampfade {

/// Paint on the four faces of the two wheel discs. Each is the entry of models/catalogue/coatings.yaml with that name.
enum class ClassroomPaint { Bare, Primer, Thermoplastic, CrossLinked };
/// What the two discs are made of; the heat network follows. Entries of models/catalogue/materials.yaml.
enum class ClassroomWheel { Steel, Aluminium };
/// What a working day is: the kerbside round of scenarios/painted-steel-duals.yaml, a long drive, or standing still.
enum class ClassroomRoute { Round, Highway, Parked };

/// Something that people do to the wheel. The wrench comes where the vehicle next stands for ten minutes and more.
struct ClassroomAct {
  enum class Kind { Retorque, RemoveNut } kind = Kind::Retorque;
  double time = 0;      ///< not before it [s since tightening], >= 0
  std::size_t stud = 0; ///< RemoveNut: 0-based, below the number of studs
};

/// All that a class can set. The defaults are the wheel of scenarios/painted-steel-duals.yaml; invented values.
struct ClassroomSettings {
  double torque = 644.013;        ///< of every stud [N m], 50 to 1000; the default is 475 lbf ft
  double thread_friction = 0.12;  ///< mu_t [-], 0.05 to 0.3
  double bearing_friction = 0.12; ///< mu_b [-], 0.05 to 0.3
  ClassroomPaint paint = ClassroomPaint::Thermoplastic;
  double paint_thickness = 80e-6; ///< dry film on each face of each disc [m], 0 to 200e-6; 0 is bare
  ClassroomWheel wheel = ClassroomWheel::Steel;
  double disc_thickness = 12e-3;   ///< of each disc [m], 8e-3 to 30e-3
  double spacer = 0;               ///< height of a steel ring under the nut [m], 0 or 5e-3 to 60e-3: a longer grip
  bool spring_washers = false;     ///< four nested conical washers under the nut, as in aluminium-spring-washers.yaml
  bool sleeve = false;             ///< a sleeve on each nut that fills the disc's hole
  double pilot_clearance = 0.6e-3; ///< how far the wheel can drop on its hub [m], 0.1e-3 to 2e-3
  ClassroomRoute route = ClassroomRoute::Round;
  std::size_t stops = 770;      ///< of the round in a working day [-], 0 to 1200
  double full_mass = 26000;     ///< of the vehicle at the end of its round or on the highway [kg], 17000 to 32000
  std::size_t working_days = 5; ///< in each week [d], 0 to 7
  std::size_t start_day = 100;  ///< day of the year of tightening, 1 to 366
  double end = 24 * 3600.0;     ///< how far to drive on [s since tightening], 60 to 52 weeks
  std::vector<ClassroomAct> acts;
  /// Studs feel each other through the discs and are tightened one after the other. Without it alike studs are solved
  /// once: the quick answer.
  bool coupled = true;
};

/// Throws InputError with every setting that is outside its range or contradicts another.
void check(const ClassroomSettings& settings);

/// The scenario of these settings. Throws InputError.
Scenario classroom_scenario(const ClassroomSettings& settings);

/// What the page draws. Arrays of records are row-major: [record][stud], [record][stud][mechanism], [record][node].
struct ClassroomResult {
  std::size_t studs = 0;
  std::vector<std::string> nodes;
  std::vector<std::string> layers;
  double required_clamp = 0; ///< of each stud where all have a nut [N]
  /// [n - 1]: of each of n studs that share the load of all, in even parts [N]. What a gap does to the even parts is
  /// left out: the studs beside it carry more.
  std::vector<double> required_with;
  std::vector<CaseClamp> cases;    ///< what the required clamp is made of, see models/required_clamp.hpp
  double required_margin = 0;      ///< slip margin that it is to give [-]
  double softening = 0;            ///< temperature about which the paint softens [K]; 0 where there is none
  double grip_length = 0;          ///< [m]
  double clamp_per_thickness = 0;  ///< clamp lost for the thickness lost, at the tightening clamp [N/m]
  double stud_resilience = 0;      ///< elastic [m/N]
  double total_resilience = 0;     ///< of stud, parts, paint and washers [m/N]
  double yield_load = 0;           ///< of a stud without torsion [N]
  double slip_threshold = 0;       ///< side slip that the stud takes by bending before its nut slides [m]
  double clearance = 0;            ///< that side slip can use up [m]
  std::vector<double> time;        ///< [s]
  std::vector<double> distance;    ///< [m]
  std::vector<double> clamp;       ///< [N]
  std::vector<double> cold;        ///< cold clamp [N]
  std::vector<double> cost;        ///< what each mechanism has cost of the cold clamp [N]
  std::vector<double> loss;        ///< seating loss by mechanism [m]
  std::vector<double> gain;        ///< cold clamp won by later acts of the wrench [N], [record][stud]
  std::vector<double> temperature; ///< [K]
  std::vector<double> slip_margin; ///< worst since the record before [-]
  std::vector<double> films;       ///< thickness of each paint layer [m], [record][stud][layer]
  std::vector<ActRow> acts;
  std::vector<EventRow> events;
  std::vector<std::string> warnings;
};

/// A run that is done piece by piece, so that whoever waits for it can do something else in between.
class ClassroomRun {
public:
  /// memory: what is known of the heat of days (solver/temperature.hpp), must outlive the run. Throws InputError.
  ClassroomRun(const ClassroomSettings& settings, HeatMemory* memory);
  ~ClassroomRun();
  ClassroomRun(const ClassroomRun&) = delete;
  ClassroomRun& operator=(const ClassroomRun&) = delete;

  /// Goes on for at least a day and until `enough` says so at a midnight; true when all is done. Pieces give the same
  /// numbers as one run, to the bit. Throws NumericalError.
  bool advance(const std::function<bool()>& enough);
  /// Up to the end that the settings ask for, or the last act if that came later; what there is so far before `advance`
  /// said true. Call after `advance`.
  [[nodiscard]] ClassroomResult result() const;

private:
  class Rows;
  ClassroomSettings settings_;
  Scenario scenario_;
  HeatMemory* memory_;
  std::unique_ptr<Rows> rows_;
  double lost_ = 0; ///< the midnight at which a day was lost, see advance [s]
};

/// All at once.
ClassroomResult run_classroom(const ClassroomSettings& settings, HeatMemory* memory = nullptr);

} // namespace clampfade

// What a history says, worked out once for text, JSON and CSV. All SI. Knows no physics: everything is in the file.
#pragma once

#include "solver/io/history.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace clampfade::post {

/// A quantity over the studs whose nuts are on.
struct Spread {
  double lowest = 0, mean = 0, highest = 0;
  std::size_t weakest = 0; ///< stud of `lowest`, from 0
};

/// Clamp at an asked-for time or distance: that of the first record at or after it. Also before and after a retorque.
struct Milestone {
  std::string name;
  bool reached = false;
  bool late = false;    ///< the record is more than 20 % later than asked for
  bool recorded = true; ///< not where it is that late and the last one: `end` tells of it
  double time = 0;      ///< of the record [s]
  double distance = 0;  ///< of the record [m]
  Spread clamp;         ///< as it is [N]
  Spread clamp_cold;    ///< at the temperature of tightening [N]
};

struct Moment {
  double time = 0;     ///< [s]
  double distance = 0; ///< [m]
  std::size_t stud = 0;
};

/// The answer.
struct Finding {
  std::optional<double> required_clamp; ///< [N]
  double lowest_clamp_cold = 0;         ///< of all studs over all records [N]
  Moment lowest;
  std::optional<Moment> first_below; ///< a stud's cold clamp is below the required clamp for the first time
  bool first_below_located = false;  ///< found by the run itself; else the first record that shows it
  bool below_from_start = false;
  /// A retorque after this comes too late: `first_below`, or the record before where it was not located.
  std::optional<Moment> latest_retorque;
  std::vector<double> torque;              ///< set torque of each stud, or of all; may be empty [N m]
  std::optional<double> check_torque_then; ///< of that stud at the last record up to `latest_retorque` [N m]
};

/// One mechanism's share at the last record: thickness [m] and clamp [N].
struct BudgetLine {
  std::string mechanism;
  double loss_mean = 0, loss_weakest = 0;
  double clamp_mean = 0, clamp_weakest = 0;
};

/// first - sum of clamp shares + gain - end = closure. All [N].
struct BudgetSum {
  double first = 0, lost = 0, gain = 0, end = 0;
  [[nodiscard]] double closure() const { return first - lost + gain - end; }
};

struct Budget {
  std::vector<BudgetLine> lines;
  BudgetSum mean, weakest;
  std::size_t weakest_stud = 0; ///< lowest cold clamp of all that kept their nuts
};

/// A highest or lowest value over the run, and what it is to be compared with.
struct Peak {
  double value = 0;
  Moment when;
  std::optional<double> limit;
};

struct DesignCase {
  std::string name;
  std::optional<double> clamp_for_slip, clamp_for_gap, required; ///< [N]
};

/// A pass of tightening, or a retorque.
struct PassLine {
  std::size_t pass = 0;                         ///< 0: retorque
  double time = 0;                              ///< of its last act [s]
  double torque_lowest = 0, torque_highest = 0; ///< [N m]
  std::size_t nuts = 0, moved = 0;
  double clamp_lowest = 0, clamp_highest = 0;         ///< right after each nut's turn [N]
  double clamp_end_lowest = 0, clamp_end_highest = 0; ///< when all was done [N]
};

struct StudLine {
  std::string name;
  bool removed = false;
  double first_clamp_cold = 0, end_clamp = 0, end_clamp_cold = 0, lowest_clamp_cold = 0; ///< [N]
  double check_torque = 0;                                                               ///< at the end [N m]
};

/// What a reader must know before any clamp.
struct Alarm {
  std::string kind;                   ///< of its event, or "stretched by the wrench" and so on
  std::vector<std::size_t> studs;     ///< from 0; empty: the wheel, or not told apart
  std::optional<Moment> first;        ///< for what happens in service
  std::optional<double> value, limit; ///< SI, of the quantity that the kind is about
};

struct NodeLine {
  std::string name;
  double highest = 0; ///< [K]
  double time = 0;    ///< [s]
};

struct Summary {
  std::string path, title, program_version, git_sha, created_utc, scenario_sha256;
  RunStatus status = RunStatus::Running;
  std::string status_text;
  double end_time = 0; ///< intended [s]
  Digest digest = Digest::Absent;
  std::size_t records = 0; ///< with none, all below but the joint's figures is empty
  std::vector<std::string> studs;
  Finding finding;
  std::vector<Milestone> milestones;
  Budget budget;
  std::optional<Peak> slip_margin;  ///< the lowest; none if nothing loads the joint sideways
  std::optional<Moment> first_slip; ///< first record whose slip margin is below 1
  std::vector<Alarm> alarms;        ///< gravest first
  std::string deciding_design_case;
  std::vector<DesignCase> design_cases;
  std::optional<Peak> utilisation, fatigue_amplitude, seat_pressure, clamp; ///< the highest
  std::optional<double> utilisation_tightening;
  std::optional<Spread> check_torque; ///< at the end [N m]
  std::vector<PassLine> passes;
  std::vector<StudLine> stud_lines;
  std::vector<std::size_t> same_as; ///< for each stud the first one whose clamp is the same at every record
  std::vector<NodeLine> nodes;
  std::vector<EventRow> events;
  std::vector<Figure> joint;
  std::vector<std::pair<std::string, std::size_t>> provenance; ///< kind and number of values
  std::vector<RunHeader::IdentityRow> identity;
  std::vector<std::string> warnings;
};

/// Throws FileError as History does.
Summary summarise(const History& history);

} // namespace clampfade::post

// The tables of a history, each declared once: writer and reader both go by these lists. For history*.cpp only.
#pragma once

#include "solver/sink.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <string_view>
#include <variant>
#include <vector>

namespace clampfade::schema {

/// The axes other than the rows of a table.
enum class Axis { None, Stud, Node, Layer, Mechanism };

template <class Row>
using Member = std::variant<double Row::*, std::vector<double> Row::*, std::size_t Row::*, int Row::*, bool Row::*,
                            std::string Row::*>;

/// One dataset: its name below the table's prefix, and the member of the row it holds.
template <class Row>
struct Column {
  std::string_view name;
  std::string_view unit;
  std::string_view long_name;
  Member<Row> member;
  Axis second = Axis::None;
  Axis third = Axis::None;
  int since = 0; ///< minor format that brought it
};

/// Datasets that share their first axis. The axis is a dataset too: the first column, or else the row's number.
template <class Row>
struct RowTable {
  std::string_view prefix;
  std::string_view axis;
  std::span<const Column<Row>> columns;
  bool grows = true;
};

inline constexpr auto kRecordColumns = std::to_array<Column<RecordRow>>({
    {"time", "s", "time since the wheel was tightened", &RecordRow::time},
    {"distance", "m", "distance driven since the wheel was tightened", &RecordRow::distance},
    {"stops", "1", "stops made since the wheel was tightened", &RecordRow::stops},
    {"clamp", "N", "clamp load as it is", &RecordRow::clamp, Axis::Stud},
    {"clamp_cold", "N", "clamp load of the same state at the temperature of tightening", &RecordRow::clamp_cold,
     Axis::Stud},
    {"temperature", "K", "temperature", &RecordRow::temperature, Axis::Node},
    {"slip_margin", "1", "friction the joint can hold over the load it carries, lowest since the record before",
     &RecordRow::slip_margin},
    {"loss", "m", "seating loss since tightening", &RecordRow::loss, Axis::Stud, Axis::Mechanism},
    {"loss_clamp", "N", "cold clamp load that the loss has cost, summed along the way", &RecordRow::loss_clamp,
     Axis::Stud, Axis::Mechanism},
    {"retorque_gain", "N", "cold clamp load won by later acts of the wrench", &RecordRow::retorque_gain, Axis::Stud},
    {"fatigue_amplitude", "Pa", "stress amplitude of the stud, highest since the record before",
     &RecordRow::fatigue_amplitude, Axis::Stud},
    {"utilisation", "1", "reduced stress of the stud over its yield strength", &RecordRow::utilisation, Axis::Stud},
    {"seat_pressure", "Pa", "pressure under the nut's seat", &RecordRow::seat_pressure, Axis::Stud},
    {"layer_thickness", "m", "thickness of the coating; not a number where it was not recorded",
     &RecordRow::layer_thickness, Axis::Stud, Axis::Layer},
    {"check_torque", "N m", "torque that would start the nut turning in the tightening direction",
     &RecordRow::check_torque, Axis::Stud},
});
inline constexpr RowTable<RecordRow> kRecords{"/", "/time", kRecordColumns};

inline constexpr auto kActColumns = std::to_array<Column<ActRow>>({
    {"time", "s", "time of the act; the last one of tightening ends at 0", &ActRow::time},
    {"pass", "1", "pass, from 1; 0 for a retorque", &ActRow::pass},
    {"stud", "1", "position on the axis stud, from 0", &ActRow::stud},
    {"torque", "N m", "torque applied", &ActRow::torque},
    {"clamp", "N", "clamp load of that stud right after", &ActRow::clamp},
    {"clamp_end", "N", "clamp load of that stud when all studs were done", &ActRow::clamp_end},
    {"moved", "1", "1 if the nut turned, 0 if it stayed", &ActRow::moved},
});
inline constexpr RowTable<ActRow> kActs{"/tightening_", "/act", kActColumns};

inline constexpr auto kEventColumns = std::to_array<Column<EventRow>>({
    {"time", "s", "time of the event", &EventRow::time},
    {"distance", "m", "distance driven at the event", &EventRow::distance},
    {"stud", "1", "position on the axis stud, from 0; -1 for the whole wheel", &EventRow::stud},
    {"kind", "1", "kind of event", &EventRow::kind},
    {"text", "1", "what happened", &EventRow::text},
});
inline constexpr RowTable<EventRow> kEvents{"/event_", "/event", kEventColumns};

inline constexpr auto kStepsColumns = std::to_array<Column<StepsRow>>({
    {"time", "s", "end of the interval between two records", &StepsRow::time},
    {"steps", "1", "steps accepted in the interval", &StepsRow::steps},
    {"rejected", "1", "steps rejected in the interval", &StepsRow::rejected},
    {"smallest", "s", "shortest step accepted in the interval", &StepsRow::smallest},
    {"controlled_by", "1", "what limited the steps", &StepsRow::controlled_by},
    {"resolution", "1", "whether spans were integrated one by one or drawn together", &StepsRow::resolution, Axis::None,
     Axis::None, 1},
});
inline constexpr RowTable<StepsRow> kSteps{"/steps/", "/steps/interval", kStepsColumns};

using ProvenanceRow = RunHeader::ProvenanceRow;
inline constexpr auto kProvenanceColumns = std::to_array<Column<ProvenanceRow>>({
    {"entry", "1", "catalogue entry", &ProvenanceRow::entry},
    {"key", "1", "parameter", &ProvenanceRow::key},
    {"value", "1", "value as written, with its unit", &ProvenanceRow::value},
    {"source", "1", "where the value comes from", &ProvenanceRow::source},
    {"provenance", "1", "published, memory, practice, demo or fitted", &ProvenanceRow::provenance},
});
inline constexpr RowTable<ProvenanceRow> kProvenance{"/provenance/", "/provenance/row", kProvenanceColumns, false};

using IdentityRow = RunHeader::IdentityRow;
inline constexpr auto kIdentityColumns = std::to_array<Column<IdentityRow>>({
    {"stud", "1", "stud as written in the tightening record", &IdentityRow::stud},
    {"torque", "N m", "torque as recorded", &IdentityRow::torque},
    {"angle", "rad", "angle of turn as recorded; not a number where none was", &IdentityRow::angle},
    {"time", "1", "time of tightening as written", &IdentityRow::time},
    {"tool", "1", "tool", &IdentityRow::tool},
    {"operator", "1", "operator", &IdentityRow::operator_name},
    {"vehicle", "1", "vehicle", &IdentityRow::vehicle},
    {"axle", "1", "axle", &IdentityRow::axle},
    {"wheel", "1", "wheel", &IdentityRow::wheel},
});
inline constexpr RowTable<IdentityRow> kIdentity{"/records/", "/records/row", kIdentityColumns, false};

/// Lengths of the axes of one file.
struct Sizes {
  std::size_t stud = 0, node = 0, layer = 0, mechanism = 0;
  [[nodiscard]] std::size_t operator[](Axis axis) const {
    switch (axis) {
    case Axis::Stud:
      return stud;
    case Axis::Node:
      return node;
    case Axis::Layer:
      return layer;
    case Axis::Mechanism:
      return mechanism;
    case Axis::None:
      break;
    }
    return 1;
  }
};

/// Path of the dataset that names an axis's positions.
constexpr std::string_view path(Axis axis) {
  switch (axis) {
  case Axis::Stud:
    return "/stud";
  case Axis::Node:
    return "/node";
  case Axis::Layer:
    return "/layer";
  case Axis::Mechanism:
    return "/mechanism";
  case Axis::None:
    break;
  }
  return "";
}

template <class Row>
std::string path(const RowTable<Row>& table, const Column<Row>& column) {
  return std::string(table.prefix) + std::string(column.name);
}

/// A column along an axis of no length is not in the file.
template <class Row>
bool present(const Column<Row>& column, const Sizes& sizes) {
  return sizes[column.second] > 0 && sizes[column.third] > 0;
}

} // namespace clampfade::schema

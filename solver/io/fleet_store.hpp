// The store of a fleet: wheels as tightened, checked and predicted, over time, in one SQLite file. Its layout is in
// solver/STORE_FORMAT.md. No SQLite type appears here.
#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace clampfade {

/// What stands in a store's `PRAGMA application_id` and `user_version`.
inline constexpr int kStoreApplication = 0x434C4653; // "CLFS"
inline constexpr int kStoreFormat = 2;

/// Which wheel.
struct WheelId {
  std::string vehicle, axle, wheel;
  auto operator<=>(const WheelId&) const = default;
};

/// An act of the wrench.
struct StoredAct {
  WheelId wheel;
  std::size_t studs = 0;                 ///< of the wheel, the most that any record of it tells
  std::size_t stud = 0;                  ///< from 1
  std::size_t pass = 0;                  ///< from 1
  bool pass_given = false;               ///< whether the record says so; tells acts apart
  std::string time;                      ///< as written
  double instant = 0;                    ///< seconds since 1970 [s]
  double torque = 0;                     ///< [N m]
  std::optional<double> set_torque;      ///< [N m]
  std::optional<double> angle;           ///< [rad]
  std::optional<double> clamp;           ///< as estimated [N]
  std::optional<double> clamp_deviation; ///< standard deviation of it [N]
  std::optional<double> odometer;        ///< [m]
  bool inside = true;                    ///< whether no finding names it
  std::string reasons;                   ///< what is wrong, phrases
  std::string tool;
  std::string operator_name; ///< empty: not stored
};

/// What a check found on a stud.
struct StoredReading {
  WheelId wheel;
  std::size_t stud = 0; ///< from 1
  std::string time;     ///< as written
  double instant = 0;   ///< [s]
  double torque = 0;    ///< [N m]
  bool moved = false;
  std::optional<double> odometer; ///< [m]
  std::string tool;
  std::string operator_name; ///< empty: not stored
};

/// What a run or a study says of a wheel.
struct StoredPrediction {
  WheelId wheel;
  std::string tightened;            ///< when the wheel was tightened, as written
  double tightened_instant = 0;     ///< [s]
  std::optional<double> odometer;   ///< then [m]
  std::string title;                ///< of the scenario
  std::string source;               ///< "history", or "study: earliest of 256 cases"
  std::string digest;               ///< SHA-256 over the results
  double required_clamp = 0;        ///< [N]
  double end_time = 0;              ///< the prediction says nothing after this [s since tightening]
  std::optional<double> below_time; ///< weakest stud falls below the required clamp [s since tightening]; none: never
  std::optional<double> below_distance;   ///< driven by then [m]
  std::size_t below_stud = 0;             ///< from 1; 0 if never
  std::optional<double> recheck_time;     ///< latest re-check that it allows [s since tightening]
  std::optional<double> recheck_distance; ///< [m]
  struct Point {
    double time = 0;                ///< [s since tightening]
    std::optional<double> distance; ///< [m]
    double clamp = 0;               ///< lowest cold clamp of a stud [N]
  };
  std::vector<Point> points;
};

/// All that a store knows of a wheel, by instant.
struct StoredHistory {
  WheelId wheel;
  std::vector<StoredAct> acts;
  std::vector<StoredReading> readings;
  std::vector<StoredPrediction> predictions;
};

/// A wheel that the store has.
struct StoredWheel {
  WheelId id;
  std::size_t studs = 0; ///< the most that a record of tightening tells; 0: none does
};

/// What a vehicle had driven, by an act, a reading or a prediction.
struct StoredOdometer {
  std::string vehicle;
  std::string time;    ///< as written
  double instant = 0;  ///< [s]
  double odometer = 0; ///< [m]
};

/// Which file something came from.
struct StoredFile {
  std::string name;   ///< without its folder
  std::string sha256; ///< of the file, or over its results
};

/// What became of an addition.
struct StoreAddition {
  bool file_known = false; ///< the very file was there already, and nothing was added
  std::size_t added = 0;
  std::size_t known = 0; ///< rows that were there already
};

/// Rows of which wheels: an empty text stands for all.
using WheelFilter = WheelId;

/// What a store is opened for.
enum class StoreUse {
  Read,
  Add, ///< it is made where there is none, and one of an older format is brought forward
};

/// A store on disk. What is added from one file is added whole or not at all, whatever happens to the program; several
/// programs may write at a time, each waits up to half a minute for the others. Every row that is read is held against
/// its sum, and how many there are against how many were added. All functions throw FileError: FileMissing, FileVersion
/// (no store, or of a newer format; the file is left as it is), FileTruncated (damaged), FileWrite (locked for too
/// long, disk full, no permission).
class FleetStore {
public:
  explicit FleetStore(const std::string& path, StoreUse use = StoreUse::Read);
  ~FleetStore();
  FleetStore(const FleetStore&) = delete;
  FleetStore& operator=(const FleetStore&) = delete;

  /// What there is to tell of the opening: that the store is of an older format, or has been brought forward. Mostly
  /// empty.
  [[nodiscard]] const std::string& note() const;

  /// Acts that are there already, by wheel, stud, instant, torque, angle and given pass, are not added twice.
  StoreAddition add(const StoredFile& file, const std::vector<StoredAct>& acts);
  /// Readings likewise, by wheel, stud, instant, torque and whether the nut moved.
  StoreAddition add(const StoredFile& file, const std::vector<StoredReading>& readings);
  /// A prediction is the same if wheel, time of tightening and digest are.
  StoreAddition add(const StoredFile& file, const StoredPrediction& prediction);

  /// Wheels one after the other, by name, of which anything is known; memory is that of one. Programs that add wait
  /// until `take` has seen the last, so it should wait for nobody.
  void each_wheel(const WheelFilter& which, const std::function<void(StoredHistory&)>& take) const;
  /// By wheel and instant.
  [[nodiscard]] std::vector<StoredAct> acts(const WheelFilter& which = {}) const;
  [[nodiscard]] std::vector<StoredReading> readings(const WheelFilter& which = {}) const;
  /// By wheel and time of tightening.
  [[nodiscard]] std::vector<StoredPrediction> predictions(const WheelFilter& which = {}) const;
  /// All wheels, by name.
  [[nodiscard]] std::vector<StoredWheel> wheels() const;
  /// All odometers of these vehicles, by vehicle and instant.
  [[nodiscard]] std::vector<StoredOdometer> odometers(const std::set<std::string>& vehicles) const;

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

} // namespace clampfade

#include "solver/io/fleet_store.hpp"

#include "solver/diagnostics.hpp"
#include "solver/io/database.hpp"
#include "solver/io/store_format1.hpp"
#include "solver/io/store_rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <system_error>
#include <tuple>
#include <unistd.h>
#include <utility>

namespace clampfade {

namespace {

namespace fs = std::filesystem;
using store::WheelRow;

void require_known_format(const std::string& path, long long format) {
  if (format < 1) {
    throw FileError(Code::FileVersion, fmt::format("{}: a store says of which format it is, 1 to {}, and this file "
                                                   "says {}; use a copy, or add the files to a new store",
                                                   path, kStoreFormat, format));
  }
  if (format > kStoreFormat) {
    throw FileError(Code::FileVersion, fmt::format("{}: a store of format {}; this program knows formats 1 to {}, a "
                                                   "newer one is needed",
                                                   path, format, kStoreFormat));
  }
}

void remove_part(const std::string& part) {
  std::remove(part.c_str());
  std::remove((part + "-journal").c_str());
}

/// What programs left beside the path that were killed while they made it.
void remove_left_parts(const std::string& path) {
  const fs::path whole(path);
  const std::string begin = whole.filename().string() + '.';
  std::error_code unread; // then nothing is taken away
  const fs::path folder = whole.has_parent_path() ? whole.parent_path() : fs::path(".");
  std::vector<std::string> left;
  for (fs::directory_iterator at(folder, unread), end; !unread && at != end; at.increment(unread)) {
    const std::string name = at->path().filename().string();
    long long pid = 0;
    int length = 0;
    if (name.rfind(begin, 0) == 0 && std::sscanf(name.c_str() + begin.size(), "%9lld.part%n", &pid, &length) == 1 &&
        length > 0 && pid > 0) {
      const std::string_view rest = std::string_view(name).substr(begin.size() + static_cast<std::size_t>(length));
      if ((rest.empty() || rest == "-journal") && ::kill(static_cast<pid_t>(pid), 0) != 0 && errno == ESRCH) {
        left.push_back(at->path().string());
      }
    }
  }
  for (const std::string& file : left) {
    std::remove(file.c_str());
  }
}

/// Makes the file beside its path and gives it its name in one step, so that nobody ever sees half of a store.
void create_store(const std::string& path) {
  const std::string part = fmt::format("{}.{}.part", path, ::getpid());
  remove_left_parts(path);
  remove_part(part); // of an earlier program with this one's number
  try {
    Database db(path, true, part);
    Transaction all(db, Transaction::Use::Write);
    store::make_tables(db);
    db.run(fmt::format("PRAGMA application_id = {}", kStoreApplication));
    db.run(fmt::format("PRAGMA user_version = {}", kStoreFormat));
    all.commit();
  } catch (...) {
    remove_part(part);
    throw;
  }
  // Fails where another program was faster; its store is as good.
  const int linked = ::link(part.c_str(), path.c_str());
  const int error = errno;
  remove_part(part);
  if (linked != 0 && error != EEXIST) {
    throw FileError(Code::FileWrite, path + ": " + std::generic_category().message(error));
  }
}

/// Refuses what is no store by its first bytes, without SQLite, which might change the file in opening it.
void require_store(const std::string& path) {
  std::error_code unknown; // then opening it tells why
  if (const fs::file_status status = fs::status(path, unknown); fs::exists(status) && !fs::is_regular_file(status)) {
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet"); // and a pipe would keep us waiting
  }
  std::ifstream in(path, std::ios::binary);
  std::array<char, 100> head{};
  if (!in.read(head.data(), head.size())) {
    if (!in.is_open()) {
      throw FileError(Code::FileMissing, path + ": can't be read");
    }
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet");
  }
  const auto number = [&](std::size_t at) {
    unsigned value = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      value = value << 8U | static_cast<unsigned char>(head[at + i]);
    }
    return value;
  };
  // Offsets of SQLite's file format: 60 user version, 68 application id.
  if (std::string_view(head.data(), 15) != "SQLite format 3" ||
      number(68) != static_cast<unsigned>(kStoreApplication)) {
    throw FileError(Code::FileVersion, path + ": this is no store of a fleet");
  }
  require_known_format(path, static_cast<std::int32_t>(number(60)));
}

std::string utc_now() {
  const auto now = std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  const auto day = std::chrono::floor<std::chrono::days>(now);
  const std::chrono::year_month_day date(day);
  const auto s = (now - day).count();
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), s / 3600, s / 60 % 60,
                     s % 60);
}

/// Of the state that a transaction sees: another program may have brought the store forward.
int format_of(const Database& db) {
  Statement version(db, "PRAGMA user_version");
  version.start();
  const long long format = version.whole(0);
  require_known_format(db.path(), format);
  return static_cast<int>(format);
}

void require_sound(const Database& db, const char* check) {
  Statement pages(db, std::string("PRAGMA ") + check);
  if (pages.start(); pages.text(0) != "ok") {
    db.damaged(std::string(pages.text(0)));
  }
}

/// A trigger would change rows unseen while others are added.
void require_no_trigger(const Database& db) {
  Statement triggers(db, "SELECT name FROM sqlite_schema WHERE type = 'trigger'");
  if (triggers.start()) {
    throw FileError(Code::FileTruncated,
                    fmt::format("{}: nothing is added as the trigger '{}' in it is not of this program, and may change "
                                "what is there; take it out, or add the files to a new store",
                                db.path(), showable(std::string(triggers.text(0)))));
  }
}

/// Whether it was still to be done.
bool bring_forward(Database& db) {
  Transaction all(db, Transaction::Use::Write);
  if (format_of(db) == kStoreFormat) {
    return false;
  }
  require_no_trigger(db);
  store::bring_forward_format1(db);
  db.run(fmt::format("PRAGMA user_version = {}", kStoreFormat));
  all.commit();
  return true;
}

/// What an addition is held against and changes: the store's wheels and imports, all of them verified.
class Addition {
public:
  explicit Addition(Database& db) : db_(db), all_(db, Transaction::Use::Write) {
    if (format_of(db) != kStoreFormat) {
      throw FileError(Code::FileVersion, db.path() + ": a store of an older format, which was opened for reading");
    }
    require_no_trigger(db);
    imports_ = store::read_imports(db);
    wheels_ = store::read_wheels(db);
    stored_ = wheels_.size();
    for (const WheelRow& w : wheels_) {
      numbers_.emplace(w.wheel, w.id);
    }
  }

  [[nodiscard]] bool knows(const char* kind, const std::string& sha, const std::string& subject) const {
    return std::any_of(imports_.begin(), imports_.end(), [&](const store::ImportRow& i) {
      return i.kind == kind && i.sha256 == sha && i.subject == subject;
    });
  }
  /// Its number.
  long long import(const char* kind, const StoredFile& file, const std::string& subject) {
    store::RowWriter out(db_, store::kImports);
    const auto id = static_cast<long long>(imports_.size()) + 1;
    imports_.push_back({kind, file.name, file.sha256, subject, utc_now(), CLAMPFADE_VERSION});
    store::write_import(out, id, imports_.back());
    return id;
  }
  /// Found by its name, or new; it is written at the end.
  WheelRow& wheel(const WheelId& id) {
    const auto [at, is_new] = numbers_.emplace(id, static_cast<long long>(wheels_.size()) + 1);
    if (is_new) {
      wheels_.push_back({at->second, id});
    }
    touched_.insert(at->second);
    return wheels_[static_cast<std::size_t>(at->second) - 1];
  }
  /// Wheels, before their rows: these refer to them.
  void write_wheels() {
    store::RowWriter insert(db_, store::kWheels);
    store::RowWriter update(db_, store::kWheels, store::RowWriter::Use::Update);
    for (const long long id : touched_) {
      const auto at = static_cast<std::size_t>(id) - 1;
      store::write_wheel(at < stored_ ? update : insert, wheels_[at]);
    }
  }
  void commit() {
    store::write_totals(db_, {wheels_.size(), imports_.size()}, store::RowWriter::Use::Update);
    all_.commit();
  }

private:
  Database& db_;
  Transaction all_;
  std::vector<store::ImportRow> imports_;
  std::vector<WheelRow> wheels_; ///< by number, from 1
  std::size_t stored_ = 0;       ///< of them; the others are new
  std::map<WheelId, long long> numbers_;
  std::set<long long> touched_;
};

std::size_t studs_of(const StoredAct& a) { return a.studs; }
std::size_t studs_of(const StoredReading&) { return 0; }

template <class Row>
StoreAddition add_rows(Database& db, const StoredFile& file, const std::vector<Row>& rows) {
  using Kind = store::Kind<Row>;
  Addition addition(db);
  if (addition.knows(Kind::kImport, file.sha256, "")) {
    return {true, 0, 0};
  }
  StoreAddition result;
  store::RowsOfWheel<Row> reader(db);
  std::map<long long, std::set<std::string>> there; // what tells the rows apart, by wheel
  std::vector<std::pair<const Row*, long long>> added;
  for (const Row& row : rows) {
    WheelRow& wheel = addition.wheel(row.wheel);
    wheel.studs = std::max(wheel.studs, studs_of(row));
    const auto [contents, first] = there.try_emplace(wheel.id);
    if (first) {
      std::vector<Row> stored;
      std::vector<std::string> sums;
      reader.read(wheel, stored, &sums);
      contents->second.insert(sums.begin(), sums.end());
    }
    if (contents->second.insert(store::content_sum(row).bytes).second) {
      added.emplace_back(&row, wheel.id);
      ++(wheel.*Kind::kCount);
      ++result.added;
    } else {
      ++result.known;
    }
  }
  const long long import = addition.import(Kind::kImport, file, "");
  addition.write_wheels();
  store::RowWriter out(db, Kind::table());
  for (std::size_t i = 0; i < added.size(); ++i) {
    store::write_row(out, added[i].second, import, i + 1, *added[i].first);
  }
  addition.commit();
  return result;
}

/// By name.
std::vector<WheelRow> chosen_wheels(const Database& db, const store::WheelChoice& chosen) {
  std::vector<WheelRow> wheels = store::read_wheels(db);
  wheels.erase(std::remove_if(wheels.begin(), wheels.end(), [&](const WheelRow& w) { return !chosen(w.wheel); }),
               wheels.end());
  std::sort(wheels.begin(), wheels.end(), [](const WheelRow& a, const WheelRow& b) { return a.wheel < b.wheel; });
  return wheels;
}

/// By wheel and instant.
template <class Row>
std::vector<Row> rows_of(Database& db, const store::WheelChoice& chosen) {
  const Transaction one_state(db, Transaction::Use::Read);
  if (format_of(db) == 1) {
    return store::read_format1<Row>(db, chosen);
  }
  store::RowsOfWheel<Row> reader(db);
  std::vector<Row> out;
  for (const WheelRow& w : chosen_wheels(db, chosen)) {
    reader.read(w, out);
  }
  return out;
}

/// Rows of format 1 are not kept by wheel, so all are read at once.
std::map<WheelId, StoredHistory> histories_of_format1(const Database& db, const store::WheelChoice& chosen) {
  std::map<WheelId, StoredHistory> out;
  for (StoredAct& a : store::read_format1<StoredAct>(db, chosen)) {
    out[a.wheel].acts.push_back(std::move(a));
  }
  for (StoredReading& r : store::read_format1<StoredReading>(db, chosen)) {
    out[r.wheel].readings.push_back(std::move(r));
  }
  for (StoredPrediction& p : store::read_format1<StoredPrediction>(db, chosen)) {
    out[p.wheel].predictions.push_back(std::move(p));
  }
  return out;
}

/// Holds a prediction's values against what reading them asks for. Throws FileTruncated.
class SoundValues {
public:
  SoundValues(const StoredFile& file, const store::Table& table)
      : file_(file), table_(table), column_(table.first_value) {}
  void operator()(double v) { require(std::isfinite(v), "is no finite number"); }
  void operator()(const std::optional<double>& v) { require(!v || std::isfinite(*v), "is no finite number"); }
  void operator()(const std::string& v) { require(!bad_character(v), "holds control characters, or is not UTF-8"); }
  void count_or_none(std::size_t) { ++column_; }

private:
  void require(bool sound, const char* fault) {
    const char* column = table_.columns[column_++].name;
    if (!sound) {
      throw FileError(Code::FileTruncated,
                      fmt::format("{}: the file is damaged: the {} of its {} {}; nothing was added; make it anew",
                                  showable(file_.name), column, &table_ == &store::kPoints ? "records" : "prediction",
                                  fault));
    }
  }
  const StoredFile& file_;
  const store::Table& table_;
  std::size_t column_;
};

void require_sound_values(const StoredFile& file, const StoredPrediction& p) {
  SoundValues value(file, store::kPredictions);
  store::prediction_values(p, value);
  for (const StoredPrediction::Point& point : p.points) {
    SoundValues each(file, store::kPoints);
    each.count_or_none(0); // its number
    each(point.time);
    each(point.distance);
    each(point.clamp);
  }
}

store::WheelChoice choice(const WheelFilter& which) {
  return [&which](const WheelId& wheel) { return store::matches(which, wheel); };
}

} // namespace

struct FleetStore::Impl {
  explicit Impl(const std::string& path) : db(path) {}
  Database db;
  std::string note;
};

FleetStore::FleetStore(const std::string& path, StoreUse use) {
  std::error_code ignored;
  if (!fs::exists(path, ignored)) {
    if (use == StoreUse::Read) {
      throw FileError(Code::FileMissing, path + ": there is no such store");
    }
    create_store(path);
  }
  require_store(path);
  impl_ = std::make_unique<Impl>(path);
  Database& db = impl_->db;
  if (format_of(db) == 1) {
    // An index that does not go with its table would leave an act out without a word.
    require_sound(db, "integrity_check(1)");
    if (use == StoreUse::Read) {
      store::require_ties(db);
      impl_->note = fmt::format("{}: a store of format 1, whose rows have no sums: not every damage is noticed. The "
                                "next command that adds to it brings it to format {}.",
                                path, kStoreFormat);
      return;
    }
    if (bring_forward(db)) {
      impl_->note = fmt::format("{}: brought from format 1 to format {}, which programs before this one do not read; "
                                "nothing in it has changed.",
                                path, kStoreFormat);
      (void)db.try_to("VACUUM"); // gives room back; without it there is no harm
    }
  }
  store::require_tables(db);
  // Reading holds every row against its sum and their number against what was added; in a damaged tree of pages adding
  // might write over others.
  if (use == StoreUse::Add) {
    require_sound(db, "quick_check(1)");
  }
}

FleetStore::~FleetStore() = default;

const std::string& FleetStore::note() const { return impl_->note; }

StoreAddition FleetStore::add(const StoredFile& file, const std::vector<StoredAct>& acts) {
  return add_rows(impl_->db, file, acts);
}

StoreAddition FleetStore::add(const StoredFile& file, const std::vector<StoredReading>& readings) {
  return add_rows(impl_->db, file, readings);
}

StoreAddition FleetStore::add(const StoredFile& file, const StoredPrediction& p) {
  require_sound_values(file, p);
  const char* kind = store::Kind<StoredPrediction>::kImport;
  const std::string subject =
      store::fields({p.wheel.vehicle, p.wheel.axle, p.wheel.wheel, store::digits(p.tightened_instant)});
  Database& db = impl_->db;
  Addition addition(db);
  if (addition.knows(kind, file.sha256, subject)) {
    return {true, 0, 0};
  }
  WheelRow& wheel = addition.wheel(p.wheel);
  ++wheel.predictions;
  const long long import = addition.import(kind, file, subject);
  addition.write_wheels();
  store::write_prediction(db, wheel.id, import, p);
  addition.commit();
  return {false, 1, 0};
}

void FleetStore::each_wheel(const WheelFilter& which, const std::function<void(StoredHistory&)>& take) const {
  Database& db = impl_->db;
  const Transaction one_state(db, Transaction::Use::Read);
  if (format_of(db) == 1) {
    for (auto& [id, history] : histories_of_format1(db, choice(which))) {
      history.wheel = id;
      take(history);
    }
    return;
  }
  store::RowsOfWheel<StoredAct> acts(db);
  store::RowsOfWheel<StoredReading> readings(db);
  store::RowsOfWheel<StoredPrediction> predictions(db);
  for (const WheelRow& w : chosen_wheels(db, choice(which))) {
    StoredHistory history;
    history.wheel = w.wheel;
    acts.read(w, history.acts);
    readings.read(w, history.readings);
    predictions.read(w, history.predictions);
    if (w.acts + w.readings + w.predictions > 0) {
      take(history);
    }
  }
}

std::vector<StoredAct> FleetStore::acts(const WheelFilter& which) const {
  return rows_of<StoredAct>(impl_->db, choice(which));
}

std::vector<StoredReading> FleetStore::readings(const WheelFilter& which) const {
  return rows_of<StoredReading>(impl_->db, choice(which));
}

std::vector<StoredPrediction> FleetStore::predictions(const WheelFilter& which) const {
  return rows_of<StoredPrediction>(impl_->db, choice(which));
}

std::vector<StoredWheel> FleetStore::wheels() const {
  const Transaction one_state(impl_->db, Transaction::Use::Read);
  std::vector<StoredWheel> out;
  for (WheelRow& w : format_of(impl_->db) == 1 ? store::wheels_of_format1(impl_->db) : store::read_wheels(impl_->db)) {
    out.push_back({std::move(w.wheel), w.studs});
  }
  std::sort(out.begin(), out.end(), [](const StoredWheel& a, const StoredWheel& b) { return a.id < b.id; });
  return out;
}

std::vector<StoredOdometer> FleetStore::odometers(const std::set<std::string>& vehicles) const {
  std::vector<StoredOdometer> out;
  if (vehicles.empty()) {
    return out;
  }
  const store::WheelChoice chosen = [&](const WheelId& wheel) { return vehicles.count(wheel.vehicle) != 0; };
  const auto take = [&](std::string& vehicle, std::string& time, double instant, const std::optional<double>& driven) {
    if (driven) {
      out.push_back({std::move(vehicle), std::move(time), instant, *driven});
    }
  };
  for (StoredAct& a : rows_of<StoredAct>(impl_->db, chosen)) {
    take(a.wheel.vehicle, a.time, a.instant, a.odometer);
  }
  for (StoredReading& r : rows_of<StoredReading>(impl_->db, chosen)) {
    take(r.wheel.vehicle, r.time, r.instant, r.odometer);
  }
  for (StoredPrediction& p : rows_of<StoredPrediction>(impl_->db, chosen)) {
    take(p.wheel.vehicle, p.tightened, p.tightened_instant, p.odometer);
  }
  std::stable_sort(out.begin(), out.end(), [](const StoredOdometer& a, const StoredOdometer& b) {
    return std::tie(a.vehicle, a.instant) < std::tie(b.vehicle, b.instant);
  });
  return out;
}

} // namespace clampfade

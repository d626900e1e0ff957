#include "solver/diagnostics.hpp"
#include "solver/io/database.hpp"
#include "solver/io/fleet_store.hpp"
#include "solver/io/store_tables.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <cstdint>
#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <set>
#include <string>
#include <sys/wait.h>
#include <unistd.h>
#include <utility>
#include <vector>

using namespace clampfade;
using namespace clampfade::test;

namespace {

StoredAct act(std::size_t stud, double instant, const std::string& vehicle = "demo vehicle") {
  StoredAct a;
  a.wheel = {vehicle, "drive 1", "left"};
  a.studs = 10;
  a.stud = stud;
  a.pass = 1;
  a.time = "2024-04-09T06:12:00";
  a.instant = instant;
  a.torque = 644.01 + static_cast<double>(stud) / 3; // no short decimal
  a.tool = "wrench, \"old\"";
  return a;
}

Code code_of(const std::string& path) {
  try {
    const FleetStore store(path);
  } catch (const FileError& e) {
    return e.code();
  }
  return Code::Internal;
}

/// A store with rows of every kind, of two wheels.
void fill(const std::string& path) {
  FleetStore store(path, StoreUse::Add);
  StoredAct full = act(1, 1712643120.25);
  full.set_torque = 644.5;
  full.angle = 1.0 / 3;
  full.clamp = 183e3;
  full.clamp_deviation = 17.5e3;
  full.odometer = 81250e3;
  full.operator_name = "Fitter Q";
  store.add(StoredFile{"a.csv", "1"}, std::vector{full, act(2, 1712643130.5), act(1, 5, "other vehicle")});
  store.add(StoredFile{"r.csv", "2"}, std::vector{StoredReading{full.wheel, 1, "2024-05-01", 1714521600, 536.1, true,
                                                                81330e3, "check wrench", "Fitter R"}});
  StoredPrediction p;
  p.wheel = full.wheel;
  p.tightened = "2024-04-09";
  p.tightened_instant = 1712620800;
  p.odometer = 81250e3;
  p.title = "demo";
  p.source = "history";
  p.digest = "d1";
  p.required_clamp = 119.6e3;
  p.end_time = 1e6;
  p.below_time = 3e5;
  p.below_distance = 40e3;
  p.below_stud = 6;
  p.recheck_time = 1.5e5;
  p.recheck_distance = 20e3;
  p.points = {{0, 0.0, 180e3}, {3600, 60e3, 150e3}};
  store.add(StoredFile{"h.h5", "d1"}, p);
}

/// What reading everything, and then adding, says of damage; empty if nothing.
std::string told_of(const std::string& path) {
  try {
    {
      const FleetStore store(path);
      (void)store.acts();
      (void)store.readings();
      (void)store.predictions();
    }
    FleetStore store(path, StoreUse::Add);
    store.add(StoredFile{"new.csv", "new"}, std::vector{act(9, 7)});
  } catch (const FileError& e) {
    return e.code() == Code::FileTruncated ? e.what() : "another code: " + std::string(e.what());
  }
  return "";
}

/// By hand, past all that the tables would refuse.
void by_hand(const std::string& path, const std::string& sql) {
  Database db(path);
  db.run("PRAGMA foreign_keys = OFF");
  db.run("PRAGMA ignore_check_constraints = ON");
  db.run(sql);
}

/// The store of format 1 that stands as text beside this test.
void make_format1(const std::string& path, const std::string& more = "") {
  Database db(path, true);
  db.run("PRAGMA foreign_keys = OFF");
  db.run(read_text(CLAMPFADE_SOURCE "/tests/unit/solver/store_format1.sql") + more);
}

long long number_of(const std::string& path, const std::string& sql) {
  const Database db(path);
  Statement row(db, sql);
  REQUIRE(row.start());
  return row.whole(0);
}

/// What opening it, and reading all of it, says; empty if nothing.
std::string refusal(const std::string& path, StoreUse use, Code code) {
  try {
    const FleetStore store(path, use);
    store.each_wheel({}, [](const StoredHistory&) {});
  } catch (const FileError& e) {
    CHECK(e.code() == code);
    CHECK(std::string(e.what()).rfind(path + ": ", 0) == 0);
    return e.what();
  }
  return "";
}

bool says(const std::string& text, const std::string& words) {
  CAPTURE(text);
  return text.find(words) != std::string::npos;
}

/// What another program has done to a store, and what has to be said of it.
struct Bent {
  const char *sql, *told;
};
/// Stores of format 1: reading each ends with `read` (Internal: it is read), adding is refused whatever comes, both in
/// those words, and the store stays as it was.
void each_refused(Code read, const std::vector<Bent>& all) {
  for (const Bent& bent : all) {
    CAPTURE(bent.sql);
    const TmpDir dir;
    make_format1(dir / "s", bent.sql);
    const std::string before = read_text(dir / "s");
    const std::string reading = refusal(dir / "s", StoreUse::Read, read);
    CHECK((read == Code::Internal ? reading.empty() : says(reading, bent.told)));
    const Code add = read == Code::Internal ? Code::FileVersion : read;
    CHECK(says(refusal(dir / "s", StoreUse::Add, add), bent.told));
    CHECK(read_text(dir / "s") == before);
  }
}

/// Names of all that is in a folder, by name, a space after each.
std::string files_in(const std::string& folder) {
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    names.insert(entry.path().filename().string());
  }
  std::string out;
  for (const std::string& name : names) {
    out += name + ' ';
  }
  return out;
}

/// What the store says of adding such a prediction; empty if it is added.
std::string told_of_adding(const std::string& path, const StoredPrediction& p) {
  FleetStore store(path, StoreUse::Add);
  try {
    store.add(StoredFile{"run.h5", "new"}, p);
  } catch (const FileError& e) {
    return e.what();
  }
  return "";
}

/// Overwrites four bytes of a file, the most significant first.
void patch(const std::string& path, std::streamoff at, std::uint32_t value) {
  std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
  file.seekp(at);
  for (const unsigned shift : {24U, 16U, 8U, 0U}) {
    file.put(static_cast<char>(value >> shift & 0xFFU));
  }
}

} // namespace

TEST_CASE("fleet store: what goes in comes out, to the bit") {
  const TmpDir dir;
  StoredAct full = act(3, 1712643120.25);
  full.pass = 2;
  full.pass_given = true;
  full.set_torque = 644.0100000000001;
  full.angle = 1.0 / 3;
  full.clamp = 183e3;
  full.clamp_deviation = 17.5e3;
  full.odometer = 81250e3;
  full.inside = false;
  full.reasons = "torque; '); DROP TABLE acts; --";
  full.operator_name = "Fitter Q";
  {
    FleetStore store(dir / "s", StoreUse::Add);
    CHECK(store.add(StoredFile{"a.csv", "1"}, std::vector{act(1, 5), full}).added == 2);
  }
  const FleetStore store(dir / "s");
  const auto acts = store.acts();
  REQUIRE(acts.size() == 2);
  const StoredAct& a = acts[1];
  CHECK(a.wheel == full.wheel);
  CHECK(a.studs == 10);
  CHECK(a.stud == 3);
  CHECK(a.pass == 2);
  CHECK(a.pass_given);
  CHECK(a.time == full.time);
  CHECK(a.instant == full.instant);
  CHECK(a.torque == full.torque);
  CHECK(a.set_torque == full.set_torque);
  CHECK(a.angle == full.angle);
  CHECK(a.clamp == full.clamp);
  CHECK(a.clamp_deviation == full.clamp_deviation);
  CHECK(a.odometer == full.odometer);
  CHECK_FALSE(a.inside);
  CHECK(a.reasons == full.reasons);
  CHECK(a.tool == full.tool);
  CHECK(a.operator_name == "Fitter Q");
  CHECK_FALSE(acts[0].angle.has_value());
  CHECK(acts[0].operator_name.empty());
}

TEST_CASE("fleet store: a file twice adds nothing, an act twice is added once") {
  const TmpDir dir;
  FleetStore store(dir / "s", StoreUse::Add);
  CHECK_FALSE(store.add(StoredFile{"a.csv", "1"}, std::vector{act(1, 5), act(2, 5)}).file_known);
  CHECK(store.add(StoredFile{"b.csv", "1"}, std::vector{act(7, 5)}).file_known);
  const StoreAddition more = store.add(StoredFile{"c.csv", "2"}, std::vector{act(2, 5), act(3, 5), act(2, 6)});
  CHECK_FALSE(more.file_known);
  CHECK(more.added == 2);
  CHECK(more.known == 1);
  CHECK(store.acts().size() == 4);
  // Who did it and what was made of it tell no acts apart, another wheel does.
  StoredAct again = act(1, 5);
  again.operator_name = "Fitter Q";
  again.inside = false;
  CHECK(store.add(StoredFile{"d.csv", "3"}, std::vector{again}).known == 1);
  CHECK(store.add(StoredFile{"e.csv", "4"}, std::vector{act(1, 5, "another")}).added == 1);
  CHECK(store.acts({"another", "", ""}).size() == 1);
  CHECK(store.acts({"", "drive 1", ""}).size() == 5);
  CHECK(store.acts({"", "drive 2", ""}).empty());
}

TEST_CASE("fleet store: readings and predictions come out as they went in, each once") {
  const TmpDir dir;
  FleetStore store(dir / "s", StoreUse::Add);
  StoredReading r{{"v", "a", "w"}, 4, "2024-05-01", 1714521600, 536.1, true, 81330e3, "check wrench", ""};
  CHECK(store.add(StoredFile{"r", "1"}, std::vector{r}).added == 1);
  CHECK(store.add(StoredFile{"r", "1"}, std::vector{r}).file_known);
  r.moved = false;
  CHECK(store.add(StoredFile{"r2", "2"}, std::vector{r}).added == 1); // what it says is another thing
  REQUIRE(store.readings().size() == 2);
  CHECK(store.readings()[0].moved);
  CHECK(store.readings()[0].odometer == r.odometer);
  StoredPrediction p;
  p.wheel = {"v", "a", "w"};
  p.tightened = "2024-04-09";
  p.tightened_instant = 1712620800;
  p.digest = "d1";
  p.source = "history";
  p.required_clamp = 119.6e3;
  p.end_time = 1e6;
  p.below_time = 3e5;
  p.below_stud = 6;
  p.points = {{0, 0.0, 180e3}, {3600, {}, 150e3}};
  CHECK(store.add(StoredFile{"h.h5", "d1"}, p).added == 1);
  CHECK(store.add(StoredFile{"copy.h5", "d1"}, p).file_known);
  p.wheel.wheel = "right"; // the same run for its twin
  CHECK(store.add(StoredFile{"h.h5", "d1"}, p).added == 1);
  const auto all = store.predictions({"v", "a", "w"});
  REQUIRE(all.size() == 1);
  CHECK(all[0].below_time == p.below_time);
  CHECK_FALSE(all[0].below_distance.has_value());
  REQUIRE(all[0].points.size() == 2);
  CHECK(all[0].points[1].clamp == 150e3);
  CHECK_FALSE(all[0].points[1].distance.has_value());
}

TEST_CASE("fleet store: what breaks in the middle of a file leaves nothing of it behind") {
  const TmpDir dir;
  FleetStore store(dir / "s", StoreUse::Add);
  StoredAct bad = act(2, 5);
  bad.stud = 0; // the table refuses it
  CHECK_THROWS_AS((void)store.add(StoredFile{"a", "1"}, std::vector{act(1, 5), bad, act(3, 5)}), FileError);
  CHECK(store.acts().empty());
  StoredAct nameless = act(2, 5, "");
  CHECK_THROWS_AS((void)store.add(StoredFile{"a", "1"}, std::vector{act(1, 5), nameless}), FileError);
  CHECK(store.add(StoredFile{"a", "1"}, std::vector{act(1, 5)}).added == 1); // nor is the file known
}

TEST_CASE("fleet store: what is no store is refused and left as it was") {
  const TmpDir dir;
  CHECK(code_of(dir / "none") == Code::FileMissing);
  for (const std::string& text : {std::string("not a store at all"), std::string(), std::string(5000, 'x')}) {
    write_text(dir / "f", text);
    CHECK(code_of(dir / "f") == Code::FileVersion);
    CHECK_THROWS_AS(FleetStore(dir / "f", StoreUse::Add), FileError);
    CHECK(read_text(dir / "f") == text);
  }
  CHECK(code_of(dir / "") == Code::FileVersion); // a folder
  { const FleetStore store(dir / "s", StoreUse::Add); }
  const std::string whole = read_text(dir / "s");
  patch(dir / "s", 68, 12345); // another program's file
  CHECK(code_of(dir / "s") == Code::FileVersion);
  write_text(dir / "s", whole);
  patch(dir / "s", 60, static_cast<std::uint32_t>(kStoreFormat) + 1);
  const std::string newer = read_text(dir / "s");
  try {
    const FleetStore store(dir / "s");
    FAIL("a newer store was opened");
  } catch (const FileError& e) {
    CHECK(e.code() == Code::FileVersion);
    CHECK(std::string(e.what()).find("a store of format 3") != std::string::npos);
  }
  CHECK(read_text(dir / "s") == newer);
}

TEST_CASE("fleet store: a damaged store is said to be damaged") {
  const TmpDir dir;
  {
    FleetStore store(dir / "s", StoreUse::Add);
    std::vector<StoredAct> many;
    for (std::size_t i = 0; i < 400; ++i) {
      many.push_back(act(1 + i % 10, static_cast<double>(i)));
    }
    CHECK(store.add(StoredFile{"a", "1"}, many).added == 400);
  }
  const auto size = std::filesystem::file_size(dir / "s");
  std::fstream file(dir / "s", std::ios::binary | std::ios::in | std::ios::out);
  for (std::streamoff at = 4096; at < static_cast<std::streamoff>(size); ++at) {
    file.seekp(at);
    file.put('\x55');
  }
  file.close();
  try {
    const FleetStore store(dir / "s");
    (void)store.acts();
    FAIL("a damaged store was read");
  } catch (const FileError& e) {
    CHECK(e.code() == Code::FileTruncated);
  }
}

TEST_CASE("fleet store: making one leaves nothing else behind") {
  const TmpDir dir;
  { const FleetStore store(dir / "s", StoreUse::Add); }
  std::size_t files = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(dir / "")) {
    ++files;
  }
  CHECK(files == 1);
}

TEST_CASE("fleet store: a torque, an instant or a reading that has changed on the disk is not read as another one") {
  const TmpDir dir;
  StoredReading reading;
  reading.wheel = act(1, 0).wheel;
  reading.stud = 1;
  reading.time = "2024-04-11T15:00:00";
  reading.instant = 1712847611.5;
  reading.torque = 600.07;
  for (const double stored : {act(2, 1712643120.25).torque, 1712643120.25, reading.instant, reading.torque}) {
    CAPTURE(stored);
    const std::string path = dir / "s.sqlite";
    std::filesystem::remove(path);
    {
      FleetStore store(path, StoreUse::Add);
      store.add({"a.csv", "a"}, std::vector<StoredAct>{act(2, 1712643120.25)});
      store.add({"b.csv", "b"}, std::vector<StoredReading>{reading});
      CHECK(store.acts().size() == 1);
      CHECK(store.readings().size() == 1);
    }
    std::string bytes = read_text(path);
    std::string big_endian(sizeof stored, '\0'); // as SQLite stores a real
    for (std::size_t i = 0; i < sizeof stored; ++i) {
      big_endian[i] = reinterpret_cast<const char*>(&stored)[sizeof stored - 1 - i];
    }
    std::size_t found = 0;
    for (std::size_t at = bytes.find(big_endian); at != std::string::npos; at = bytes.find(big_endian, at + 8)) {
      bytes[at + 2] = static_cast<char>(bytes[at + 2] ^ 0x10); // in the table and in its index
      ++found;
    }
    REQUIRE(found > 0);
    write_text(path, bytes);
    const FleetStore store(path);
    bool told = false;
    try {
      (void)store.acts();
      (void)store.readings();
    } catch (const FileError& e) {
      told = e.code() == Code::FileTruncated && std::string(e.what()).find("the store is damaged") != std::string::npos;
    }
    CHECK(told);
  }
}

TEST_CASE("fleet store: any value of any row that has changed is told with its table, by reading or by adding") {
  const TmpDir dir;
  fill(dir / "whole");
  REQUIRE(told_of(dir / "whole").empty());
  std::filesystem::remove(dir / "whole");
  fill(dir / "whole");
  std::size_t tried = 0;
  for (const store::Table* table : store::tables()) {
    if (table == &store::kUnits) {
      continue; // no command reads it
    }
    for (const store::Column& column : table->columns) {
      const std::string name = column.name;
      const std::string declaration = column.declaration;
      const std::string other = name == "kind"                  ? "'prediction'" // the others are refused by the table
                                : declaration.find("BLOB") == 0 ? "zeroblob(32)"
                                : declaration.find("TEXT") == 0 ? "coalesce(" + name + ", '') || 'x'"
                                                                : "coalesce(" + name + ", 0) + 1";
      CAPTURE(table->name);
      CAPTURE(name);
      std::filesystem::copy_file(dir / "whole", dir / "s", std::filesystem::copy_options::overwrite_existing);
      by_hand(dir / "s", std::string("UPDATE ") + table->name + " SET " + name + " = " + other + " WHERE " + name +
                             " IS (SELECT max(" + name + ") FROM " + table->name + ")");
      const std::string told = told_of(dir / "s");
      CAPTURE(told);
      CHECK(told.find("the store is damaged (table ") != std::string::npos);
      const std::string row = table == &store::kPoints ? "predictions" : table->name; // it sums them too
      CHECK(told.find("table " + row) != std::string::npos);
      ++tried;
    }
  }
  CHECK(tried == 76);
}

TEST_CASE("fleet store: rows that were taken away or put in by hand are told") {
  const TmpDir dir;
  fill(dir / "whole");
  for (const char* sql :
       {"DELETE FROM acts WHERE stud = 2", "DELETE FROM acts WHERE wheel_id = 2", "DELETE FROM readings",
        "DELETE FROM predictions", "DELETE FROM prediction_points WHERE number = 1", "DELETE FROM prediction_points",
        "DELETE FROM imports WHERE id = 1", "DELETE FROM imports WHERE id = 3", "DELETE FROM wheels WHERE id = 1",
        "DELETE FROM wheels WHERE id = 2", "DELETE FROM totals",
        "INSERT INTO readings SELECT wheel_id, import_id, number + 1, content_sha256, stud, time, instant + 1, torque, "
        "moved, odometer, tool, operator, row_sha256 FROM readings",
        "INSERT INTO prediction_points VALUES (3, 2, 7200, 120e3, 140e3)",
        "INSERT INTO wheels SELECT 3, 'v', axle, wheel, studs, 0, 0, 0, row_sha256 FROM wheels WHERE id = 1",
        "UPDATE acts SET wheel_id = 2 WHERE stud = 2"}) {
    CAPTURE(sql);
    std::filesystem::copy_file(dir / "whole", dir / "s", std::filesystem::copy_options::overwrite_existing);
    by_hand(dir / "s", sql);
    CHECK(told_of(dir / "s").find("the store is damaged (table ") != std::string::npos);
  }
}

TEST_CASE("fleet store: a page that is read twice does not stand for the one that is read no more") {
  const TmpDir dir;
  {
    FleetStore store(dir / "s", StoreUse::Add);
    std::vector<StoredAct> many;
    for (std::size_t i = 0; i < 400; ++i) {
      many.push_back(act(2 + i % 8, 1000 + static_cast<double>(i))); // of one length, so that pages hold as many
    }
    REQUIRE(store.add(StoredFile{"a", "1"}, many).added == 400);
  }
  // SQLite's file format: an inner page has the number of its cells at 3, from 12 on where they are, and each begins
  // with the number of the page below it.
  const std::string bytes = read_text(dir / "s");
  const auto big_endian = [&](std::size_t at, std::size_t count) {
    std::size_t value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      value = value << 8U | static_cast<unsigned char>(bytes.at(at + i));
    }
    return value;
  };
  const std::size_t page = big_endian(16, 2);
  const auto root =
      static_cast<std::size_t>(number_of(dir / "s", "SELECT rootpage FROM sqlite_schema WHERE name = 'acts'"));
  const std::size_t at = (root - 1) * page;
  REQUIRE(static_cast<int>(bytes.at(at)) == 2);
  const std::size_t cells = big_endian(at + 3, 2);
  REQUIRE(cells > 10);
  const std::size_t last = at + big_endian(at + 12 + 2 * (cells - 1), 2);
  const std::size_t one_before = at + big_endian(at + 12 + 2 * (cells - 2), 2);
  patch(dir / "s", static_cast<std::streamoff>(last), static_cast<std::uint32_t>(big_endian(one_before, 4)));
  const FleetStore store(dir / "s");
  CHECK_THROWS_AS((void)store.acts(), FileError);
  CHECK(told_of(dir / "s").find("table acts") != std::string::npos);
  CHECK_THROWS_AS(FleetStore(dir / "s", StoreUse::Add), FileError);
}

TEST_CASE("fleet store: a table that is declared in another way is told before anything is read") {
  const TmpDir dir;
  fill(dir / "s");
  by_hand(dir / "s", "ALTER TABLE acts RENAME COLUMN torque TO turned");
  CHECK(told_of(dir / "s").find("the table acts is not declared as this program does it") != std::string::npos);
}

TEST_CASE("fleet store: wheels come one after the other by name, each with all that is known of it") {
  const TmpDir dir;
  fill(dir / "s");
  make_format1(dir / "old");
  const auto told = [](const std::string& path, const WheelFilter& which) {
    std::string out;
    const FleetStore store(path);
    store.each_wheel(which, [&](const StoredHistory& h) {
      out += h.wheel.vehicle + ' ' + std::to_string(h.acts.size()) + std::to_string(h.readings.size()) +
             std::to_string(h.predictions.size()) + ", ";
      for (const StoredAct& a : h.acts) {
        CHECK(a.wheel == h.wheel);
      }
    });
    return out;
  };
  CHECK(told(dir / "s", {}) == "demo vehicle 211, other vehicle 100, ");
  CHECK(told(dir / "s", {"other vehicle", "", ""}) == "other vehicle 100, ");
  CHECK(told(dir / "old", {}) == "demo 31 311, demo 32 200, demo 33 010, ");
  CHECK(told(dir / "old", {"", "", "right"}) == "demo 33 010, ");
}

TEST_CASE("fleet store: one of format 1 is read as it is, with a note, and stays as it is") {
  const TmpDir dir;
  make_format1(dir / "s");
  const std::string before = read_text(dir / "s");
  {
    const FleetStore store(dir / "s");
    CHECK(store.note().find("a store of format 1, whose rows have no sums") != std::string::npos);
    CHECK(store.wheels().size() == 3);
    CHECK(store.wheels()[1].id == WheelId{"demo 32", "front", "left"});
    CHECK(store.wheels()[1].studs == 3);
    const auto acts = store.acts();
    REQUIRE(acts.size() == 5);
    CHECK(acts[2].stud == 2);
    CHECK(acts[2].torque == 300);
    CHECK_FALSE(acts[2].inside);
    CHECK(acts[2].operator_name == "Fitter Q");
    CHECK(store.acts({"demo 32", "", ""}).size() == 2);
    CHECK(store.readings({"demo 31", "", ""}).at(0).moved);
    REQUIRE(store.predictions().size() == 1);
    CHECK(store.predictions()[0].points.size() == 4);
    CHECK(store.odometers({"demo 31"}).size() == 5);
  }
  CHECK(read_text(dir / "s") == before);
  // What was guarded then is guarded now.
  by_hand(dir / "s", "UPDATE acts SET torque = 301 WHERE torque = 300");
  const FleetStore store(dir / "s");
  CHECK_THROWS_AS((void)store.acts(), FileError);
}

TEST_CASE("fleet store: one of format 1 is brought forward by the first that adds, and holds what it held") {
  const TmpDir dir;
  make_format1(dir / "old");
  make_format1(dir / "s");
  const FleetStore old(dir / "old");
  {
    FleetStore store(dir / "s", StoreUse::Add);
    CHECK(store.note().find("brought from format 1 to format 2") != std::string::npos);
    const StoredFile records = {"again.csv", "80c5a9cd"};
    // What was there is known, by what it says and by its file.
    CHECK(store.add(records, old.acts()).known == 5);
    CHECK(store.add(records, std::vector<StoredAct>{}).file_known);
    StoredPrediction p = old.predictions()[0];
    CHECK(store.add(StoredFile{"copy.h5", p.digest}, p).file_known);
    CHECK(store.add(StoredFile{"b.csv", "2"}, std::vector{act(1, 5)}).added == 1);
  }
  const FleetStore store(dir / "s");
  CHECK(store.note().empty());
  const auto acts = store.acts({"demo 31", "", ""});
  const auto before = old.acts({"demo 31", "", ""});
  REQUIRE(acts.size() == before.size());
  for (std::size_t i = 0; i < acts.size(); ++i) {
    CHECK(acts[i].stud == before[i].stud);
    CHECK(acts[i].studs == before[i].studs);
    CHECK(acts[i].time == before[i].time);
    CHECK(acts[i].torque == before[i].torque);
    CHECK(acts[i].angle == before[i].angle);
    CHECK(acts[i].odometer == before[i].odometer);
    CHECK(acts[i].inside == before[i].inside);
    CHECK(acts[i].reasons == before[i].reasons);
    CHECK(acts[i].operator_name == before[i].operator_name);
  }
  CHECK(store.readings().size() == 2);
  REQUIRE(store.predictions().size() == 1);
  CHECK(store.predictions()[0].digest == old.predictions()[0].digest);
  CHECK(store.predictions()[0].points.back().clamp == old.predictions()[0].points.back().clamp);
  CHECK(number_of(dir / "s", "PRAGMA user_version") == kStoreFormat);
  CHECK(number_of(dir / "s", "PRAGMA freelist_count") == 0);
  CHECK(number_of(dir / "s", "SELECT count(*) FROM sqlite_schema WHERE name LIKE 'format1%'") == 0);
  CHECK(told_of(dir / "s").empty());
  by_hand(dir / "s", "UPDATE acts SET odometer = odometer + 1");
  CHECK(told_of(dir / "s").find("table acts") != std::string::npos);
}

TEST_CASE("fleet store: a damaged one of format 1 is not brought forward, and stays as it was") {
  const TmpDir dir;
  make_format1(dir / "s", "UPDATE readings SET torque = torque + 1;");
  const std::string before = read_text(dir / "s");
  try {
    const FleetStore store(dir / "s", StoreUse::Add);
    FAIL("damage was given sums");
  } catch (const FileError& e) {
    CHECK(e.code() == Code::FileTruncated);
    CHECK(std::string(e.what()).find("table readings") != std::string::npos);
  }
  CHECK(read_text(dir / "s") == before);
}

TEST_CASE("fleet store: a row of format 1 whose wheel, file or prediction is not there is told, not left out") {
  each_refused(Code::FileTruncated, {{"UPDATE acts SET wheel_id = 77 WHERE id = 1;", "damaged (table acts:"},
                                     {"UPDATE acts SET import_id = 77 WHERE id = 1;", "damaged (table acts:"},
                                     {"UPDATE readings SET wheel_id = 77;", "damaged (table readings:"},
                                     {"UPDATE readings SET import_id = 77;", "damaged (table readings:"},
                                     {"UPDATE predictions SET wheel_id = 77;", "damaged (table predictions:"},
                                     {"UPDATE predictions SET import_id = 77;", "damaged (table predictions:"},
                                     {"DELETE FROM predictions;", "damaged (table prediction_points:"}});
}

TEST_CASE("fleet store: one of format 1 that holds something of another's is read, but not brought forward") {
  each_refused(Code::Internal, {{"CREATE TABLE notes (text); INSERT INTO notes VALUES ('mine');", "table 'notes'"},
                                {"CREATE TABLE format1_acts (id);", "table 'format1_acts'"},
                                {"CREATE VIEW mine AS SELECT * FROM acts;", "view 'mine'"},
                                {"CREATE INDEX mine ON acts (stud);", "index 'mine'"},
                                {"ALTER TABLE acts ADD COLUMN mine TEXT;", "column 'mine' of the table acts"}});
  const TmpDir dir;
  make_format1(dir / "s", "ANALYZE;"); // what SQLite itself puts there is nobody's
  CHECK(refusal(dir / "s", StoreUse::Add, Code::Internal).empty());
}

TEST_CASE("fleet store: a text that may not reach a terminal and a number that is none are told when read") {
  each_refused(Code::FileTruncated, {{"UPDATE predictions SET title = char(27) || '[31m';", "a text of title"},
                                     {"UPDATE predictions SET source = CAST(x'ff' AS TEXT);", "a text of source"},
                                     {"UPDATE acts SET reasons = char(27);", "a text of reasons"},
                                     {"UPDATE acts SET tool = char(127);", "a text of tool"},
                                     {"UPDATE wheels SET wheel = char(155);", "a text of wheel"},
                                     {"UPDATE readings SET odometer = 9e999;", "a value of odometer"},
                                     {"UPDATE predictions SET odometer = -9e999;", "a value of odometer"},
                                     {"UPDATE prediction_points SET clamp = 9e999;", "a value of clamp"}});
  CHECK(showable("a\x1b[31m\xff") == "a?[31m?");
  CHECK(showable("N\xc2\xb7m\n") == "N\xc2\xb7m?");
}

TEST_CASE("fleet store: a prediction with a number that is none or a text that may not be shown is not added") {
  const TmpDir dir;
  fill(dir / "s");
  StoredPrediction p = FleetStore(dir / "s").predictions().at(0);
  p.digest = "another";
  const auto told = [&](const std::function<void(StoredPrediction&)>& change) {
    StoredPrediction other = p;
    change(other);
    return told_of_adding(dir / "s", other);
  };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double inf = std::numeric_limits<double>::infinity();
  CHECK(says(told([&](StoredPrediction& o) { o.points[1].time = nan; }),
             "run.h5: the file is damaged: the time of its records"));
  CHECK(
      says(told([&](StoredPrediction& o) { o.points[1].distance = inf; }), "the distance of its records is no finite"));
  CHECK(says(told([&](StoredPrediction& o) { o.required_clamp = nan; }), "the required_clamp of its prediction"));
  CHECK(says(told([&](StoredPrediction& o) { o.recheck_distance = inf; }), "the recheck_distance of its prediction"));
  CHECK(says(told([&](StoredPrediction& o) { o.title = "\x1b[31m"; }), "the title of its prediction holds control"));
  CHECK(told([](StoredPrediction&) {}).empty());
}

TEST_CASE("fleet store: a name that SQLite would take for something else is a path like any other") {
  const TmpDir dir;
  const std::filesystem::path before = std::filesystem::current_path();
  std::filesystem::current_path(dir / "");
  for (const std::string name : {"file:s", ":memory:", "file::memory:", "file:s?mode=ro"}) {
    CAPTURE(name);
    fill(name);
    CHECK(told_of(name).empty());
    CHECK(files_in(".") == name + ' ');
    by_hand(name, "DELETE FROM totals");
    CHECK(says(told_of(name), name + ": the store is damaged"));
    std::filesystem::remove(name);
  }
  CHECK(says(refusal("gone/s", StoreUse::Add, Code::FileWrite), "see that it and its folder"));
  CHECK(files_in(".").empty());
  std::filesystem::current_path(before);
}

TEST_CASE("fleet store: nothing is added to one with a trigger") {
  const TmpDir dir;
  const std::string trigger = "CREATE TRIGGER 'mi\x1bne' AFTER INSERT ON acts BEGIN DELETE FROM readings; END;";
  fill(dir / "s");
  make_format1(dir / "old", trigger);
  {
    FleetStore open(dir / "s", StoreUse::Add); // the trigger comes later
    by_hand(dir / "s", trigger);
    CHECK_THROWS_AS(open.add(StoredFile{"b", "b"}, std::vector{act(5, 5)}), FileError);
  }
  for (const char* name : {"s", "old"}) {
    CAPTURE(name);
    const std::string before = read_text(dir / name);
    CHECK(refusal(dir / name, StoreUse::Read, Code::Internal).empty());
    CHECK(says(told_of(dir / name), "the trigger 'mi?ne' in it"));
    CHECK(read_text(dir / name) == before);
  }
}

TEST_CASE("fleet store: a format below the first is not told as a newer one") {
  const TmpDir dir;
  for (const std::int32_t format : {0, -1}) {
    fill(dir / "s");
    patch(dir / "s", 60, static_cast<std::uint32_t>(format));
    const std::string told = refusal(dir / "s", StoreUse::Read, Code::FileVersion);
    CHECK(says(told, "this file says " + std::to_string(format)));
    CHECK_FALSE(says(told, "newer"));
    std::filesystem::remove(dir / "s");
  }
}

TEST_CASE("fleet store: what SQLite refuses is told with what to do") {
  const TmpDir dir;
  fill(dir / "s");
  const auto told = [&](const std::string& first, const std::string& then) {
    Database db(dir / "s");
    db.run(first);
    try {
      db.run(then);
    } catch (const FileError& e) {
      return std::string(e.what());
    }
    return std::string();
  };
  const std::string remove = "DELETE FROM units";
  CHECK(says(told("PRAGMA query_only = ON", remove), "it may not be written to; ask for that right, or use a copy"));
  write_text(dir / "s-journal", "");
  CHECK(says(told("PRAGMA query_only = ON", remove), "s-journal, is put right only where both may be written to"));
  std::filesystem::remove(dir / "s-journal");
  CHECK(says(told("PRAGMA max_page_count = 1", "CREATE TABLE more (x); INSERT INTO more VALUES (zeroblob(1000000))"),
             "the disk is full, nothing was added; make room"));
  CHECK(says(told(remove, "INSERT INTO units VALUES ('a', 'b', NULL, 'd')"), "a row is not one that a store takes"));
}

TEST_CASE("fleet store: what a killed maker left is cleared by the next, what a living one has is left alone") {
  const TmpDir dir;
  const pid_t gone = ::fork();
  if (gone == 0) {
    ::_exit(0);
  }
  REQUIRE(::waitpid(gone, nullptr, 0) == gone);
  const std::string left = "s." + std::to_string(gone) + ".part";
  const std::string living = "s." + std::to_string(::getppid()) + ".part";
  for (const std::string& name : {left, left + "-journal", living, std::string("s.x.part"), left + ".kept"}) {
    write_text(dir / name, "x");
  }
  { const FleetStore store(dir / "s", StoreUse::Add); }
  std::set<std::string> names = {"s", living, "s.x.part", left + ".kept"};
  std::string expected;
  for (const std::string& name : names) {
    expected += name + ' ';
  }
  CHECK(files_in(dir / "") == expected);
}

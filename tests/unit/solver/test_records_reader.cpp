#include "solver/diagnostics.hpp"
#include "solver/io/instant.hpp"
#include "solver/io/records_reader.hpp"
#include "solver/io/scenario.hpp"
#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/scenario_text.hpp"
#include "tests/support/words.hpp"

#include <doctest/doctest.h>

#include <iterator>
#include <random>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// What reading the text says; empty where nothing is wrong.
std::string faults(const std::string& text) {
  const TmpDir dir;
  write_text(dir / "r.csv", text);
  try {
    (void)read_records(dir / "r.csv", 10);
  } catch (const InputError& e) {
    return e.what();
  }
  return "";
}

RecordsFile read_from(const std::string& text) {
  const TmpDir dir;
  write_text(dir / "r.csv", text);
  return read_records(dir / "r.csv", std::nullopt);
}

} // namespace

TEST_CASE("records reader: columns not separated by commas are told once, with what is needed") {
  for (const char* separator : {";", "\t"}) {
    CAPTURE(separator);
    std::string text = "stud,torque,torque_unit\n1,640,N*m\n2,640,N*m\n";
    for (std::size_t at = text.find(','); at != std::string::npos; at = text.find(',')) {
      text.replace(at, 1, separator);
    }
    const std::string told = faults(text);
    CHECK(has(told, *separator == ';' ? "columns are separated by ';'" : "columns are separated by tabs"));
    CHECK(has(told, "commas between columns: stud, torque, torque_unit"));
    CHECK(has(told, "write commas, and a point in decimal numbers"));
    CHECK(told.find("error [") == told.rfind("error ["));
  }
  CHECK(has(faults("stud;torque;torque_unit\n1;640,5;N*m\n"), "columns are separated by ';'"));
  CHECK_FALSE(has(faults("stud,torque,torque_unit,tool\n1,640,N*m,a;b\n"), "separated"));
}

TEST_CASE("records reader: instants of ISO 8601, with and without an offset") {
  CHECK(read_instant("1970-01-02T00:00:01")->seconds == 86401);
  CHECK(read_instant("2024-04-09T06:12:00Z")->seconds == 1712643120); // by `date -d`
  CHECK(read_instant("2024-04-09T08:12:00+02:00")->seconds == 1712643120);
  CHECK(read_instant("2024-04-08T21:42-0830")->seconds == 1712643120);
  CHECK(read_instant("2024-04-09 06:12:00.25")->seconds == close(1712643120.25, 1e-6, 0));
  CHECK_FALSE(read_instant("2024-04-09T06:12:00")->ahead.has_value());
  CHECK(read_instant("2024-04-09T06:12:00Z")->ahead.value() == 0);
  CHECK(instant_text(1712643120, 7200) == "2024-04-09T08:12:00+02:00");
  CHECK(instant_text(1712643120, -30600) == "2024-04-08T21:42:00-08:30");
  CHECK_FALSE(read_instant("2024-04-09")->time);
  CHECK(read_instant("2024-02-29").has_value());
  CHECK(instant_text(read_instant("2024-02-29T23:59:59")->seconds) == "2024-02-29T23:59:59");
  for (const char* bad :
       {"", "2023-02-29", "2024-13-01", "2024-4-9", "09.04.2024", "2024-04-09T24:00", "2024-04-09T6:12",
        "2024-04-09T06:61", "2024-04-09T06:12:", "2024-04-09T06:12:00+15:00", "2024-04-09T06:12:00+2",
        "2024-04-09T06:12:00 ", "2024-04-09T", "2024-04-09T06:12:00Zulu", "1712643120"}) {
    CAPTURE(bad);
    CHECK_FALSE(read_instant(bad).has_value());
  }
}

TEST_CASE("records reader: a spreadsheet's mark, line ends and quoted cells are read through") {
  const RecordsFile file = read_from("\xEF\xBB\xBFstud,torque,torque_unit,vehicle,angle_deg,time\r\n"
                                     "# a comment\r\n"
                                     "3,100,lbf*ft,\"van, the \"\"old\"\" one\",90,2024-04-09T06:12\r\n");
  REQUIRE(file.records.size() == 1);
  CHECK(file.records[0].stud == 2);
  CHECK(file.records[0].torque == close(135.5817948, 1e-6, 0)); // 100 lbf ft
  CHECK(file.records[0].vehicle == "van, the \"old\" one");
  CHECK(file.records[0].angle.value() == close(1.5707963267948966, 0, 1e-14));
  CHECK(file.records[0].line == 3);
  CHECK(file.records[0].instant.has_value());
}

TEST_CASE("records reader: an angle in two units and one of more than a hundred turns are faults with their line") {
  const std::string head = "stud,torque,torque_unit,angle_deg,angle_rad\n";
  CHECK(faults(head + "1,600,N*m,90,\n2,600,N*m,,-628\n3,600,N*m,36000,\n").empty());
  const std::string said = faults(head + "1,600,N*m,90,\n2,600,N*m,90,1.57\n3,600,N*m,36001,\n4,600,N*m,,-629\n");
  CHECK(has(said, "r.csv:3: error [input.inconsistent] angle_rad"));
  CHECK(has(said, "r.csv:4: error [input.out_of_range] angle_deg: '36001' is more than 100 turns"));
  CHECK(has(said, "r.csv:5: error [input.out_of_range] angle_rad: '-629' is more than 100 turns"));
  CHECK_FALSE(has(said, "r.csv:2:"));
}

TEST_CASE("records reader: every bad cell is told with its line, all at once") {
  const std::string said = faults("stud,torque,torque_unit,time,pass,set_torque,odometer,odometer_unit\n"
                                  "1,600,N*m,yesterday,1,,1,km\n"
                                  "x,600,N*m,,1,,1,km\n"
                                  "11,600,N*m,,1,,1,km\n"
                                  "2,600,furlong,,1,,1,km\n"
                                  "3,600,N*m,,0,,1,km\n"
                                  "4,600,N*m,,1,abc,1,km\n"
                                  "5,600,N*m,,1,,1,kg\n"
                                  "6,600,N*m,,1\n");
  for (const char* line :
       {"r.csv:2: error [input.wrong_type] time: 'yesterday' is no date and time",
        "r.csv:3: error [input.not_a_number] stud", "r.csv:4: error [input.out_of_range] stud",
        "r.csv:5: error [input.unknown_unit] torque", "r.csv:6: error [input.out_of_range] pass",
        "r.csv:7: error [input.not_a_number] set_torque", "r.csv:8: error [input.wrong_dimension] odometer",
        "r.csv:9: error [input.syntax] 5 cells", "8 errors"}) {
    CAPTURE(said);
    CHECK(has(said, line));
  }
  CHECK(has(faults("stud,torque,torque_unit,opertor\n1,600,N*m,a\n"), "did you mean operator?"));
  CHECK(has(faults("stud,torque,torque_unit,odometer\n1,600,N*m,1\n"), "missing_key] odometer_unit"));
  CHECK(has(faults(""), "no rows below its header"));
  CHECK(has(faults("stud,torque,torque_unit\n"), "no rows below its header"));
  CHECK(has(faults(std::string("stud,torque,torque_unit\n1,6\0,N*m\n", 33)), "control character"));
}

TEST_CASE("records reader: mangled files are read or refused with a place, and nothing else happens") {
  const std::string good = "\xEF\xBB\xBFstud,torque,torque_unit,angle_deg,time,vehicle,pass,set_torque\r\n"
                           "1,475,lbf*ft,60,2024-04-09T06:12:00+02:00,\"van, \"\"old\"\"\",1,644\r\n"
                           "6,4.7e2,N*m,,2024-04-09,,2,\r\n";
  const std::string pieces[] = {"",      ",",   "\"",   "\n",       "\r",   "#", "-",
                                "1e999", "nan", "\xFF", "\xC2\x85", "0x10", " ", "99"};
  std::mt19937 draw(11);
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(draw() % n); };
  std::size_t refused = 0;
  const TmpDir dir;
  for (int i = 0; i < 1500; ++i) {
    std::string text = good;
    for (std::size_t k = 1 + below(2); k > 0; --k) {
      text.replace(below(text.size()), below(4), pieces[below(std::size(pieces))]);
    }
    write_text(dir / "r.csv", text);
    CAPTURE(text);
    try {
      for (const TighteningRecord& r : read_records(dir / "r.csv", 10).records) {
        CHECK(r.stud < 10);
        CHECK(r.torque > 0); // neither infinite nor no number
        CHECK(r.torque <= 1e5);
        CHECK(r.line >= 2);
      }
    } catch (const InputError& e) {
      ++refused;
      REQUIRE_FALSE(e.diagnostics().empty());
      CHECK(e.diagnostics().front().place.file == dir / "r.csv");
    }
  }
  CHECK(refused > 300);
  CHECK(refused < 1460); // some are read
}

TEST_CASE("records reader: times with and without an offset in one file are warned of") {
  const auto warned = [](const std::string& second) {
    return read_from("stud,torque,torque_unit,time\n1,600,N*m,2024-04-09T06:12:00\n2,600,N*m," + second + "\n")
        .warnings.size();
  };
  CHECK(warned("2024-04-09T06:13:00+02:00") == 1);
  CHECK(warned("2024-04-09T06:13:00") == 0);
}

TEST_CASE("records reader: readings say of what vehicle they are, when, and whether the nut moved") {
  const TmpDir dir;
  write_text(dir / "c.csv", "vehicle,axle,wheel,stud,time,torque,torque_unit,moved,odometer,odometer_unit\n"
                            "demo,front,left,4,2024-05-01,500,N*m,yes,1200,km\n");
  const ReadingsFile file = read_readings(dir / "c.csv");
  REQUIRE(file.readings.size() == 1);
  CHECK(file.readings[0].moved);
  CHECK(file.readings[0].record.odometer.value() == 1.2e6);
  write_text(dir / "c.csv", "vehicle,axle,wheel,stud,time,torque,torque_unit,moved\n,front,left,4,,500,N*m,maybe\n");
  try {
    (void)read_readings(dir / "c.csv");
    FAIL("nothing was thrown");
  } catch (const InputError& e) {
    CHECK(e.diagnostics().size() == 3);
    CHECK(has(e.what(), "'maybe' does not say whether the nut turned"));
  }
}

TEST_CASE("records reader: a tool is one of the catalogue") {
  CHECK(read_tool("click wrench", "--tool").relative_deviation() == close(0.685 / 2.685 / 2, 0, 1e-12));
  CHECK_THROWS_AS((void)read_tool("clik wrench", "--tool"), InputError);
}

namespace {

/// A scenario of ten studs whose torques are those of a file of two vehicles, `selection` beside its name.
std::string with_records(const TmpDir& dir, const std::string& selection) {
  std::string rows = "vehicle,axle,wheel,stud,pass,torque,torque_unit,time\n";
  int torque = 500;
  for (const char* wheel : {"v 1,front,left", "v 1,front,right", "v 2,front,left"}) {
    for (int pass = 1; pass <= 2; ++pass) {
      for (int stud = 1; stud <= 10; ++stud) {
        rows += std::string(wheel) + "," + std::to_string(stud) + "," + std::to_string(pass) + "," +
                std::to_string(torque++) + ",N*m,2024-04-09T06:12:00\n";
      }
    }
  }
  rows += "v 2,front,right,12,1,600,N*m,2024-04-09\n"; // a wheel of more studs than the scenario has
  rows += "v 2,front,left,1,1,700,N*m,2024-05-01\nv 2,front,left,1,2,701,N*m,2024-05-01\n";
  write_text(dir / "records.csv", rows);
  ScenarioText s;
  std::string text = s.text();
  const std::size_t at = text.find("tightening: {");
  text.insert(at + 13, "records: " + selection + ", ");
  return text;
}

std::vector<double> torques(const TmpDir& dir, const std::string& selection) {
  return read_scenario_text(with_records(dir, selection), dir / "s.yaml").tightening.torque;
}

std::string refused(const TmpDir& dir, const std::string& selection) {
  try {
    (void)read_scenario_text(with_records(dir, selection), dir / "s.yaml");
  } catch (const InputError& e) {
    return flat(e.what());
  }
  return "";
}

} // namespace

TEST_CASE("records reader: a scenario takes the last pass of the wheel it names from a file of many") {
  const TmpDir dir;
  const auto right = torques(dir, "{file: records.csv, vehicle: v 1, axle: front, wheel: right}");
  REQUIRE(right.size() == 10);
  CHECK(right[0] == 530);
  CHECK(right[9] == 539);
  const auto left = torques(dir, "{file: records.csv, vehicle: v 1, wheel: left}"); // the axle is the only one
  CHECK(left[0] == 510);
  const auto first_day = torques(dir, "{file: records.csv, vehicle: v 2, wheel: left, date: 2024-04-09}");
  CHECK(first_day[0] == 550);
  const auto later = torques(dir, "{file: records.csv, vehicle: v 2, wheel: left, date: 2024-05-01}");
  CHECK(later[0] == 701);
  CHECK(later[1] == 640); // the scenario's own
}

TEST_CASE("records reader: a selection that leads to no wheel, or to several, says which there are") {
  const TmpDir dir;
  const std::string all = refused(dir, "records.csv");
  CHECK(has(all, "tightening/records: the records are of 4 wheels"));
  CHECK(has(all,
            "vehicle, axle and wheel of one of these: v 1 / front / left, v 1 / front / right, v 2 / front / left, "
            "v 2 / front / right"));
  const std::string wrong = refused(dir, "{file: records.csv, vehicle: v 3, axle: front, wheel: left}");
  CHECK(has(wrong, "tightening/records/vehicle: no record has the vehicle 'v 3'"));
  CHECK(has(wrong, "allowed: v 1, v 2"));
  CHECK(has(wrong, "1 error"));
  const std::string days = refused(dir, "{file: records.csv, vehicle: v 2, axle: front, wheel: left}");
  CHECK(has(days, "the wheel was tightened on 2 days"));
  CHECK(has(days, "the date of one of these: 2024-04-09, 2024-05-01"));
  CHECK(has(refused(dir, "{file: records.csv, vehicle: v 2, wheel: right}"), "there is no stud '12'"));
  CHECK(has(refused(dir, "{file: records.csv, vehicle: v 1, wheel: [left]}"), "a list where a text is due"));
}

TEST_CASE("records reader: a run of one wheel of many resumes from its own text, without the file") {
  const TmpDir dir;
  const Scenario s = read_scenario_text(
      with_records(dir, "{file: records.csv, vehicle: v 1, axle: front, wheel: right}"), dir / "s.yaml");
  const Scenario again = read_scenario_text(s.resolved_text, "elsewhere.yaml", resolved_options());
  CHECK(again.tightening.torque == s.tightening.torque);
  CHECK(again.resolved_text == s.resolved_text);
  REQUIRE(again.records.size() == 10);
  CHECK(again.records[3].wheel == "right");
}

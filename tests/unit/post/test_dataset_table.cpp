#include "post/dataset_table.hpp"
#include "solver/io/history_hdf5.hpp"
#include "tests/support/close.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/synthetic.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <functional>
#include <limits>
#include <map>
#include <sstream>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

using Lines = std::vector<std::vector<std::string>>;

/// CSV as RFC 4180 has it, quotes and line breaks in cells included.
Lines parse(const std::string& csv) {
  Lines lines(1);
  std::string cell;
  bool quoted = false;
  for (std::size_t i = 0; i < csv.size(); ++i) {
    const char c = csv[i];
    if (quoted && c == '"' && i + 1 < csv.size() && csv[i + 1] == '"') {
      cell += c;
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && (c == ',' || c == '\n')) {
      lines.back().push_back(cell);
      cell.clear();
      if (c == '\n') {
        lines.emplace_back();
      }
    } else {
      cell += c;
    }
  }
  REQUIRE(lines.back().empty()); // the last line has its end
  lines.pop_back();
  return lines;
}

constexpr std::size_t kRows = 12;

/// A history of invented numbers; `change` has the last word on its header.
template <class Change>
void write(const std::string& path, Change change) {
  RunHeader header = synthetic_header();
  change(header);
  HistoryWriter writer(path);
  writer.begin(header);
  for (std::size_t i = 0; i < 2 * kStuds; ++i) {
    writer.act(synthetic_act(i));
  }
  synthetic_rows(writer, 0, kRows, 100);
  RecordRow last = synthetic_record(kRows);
  last.slip_margin = std::numeric_limits<double>::infinity();
  writer.record(last);
  writer.end(RunStatus::Complete, "", {});
}
void write(const std::string& path) {
  write(path, [](RunHeader&) {});
}

std::string why_not(const History& history, const std::vector<std::string>& datasets) {
  try {
    (void)long_table(history, datasets, std::nullopt);
  } catch (const std::invalid_argument& e) {
    return e.what();
  }
  return "it was not refused";
}
bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("table: a series in long form has every value of the history, to the bit") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const Lines lines = parse(to_csv(long_table(history, {"loss"}, std::nullopt)));
  CHECK(lines[0] == std::vector<std::string>{"time [s]", "distance [m]", "stud", "mechanism", "loss [m]"});
  const std::vector<double> loss = history.series("loss");
  const std::vector<double> time = history.series("time");
  const std::vector<double> distance = history.series("distance");
  REQUIRE(lines.size() == 1 + loss.size());
  for (std::size_t i = 0; i < loss.size(); ++i) {
    const std::size_t row = i / (kStuds * kMechanisms);
    const std::vector<std::string>& line = lines[1 + i];
    CHECK(std::stod(line[0]) == time[row]);
    CHECK(std::stod(line[1]) == distance[row]);
    CHECK(line[2] == history.studs()[i / kMechanisms % kStuds]);
    CHECK(line[3] == history.mechanisms()[i % kMechanisms]);
    CHECK(std::stod(line[4]) == loss[i]);
  }
}

TEST_CASE("table: no value is an empty cell, infinity is inf, and both are null in JSON") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const LongTable layers = long_table(history, {"layer_thickness"}, std::nullopt);
  const Lines lines = parse(to_csv(layers));
  CHECK(lines[0][3] == "layer");
  CHECK(lines[1].back() == "8e-05");                 // recorded at even rows
  CHECK(lines[1 + kStuds * kLayers].back().empty()); // and not at odd ones
  const LongTable margin = long_table(history, {"slip_margin"}, std::nullopt);
  CHECK(parse(to_csv(margin)).back().back() == "inf");
  const auto json = nlohmann::json::parse(to_json(margin, history));
  CHECK(json["rows"].back().back().is_null());
  CHECK(json["rows"].size() == kRows + 1);
  CHECK(json["rows"][3] == nlohmann::json::array({3 * 3600.0, 3000.0, 2 - 3e-5}));
  CHECK(json["columns"][2] == nlohmann::json{{"name", "slip_margin"}, {"unit", "1"}});
}

TEST_CASE("table: acts of the wrench and events are placed by when, which stud and what") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const Lines acts = parse(to_csv(long_table(history, {"tightening_clamp", "tightening_moved"}, std::nullopt)));
  CHECK(acts[0] == std::vector<std::string>{"act", "time [s]", "pass [1]", "stud", "tightening_clamp [N]",
                                            "tightening_moved [1]"});
  CHECK(acts[5] == std::vector<std::string>{"4", "-10", "2", "2", "150004", "1"});
  CHECK(acts.size() == 1 + 2 * kStuds);
  const Lines events = parse(to_csv(long_table(history, {"event_text"}, std::nullopt)));
  CHECK(events[0] == std::vector<std::string>{"event", "time [s]", "distance [m]", "stud", "kind", "event_text"});
  CHECK(events[1] == std::vector<std::string>{"0", "7201", "2000", "3", "gap", "event of row 2"});
  CHECK(events[2][3] == "wheel"); // row 5 is of the whole wheel
}

TEST_CASE("table: figures of the joint are found with and without their group's folder") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const std::string csv = to_csv(long_table(history, {"joint/design_cases/required"}, std::nullopt));
  CHECK(csv == "item,required [N]\nhard stop,80000\ncorner,40000\n");
  CHECK(to_csv(long_table(history, {"design_cases/required"}, std::nullopt)) == csv);
  CHECK(to_csv(long_table(history, {"required_clamp"}, std::nullopt)) == "required_clamp [N]\n80000\n");
  CHECK(to_csv(long_table(history, {"/stud"}, std::nullopt)) == "stud\n1\n2\n3\n");
  CHECK(to_csv(long_table(history, {"time"}, std::nullopt)).rfind("distance [m],time [s]\n0,0\n1000,3600\n", 0) == 0);
}

TEST_CASE("table: with a system of units numbers are converted and the header says so") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const auto last_cell = [&](const std::string& dataset, System system) {
    const Lines lines = parse(to_csv(long_table(history, {dataset}, system)));
    return std::pair(lines[0].back(), std::stod(lines[1].back()));
  };
  CHECK(last_cell("clamp", System::Si).first == "clamp [kN]");
  CHECK(last_cell("clamp", System::Si).second == close(180, 0, 1e-14));
  CHECK(last_cell("clamp", System::Us).first == "clamp [lbf]");
  CHECK(last_cell("clamp", System::Us).second == close(180e3 / 4.4482216152605, 0, 1e-14));
  CHECK(last_cell("temperature", System::Us).first == "temperature [\u00B0F]");
  CHECK(last_cell("temperature", System::Us).second == close(290 * 1.8 - 459.67, 1e-10, 0));
  CHECK(last_cell("check_torque", System::Us).first == "check_torque [lbf\u00B7ft]");
  CHECK(last_cell("layer_thickness", System::Si).first == "layer_thickness [\u00B5m]");
  CHECK(last_cell("layer_thickness", System::Si).second == close(80, 0, 1e-12));
  const Lines lines = parse(to_csv(long_table(history, {"clamp"}, System::Us)));
  CHECK(lines[0][1] == "distance [mi]");
  CHECK(std::stod(lines[1 + kStuds][1]) == close(1000 / 1609.344, 0, 1e-14));
  CHECK(lines[0][0] == "time [s]"); // in both
}

TEST_CASE("table: names with commas, quotes and line breaks survive CSV and JSON") {
  const TmpDir dir;
  const std::vector<std::string> nodes = {"drum, left \"old\"\nrear", "<hub>&;=cmd"};
  write(dir / "a.h5", [&](RunHeader& h) { h.nodes = nodes; });
  const History history(dir / "a.h5");
  const LongTable table = long_table(history, {"temperature"}, std::nullopt);
  const Lines lines = parse(to_csv(table));
  REQUIRE(lines.size() == 1 + (kRows + 1) * kNodes);
  CHECK(lines[1][2] == nodes[0]);
  CHECK(lines[2][2] == nodes[1]);
  for (const std::vector<std::string>& line : lines) {
    CHECK(line.size() == 4);
  }
  CHECK(nlohmann::json::parse(to_json(table, history))["rows"][0][2] == nodes[0]);
}

TEST_CASE("table: what does not exist or does not fit is refused with what to do") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  CHECK(has(why_not(history, {"clmap"}), "there is no dataset 'clmap', did you mean clamp?"));
  CHECK(has(why_not(history, {"required_clap"}), "did you mean required_clamp?"));
  CHECK(has(why_not(history, {"clamp", "temperature"}), "print each by itself"));
  CHECK(has(why_not(history, {"clamp", "tightening_clamp"}), "print each by itself"));
  CHECK(has(why_not(history, {}), "--list"));
  CHECK(has(why_not(history, {"checkpoint/numbers"}), "there is no dataset"));
}

TEST_CASE("table: a history that lacks the places of a dataset, or has fewer of them, is damaged") {
  const auto why = [](const char* dataset, const std::function<void(hid_t)>& edit) -> std::string {
    const TmpDir dir;
    const std::string path = dir / "a.h5";
    write(path);
    h5::quiet();
    edit(h5::open_on_disk(path));
    seal_again(path);
    try {
      (void)long_table(History(path), {dataset}, std::nullopt);
    } catch (const FileError& e) {
      CHECK(e.code() == Code::FileTruncated);
      return e.what();
    }
    return "";
  };
  CHECK(why("event_kind", [](hid_t) {}).empty());
  const auto gone = [](hid_t f) { h5::check(H5Ldelete(f, "/event_stud", H5P_DEFAULT), "delete"); };
  CHECK(has(why("event_kind", gone), "a.h5: the file is damaged: event_stud is not there"));
  const auto two_names = [](hid_t f) {
    h5::check(H5Ldelete(f, "/distance", H5P_DEFAULT), "delete");
    h5::check(H5Lcreate_hard(f, "/time", f, "/distance", H5P_DEFAULT, H5P_DEFAULT), "link");
  };
  CHECK(has(why("time", two_names), "a.h5: the file is damaged: time is not there"));
  const auto fewer = [](hid_t f) {
    h5::check(H5Ldelete(f, "/tightening_stud", H5P_DEFAULT), "delete");
    (void)h5::create_dataset(f, "/tightening_stud", H5T_STD_I64LE, std::vector<hsize_t>{1}, false, "1", "fewer");
  };
  CHECK(has(why("tightening_torque", fewer), "tightening_stud is of another length"));
}

TEST_CASE("table: the list has every dataset with unit and shape, as text and as JSON") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const std::string text = dataset_list(history);
  CHECK(has(text, "loss [m], time 13 x stud 3 x mechanism 11\n    seating loss since tightening\n"));
  CHECK(has(text, "event_text [text], event 4\n"));
  CHECK(has(text, "joint/design_cases/required [N], item 2\n"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    CHECK(line.size() <= 100);
  }
  const auto json = nlohmann::json::parse(dataset_list_json(history));
  CHECK(json.size() == history.datasets().size());
  std::map<std::string, nlohmann::json> by_name;
  for (const auto& one : json) {
    by_name[one["name"]] = one;
  }
  CHECK(by_name["clamp"]["shape"] == nlohmann::json::array({13, 3}));
  CHECK(by_name["clamp"]["axes"] == nlohmann::json::array({"time", "stud"}));
  CHECK(by_name["event_kind"]["type"] == "text");
}

TEST_CASE("table: the program prints, writes files, and refuses with the right exit code") {
  const TmpDir dir;
  write(dir / "a.h5");
  const std::string command = quote(CLAMPFADE_REPORT) + " table " + quote(dir / "a.h5");
  const CliResult printed = run_cli(command + " --dataset clamp");
  CHECK(printed.exit == 0);
  CHECK(printed.out.rfind("time [s],distance [m],stud,clamp [N]\n0,0,1,180000\n", 0) == 0);
  const CliResult wrong = run_cli(command + " --dataset clmap");
  CHECK(wrong.exit == 2);
  CHECK(has(wrong.err, "did you mean clamp?"));
  CHECK(wrong.out.empty());
  CHECK(run_cli(command).exit == 2);
  CHECK(run_cli(command + " --list --units si").exit == 2);

  const std::string out = dir / "c.csv";
  CHECK(run_cli(command + " --dataset clamp -o " + quote(out)).exit == 0);
  CHECK(read_text(out) == printed.out);
  write_text(out, "mine");
  const CliResult refused = run_cli(command + " --dataset clamp -o " + quote(out));
  CHECK(refused.exit == 4);
  CHECK(has(refused.err, "--force overwrites it"));
  CHECK(read_text(out) == "mine");
  CHECK(run_cli(command + " --dataset clamp --force -o " + quote(out)).exit == 0);
  CHECK(read_text(out) == printed.out);
  // Never the history, not even by force.
  CHECK(run_cli(command + " --dataset clamp --force -o " + quote(dir / "a.h5")).exit == 4);
  CHECK(run_cli(command + " --list").exit == 0);
  CHECK(run_cli(command + " --dataset clamp -o " + quote(dir / "no/such/folder.csv")).exit == 4);
}

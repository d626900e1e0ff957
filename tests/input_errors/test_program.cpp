// What the program says through its exit code, and on which of its two outputs.
#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <sys/wait.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;

struct Outcome {
  int code = -1;
  std::string out, err;
};

class Folder {
public:
  Folder() {
    char name[] = "/tmp/clampfade-test-XXXXXX";
    path_ = mkdtemp(name);
  }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  [[nodiscard]] Outcome run(const std::string& arguments) const {
    const std::string command = "cd '" + path_.string() +
                                "' && CLAMPFADE_CATALOGUE='" CLAMPFADE_SOURCE "/models/catalogue' '" CLAMPFADE_PROGRAM
                                "' " +
                                arguments + " >out.txt 2>err.txt";
    const int status = std::system(command.c_str());
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, text("out.txt"), text("err.txt")};
  }
  void write(const std::string& name, const std::string& content) const { std::ofstream(path_ / name) << content; }
  [[nodiscard]] bool has(const std::string& name) const { return fs::exists(path_ / name); }

private:
  fs::path path_;
  [[nodiscard]] std::string text(const std::string& name) const {
    std::stringstream s;
    s << std::ifstream(path_ / name).rdbuf();
    return s.str();
  }
};

const std::string kErrors = CLAMPFADE_SOURCE "/tests/input_errors/";
const std::string kGood = CLAMPFADE_SOURCE "/scenarios/bare-steel-duals.yaml";

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Runs of spaces as one.
std::string plain_spaces(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c != ' ' || out.empty() || out.back() != ' ') {
      out += c;
    }
  }
  return out;
}

} // namespace

TEST_CASE("program: faults of a scenario go to stderr with exit code 2") {
  const Outcome o = Folder().run("check " + kErrors + "many.yaml");
  CHECK(o.code == 2);
  CHECK(o.out.empty());
  CHECK(contains(o.err, "many.yaml:6:28: error [input.missing_unit] joint/head/bearing_diameter"));
}

TEST_CASE("program: what can't be read is exit code 4, what is no command exit code 2") {
  const Folder folder;
  CHECK(folder.run("check nowhere.yaml").code == 4);
  CHECK(folder.run("simulate nowhere.yaml").code == 4);
  CHECK(folder.run("resume nowhere.h5").code == 4);
  CHECK(folder.run("check").code == 2);
  CHECK(folder.run("chekc x.yaml").code == 2);
  CHECK(contains(folder.run("chekc x.yaml").err, "'chekc' is no command of clampfade, did you mean check?"));
  CHECK(contains(folder.run("summary x.h5").err, "clampfade-report has it"));
  CHECK(folder.run("check x.yaml --units metric").code == 2);
  CHECK(folder.run("").code == 2);
}

TEST_CASE("program: check prints figures in both systems of units, with the cautions") {
  const Folder folder;
  const Outcome si = folder.run("check " + kGood);
  CHECK(si.code == 0);
  CHECK(si.err.empty());
  CHECK(contains(plain_spaces(si.out), " 644.0 N\xC2\xB7m\n"));
  CHECK(contains(si.out, "not a release to service"));
  const Outcome us = folder.run("check --units us " + kGood);
  CHECK(contains(plain_spaces(us.out), " 475.0 lbf\xC2\xB7"
                                       "ft\n"));
  CHECK(!contains(us.out, "644.0"));
}

TEST_CASE("program: check begins with the key figures and keeps to a page of 100 columns") {
  const Folder folder;
  // A design case and a part whose names are as long as people make them.
  std::string text = [] {
    std::stringstream s;
    s << std::ifstream(CLAMPFADE_SOURCE "/scenarios/aluminium-spring-washers.yaml").rdbuf();
    return s.str();
  }();
  const std::string long_name =
      "outer disc of the second wheel with all that the workshop has ever called it, and then some more of the same";
  for (std::size_t at = text.find("part: outer disc"); at != std::string::npos;
       at = text.find("part: outer disc", at + 6)) {
    text.replace(at, 16, "part: \"" + long_name + "\"");
  }
  folder.write("long.yaml", text);
  for (const std::string& file :
       std::vector<std::string>{kGood, "long.yaml", CLAMPFADE_SOURCE "/scenarios/one-loose-stud.yaml"}) {
    for (const std::string& units : std::vector<std::string>{"si", "us"}) {
      CAPTURE(file);
      const Outcome o = folder.run("check --units " + units + " " + file);
      REQUIRE(o.code == 0);
      std::istringstream lines(o.out);
      for (std::string line; std::getline(lines, line);) {
        const auto columns = std::count_if(line.begin(), line.end(),
                                           [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
        CAPTURE(line);
        CHECK((columns <= 100 || contains(line, ": no errors"))); // a path is not broken
      }
    }
  }
  const std::string key = plain_spaces(folder.run("check " + kGood).out);
  const std::size_t first = key.find("\n\n");
  REQUIRE(first != std::string::npos);
  const std::string block = key.substr(first, key.find("\n\n", first + 2) - first);
  for (const std::string& line :
       std::vector<std::string>{"\n\nKey figures\n", " clamp load at the set torque 184.2 kN\n",
                                " required clamp per stud, set by: hard stop 119.6 kN\n", " 0.6401\n",
                                " weakest margin, 1 is the limit: proof load over clamp 1.500\n",
                                " grip length 56.00 mm\n", " warnings, see the end 1"}) {
    CAPTURE(line);
    CAPTURE(block);
    CHECK(contains(block, line));
  }
  CHECK(contains(key, " clamp lost for the thickness lost 672.5 kN/mm\n"));
  const std::string loose = plain_spaces(folder.run("check " CLAMPFADE_SOURCE "/scenarios/one-loose-stud.yaml").out);
  CHECK(contains(loose, " clamp load at the set torque, weakest stud 38.79 kN\n"));
  CHECK(contains(loose, " weakest margin, 1 is the limit: clamp over required clamp 0.3243\n"));
}

TEST_CASE("program: a stud that is hardly tightened is a warning") {
  const Folder folder;
  std::string text = [] {
    std::stringstream s;
    s << std::ifstream(kGood).rdbuf();
    return s.str();
  }();
  const std::string torque = "torque: 475 lbf*ft";
  text.replace(text.find(torque), torque.size(), "torque: 40 N*m");
  folder.write("loose.yaml", text);
  const std::string warning = "less than 5 % of the proof load";
  CHECK(contains(plain_spaces(folder.run("check --json loose.yaml").out), warning));
  CHECK(!contains(plain_spaces(folder.run("check --json " + kGood).out), warning));
}

TEST_CASE("program: check --json is JSON in SI with a unit for every number") {
  const Outcome o = Folder().run("check --json " + kGood);
  CHECK(o.code == 0);
  const auto document = nlohmann::json::parse(o.out);
  CHECK(document.at("cautions").size() >= 3);
  bool torque = false;
  std::size_t numbers = 0;
  for (const auto& [group_name, group] : document.items()) {
    if (!group.is_object() || group_name == "units" || group_name == "labels") {
      continue;
    }
    for (const auto& [name, value] : group.items()) {
      if (value.is_number() || (value.is_array() && !value.empty() && value.front().is_number())) {
        const std::string path = group_name + "/" + name;
        CAPTURE(path);
        CHECK(group.at("units").contains(name));
        ++numbers;
      }
    }
    torque = torque || (group.contains("torque") && group.at("units").at("torque") == "N m" &&
                        group.at("torque").get<double>() > 643);
  }
  CHECK(torque);
  CHECK(numbers > 30);
}

TEST_CASE("program: simulate names its file, and overwrites it only when told") {
  const Folder folder;
  const Outcome first = folder.run("simulate --quiet " + kGood);
  CHECK(first.code == 0);
  CHECK(first.err.empty());
  CHECK(folder.has("bare-steel-duals.h5"));
  CHECK(contains(first.out, "bare-steel-duals.h5"));
  CHECK(contains(first.out, "Never skip a re-check"));
  const Outcome again = folder.run("simulate " + kGood);
  CHECK(again.code == 4);
  CHECK(contains(again.err, "[file.exists]"));
  CHECK(folder.run("simulate --force " + kGood).code == 0);
  CHECK(folder.run("resume bare-steel-duals.h5").code == 4); // complete: nothing to continue
}

TEST_CASE("program: simulate says that a scenario asks for no records, and runs it all the same") {
  const Folder folder;
  std::stringstream good;
  good << std::ifstream(kGood).rdbuf();
  std::string text = good.str();
  const std::size_t from = text.find("\nrecord:");
  REQUIRE(from != std::string::npos);
  text.erase(from + 1, text.find('\n', from + 1) - from);
  folder.write("few.yaml", text);
  const Outcome o = folder.run("simulate --quiet few.yaml");
  CHECK(o.code == 0);
  CHECK(contains(o.err, "few.yaml asks for no records"));
  CHECK(contains(o.err, "record: {every: 1 h"));
}

TEST_CASE("program: schema, version and help") {
  const Folder folder;
  const Outcome schema = folder.run("schema");
  CHECK(schema.code == 0);
  CHECK(contains(schema.out, "## `joint/studs`"));
  const Outcome version = folder.run("--version");
  CHECK(version.code == 0);
  CHECK(contains(version.out, "clampfade 0."));
  const Outcome help = folder.run("--help");
  CHECK(help.code == 0);
  CHECK(contains(help.out, "clampfade check wheel.yaml"));
  CHECK(contains(help.out, "Exit codes"));
}

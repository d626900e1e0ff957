// Each scenario here has a fault, named in its first line; the .expect beside it holds the whole message.
// After a change of a message, in this folder:
//   for f in *.yaml; do CLAMPFADE_CATALOGUE=catalogue NO_COLOR=1 clampfade check $f 2> ${f%.yaml}.expect; done
// and read the difference before committing it.
#include "solver/io/scenario.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

using namespace clampfade;

namespace {

namespace fs = std::filesystem;

std::string whole(const fs::path& file) {
  std::stringstream text;
  text << std::ifstream(file).rdbuf();
  return text.str();
}

/// Messages name files as the user does: relative to where he stands.
class StandIn {
public:
  explicit StandIn(const fs::path& folder) : back_(fs::current_path()) { fs::current_path(folder); }
  ~StandIn() { fs::current_path(back_); }
  StandIn(const StandIn&) = delete;
  StandIn& operator=(const StandIn&) = delete;

private:
  fs::path back_;
};

} // namespace

TEST_CASE("a key that is left out brings one message and no others after it") {
  const StandIn here(fs::path(CLAMPFADE_SOURCE) / "tests/input_errors");
  ReadOptions options;
  options.catalogue = "catalogue";
  const std::vector<std::string> lines = [] {
    std::ifstream file("whole.scenario");
    std::vector<std::string> out;
    for (std::string line; std::getline(file, line);) {
      out.push_back(line);
    }
    return out;
  }();
  const auto indent = [](const std::string& line) { return line.find_first_not_of(' '); };
  const auto messages = [&](const std::string& text) -> std::string {
    try {
      (void)read_scenario_text(text, "whole.scenario", options);
    } catch (const InputError& e) {
      return e.what();
    }
    return "";
  };
  REQUIRE(lines.size() > 40);
  std::size_t faults = 0;
  for (std::size_t cut = 0; cut <= lines.size(); ++cut) {
    if (cut < lines.size() && (lines[cut].empty() || lines[cut][indent(lines[cut])] == '-')) {
      continue; // the first key of an entry holds the dash of the list
    }
    // A key goes with all that stands under it; at the end none goes.
    std::size_t end = std::min(cut + 1, lines.size());
    while (cut < lines.size() && end < lines.size() && indent(lines[end]) > indent(lines[cut])) {
      ++end;
    }
    std::string text;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      text += i < cut || i >= end ? lines[i] + '\n' : "";
    }
    const std::string message = messages(text);
    CAPTURE(cut < lines.size() ? lines[cut] : "nothing");
    CAPTURE(message);
    CHECK((message.empty() || message.find("\n1 error\n") != std::string::npos));
    CHECK((cut < lines.size() || message.empty()));
    faults += message.empty() ? 0U : 1U;
  }
  CHECK(faults >= 25);
}

TEST_CASE("every scenario with a fault gives exactly the message that is expected of it") {
  const StandIn here(fs::path(CLAMPFADE_SOURCE) / "tests/input_errors");
  ReadOptions options;
  options.catalogue = "catalogue";
  std::size_t cases = 0;
  std::set<Code> codes;
  for (const auto& entry : fs::directory_iterator(".")) {
    if (entry.path().extension() != ".yaml") {
      continue;
    }
    const std::string name = entry.path().filename().string();
    CAPTURE(name);
    ++cases;
    std::string message = "no fault was found";
    try {
      (void)read_scenario(name, options);
    } catch (const InputError& e) {
      message = e.what();
      for (const Diagnostic& d : e.diagnostics()) {
        codes.insert(d.code);
      }
    }
    fs::path expected = entry.path();
    expected.replace_extension(".expect");
    CHECK(message == whole(expected));
  }
  CHECK(cases >= 50);
  // Every code of an input fault occurs, but for the one that is a warning.
  for (const Code code : all_codes()) {
    if (exit_code(code) == Exit::Input && code != Code::OutsideCalibration) {
      CAPTURE(name(code));
      CHECK(codes.count(code) == 1);
    }
  }
}

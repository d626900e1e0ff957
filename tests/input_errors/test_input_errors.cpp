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

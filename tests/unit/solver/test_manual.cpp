// Checks: the manual page and the completion that the programs write of themselves.
// Problem: both programs as built.
// Reference: their own --help; man(7) by groff with all its warnings; bash itself.
// Tolerance: none.
// Fails if: a command or an option is left out, troff takes a text for a request, or bash cannot read the script or
//   completes to something else than what may stand there.
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <regex>
#include <set>

using namespace clampfade::test;

namespace {

struct Program {
  std::string path, name;
};
const std::vector<Program> kPrograms = {{CLAMPFADE_PROGRAM, "clampfade"}, {CLAMPFADE_REPORT, "clampfade-report"}};

std::set<std::string> found(const std::string& text, const std::string& pattern) {
  const std::regex expression(pattern);
  std::set<std::string> out;
  for (std::sregex_iterator it(text.begin(), text.end(), expression), end; it != end; ++it) {
    out.insert((*it)[1]);
  }
  return out;
}

/// Commands of a program by its --help.
std::set<std::string> commands(const Program& p) {
  const std::string help = run_cli(quote(p.path) + " --help").out;
  const std::size_t from = help.find("Subcommands:");
  return found(help.substr(from, help.find("Examples:") - from), "\n  ([a-z][a-z-]*) ");
}

std::string without(std::string text, const std::string& what) {
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos;) {
    text.erase(at, what.size());
  }
  return text;
}

/// What bash offers behind these words, the last of which is begun.
std::string offers(const Program& p, const std::string& script, const std::string& words) {
  std::size_t count = 1;
  for (std::size_t at = 0; (at = words.find(' ', at)) != std::string::npos; ++at) {
    ++count;
  }
  std::string function = "_" + p.name;
  std::replace(function.begin(), function.end(), '-', '_');
  const std::string command = "source " + quote(script) + "; COMP_WORDS=(" + p.name + " " + words +
                              "); COMP_CWORD=" + std::to_string(count) + "; COMPREPLY=(); " + function +
                              "; echo \"${COMPREPLY[*]}\"";
  return run_cli("bash -uc " + quote(command)).out;
}

} // namespace

TEST_CASE("manual: the page has every command and option of the program, and troff has nothing to say against it") {
  for (const Program& p : kPrograms) {
    CAPTURE(p.name);
    const CliResult page = run_cli(quote(p.path) + " --man-page");
    REQUIRE(page.exit == 0);
    const std::string text = without(page.out, "\\"); // escaped hyphens
    const std::set<std::string> names = commands(p);
    CHECK(names.size() >= 8);
    for (const std::string& name : names) {
      CHECK_MESSAGE(text.find(".SS " + p.name + " " + name + "\n") != std::string::npos, name);
      const std::string help = run_cli(quote(p.path) + " " + name + " --help").out;
      for (const std::string& option : found(help, "(--[a-z][a-z-]+)")) {
        CHECK_MESSAGE(text.find(option) != std::string::npos, name, " ", option);
      }
    }
    CHECK(text.find("not a release to service") != std::string::npos);
    const TmpDir dir;
    write_text(dir / "page.1", page.out);
    const CliResult groff = run_cli("groff -man -Tutf8 -ww -z " + quote(dir / "page.1"));
    CHECK(groff.exit == 0);
    CHECK_MESSAGE(groff.err.empty(), groff.err);
  }
}

TEST_CASE("manual: bash completes commands, options and the words that an option takes") {
  const TmpDir dir;
  for (const Program& p : kPrograms) {
    CAPTURE(p.name);
    const std::string script = dir / (p.name + ".bash");
    write_text(script, run_cli(quote(p.path) + " --bash-completion").out);
    REQUIRE(run_cli("bash -n " + quote(script)).exit == 0);
    const std::string all = offers(p, script, "''");
    for (const std::string& name : commands(p)) {
      CHECK_MESSAGE((" " + all).find(" " + name) != std::string::npos, name);
    }
  }
  const std::string script = dir / "clampfade.bash";
  const Program& p = kPrograms.front();
  CHECK(offers(p, script, "sim") == "simulate\n");
  CHECK(offers(p, script, "check --units ''") == "si us\n");
  CHECK(offers(p, script, "simulate wheel.yaml --q") == "--quiet\n");
  CHECK(offers(p, script, "fleet du") == "due\n");
  CHECK(offers(p, script, "fleet due --rech") == "--recheck-every\n");
  CHECK(offers(p, script, "simulate wh") == "\n"); // files, which bash adds
}

#include "solver/diagnostics.hpp"

#include <doctest/doctest.h>

#include <set>

using namespace clampfade;

TEST_CASE("every code has its own name, a meaning and an exit code") {
  std::set<std::string> names;
  for (const Code code : all_codes()) {
    CAPTURE(name(code));
    CHECK(names.insert(std::string(name(code))).second);
    CHECK(describe(code).size() > 10);
  }
  CHECK(all_codes().size() == static_cast<std::size_t>(Code::Internal) + 1);
  CHECK(name(Code::UnknownKey) == "input.unknown_key");
  CHECK(exit_code(Code::UnknownKey) == Exit::Input);
  CHECK(exit_code(Code::NoEquilibrium) == Exit::Numerical);
  CHECK(exit_code(Code::FileExists) == Exit::File);
  CHECK(exit_code(Code::Internal) == Exit::Bug);
}

TEST_CASE("a message shows place, code, path, line, caret, what is allowed and a hint") {
  Diagnostic d;
  d.code = Code::OutOfRange;
  d.place = {"wheel.yaml", 7, 16};
  d.path = "joint/stack/inner disc/thickness";
  d.found = "'55 m' is outside the allowed range";
  d.allowed = "100 um to 1 m";
  d.hint = "55 mm?";
  d.line = "    thickness: 55 m";
  CHECK(to_text(d) == "wheel.yaml:7:16: error [input.out_of_range] joint/stack/inner disc/thickness: '55 m' is outside "
                      "the allowed range\n"
                      "     7 |     thickness: 55 m\n"
                      "       |                ^\n"
                      "   allowed: 100 um to 1 m\n"
                      "   hint: 55 mm?\n");
}

TEST_CASE("the caret counts characters, not bytes") {
  Diagnostic d;
  d.place = {"f", 1, 4};
  d.found = "x";
  d.line = "\xC2\xB5\xC2\xB5\xC2\xB5"
           "m";
  CHECK(to_text(d).find("     1 | \xC2\xB5\xC2\xB5\xC2\xB5m\n       |    ^\n") != std::string::npos);
}

TEST_CASE("a long line is cut round the caret") {
  Diagnostic d;
  d.place = {"f", 1, 301};
  d.found = "x";
  d.line = std::string(300, 'a') + 'B' + std::string(300, 'c');
  const std::string text = to_text(d);
  const std::size_t caret = text.find('^') - text.rfind('\n', text.find('^'));
  const std::size_t letter = text.find('B') - text.rfind('\n', text.find('B'));
  CHECK(caret == letter);
  CHECK(text.size() < 400);
}

TEST_CASE("messages are sorted by place and counted") {
  Diagnostic late;
  late.place = {"a.yaml", 9, 1};
  late.found = "late";
  Diagnostic early = late;
  early.place.line = 2;
  early.found = "early";
  Diagnostic warning = late;
  warning.severity = Severity::Warning;
  warning.place.line = 5;
  warning.found = "between";
  const std::string text = to_text(std::vector<Diagnostic>{late, warning, early});
  CHECK(text.find("early") < text.find("between"));
  CHECK(text.find("between") < text.find("late"));
  CHECK(text.substr(text.size() - 20) == "2 errors, 1 warning\n");
  CHECK(std::string(InputError({early}).what()).find("1 error\n") != std::string::npos);
}

TEST_CASE("the nearest word") {
  const std::vector<std::string> words = {"thickness", "hole", "pad", "part"};
  CHECK(nearest("thicknes", words) == "thickness");
  CHECK(nearest("thikness", words) == "thickness");
  CHECK(nearest("thiknes", words) == "thickness"); // two letters left out
  CHECK(nearest("hol", words) == "hole");
  CHECK(nearest("banana", words).empty());
  CHECK(nearest("x", {}).empty());
}

TEST_CASE("what a word may have meant: the words that it begins, before one that only looks like it") {
  const std::vector<std::string> threads = {"M20x1.5", "M22x1.5", "M22x2.5", "M24x2"};
  // By edit distance alone M24x2 is nearer to M22 than any M22: another diameter.
  CHECK(did_you_mean("M22", threads) == "did you mean M22x1.5 or M22x2.5?");
  CHECK(did_you_mean("M21x1.5", threads) == "did you mean M20x1.5?");
  CHECK(did_you_mean("banana", threads).empty());
  CHECK(did_you_mean("M2", {"M20x1.5", "M20x2.5", "M22x1.5", "M22x2.5", "M24x2"}).empty()); // too many to mean any
  CHECK(did_you_mean("M", {"M20x1.5"}).empty());
  // A word out of a name that begins with others.
  CHECK(did_you_mean("polyurethane", {"alkyd topcoat", "two-pack polyurethane topcoat", "zinc primer"}) ==
        "did you mean two-pack polyurethane topcoat?");
  CHECK(did_you_mean("coat", {"topcoats", "boat"}) == "did you mean topcoats?");
}

TEST_CASE("a word that is no command is told with what it may have meant") {
  const auto said = [](std::string_view word) {
    return unknown_command(word, "wheel", {"check", "run"}, "report", {"summary", "plan"});
  };
  CHECK(said("chek") == "'chek' is no command of wheel, did you mean check?\nCommands: check, run\n");
  CHECK(said("summary") == "'summary' is no command of wheel; report has it\nCommands: check, run\n");
  CHECK(said("--verison") == "'--verison' is no option of wheel\nCommands: check, run\n");
  CHECK(said("a.yaml") == "'a.yaml' is no command of wheel\nCommands: check, run\n");
}

TEST_CASE("cautions forbid a release to service and a skipped re-check") {
  std::string all;
  for (const std::string_view c : cautions()) {
    all += c;
  }
  CHECK(all.find("not a release to service") != std::string::npos);
  CHECK(all.find("re-check") != std::string::npos);
  CHECK(all.find("wheel maker") != std::string::npos);
}

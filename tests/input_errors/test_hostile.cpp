// Files made to take time or memory: each is refused, in words, within a second of processor time and 200 MB.
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <array>
#include <fcntl.h>
#include <functional>
#include <string>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <utility>
#include <vector>

using namespace clampfade::test;

namespace {

constexpr double kMostSeconds = 1;
constexpr double kMostMegabytes = 200;

struct Cost {
  int exit = -1;
  double seconds = 0; ///< of the processor: others may keep the machine busy
  double megabytes = 0;
  std::string said;
};

/// What the program costs and says. The limits of the child are wider than what is asked, so that a bomb ends.
Cost cost_of(const std::vector<std::string>& arguments) {
  const TmpDir folder;
  const std::string said = folder / "said";
  std::vector<std::string> words = {CLAMPFADE_PROGRAM};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (std::string& word : words) {
    argv.push_back(word.data());
  }
  argv.push_back(nullptr);
  const std::string catalogue = "CLAMPFADE_CATALOGUE=" CLAMPFADE_SOURCE "/models/catalogue";
  std::array<char*, 2> environment = {const_cast<char*>(catalogue.c_str()), nullptr};
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    const rlimit time{20, 20};
    const rlimit memory{rlim_t{4} << 30U, rlim_t{4} << 30U};
    const int out = ::open(said.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (out < 0 || ::setrlimit(RLIMIT_CPU, &time) != 0 || ::setrlimit(RLIMIT_AS, &memory) != 0 ||
        ::dup2(out, STDOUT_FILENO) < 0 || ::dup2(out, STDERR_FILENO) < 0) {
      ::_exit(126);
    }
    ::execve(argv[0], argv.data(), environment.data());
    ::_exit(127);
  }
  int status = 0;
  rusage used{};
  REQUIRE(::wait4(child, &status, 0, &used) == child);
  const auto seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, seconds(used.ru_utime) + seconds(used.ru_stime),
          static_cast<double>(used.ru_maxrss) / 1024, read_text(said)};
}

/// It was refused for a fault of the input, and cheaply.
void refused(const std::string& name, const std::vector<std::string>& arguments, const std::string& code) {
  CAPTURE(name);
  const Cost cost = cost_of(arguments);
  CAPTURE(cost.said.substr(0, 300));
  CHECK(cost.exit == 2);
  CHECK(cost.said.find("[input." + code + "]") != std::string::npos);
  CHECK(cost.said.size() < 200000);
  CHECK(cost.seconds < kMostSeconds);
  CHECK(cost.megabytes < kMostMegabytes);
}

std::string times(const std::string& what, std::size_t count) {
  std::string out;
  out.reserve(what.size() * count);
  for (std::size_t i = 0; i < count; ++i) {
    out += what;
  }
  return out;
}

/// `line` for each number below `count`.
std::string numbered(std::size_t count, const std::function<std::string(const std::string&)>& line) {
  std::string out;
  for (std::size_t i = 0; i < count; ++i) {
    out += line(std::to_string(i));
  }
  return out;
}

constexpr std::size_t kMega = 1U << 20U;

} // namespace

TEST_CASE("hostile YAML is refused within a second and 200 MB") {
  std::string bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n";
  for (int i = 1; i < 30; ++i) {
    const std::string one = "*a" + std::to_string(i - 1);
    bomb += "a" + std::to_string(i) + ": &a" + std::to_string(i) + " [" + one + times(", " + one, 9) + "]\n";
  }
  std::string stairs;
  for (std::size_t i = 0; i < 1400; ++i) {
    stairs += std::string(i, ' ') + "a:\n";
  }
  struct Case {
    std::string name, text, code;
  };
  const std::vector<Case> cases = {
      {"100,000 brackets", times("[", 100000), "too_large"},
      {"100,000 braces", times("{", 100000), "too_large"},
      {"a megabyte of brackets", times("[", kMega - 1), "too_large"},
      {"brackets, one a line", times("[\n", kMega / 2 - 1), "too_large"},
      {"1,400 levels by indentation", stairs, "too_large"},
      {"dashes on one line", times("- ", kMega / 2 - 1), "too_large"},
      {"question marks on one line", times("? ", kMega / 2 - 1), "too_large"},
      {"aliases of aliases", bomb, "too_large"},
      {"an alias 300,000 times", "a: &a 1\nb: [" + times("*a,", 300000) + "*a]", "too_large"},
      {"an alias of a list, on lines", "a: &a [" + times("1,", 999) + "1]\nb:\n" + times("- *a\n", 1000), "too_large"},
      {"an alias within itself", "a: &a {b: *a}\n", "too_large"},
      {"anchors in anchors",
       "a: " + times("&a [", 1) + numbered(30, [](const std::string& n) { return "&b" + n + " ["; }) +
           times("1,", 60000) + times("]", 31),
       "too_large"},
      {"50,000 anchors", numbered(50000, [](const std::string& n) { return "a" + n + ": &a" + n + " 1\n"; }),
       "too_large"},
      {"half a million values in a line", "[" + times("a,", kMega / 2 - 10) + "a]", "too_large"},
      {"350,000 values, one a line", "[" + times("a,\n", kMega / 3 - 10) + "a]", "too_large"},
      {"half a million empty list items", times("-\n", kMega / 2 - 1), "too_large"},
      {"commas without end", "[1" + times(",", kMega - 10) + "]", "too_large"},
      {"few commas without end", "a: [1" + times(",", 90000), "syntax"},
      {"a stray comma", ", c\n", "syntax"},
      {"80,000 keys", numbered(80000, [](const std::string& n) { return "k" + n + ": 1\n"; }), "too_large"},
      {"49,000 unknown keys", numbered(49000, [](const std::string& n) { return "k" + n + ": 1\n"; }), "unknown_key"},
      {"49,000 unknown keys of heat",
       "heat:\n" + numbered(49000, [](const std::string& n) { return "  k" + n + ": 1\n"; }), "unknown_key"},
      {"49,000 coatings",
       "catalogue:\n  coatings:\n" + numbered(49000, [](const std::string& n) { return "    c" + n + ": {}\n"; }),
       "missing_key"},
      {"30,000 parts", "joint:\n  stack:\n" + times("  - {part: a}\n", 30000), "missing_key"},
      {"15,000 axes", "vary:\n" + times("- {path: a, values: [1]}\n", 12000), "missing_key"},
      {"the same key 200,000 times", times("a: 1\n", 200000), "duplicate_key"},
      {"merge keys", "a: &a {b: 1}\n" + numbered(20000, [](const std::string& n) { return "c" + n + ": {<<: *a}\n"; }),
       "syntax"},
      {"a key of a megabyte", times("x", kMega - 20) + ": 1\n", "syntax"},
      {"a long quoted key", "? \"" + times("x", kMega - 20) + "\"\n: 1\n", "unknown_key"},
      {"a value of a megabyte", "schema: " + times("x", kMega - 20), "not_a_number"},
      {"escapes", "title: \"" + times("\\x01", kMega / 4 - 20) + "\"", "syntax"},
      {"tags", "a: " + times("!a ", 300000), "syntax"},
      {"a tag on each of 40,000 values", times("- !a 1\n", 40000), "syntax"},
      {"directives", times("%TAG ! tag:x,2000:\n", 50000) + "---\na: 1\n", "syntax"},
      {"200,000 documents", times("---\n", 200000), "syntax"},
      {"quotes", times("\"", kMega - 1), "syntax"},
      {"a quote without end", "a: '" + times("x\n", kMega / 2 - 10), "syntax"},
      {"colons", times(":", kMega - 1), "syntax"},
      {"empty lines", times("\n", kMega - 1), "syntax"},
      {"comments", times("#\n", kMega / 2 - 1), "syntax"},
      {"a number beyond all doubles", "schema: 1e400\n", "not_a_number"},
      {"400 digits", "schema: " + times("9", 400) + "\n", "not_a_number"},
      {"not a number", "schema: .nan\n", "not_a_number"},
      {"infinity", "schema: .inf\n", "not_a_number"},
      {"a control character", "schema: 1\ntitle: \x1b[31m\n", "syntax"},
      {"a NUL", std::string("schema: 1\n\0", 11), "syntax"},
      {"bytes that are not UTF-8", "title: \xff\xfe\n", "syntax"},
      {"UTF-16", std::string("\xff\xfes\0c\0h\0", 8), "syntax"},
      {"100 MB in one value", "title: " + times("x", 100 * kMega), "too_large"},
      {"a million keys", numbered(1000000, [](const std::string& n) { return "k" + n + ": 1\n"; }), "too_large"},
      {"a million items", times("- a\n", 1000000), "too_large"},
  };
  const TmpDir folder;
  const std::string file = folder / "wheel.yaml";
  for (const Case& c : cases) {
    write_text(file, c.text);
    refused(c.name, {"check", file}, c.code);
  }
  refused("an endless file", {"check", "/dev/zero"}, "too_large");
}

TEST_CASE("hostile CSV is refused within a second and 400 MB, and a million rows are not") {
  const TmpDir folder;
  const std::string file = folder / "records.csv";
  const std::string header = "stud,torque,torque_unit,vehicle,axle,wheel,time\n";
  const auto cost = [&](const std::string& name, const std::string& text, const std::string& code) {
    CAPTURE(name);
    write_text(file, text);
    const Cost c = cost_of({"records", file, "--torque", "640 N*m"});
    CAPTURE(c.said.substr(0, 300));
    CHECK(c.exit == 2);
    CHECK(c.said.find("[input." + code + "]") != std::string::npos);
    CHECK(c.seconds < kMostSeconds);
    CHECK(c.megabytes < 400); // three times the text: as read, with plain line ends, and as lines
  };
  cost("commas", header + times(",", 60 * kMega), "too_large");
  cost("line ends", header + times("\n", 60 * kMega), "too_large");
  cost("many short lines", header + times("1\n", 30 * kMega), "too_large");
  cost("one long cell", header + times("x", 60 * kMega), "too_large");
  cost("a quote without end", header + "\"" + times("x\n", 1000), "syntax");
  cost("10,000 columns", times("a,", 10000) + "a\n" + times("1,", 10000) + "1\n", "unknown_key");
}

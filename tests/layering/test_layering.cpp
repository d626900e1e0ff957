// The shape of the source tree: who may include whom, no circles, and facts that stand in two places.
#include "solver/io/fit_file.hpp"
#include "solver/io/fleet_store.hpp"
#include "solver/io/history.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/io/study_file.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

using namespace clampfade;

namespace {

/// Files and what they include, both as written: "models/thread.hpp", "<vector>".
using Includes = std::map<std::string, std::vector<std::string>>;

const std::string kSource = CLAMPFADE_SOURCE;

bool starts(const std::string& text, const std::string& with) { return text.rfind(with, 0) == 0; }

std::string read(const std::filesystem::path& path) {
  std::ifstream in(path);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

std::vector<std::string> sources(const std::string& folder) {
  std::vector<std::string> files;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(kSource + "/" + folder)) {
    const std::string extension = entry.path().extension().string();
    if (entry.is_regular_file() && (extension == ".cpp" || extension == ".hpp")) {
      files.push_back(std::filesystem::relative(entry.path(), kSource).string());
    }
  }
  std::sort(files.begin(), files.end());
  return files;
}

std::vector<std::string> includes_in(const std::string& text) {
  static const std::regex line(R"(^[ \t]*#[ \t]*include[ \t]*("([^"]+)\"|<[^>]+>))");
  std::vector<std::string> found;
  std::istringstream lines(text);
  for (std::string one; std::getline(lines, one);) {
    std::smatch match;
    if (std::regex_search(one, match, line)) {
      found.push_back(match[2].matched ? match[2].str() : match[1].str());
    }
  }
  return found;
}

Includes tree() {
  Includes all;
  for (const char* folder : {"models", "solver", "post"}) {
    for (const std::string& file : sources(folder)) {
      all[file] = includes_in(read(kSource + "/" + file));
    }
  }
  return all;
}

/// Why `file` must not include `what`; empty if it may.
std::string objection(const std::string& file, const std::string& what) {
  const bool system = starts(what, "<");
  if (system) {
    if (starts(what, "<yaml-cpp/") && file != "solver/io/scenario_yaml.cpp") {
      return "yaml-cpp belongs to solver/io/scenario_yaml.cpp alone";
    }
    if ((starts(what, "<ceres/") || starts(what, "<glog/")) && file != "solver/fit_minimise.cpp") {
      return "Ceres belongs to solver/fit_minimise.cpp alone";
    }
    if ((starts(what, "<hdf5") || starts(what, "<H5")) && !starts(file, "solver/io/history")) {
      return "HDF5 belongs to solver/io/history alone";
    }
    if (what == "<sqlite3.h>" && file != "solver/io/database.cpp") {
      return "SQLite belongs to solver/io/database.cpp alone";
    }
    if (starts(file, "models/")) {
      if (what == "<iostream>" || what == "<fstream>" || what == "<chrono>" || what == "<cstdio>") {
        return "models neither print, nor read files, nor know a clock";
      }
      if (what.find('/') != std::string::npos || what.find(".h>") != std::string::npos) {
        return starts(what, "<Eigen/") ? "" : "models know the standard library and Eigen only";
      }
    }
    const bool of_statistics = file == "post/statistics.cpp" && starts(what, "<boost/math/");
    if (starts(file, "post/") && (starts(what, "<Eigen/") || starts(what, "<boost/")) && !of_statistics) {
      return "a report computes nothing that needs this";
    }
    return "";
  }
  if (starts(file, "models/")) {
    return starts(what, "models/") ? "" : "models include models only";
  }
  if (starts(file, "post/")) {
    const bool allowed =
        starts(what, "post/") || what == "solver/io/history.hpp" || what == "solver/io/plan_file.hpp" ||
        what == "solver/io/study_file.hpp" || what == "solver/io/fit_file.hpp" || what == "solver/diagnostics.hpp" ||
        what == "solver/basis.hpp" || what == "models/units.hpp" ||
        (file == "post/output.cpp" && what == "solver/io/replaced_file.hpp") ||
        (file == "post/main.cpp" && (what == "solver/cli/manual.hpp" || what == "solver/cli/streams.hpp"));
    return allowed ? "" : "a report knows histories, plans, studies, fits, messages and units only";
  }
  if (!starts(what, "models/") && !starts(what, "solver/")) {
    return "solver includes models and solver only";
  }
  if (file == "solver/main.cpp" || starts(file, "solver/cli/")) {
    return "";
  }
  if (what == "solver/simulation.hpp" && file != "solver/simulation.cpp" && file != "solver/derive.cpp" &&
      !starts(file, "solver/study.") && !starts(file, "solver/fit.") && !starts(file, "solver/classroom/") &&
      file != "solver/plan.cpp") {
    return "the simulation stands above the numerics";
  }
  if (starts(file, "solver/io/")) {
    const bool edge = starts(what, "models/") || starts(what, "solver/io/") || what == "solver/scenario.hpp" ||
                      what == "solver/sink.hpp" || what == "solver/plan_result.hpp" ||
                      what == "solver/study_result.hpp" || what == "solver/study_spec.hpp" ||
                      what == "solver/fit_result.hpp" || what == "solver/diagnostics.hpp";
    if (!edge) {
      return "the edges know no numerics";
    }
    if ((starts(file, "solver/io/history") || starts(file, "solver/io/plan_file.") ||
         starts(file, "solver/io/study_file") || starts(file, "solver/io/fit_file")) &&
        starts(what, "models/")) {
      return "a file of results takes what it is given";
    }
    if ((what == "solver/io/history_hdf5.hpp" || what == "solver/io/history_arrays.hpp") &&
        !starts(file, "solver/io/history") && file != "solver/io/plan_file.cpp" && file != "solver/io/study_file.cpp" &&
        file != "solver/io/study_file_read.cpp" && !starts(file, "solver/io/fit_file")) {
      return "HDF5 belongs to the files of results alone";
    }
    return "";
  }
  if (starts(what, "solver/cli/")) {
    return "the commands stand above everything";
  }
  if (starts(what, "solver/classroom/") && !starts(file, "solver/classroom/")) {
    return "the classroom stands above the numerics";
  }
  return starts(what, "solver/io/") ? "numerics know neither files nor formats" : "";
}

/// A circle of includes as "a -> b -> a", or empty.
std::string circle(const Includes& all) {
  std::set<std::string> done;
  std::vector<std::string> way;
  std::string found;
  const auto visit = [&](const auto& self, const std::string& file) -> void {
    const auto before = std::find(way.begin(), way.end(), file);
    if (before != way.end()) {
      for (auto step = before; step != way.end(); ++step) {
        found += *step + " -> ";
      }
      found += file;
      return;
    }
    if (done.count(file) > 0 || all.count(file) == 0) {
      return;
    }
    way.push_back(file);
    for (const std::string& next : all.at(file)) {
      if (found.empty()) {
        self(self, next);
      }
    }
    way.pop_back();
    done.insert(file);
  };
  for (const auto& [file, unused] : all) {
    if (found.empty()) {
      visit(visit, file);
    }
  }
  return found;
}

/// Types that headers define outside of functions and other types, with the namespace before them.
std::vector<std::string> types_in(const std::string& header) {
  static const std::regex line(R"(^(namespace|struct|class) ([A-Za-z_:]+)( final)?( :.*)? \{)");
  std::vector<std::string> found;
  std::string space;
  std::istringstream lines(header);
  for (std::string one; std::getline(lines, one);) {
    std::smatch match;
    if (std::regex_search(one, match, line)) {
      if (match[1] == "namespace") {
        space = match[2];
      } else {
        found.push_back(space + "::" + match[2].str());
      }
    }
  }
  return found;
}

} // namespace

TEST_CASE("layering: includes are found as they are written") {
  CHECK(includes_in("#include \"a/b.hpp\"\n  #  include <vector>\n// #include \"c.hpp\"\nint include;\n") ==
        std::vector<std::string>{"a/b.hpp", "<vector>"});
}

TEST_CASE("layering: the rules object to what they forbid") {
  struct Row {
    const char *file, *what;
  };
  for (const Row& row : {Row{"models/slip.cpp", "solver/sink.hpp"},
                         Row{"models/slip.cpp", "<iostream>"},
                         Row{"models/slip.cpp", "<boost/numeric/odeint.hpp>"},
                         Row{"models/slip.cpp", "<hdf5.h>"},
                         Row{"solver/equilibrium.cpp", "solver/io/history.hpp"},
                         Row{"solver/equilibrium.cpp", "solver/simulation.hpp"},
                         Row{"solver/equilibrium.cpp", "post/table.hpp"},
                         Row{"solver/simulation.cpp", "<hdf5.h>"},
                         Row{"solver/simulation.cpp", "solver/io/scenario.hpp"},
                         Row{"solver/io/scenario.cpp", "<yaml-cpp/yaml.h>"},
                         Row{"solver/io/scenario.cpp", "<hdf5.h>"},
                         Row{"solver/io/scenario.cpp", "solver/wheel.hpp"},
                         Row{"solver/io/history.cpp", "models/slip.hpp"},
                         Row{"post/summary.cpp", "models/law.hpp"},
                         Row{"solver/plan.hpp", "solver/simulation.hpp"},
                         Row{"solver/plan.cpp", "solver/io/plan_file.hpp"},
                         Row{"solver/plan.cpp", "<yaml-cpp/yaml.h>"},
                         Row{"solver/io/plan_file.cpp", "solver/plan.hpp"},
                         Row{"solver/io/plan_file.cpp", "<hdf5.h>"},
                         Row{"solver/io/plan_file.hpp", "solver/io/history_hdf5.hpp"},
                         Row{"solver/io/study_file.hpp", "solver/io/history_arrays.hpp"},
                         Row{"solver/io/study_file.cpp", "solver/study_merge.hpp"},
                         Row{"solver/io/study_reader.cpp", "solver/study.hpp"},
                         Row{"solver/io/study_reader.cpp", "<yaml-cpp/yaml.h>"},
                         Row{"solver/study.cpp", "solver/io/study_file.hpp"},
                         Row{"solver/study.hpp", "solver/cli/terminal.hpp"},
                         Row{"solver/cli/fleet.cpp", "<sqlite3.h>"},
                         Row{"solver/io/fleet_store.cpp", "<sqlite3.h>"},
                         Row{"solver/recheck.cpp", "solver/io/fleet_store.hpp"},
                         Row{"solver/io/records_reader.cpp", "solver/record_check.hpp"},
                         Row{"post/summary.cpp", "solver/io/fleet_store.hpp"},
                         Row{"post/plan_text.cpp", "solver/plan_result.hpp"},
                         Row{"post/summary.cpp", "solver/sink.hpp"},
                         Row{"post/summary.cpp", "<boost/math/special_functions/beta.hpp>"},
                         Row{"post/statistics.cpp", "<boost/numeric/odeint.hpp>"},
                         Row{"solver/classroom/classroom.cpp", "solver/io/scenario.hpp"},
                         Row{"solver/classroom/json.cpp", "<yaml-cpp/yaml.h>"},
                         Row{"solver/classroom/json.cpp", "<hdf5.h>"},
                         Row{"solver/study.cpp", "solver/classroom/classroom.hpp"},
                         Row{"post/summary.cpp", "<Eigen/Dense>"}}) {
    CAPTURE(row.file);
    CAPTURE(row.what);
    CHECK_FALSE(objection(row.file, row.what).empty());
  }
  for (const Row& row :
       {Row{"models/slip.cpp", "<Eigen/Dense>"}, Row{"models/slip.cpp", "models/law.hpp"},
        Row{"solver/io/scenario_yaml.cpp", "<yaml-cpp/yaml.h>"}, Row{"solver/io/history_hdf5.hpp", "<hdf5.h>"},
        Row{"solver/io/database.cpp", "<sqlite3.h>"}, Row{"solver/main.cpp", "solver/io/history.hpp"},
        Row{"solver/simulation.cpp", "solver/wheel.hpp"}, Row{"solver/plan.cpp", "solver/simulation.hpp"},
        Row{"solver/io/plan_file.hpp", "solver/plan_result.hpp"},
        Row{"solver/io/plan_file.cpp", "solver/io/history_hdf5.hpp"},
        Row{"solver/io/study_file.hpp", "solver/study_result.hpp"}, Row{"solver/study.cpp", "solver/simulation.hpp"},
        Row{"solver/io/study_reader.hpp", "solver/study_spec.hpp"},
        Row{"solver/cli/study_command.cpp", "solver/io/study_file.hpp"},
        Row{"solver/classroom/classroom.cpp", "solver/simulation.hpp"},
        Row{"solver/io/study_file.cpp", "solver/io/history_arrays.hpp"},
        Row{"post/plan_text.cpp", "solver/io/plan_file.hpp"}, Row{"post/main.cpp", "<CLI/CLI.hpp>"},
        Row{"post/summary.cpp", "solver/io/history.hpp"}}) {
    CAPTURE(row.file);
    CAPTURE(row.what);
    CHECK(objection(row.file, row.what).empty());
  }
}

TEST_CASE("layering: every include of the tree is allowed") {
  const Includes all = tree();
  CHECK(all.size() > 40);
  for (const auto& entry : all) {
    const std::string& file = entry.first; // clang 14 lets no lambda see a structured binding
    for (const std::string& what : entry.second) {
      CAPTURE(file);
      CAPTURE(what);
      CHECK(objection(file, what) == "");
    }
  }
}

TEST_CASE("layering: nothing includes itself by a detour") {
  CHECK(circle({{"a", {"b"}}, {"b", {"c", "<vector>"}}, {"c", {"a"}}}) == "a -> b -> c -> a");
  CHECK(circle({{"a", {"b", "c"}}, {"b", {"c"}}, {"c", {}}}).empty());
  CHECK(circle(tree()) == "");
}

TEST_CASE("layering: one name, one type") {
  // Two types of one name in two headers that nobody includes together compile, and are taken for each other.
  CHECK(types_in("namespace a {\nstruct B {\n  struct C {\n};\nclass D final : public B {\nstruct E;\n") ==
        std::vector<std::string>{"a::B", "a::D"});
  std::map<std::string, std::string> known;
  for (const char* folder : {"models", "solver", "post"}) {
    for (const std::string& file : sources(folder)) {
      if (file.substr(file.size() - 4) != ".hpp") {
        continue;
      }
      for (const std::string& type : types_in(read(kSource + "/" + file))) {
        const auto added = known.emplace(type, file);
        CHECK_MESSAGE(added.second, type, " stands in ", added.first->second, " and in ", file);
      }
    }
  }
  CHECK(known.size() > 200);
}

TEST_CASE("layering: the format page and the program agree on the version") {
  const std::string page = read(kSource + "/solver/HISTORY_FORMAT.md");
  const std::string first_line = page.substr(0, page.find('\n'));
  CHECK(first_line ==
        "# History file, format " + std::to_string(kHistoryFormatMajor) + "." + std::to_string(kHistoryFormatMinor));
  CHECK(page.find("`" + std::string(kHistoryFileType) + "`") != std::string::npos);
  CHECK(page.find("\n# Plan file, format " + std::to_string(kPlanFormatMajor) + "." + std::to_string(kPlanFormatMinor) +
                  "\n") != std::string::npos);
  CHECK(page.find("`" + std::string(kPlanFileType) + "`") != std::string::npos);
  CHECK(page.find("\n# Study file, format " + std::to_string(kStudyFormatMajor) + "." +
                  std::to_string(kStudyFormatMinor) + "\n") != std::string::npos);
  CHECK(page.find("`" + std::string(kStudyFileType) + "`") != std::string::npos);
  CHECK(page.find("\n# Fit file, format " + std::to_string(kFitFormatMajor) + "." + std::to_string(kFitFormatMinor) +
                  "\n") != std::string::npos);
  CHECK(page.find("`" + std::string(kFitFileType) + "`") != std::string::npos);
  const std::string store = read(kSource + "/solver/STORE_FORMAT.md");
  CHECK(store.substr(0, store.find('\n')) == "# Store of a fleet, format " + std::to_string(kStoreFormat));
  CHECK(store.find("`" + std::to_string(kStoreApplication) + "`") != std::string::npos);
}

TEST_CASE("layering: no test name holds the sign that splits it in ctest's list") {
  static const std::regex name(
      R"re((TEST_CASE|TEST_CASE_TEMPLATE|TEST_CASE_FIXTURE|SUBCASE)\([^"]*"((\\.|[^"\\])*)")re");
  std::size_t seen = 0;
  for (const std::string& file : sources("tests")) {
    const std::string text = read(kSource + "/" + file);
    for (std::sregex_iterator it(text.begin(), text.end(), name), end; it != end; ++it) {
      CAPTURE(file);
      CAPTURE((*it)[2].str());
      CHECK((*it)[2].str().find(';') == std::string::npos);
      ++seen;
    }
  }
  CHECK(seen > 40);
}

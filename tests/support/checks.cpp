#include "tests/support/checks.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <set>
#include <sstream>
#include <stdexcept>
#include <vector>

namespace clampfade::test {

namespace {

constexpr std::array<const char*, 6> kKinds = {"published",         "memory", "common practice", "closed form",
                                               "reference library", "derived"};
constexpr std::array<const char*, 6> kKindMeanings = {
    "read in public text: the document, a reprint or a quotation",
    "published, but recalled from the document named; a slip is possible",
    "known in the trade, no source",
    "exact solution of the same equations",
    "the same equations solved by a library that is not ours; those run on demand are as last recorded",
    "our own arithmetic from published formulas or data: a regression point"};

/// Below this share of the value a difference may be round-off or the path of an iteration: not the same everywhere.
constexpr double kTold = 1e-6;
constexpr std::size_t kWorst = 10;

struct Row : CheckRow {
  std::string file, test, item;

  [[nodiscard]] const char* kind_name() const { return kKinds.at(static_cast<std::size_t>(kind)); }
  /// Of a band: how far beyond its nearer end, 0 inside.
  [[nodiscard]] double difference() const {
    const double d = computed - expected;
    if (!band) {
      return d;
    }
    return std::abs(d) <= tolerance ? 0 : std::copysign(std::abs(d) - tolerance, d);
  }
  [[nodiscard]] bool told() const { return std::abs(difference()) >= kTold * std::abs(expected); }
  [[nodiscard]] bool inside() const { return std::abs(computed - expected) <= tolerance; }
  [[nodiscard]] std::string quantity() const { return item.empty() ? what : item + ": " + what; }
};

std::vector<Row>& rows() {
  static std::vector<Row> all;
  return all;
}

/// The test that is running.
const doctest::TestCaseData* running = nullptr;

/// Rounded to significant digits. A hair away from zero first, so that a tie goes the same way on every machine.
double rounded(double x, int digits) {
  if (x == 0 || !std::isfinite(x)) {
    return x;
  }
  return std::strtod(fmt::format("{:.{}e}", x * (1 + 1e-11), digits - 1).c_str(), nullptr);
}

/// The shortest text that reads back as the rounded number.
std::string number(double x, int digits) {
  if (std::isnan(x)) {
    return "–";
  }
  const double r = rounded(x, digits);
  const double size = std::abs(r);
  if (r == 0) {
    return "0";
  }
  if (size < 1e-3 || size >= 1e7) {
    return fmt::format("{:.{}g}", r, digits);
  }
  std::string text =
      fmt::format("{:.{}f}", r, std::max(0, digits - 1 - static_cast<int>(std::floor(std::log10(size)))));
  if (text.find('.') != std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
      text.pop_back();
    }
  }
  return text;
}

/// "row.friction := 0.12" becomes "friction 0.12", "row.name := M10" becomes "M10".
std::string captured(const std::string& text) {
  const std::size_t at = text.find(" := ");
  if (at == std::string::npos) {
    return text;
  }
  std::string name = text.substr(0, at);
  name.erase(0, name.find_last_of(".>") == std::string::npos ? 0 : name.find_last_of(".>") + 1);
  std::string value = text.substr(at + 4);
  value.erase(std::remove(value.begin(), value.end(), '"'), value.end());
  char* end = nullptr;
  const double x = std::strtod(value.c_str(), &end);
  if (value.empty() || *end != '\0') {
    const bool truth = value == "true" || value == "false";
    return truth ? name + " " + value : value;
  }
  std::replace(name.begin(), name.end(), '_', ' ');
  return name + " " + number(x, 6);
}

std::string context() {
  std::string all;
  const int n = doctest::IReporter::get_num_active_contexts();
  const doctest::IContextScope* const* scopes = doctest::IReporter::get_active_contexts();
  for (int i = 0; i < n; ++i) {
    std::ostringstream text;
    scopes[i]->stringify(&text);
    all += (all.empty() ? "" : ", ") + captured(text.str());
  }
  return all;
}

std::string difference_text(const Row& r) {
  if (std::isnan(r.computed) || std::isnan(r.expected)) {
    return "–";
  }
  if (r.band && r.difference() == 0) {
    return "in band";
  }
  return r.told() ? number(r.difference(), 2) : "< 1e-6 of it";
}

std::string expected_text(const Row& r) {
  return r.band ? number(r.expected - r.tolerance, 4) + " to " + number(r.expected + r.tolerance, 4)
                : number(r.expected, 6);
}

std::string status(const Row& r) {
  return !r.outside.empty() ? "outside scope: " + r.outside : r.inside() ? "inside" : "FAILS";
}

double of_value(const Row& r) { return r.expected == 0 ? 0 : std::abs(r.difference() / r.expected); }
double of_tolerance(const Row& r) { return r.tolerance == 0 ? 0 : std::abs(r.difference()) / r.tolerance; }

/// Rows that meet something which is not our own arithmetic, worst first. Equal ones keep the order of the table.
std::vector<const Row*> worst(double (*measure)(const Row&)) {
  std::vector<const Row*> found;
  for (const Row& r : rows()) {
    if (r.kind != Kind::Derived && r.outside.empty() && !r.band && r.told()) {
      found.push_back(&r);
    }
  }
  std::stable_sort(found.begin(), found.end(),
                   [&](const Row* a, const Row* b) { return rounded(measure(*a), 2) > rounded(measure(*b), 2); });
  found.resize(std::min(found.size(), kWorst));
  return found;
}

struct Total {
  std::size_t inside = 0, outside = 0;
};

Total total(Kind kind) {
  Total t;
  for (const Row& r : rows()) {
    if (r.kind == kind) {
      ++(r.outside.empty() ? t.inside : t.outside); // a row that fails makes the run fail
    }
  }
  return t;
}

void put_worst(std::ostream& out, const char* title, double (*measure)(const Row&), double factor, const char* unit) {
  out << "\n### " << title << "\n\n| " << unit
      << " | quantity | source | kind | expected | computed | tolerance |\n|---|---|---|---|---|---|---|\n";
  for (const Row* r : worst(measure)) {
    out << "| " << number(measure(*r) * factor, 2) << " | " << r->quantity() << " | " << r->source << " | "
        << r->kind_name() << " | " << expected_text(*r) << " | " << number(r->computed, 5) << " | "
        << number(r->tolerance, 2) << " |\n";
  }
}

void write_table(const std::string& path) {
  std::ofstream out(path, std::ios::binary);
  out << "# What the program is held against\n\n"
         "Written by the tests; do not edit. After a change that is meant:\n\n"
         "    CLAMPFADE_CHECKS_OUT=tests/VERIFICATION.md CLAMPFADE_CHECKS_SHORT_OUT=post/checks_short.json \\\n"
         "      build/tests/test_verification\n\n"
         "A row is one comparison. `tolerance` is absolute, as applied; its reason stands in the head of the file that "
         "makes the comparison. Computed values have 5 significant digits, differences 2; a difference below one "
         "millionth of the value is not told, because it need not be the same on every machine. A row \"outside "
         "scope\" is a figure that the program cannot or should not meet, kept here with the reason. Agreement here is "
         "with formulas, tables and practice, not with a measured wheel: it is no release to service.\n\n"
         "| kind | inside | outside scope | meaning |\n|---|---|---|---|\n";
  Total sum;
  for (std::size_t k = 0; k < kKinds.size(); ++k) {
    const Total t = total(static_cast<Kind>(k));
    sum.inside += t.inside;
    sum.outside += t.outside;
    out << "| " << kKinds[k] << " | " << t.inside << " | " << t.outside << " | " << kKindMeanings[k] << " |\n";
  }
  out << "| sum | " << sum.inside << " | " << sum.outside << " | |\n";
  out << "\n## The worst\n\nWithout our own arithmetic, bands and what is outside scope. Near 1 of its tolerance "
         "stands any figure that was rounded unluckily: look at the share of the value first.\n";
  put_worst(out, "Relative to the value", of_value, 100, "% of value");
  put_worst(out, "Relative to the tolerance", of_tolerance, 1, "of tolerance");
  std::string file, test;
  for (const Row& r : rows()) {
    if (r.file != file) {
      file = r.file;
      test.clear();
      out << "\n## " << file << "\n";
    }
    if (r.test != test) {
      test = r.test;
      out << "\n### " << test
          << "\n\n| quantity | source | kind | expected | computed | difference | tolerance | status |\n"
             "|---|---|---|---|---|---|---|---|\n";
    }
    out << "| " << r.quantity() << " | " << r.source << " | " << r.kind_name() << " | " << expected_text(r) << " | "
        << number(r.computed, 5) << " | " << difference_text(r) << " | "
        << (std::isnan(r.expected) ? "–"
            : r.band               ? "band"
                                   : number(r.tolerance, 2))
        << " | " << status(r) << " |\n";
  }
  out.close();
  if (!out) {
    throw std::runtime_error(path + ": cannot write the table of checks");
  }
}

nlohmann::ordered_json told(double x, int digits) {
  return std::isnan(x) ? nlohmann::ordered_json() : nlohmann::ordered_json(rounded(x, digits));
}

nlohmann::ordered_json short_row(const Row& r) {
  nlohmann::ordered_json j;
  j["quantity"] = r.quantity();
  j["source"] = r.source;
  j["kind"] = r.kind_name();
  if (r.band) {
    j["expected_low"] = told(r.expected - r.tolerance, 4);
    j["expected_high"] = told(r.expected + r.tolerance, 4);
  } else {
    j["expected"] = told(r.expected, 6);
  }
  j["computed"] = told(r.computed, 5);
  return j;
}

void write_short(const std::string& path) {
  nlohmann::ordered_json j;
  j["totals"] = nlohmann::ordered_json::array();
  for (std::size_t k = 0; k < kKinds.size(); ++k) {
    const Total t = total(static_cast<Kind>(k));
    j["totals"].push_back(
        {{"kind", kKinds[k]}, {"inside", t.inside}, {"outside_scope", t.outside}, {"meaning", kKindMeanings[k]}});
  }
  std::map<std::pair<std::size_t, std::string>, std::size_t> sources;
  for (const Row& r : rows()) {
    if (r.kind != Kind::Derived && r.kind != Kind::ClosedForm) {
      ++sources[{static_cast<std::size_t>(r.kind), r.source}];
    }
  }
  j["sources"] = nlohmann::ordered_json::array();
  for (const auto& entry : sources) {
    j["sources"].push_back(
        {{"source", entry.first.second}, {"kind", kKinds.at(entry.first.first)}, {"rows", entry.second}});
  }
  j["worst"] = nlohmann::ordered_json::array();
  for (const Row* r : worst(of_value)) {
    nlohmann::ordered_json one = short_row(*r);
    one["share_of_value"] = told(of_value(*r), 2);
    one["share_of_tolerance"] = told(of_tolerance(*r), 2);
    j["worst"].push_back(one);
  }
  j["outside_scope"] = nlohmann::ordered_json::array();
  for (const Row& r : rows()) {
    if (!r.outside.empty()) {
      nlohmann::ordered_json one = short_row(r);
      one["reason"] = r.outside;
      j["outside_scope"].push_back(one);
    }
  }
  std::ofstream out(path, std::ios::binary);
  out << j.dump(1) << '\n';
  out.close();
  if (!out) {
    throw std::runtime_error(path + ": cannot write the short form of the checks");
  }
}

/// Rows as tests/reference keeps them: what runs on demand is recorded and joins the table from its file.
void write_rows(const std::string& path) {
  nlohmann::ordered_json all = nlohmann::ordered_json::array();
  for (const Row& r : rows()) {
    nlohmann::ordered_json j;
    j["test"] = r.test;
    j["quantity"] = r.quantity();
    j["source"] = r.source;
    j["expected"] = r.expected;
    j["computed"] = r.computed;
    j["tolerance"] = r.tolerance;
    all.push_back(j);
  }
  std::ofstream out(path, std::ios::binary);
  out << all.dump(1) << '\n';
  out.close();
  if (!out) {
    throw std::runtime_error(path + ": cannot write the rows of the checks");
  }
}

void add_recorded() {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(CLAMPFADE_SOURCE "/tests/reference/recorded")) {
    files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  for (const std::filesystem::path& file : files) {
    std::ifstream in(file);
    for (const nlohmann::json& j : nlohmann::json::parse(in)) {
      Row r;
      r.file = "tests/reference/recorded/" + file.filename().string();
      r.test = j.at("test");
      r.what = j.at("quantity");
      r.source = j.at("source");
      r.kind = Kind::Library;
      r.expected = j.at("expected");
      r.computed = j.at("computed");
      r.tolerance = j.at("tolerance");
      r.band = j.value("band", false);
      r.outside = j.value("outside", "");
      rows().push_back(std::move(r));
    }
  }
}

/// Two rows that a reader cannot tell apart, or "".
std::string twin() {
  std::set<std::string> seen;
  for (const Row& r : rows()) {
    const std::string key = r.file + ", " + r.test + ", " + r.quantity() + ", " + r.source;
    if (!seen.insert(key).second) {
      return key;
    }
  }
  return "";
}

struct Recorder : doctest::IReporter {
  explicit Recorder(const doctest::ContextOptions&) {}
  void report_query(const doctest::QueryData&) override {}
  void test_run_start() override {}
  void test_run_end(const doctest::TestRunStats&) override {
    const char* table = std::getenv("CLAMPFADE_CHECKS_OUT");
    const char* brief = std::getenv("CLAMPFADE_CHECKS_SHORT_OUT");
    if (const char* own = std::getenv("CLAMPFADE_CHECKS_ROWS_OUT"); own != nullptr) {
      write_rows(own);
    }
    if (table == nullptr && brief == nullptr) {
      return;
    }
    add_recorded();
    std::stable_sort(rows().begin(), rows().end(), [](const Row& a, const Row& b) { return a.file < b.file; });
    if (table != nullptr) {
      write_table(table);
    }
    if (brief != nullptr) {
      write_short(brief);
    }
    if (const std::string double_row = twin(); !double_row.empty()) {
      std::cerr << "two rows of the checks look alike, capture what sets them apart: " << double_row << '\n';
      std::exit(1); // doctest lets a listener say no in no other way
    }
  }
  void test_case_start(const doctest::TestCaseData& test) override { running = &test; }
  void test_case_reenter(const doctest::TestCaseData&) override {}
  void test_case_end(const doctest::CurrentTestCaseStats&) override { running = nullptr; }
  void test_case_exception(const doctest::TestCaseException&) override {}
  void subcase_start(const doctest::SubcaseSignature&) override {}
  void subcase_end() override {}
  void log_assert(const doctest::AssertData&) override {}
  void log_message(const doctest::MessageData&) override {}
  void test_case_skipped(const doctest::TestCaseData&) override {}
};

REGISTER_LISTENER("checks", 0, Recorder);

} // namespace

void record_check(CheckRow row) {
  Row r;
  static_cast<CheckRow&>(r) = std::move(row);
  if (running != nullptr) {
    const std::string path = running->m_file.c_str();
    const std::size_t at = path.rfind("tests/");
    r.file = at == std::string::npos ? path : path.substr(at);
    r.test = running->m_name;
  }
  r.item = context();
  rows().push_back(std::move(r));
}

namespace {

void check_close(std::string_view what, std::string_view source, Kind kind, double computed, const Close& expected) {
  record_check({std::string(what), std::string(source), kind, expected.value, computed,
                expected.abs + expected.rel * std::abs(expected.value), false, ""});
  CAPTURE(what);
  CAPTURE(source);
  CHECK(computed == expected);
}

} // namespace

void check_closed_form(std::string_view what, double computed, const Close& expected) {
  check_close(what, "formula in the test", Kind::ClosedForm, computed, expected);
}

void check_library(std::string_view what, std::string_view library, double computed, const Close& expected) {
  check_close(what, library, Kind::Library, computed, expected);
}

} // namespace clampfade::test

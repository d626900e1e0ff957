// The file of a fit: what goes in comes out, and nothing else is taken for one.
#include "solver/io/fit_file.hpp"

#include "solver/io/history.hpp"
#include "tests/support/fit_file_example.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>

using namespace clampfade;
using namespace clampfade::test;

namespace {

bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }
bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](double x, double y) { return same(x, y); });
}

Code refused(const std::string& path) {
  try {
    (void)read_fit(path);
  } catch (const FileError& e) {
    CHECK(std::string(e.what()).find(path) == 0);
    return e.code();
  }
  FAIL("was accepted");
  return Code::Internal;
}

} // namespace

TEST_CASE("fit file: what goes in comes out") {
  const TmpDir dir;
  const FitResult in = fit_file_example();
  FitWriter(dir / "fit.h5").write(in);
  CHECK(is_fit(dir / "fit.h5"));
  const FitFile file = read_fit(dir / "fit.h5");
  const FitResult& out = file.fit;
  CHECK(file.digest.size() == 64);
  CHECK(out.warnings == in.warnings);
  CHECK(out.block == in.block);
  CHECK(out.loss == in.loss);
  CHECK(out.seed == in.seed);
  CHECK(out.best == in.best);
  CHECK(out.runs == in.runs);
  CHECK(out.failed_runs == in.failed_runs);
  CHECK(out.freedom == in.freedom);
  CHECK(out.chi_square == in.chi_square);
  CHECK(out.widened == in.widened);
  CHECK(out.t_quantile == in.t_quantile);
  CHECK(same(out.correlation, in.correlation));
  CHECK(same({out.found_error.begin(), out.found_error.end()}, {in.found_error.begin(), in.found_error.end()}));
  REQUIRE(out.parameters.size() == in.parameters.size());
  for (std::size_t k = 0; k < in.parameters.size(); ++k) {
    CAPTURE(k);
    const FitParameter& a = in.parameters[k];
    const FitParameter& b = out.parameters[k];
    CHECK(std::tie(a.path, a.name, a.label, a.unit, a.low, a.high, a.start, a.log, a.difference) ==
          std::tie(b.path, b.name, b.label, b.unit, b.low, b.high, b.start, b.log, b.difference));
    const FitValue& v = in.values[k];
    const FitValue& w = out.values[k];
    CHECK(std::tie(v.value, v.low, v.high, v.error, v.scaled_error, v.at_low, v.at_high) ==
          std::tie(w.value, w.low, w.high, w.error, w.scaled_error, w.at_low, w.at_high));
    CHECK(same(v.profile_value, w.profile_value));
    CHECK(same(v.profile_rise, w.profile_rise));
    CHECK(same(v.profile_low, w.profile_low));
    CHECK(same(v.profile_high, w.profile_high));
  }
  REQUIRE(out.sets.size() == in.sets.size());
  for (std::size_t s = 0; s < in.sets.size(); ++s) {
    const FitSetResult& a = in.sets[s];
    const FitSetResult& b = out.sets[s];
    CHECK(std::tie(a.title, a.scenario_file, a.scenario_text, a.data_file, a.data_sha256, a.time) ==
          std::tie(b.title, b.scenario_file, b.scenario_text, b.data_file, b.data_sha256, b.time));
  }
  REQUIRE(out.readings.size() == in.readings.size());
  for (std::size_t i = 0; i < in.readings.size(); ++i) {
    CAPTURE(i);
    const FitReading& a = in.readings[i];
    const FitReading& b = out.readings[i];
    CHECK(std::tie(a.set, a.time, a.quantity, a.stud, a.part, a.value, a.note) ==
          std::tie(b.set, b.time, b.quantity, b.stud, b.part, b.value, b.note));
    CHECK(same(a.error, b.error));
    const FitResidual& r = in.residuals[i];
    const FitResidual& q = out.residuals[i];
    CHECK(same({r.model, r.error, r.standardised, r.weight, r.clamp, r.clamp_deviation},
               {q.model, q.error, q.standardised, q.weight, q.clamp, q.clamp_deviation}));
  }
  REQUIRE(out.curves.size() == in.curves.size());
  for (std::size_t c = 0; c < in.curves.size(); ++c) {
    CHECK(std::tie(in.curves[c].set, in.curves[c].quantity, in.curves[c].stud, in.curves[c].part, in.curves[c].value) ==
          std::tie(out.curves[c].set, out.curves[c].quantity, out.curves[c].stud, out.curves[c].part,
                   out.curves[c].value));
  }
  REQUIRE(out.starts.size() == in.starts.size());
  for (std::size_t s = 0; s < in.starts.size(); ++s) {
    CHECK(same(in.starts[s].from, out.starts[s].from));
    CHECK(same(in.starts[s].to, out.starts[s].to));
    CHECK(same(in.starts[s].cost, out.starts[s].cost));
    CHECK(in.starts[s].outcome == out.starts[s].outcome);
  }
}

TEST_CASE("fit file: the digest knows the results and not the day") {
  const TmpDir dir;
  FitResult fit = fit_file_example();
  FitWriter(dir / "a.h5").write(fit);
  fit.block += "# another day\n";
  FitWriter(dir / "b.h5").write(fit);
  CHECK(read_fit(dir / "a.h5").digest == read_fit(dir / "b.h5").digest);
  fit.values[0].high *= 1.000001;
  FitWriter(dir / "c.h5").write(fit);
  CHECK(read_fit(dir / "a.h5").digest != read_fit(dir / "c.h5").digest);
}

TEST_CASE("fit file: a damaged file, another kind of file and one that is there are refused") {
  const TmpDir dir;
  FitWriter(dir / "fit.h5").write(fit_file_example());
  CHECK_THROWS_AS(FitWriter(dir / "fit.h5"), FileError);
  CHECK_NOTHROW(FitWriter(dir / "fit.h5", true));
  std::string text = read_text(dir / "fit.h5");
  write_text(dir / "short.h5", text.substr(0, text.size() - 10));
  CHECK(refused(dir / "short.h5") == Code::FileTruncated);
  text[text.size() / 2] = static_cast<char>(text[text.size() / 2] ^ 1);
  write_text(dir / "bent.h5", text);
  CHECK(refused(dir / "bent.h5") == Code::FileTruncated);
  CHECK(refused(dir / "none.h5") == Code::FileMissing);
  CHECK_FALSE(is_fit(dir / "none.h5"));
}

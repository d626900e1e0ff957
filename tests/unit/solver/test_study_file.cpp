// The file of a study: what goes in comes out, a grid in its order, parts make the whole, and nothing else is taken for
// one.
#include "solver/io/study_file.hpp"

#include "solver/io/history.hpp"
#include "solver/io/history_hdf5.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/study_merge.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/python.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <csignal>
#include <filesystem>
#include <functional>
#include <limits>
#include <sys/wait.h>
#include <unistd.h>

using namespace clampfade;
using namespace clampfade::test;

namespace {

bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

void check_same(const StudyCase& a, const StudyCase& b) {
  CHECK(b.status == a.status);
  CHECK(b.message == a.message);
  for (std::vector<double> StudyCase::*list :
       {&StudyCase::clamp_cold_lowest, &StudyCase::clamp_cold_mean, &StudyCase::clamp_cold_first,
        &StudyCase::clamp_cold_end, &StudyCase::loss_clamp_end}) {
    CHECK(b.*list == a.*list);
  }
  for (double StudyCase::*real :
       {&StudyCase::retorque_gain_end, &StudyCase::required_clamp, &StudyCase::below_time, &StudyCase::below_distance,
        &StudyCase::slip_margin_lowest, &StudyCase::utilisation_highest, &StudyCase::utilisation_tightening,
        &StudyCase::proof_share}) {
    CHECK(same(b.*real, a.*real));
  }
  for (std::size_t StudyCase::*count :
       {&StudyCase::below_stud, &StudyCase::nuts_loose, &StudyCase::studs_yielded, &StudyCase::parts_outside}) {
    CHECK(b.*count == a.*count);
  }
}

void check_same(const Study& a, const Study& b) {
  CHECK(b.title == a.title);
  CHECK(b.scenario_text == a.scenario_text);
  CHECK(b.kind == a.kind);
  CHECK(b.sampling == a.sampling);
  CHECK(b.seed == a.seed);
  CHECK(b.status == a.status);
  CHECK(b.part == a.part);
  CHECK(b.parts == a.parts);
  CHECK(b.design_sha256 == a.design_sha256);
  CHECK(b.warnings == a.warnings);
  CHECK(b.design == a.design);
  CHECK(b.time == a.time);
  CHECK(b.distance == a.distance);
  CHECK(b.studs == a.studs);
  CHECK(b.mechanisms == a.mechanisms);
  REQUIRE(b.axes.size() == a.axes.size());
  for (std::size_t k = 0; k < a.axes.size(); ++k) {
    CHECK(b.axes[k].name == a.axes[k].name);
    CHECK(b.axes[k].label == a.axes[k].label);
    CHECK(b.axes[k].path == a.axes[k].path);
    CHECK(b.axes[k].unit == a.axes[k].unit);
    CHECK(b.axes[k].values == a.axes[k].values);
    CHECK(b.axes[k].texts == a.axes[k].texts);
  }
  REQUIRE(b.inputs.size() == a.inputs.size());
  for (std::size_t k = 0; k < a.inputs.size(); ++k) {
    CHECK(b.inputs[k].name == a.inputs[k].name);
    CHECK(b.inputs[k].label == a.inputs[k].label);
    CHECK(b.inputs[k].path == a.inputs[k].path);
    CHECK(b.inputs[k].unit == a.inputs[k].unit);
    CHECK(b.inputs[k].distribution == a.inputs[k].distribution);
    CHECK(b.inputs[k].per_stud == a.inputs[k].per_stud);
    CHECK(b.inputs[k].values == a.inputs[k].values);
    CHECK(b.inputs[k].texts == a.inputs[k].texts);
  }
  REQUIRE(b.cases.size() == a.cases.size());
  for (std::size_t i = 0; i < a.cases.size(); ++i) {
    CAPTURE(i);
    check_same(a.cases[i], b.cases[i]);
  }
}

StudyFile there_and_back(const Study& study, std::string* path = nullptr) {
  const TmpDir dir;
  StudyWriter(dir / "s.h5").write(study);
  CHECK(is_study(dir / "s.h5"));
  if (path != nullptr) {
    *path = dir / "s.h5";
  }
  return read_study(dir / "s.h5");
}

Code refused(const std::string& path) {
  try {
    (void)read_study(path);
  } catch (const FileError& e) {
    CHECK(std::string(e.what()).find(path) == 0);
    return e.code();
  }
  FAIL("was accepted");
  return Code::Internal;
}

std::string not_merged(std::vector<Study> parts) {
  try {
    (void)merged(std::move(parts));
  } catch (const InputError& e) {
    return e.what();
  }
  FAIL("was merged");
  return "";
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("study file: a grid, a list and a sample come out as they went in") {
  Study grid = grid_example();
  grid.status = StudyStatus::Running;
  grid.cases[4] = StudyCase{};
  grid.cases[3].status = CaseStatus::Failed;
  grid.cases[3].message = "at 5 s: no equilibrium \u2013 stud 2";
  grid.cases[2].nuts_loose = 2;
  grid.cases[2].studs_yielded = 1;
  grid.cases[2].parts_outside = 3;
  grid.cases[2].retorque_gain_end = 12e3;
  grid.cases[1].slip_margin_lowest = std::numeric_limits<double>::infinity();
  const StudyFile file = there_and_back(grid);
  check_same(grid, file.study);
  CHECK(file.digest.empty()); // there are none of unfinished results
  CHECK(file.scenario_sha256.size() == 64);
  CHECK(file.created_utc.size() == 20);

  Study list = study_frame();
  list.inputs = {{"load", "load", "duty/load", "kg", "", false, {1, 2}, {}},
                 {"nut", "nut", "joint/nut", "1", "", false, {}, {"solid nut", "sprung nut"}}};
  list.cases = {study_case(130e3), study_case(100e3)};
  check_same(list, there_and_back(list).study);

  Study sample = sample_example();
  sample.sampling = StudySampling::Random;
  sample.design = {0, 0, 1, 1, 2, 2, 3, 3};
  check_same(sample, there_and_back(sample).study);
  CHECK(there_and_back(sample).digest.size() == 64);
}

TEST_CASE("study file: before any case is done there are cases, and nothing else is known") {
  Study s = sample_example();
  s.status = StudyStatus::Running;
  s.time = s.distance = {};
  s.studs = s.mechanisms = {};
  s.inputs.pop_back();
  s.inputs[0].values.clear();
  s.cases.assign(5, StudyCase{});
  const Study back = there_and_back(s).study;
  CHECK(back.cases.size() == 5);
  CHECK(back.cases[4].status == CaseStatus::Pending);
  CHECK(back.time.empty());
  CHECK(back.studs.empty());
  REQUIRE(back.inputs.size() == 1);
  REQUIRE(back.inputs[0].values.size() == 5);
  CHECK(std::isnan(back.inputs[0].values[0]));
}

TEST_CASE("study file: the digest tells what cases came to, not how they were run") {
  Study s = grid_example();
  const std::string digest = there_and_back(s).digest;
  s.title = "another name";
  s.warnings.clear();
  CHECK(there_and_back(s).digest == digest);
  s.cases[5].loss_clamp_end[1] += 1e-6;
  CHECK(there_and_back(s).digest != digest);
}

TEST_CASE("study file: what does not fit together is not written") {
  const TmpDir dir;
  const auto thrown = [&](const std::function<void(Study&)>& spoil) {
    Study s = grid_example();
    spoil(s);
    CHECK_THROWS_AS(StudyWriter(dir / "s.h5").write(s), std::logic_error);
  };
  thrown([](Study& s) { s.cases.pop_back(); });
  thrown([](Study& s) { s.cases[1].clamp_cold_lowest.pop_back(); });
  thrown([](Study& s) { s.axes[0].name = "time"; });
  thrown([](Study& s) { s.axes[0].name = s.axes[1].name; });
  thrown([](Study& s) { s.axes[0].texts = {"a", "b", "c"}; });
  thrown([](Study& s) { s.distance.pop_back(); });
  CHECK_FALSE(std::filesystem::exists(dir / "s.h5"));
}

TEST_CASE("study file: nothing is overwritten unasked, each writing takes the place of the one before") {
  const TmpDir dir;
  write_text(dir / "s.h5", "something dear");
  CHECK_THROWS_AS(StudyWriter(dir / "s.h5"), FileError);
  CHECK(read_text(dir / "s.h5") == "something dear");
  Study s = grid_example();
  {
    StudyWriter writer(dir / "s.h5", true);
    CHECK_THROWS_AS(StudyWriter(dir / "s.h5", true), FileError); // somebody is at it
    CHECK(read_text(dir / "s.h5") == "something dear");
    s.status = StudyStatus::Running;
    s.cases[0] = StudyCase{};
    writer.write(s);
    CHECK(read_study(dir / "s.h5").study.cases[0].status == CaseStatus::Pending);
    writer.write(grid_example());
    CHECK(read_study(dir / "s.h5").study.cases[0].status == CaseStatus::Complete);
  }
  CHECK_FALSE(std::filesystem::exists(dir / "s.h5.part"));
  CHECK_THROWS_AS(StudyWriter(dir / "nowhere/s.h5"), FileError);
}

TEST_CASE("study file: a writer that is killed leaves a whole file") {
  const TmpDir dir;
  for (int round = 0; round < 5; ++round) {
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      StudyWriter writer(dir / "s.h5", true);
      Study s = sample_example();
      for (std::uint64_t n = 0;; ++n) {
        s.seed = n;
        writer.write(s);
      }
    }
    ::usleep(30'000 + 7'001U * static_cast<unsigned>(round));
    // On a slow machine the others may be dead before their first file; the last one has to have made one.
    for (int wait = 0; round == 4 && wait < 3000 && !std::filesystem::exists(dir / "s.h5"); ++wait) {
      ::usleep(10'000);
    }
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    if (std::filesystem::exists(dir / "s.h5")) {
      CHECK(read_study(dir / "s.h5").study.cases.size() == 8);
    }
  }
  CHECK(std::filesystem::exists(dir / "s.h5"));
  StudyWriter(dir / "s.h5", true).write(sample_example()); // what the dead left in the way is none
  CHECK(read_study(dir / "s.h5").study.seed == 7);
}

TEST_CASE("study file: damage is refused at every byte that was tried") {
  const TmpDir dir;
  StudyWriter(dir / "s.h5").write(grid_example());
  const std::string whole = read_text(dir / "s.h5");
  for (const std::size_t length :
       {std::size_t{0}, std::size_t{7}, whole.size() / 2, whole.size() - 90, whole.size() - 1}) {
    CAPTURE(length);
    write_text(dir / "q.h5", whole.substr(0, length));
    CHECK(refused(dir / "q.h5") == Code::FileTruncated);
  }
  for (std::size_t at = 600; at < whole.size() - 90; at += whole.size() / 50) {
    CAPTURE(at);
    std::string broken = whole;
    broken[at] = static_cast<char>(broken[at] ^ 0x10);
    write_text(dir / "q.h5", broken);
    CHECK(refused(dir / "q.h5") == Code::FileTruncated);
    CHECK_FALSE(is_study(dir / "q.h5"));
  }
}

TEST_CASE("study file: other files and other formats are refused by what they are") {
  const TmpDir dir;
  CHECK(refused(dir / "none.h5") == Code::FileMissing);
  write_text(dir / "text.h5", "schema: 1\nthis is a scenario and no file of results\n");
  CHECK(refused(dir / "text.h5") == Code::FileVersion);
  PlanWriter(dir / "p.h5").write(plan_example());
  CHECK(refused(dir / "p.h5") == Code::FileVersion);
  CHECK_FALSE(is_study(dir / "p.h5"));
  CHECK_FALSE(is_study(dir / "none.h5"));
  StudyWriter(dir / "s.h5").write(grid_example());
  CHECK_THROWS_AS((void)read_plan(dir / "s.h5"), FileError);
  CHECK_THROWS_AS(History(dir / "s.h5"), FileError);
  if (!python_has("h5py")) {
    return;
  }
  const CliResult newer = python(R"(
import h5py, sys
with h5py.File(sys.argv[1], 'r+') as f: f.attrs['format_version'] = [2, 0]
)",
                                 dir / "s.h5");
  REQUIRE_MESSAGE(newer.exit == 0, newer.err);
  CHECK(refused(dir / "s.h5") == Code::FileTruncated); // as another program has written to it
  CHECK_FALSE(is_study(dir / "s.h5"));
  seal_again(dir / "s.h5");
  CHECK(refused(dir / "s.h5") == Code::FileVersion);
}

TEST_CASE("study file: instants that are none, and cases done at none, are damage") {
  const TmpDir dir;
  const std::string path = dir / "s.h5";
  h5::quiet();
  for (const double instant : {std::nan(""), -1e300, std::numeric_limits<double>::infinity()}) {
    StudyWriter(path, true).write(grid_example());
    h5::write_rows(h5::open_dataset(h5::open_on_disk(path), "/time"), H5T_NATIVE_DOUBLE, 1, 1, &instant);
    seal_again(path);
    CHECK(refused(path) == Code::FileTruncated);
  }
  StudyWriter(path, true).write(grid_example());
  h5::check(H5Ldelete(h5::open_on_disk(path), "/time", H5P_DEFAULT), "delete");
  seal_again(path);
  CHECK(refused(path) == Code::FileTruncated);
}

TEST_CASE("study file: one of format 1.0 is read, and what it does not tell is not known") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  StudyWriter(dir / "s.h5").write(grid_example());
  REQUIRE(python("import h5py, sys\n"
                 "with h5py.File(sys.argv[1], 'r+') as f:\n"
                 "    f.attrs['format_version'] = [1, 0]\n"
                 "    del f['utilisation_tightening'], f['proof_share']\n",
                 dir / "s.h5")
              .exit == 0);
  seal_again(dir / "s.h5");
  const Study study = read_study(dir / "s.h5").study;
  REQUIRE(study.cases.size() == 6);
  CHECK(study.cases[2].utilisation_highest == 0.8);
  CHECK(std::isnan(study.cases[2].utilisation_tightening));
  CHECK_FALSE(study.cases[2].overtightened());
}

TEST_CASE("study file: the parts of a study make the whole, in whatever order they are given") {
  for (const Study& whole : {grid_example(), sample_example()}) {
    const std::string digest = there_and_back(whole).digest;
    std::vector<Study> parts = {part_of(whole, 3, 3), part_of(whole, 1, 3), part_of(whole, 2, 3)};
    parts[0].warnings = {"another warning"};
    for (std::size_t i = 0; i < whole.cases.size(); ++i) {
      if (!whole.inputs.empty() && !parts[1].mine(i)) {
        parts[1].inputs[0].values[i] = StudyCase::kUnknown; // what others are given a part need not know
      }
    }
    const Study all = merged(parts);
    CHECK(there_and_back(all).digest == digest);
    CHECK(all.parts == 1);
    CHECK(all.status == StudyStatus::Complete);
    CHECK(all.warnings == std::vector<std::string>{"an invented warning", "another warning"});
    CHECK(there_and_back(merged({whole})).digest == digest);
  }
}

TEST_CASE("study file: more parts than cases leave some without, and the whole is whole") {
  const Study whole = grid_example();
  std::vector<Study> parts;
  for (std::size_t k = 1; k <= 8; ++k) {
    parts.push_back(part_of(whole, k, 8));
  }
  for (Study* empty : {&parts[6], &parts[7]}) {
    empty->time = empty->distance = {};
    empty->studs = empty->mechanisms = {};
  }
  std::swap(parts[0], parts[7]);
  CHECK(there_and_back(merged(parts)).digest == there_and_back(whole).digest);
}

TEST_CASE("study file: parts that do not belong together are not put together") {
  const Study whole = sample_example();
  const Study one = part_of(whole, 1, 3);
  const Study two = part_of(whole, 2, 3);
  Study three = part_of(whole, 3, 3);
  CHECK(has(not_merged({}), "no parts are given"));
  CHECK(has(not_merged({one, three}), "part 2 of 3 is missing"));
  CHECK(has(not_merged({one, two, two, three}), "part 2 of 3 is given 2 times"));
  CHECK(has(not_merged({one, part_of(whole, 2, 2)}), "one of 2 parts"));
  three.cases[2] = StudyCase{};
  CHECK(has(not_merged({one, two, three}), "part 3 of 3 is not finished, 1 of its cases wait"));
  three = part_of(whole, 3, 3);
  three.design_sha256[0] = 'b';
  CHECK(has(not_merged({one, two, three}), "file 3 is of another design"));
}

TEST_CASE("study file: h5py and xarray read it with named axes, units and labels") {
  if (!python_has("h5py, xarray, netCDF4")) {
    return;
  }
  const TmpDir dir;
  Study grid = grid_example();
  grid.cases[5].status = CaseStatus::Failed;
  grid.cases[5].message = "no equilibrium";
  StudyWriter(dir / "grid.h5").write(grid);
  const CliResult h5py = python(R"(
import h5py, sys
f = h5py.File(sys.argv[1], 'r')
assert f.attrs['filetype'] == b'clampfade-study', f.attrs['filetype']
assert f['clamp_cold_lowest'].shape == (3, 2, 3)
assert [list(d.keys()) for d in f['clamp_cold_lowest'].dims] == [['paint'], ['nut'], ['time']]
assert f['status'].dtype == 'i1' and f['clamp_cold_end'].dtype == '<f8' and f['below_stud'].dtype == '<i8'
assert list(f['nut'].asstr()[:]) == ['solid nut', 'sprung nut']
def look(name, d):
    if isinstance(d, h5py.Dataset):
        assert 'units' in d.attrs and 'long_name' in d.attrs, name
        assert d.chunks, name
        if h5py.check_string_dtype(d.dtype) is None:
            assert d.fletcher32 and d.shuffle and d.compression == 'gzip', name
f.visititems(look)
)",
                                dir / "grid.h5");
  CHECK_MESSAGE(h5py.exit == 0, h5py.err);
  const CliResult xarray = python(R"(
import sys, xarray
d = xarray.open_dataset(sys.argv[1], engine='netcdf4')
assert d.clamp_cold_lowest.dims == ('paint', 'nut', 'time'), d.clamp_cold_lowest.dims
assert d.loss_clamp_end.dims == ('paint', 'nut', 'mechanism') and d.clamp_cold_end.dims == ('paint', 'nut', 'stud')
# In C order: 150 kN, less 30 a step of paint, 10 more for the second nut.
assert float(d.clamp_cold_lowest.sel(paint=60e-6, nut='sprung nut').isel(time=-1)) == 130e3
assert float(d.clamp_cold_end.sel(paint=120e-6, nut='solid nut', stud='2')) == 94e3
assert d.message.sel(paint=120e-6, nut='sprung nut').item() == 'no equilibrium'
assert int(d.status.isel(paint=2, nut=1)) == 2 and d.status.attrs['flag_meanings'] == 'pending complete failed'
assert d.paint.attrs['units'] == 'm' and d.paint.attrs['path'] == 'joint/stack/*/*_side/thickness'
)",
                                  dir / "grid.h5");
  CHECK_MESSAGE(xarray.exit == 0, xarray.err);
  StudyWriter(dir / "sample.h5").write(sample_example());
  const CliResult sample = python(R"(
import sys, xarray
d = xarray.open_dataset(sys.argv[1], engine='netcdf4')
assert d.clamp_cold_lowest.dims == ('case', 'time') and list(d.case.values) == list(range(8))
i = xarray.open_dataset(sys.argv[1], engine='netcdf4', group='input')
assert i.torque.dims == ('case',) and i.thread.dims == ('case', 'stud'), i.thread.dims
assert i.torque.attrs['units'] == 'N m' and i.thread.attrs['each'] == 'stud'
assert float(i.torque[1]) == 630
)",
                                  dir / "sample.h5");
  CHECK_MESSAGE(sample.exit == 0, sample.err);
}

TEST_CASE("study file: every dataset is described in the format page") {
  const std::string page = read_text(std::string(CLAMPFADE_SOURCE) + "/solver/HISTORY_FORMAT.md");
  const std::string section = page.substr(page.find("\n# Study file"));
  for (const std::string_view name : kStudyNames) {
    CAPTURE(name);
    CHECK((has(section, "`/" + std::string(name) + "`") || name == "input" || name == "single"));
  }
}

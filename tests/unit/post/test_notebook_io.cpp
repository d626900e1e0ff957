// The Python module that opens files of results: what stands in a file stands in the dataset, with its labels.
#include "solver/io/fit_file.hpp"
#include "solver/io/history.hpp"
#include "solver/io/plan_file.hpp"
#include "solver/io/study_file.hpp"

#include "tests/support/fit_file_example.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/python.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/synthetic.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace clampfade;
using namespace clampfade::test;

namespace {

void check(const std::string& script, const std::string& file) {
  const std::string start = "import sys, numpy\nsys.dont_write_bytecode = True\nsys.path.insert(0, '" CLAMPFADE_SOURCE
                            "/notebooks')\nimport clampfade_io\nd = clampfade_io.load(sys.argv[1])\n";
  const CliResult result = python(start + script, file);
  CHECK_MESSAGE(result.exit == 0, result.err);
}

} // namespace

TEST_CASE("notebook module: a history, its groups and only its good rows") {
  if (!python_has("h5py, xarray")) {
    return;
  }
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 12, 5);
    writer.end(RunStatus::Complete, "", {});
  }
  check(R"(
assert d.attrs['filetype'] == 'clampfade-history' and d.attrs['title'].startswith('Invented wheel')
assert d.clamp.dims == ('time', 'stud') and d.clamp.shape == (12, 3), d.clamp
assert d.loss.dims == ('time', 'stud', 'mechanism')
assert float(d.clamp.sel(stud='3', time=7200.0)) == 180e3 - 2/3 + 14
assert d.clamp.attrs == {'units': 'N', 'long_name': 'clamp load as it is'}, d.clamp.attrs
assert d.distance.dims == ('time',) and 'distance' in d.coords
assert d.steps_controlled_by.dims == ('steps_interval',) and d.steps_controlled_by.values[1] == 'stud 1: embedding'
assert d.scenario.dims == () and str(d.scenario.values).startswith('schema: 1')
assert not [n for n in d.variables if n.startswith('checkpoint')]
)",
        dir / "a.h5");
}

TEST_CASE("notebook module: a fit") {
  if (!python_has("h5py, xarray")) {
    return;
  }
  const TmpDir dir;
  FitWriter(dir / "fit.h5").write(fit_file_example());
  check(R"(
assert d.value.dims == ('parameter',) and float(d.value[2]) == 8e-6 and str(d.unit.values[2]) == 'm'
assert d.correlation.dims == ('parameter', 'parameter_other') and float(d.correlation[0, 1]) == 0.65
assert d.reading_value.dims == ('reading',) and d.reading_time.attrs['units'] == 's'
assert d.curve_value.dims == ('curve', 'instant') and float(d.curve_value[0, 2]) == 177e3
assert d.attrs['loss'] == 'huber' and 'provenance: fitted' in d.attrs['block']
)",
        dir / "fit.h5");
}

TEST_CASE("notebook module: a grid, a sample and a plan") {
  if (!python_has("h5py, xarray")) {
    return;
  }
  const TmpDir dir;
  StudyWriter(dir / "grid.h5").write(grid_example());
  check(R"(
assert d.clamp_cold_lowest.dims == ('paint', 'nut', 'time'), d.clamp_cold_lowest.dims
assert float(d.clamp_cold_lowest.sel(paint=60e-6, nut='sprung nut').isel(time=-1)) == 130e3
assert d.paint.attrs['units'] == 'm' and d.paint.attrs['path'] == 'joint/stack/*/*_side/thickness'
assert float(d.loss_clamp_end.sel(mechanism='coating_flow', paint=0, nut='solid nut')) == 22500
)",
        dir / "grid.h5");
  StudyWriter(dir / "sample.h5").write(sample_example());
  check(R"(
assert d.input_torque.dims == ('case',) and d.input_thread.dims == ('case', 'stud')
assert d.attrs['kind'] == 'sample' and d.attrs['seed'] == 7
assert list(numpy.flatnonzero(d.below_stud)) == [0, 3] and numpy.isnan(d.below_time[1])
)",
        dir / "sample.h5");
  PlanWriter(dir / "plan.h5").write(plan_example());
  check("assert d.clamp.dims == ('case', 'time') and float(d.done_time[1, 0]) == 5.5 * 86400, d\n", dir / "plan.h5");
  REQUIRE(python("import h5py, sys\nh5py.File(sys.argv[1], 'w')\n", dir / "other.h5").exit == 0);
  const CliResult refused = python("import sys\nsys.dont_write_bytecode = True\nsys.path.insert(0, '" CLAMPFADE_SOURCE
                                   "/notebooks')\nimport clampfade_io\nclampfade_io.load(sys.argv[1])\n",
                                   dir / "other.h5");
  CHECK(refused.exit != 0);
  CHECK(refused.err.find("not a file of clampfade's results") != std::string::npos);
}

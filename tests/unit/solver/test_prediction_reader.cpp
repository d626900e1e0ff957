#include "solver/diagnostics.hpp"
#include "solver/io/history.hpp"
#include "solver/io/prediction_reader.hpp"
#include "solver/io/study_file.hpp"
#include "tests/support/close.hpp"
#include "tests/support/study_example.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using namespace clampfade::test;

namespace {

StoredPrediction of(const Study& study, std::vector<std::string>& warnings) {
  const TmpDir dir;
  StudyWriter(dir / "s.h5").write(study);
  return read_prediction(dir / "s.h5", warnings);
}

} // namespace

TEST_CASE("prediction: of a study the earliest fall and the lowest clamp of all cases count") {
  std::vector<std::string> warnings;
  const StoredPrediction p = of(sample_example(), warnings);
  // The weakest of the eight ends at 100 kN after 100 days: from 180 kN in a straight line 120 kN is 75 days away.
  CHECK(p.below_time.value() == close(75 * kStudyDay, 0, 1e-12));
  CHECK(p.below_distance.value() == close(3750e3, 0, 1e-12));
  CHECK(p.below_stud == 1);
  CHECK(p.required_clamp == 120e3);
  CHECK(p.end_time == 100 * kStudyDay);
  CHECK(p.source == "study: earliest of 8 cases");
  CHECK_FALSE(p.digest.empty());
  REQUIRE(p.points.size() == 3);
  CHECK(p.points[1].clamp == 140e3);
  CHECK(p.points[2].clamp == 100e3);
  CHECK(p.points[2].distance.value() == 5000e3);
  CHECK(warnings.empty());
}

TEST_CASE("prediction: a case that is too weak as tightened counts from the start, one that failed is told") {
  Study study = sample_example();
  study.cases[2].clamp_cold_lowest.front() = 110e3;
  study.cases[2].clamp_cold_first = {115e3, 110e3};
  study.cases[2].below_time = StudyCase::kUnknown;
  study.cases[5] = StudyCase{};
  study.cases[5].status = CaseStatus::Failed;
  std::vector<std::string> warnings;
  const StoredPrediction p = of(study, warnings);
  CHECK(p.below_time.value() == 0);
  CHECK(p.below_stud == 2);
  CHECK(p.points[0].clamp == 110e3);
  CHECK(p.source == "study: earliest of 7 cases");
  REQUIRE(warnings.size() == 1);
  CHECK(warnings[0] == "1 of 8 cases failed and tell nothing");
}

TEST_CASE("prediction: an unfinished run or study, and a part of one, are refused") {
  std::vector<std::string> warnings;
  CHECK_THROWS_AS((void)of(part_of(sample_example(), 1, 2), warnings), FileError);
  Study stopped = sample_example();
  stopped.status = StudyStatus::Stopped;
  CHECK_THROWS_AS((void)of(stopped, warnings), FileError);
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "h.h5");
    writer.begin(synthetic_header());
    writer.record(synthetic_record(0));
    writer.end(RunStatus::Stopped, "asked to", {});
  }
  CHECK_THROWS_AS((void)read_prediction(dir / "h.h5", warnings), FileError);
}

TEST_CASE("prediction: of a run the located event counts before the record after it, with its stud and distance") {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "h.h5");
    writer.begin(synthetic_header()); // 80 kN are required
    for (std::size_t i = 0; i < 4; ++i) {
      RecordRow row = synthetic_record(i);
      row.clamp_cold = {100e3, 95e3 - 10e3 * static_cast<double>(i), 99e3}; // below at the third record
      writer.record(row);
    }
    writer.event({5400, 1500, 1, "below required clamp", "invented"});
    writer.event({9000, 2500, 2, "below required clamp", "invented"});
    writer.end(RunStatus::Complete, "", {});
  }
  std::vector<std::string> warnings;
  const StoredPrediction p = read_prediction(dir / "h.h5", warnings);
  CHECK(p.below_time.value() == 5400);
  CHECK(p.below_distance.value() == 1500);
  CHECK(p.below_stud == 2);
  CHECK(p.required_clamp == 80e3);
  REQUIRE(p.points.size() == 4);
  CHECK(p.points[3].clamp == 65e3);
  CHECK(p.source == "history");
}

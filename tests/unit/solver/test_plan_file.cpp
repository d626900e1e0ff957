// The file of a plan: what goes in comes out, and nothing else is taken for one.
#include "solver/io/plan_file.hpp"

#include "solver/io/history.hpp"
#include "tests/support/plan_example.hpp"
#include "tests/support/python.hpp"
#include "tests/support/run_cli.hpp"
#include "tests/support/seal_again.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <functional>

using namespace clampfade;
using namespace clampfade::test;

namespace {

bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

Code refused(const std::string& path) {
  try {
    (void)read_plan(path);
  } catch (const FileError& e) {
    CHECK(std::string(e.what()).find(path) == 0);
    return e.code();
  }
  FAIL("was accepted");
  return Code::Internal;
}

/// The file with every `from` in it made `to`, of the same length, and sealed again: wrong, but not damaged.
void forge(const std::string& path, const std::string& from, const std::string& to) {
  REQUIRE(from.size() == to.size());
  std::string text = content_of(path);
  std::size_t found = 0;
  for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + 1)) {
    text.replace(at, to.size(), to);
    ++found;
  }
  REQUIRE(found > 0);
  write_text(path, text);
  seal_again(path);
}

} // namespace

TEST_CASE("plan file: what goes in comes out") {
  const TmpDir dir;
  Plan p = plan_example();
  p.cases[2].status = RunStatus::Failed;
  p.cases[2].status_text = "at 5 s: no equilibrium";
  p.cases[1].stud_yield = 3;
  p.cases[1].gap = 2;
  p.cases[3].retorques[1].moved = 4;
  p.cases[3].retorques[1].asked_time = kNotANumber;
  p.cases[3].retorques[1].asked_distance = 80e3;
  PlanWriter(dir / "p.h5").write(p);
  const PlanFile file = read_plan(dir / "p.h5");
  CHECK(is_plan(dir / "p.h5"));
  CHECK(file.digest.size() == 64);
  CHECK(file.scenario_sha256.size() == 64);
  CHECK(file.created_utc.size() == 20);
  const Plan& q = file.plan;
  CHECK(q.title == p.title);
  CHECK(q.scenario_text == p.scenario_text);
  CHECK(q.warnings == p.warnings);
  CHECK(q.end_time == p.end_time);
  CHECK(q.required_clamp == p.required_clamp);
  CHECK(q.first_clamp == p.first_clamp);
  CHECK(q.first_clamp_mean == p.first_clamp_mean);
  CHECK(q.time == p.time);
  CHECK(q.distance == p.distance);
  REQUIRE(q.cases.size() == p.cases.size());
  for (std::size_t i = 0; i < p.cases.size(); ++i) {
    CAPTURE(i);
    const PlanCase& a = p.cases[i];
    const PlanCase& b = q.cases[i];
    CHECK(b.status == a.status);
    CHECK(b.status_text == a.status_text);
    CHECK(b.clamp == a.clamp);
    for (double PlanCase::*member :
         {&PlanCase::lowest_clamp, &PlanCase::lowest_time, &PlanCase::lowest_distance, &PlanCase::below_time,
          &PlanCase::below_distance, &PlanCase::end_clamp, &PlanCase::end_clamp_mean, &PlanCase::loss_after,
          &PlanCase::utilisation_tightening, &PlanCase::proof_share}) {
      CHECK(same(b.*member, a.*member));
    }
    for (std::size_t PlanCase::*member :
         {&PlanCase::lowest_stud, &PlanCase::end_stud, &PlanCase::stud_yield, &PlanCase::stud_fatigue, &PlanCase::open,
          &PlanCase::gap, &PlanCase::nut_free}) {
      CHECK(b.*member == a.*member);
    }
    REQUIRE(b.retorques.size() == a.retorques.size());
    for (std::size_t k = 0; k < a.retorques.size(); ++k) {
      for (double PlanRetorque::*member :
           {&PlanRetorque::asked_time, &PlanRetorque::asked_distance, &PlanRetorque::time, &PlanRetorque::distance,
            &PlanRetorque::clamp_before, &PlanRetorque::clamp_before_mean, &PlanRetorque::clamp_after,
            &PlanRetorque::clamp_after_mean, &PlanRetorque::gain, &PlanRetorque::torque_lowest,
            &PlanRetorque::torque_highest, &PlanRetorque::check_torque_lowest, &PlanRetorque::check_torque_highest}) {
        CHECK(same(b.retorques[k].*member, a.retorques[k].*member));
      }
      CHECK(b.retorques[k].nuts == a.retorques[k].nuts);
      CHECK(b.retorques[k].moved == a.retorques[k].moved);
    }
  }
}

TEST_CASE("plan file: one of format 1.0 is read, and what it does not tell is not known") {
  if (!python_has("h5py")) {
    return;
  }
  const TmpDir dir;
  PlanWriter(dir / "p.h5").write(plan_example());
  REQUIRE(python("import h5py, sys\n"
                 "with h5py.File(sys.argv[1], 'r+') as f:\n"
                 "    f.attrs['format_version'] = [1, 0]\n"
                 "    del f['utilisation_tightening'], f['proof_share']\n",
                 dir / "p.h5")
              .exit == 0);
  seal_again(dir / "p.h5");
  const Plan plan = read_plan(dir / "p.h5").plan;
  REQUIRE(plan.cases.size() == 4);
  CHECK(plan.cases[1].lowest_clamp == 110e3);
  CHECK(std::isnan(plan.cases[1].utilisation_tightening));
  CHECK_FALSE(plan.cases[1].overtightened());
}

TEST_CASE("plan file: one case alone needs no axis of retorques") {
  const TmpDir dir;
  Plan p = plan_example();
  p.cases.resize(1);
  PlanWriter(dir / "p.h5").write(p);
  CHECK(read_plan(dir / "p.h5").plan.cases.size() == 1);
}

TEST_CASE("plan file: the digest tells two plans apart and knows two of the same") {
  const TmpDir dir;
  Plan p = plan_example();
  PlanWriter(dir / "a.h5").write(p);
  PlanWriter(dir / "b.h5").write(p);
  CHECK(read_plan(dir / "a.h5").digest == read_plan(dir / "b.h5").digest);
  p.cases[3].end_clamp += 1e-6;
  PlanWriter(dir / "c.h5").write(p);
  CHECK(read_plan(dir / "a.h5").digest != read_plan(dir / "c.h5").digest);
}

TEST_CASE("plan file: nothing is overwritten unasked, and nothing stays of a plan that was not written") {
  const TmpDir dir;
  write_text(dir / "p.h5", "something dear");
  CHECK_THROWS_AS(PlanWriter(dir / "p.h5"), FileError);
  CHECK(read_text(dir / "p.h5") == "something dear");
  {
    const PlanWriter writer(dir / "p.h5", true);
    CHECK(std::filesystem::exists(dir / "p.h5.part"));
    CHECK_THROWS_AS(PlanWriter(dir / "p.h5", true), FileError); // somebody is at it
  }
  CHECK(read_text(dir / "p.h5") == "something dear");
  CHECK_FALSE(std::filesystem::exists(dir / "p.h5.part"));
  PlanWriter(dir / "p.h5", true).write(plan_example());
  CHECK(read_plan(dir / "p.h5").plan.cases.size() == 4);
  CHECK_FALSE(std::filesystem::exists(dir / "p.h5.part"));
  CHECK_THROWS_AS(PlanWriter(dir / "nowhere/p.h5"), FileError);
}

TEST_CASE("plan file: damage is refused at every byte that was tried") {
  const TmpDir dir;
  PlanWriter(dir / "p.h5").write(plan_example());
  const std::string whole = read_text(dir / "p.h5");
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
    CHECK_FALSE(is_plan(dir / "q.h5"));
  }
}

TEST_CASE("plan file: other files and other formats are refused by what they are") {
  const TmpDir dir;
  CHECK(refused(dir / "none.h5") == Code::FileMissing);
  write_text(dir / "text.h5", "schema: 1\nthis is a scenario and no file of results\n");
  CHECK(refused(dir / "text.h5") == Code::FileVersion);
  {
    HistoryWriter writer(dir / "history.h5");
    synthetic_start(writer);
    synthetic_rows(writer, 0, 5, 2);
    writer.end(RunStatus::Complete, "", {});
  }
  CHECK(refused(dir / "history.h5") == Code::FileVersion);
  CHECK_FALSE(is_plan(dir / "history.h5"));
  CHECK_FALSE(is_plan(dir / "none.h5"));
  CHECK_FALSE(is_plan(dir / "text.h5"));
  PlanWriter(dir / "p.h5").write(plan_example());
  CHECK_THROWS_AS(History(dir / "p.h5"), FileError);

  // Texts of datasets stand in the open; what HDF5 guards itself is tried above.
  forge(dir / "p.h5", "complete", "complxte");
  CHECK(refused(dir / "p.h5") == Code::FileTruncated);
}

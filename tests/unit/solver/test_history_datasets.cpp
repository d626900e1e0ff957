// Datasets by name, for reports that print any of them.
#include "solver/io/history.hpp"
#include "tests/support/synthetic.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <stdexcept>

using namespace clampfade;
using namespace clampfade::test;

namespace {

constexpr std::size_t kRows = 20;

/// Twenty records, of which the last five are after the last checkpoint but still valid.
void write(const std::string& path) {
  HistoryWriter writer(path);
  synthetic_start(writer);
  synthetic_rows(writer, 0, kRows, 15);
  writer.end(RunStatus::Complete, "", {});
}

} // namespace

TEST_CASE("datasets: every one is listed with unit, meaning, type and axes") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  const std::vector<Dataset> all = history.datasets();
  const auto find = [&](const std::string& path) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const Dataset& d) { return d.path == path; });
    CAPTURE(path);
    REQUIRE(found != all.end());
    return *found;
  };
  const Dataset loss = find("loss");
  CHECK(loss.unit == "m");
  CHECK(loss.long_name == "seating loss since tightening");
  CHECK(loss.type == Dataset::Type::Real);
  REQUIRE(loss.axes.size() == 3);
  CHECK(loss.axes[0].path == "time");
  CHECK(loss.axes[0].length == kRows);
  CHECK(loss.axes[1].path == "stud");
  CHECK(loss.axes[1].length == kStuds);
  CHECK(loss.axes[2].path == "mechanism");
  CHECK(loss.axes[2].length == kMechanisms);
  CHECK(loss.values.empty());
  CHECK(find("tightening_moved").type == Dataset::Type::Whole);
  CHECK(find("tightening_moved").axes.at(0).path == "act");
  CHECK(find("event_text").type == Dataset::Type::Text);
  CHECK(find("steps/controlled_by").axes.at(0).path == "steps/interval");
  CHECK(find("joint/design_cases/required").axes.at(0).path == "joint/design_cases/required_labels");
  CHECK(find("joint/required_clamp").axes.at(0).path == "single");
  CHECK(find("time").axes.at(0).path == "time"); // an axis is its own
  for (const Dataset& d : all) {
    CHECK(d.path.rfind("checkpoint", 0) != 0);
    CHECK_FALSE(d.path.ends_with("_labels"));
  }
}

TEST_CASE("datasets: values are those that other readers see") {
  const TmpDir dir;
  write(dir / "a.h5");
  const History history(dir / "a.h5");
  CHECK(history.dataset("clamp").values == history.series("clamp"));
  CHECK(history.dataset("loss_clamp").values == history.series("loss_clamp"));
  CHECK(history.dataset("stud").text == history.studs());
  const Dataset moved = history.dataset("tightening_moved");
  const std::vector<ActRow> acts = history.acts();
  REQUIRE(moved.values.size() == acts.size());
  for (std::size_t i = 0; i < acts.size(); ++i) {
    CHECK(moved.values[i] == (acts[i].moved ? 1 : 0));
  }
  const std::vector<std::string> cases = {"hard stop", "corner"};
  CHECK(history.dataset("joint/design_cases/required_labels").text == cases);
  CHECK_THROWS_AS((void)history.dataset("no such thing"), std::out_of_range);
  CHECK_THROWS_AS((void)history.dataset("checkpoint/numbers"), std::out_of_range);
}

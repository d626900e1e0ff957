// What a report must say whatever the run was like.
#include "post/summary.hpp"
#include "post/summary_text.hpp"

#include "tests/support/close.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <sstream>

using namespace clampfade;
using namespace clampfade::post;
using namespace clampfade::test;

namespace {

constexpr double kDay = 86400;

/// A run of one stud with a record at each of these distances [m], half a day apart.
Summary summary_of(const std::vector<double>& distances, double slip_margin = 3) {
  const TmpDir dir;
  {
    HistoryWriter writer(dir / "a.h5");
    RunHeader h;
    h.title = "Invented";
    h.studs = {"1"};
    h.nodes = {"joint"};
    h.joint = {{"required_clamp", "N", "", {100e3}, {}, {}}};
    writer.begin(h);
    double time = 0;
    for (const double distance : distances) {
      RecordRow r;
      r.time = time;
      r.distance = distance;
      r.clamp = r.clamp_cold = {150e3};
      r.temperature = {300};
      r.slip_margin = slip_margin;
      r.loss.assign(kMechanisms, 0);
      r.loss_clamp.assign(kMechanisms, 0);
      r.fatigue_amplitude = {0};
      r.utilisation = {0.7};
      r.seat_pressure = {2e8};
      r.check_torque = {600};
      r.retorque_gain = {0};
      writer.record(r);
      time += kDay / 2;
    }
    writer.end(RunStatus::Complete, "", {});
  }
  return summarise(History(dir / "a.h5"));
}

std::string flat(const std::string& text) {
  std::istringstream words_of(text);
  std::string out, word;
  while (words_of >> word) {
    out += (out.empty() ? "" : " ") + word;
  }
  return out;
}
bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

} // namespace

TEST_CASE("summary: the caution is whole, with an alarm, without one and without a record") {
  const Summary sound = summary_of({0, 1e3});
  const Summary slipping = summary_of({0, 1e3}, 0.5);
  const Summary empty = summary_of({});
  CHECK(sound.alarms.empty());
  CHECK(slipping.alarms.size() == 1);
  CHECK(empty.records == 0);
  for (const Summary* s : {&sound, &slipping, &empty}) {
    for (const System system : {System::Si, System::Us}) {
      const std::string text = flat(to_text(*s, system));
      for (const char* part : {"an estimate, not a release to service", "A wheel that comes off kills.",
                               "Follow the vehicle's and the wheel's maker and the local codes", "qualified people",
                               "never skip a re-check because of a prediction alone"}) {
        CAPTURE(part);
        CHECK(has(text, part));
      }
    }
  }
}

TEST_CASE("summary: the milestone of 80 km stands at 80 km") {
  // 80 miles are 128.7 km.
  const Summary s = summary_of({0, 79e3, 81e3, 128e3, 129e3});
  REQUIRE(s.milestones.size() > 4);
  const auto found =
      std::find_if(s.milestones.begin(), s.milestones.end(), [](const Milestone& m) { return m.name == "80 km"; });
  REQUIRE(found != s.milestones.end());
  CHECK(found->distance == close(81e3, 1e-6, 0));
}

TEST_CASE("summary: a file changed after the run is called so") {
  Summary s = summary_of({0, 1e3});
  CHECK_FALSE(has(flat(to_text(s, System::Si)), "THE FILE WAS CHANGED"));
  s.digest = Digest::Wrong;
  CHECK(has(flat(to_text(s, System::Si)), "THE FILE WAS CHANGED after the run wrote it"));
}

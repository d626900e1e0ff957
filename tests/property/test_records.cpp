// Checks: whole runs: what is written down is at rest, and writing it down changes nothing.
// Problem: drawn wheels and duties of a week, recorded at drawn times and distances.
// Reference: EQUATIONS.md (5.1) written out here once more, from the recorded figures alone; the same run recorded
//   otherwise.
// Tolerance: 1e-9 of the clamp for the balance. A record ends a step, and so shifts the steps after it: what two runs
//   differ by is the error of their steps. Each is held to `tolerance` of the first clamp, and a week has some
//   hundreds; fifty tolerances for all of them together (seen: up to 28 in a thousand weeks, mostly far below one).
// Fails if: a record holds figures of different instants, or recording disturbs the run.
#include "solver/simulation.hpp"
#include "tests/property/property.hpp"
#include "tests/property/rig.hpp"
#include "tests/support/memory_sink.hpp"

#include <algorithm>
#include <numeric>

using namespace clampfade;
using namespace clampfade::test;

namespace {

RecordSpec draw_record() {
  RecordSpec record;
  record.every = *spread(1800, 2e5);
  for (std::size_t k = *count(0, 4); k > 0; --k) {
    record.at.push_back(*chance(0.5) ? When{When::Kind::Time, *between(1, 6e5)}
                                     : When{When::Kind::Distance, *between(1, 60e3)});
  }
  return record;
}

} // namespace

TEST_CASE("property: at every recorded time the clamp is the elastic closure that the recorded losses leave") {
  Allowed may;
  may.ring = false;     // the forces inside a ring are not recorded
  may.sticking = false; // nor is where nested cones stick
  check_property("records balance", [may] {
    Scenario s = *weeks(may);
    s.record = *rc::gen::exec(draw_record);
    MemorySink sink;
    RC_ASSERT(run(s, sink) == RunStatus::Complete);
    const Rig rig(s);
    const std::size_t n = s.joint.studs.count;
    std::vector<double> first(n);
    for (std::size_t i = 0; i < sink.records.size(); ++i) {
      const RecordRow& r = sink.records[i];
      const Elastic e = rig.elastic(r.temperature);
      for (std::size_t c = 0; c < n; ++c) {
        const auto from = r.loss.begin() + static_cast<std::ptrdiff_t>(c * kMechanisms);
        double length = e.compliance[0] * r.clamp[c] + e.offset[0] + std::accumulate(from, from + kMechanisms, 0.0);
        double soft = e.compliance[0];
        if (const auto& washers = rig.joint.washers()) {
          const WasherAnswer w = washers->compress(r.clamp[c] / e.washer_modulus);
          length += w.deflection;
          soft += w.slope / e.washer_modulus;
        }
        if (i == 0) {
          first[c] = length; // what the turning nut has taken up
        } else if (r.clamp[c] > 0) {
          expect(fmt::format("closure of stud {} at {:.9g} s", c + 1, r.time), length,
                 close(first[c], 1e-9 * rig.balance_scale() * soft, 0));
        } else {
          expect_at_least("open joint", length, first[c], 1e-9 * rig.balance_scale() * soft);
        }
      }
    }
    RC_ASSERT(sink.records.size() > 2);
  });
}

TEST_CASE("property: when a wheel is written down does not change what becomes of it") {
  check_property("records do not disturb", [] {
    Scenario s = *weeks();
    s.record = {};
    Scenario often = s;
    often.record = *rc::gen::exec(draw_record);
    MemorySink few;
    MemorySink many;
    RC_ASSERT(run(s, few) == RunStatus::Complete);
    RC_ASSERT(run(often, many) == RunStatus::Complete);
    RC_ASSERT(many.records.size() > few.records.size());
    const auto opened = [](const MemorySink& sink) {
      const auto first =
          std::find_if(sink.events.begin(), sink.events.end(), [](const EventRow& e) { return e.kind == "open"; });
      return first == sink.events.end() ? -1 : first->time;
    };
    if (opened(few) >= 0) {
      // Nuts that run away fall from the least difference into another heap: only when the first goes can be
      // told, to minutes.
      expect("first stud to open", opened(many), close(opened(few), 600, 0));
      return;
    }
    const RecordRow& a = few.records.back();
    const RecordRow& b = many.records.back();
    const double slack = 50 * s.tolerance * few.records[0].clamp[0];
    for (std::size_t k = 0; k < a.clamp.size(); ++k) {
      expect("clamp", b.clamp[k], close(a.clamp[k], slack, 0));
      expect("cold clamp", b.clamp_cold[k], close(a.clamp_cold[k], slack, 0));
    }
    for (std::size_t k = 0; k < a.temperature.size(); ++k) {
      expect("temperature", b.temperature[k], close(a.temperature[k], 1e-9, 0));
    }
    expect("distance", b.distance, close(a.distance, 1e-6, 1e-12));
  });
}

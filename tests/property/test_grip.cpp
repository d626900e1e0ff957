// Checks: why long studs keep their clamp.
// Problem: drawn joints, single columns, with one part made thicker; both lose the same thickness at one place.
// Reference: (1.1): a longer column of the same section is softer, so that the same thickness takes less clamp.
// Tolerance: 1e-9 of the clamp.
// Fails if: grip does not soften stud or stack, or the stack's softness grows where it should not.
#include "tests/property/property.hpp"
#include "tests/property/rig.hpp"

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// Clamp that studs tightened to `clamp` have left once the drawn gap has closed.
double left_after(const Scenario& s, double clamp) {
  Rig rig(s);
  rig.wheel.remove_nut(rig.x, 0, rig.nodes);
  rig.x = rig.wheel.fresh();
  rig.wheel.tighten(rig.x, 0, clamp, 1, rig.nodes);
  expect("clamp after tightening", rig.wheel.clamp(rig.x, 0), close(clamp, 0, 1e-9));
  rig.go({1e8, rig.nodes, {}}); // a thousand times the time in which such a gap closes
  return rig.wheel.clamp(rig.x, 0);
}

} // namespace

TEST_CASE("property: of the same thickness lost a longer grip loses no more clamp") {
  Allowed may;
  may.ring = false;
  may.uneven = false;
  may.losses = false;
  may.yield = false;
  check_property("a longer grip forgives more", [may] {
    Scenario s = *wheels(may);
    const std::size_t place = *count(0, s.joint.interfaces.size() - 1);
    const std::size_t part = *count(0, s.joint.stack.size() - 1);
    const double clamp = *between(20e3, 200e3);
    const double thickness = *between(1e-6, 80e-6);
    const double more = *between(1e-3, 60e-3);
    s.joint.interfaces[place].unseated = thickness;
    Scenario longer = s;
    longer.joint.stack[part].thickness += more;
    RC_ASSERT(grip_length(longer.joint) > grip_length(s.joint));
    const double kept = left_after(s, clamp);
    const double kept_longer = left_after(longer, clamp);
    RC_ASSERT(kept < clamp);
    expect_at_least("clamp left over a longer grip", kept_longer, kept, 1e-9 * clamp);
    RC_ASSERT(kept == 0 || kept_longer > kept);
  });
}

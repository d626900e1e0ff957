#include "solver/record_clamp.hpp"

#include "solver/design.hpp"

#include <memory>

namespace clampfade {

struct RecordClamp::Impl {
  Impl(const Scenario& s, const RecordScatter& how)
      : joint(s.joint, node_names(s.heat), s.tightening.temperature), wrench(s.tightening), scatter(how) {
    for (std::size_t stud = 0; stud < s.joint.studs.count; ++stud) {
      travel.emplace_back(joint, wrench.thread_friction[stud], wrench.bearing_friction[stud]);
    }
  }
  Joint joint;
  TighteningSpec wrench;
  RecordScatter scatter;
  std::vector<NutTravel> travel; ///< by stud: each has its own friction
};

std::optional<ClampEstimate> StudClamp::best() const {
  if (both) {
    return both->estimate;
  }
  return torque ? torque : angle ? std::optional(angle->estimate) : std::nullopt;
}

RecordClamp::RecordClamp(const Scenario& scenario, const RecordScatter& scatter)
    : impl_(std::make_unique<Impl>(scenario, scatter)), required_(requirement(scenario, impl_->joint).clamp) {}

RecordClamp::~RecordClamp() = default;

double RecordClamp::resilience() const { return impl_->travel.front().resilience(); }

std::vector<StudClamp> RecordClamp::operator()(const WheelRecord& wheel) const {
  std::vector<StudClamp> out;
  for (const StudRecord& s : wheel.studs) {
    StudClamp& stud = out.emplace_back();
    if (!s.record) {
      continue;
    }
    stud.torque = clamp_from_torque(impl_->joint.nut(), s.torque, impl_->wrench.thread_friction.at(s.stud),
                                    impl_->wrench.bearing_friction.at(s.stud), impl_->scatter.torque);
    if (s.angle) {
      stud.angle = impl_->travel.at(s.stud).estimate(impl_->scatter.snug_torque, *s.angle, impl_->scatter.torque,
                                                     impl_->scatter.angle);
      stud.both = combine(*stud.torque, *stud.angle);
    }
  }
  return out;
}

} // namespace clampfade

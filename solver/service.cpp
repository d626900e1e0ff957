#include "solver/service.hpp"

#include "models/units.hpp"

#include <cmath>

namespace clampfade {

ServicePlan::ServicePlan(const std::vector<Service>& services) : services_(services), done_(services.size(), 0) {}

std::size_t ServicePlan::next(double time, double distance) const {
  for (std::size_t i = 0; i < services_.size(); ++i) {
    const Service& s = services_[i];
    const double reached = s.after.kind == When::Kind::Time ? time : distance;
    if (!done_[i] && s.kind != Service::Kind::HotDay && reached >= s.after.value * (1 - 1e-12)) {
      return i;
    }
  }
  return services_.size();
}

const Service* ServicePlan::due(double time, double distance) {
  const std::size_t i = next(time, distance);
  if (i == services_.size()) {
    return nullptr;
  }
  done_[i] = 1;
  return &services_[i];
}

bool ServicePlan::expects(double time, double distance) const { return next(time, distance) < services_.size(); }

double ServicePlan::extra_power(std::size_t day) const {
  double sum = 0;
  for (const Service& s : services_) {
    if (s.kind == Service::Kind::HotDay && static_cast<std::size_t>(std::floor(s.after.value / units::kDay)) == day) {
      sum += s.extra_power;
    }
  }
  return sum;
}

void ServicePlan::save(std::vector<std::int64_t>& out) const { out.insert(out.end(), done_.begin(), done_.end()); }

void ServicePlan::load(const std::int64_t*& in) {
  for (char& d : done_) {
    d = static_cast<char>(*in++);
  }
}

} // namespace clampfade

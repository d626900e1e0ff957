#include "solver/service.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;

namespace {

Service at(Service::Kind kind, When::Kind when, double value) {
  Service s;
  s.kind = kind;
  s.after = {when, value};
  s.extra_power = 500;
  return s;
}

} // namespace

TEST_CASE("service: each falls due once, at its time or distance, in the order written") {
  const std::vector<Service> list = {at(Service::Kind::Retorque, When::Kind::Distance, 80e3),
                                     at(Service::Kind::RemoveNut, When::Kind::Time, 3600),
                                     at(Service::Kind::Retorque, When::Kind::Time, 3600)};
  ServicePlan plan(list);
  CHECK(plan.due(3599, 79e3) == nullptr);
  CHECK(plan.due(3600, 0) == &list[1]);
  CHECK(plan.due(3600, 0) == &list[2]);
  CHECK(plan.due(1e9, 0) == nullptr);
  CHECK(plan.due(1e9, 80e3 * (1 - 1e-13)) == &list[0]); // round-off of the distance does not put it off
  CHECK(plan.due(1e9, 1e9) == nullptr);
}

TEST_CASE("service: hot days add up on their day and are no act") {
  const std::vector<Service> list = {at(Service::Kind::HotDay, When::Kind::Time, 2.3 * 86400),
                                     at(Service::Kind::HotDay, When::Kind::Time, 2.9 * 86400)};
  ServicePlan plan(list);
  CHECK(plan.due(1e9, 1e9) == nullptr);
  CHECK(plan.extra_power(1) == 0);
  CHECK(plan.extra_power(2) == 1000);
  CHECK(plan.extra_power(3) == 0);
}

TEST_CASE("service: what has been done survives saving") {
  const std::vector<Service> list = {at(Service::Kind::Retorque, When::Kind::Time, 10),
                                     at(Service::Kind::Retorque, When::Kind::Time, 20)};
  ServicePlan plan(list);
  CHECK(plan.due(10, 0) == &list[0]);
  std::vector<std::int64_t> saved;
  plan.save(saved);
  ServicePlan other(list);
  const std::int64_t* in = saved.data();
  other.load(in);
  CHECK(in == saved.data() + saved.size());
  CHECK(other.due(20, 0) == &list[1]);
  CHECK(other.due(20, 0) == nullptr);
}

TEST_CASE("service: a day expects those that fall due in it and are not done") {
  const std::vector<Service> list = {at(Service::Kind::Retorque, When::Kind::Distance, 80e3),
                                     at(Service::Kind::HotDay, When::Kind::Time, 10),
                                     at(Service::Kind::RemoveNut, When::Kind::Time, 3600)};
  ServicePlan plan(list);
  CHECK_FALSE(plan.expects(3599, 79e3));
  CHECK(plan.expects(3600, 0));
  REQUIRE(plan.due(3600, 0) == &list[2]); // asking did not take it away
  CHECK_FALSE(plan.expects(1e9, 79e3));
  CHECK(plan.expects(1e9, 80e3));
}

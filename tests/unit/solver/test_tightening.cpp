#include "solver/tightening.hpp"
#include "tests/support/bench.hpp"
#include "tests/support/close.hpp"

#include <doctest/doctest.h>

using namespace clampfade;
using test::Bench;
using test::close;
using test::ScenarioText;

TEST_CASE("tightening: a nut turns only for more torque than holds it, age of rest included") {
  Bench b{ScenarioText()};
  const Table breakaway({{0, 1.05}, {86400, 1.30}});
  REQUIRE(apply_wrench(b.wheel, b.x, 0, 400, breakaway, 0, b.cold()));
  const double f = b.clamp(0);
  CHECK(f == close(b.joint.nut().clamp(400, 0.12, 0.12), 0, 1e-12));
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, 400, breakaway, 0, b.cold()));
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, 390, breakaway, 0, b.cold())); // nor does it turn back
  // Breakaway on both frictions; the pitch's part is free of it.
  const double to_move = b.joint.nut().torque_to_move(f, 0.12, 0.12, 1.05);
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, to_move * (1 - 1e-9), breakaway, 0, b.cold()));
  CHECK(b.clamp(0) == f);
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, to_move * 1.1, breakaway, 86400, b.cold()));
  REQUIRE(apply_wrench(b.wheel, b.x, 0, to_move * (1 + 1e-9), breakaway, 0, b.cold()));
  CHECK(b.clamp(0) == close(b.joint.nut().clamp(to_move, 0.12, 0.12), 0, 1e-8));
  CHECK(b.clamp(1) == 0);
}

TEST_CASE("tightening: passes go round in order and end at time nought") {
  ScenarioText s;
  s.studs = 5;
  s.passes = "0.5, 1.0";
  s.order = "[2, 4, 1, 3, 5]";
  s.pause = "7 s";
  s.thread_contact = "embedding: 3 um";
  Bench b(s);
  std::vector<double> moved_at;
  const auto acts = tighten_wheel(b.wheel, b.scenario.tightening, b.cold(), 1e-6, b.x, moved_at);
  REQUIRE(acts.size() == 10);
  const std::size_t order[] = {1, 3, 0, 2, 4};
  for (std::size_t i = 0; i < 10; ++i) {
    CHECK(acts[i].stud == order[i % 5]);
    CHECK(acts[i].pass == i / 5 + 1);
    CHECK(acts[i].time == close(-7.0 * (9 - static_cast<double>(i)), 1e-9, 0));
    CHECK(acts[i].torque == close(i < 5 ? 320 : 640, 0, 1e-12));
    CHECK(acts[i].moved);
    CHECK(acts[i].clamp == close(b.joint.nut().clamp(acts[i].torque, 0.12, 0.12), 0, 1e-9));
    CHECK(acts[i].clamp_end == b.clamp(acts[i].stud));
  }
  CHECK(moved_at[4] == close(0, 1e-12, 0));
  CHECK(moved_at[1] == close(-28, 1e-12, 0));
  CHECK(b.clamp(1) < acts[5].clamp); // relaxed for four pauses
  CHECK(b.clamp(4) == close(acts[9].clamp, 0, 1e-12));
}

TEST_CASE("tightening: the first step resolves the fastest mode") {
  ScenarioText s;
  CHECK(first_step(Bench(s).wheel, std::vector<double>{293.15}, 0) == 1); // nothing to resolve
  s.thread_contact = "embedding: 3 um";
  const Bench b(s);
  CHECK(first_step(b.wheel, b.cold(), 0) == 1); // 60 s are slow
  CHECK(first_step(b.wheel, b.cold(), 1000) == close(0.05 / (1 / 60.0 + 1), 0, 1e-12));
}

TEST_CASE("tightening: a later pass meets the friction of its rest") {
  ScenarioText s;
  s.studs = 5;
  s.passes = "0.9, 1.0";
  s.pause = "20 s"; // 100 s from one turn of a nut to the next
  for (const bool sticks : {false, true}) {
    CAPTURE(sticks);
    s.friction = sticks ? "thread: 0.12, bearing: 0.12, breakaway: [[0 s, 1.0], [100 s, 1.3]]"
                        : "thread: 0.12, bearing: 0.12, breakaway: [[0 s, 1.0], [1000 s, 1.3]]";
    Bench b(s);
    std::vector<double> moved_at;
    const auto acts = tighten_wheel(b.wheel, b.scenario.tightening, b.cold(), 1e-6, b.x, moved_at);
    REQUIRE(acts.size() == 10);
    for (std::size_t i = 0; i < 10; ++i) {
      CAPTURE(i);
      CHECK(acts[i].moved == (i < 5 || !sticks));
    }
    CHECK(b.clamp(0) == close(b.joint.nut().clamp(sticks ? 576 : 640, 0.12, 0.12), 0, 1e-9));
  }
}

TEST_CASE("tightening: no torque turns a nut back, also where rest makes it easier to turn") {
  Bench b{ScenarioText()};
  REQUIRE(apply_wrench(b.wheel, b.x, 0, 400, Table(0.8), 0, b.cold()));
  const double f = b.clamp(0);
  REQUIRE(b.joint.nut().torque_to_move(f, 0.12, 0.12, 0.8) < 350);
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, 390, Table(0.8), 0, b.cold()));
  CHECK_FALSE(apply_wrench(b.wheel, b.x, 0, 400, Table(0.8), 0, b.cold()));
  CHECK(b.clamp(0) == f);
}

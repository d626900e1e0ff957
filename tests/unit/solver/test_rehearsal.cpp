#include "solver/io/rehearsal.hpp"

#include <doctest/doctest.h>

#include <csignal>
#include <cstdio>
#include <stdexcept>

using namespace clampfade;

TEST_CASE("rehearsal: work that ends, by return or by an exception, is told from work that does not") {
  CHECK(rehearse([] {}, 5).empty());
  CHECK(rehearse([] { throw std::runtime_error("told again by whoever does it in earnest"); }, 5).empty());
  CHECK(rehearse([] { (void)std::raise(SIGSEGV); }, 5) == "crashed (Segmentation fault)");
  CHECK(rehearse([] { (void)std::raise(SIGABRT); }, 5) == "crashed (Aborted)");
  CHECK(rehearse(
            [] {
              for (volatile unsigned turns = 0;;) {
                turns = turns + 1;
              }
            },
            1) == "took more than 1 s");
}

TEST_CASE("rehearsal: nothing of it stays") {
  int value = 1;
  CHECK(rehearse(
            [&] {
              value = 2;
              (void)std::puts("nowhere");
            },
            5)
            .empty());
  CHECK(value == 1);
}

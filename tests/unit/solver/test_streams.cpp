#include "solver/cli/streams.hpp"
#include "tests/support/tmp_dir.hpp"

#include <doctest/doctest.h>

#include <csignal>
#include <fcntl.h>
#include <string>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

using namespace clampfade;
using namespace clampfade::test;

namespace {

/// Exit code of `work` in a process of its own.
template <class Work>
int in_child(const Work& work) {
  const pid_t child = ::fork();
  if (child == 0) {
    ::_exit(work());
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

} // namespace

TEST_CASE("standard streams: a file gets none of their numbers, and writing to a closed one still fails") {
  const TmpDir dir;
  const std::string path = dir / "a";
  for (const int closed : {0, 1, 2, 3}) { // 3: all of them
    CAPTURE(closed);
    CHECK(in_child([&] {
            for (const int stream : {0, 1, 2}) {
              if (stream == closed || closed == 3) {
                ::close(stream);
              }
            }
            keep_streams();
            const int file = ::open(path.c_str(), O_WRONLY | O_CREAT, 0600);
            bool refused = true;
            for (const int stream : {1, 2}) {
              if (stream == closed || closed == 3) {
                refused = refused && ::write(stream, "x", 1) < 0;
              }
            }
            char byte = 0;
            if (closed == 0 || closed == 3) {
              refused = refused && ::read(0, &byte, 1) < 0;
            }
            return file < 3 ? 1 : refused ? 0 : 2;
          }) == 0);
  }
}

TEST_CASE("standard streams: a limit on the size of files is an error of the write, not a death") {
  const TmpDir dir;
  const std::string path = dir / "a";
  CHECK(in_child([&] {
          keep_streams();
          const rlimit limit{0, 0};
          ::setrlimit(RLIMIT_FSIZE, &limit);
          return ::write(::open(path.c_str(), O_WRONLY | O_CREAT, 0600), "x", 1) < 0 ? 0 : 1;
        }) == 0);
}

#include "solver/io/rehearsal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <system_error>
#include <unistd.h>

namespace clampfade {

namespace {

/// In the copy: ends it without what the program does at its end, such as writing buffers that it shares.
[[noreturn]] void act(const std::function<void()>& work, unsigned seconds) {
  for (const int signal : std::array{SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGXCPU, SIGALRM}) {
    (void)std::signal(signal, SIG_DFL);
  }
  const rlimit no_core{0, 0};
  (void)::setrlimit(RLIMIT_CORE, &no_core);
  const rlimit time{seconds, rlim_t{seconds} + 1};
  (void)::setrlimit(RLIMIT_CPU, &time);
  // What waits, for a pipe that nobody fills, uses no processor; and nobody may be left to wait for it.
  constexpr unsigned slowness = 6; // of a busy machine
  (void)::alarm(slowness * seconds);
  (void)::prctl(PR_SET_PDEATHSIG, SIGKILL);
  const int nowhere = ::open("/dev/null", O_RDWR | O_CLOEXEC);
  (void)::dup2(nowhere, STDOUT_FILENO);
  (void)::dup2(nowhere, STDERR_FILENO);
  try {
    work();
  } catch (...) { // whoever does it in earnest meets it again and tells
  }
  ::_exit(0);
}

} // namespace

std::string rehearse(const std::function<void()>& work, unsigned seconds) {
  const pid_t copy = ::fork();
  if (copy < 0) {
    throw std::system_error(errno, std::generic_category(), "a process of its own");
  }
  if (copy == 0) {
    act(work, std::max(1U, seconds));
  }
  int status = 0;
  while (::waitpid(copy, &status, 0) < 0) {
    if (errno != EINTR) {
      throw std::system_error(errno, std::generic_category(), "a process of its own");
    }
  }
  if (WIFSIGNALED(status)) {
    const int signal = WTERMSIG(status);
    return signal == SIGXCPU || signal == SIGKILL || signal == SIGALRM
               ? fmt::format("took more than {} s", std::max(1U, seconds))
               : fmt::format("crashed ({})", ::strsignal(signal));
  }
  // A sanitizer ends what it finds fault with by an exit code.
  return WEXITSTATUS(status) == 0 ? "" : fmt::format("ended with {}", WEXITSTATUS(status));
}

} // namespace clampfade

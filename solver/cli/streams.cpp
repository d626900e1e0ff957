#include "solver/cli/streams.hpp"

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <fcntl.h>
#include <iostream>
#include <unistd.h>

namespace clampfade {

void keep_streams() {
  for (const int stream : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(stream, F_GETFD) < 0 && errno == EBADF) {
      // The lowest free number is this one, as those below are open by now. Opened the wrong way round, so that using
      // it fails.
      (void)::open("/dev/null", stream == STDIN_FILENO ? O_WRONLY : O_RDONLY);
    }
  }
  std::signal(SIGXFSZ, SIG_IGN);
}

void tell(const std::string& text) { (void)std::fputs(text.c_str(), stderr); }

bool stdout_written() {
  std::cout.flush();
  // A flush that failed earlier leaves nothing to be written now, but its mark.
  return std::fflush(stdout) == 0 && std::ferror(stdout) == 0 && std::cout.good();
}

} // namespace clampfade

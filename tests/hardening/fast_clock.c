/* Preloaded into a program under test: its steady clock runs CLAMPFADE_FAST times as fast, so that a run of a second
   writes as many checkpoints as one of a minute. What is computed does not know the time. */
#define _GNU_SOURCE
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

int clock_gettime(clockid_t clock, struct timespec *now) {
  const long code = syscall(SYS_clock_gettime, clock, now);
  static double fast = 0;
  if (fast == 0) {
    const char *text = getenv("CLAMPFADE_FAST");
    fast = text ? atof(text) : 1;
  }
  if (code == 0 && clock == CLOCK_MONOTONIC) {
    const double seconds = fast * ((double)now->tv_sec + 1e-9 * (double)now->tv_nsec);
    now->tv_sec = (time_t)seconds;
    now->tv_nsec = (long)(1e9 * (seconds - (double)now->tv_sec));
  }
  return (int)code;
}

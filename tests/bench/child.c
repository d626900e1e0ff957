/* Runs a program and writes what it cost as a line of JSON to a file: wall and processor time [s], peak memory [B].
     bench_child FILE PROGRAM ARGUMENTS...
   A program of its own and in C, because a child inherits the peak memory of the process that starts it until it has
   more itself, and an interpreter of Python has more than the simulator. */
#define _GNU_SOURCE
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char** argv) {
  if (argc < 3) {
    fputs("usage: bench_child FILE PROGRAM ARGUMENTS...\n", stderr);
    return 2;
  }
  const double start = now();
  const pid_t child = fork();
  if (child == 0) {
    execv(argv[2], argv + 2);
    perror(argv[2]);
    _exit(127);
  }
  int status = 0;
  struct rusage used;
  if (child < 0 || wait4(child, &status, 0, &used) != child) {
    perror("bench_child");
    return 1;
  }
  const double wall = now() - start;
  FILE* out = fopen(argv[1], "w");
  if (out == NULL) {
    perror(argv[1]);
    return 1;
  }
  fprintf(out, "{\"wall\": %.6f, \"cpu\": %.6f, \"memory\": %.0f}\n", wall,
          (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
              1e-6 * (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec),
          1024.0 * (double)used.ru_maxrss);
  fclose(out);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 1;
}

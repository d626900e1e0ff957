#include "solver/case_runner.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace clampfade {

namespace {

/// What the threads share; each case has its own place.
struct Board {
  explicit Board(std::size_t cases) : share(cases) {}
  std::atomic<bool> stop = false;
  std::atomic<std::size_t> next = 0;      ///< case that nobody has taken yet
  std::vector<std::atomic<double>> share; ///< of each case that is done
  std::mutex mutex;                       ///< of what follows
  std::condition_variable changed;
  std::size_t done = 0;
  std::size_t workers = 0; ///< still at work
  std::exception_ptr fault;
};

} // namespace

bool run_cases(std::size_t count, std::size_t jobs, const RunCase& run_case, const CaseProgress& progress) {
  if (count == 0) {
    return true;
  }
  Board board(count);
  const auto work = [&] {
    std::exception_ptr fault;
    try {
      for (std::size_t i = board.next++; i < count && !board.stop; i = board.next++) {
        const bool finished = run_case(i, [&](double share) {
          board.share[i] = share;
          return !board.stop;
        });
        board.share[i] = 1;
        const std::lock_guard lock(board.mutex);
        board.done += finished ? 1U : 0U;
        board.changed.notify_one();
      }
    } catch (...) {
      fault = std::current_exception();
      board.stop = true;
    }
    const std::lock_guard lock(board.mutex);
    if (fault && !board.fault) {
      board.fault = fault;
    }
    --board.workers;
    board.changed.notify_one();
  };

  std::vector<std::thread> threads;
  board.workers = std::clamp<std::size_t>(jobs, 1, count);
  const std::size_t wanted = board.workers;
  for (std::size_t i = 0; i < wanted; ++i) {
    try {
      threads.emplace_back(work);
    } catch (const std::system_error&) {
      // The system gives no more threads. Those that there are do the work.
      const std::lock_guard lock(board.mutex);
      --board.workers;
      if (threads.empty()) {
        throw;
      }
    }
  }
  bool asked_to_stop = false;
  std::exception_ptr fault; // of the progress itself: the threads must end before it goes on its way
  {
    std::unique_lock lock(board.mutex);
    while (board.workers > 0) {
      constexpr std::chrono::milliseconds often(100);
      board.changed.wait_for(lock, often);
      const std::size_t done = board.done;
      lock.unlock();
      double share = 0;
      for (const auto& s : board.share) {
        share += s / static_cast<double>(count);
      }
      try {
        if (progress && !board.stop && !progress(done, share)) {
          asked_to_stop = true;
          board.stop = true;
        }
      } catch (...) {
        fault = std::current_exception();
        board.stop = true;
      }
      lock.lock();
    }
  }
  for (std::thread& t : threads) {
    t.join();
  }
  if (board.fault) {
    std::rethrow_exception(board.fault);
  }
  if (fault) {
    std::rethrow_exception(fault);
  }
  return !asked_to_stop || board.done == count;
}

} // namespace clampfade

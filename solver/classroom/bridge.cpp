// What a page's script can call in the WebAssembly build: one run at a time, JSON text in and out.
#include "solver/classroom/classroom.hpp"
#include "solver/classroom/json.hpp"
#include "solver/diagnostics.hpp"

#include <chrono>
#include <exception>
#include <memory>
#include <string>

namespace {

using namespace clampfade;

HeatMemory& memory() {
  static HeatMemory of_all_runs;
  return of_all_runs;
}

std::unique_ptr<ClassroomRun>& current() {
  static std::unique_ptr<ClassroomRun> run;
  return run;
}

std::string& answer() {
  static std::string text;
  return text;
}

/// Runs `work` and keeps what went wrong, in words, as the answer.
template <class Work>
bool guarded(const Work& work) {
  answer().clear();
  try {
    work();
    return true;
  } catch (const InputError& e) {
    answer() = to_text(e.diagnostics());
  } catch (const std::exception& e) {
    answer() = e.what();
  }
  current().reset();
  return false;
}

} // namespace

extern "C" {

/// Begins a run in place of the one before. settings: JSON (solver/classroom/json.hpp). 1, or 0 with the reason in
/// classroom_answer.
int classroom_begin(const char* settings) {
  return guarded([&] { current() = std::make_unique<ClassroomRun>(classroom_settings(settings), &memory()); }) ? 1 : 0;
}

/// Goes on for about so many milliseconds, at least a simulated day. 1 when done, 0 when there is more, -1 with the
/// reason in classroom_answer.
int classroom_advance(double milliseconds) {
  using Clock = std::chrono::steady_clock;
  const auto start = Clock::now();
  bool done = false;
  const bool well = guarded([&] {
    done = current() && current()->advance([&] {
      return std::chrono::duration<double, std::milli>(Clock::now() - start).count() >= milliseconds;
    });
  });
  return !well ? -1 : done ? 1 : 0;
}

/// The result as JSON, or the reason why there is none. Valid until the next call.
const char* classroom_answer() {
  if (current()) {
    guarded([&] { answer() = classroom_text(current()->result()); });
  }
  return answer().c_str();
}
}

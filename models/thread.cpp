#include "models/thread.hpp"

namespace clampfade {

std::span<const Field<Thread>> Thread::fields() {
  static const Field<Thread> list[] = {
      {{"diameter", "m", Quantity::Dimensional, {2e-3, 0.2}, {10e-3, 40e-3}, "nominal diameter d"},
       &Thread::diameter,
       {}},
      {{"pitch", "m", Quantity::Dimensional, {0.1e-3, 20e-3}, {1e-3, 4e-3}, "pitch P of a 60 degree thread"},
       &Thread::pitch,
       {}},
  };
  return list;
}

} // namespace clampfade

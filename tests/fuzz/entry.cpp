// One target for libFuzzer; CLAMPFADE_FUZZ_TARGET is its name.
#include "tests/fuzz/targets.hpp"

#include <cstddef>
#include <cstdint>

// What a target throws ends the process, which libFuzzer keeps with its input.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  clampfade::fuzz::CLAMPFADE_FUZZ_TARGET({data, size});
  return 0;
}

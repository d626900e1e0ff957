// SHA-256, FIPS 180-4. Used to tell scenarios and results apart, not to keep secrets.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace clampfade {

class Sha256 {
public:
  void update(const void* data, std::size_t bytes);
  /// Ends the message; the object is of no use afterwards. Lower-case hexadecimal, 64 characters.
  [[nodiscard]] std::string hex();

private:
  void block(const std::uint8_t* p);

  std::array<std::uint32_t, 8> h_{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                  0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
  std::array<std::uint8_t, 64> rest_{};
  std::size_t rest_size_ = 0;
  std::uint64_t total_ = 0; ///< bytes so far
};

std::string sha256(std::string_view text);

} // namespace clampfade

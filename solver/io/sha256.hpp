// SHA-256, FIPS 180-4, by OpenSSL. Used to tell scenarios and results apart, not to keep secrets.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>

namespace clampfade {

class Sha256 {
public:
  /// Throws std::runtime_error where the library has no SHA-256.
  Sha256();
  ~Sha256();
  Sha256(const Sha256&) = delete;
  Sha256& operator=(const Sha256&) = delete;
  void update(const void* data, std::size_t bytes);
  /// Ends the message; the object is of no use afterwards. Lower-case hexadecimal, 64 characters.
  [[nodiscard]] std::string hex();

private:
  struct Context; // keeps OpenSSL out of every other translation unit
  std::unique_ptr<Context> context_;
};

std::string sha256(std::string_view text);
/// The 32 bytes themselves. Throws as the constructor does.
std::string sha256_bytes(std::string_view text);

} // namespace clampfade

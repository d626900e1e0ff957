#include "solver/io/sha256.hpp"

#include <openssl/evp.h>

#include <array>
#include <stdexcept>

namespace clampfade {

struct Sha256::Context {
  EVP_MD_CTX* md = EVP_MD_CTX_new();
  Context() = default;
  Context(const Context&) = delete;
  Context& operator=(const Context&) = delete;
  ~Context() { EVP_MD_CTX_free(md); }
};

namespace {
const EVP_MD* algorithm() { return EVP_sha256(); }

void expect(int done) {
  if (done != 1) {
    throw std::runtime_error("the cryptography library cannot compute SHA-256");
  }
}
} // namespace

Sha256::Sha256() : context_(std::make_unique<Context>()) {
  expect(EVP_DigestInit_ex(context_->md, algorithm(), nullptr));
}
Sha256::~Sha256() = default;

void Sha256::update(const void* data, std::size_t bytes) { expect(EVP_DigestUpdate(context_->md, data, bytes)); }

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> sum{};
  unsigned int size = 0;
  expect(EVP_DigestFinal_ex(context_->md, sum.data(), &size));
  static constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (unsigned int i = 0; i < size; ++i) {
    text += kDigits[sum[i] >> 4U];
    text += kDigits[sum[i] & 15U];
  }
  return text;
}

std::string sha256(std::string_view text) {
  Sha256 sum;
  sum.update(text.data(), text.size());
  return sum.hex();
}

std::string sha256_bytes(std::string_view text) {
  std::string sum(32, '\0');
  expect(EVP_Digest(text.data(), text.size(), reinterpret_cast<unsigned char*>(sum.data()), nullptr, algorithm(),
                    nullptr));
  return sum;
}

} // namespace clampfade
